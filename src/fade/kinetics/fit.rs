//! One model fitted to the points: the change by generalised least squares, the shape by a bounded search in one dimension.

use super::data::Data;
use super::shape::Shape;
use super::{ModelName, Parameter};
use nalgebra::{Matrix3, Matrix4, Vector3, Vector4};

/// Steps of the grid over the logarithm of a shape's parameter, on which the least χ² is looked for.
const STEPS: usize = 120;
/// How much χ² has to rise on both sides before the shape counts as held by the points: the 95 % point of one degree of freedom.
const HELD: f64 = 3.841;

/// A fitted model.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    /// Which.
    pub(super) model: ModelName,
    /// Its best shape.
    pub(super) shape: Shape,
    /// Change at the furthest dose; zero where nothing changes.
    pub(super) change: Vector3<f64>,
    /// χ² of the points.
    pub(super) chi_square: f64,
    /// Logarithm of the shape's parameter, for models that have one.
    pub(super) log: Option<f64>,
    /// Covariance of the change and of `log`; none where the points don't hold the shape.
    covariance: Option<Matrix4<f64>>,
}

/// Fits a model. `None` if numbers get out of hand.
pub(super) fn fit(model: ModelName, data: &Data) -> Option<Fit> {
    match (model, Shape::range(model, data.doses[0])) {
        (ModelName::None, _) => Some(nothing(data)),
        (_, None) => straight(data),
        (_, Some(range)) => curved(model, range, data),
    }
    .filter(|it| it.chi_square.is_finite())
}

fn nothing(data: &Data) -> Fit {
    let change = Vector3::zeros();
    Fit {
        model: ModelName::None,
        shape: Shape::Linear,
        change,
        chi_square: data.chi_square(&data.doses, &change),
        log: None,
        covariance: Some(Matrix4::zeros()),
    }
}

fn straight(data: &Data) -> Option<Fit> {
    let (change, covariance) = data.solve(&data.doses)?;
    let mut all = Matrix4::zeros();
    all.fixed_view_mut::<3, 3>(0, 0).copy_from(&covariance);
    Some(Fit {
        model: ModelName::Linear,
        shape: Shape::Linear,
        change,
        chi_square: data.chi_square(&data.doses, &change),
        log: None,
        covariance: Some(all),
    })
}

fn curved(model: ModelName, range: (f64, f64), data: &Data) -> Option<Fit> {
    let profile = profile(model, range, STEPS, data);
    let best = (profile.iter().enumerate())
        .min_by(|one, other| one.1.chi_square.total_cmp(&other.1.chi_square))?
        .0;
    let (left, right) = (best.checked_sub(1), best + 1);
    let inside = left.is_some() && right < profile.len();
    let from = profile[left.unwrap_or(best)].log;
    let to = profile[right.min(profile.len() - 1)].log;
    let log = lowest(model, (from, to), data).unwrap_or(profile[best].log);
    let shape = Shape::new(model, log);
    let g = shape.all(&data.doses);
    let (change, _) = data.solve(&g)?;
    let chi_square = data.chi_square(&g, &change);
    let ends = [profile.first()?, profile.last()?];
    let held = inside && ends.iter().all(|it| it.chi_square > chi_square + HELD);
    Some(Fit {
        model,
        shape,
        change,
        chi_square,
        log: Some(log),
        covariance: held.then(|| joint(shape, &g, &change, data)).flatten(),
    })
}

/// χ² at one shape, the change being the best there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Profile {
    /// Logarithm of the shape's parameter.
    pub(super) log: f64,
    /// Least χ².
    pub(super) chi_square: f64,
}

/// χ² over a range of shapes.
pub(super) fn profile(
    model: ModelName,
    range: (f64, f64),
    steps: usize,
    data: &Data,
) -> Vec<Profile> {
    (0..=steps)
        .filter_map(|step| {
            let log = range.0 + (range.1 - range.0) * step as f64 / steps as f64;
            let g = Shape::new(model, log).all(&data.doses);
            let (change, _) = data.solve(&g)?;
            Some(Profile {
                log,
                chi_square: data.chi_square(&g, &change),
            })
        })
        .collect()
}

