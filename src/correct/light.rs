//! The illumination field: how the light falls off over the plane of the panel, seen on surfaces of one colour each.

use super::local::Local;
use super::robust;
use crate::sample::float;
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

/// Light relative to that on the references, as a polynomial in log light over panel millimetres.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LightField {
    /// Order of the fall-off: 0 (even), 1 or 2.
    pub order: usize,
    /// Order of the change of the light's colour: 0 or 1.
    pub colour_order: usize,
    /// Where the polynomial has its origin, mm.
    pub centre: [f64; 2],
    /// Millimetres per unit of the polynomial.
    pub scale: f64,
    /// Coefficients of x, y, x², xy, y² of the log of red, green and blue light.
    pub coefficients: [[f64; TERMS]; 3],
    /// The polynomial's terms, averaged over the references: there the light is 1.
    pub origin: [f64; TERMS],
    /// Robust standard deviation of what the field leaves between stretches of substrate, in log light.
    pub residual: f64,
    /// Covariance of the coefficients of the fall-off.
    pub covariance: [[f64; TERMS]; TERMS],
    /// How many stretches of substrate it was fitted to; 0 where only slopes within patches showed it.
    pub stretches: usize,
    /// Whether anything showed it at all.
    pub seen: bool,
    /// What a blank shows beside the polynomial.
    pub local: Local,
}

/// The surface of all substrate.
pub(super) const SUBSTRATE: usize = 0;

/// Terms without the constant.
const TERMS: usize = 5;

/// One look at the light: a part of a surface whose own colour is the same all over.
#[derive(Clone, Copy, Debug)]
pub(super) struct Glimpse {
    /// Which surface; each has its own level.
    pub(super) surface: usize,
    /// Which stretch: neighbours err together, so they are left out together.
    pub(super) stretch: usize,
    /// Panel millimetres.
    pub(super) mm: [f64; 2],
    /// Log light of the three channels.
    pub(super) log: [f64; 3],
}

fn terms(centre: [f64; 2], scale: f64, mm: [f64; 2]) -> [f64; TERMS] {
    let (x, y) = ((mm[0] - centre[0]) / scale, (mm[1] - centre[1]) / scale);
    [x, y, x * x, x * y, y * y]
}

/// Terms of an order.
fn count(order: usize) -> usize {
    match order {
        0 => 0,
        1 => 2,
        _ => TERMS,
    }
}

impl LightField {
    /// Even light.
    pub(super) fn even() -> Self {
        Self {
            order: 0,
            colour_order: 0,
            centre: [0.0; 2],
            scale: 1.0,
            coefficients: [[0.0; TERMS]; 3],
            origin: [0.0; TERMS],
            residual: 0.0,
            covariance: [[0.0; TERMS]; TERMS],
            stretches: 0,
            seen: false,
            local: Local::default(),
        }
    }

    /// Light at a place relative to that on the references, a channel.
    #[must_use]
    pub fn at(&self, mm: [f64; 2]) -> [f64; 3] {
        let local = self.local.at(mm);
        if self.order == 0 && self.colour_order == 0 {
            return local.map(f64::exp);
        }
        let terms = terms(self.centre, self.scale, mm);
        [0, 1, 2].map(|i| {
            let c = self.coefficients[i];
            (0..TERMS)
                .map(|k| c[k] * (terms[k] - self.origin[k]))
                .sum::<f64>()
                .exp()
                * local[i].exp()
        })
    }

    /// Standard deviation of the log light at a place relative to the references: of the coefficients, and of what the
    /// polynomial can't follow.
    #[must_use]
    pub fn doubt(&self, mm: [f64; 2]) -> f64 {
        let terms = terms(self.centre, self.scale, mm);
        let d: Vec<f64> = (0..TERMS).map(|k| terms[k] - self.origin[k]).collect();
        let variance: f64 = (0..TERMS)
            .flat_map(|i| (0..TERMS).map(move |j| (i, j)))
            .map(|(i, j)| d[i] * self.covariance[i][j] * d[j])
            .sum();
        variance.max(0.0).sqrt()
    }

