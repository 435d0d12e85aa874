//! The coating's surface: what it reflects before any light enters, and what it throws back of the light that wants out.

/// A surface between air and coating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Share of the light from outside that the surface reflects, 0–1; not in a photo without glare.
    pub outside: f64,
    /// Share of the light from within that the surface throws back, 0–1.
    pub inside: f64,
}

/// A clear coating of refractive index 1.5: 4 % from outside at right angles, 59.6 % of diffuse light from inside.
///
/// # Source
/// Fresnel's equations for n = 1.5; the diffuse share by quadrature (0.596346), as handbooks have it.
pub const COATING: Surface = Surface {
    outside: 0.04,
    inside: 0.596_346,
};

impl Surface {
    /// Reflectance as seen, without the gloss (specular excluded), of a film whose internal reflectance is `r`, 0–1.
    ///
    /// # Source
    /// J. L. Saunderson, *J. Opt. Soc. Am.* 32 (1942) 727–736, without the first reflection.
    #[must_use]
    pub fn seen(self, r: f64) -> f64 {
        (1.0 - self.outside) * (1.0 - self.inside) * r / (1.0 - self.inside * r)
    }

    /// How [`seen`](Self::seen) changes with `r`.
    #[must_use]
    pub fn slope(self, r: f64) -> f64 {
        (1.0 - self.outside) * (1.0 - self.inside) / (1.0 - self.inside * r).powi(2)
    }

    /// The internal reflectance of a film that is seen as `r`, without the gloss: the inverse of [`seen`](Self::seen). Above 1 where no film looks so.
    #[must_use]
    pub fn within(self, r: f64) -> f64 {
        r / ((1.0 - self.outside) * (1.0 - self.inside) + self.inside * r)
    }

    /// Reflectance with the gloss (specular included) of a film whose internal reflectance is `r`, 0–1.
    ///
    /// # Source
    /// J. L. Saunderson, *J. Opt. Soc. Am.* 32 (1942) 727–736.
    #[must_use]
    pub fn seen_with_gloss(self, r: f64) -> f64 {
        self.outside + self.seen(r)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked from the published form with k1 = 0.04, k2 = 0.6.
    #[test]
    fn is_the_published_form() {
        let surface = Surface {
            outside: 0.04,
            inside: 0.6,
        };
        for (within, seen) in [(0.0, 0.04), (0.5, 0.314_285_714_286), (1.0, 1.0)] {
            assert!((surface.seen_with_gloss(within) - seen).abs() < 1e-12);
        }
        for (seen, within) in [
            (0.05, 0.025_641_025_641),
            (0.2, 1.0 / 3.0),
            (0.8, 0.904_761_904_762),
        ] {
            assert!((surface.within(seen - 0.04) - within).abs() < 1e-12);
        }
    }

    #[test]
    fn off_and_on_again_changes_nothing() {
        for r in [0.0, 0.003, 0.2, 0.7, 1.0] {
            assert!((COATING.within(COATING.seen(r)) - r).abs() < 1e-14);
            let step = 1e-6;
            let quotient = (COATING.seen(r + step) - COATING.seen(r - step)) / (2.0 * step);
            assert!((COATING.slope(r) - quotient).abs() < 1e-8);
        }
    }
}
