//! What a mask that may have leaked leaves of the change, by how likely that is.
//!
//! A share that isn't beyond chance is not none: its half may be sound, or its mask may have let through any part. Each counts by how often it is so and by how well it
//! explains the share that was told. What can't be excluded makes the change less sure, what speaks for a leak makes it larger, and what is certain is undone.
//!
//! # Source
//! Bayes' rule over a grid; mean and mean square of a mixture. JCGM 101:2008, 5.1 has standard uncertainties from the distribution of what isn't known.

use super::{MOST_LEAKED, Move};
use crate::colour::Matrix;
use crate::sample::float;
use nalgebra::Vector3;

/// One mask in so many leaks: common practice, no source.
const ONE_IN: f64 = 25.0;
/// Standard deviations of the shares of sound halves over their standard uncertainty, as a mixture of two normal ones, and the second's part: by greatest likelihood from
/// the 767 sound halves of 32 boards of the study split (see [`super::BEYOND`]). Of these 6.8 % lie beyond 2 and 2.0 % beyond 3; 4.6 and 0.3 % of normal ones would.
const SCATTER: [f64; 2] = [0.74, 1.6];
const WIDE: f64 = 0.3;
/// Relative standard deviation of the share of a half that leaks, beside its scatter: a half that is fitted to draws the correction along, and a colour doesn't fade in proportion to what
/// comes through.
const OFF: f64 = 0.2;
/// Parts that a mask may let through, looked at one by one.
const PARTS: usize = 300;

/// The exposed half's change over what lies between the halves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fade) struct Whole {
    /// What is taken for it …
    pub(in crate::fade) mean: f64,
    /// … and the mean square by which that may be off.
    pub(in crate::fade) variance: f64,
    /// Probability that the mask leaked.
    pub(in crate::fade) leaked: f64,
    /// Whether it would be so if the exposed half had not changed at all.
    stays: bool,
}

/// A change with the parts of its covariance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fade) struct Undone {
    /// In L*, a*, b*.
    pub(in crate::fade) lab: Vector3<f64>,
    /// What it would have, too, if nothing had changed.
    pub(in crate::fade) own: Matrix,
    /// What it wouldn't: through no mask comes a change that isn't there. All doses share it.
    pub(in crate::fade) leak: Matrix,
}

impl Whole {
    /// What lies between the halves is the change.
    pub(in crate::fade) const SOUND: Self = Self {
        mean: 1.0,
        variance: 0.0,
        leaked: 0.0,
        stays: false,
    };

    /// A masked half that changed although its exposed half stayed.
    pub(super) fn alone(found: &Move) -> Self {
        Self {
            mean: 1.0 + found.share,
            variance: found.sd.powi(2),
            leaked: 0.0,
            stays: true,
        }
    }

    /// By how likely it is that the mask leaked.
    pub(super) fn of(found: &Move) -> Self {
        let sound = (1.0 - 1.0 / ONE_IN) * likelihood(found.share, found.sd);
        let leaks = (0..PARTS).map(|i| {
            // Each part up to what a mask lets through at most is as likely.
            let part = (float(i) + 0.5) / float(PARTS) * MOST_LEAKED / (1.0 + MOST_LEAKED);
            let share = part / (1.0 - part);
            let sd = found.sd.hypot(OFF * share);
            let likely = likelihood(found.share - share, sd) / float(PARTS);
            (share, likely / ONE_IN)
        });
        let [mut all, mut first, mut second] = [0.0; 3];
        for (share, likely) in leaks {
            all += likely;
            first += likely * share;
            second += likely * share * share;
        }
        let total = sound + all;
        // So far from all of it that nothing is likely.
        if !total.is_finite() || total < f64::MIN_POSITIVE {
            return Self::SOUND;
        }
        let leaked = all / total;
        // Of a mask of which nothing is told but that masks may leak, the change is what lies between the halves: only what speaks for a leak makes it larger.
        let told = ((leaked - 1.0 / ONE_IN) / (1.0 - 1.0 / ONE_IN)).max(0.0);
        let (mean, square) = (first / total, second / total);
        let taken = told * first / all.max(f64::MIN_POSITIVE);
        Self {
            mean: 1.0 + taken,
            variance: (square - 2.0 * taken * mean + taken * taken).max(0.0),
            leaked,
            stays: false,
        }
    }

    /// Relative standard uncertainty of the change that is due to it, where all doses share it.
    pub(in crate::fade) fn relative(&self) -> f64 {
        if self.stays {
            return 0.0;
        }
        self.variance.sqrt() / self.mean
    }