    /// Fits the field to glimpses, the order by cross-validation over stretches; `references` are where it is 1.
    pub(super) fn fit(glimpses: &[Glimpse], references: &[[f64; 2]]) -> Self {
        let (found, colour_order) = Self::orders(glimpses);
        let mut order = found;
        loop {
            let mut field = Self::fit_orders(glimpses, references, (order, colour_order));
            let doubt = glimpses
                .iter()
                .map(|it| field.doubt(it.mm))
                .fold(0.0, f64::max);
            if order == 0 || doubt <= MOST_DOUBT {
                if order < found {
                    // The lower order is then a guess, not a finding.
                    field.stretches = 0;
                }
                return field;
            }
            order -= 1;
        }
    }

    /// Fits with the orders of another field: for another tone curve.
    pub(super) fn refit(&self, glimpses: &[Glimpse], references: &[[f64; 2]]) -> Self {
        let mut field = Self::fit_orders(glimpses, references, (self.order, self.colour_order));
        if self.stretches == 0 {
            // Its order was a guess then, and is so still.
            field.stretches = 0;
        }
        field
    }

    /// The orders of fall-off and of colour that leave the least in stretches that the fit hasn't seen.
    fn orders(glimpses: &[Glimpse]) -> (usize, usize) {
        let Some(frame) = Frame::of(glimpses) else {
            return (0, 0);
        };
        let light: Vec<f64> = glimpses.iter().map(|it| luminance(it.log)).collect();
        let rows = frame.rows(glimpses);
        let choose = |values: &[f64], most: usize| {
            // A shadow that even the freest fit leaves doesn't rule.
            let freest = frame.robust(glimpses, values, &rows, 2);
            let cap = 3.0
                * frame
                    .between_stretches(&freest, glimpses, values, &rows)
                    .0
                    .max(2e-3);
            let score = |order| frame.cross_validated(glimpses, values, &rows, order, cap);
            let mut best = (0, score(0));
            for order in 1..=most {
                let score = score(order);
                if clearly_less(&score, &best.1) {
                    best = (order, score);
                }
            }
            best.0
        };
        let red: Vec<f64> = glimpses.iter().map(|it| it.log[0] - it.log[1]).collect();
        let blue: Vec<f64> = glimpses.iter().map(|it| it.log[2] - it.log[1]).collect();
        (choose(&light, 2), choose(&red, 1).max(choose(&blue, 1)))
    }

    fn fit_orders(glimpses: &[Glimpse], references: &[[f64; 2]], orders: (usize, usize)) -> Self {
        let Some(frame) = Frame::of(glimpses) else {
            return Self::even();
        };
        let light: Vec<f64> = glimpses.iter().map(|it| luminance(it.log)).collect();
        let fit = frame.solve(glimpses, &light, orders.0);
        let mut field = Self {
            order: orders.0,
            colour_order: orders.1,
            centre: frame.centre,
            scale: frame.scale,
            coefficients: [fit.coefficients; 3],
            origin: [0.0; TERMS],
            residual: fit.between_stretches,
            covariance: fit.covariance,
            stretches: frame.shared,
            seen: true,
            local: Local::default(),
        };
        if orders.1 > 0 {
            for c in 0..3 {
                let colour: Vec<f64> = glimpses
                    .iter()
                    .zip(&light)
                    .map(|(it, l)| it.log[c] - l)
                    .collect();
                let part = frame.solve(glimpses, &colour, orders.1).coefficients;
                for (to, from) in field.coefficients[c].iter_mut().zip(part) {
                    *to += from;
                }
            }
        }
        for mm in references {
            for (sum, term) in field
                .origin
                .iter_mut()
                .zip(terms(field.centre, field.scale, *mm))
            {
                *sum += term / float(references.len());
            }
        }
        field
    }
}

/// Green carries most of the luminance and the least noise.
fn luminance(log: [f64; 3]) -> f64 {
    0.25 * log[0] + 0.65 * log[1] + 0.1 * log[2]
}

