//! Shapes of a course: how far along its change a patch is at each dose.

use super::ModelName;

/// A shape with its parameter. Doses are fractions of the furthest, and every shape is 1 there: what multiplies it is the change
/// at the furthest dose, which the points hold well whatever the shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shape {
    /// x.
    Linear,
    /// (1 − exp(−κx)) ∕ (1 − exp(−κ)).
    Plateau(f64),
    /// xᵇ.
    Power(f64),
}

/// Plateaus slower than this, over all doses, are straight to within 1.3 % of the change: the linear model is that.
const SLOWEST_PLATEAU: f64 = 0.1;
/// At the first dose a plateau is reached to within 0.7 %: faster ones can't be told apart.
const FASTEST_PLATEAU: f64 = 5.0;
/// Powers between one that is nearly a step before the first dose and one that is nearly a step at the last.
const POWERS: (f64, f64) = (0.1, 5.0);

impl Shape {
    /// Logarithms of the least and the largest parameter; `first` is the first dose over the furthest.
    pub(super) fn range(model: ModelName, first: f64) -> Option<(f64, f64)> {
        match model {
            ModelName::None | ModelName::Linear => None,
            ModelName::Plateau => {
                // However early the first dose is: a step there is as good as one a thousand times earlier.
                let fastest = FASTEST_PLATEAU / first.max(1e-3);
                Some((SLOWEST_PLATEAU.ln(), fastest.ln()))
            }
            ModelName::Power => Some((POWERS.0.ln(), POWERS.1.ln())),
        }
    }

    /// The shape of this model with this logarithm of its parameter; the linear one has none.
    pub(super) fn new(model: ModelName, log: f64) -> Self {
        match model {
            ModelName::None | ModelName::Linear => Self::Linear,
            ModelName::Plateau => Self::Plateau(log.exp()),
            ModelName::Power => Self::Power(log.exp()),
        }
    }

    /// How far along: 0 at dose 0, 1 at the furthest.
    pub(super) fn at(self, x: f64) -> f64 {
        match self {
            Self::Linear => x,
            Self::Plateau(rate) => (-rate * x).exp_m1() / (-rate).exp_m1(),
            Self::Power(exponent) => x.powf(exponent),
        }
    }

    /// Derivative of [`Self::at`] by the logarithm of the parameter.
    pub(super) fn slope(self, x: f64) -> f64 {
        match self {
            Self::Linear => 0.0,
            Self::Plateau(rate) => {
                let (here, last) = (-(-rate * x).exp_m1(), -(-rate).exp_m1());
                rate * (x * (-rate * x).exp() * last - here * (-rate).exp()) / last.powi(2)
            }
            Self::Power(exponent) => exponent * x.ln() * x.powf(exponent),
        }
    }

    /// Dose at which it is so far along; infinite where it never is.
    pub(super) fn dose(self, along: f64) -> f64 {
        match self {
            Self::Linear => along,
            Self::Plateau(rate) => {
                let inside = along * (-rate).exp_m1();
                if inside <= -1.0 {
                    f64::INFINITY
                } else {
                    -inside.ln_1p() / rate
                }
            }
            Self::Power(exponent) => along.powf(1.0 / exponent),
        }
    }

    /// The same at several doses.
    pub(super) fn all(self, doses: &[f64]) -> Vec<f64> {
        doses.iter().map(|it| self.at(*it)).collect()
    }

    /// What the change at the furthest dose is multiplied by to give the model's own parameters (change a unit of dose, or at the
    /// plateau), and its derivative by the logarithm of the shape's parameter. `last` is the furthest dose.
    pub(super) fn factor(self, last: f64) -> (f64, f64) {
        match self {
            Self::Linear => (1.0 / last, 0.0),
            Self::Plateau(rate) => {
                let reached = -(-rate).exp_m1();
                (1.0 / reached, -rate * (-rate).exp() / reached.powi(2))
            }
            Self::Power(exponent) => {
                let factor = last.powf(-exponent);
                (factor, -exponent * last.ln() * factor)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPES: [Shape; 5] = [
        Shape::Linear,
        Shape::Plateau(0.1),
        Shape::Plateau(12.0),
        Shape::Power(0.3),
        Shape::Power(4.0),
    ];

    #[test]
    fn from_nothing_to_one_and_back() {
        for shape in SHAPES {
            assert!(shape.at(0.0).abs() < 1e-15 && (shape.at(1.0) - 1.0).abs() < 1e-15);
            for x in [0.01, 0.1, 0.5, 1.0] {
                // So near a plateau, rounding what is reached moves the dose.
                let rounding = match shape {
                    Shape::Plateau(rate) => f64::EPSILON * (rate * x).exp() / (rate * x),
                    _ => 0.0,
                };
                let off = (shape.dose(shape.at(x)) / x - 1.0).abs();
                assert!(off < 1e-6 + rounding, "{shape:?} {x}: {off}");
            }
        }
        assert!(Shape::Plateau(2.0).dose(1.2).is_infinite());
    }

    #[test]
    fn slopes_are_those_of_small_steps() {
        let step = 1e-5;
        for (model, log) in [(ModelName::Plateau, 0.7), (ModelName::Power, -0.4)] {
            let at = |log| Shape::new(model, log);
            for x in [0.1, 0.6, 1.0] {
                let difference = (at(log + step).at(x) - at(log - step).at(x)) / (2.0 * step);
                assert!(
                    (at(log).slope(x) - difference).abs() < 1e-9,
                    "{model:?} {x}"
                );
            }
            let factor = |log| at(log).factor(300.0).0;
            let difference = (factor(log + step) - factor(log - step)) / (2.0 * step);
            assert!((at(log).factor(300.0).1 / difference - 1.0).abs() < 1e-7);
        }
    }
}
