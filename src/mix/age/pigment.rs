//! What a pigment does by itself, from coats of it alone, on top of what coating and ground do.

use super::super::bands::{BANDS, Spectrum};
use super::super::model::{Coat, Model, Optics};
use super::base::{Base, FOLLOWED, beyond_noise, noise_of};
use super::slopes::{self, Seen};
use super::solve::solve;
use super::{Aged, blocks, prior, stacked, vector};
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, DVector, Vector3};

/// The factor on a pigment's absorption.
#[derive(Clone, Debug)]
pub(super) struct Factor {
    /// Its logarithm, band by band.
    log: Spectrum,
    /// Absorption on which it works, band by band: the fresh one, and a little where that is next to none.
    works_on: Spectrum,
    /// Absorption after the dose is at 0 in these bands: less can't be.
    spent: [bool; BANDS],
    /// Of the logarithm, what coating and ground are wrong by left out.
    pub(super) covariance: DMatrix<f64>,
    /// How the logarithm moves with the base's unknowns.
    pub(super) by_base: DMatrix<f64>,
    /// How the logarithm moves with scattering, if that went with absorption.
    by_body: DVector<f64>,
    /// Squares of what the film can't follow.
    pub(super) missed: Matrix,
    /// Mean change of those coats, by the film.
    pub(super) change: Vector3<f64>,
    /// What to say where it is used.
    pub(super) note: Option<String>,
    /// The coats that it was found from.
    pub(super) coats: Vec<Coat>,
}

/// K/S that counts as next to none: a white's. A factor on nothing would be nothing, so that no white could yellow. A choice, no source.
const NEXT_TO_NONE: f64 = 0.005;
/// How far scattering goes with absorption, as a share of the log factor: colorant that is lost leaves it as it is, pigment that is washed
/// out takes it along. Taken as not at all, with this standard deviation: a choice, no source.
const BODY: f64 = 0.4;
/// A factor beyond e⁶ is none that a film shows.
const FARTHEST: f64 = 6.0;

/// `aged` has the coating and grounds after the dose. None where there is no answer, and then a note.
pub(super) fn of(
    fresh: &Model,
    aged: &Model,
    base: &Base,
    pigment: &str,
    trials: &[&Aged],
    notes: &mut Vec<String>,
) -> Option<Factor> {
    let optics = fresh.pigment(pigment)?.optics.clone();
    let after: Vec<_> = (trials.iter())
        .map(|it| Some(vector(fresh.colour(&it.coat)?) + it.change))
        .collect::<Option<_>>()?;
    let with = |log: &DVector<f64>| {
        let factor = Factor::new(&optics, log);
        let mut model = aged.clone();
        for it in model.pigments.iter_mut().filter(|it| it.id == pigment) {
            it.optics.k = factor.applied(&optics);
        }
        (factor, model)
    };
    let load = |it: &Aged| it.coat.pigments.iter().map(|it| it.load).sum::<f64>();
    let forward = |log: &DVector<f64>| {
        let (factor, model) = with(log);
        let mut values = Vec::new();
        let mut rows = DMatrix::zeros(3 * trials.len(), BANDS);
        for (index, it) in trials.iter().enumerate() {
            let seen = slopes::seen(&model, &it.coat).expect("its coat was in the fresh model");
            values.push(vector(seen.lab));
            (rows.rows_mut(3 * index, 3)).copy_from(&factor.slopes(&seen, load(it)));
        }
        (stacked(&values), rows)
    };
    let noise: Vec<Matrix> = (trials.iter())
        .map(|it| noise_of(it, trials.len() == 1))
        .collect();
    let Some(found) = solve(
        &prior::pigment(),
        &forward,
        &stacked(&after),
        &blocks(&noise),
    ) else {
        notes.push(format!(
            "{pigment}: no film follows its changes, so that its fade counts as unknown."
        ));
        return None;
    };
    let (mut factor, model) = with(&found.x);
    let own: Vec<Matrix> = trials.iter().map(|it| it.covariance).collect();
    factor.covariance =
        found.open + &found.gain * blocks(&own) * found.excess * found.gain.transpose();
    let mut by_base = DMatrix::zeros(3 * trials.len(), base.covariance.nrows());
    let mut by_body = DVector::zeros(3 * trials.len());
    for (index, (it, target)) in trials.iter().zip(&after).enumerate() {
        let seen = slopes::seen(&model, &it.coat)?;
        (by_base.rows_mut(3 * index, 3)).copy_from(&base.slopes(&model, &it.coat, &seen));
        factor.change += vector(seen.lab) - (target - it.change);
        let direct = factor.along_body(&optics, &seen, load(it));
        by_body.fixed_rows_mut::<3>(3 * index).copy_from(&direct);
        let de_00 = delta_e_2000(seen.lab, Lab::new(target.x, target.y, target.z));
        if trials.len() == 1 && de_00 > FOLLOWED {
            let off = vector(seen.lab) - target;
            factor.missed = off * off.transpose();
            factor.note = beyond_noise(&off, &it.covariance).then(|| format!(
                "{}: absorption alone can't make all of its change; ΔE00 {de_00:.2} stay, and are in the interval. Something else changed, too: a surface that chalks or cracks scatters more.",
                it.name
            ));
        }
    }
    factor.by_base = -&found.gain * by_base;
    factor.by_body = -&found.gain * by_body;
    factor.change /= trials.len() as f64;
    factor.coats = trials.iter().map(|it| it.coat.clone()).collect();
    notes.extend(factor.note.clone());
    Some(factor)
}

