//! Grey-scale grades of a change in colour: 5 for none, 1 for much, in half steps.
//!
//! Nominal differences are those of the grey scale itself (ISO 105-A02). The instrument's grade (ISO 105-A05, for coatings
//! ASTM E3040) is that of a difference ΔEF in which chroma and hue count less than in ΔE*ab. **From memory**, not read in the
//! standard: how ΔEF weighs chroma and hue ([`difference()`]). Of greys, where these lines have no effect, and of the grade of a given ΔEF,
//! nothing is from memory but the edges of the half steps, which are the midpoints of the nominals.

use super::{Lab, difference};

/// A grade in half steps, the least change first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// 5: no change.
    Five,
    /// 4-5.
    FourToFive,
    /// 4.
    Four,
    /// 3-4.
    ThreeToFour,
    /// 3.
    Three,
    /// 2-3.
    TwoToThree,
    /// 2.
    Two,
    /// 1-2.
    OneToTwo,
    /// 1: the most.
    One,
}

/// Each grade's nominal CIELAB difference between the two greys of its pair.
///
/// # Source
/// ISO 105-A02 (EN 20105-A02:1994, 2.4), the nine-step scale.
pub const NOMINALS: [(Grade, f64); 9] = [
    (Grade::Five, 0.0),
    (Grade::FourToFive, 0.8),
    (Grade::Four, 1.7),
    (Grade::ThreeToFour, 2.5),
    (Grade::Three, 3.4),
    (Grade::TwoToThree, 4.8),
    (Grade::Two, 6.8),
    (Grade::OneToTwo, 9.6),
    (Grade::One, 13.6),
];

impl Grade {
    /// As written in files and on the scale: `5`, `4-5` … `1`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Five => "5",
            Self::FourToFive => "4-5",
            Self::Four => "4",
            Self::ThreeToFour => "3-4",
            Self::Three => "3",
            Self::TwoToThree => "2-3",
            Self::Two => "2",
            Self::OneToTwo => "1-2",
            Self::One => "1",
        }
    }
}

/// The grade of a change from `standard` to `sample`, in half steps.
///
/// From memory for chromatic colours: see [`difference()`].
#[must_use]
pub fn grade(standard: Lab, sample: Lab) -> Grade {
    half_step(difference(standard, sample))
}

/// The half step in whose band a ΔEF (≥ 0) lies: that of the nearest nominal. On the edge, and for NaN, the worse one.
///
/// Near an edge this can differ from [`value`] rounded to halves, which is logarithmic above 3.4.
///
/// # Source
/// The edges are the midpoints of [`NOMINALS`]; that the table of ISO 105-A05 has the same is from memory.
#[must_use]
pub fn half_step(de_f: f64) -> Grade {
    let better = NOMINALS
        .windows(2)
        .find(|pair| de_f < f64::midpoint(pair[0].1, pair[1].1));
    better.map_or(Grade::One, |pair| pair[0].0)
}

/// The grade of a ΔEF (≥ 0) as a number, 5 down to 1.
///
/// # Source
/// EN ISO 105-A05:1997, clause 8, as public code that cites it has it: 5 − ΔEF/1.7 to 3.4, 5 − log₂(ΔEF/0.85) beyond; not below 1.
#[must_use]
pub fn value(de_f: f64) -> f64 {
    let grade = if de_f <= 3.4 {
        5.0 - de_f / 1.7
    } else {
        5.0 - (de_f / 0.85).log2()
    };
    grade.max(1.0)
}

/// ΔEF of a change from `standard` to `sample`: ΔE*ab in which chroma and hue count the less the more chroma the two have.
///
/// # Source
/// ISO 105-A05 / ASTM E3040, **from memory**: the weights 1 + (20 C/1000)² of chroma and 1 + (10 C/1000)² of hue, and the term D of
/// blues (hue 280° ± 30°). For greys all of it vanishes and ΔEF is |ΔL*|.
#[must_use]
pub fn difference(standard: Lab, sample: Lab) -> f64 {
    let parts = difference::parts(standard, sample);
    let (c1, c2) = (super::lab::chroma(standard), super::lab::chroma(sample));
    let chroma = f64::midpoint(c1, c2);
    let from_blue = (mean_hue(standard, sample) - 280.0).abs();
    let x = (from_blue.min(360.0 - from_blue) / 30.0).powi(2);
    let d = parts.chroma * chroma * (-x).exp() / 100.0;
    let dc = (parts.chroma - d) / (1.0 + (20.0 * chroma / 1000.0).powi(2));
    let dh = (parts.hue - d) / (1.0 + (10.0 * chroma / 1000.0).powi(2));
    parts.lightness.hypot(dc).hypot(dh)
}

