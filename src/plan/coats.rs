//! How much coating lies on a surface, from what was weighed or from coats.

/// What is known of how a surface is coated.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PutOn {
    /// Wet coating on it, weighed, g/m², all coats together, pigment included.
    pub wet_g_per_m2: Option<f64>,
    /// In how many coats.
    pub coats: Option<f64>,
    /// What one coat takes, wet, g/m², pigment included.
    pub coat_g_per_m2: Option<f64>,
}

impl PutOn {
    /// Wet coating in all, g/m², and in how many coats it is put on; none if too little is known. What was weighed goes
    /// before what a coat usually takes; without a number of coats it is one.
    #[must_use]
    pub fn in_all(&self) -> Option<(f64, u32)> {
        let by_coats = || Some(self.coats? * self.coat_g_per_m2?);
        let wet = self.wet_g_per_m2.or_else(by_coats)?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to what fits, and more than 100 coats can't be stated"
        )]
        let coats = self
            .coats
            .map_or(1, |it| it.ceil().clamp(1.0, 100.0) as u32);
        Some((wet, coats))
    }

    /// The same in another number of coats, each as thick as before. What was weighed in nobody knows how many coats is now
    /// put on in these.
    #[must_use]
    pub fn in_coats(self, coats: u32) -> Self {
        let coats = f64::from(coats);
        let before = self.coats.unwrap_or(coats);
        let wet_g_per_m2 = self.wet_g_per_m2.map(|it| it * coats / before);
        Self {
            wet_g_per_m2,
            coats: Some(coats),
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_weighed_goes_before_what_a_coat_usually_takes() {
        let by_coats = PutOn {
            wet_g_per_m2: None,
            coats: Some(3.0),
            coat_g_per_m2: Some(80.0),
        };
        assert_eq!(by_coats.in_all(), Some((240.0, 3)));
        let weighed = PutOn {
            wet_g_per_m2: Some(210.0),
            ..by_coats
        };
        assert_eq!(weighed.in_all(), Some((210.0, 3)));
        assert_eq!(
            PutOn {
                coats: None,
                ..weighed
            }
            .in_all(),
            Some((210.0, 1))
        );
        assert_eq!(
            PutOn {
                coats: None,
                ..by_coats
            }
            .in_all(),
            None
        );
        assert_eq!(
            PutOn {
                coat_g_per_m2: None,
                ..by_coats
            }
            .in_all(),
            None
        );
    }

    #[test]
    fn another_number_of_coats_keeps_their_thickness() {
        let weighed = PutOn {
            wet_g_per_m2: Some(210.0),
            coats: Some(3.0),
            coat_g_per_m2: Some(80.0),
        };
        assert_eq!(weighed.in_coats(2).in_all(), Some((140.0, 2)));
        assert_eq!(
            PutOn {
                wet_g_per_m2: None,
                ..weighed
            }
            .in_coats(2)
            .in_all(),
            Some((160.0, 2))
        );
        // In how many coats the 210 g/m² went on is not known: two of 105 are the same film, two of 210 are not.
        let unknown = PutOn {
            coats: None,
            ..weighed
        };
        assert_eq!(unknown.in_coats(2).in_all(), Some((210.0, 2)));
    }
}