impl Factor {
    fn new(optics: &Optics, log: &DVector<f64>) -> Self {
        let log: Spectrum = std::array::from_fn(|band| log[band].clamp(-FARTHEST, FARTHEST));
        let works_on: Spectrum =
            std::array::from_fn(|band| optics.k[band] + NEXT_TO_NONE * optics.s[band]);
        let mut it = Self {
            log,
            works_on,
            spent: [false; BANDS],
            covariance: DMatrix::zeros(BANDS, BANDS),
            by_base: DMatrix::zeros(BANDS, 0),
            by_body: DVector::zeros(BANDS),
            missed: Matrix::zeros(),
            change: Vector3::zeros(),
            note: None,
            coats: Vec::new(),
        };
        it.spent = it.applied(optics).map(|it| it <= 0.0);
        it
    }

    /// The pigment's absorption after the dose.
    pub(super) fn applied(&self, fresh: &Optics) -> Spectrum {
        std::array::from_fn(|band| {
            (fresh.k[band] + self.works_on[band] * self.log[band].exp_m1()).max(0.0)
        })
    }

    /// dLab of a coat if scattering went with absorption, one standard deviation of it, the factor staying.
    fn along_body(&self, fresh: &Optics, seen: &Seen, load: f64) -> Vector3<f64> {
        let bands = (0..BANDS).map(|band| {
            let sx = fresh.s[band] * seen.mixed * load / 100.0;
            seen.by_sx[band] * (BODY * self.log[band] * sx)
        });
        bands.sum()
    }

    /// The same, the factor following so that the trials keep their colours.
    pub(super) fn by_body(&self, fresh: &Optics, seen: &Seen, load: f64) -> Vector3<f64> {
        let followed = self.slopes(seen, load) * &self.by_body;
        self.along_body(fresh, seen, load) + followed.fixed_rows::<3>(0)
    }

    /// dLab of a coat by the logarithm, at this load of the pigment.
    pub(super) fn slopes(&self, seen: &Seen, load: f64) -> DMatrix<f64> {
        let mut slopes = DMatrix::zeros(3, BANDS);
        for band in (0..BANDS).filter(|band| !self.spent[*band]) {
            let by_log = self.works_on[band] * self.log[band].exp() * seen.mixed * load / 100.0;
            (slopes.fixed_view_mut::<3, 1>(0, band)).copy_from(&(seen.by_kx[band] * by_log));
        }
        slopes
    }
}