/// Whether squares left by one fit are less than those left by a simpler one by more than two standard errors of their paired
/// difference: the one-standard-error rule (Hastie, Tibshirani & Friedman, *The Elements of Statistical Learning*, 2nd ed.,
/// § 7.10). Twice as strict, since stretches along one board's grain are not independent; the factor two has no source but a
/// larch board whose grain one standard error took for light. A little better by chance is no reason for more parameters.
fn clearly_less(new: &[f64], simpler: &[f64]) -> bool {
    let n = float(new.len().min(simpler.len()));
    if n < 2.0 {
        return false;
    }
    let gain = |(new, old): (&f64, &f64)| old - new;
    let mean = new.iter().zip(simpler).map(gain).sum::<f64>() / n;
    let squares: f64 = new
        .iter()
        .zip(simpler)
        .map(|it| (gain(it) - mean).powi(2))
        .sum();
    mean > 2.0 * (squares / (n - 1.0) / n).sqrt()
}

/// Fewest stretches that can tell fall-off from a change in the substrate itself.
const LEAST_STRETCHES: usize = 5;
/// Log light that a polynomial may be unsure of anywhere between references and patches: beyond, it is carried too far.
const MOST_DOUBT: f64 = 0.3;
/// Change of log light in one round of the robust fit that is none.
const SETTLED: f64 = 1e-5;
/// Folds of the cross-validation.
const FOLDS: usize = 6;

/// Coordinates in which the polynomial is well conditioned.
struct Frame {
    centre: [f64; 2],
    scale: f64,
    surfaces: usize,
    /// Stretches of the surface that all stretches of substrate share.
    shared: usize,
}

/// One channel's fit.
struct Fit {
    coefficients: [f64; TERMS],
    levels: Vec<f64>,
    /// Inverse of the normal matrix.
    inverse: [[f64; TERMS]; TERMS],
    /// Robust weight of each glimpse.
    weights: Vec<f64>,
}

/// A judged fit.
struct Solved {
    coefficients: [f64; TERMS],
    covariance: [[f64; TERMS]; TERMS],
    between_stretches: f64,
}

/// Weighted sums over the glimpses of one surface.
#[derive(Clone, Copy, Default)]
struct Moments {
    weight: f64,
    value: f64,
    row: [f64; TERMS],
    row_value: [f64; TERMS],
    /// The lower triangle is filled.
    row_row: [[f64; TERMS]; TERMS],
}

impl Moments {
    fn add(&mut self, weight: f64, value: f64, row: &[f64; TERMS], n: usize) {
        self.weight += weight;
        self.value += weight * value;
        for j in 0..n {
            let weighted = weight * row[j];
            self.row[j] += weighted;
            self.row_value[j] += weighted * value;
            for (sum, other) in self.row_row[j].iter_mut().zip(row).take(j + 1) {
                *sum += weighted * other;
            }
        }
    }
}

impl Frame {
    fn of(glimpses: &[Glimpse]) -> Option<Self> {
        let surfaces = glimpses.iter().map(|it| it.surface).max()? + 1;
        let mut stretches: Vec<usize> = glimpses.iter().map(|it| it.stretch).collect();
        stretches.sort_unstable();
        stretches.dedup();
        if stretches.len() < LEAST_STRETCHES {
            return None;
        }
        let mut shared: Vec<usize> = glimpses
            .iter()
            .filter(|it| it.surface == SUBSTRATE)
            .map(|it| it.stretch)
            .collect();
        shared.dedup();
        let shared = shared.len();
        let n = float(glimpses.len());
        let centre = [0, 1].map(|i| glimpses.iter().map(|it| it.mm[i]).sum::<f64>() / n);
        let spread = |it: &Glimpse| (it.mm[0] - centre[0]).hypot(it.mm[1] - centre[1]);
        let scale = glimpses.iter().map(spread).fold(1.0, f64::max);
        Some(Self {
            centre,
            scale,
            surfaces,
            shared,
        })
    }

    fn rows(&self, glimpses: &[Glimpse]) -> Vec<[f64; TERMS]> {
        glimpses
            .iter()
            .map(|it| terms(self.centre, self.scale, it.mm))
            .collect()
    }

