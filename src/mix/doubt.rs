//! What trials and the model are off by, beyond what was measured of the colour.
//!
//! Five things. A coat is laid by hand: its amount is a little more or less than stated. The ground is known from its controls, and the
//! coating only together with it. Photos are off in all their patches alike. How much
//! less directed light is absorbed differs from coating to coat, and mixtures err by it that their pigments' trials hide. And the
//! model can't say all: colours are off a little wherever they are, and in company a pigment absorbs and scatters somewhat
//! otherwise than alone (its neighbours shade it, light's way is another). What is left is alike for coats that are alike, and so a
//! prediction near a trial takes over part of what the trial is off by.

use super::coating::Unsure;
use super::fit::amounts;
use super::ground::Wetted;
use super::sight::{ByPigment, Sight};
use super::trial::Load;
use crate::colour::Matrix;
use nalgebra::Vector3;

/// By how much an amount laid by hand is off, one standard deviation. Common practice, no source: a roller or brush, weighed before and after.
const HAND: f64 = 0.04;
/// What any colour is off by, in L*, a* and b* each, where a pigment's trials tell of no more.
pub(super) const ANY: f64 = 0.6;
/// How far a pigment's absorption is another in company, as a share, where it is a trace beside others.
const ABSORBS: f64 = 0.08;
/// The same of its scattering.
const SCATTERS: f64 = 0.18;
/// How far the share of absorption that is left where nothing scatters is another than [`directed`](super::directed) has it, one standard
/// deviation. From films by radiative transfer, where it is about right, to two diffuse streams it is 0.55. Set with `ABSORBS` and `SCATTERS`
/// on mixtures among the first five of ten oil paints (`benches/mix/open`) and on study shelves (`cargo bench --profile dev --bench mix -- 12
/// 94500000 study`, and 94000000: of two pigments 97.8 % of truths are inside on both, with 0.3 there were 98.5 and 98.0); judged on test shelves.
const CLEAR: f64 = 0.25;
/// What of that variance unlike coats have in common, as a share; the rest is each coat's own, and its like's: some pigments scatter light forward more than
/// others and need more of it until light is diffuse. So measured mixtures tell others most of it, not all. Set on study shelves, 24 each from
/// 94000000 and 94500000: after six mixtures 95.4 and 96.1 % of truths are inside; with 1, so that one mixture told all, there were 94.1 and 91.7.
const COMMON: f64 = 0.8;
/// What company a pigment is to itself: loads differ in how near its grains are to each other.
const OWN: f64 = 0.4;
/// Coats are alike while their amounts differ by less than this, in logarithms.
const ALIKE: f64 = 0.6;
/// What is nothing: this share of the highest amount that was tried.
const TRACE: f64 = 0.05;

/// What is off in one photo is off alike in all of its patches, and the trials of a pigment mostly are on one board: share of their
/// covariances that two trials have in common, as far as they are weighed by it. What a prediction has of it in the end is in `common`.
pub(super) const SHARED: f64 = 0.75;

/// A coat, as far as its errors are like those of others.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Place {
    /// Grams per square metre by pigment, ids ascending.
    pub(super) amounts: Vec<(String, f64)>,
    pub(super) ground: usize,
    /// Coating beyond what its ground's controls have, grams per square metre.
    thicker: f64,
    /// What its colour is off by, wherever it is: [`ANY`], or what its pigments' trials tell (`odd`).
    pub(super) any: f64,
}

impl Place {
    pub(super) fn of(g_per_m2: f64, loads: &[Load], (ground, it): (usize, &Wetted)) -> Self {
        let (mixed, parts) = amounts(g_per_m2, loads);
        Self {
            amounts: (loads.iter().zip(parts))
                .map(|(it, amount)| (it.pigment.clone(), amount))
                .collect(),
            ground,
            thicker: mixed - it.g_per_m2,
            any: ANY,
        }
    }

    /// The same of pigments whose films are off by what `any` says of each; a mixture by all of them, in variances, to which a trace adds next to nothing:
    /// what one pigment does that the model doesn't know, it does in company too. `most` gives the highest amount of a pigment that was tried.
    pub(super) fn erring_by(
        mut self,
        any: &dyn Fn(&str) -> f64,
        most: &dyn Fn(&str) -> f64,
    ) -> Self {
        let (mut squares, mut most_there) = (0.0, 0.0);
        for it in &self.amounts {
            let there = there(it, most);
            squares += there * any(&it.0).powi(2);
            most_there = f64::max(most_there, there);
        }
        // One pigment is off by its own even where it is a trace.
        if most_there > 0.0 {
            self.any = (squares / most_there).sqrt();
        }
        self
    }

    /// Whether both have the same pigments.
    pub(super) fn same_pigments(&self, other: &Self) -> bool {
        let ids =
            |it: &'_ Self| -> Vec<String> { it.amounts.iter().map(|it| it.0.clone()).collect() };
        ids(self) == ids(other)
    }

    /// How much of a mixture it is: 0 for one pigment, and 1 where two are more than traces; without a step, since next to nothing of a second changes
    /// next to nothing. `most` gives the highest amount of a pigment that was tried.
    pub(super) fn mixed(&self, most: &dyn Fn(&str) -> f64) -> f64 {
        let there = self.amounts.iter().map(|it| there(it, most));
        let mut there: Vec<f64> = there.collect();
        there.sort_by(|a, b| b.total_cmp(a));
        there.get(1).copied().unwrap_or(0.0)
    }

