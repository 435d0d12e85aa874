//! What the coating and its grounds do by themselves, from the controls.

use super::super::bands::{BANDS, Spectrum};
use super::super::model::{Coat, Model};
use super::slopes::{self, Seen};
use super::solve::{Solution, solve};
use super::{Aged, blocks, prior, stacked, vector};
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, DVector, Vector3};

/// How coating and grounds changed.
#[derive(Clone, Debug)]
pub(super) struct Base {
    /// What the coating absorbs more, by gram and square metre.
    coating: Spectrum,
    /// Grounds whose change is among the unknowns, in their order, with their change in log odds.
    grounds: Vec<(String, Spectrum)>,
    /// The amount at which an unknown of the coating is an optical length.
    amount: f64,
    /// Of the unknowns: the coating's optical lengths, then the grounds' log odds.
    pub(super) covariance: DMatrix<f64>,
    /// Squares of what the film can't follow.
    pub(super) missed: Matrix,
    /// What to say of a coat on a ground.
    said: Vec<(String, String)>,
    /// What to say of a coat on any other.
    otherwise: String,
}

/// Noise of a colour that is to be met exactly, as variance: far below what is seen, far above what rounding leaves.
pub(super) const EXACT: f64 = 1e-8;
/// What a film that follows leaves of a colour, ΔE00.
pub(super) const FOLLOWED: f64 = 0.01;

/// From the controls, each on its ground; several on one ground count as one, their mean.
pub(super) fn of(fresh: &Model, controls: &[&Aged], notes: &mut Vec<String>) -> Base {
    let mut grounds: Vec<String> = (controls.iter())
        .filter(|it| !it.inert)
        .map(|it| it.coat.ground.clone())
        .collect();
    grounds.sort_unstable();
    grounds.dedup();
    let size = BANDS * (1 + grounds.len());
    let amount = controls.iter().map(|it| it.coat.g_per_m2).sum::<f64>()
        / f64::max(1.0, controls.len() as f64);
    let mut base = Base {
        coating: [0.0; BANDS],
        grounds: (grounds.into_iter()).map(|it| (it, [0.0; BANDS])).collect(),
        amount,
        covariance: DMatrix::zeros(size, size),
        missed: Matrix::zeros(),
        said: Vec::new(),
        otherwise: String::new(),
    };
    base.say(controls, notes);
    if controls.is_empty() {
        return base;
    }
    let Some(found) = base.solved(fresh, controls) else {
        notes.push("The controls' changes contradict each other beyond what can be worked out: coating and substrate count as unchanged.".to_owned());
        return base;
    };
    base.take(&found.x);
    let noise: Vec<Matrix> = controls.iter().map(|it| it.covariance).collect();
    base.covariance =
        found.open + &found.gain * blocks(&noise) * found.excess * found.gain.transpose();
    base.hold_against(fresh, controls, notes);
    base
}

impl Base {
    fn solved(&self, fresh: &Model, controls: &[&Aged]) -> Option<Solution> {
        let before: Vec<_> = (controls.iter())
            .map(|it| fresh.colour(&it.coat).map(vector))
            .collect::<Option<_>>()?;
        let after: Vec<_> = (before.iter().zip(controls))
            .map(|(before, it)| before + it.change)
            .collect();
        let alone = |it: &Aged| {
            let same = |other: &&&Aged| other.coat.ground == it.coat.ground;
            controls.iter().filter(same).count() == 1
        };
        let noise: Vec<Matrix> = (controls.iter())
            .map(|it| noise_of(it, alone(it)))
            .collect();
        let forward = |x: &DVector<f64>| {
            let mut there = self.clone();
            there.take(x);
            let model = there.applied(fresh);
            let mut values = Vec::new();
            let mut rows = DMatrix::zeros(3 * controls.len(), x.len());
            for (index, it) in controls.iter().enumerate() {
                let seen = slopes::seen(&model, &it.coat).expect("its coat was in the fresh model");
                values.push(vector(seen.lab));
                (rows.rows_mut(3 * index, 3)).copy_from(&there.slopes(&model, &it.coat, &seen));
            }
            (stacked(&values), rows)
        };
        solve(
            &prior::base(self.grounds.len()),
            &forward,
            &stacked(&after),
            &blocks(&noise),
        )
    }

    fn take(&mut self, x: &DVector<f64>) {
        let part = |part: usize| -> Spectrum { std::array::from_fn(|band| x[part * BANDS + band]) };
        self.coating = part(0).map(|it| it / self.amount);
        for (index, it) in self.grounds.iter_mut().enumerate() {
            it.1 = part(index + 1);
        }
    }

    /// The model with coating and grounds as they are after the dose.
    pub(super) fn applied(&self, fresh: &Model) -> Model {
        let mut model = fresh.clone();
        for (k, more) in model.coating.k.iter_mut().zip(self.coating) {
            *k = (*k + more).max(0.0);
        }
        for (name, change) in &self.grounds {
            let Some(ground) = model.grounds.iter_mut().find(|it| it.name == *name) else {
                continue;
            };
            for (r, change) in ground.reflectance.iter_mut().zip(change) {
                // Odds times e^change, in a form in which 0 and 1 stay what they are.
                let up = *r * change.exp();
                *r = up / (1.0 - *r + up);
            }
        }
        model
    }

