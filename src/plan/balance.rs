//! What a balance can weigh.

use super::PlanError;

/// Grams beyond which a number is a mistake: a tonne.
const MOST_G: f64 = 1e6;
/// Steps finer than this are of no use to a workshop, and would drown in the arithmetic.
const FINEST_G: f64 = 1e-4;
/// Steps from which a weighing counts without being told: half a step is then 2.5 % of it (common practice, no source).
const STEPS_TO_TRUST: f64 = 20.0;

/// A balance: the step of its display and the least amount that it is trusted with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    step_g: f64,
    least_g: f64,
}

impl Balance {
    /// A balance that shows steps of `step_g` grams and is trusted from `least_g` grams on; from 20 steps if not given.
    ///
    /// # Errors
    /// If a number is not a weight: the step below 0.0001 g, the least amount below the step, either beyond a tonne.
    pub fn new(step_g: f64, least_g: Option<f64>) -> Result<Self, PlanError> {
        let fits = |it: f64, least: f64| it.is_finite() && (least..=MOST_G).contains(&it);
        if !fits(step_g, FINEST_G) {
            return Err(PlanError::Number {
                what: "the balance's step".to_owned(),
                value: step_g,
                must: format!("grams from {FINEST_G} to {MOST_G}"),
            });
        }
        let least_g = least_g.unwrap_or(STEPS_TO_TRUST * step_g);
        if !fits(least_g, step_g) {
            return Err(PlanError::Number {
                what: "the least weighable amount".to_owned(),
                value: least_g,
                must: format!("grams from the balance's step, {step_g}, to {MOST_G}"),
            });
        }
        let mut balance = Self { step_g, least_g };
        balance.least_g = balance.up(least_g);
        Ok(balance)
    }

    /// The step of its display, g.
    #[must_use]
    pub fn step_g(&self) -> f64 {
        self.step_g
    }

    /// The least amount that it is trusted with, g: a whole number of steps.
    #[must_use]
    pub fn least_g(&self) -> f64 {
        self.least_g
    }

    /// The nearest amount that it can show.
    #[must_use]
    pub fn nearest(&self, grams: f64) -> f64 {
        tidy((grams / self.step_g).round() * self.step_g)
    }

    /// The next amount that it can show, upwards; an amount that it shows already stays.
    #[must_use]
    pub fn up(&self, grams: f64) -> f64 {
        // What arithmetic left behind is no reason to go one step further.
        tidy((grams / self.step_g - 1e-6).ceil() * self.step_g)
    }

    /// Decimals that its display needs.
    #[must_use]
    pub fn decimals(&self) -> usize {
        Self::decimals_of(self.step_g)
    }

    /// Decimals of a display with steps of so many grams.
    #[must_use]
    pub fn decimals_of(step_g: f64) -> usize {
        let shown = |decimals: &usize| {
            let scaled = step_g * [1.0, 10.0, 100.0, 1e3, 1e4][*decimals];
            scaled >= 0.5 && (scaled - scaled.round()).abs() < 1e-6 * scaled
        };
        (0..4).find(shown).unwrap_or(4)
    }
}

/// Without what arithmetic left behind the millionth of a gram.
pub(super) fn tidy(grams: f64) -> f64 {
    (grams * 1e6).round() / 1e6 + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[expect(clippy::float_cmp, reason = "weights are whole numbers of steps")]
    fn weights_are_whole_steps() {
        let balance = Balance::new(0.02, None).unwrap();
        assert_eq!(balance.least_g(), 0.4);
        assert_eq!(balance.nearest(0.631), 0.64);
        assert_eq!(balance.up(0.6), 0.6);
        assert_eq!(balance.up(0.601), 0.62);
        let fine = Balance::new(0.1, None).unwrap();
        // 0.1 + 0.2 is a hair more than 0.3.
        assert_eq!(fine.up(0.1 + 0.2), 0.3);
        assert_eq!(Balance::new(0.01, Some(0.155)).unwrap().least_g(), 0.16);
    }

    #[test]
    fn the_display_decides_the_decimals() {
        let decimals = |step| Balance::new(step, None).unwrap().decimals();
        assert_eq!(
            [1.0, 5.0, 0.5, 0.1, 0.02, 0.01, 0.005, 0.001].map(decimals),
            [0, 0, 1, 1, 2, 2, 3, 3]
        );
    }

    #[test]
    fn what_is_no_weight_is_refused() {
        for (step, least) in [
            (0.0, None),
            (f64::NAN, None),
            (-1.0, None),
            (0.1, Some(0.01)),
            (0.1, Some(f64::INFINITY)),
        ] {
            assert!(Balance::new(step, least).is_err(), "{step} {least:?}");
        }
    }
}