    /// Robust polynomial with a level a surface, judged.
    fn solve(&self, glimpses: &[Glimpse], values: &[f64], order: usize) -> Solved {
        let rows = self.rows(glimpses);
        let fit = self.robust(glimpses, values, &rows, order);
        self.judge(&fit, glimpses, values, &rows, count(order))
    }

    /// Robust polynomial with a level a surface.
    fn robust(
        &self,
        glimpses: &[Glimpse],
        values: &[f64],
        rows: &[[f64; TERMS]],
        order: usize,
    ) -> Fit {
        let n = count(order);
        let weighted = |weights: Vec<f64>| {
            let mut moments = vec![Moments::default(); self.surfaces];
            for (i, it) in glimpses.iter().enumerate() {
                moments[it.surface].add(weights[i], values[i], &rows[i], n);
            }
            Fit::of(&moments, weights, n)
        };
        let mut fit = weighted(vec![1.0; glimpses.len()]);
        let mut residuals = vec![0.0; glimpses.len()];
        for _ in 0..8 {
            for (i, it) in glimpses.iter().enumerate() {
                residuals[i] = values[i] - predict(&fit, it.surface, &rows[i]);
            }
            let scale = robust::sigma(&residuals).max(1e-6);
            let weights = residuals
                .iter()
                .map(|it| robust::tukey(it / scale))
                .collect();
            let next = weighted(weights);
            let settled = fit.is_near(&next);
            fit = next;
            if settled {
                break;
            }
        }
        fit
    }

    /// Robust spread of what is left between stretches, and how many there are.
    fn between_stretches(
        &self,
        fit: &Fit,
        glimpses: &[Glimpse],
        values: &[f64],
        rows: &[[f64; TERMS]],
    ) -> (f64, usize) {
        let means = stretch_means(glimpses, |i| {
            // A surface of one stretch has its level from that stretch: nothing is left there by construction.
            (fit.weights[i] > 0.0 && glimpses[i].surface == SUBSTRATE)
                .then(|| values[i] - predict(fit, glimpses[i].surface, &rows[i]))
        });
        let residuals: Vec<f64> = means.iter().map(|it| it.0).collect();
        (robust::sigma(&residuals), means.len())
    }

    /// What is left between stretches, and the covariance of the coefficients if stretches, not blocks, err independently.
    fn judge(
        &self,
        fit: &Fit,
        glimpses: &[Glimpse],
        values: &[f64],
        rows: &[[f64; TERMS]],
        n: usize,
    ) -> Solved {
        let (between_stretches, stretches) = self.between_stretches(fit, glimpses, values, rows);
        let blocks = float(glimpses.len()) / float(stretches.max(1));
        let freedom = float(stretches) / (float(stretches) - float(n) - 1.0).max(1.0);
        let variance = between_stretches.powi(2) * blocks * freedom;
        Solved {
            coefficients: fit.coefficients,
            covariance: fit.inverse.map(|row| row.map(|it| it * variance)),
            between_stretches,
        }
    }

    /// Mean square, each capped, of what a fit leaves in stretches that it hasn't seen.
    fn cross_validated(
        &self,
        glimpses: &[Glimpse],
        values: &[f64],
        rows: &[[f64; TERMS]],
        order: usize,
        cap: f64,
    ) -> Vec<f64> {
        let mut squares = Vec::new();
        for fold in 0..FOLDS {
            let kept: Vec<usize> = (0..glimpses.len())
                .filter(|i| glimpses[*i].stretch % FOLDS != fold)
                .collect();
            let some: Vec<Glimpse> = kept.iter().map(|i| glimpses[*i]).collect();
            let some_values: Vec<f64> = kept.iter().map(|i| values[*i]).collect();
            let some_rows: Vec<[f64; TERMS]> = kept.iter().map(|i| rows[*i]).collect();
            let fit = self.robust(&some, &some_values, &some_rows, order);
            let mut known = vec![false; self.surfaces];
            for it in &some {
                known[it.surface] = true;
            }
            let left = |i: usize| {
                let it = &glimpses[i];
                (it.stretch % FOLDS == fold)
                    .then(|| values[i] - predict(&fit, it.surface, &rows[i]))
            };
            let levels =
                stretch_means(glimpses, |i| left(i).filter(|_| known[glimpses[i].surface]));
            // A surface that is a single stretch has lost its level with it: what is left of its slopes counts.
            let slopes = stretch_slopes(glimpses, |i| {
                left(i).filter(|_| !known[glimpses[i].surface])
            });
            for it in levels.iter().map(|it| it.0).chain(slopes) {
                squares.push(it.abs().min(cap).powi(2));
            }
        }
        squares
    }
}