    /// dLab of a coat by the unknowns, in `model`, the aged one, in which it is `seen`.
    pub(super) fn slopes(&self, model: &Model, coat: &Coat, seen: &Seen) -> DMatrix<f64> {
        let mut slopes = DMatrix::zeros(3, BANDS * (1 + self.grounds.len()));
        if self.amount <= 0.0 {
            return slopes;
        }
        for band in 0..BANDS {
            // Where the coating absorbs nothing any more, less is nothing, too; the slope upwards stays.
            let by_kx = seen.by_kx[band] * (seen.mixed / self.amount);
            slopes.fixed_view_mut::<3, 1>(0, band).copy_from(&by_kx);
        }
        let index = self.grounds.iter().position(|it| it.0 == coat.ground);
        if let (Some(index), Some(ground)) = (index, model.ground(&coat.ground)) {
            for band in 0..BANDS {
                let r = ground.reflectance[band];
                let by_odds = seen.by_ground[band] * (r * (1.0 - r));
                let column = (index + 1) * BANDS + band;
                slopes.fixed_view_mut::<3, 1>(0, column).copy_from(&by_odds);
            }
        }
        slopes
    }

    /// What the controls' films miss of their colours, in words and as a covariance.
    fn hold_against(&mut self, fresh: &Model, controls: &[&Aged], notes: &mut Vec<String>) {
        let aged = self.applied(fresh);
        for it in controls {
            let (Some(before), Some(after)) = (fresh.colour(&it.coat), aged.colour(&it.coat))
            else {
                continue;
            };
            let target = vector(before) + it.change;
            let off = vector(after) - target;
            let de_00 = delta_e_2000(after, Lab::new(target.x, target.y, target.z));
            if de_00 > FOLLOWED {
                self.missed += off * off.transpose() / controls.len() as f64;
                if !beyond_noise(&off, &it.covariance) {
                    continue;
                }
                let of = if controls.len() > 1 {
                    "the controls together"
                } else {
                    "absorption alone"
                };
                notes.push(format!(
                    "{}: {of} can't make all of its change; ΔE00 {de_00:.2} stay, and are in the interval.",
                    it.name
                ));
            }
        }
    }

    /// What of coating and ground the controls tell apart, for each ground.
    fn say(&mut self, controls: &[&Aged], notes: &mut Vec<String>) {
        let white = controls.iter().any(|it| it.inert);
        let inert: Vec<&str> = (controls.iter())
            .filter(|it| it.inert)
            .map(|it| it.coat.ground.as_str())
            .collect();
        for (name, _) in &self.grounds {
            if !white {
                self.said.push((
                    name.clone(),
                    format!("How {name} ages isn't told from how the coating does: only one control is there. What both did together is shared out, and the doubt is in the interval; a control on an inert white would tell."),
                ));
            }
        }
        self.otherwise = if controls.is_empty() {
            notes.push("No control was exposed: what coating and substrate did counts as the pigments', and the interval doesn't hold what that is wrong by. Expose a patch of clear coating on an inert white with the next board.".to_owned());
            String::new()
        } else {
            "How this substrate ages isn't known: no control on it was exposed. What it did counts as the pigments', and the interval doesn't hold what that is wrong by.".to_owned()
        };
        // An inert white has no unknown of its own, and nothing is to be said of it.
        let silent = inert.into_iter().map(|it| (it.to_owned(), String::new()));
        self.said.extend(silent);
        if white {
            let told = self.grounds.iter().map(|it| (it.0.clone(), String::new()));
            self.said.extend(told);
        }
    }

    /// What a reader of a colour on this ground must know.
    pub(super) fn notes(&self, ground: &str) -> Vec<String> {
        let said = self.said.iter().find(|it| it.0 == ground);
        let it = said.map_or(&self.otherwise, |it| &it.1);
        if it.is_empty() {
            Vec::new()
        } else {
            vec![it.clone()]
        }
    }
}

/// Whether a measured change can't be off by so much through its noise (5 % of those that are would be called so).
pub(super) fn beyond_noise(off: &Vector3<f64>, covariance: &Matrix) -> bool {
    /// 95th percentile of χ² with three degrees of freedom.
    const MOST: f64 = 7.815;
    let noise = covariance + Matrix::identity() * EXACT;
    noise
        .cholesky()
        .is_none_or(|it| off.dot(&it.solve(off)) > MOST)
}

/// The noise within which a change is met: none for one that nothing else speaks of.
pub(super) fn noise_of(it: &Aged, alone: bool) -> Matrix {
    /// What a film leaves of changes at several loads, as standard deviation in L*, a*, b*: a choice, no source.
    const FILM: f64 = 0.1;
    if alone {
        Matrix::identity() * EXACT
    } else {
        it.covariance + Matrix::identity() * FILM * FILM
    }
}