/// Where χ² is least between two shapes: the root of its derivative, which is known to more digits than its minimum. The change
/// follows the shape, so that only the course's own slope counts (Golub & Pereyra, *SIAM J. Numer. Anal.* 10 (1973) 413–432).
fn lowest(model: ModelName, (from, to): (f64, f64), data: &Data) -> Option<f64> {
    let fall = |log: f64| {
        let shape = Shape::new(model, log);
        let g = shape.all(&data.doses);
        let slope: Vec<f64> = data.doses.iter().map(|it| shape.slope(*it)).collect();
        let (change, _) = data.solve(&g)?;
        Some(data.fall(&g, &slope, &change))
    };
    root(from, to, fall)
}

/// Root of a function that is above zero at `from` and below at `to`: false position in the Illinois form, M. Dowell & P. Jarratt,
/// *BIT* 11 (1971) 168–174. `None` if it isn't bracketed.
pub(super) fn root(from: f64, to: f64, f: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let (mut a, mut b) = (from, to);
    let (mut fa, mut fb) = (f(a)?, f(b)?);
    if !(fa > 0.0 && fb < 0.0) {
        return None;
    }
    let mut kept = 0;
    for _ in 0..100 {
        let c = (a * fb - b * fa) / (fb - fa);
        if !(c > a && c < b) || b - a < 1e-13 * (1.0 + a.abs()) {
            break;
        }
        let fc = f(c)?;
        if fc > 0.0 {
            (a, fa) = (c, fc);
            if kept == 1 {
                fb /= 2.0;
            }
            kept = 1;
        } else if fc < 0.0 {
            (b, fb) = (c, fc);
            if kept == 2 {
                fa /= 2.0;
            }
            kept = 2;
        } else {
            return Some(c);
        }
    }
    Some(if fa < -fb { a } else { b })
}

/// Covariance of change and logarithm of the shape's parameter: the inverse of Fisher's information.
fn joint(shape: Shape, g: &[f64], change: &Vector3<f64>, data: &Data) -> Option<Matrix4<f64>> {
    let slope: Vec<f64> = data.doses.iter().map(|it| shape.slope(*it)).collect();
    let across = data.between(g, &slope) * change;
    let own = change.dot(&(data.between(&slope, &slope) * change));
    let mut information = Matrix4::zeros();
    information
        .fixed_view_mut::<3, 3>(0, 0)
        .copy_from(&data.between(g, g));
    information.fixed_view_mut::<3, 1>(0, 3).copy_from(&across);
    information
        .fixed_view_mut::<1, 3>(3, 0)
        .copy_from(&across.transpose());
    information[(3, 3)] = own;
    let covariance = information.cholesky()?.inverse();
    covariance
        .iter()
        .all(|it| it.is_finite())
        .then_some(covariance)
}

impl Fit {
    /// Change along the course at a dose, as a fraction of the furthest.
    pub(super) fn at(&self, x: f64) -> Vector3<f64> {
        self.change * self.shape.at(x)
    }

    /// Parameters counted: the three of the change, and the shape's.
    pub(super) fn count(&self) -> usize {
        match self.model {
            ModelName::None => 0,
            ModelName::Linear => 3,
            ModelName::Plateau | ModelName::Power => 4,
        }
    }

    /// The model's own parameters, in Lab and the unit of the dose.
    pub(super) fn parameters(&self, last: f64) -> Vec<Parameter> {
        if self.model == ModelName::None {
            return Vec::new();
        }
        let (factor, bend) = self.shape.factor(last);
        let sd = |by: Vector4<f64>| {
            let variance = self.covariance.map(|it| by.dot(&(it * by)))?;
            Some(variance.max(0.0).sqrt()).filter(|it| it.is_finite())
        };
        let mut parameters: Vec<Parameter> = ["dL", "da", "db"]
            .iter()
            .zip(Matrix3::identity().column_iter())
            .zip(self.change.iter())
            .map(|((name, axis), change)| {
                let axis: Vector3<f64> = axis.into_owned();
                Parameter {
                    name: (*name).to_owned(),
                    value: change * factor,
                    sd: sd((axis * factor).push(change * bend)),
                }
            })
            .collect();
        let shape = match self.shape {
            Shape::Linear => None,
            Shape::Plateau(rate) => Some(("rate", rate / last)),
            Shape::Power(exponent) => Some(("exponent", exponent)),
        };
        parameters.extend(shape.map(|(name, value)| Parameter {
            name: name.to_owned(),
            value,
            sd: sd(Vector4::new(0.0, 0.0, 0.0, value)),
        }));
        parameters
    }
}