impl Fit {
    /// Weighted least squares with the levels eliminated: values and terms are centred a surface.
    fn of(moments: &[Moments], weights: Vec<f64>, n: usize) -> Self {
        let mut normal = DMatrix::<f64>::zeros(n, n);
        let mut right = DVector::<f64>::zeros(n);
        let mut total = 0.0;
        for it in moments {
            let weight = it.weight.max(1e-12);
            total += it.weight;
            for j in 0..n {
                right[j] += it.row_value[j] - it.row[j] * it.value / weight;
                for k in 0..=j {
                    normal[(j, k)] += it.row_row[j][k] - it.row[j] * it.row[k] / weight;
                }
            }
        }
        normal.fill_upper_triangle_with_lower_triangle();
        let mut coefficients = [0.0; TERMS];
        let mut inverse = [[0.0; TERMS]; TERMS];
        // A trace of ridge keeps a direction that no surface shows at zero.
        let ridge = 1e-6 * total;
        for k in 0..n {
            normal[(k, k)] += ridge;
        }
        if let Some(inverted) = normal.cholesky().map(|it| it.inverse()) {
            let solution = &inverted * right;
            for j in 0..n {
                coefficients[j] = solution[j];
                for k in 0..n {
                    inverse[j][k] = inverted[(j, k)];
                }
            }
        }
        let levels = moments
            .iter()
            .map(|it| {
                let slope: f64 = (0..n).map(|k| coefficients[k] * it.row[k]).sum();
                (it.value - slope) / it.weight.max(1e-12)
            })
            .collect();
        Self {
            coefficients,
            levels,
            inverse,
            weights,
        }
    }

    /// Whether another round has changed nothing that counts.
    fn is_near(&self, other: &Self) -> bool {
        let near = |(a, b): (&f64, &f64)| (a - b).abs() < SETTLED;
        self.coefficients.iter().zip(&other.coefficients).all(near)
            && self.levels.iter().zip(&other.levels).all(near)
    }
}

fn predict(fit: &Fit, surface: usize, row: &[f64; TERMS]) -> f64 {
    fit.levels[surface]
        + (0..TERMS)
            .map(|k| fit.coefficients[k] * row[k])
            .sum::<f64>()
}

/// Means and counts a stretch of a value by glimpse, in order of stretch.
fn stretch_means(glimpses: &[Glimpse], value: impl Fn(usize) -> Option<f64>) -> Vec<(f64, usize)> {
    let most = glimpses.iter().map(|it| it.stretch + 1).max().unwrap_or(0);
    let mut sums = vec![(0.0, 0_usize); most];
    for (i, it) in glimpses.iter().enumerate() {
        if let Some(value) = value(i) {
            sums[it.stretch].0 += value;
            sums[it.stretch].1 += 1;
        }
    }
    sums.into_iter()
        .filter(|it| it.1 > 0)
        .map(|(sum, n)| (sum / float(n), n))
        .collect()
}