    fn of_pigment(&self, id: &str) -> f64 {
        let found = self.amounts.iter().find(|it| it.0 == id);
        found.map_or(0.0, |it| it.1)
    }

    /// How much company each pigment has, 0 alone to 1 as a trace.
    fn company(&self) -> Vec<f64> {
        let total: f64 = self.amounts.iter().map(|it| it.1).sum();
        self.amounts
            .iter()
            .map(|it| (1.0 - it.1 / total).hypot(OWN))
            .collect()
    }
}

/// Whether an amount of a pigment is more than a trace: 0 to 1.
fn there((id, amount): &(String, f64), most: &dyn Fn(&str) -> f64) -> f64 {
    let trace = (TRACE * most(id) / amount).powi(2);
    1.0 / (1.0 + trace)
}

/// How alike two coats are, 0–1; `most` gives the highest amount of a pigment that was tried.
pub(super) fn alike(one: &Place, other: &Place, most: &dyn Fn(&str) -> f64) -> f64 {
    let mut apart = 0.0;
    let mut add = |id: &str| {
        let trace = TRACE * most(id);
        let ratio = (one.of_pigment(id) + trace) / (other.of_pigment(id) + trace);
        apart += (ratio.ln() / ALIKE).powi(2);
    };
    for (id, _) in &one.amounts {
        add(id);
    }
    for (id, _) in &other.amounts {
        if one.of_pigment(id) <= 0.0 {
            add(id);
        }
    }
    (-apart / 2.0).exp()
}

/// Covariance of what the model can't say of two coats.
pub(super) fn of_model(
    one: (&Place, &Sight),
    other: (&Place, &Sight),
    most: &dyn Fn(&str) -> f64,
) -> Matrix {
    let alike = alike(one.0, other.0, most);
    if alike < 1e-9 {
        return Matrix::zeros();
    }
    let mut out = Matrix::identity() * (one.0.any * other.0.any);
    let (here, there) = (one.0.company(), other.0.company());
    for (i, (id, _)) in one.0.amounts.iter().enumerate() {
        let Some(j) = other.0.amounts.iter().position(|it| it.0 == *id) else {
            continue;
        };
        let (a, b) = (&one.1.pigments[i], &other.1.pigments[j]);
        let absorbs = a.k.column_sum() * b.k.column_sum().transpose() * ABSORBS.powi(2);
        let scatters = a.s.column_sum() * b.s.column_sum().transpose() * SCATTERS.powi(2);
        out += (absorbs + scatters) * here[i] * there[j];
    }
    out * alike
}

/// Covariance of two coats' colours by what the coating absorbs otherwise than the controls tell: where there is as much of it as these have, the
/// ground makes it good.
pub(super) fn of_coating(
    one: (&Place, &Sight),
    other: (&Place, &Sight),
    unsure: &Unsure,
) -> Matrix {
    let of = |(place, sight): (&Place, &Sight)| sight.absorbed * unsure * place.thicker;
    let both = of(one) * of(other).transpose();
    both.fixed_view::<3, 3>(0, 0).into_owned()
}

/// Covariance of two coats' colours by what the film's law is off by, most of it in all coats alike; each with its slope, less what its pigments'
/// trials take of it.
pub(super) fn of_law(
    one: (&Place, &Vector3<f64>),
    other: (&Place, &Vector3<f64>),
    most: &dyn Fn(&str) -> f64,
) -> Matrix {
    let shared = COMMON + (1.0 - COMMON) * alike(one.0, other.0, most);
    one.1 * other.1.transpose() * (CLEAR.powi(2) * shared)
}

/// Covariance of the measured colours of two trials, by symmetric square roots of their own.
pub(super) fn of_photo(one: &Matrix, other: &Matrix) -> Matrix {
    one * other * SHARED
}

/// Covariance of a trial's colour by the hand that laid it.
pub(super) fn of_hand(pigments: &[ByPigment]) -> Matrix {
    let by_amount: Vector3<f64> = pigments.iter().map(ByPigment::by_amount).sum();
    by_amount * by_amount.transpose() * HAND.powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trace_of_another_pigment_makes_no_film_more_or_less_sure() {
        let any = |amounts: &[(&str, f64)]| {
            let place = Place {
                amounts: amounts.iter().map(|it| (it.0.to_owned(), it.1)).collect(),
                ground: 0,
                thicker: 0.0,
                any: ANY,
            };
            let of = |id: &str| if id == "red" { 4.0 } else { ANY };
            place.erring_by(&of, &|_| 8.0).any
        };
        assert!((any(&[("red", 3.0), ("blue", 1e-3)]) - 4.0).abs() < 0.01);
        assert!((any(&[("red", 1e-3), ("blue", 3.0)]) - ANY).abs() < 0.01);
        assert!((any(&[("red", 1e-3)]) - 4.0).abs() < 1e-12);
        // Of two that are there as much as they were tried, the sum of the variances.
        let both = (16.0 + ANY * ANY).sqrt();
        assert!((any(&[("blue", 3.0), ("red", 3.0)]) - both).abs() < 1e-9);
        assert!((any(&[]) - ANY).abs() < 1e-12);
    }
}