/// Mean of two hue angles the short way round, 0–360°; that of the other where one of the two is a neutral.
fn mean_hue(one: Lab, other: Lab) -> f64 {
    use super::lab::{chroma, hue_degrees};
    if chroma(one) <= 0.0 {
        return hue_degrees(other);
    }
    if chroma(other) <= 0.0 {
        return hue_degrees(one);
    }
    let (h1, h2) = (hue_degrees(one), hue_degrees(other));
    let mean = f64::midpoint(h1, h2);
    if (h1 - h2).abs() <= 180.0 {
        mean
    } else {
        (mean + 180.0) % 360.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn grey(l: f64) -> Lab {
        Lab::new(l, 0.0, 0.0)
    }

    /// The scale's reference chip: a neutral grey of Y 12 %.
    const CHIP: f64 = 41.2;

    #[test]
    fn the_scale_s_own_pairs_get_their_own_grades() {
        for (step, nominal) in NOMINALS {
            for sign in [1.0, -1.0] {
                let sample = grey(CHIP + sign * nominal);
                assert_eq!(grade(grey(CHIP), sample), step, "{nominal}");
                assert_eq!(grade(sample, grey(CHIP)), step, "{nominal}");
            }
        }
    }

    /// The standard's tolerances of its own pairs (EN 20105-A02:1994, 2.4): a pair within them doesn't fall into another half step.
    #[test]
    fn a_pair_within_its_tolerance_keeps_its_grade() {
        let tolerances = [0.2, 0.2, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 1.0];
        for ((step, nominal), tolerance) in NOMINALS.into_iter().zip(tolerances) {
            for it in [nominal - tolerance, nominal + tolerance] {
                assert_eq!(half_step(it.max(0.0)), step, "{it}");
            }
        }
    }

    /// The formula at the nominals: computed from it in Python, four decimals.
    #[test]
    fn the_formula_at_the_nominals() {
        let expected = [5.0, 4.5294, 4.0, 3.5294, 3.0, 2.5025, 2.0, 1.5025, 1.0];
        for ((_, nominal), expected) in NOMINALS.into_iter().zip(expected) {
            assert!((value(nominal) - expected).abs() < 5e-5, "{nominal}");
        }
    }

    #[test]
    fn both_branches_meet_at_3_4() {
        assert!((value(3.4) - 3.0).abs() < 1e-12);
        assert!((value(3.4 + 1e-9) - 3.0).abs() < 1e-8);
    }

    #[test]
    fn names_are_those_of_the_scale() {
        let names: Vec<_> = NOMINALS.iter().map(|it| it.0.name()).collect();
        assert_eq!(names, ["5", "4-5", "4", "3-4", "3", "2-3", "2", "1-2", "1"]);
    }

    #[test]
    fn what_is_no_number_is_no_good_grade() {
        assert_eq!(half_step(f64::NAN), Grade::One);
        assert_eq!(half_step(f64::INFINITY), Grade::One);
        assert!((value(1e9) - 1.0).abs() < f64::EPSILON);
    }

    proptest! {
        #[test]
        fn of_greys_the_difference_is_that_of_lightness(one in 0.0..100.0_f64, other in 0.0..100.0_f64) {
            prop_assert!((difference(grey(one), grey(other)) - (one - other).abs()).abs() < 1e-12);
        }

        #[test]
        fn more_difference_is_never_a_better_grade(one in 0.0..30.0_f64, more in 0.0..5.0_f64) {
            prop_assert!(value(one + more) <= value(one));
            prop_assert!(half_step(one + more) >= half_step(one));
        }

        // No figure of a chromatic colour is frozen: only what any reading of the standard has.
        #[test]
        fn never_less_than_the_lightness_and_never_nan(
            l in 0.0..100.0_f64, a in -90.0..90.0_f64, b in -90.0..90.0_f64,
            dl in -9.0..9.0_f64, da in -9.0..9.0_f64, db in -9.0..9.0_f64,
        ) {
            let (one, other) = (Lab::new(l, a, b), Lab::new(l + dl, a + da, b + db));
            let there = difference(one, other);
            prop_assert!(there >= dl.abs() - 1e-9 && there.is_finite());
            prop_assert!((there - difference(other, one)).abs() < 1e-9);
            prop_assert!(difference(one, one).abs() < 1e-12);
        }
    }
}