/// How much a value differs between the right and the left, and between the lower and the upper part of each stretch.
fn stretch_slopes(glimpses: &[Glimpse], value: impl Fn(usize) -> Option<f64>) -> Vec<f64> {
    let mut slopes = Vec::new();
    let mut start = 0;
    while start < glimpses.len() {
        let stretch = glimpses[start].stretch;
        let len = glimpses[start..]
            .iter()
            .take_while(|it| it.stretch == stretch)
            .count();
        let values: Vec<([f64; 2], f64)> = (start..start + len)
            .filter_map(|i| value(i).map(|it| (glimpses[i].mm, it)))
            .collect();
        start += len;
        for axis in 0..2 {
            let middle =
                values.iter().map(|it| it.0[axis]).sum::<f64>() / float(values.len().max(1));
            let mean = |beyond: bool| {
                let part: Vec<f64> = values
                    .iter()
                    .filter(|it| (it.0[axis] > middle) == beyond)
                    .map(|it| it.1)
                    .collect();
                (part.len() >= 2).then(|| part.iter().sum::<f64>() / float(part.len()))
            };
            slopes.extend(mean(true).zip(mean(false)).map(|(a, b)| a - b));
        }
    }
    slopes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A substrate of 40 stretches and a card beside it under a light that falls off by a quadratic.
    fn scene(quadratic: bool) -> Vec<Glimpse> {
        let light = |mm: [f64; 2]| {
            let (x, y) = (mm[0] / 300.0, mm[1] / 300.0);
            0.3 * x - 0.2 * y
                + if quadratic {
                    -0.25 * x * x + 0.1 * x * y
                } else {
                    0.0
                }
        };
        let mut all = Vec::new();
        for stretch in 0..40_u32 {
            for k in 0..8_u32 {
                let mm = [
                    f64::from(stretch % 8) * 55.0 + f64::from(k) * 3.0,
                    f64::from(stretch / 8) * 55.0,
                ];
                // A fixed small disturbance that is no polynomial.
                let wood = 0.004 * (f64::from(stretch * 37 + k * 11)).sin();
                let log = light(mm) + wood - 0.7;
                all.push(Glimpse {
                    surface: 0,
                    stretch: usize::try_from(stretch).unwrap(),
                    mm,
                    log: [log, log - 0.2, log - 0.9],
                });
            }
        }
        for k in 0..9 {
            let mm = [
                480.0 + f64::from(k % 3) * 10.0,
                100.0 + f64::from(k / 3) * 10.0,
            ];
            all.push(Glimpse {
                surface: 1,
                stretch: 40,
                mm,
                log: [light(mm) - 1.7; 3],
            });
        }
        all
    }

    #[test]
    fn the_order_is_what_the_light_has() {
        assert_eq!(LightField::fit(&scene(false), &[[500.0, 110.0]]).order, 1);
        assert_eq!(LightField::fit(&scene(true), &[[500.0, 110.0]]).order, 2);
        assert_eq!(
            LightField::fit(&scene(true), &[[500.0, 110.0]]).colour_order,
            0
        );
    }

    #[test]
    fn fall_off_comes_back_relative_to_the_card() {
        let field = LightField::fit(&scene(false), &[[500.0, 110.0]]);
        let there = field.at([0.0, 0.0]);
        let expected = (-(0.3 * 500.0 / 300.0 - 0.2 * 110.0 / 300.0_f64)).exp();
        for channel in there {
            assert!(
                (channel / expected - 1.0).abs() < 0.01,
                "{channel} {expected}"
            );
        }
        assert!((field.at([500.0, 110.0])[1] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_shadow_on_a_few_stretches_does_not_bend_the_field() {
        let mut scene = scene(false);
        for it in scene.iter_mut().filter(|it| it.stretch % 13 == 0) {
            it.log = it.log.map(|l| l - 0.5);
        }
        let field = LightField::fit(&scene, &[[500.0, 110.0]]);
        let expected = (-(0.3 * 500.0 / 300.0 - 0.2 * 110.0 / 300.0_f64)).exp();
        assert!(
            (field.at([0.0, 0.0])[1] / expected - 1.0).abs() < 0.01,
            "{field:?}"
        );
    }

    #[test]
    fn too_few_stretches_are_even_light() {
        let few: Vec<Glimpse> = scene(true)
            .into_iter()
            .filter(|it| it.stretch < 3)
            .collect();
        assert_eq!(LightField::fit(&few, &[[0.0, 0.0]]), LightField::even());
    }
}
