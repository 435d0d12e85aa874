//! The band of a colour difference with the limits of the lightfastness categories of ASTM D4303.
//!
//! A **band, not a rating**: a rating of that standard needs tints of a stated depth, stated doses under glass, and replicates. The limits are
//! **from memory**, not read in the standard.

/// A band of ΔE*ab, the least change first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Band {
    /// Up to the first limit.
    I,
    /// Up to the second.
    II,
    /// Up to the third.
    III,
    /// Up to the fourth.
    IV,
    /// Beyond.
    V,
}

/// The largest ΔE*ab of each band but the last.
///
/// # Source
/// ASTM D4303, categories I to IV, **from memory**.
pub const LIMITS: [(Band, f64); 4] = [
    (Band::I, 4.0),
    (Band::II, 8.0),
    (Band::III, 16.0),
    (Band::IV, 24.0),
];

impl Band {
    /// As written in files: `I` … `V`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::I => "I",
            Self::II => "II",
            Self::III => "III",
            Self::IV => "IV",
            Self::V => "V",
        }
    }
}

/// The band of a ΔE*ab (≥ 0); a limit belongs to the better band. NaN is in the last.
#[must_use]
pub fn band(de_ab: f64) -> Band {
    let within = LIMITS.iter().find(|(_, limit)| de_ab <= *limit);
    within.map_or(Band::V, |(band, _)| *band)
}

#[cfg(test)]
mod tests {
    use super::*;

    // The limits are from memory, so no test holds their figures: only that they are used as limits.
    #[test]
    fn each_limit_parts_two_bands() {
        let after = [Band::II, Band::III, Band::IV, Band::V];
        for ((band_within, limit), band_beyond) in LIMITS.into_iter().zip(after) {
            assert_eq!(band(limit), band_within);
            assert_eq!(band(limit + 1e-9), band_beyond);
        }
        assert!(LIMITS.is_sorted_by(|one, next| one.1 < next.1));
    }

    #[test]
    fn nothing_is_the_best_and_what_is_no_number_the_last() {
        assert_eq!(band(0.0), Band::I);
        assert_eq!(band(f64::INFINITY), Band::V);
        assert_eq!(band(f64::NAN), Band::V);
    }

    #[test]
    fn names_are_roman() {
        let all = [Band::I, Band::II, Band::III, Band::IV, Band::V];
        assert_eq!(all.map(Band::name), ["I", "II", "III", "IV", "V"]);
    }
}