    /// The exposed half's change from what lies between the halves.
    pub(in crate::fade) fn undo(&self, between: &Vector3<f64>, covariance: &Matrix) -> Undone {
        let own = covariance * self.mean.powi(2);
        let unsure = between * between.transpose() * self.variance;
        let (own, leak) = if self.stays {
            (own + unsure, Matrix::zeros())
        } else {
            (own, unsure)
        };
        Undone {
            lab: between * self.mean,
            own,
            leak,
        }
    }
}

/// Likelihood of a share that is off by so much, if halves scatter by `sd` as sound ones do.
fn likelihood(off: f64, sd: f64) -> f64 {
    let normal = |scatter: f64| (-0.5 * (off / (sd * scatter)).powi(2)).exp() / (sd * scatter);
    (1.0 - WIDE) * normal(SCATTER[0]) + WIDE * normal(SCATTER[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(share: f64, sd: f64) -> Whole {
        Whole::of(&Move { share, sd })
    }

    #[test]
    fn what_is_told_none_stays_and_what_is_certain_is_undone() {
        let none = whole(0.0, 0.05);
        assert!(
            none.leaked < 0.01 && (none.mean - 1.0).abs() < 0.002,
            "{none:?}"
        );
        assert!(none.variance.sqrt() < 0.02, "{none:?}");
        let certain = whole(0.8, 0.08);
        assert!(certain.leaked > 0.99, "{certain:?}");
        assert!((certain.mean - 1.8).abs() < 0.15, "{certain:?}");
        // As unsure as shares are, and no surer than the told one.
        assert!(certain.variance.sqrt() > 0.08, "{certain:?}");
    }

    #[test]
    fn in_between_the_change_grows_and_becomes_less_sure() {
        let all: Vec<Whole> = [0.0, 0.3, 0.6, 0.75, 0.9, 1.2]
            .map(|share| whole(share, 0.25))
            .to_vec();
        for pair in all.windows(2) {
            assert!(
                pair[1].leaked > pair[0].leaked && pair[1].mean >= pair[0].mean,
                "{pair:?}"
            );
        }
        // Not beyond chance, but it can't be excluded: three standard uncertainties.
        let may = all[3];
        assert!((0.1..0.6).contains(&may.leaked), "{may:?}");
        assert!(1.0 + 0.6 < may.mean + 2.0 * may.variance.sqrt(), "{may:?}");
        assert!(may.variance > 4.0 * all[0].variance, "{may:?}");
    }

    #[test]
    fn shares_that_say_nothing_leave_what_is_usual() {
        let nothing = whole(0.0, 1e4);
        assert!((nothing.leaked - 1.0 / ONE_IN).abs() < 1e-3, "{nothing:?}");
        assert!((nothing.mean - 1.0).abs() < 1e-3, "{nothing:?}");
        // Parts p from 0 to 3/4, shares p/(1 − p): their mean square is (3 − 2 ln 4 + 3/4)/(3/4), by hand.
        let square = (3.75 - 2.0 * 4.0_f64.ln()) / 0.75 / ONE_IN;
        assert!(
            (nothing.variance / square - 1.0).abs() < 0.01,
            "{nothing:?}"
        );
        for it in [whole(-3.0, 1e-3), whole(1e9, 1e-3), whole(f64::NAN, 1.0)] {
            assert!(it.mean.is_finite() && it.variance.is_finite(), "{it:?}");
        }
        assert_eq!(whole(f64::NAN, 1.0), Whole::SOUND);
    }

    #[test]
    fn no_change_comes_through_no_mask() {
        let between = Vector3::new(3.0, 0.0, -4.0);
        let noise = Matrix::identity() * 0.04;
        let whole = whole(0.75, 0.25);
        let undone = whole.undo(&between, &noise);
        // The test against none is that of a sound half: both grow alike.
        let statistic = |lab: &Vector3<f64>, covariance: &Matrix| {
            lab.dot(&(covariance.try_inverse().unwrap() * lab))
        };
        let sound = statistic(&between, &noise);
        assert!((statistic(&undone.lab, &undone.own) / sound - 1.0).abs() < 1e-9);
        assert!((undone.leak.trace() - 25.0 * whole.variance).abs() < 1e-9);
        assert!((whole.relative() * undone.lab.norm() - undone.leak.trace().sqrt()).abs() < 1e-9);
        // Where only the masked half moved nothing had to change.
        let alone = Whole::alone(&Move {
            share: -0.9,
            sd: 0.1,
        });
        let undone = alone.undo(&between, &noise);
        assert!((undone.lab - between * 0.1).norm() < 1e-9);
        assert!(undone.own.trace() > 0.25 && undone.leak.norm() < 1e-9);
        assert!(alone.relative() < 1e-9);
    }
}
