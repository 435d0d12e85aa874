//! How far a pigment's trials are off from one another, beyond what was said of them, and what pigments of one coating have in common of that.
//!
//! A pigment has few trials, and by these alone hardly anything is known of how well films of this coating are met. Where other pigments' trials are off,
//! the same hands, photos and coating were at work, and more of it is to be expected of this one, too. Never the other way: that others agree makes nothing
//! surer, since films may do in company what none of them does alone. And never by one of them alone: whatever it does, it counts for no more than one that
//! is as far off as pigments usually differ.
//!
//! # Source
//! Shrinkage of variances to what groups have in common, as in A. Gelman and others, *Bayesian Data Analysis*, CRC Press 2013, chapter 5, from memory; that it
//! never narrows: a choice, from measured oil paints (DEVELOPERS.md). Bounded influence, as in P. J. Huber, E. M. Ronchetti, *Robust Statistics*, Wiley 2009,
//! chapter 5; this bound is a choice.

/// What is known beforehand, as if from so many values.
const BEFOREHAND: f64 = 12.0;
/// None of the others counts for more than this many times their middle: with three trials, and a factor of its own that is known as if from
/// [`BEFOREHAND`] values, one pigment in a hundred is farther off than that (tables of F with 9 and 12 degrees of freedom, from memory: 4.39).
const FARTHEST: f64 = 4.4;

/// How far trials are off from what the others of their pigment say of each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scatter {
    /// Squares in standard deviations, summed.
    pub(super) far: f64,
    /// Of so many values, more than none.
    pub(super) values: f64,
}

/// What the trials of a pigment, or of pigments that only they tie together, tell of how far its films are from what is said of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Told {
    /// Nothing: one trial. Variances are usually so many times as large.
    Nothing { usual: f64 },
    /// Of one coat laid again: how well hands and photos agree, not how well other coats are met.
    OneCoat(Scatter),
    /// Of several coats.
    Coats(Scatter),
}

impl Scatter {
    const USUAL: Self = Self {
        far: BEFOREHAND,
        values: BEFOREHAND,
    };

    /// By how much variances are larger, with what is thought of that beforehand.
    fn factor(self, before: f64) -> f64 {
        (BEFOREHAND * before + self.far) / (BEFOREHAND + self.values)
    }

    fn ratio(&self) -> f64 {
        self.far / self.values
    }
}

impl Told {
    /// By how much variances are larger, as if there were no others.
    pub(super) fn alone(self) -> f64 {
        self.factor(1.0)
    }

    /// By how much variances are larger, with what is thought of that beforehand.
    fn factor(self, before: f64) -> f64 {
        match self {
            Self::Nothing { usual } => usual * before,
            Self::OneCoat(it) => it.factor(before).max(before),
            Self::Coats(it) => it.factor(before),
        }
    }
}

/// By how much variances are larger of each, with what the others tell of it beforehand.
pub(super) fn factors(all: &[Told]) -> Vec<f64> {
    (all.iter().enumerate())
        .map(|(own, it)| {
            let others = all.iter().enumerate().filter(|it| it.0 != own);
            let others = others.filter_map(|(_, it)| match it {
                Told::Coats(it) => Some(*it),
                _ => None,
            });
            it.factor(common(others.collect()))
        })
        .collect()
}

/// What these have in common: their mean with what is usual, in which none counts for more than [`FARTHEST`] times their middle; at least 1.
fn common(mut of: Vec<Scatter>) -> f64 {
    of.push(Scatter::USUAL);
    of.sort_by(|a, b| a.ratio().total_cmp(&b.ratio()));
    // Of two the lesser: one pigment alone never decides.
    let middle = of[(of.len() - 1) / 2].ratio();
    let most = FARTHEST * middle.max(1.0);
    let values: f64 = of.iter().map(|it| it.values).sum();
    let far = of.iter().map(|it| it.ratio().min(most) * it.values);
    (far.sum::<f64>() / values).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(ratio: f64, values: f64) -> Told {
        Told::Coats(Scatter {
            far: ratio * values,
            values,
        })
    }

    #[test]
    fn where_others_are_off_a_pigment_is_less_sure() {
        // Three of nine values each, off by thrice the variance; one of a single coat; one as far off as was said.
        let far = of(3.0, 9.0);
        let one = Told::Nothing { usual: 1.3 };
        let found = factors(&[of(1.0, 9.0), far, one, far, far]);
        let before = (12.0 + 81.0) / (12.0 + 27.0);
        let should = (12.0 * before + 9.0) / 21.0;
        assert!((found[0] - should).abs() < 1e-12);
        let before = (12.0 + 9.0 + 81.0) / (12.0 + 36.0);
        assert!((found[2] - 1.3 * before).abs() < 1e-12);
        assert!(found[1] > found[0] && (found[1] - found[4]).abs() < 1e-12);
    }

    /// The same coat laid again agrees: that says nothing of the others, nor of this one in other coats.
    #[test]
    fn a_coat_laid_again_makes_nothing_surer() {
        let again = |ratio: f64| {
            Told::OneCoat(Scatter {
                far: ratio * 9.0,
                values: 9.0,
            })
        };
        let found = factors(&[again(0.1), of(3.0, 12.0), again(5.0), of(3.0, 12.0)]);
        let before = (12.0 + 72.0) / 36.0;
        assert!((found[0] - before).abs() < 1e-12);
        assert!((found[2] - (12.0 * before + 45.0) / 21.0).abs() < 1e-12);
        let before = (12.0 + 36.0) / 24.0;
        assert!((found[1] - (12.0 * before + 36.0) / 24.0).abs() < 1e-12);
    }

    fn several() -> impl Strategy<Value = Vec<Told>> {
        let one = (0.1..1e12_f64, 0.1..3.0_f64, 2..6_u32, any::<bool>());
        let one = one.prop_map(|(far, near, trials, wild)| {
            of(if wild { far } else { near }, f64::from(3 * trials))
        });
        prop::collection::vec(one, 1..8)
    }

    proptest! {
        #[test]
        fn others_never_make_a_pigment_surer(all in several()) {
            for (it, factor) in all.iter().zip(factors(&all)) {
                prop_assert!(factor >= it.alone() * (1.0 - 1e-12));
            }
        }

        /// However far off one is, it takes the others as if it were few times as far off as they are, and less where they are many.
        #[test]
        fn one_that_is_wild_widens_others_little(count in 1_usize..12, trials in 2..6_u32, wild in 5.0..1e12_f64) {
            let values = f64::from(3 * trials);
            let sound = of(1.0, values);
            let mut all = vec![sound; count];
            all.push(of(wild, values));
            let found = factors(&all);
            let share = values / (12.0 + count as f64 * values);
            let before = 1.0 + (FARTHEST - 1.0) * share;
            for it in &found[..count] {
                prop_assert!((it - sound.factor(before)).abs() < 1e-9);
                prop_assert!(*it < 2.0, "{}", it);
            }
            // Its own it is.
            prop_assert!((found[count] - all[count].alone()).abs() < 1e-9 * wild);
        }
    }
}
