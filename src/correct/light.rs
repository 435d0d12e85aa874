//! The illumination field: how the light falls off over the plane of the panel, seen on surfaces of one colour each.
//!
//! The substrate is one material: its levels at many places show the light, and so do the slopes within each stretch of it, within
//! each zone of a card and within each patch. All of them are weighed by how well they agree; what light usually does over a board
//! and what lenses do towards the corners of a picture holds the rest, so that little evidence bends the field little.

mod local;
mod look;
mod solve;

pub use local::{Knot, Local};
pub(super) use local::{follow, knots, steps};
pub(super) use look::{Look, Surface};

use super::surroundings::LocalTone;
use super::tone::ToneCurve;
use crate::sample::float;
use look::{LUMINANCE, luminance};
use nalgebra::{Matrix3, Vector3};
use serde::{Deserialize, Serialize};
use solve::{
    Coefficients, Covariance, Evidence, Observation, Prior, Solved, Tied, Weights, misfit, solve,
};

/// Light relative to that on the references, as a polynomial in log light over panel millimetres.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LightField {
    /// Order of the fall-off that the photo shows beyond doubt: 0 (even), 1 or 2. The field has all terms, the unsure ones held
    /// towards what light usually does.
    pub order: usize,
    /// Likewise of the change of the light's colour: 0 or 1.
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
    /// What a blank shows beside the polynomial, or local tone mapping that is there beyond doubt.
    pub local: Local,
    /// What of the light goes with how light the surroundings are; none where they are alike everywhere.
    pub local_tone: Option<LocalTone>,
}

/// Terms without the constant.
const TERMS: usize = 5;

fn terms([x, y]: [f64; 2]) -> [f64; TERMS] {
    [x, y, x * x, x * y, y * y]
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
            local_tone: None,
        }
    }

    fn terms_at(&self, mm: [f64; 2]) -> [f64; TERMS] {
        let at = [0, 1].map(|i| (mm[i] - self.centre[i]) / self.scale);
        let terms = terms(at);
        std::array::from_fn(|k| terms[k] - self.origin[k])
    }

    /// Light at a place relative to that on the references, a channel.
    #[must_use]
    pub fn at(&self, mm: [f64; 2]) -> [f64; 3] {
        if !self.seen {
            return [1.0; 3];
        }
        let terms = self.terms_at(mm);
        let local = self.local.at(mm);
        [0, 1, 2].map(|i| {
            let c = self.coefficients[i];
            ((0..TERMS).map(|k| c[k] * terms[k]).sum::<f64>() + local[i]).exp()
        })
    }

    /// Standard deviation of the log light at a place relative to the references: of the coefficients, and of what the
    /// polynomial can't follow.
    #[must_use]
    pub fn doubt(&self, mm: [f64; 2]) -> f64 {
        let d = self.terms_at(mm);
        let variance: f64 = (0..TERMS)
            .flat_map(|i| (0..TERMS).map(move |j| (i, j)))
            .map(|(i, j)| d[i] * self.covariance[i][j] * d[j])
            .sum();
        variance.max(0.0).sqrt()
    }

    /// Fits the field to looks and ties under a tone curve; `references` are where it is 1, `size` is that of the picture in pixels.
    pub(super) fn fit(
        looks: &[Look],
        ties: &[Tie],
        tone: &ToneCurve,
        references: &[[f64; 2]],
        size: [usize; 2],
    ) -> Self {
        let Some(frame) = Frame::of(looks, references) else {
            return Self::even();
        };
        let part = |prior: &Prior, value: &dyn Fn([f64; 3]) -> f64| {
            solve(&frame.evidence(looks, ties, tone, value), prior)
        };
        let plain = frame.fall_off(looks, size);
        let mut light = part(&plain, &luminance);
        let mut local = Local::default();
        let beside = part(&plain.with_surroundings(), &luminance);
        let local_tone = local_tone(looks, &beside);
        if local_tone.is_some_and(|it| it.is_seen()) {
            local = local::of_surroundings(looks, beside.around.0, references);
            light = beside;
        }
        let [red, blue] = [0, 2].map(|c| part(&colour(), &|log| log[c] - luminance(log)));
        // What red and blue have more than the luminance, green has less.
        let [r, g, b] = LUMINANCE;
        let green = -(red.coefficients * r + blue.coefficients * b) / g;
        let colours = [red.coefficients, green, blue.coefficients];
        let mut origin = [0.0; TERMS];
        for mm in references {
            for (sum, term) in origin.iter_mut().zip(terms(frame.place(*mm))) {
                *sum += term / float(references.len());
            }
        }
        let substrate = looks.iter().filter(|it| it.surface.is_substrate());
        Self {
            order: order(&light),
            colour_order: order(&red).max(order(&blue)).min(1),
            centre: frame.centre,
            scale: frame.scale,
            coefficients: colours.map(|it| (light.coefficients + it).into()),
            origin,
            residual: light.between,
            covariance: light.covariance.transpose().into(),
            stretches: substrate.count(),
            seen: true,
            local,
            local_tone,
        }
    }
}

/// Two neutrals of like lightness in different places, as on two cards.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tie {
    /// Centres, panel millimetres.
    pub(super) mm: [[f64; 2]; 2],
    /// Mean linear values of the file.
    pub(super) seen: [[f64; 3]; 2],
    /// Linear values that the stated colours would have.
    pub(super) stated: [[f64; 3]; 2],
    /// Standard deviation of the log light between them that the cards' own tolerances leave.
    pub(super) sd: f64,
}

/// How well one light fits all looks under another tone curve than the one it was fitted under.
///
/// One fall-off of light crosses surfaces of different lightness: where a curve makes it steeper on some than on others, the curve is
/// wrong. Weights are those of the first fit, so that misfits can be compared.
pub(super) struct Witness<'a> {
    looks: &'a [Look],
    ties: &'a [Tie],
    frame: Frame,
    prior: Prior,
    weights: Weights,
}

impl<'a> Witness<'a> {
    /// None where nothing shows the light.
    pub(super) fn of(
        looks: &'a [Look],
        ties: &'a [Tie],
        tone: &ToneCurve,
        references: &[[f64; 2]],
        size: [usize; 2],
    ) -> Option<Self> {
        let frame = Frame::of(looks, references)?;
        let prior = frame.fall_off(looks, size);
        let weights = solve(&frame.evidence(looks, ties, tone, luminance), &prior).weights;
        Some(Self {
            looks,
            ties,
            frame,
            prior,
            weights,
        })
    }

    /// Half the squared distance.
    pub(super) fn misfit(&self, tone: &ToneCurve) -> f64 {
        let evidence = (self.frame).evidence(self.looks, self.ties, tone, luminance);
        misfit(&evidence, &self.weights, &self.prior)
    }
}

/// Standard deviation of the change of light by that of its surroundings: not asked for, and asked for. Cameras hardly have more than a
/// third of what would make all surroundings alike: common practice, no source.
const NO_SURROUNDINGS: f64 = 1e-6;
const SURROUNDINGS: f64 = 0.15;
/// Regions of one photo err together: what is stated of the surroundings' part, as a standard deviation, over what independent regions would
/// leave. In the study's photos without local tone mapping `cargo bench --bench allowances -- 200 800 local` finds it.
const ERR_TOGETHER: f64 = 1.7;

/// What the photo alone shows of local tone mapping: what was supposed is taken off again.
fn local_tone(looks: &[Look], light: &Solved) -> Option<LocalTone> {
    let (mean, variance) = light.around;
    let supposed = SURROUNDINGS.powi(-2);
    let seen = 1.0 / variance - supposed;
    let extreme = |start: f64, pick: fn(f64, f64) -> f64| {
        looks.iter().map(|it| it.around.0).fold(start, pick)
    };
    (seen > LEAST_SEEN * supposed).then(|| LocalTone {
        strength: -mean / variance / seen,
        sd: ERR_TOGETHER * seen.powf(-0.5),
        range: extreme(f64::NEG_INFINITY, f64::max) - extreme(f64::INFINITY, f64::min),
    })
}

/// The highest order of which some part differs from nothing at 95 %.
fn order(solved: &Solved) -> usize {
    // χ²₀.₉₅ with three and with two degrees of freedom.
    if beyond_doubt::<3>(solved, 2, 7.815) {
        2
    } else if beyond_doubt::<2>(solved, 0, 5.991) {
        1
    } else {
        0
    }
}

fn beyond_doubt<const N: usize>(solved: &Solved, from: usize, limit: f64) -> bool {
    let part = solved.coefficients.fixed_rows::<N>(from);
    let covariance = solved
        .covariance
        .fixed_view::<N, N>(from, from)
        .into_owned();
    covariance
        .try_inverse()
        .is_some_and(|it| (part.transpose() * it * part)[0] > limit)
}

/// Standard deviations of what light does over the distance of the farthest look from the middle: log change along the board, and
/// its curvature. The study of the allowances finds 0.15 and 0.14 in the fits themselves, lens included. When they were set, 0.10 and 0.20
/// for the first moved the mean error by 1.5 % at most; 0.06 and 0.04 for the second raised it by 2 and 6 % with a chart.
const FALL_OFF: [f64; 2] = [0.15, 0.1];
/// The same of its colour: red or blue over the luminance. Half or twice as much of the first moved the mean error by 2 % at most.
const COLOUR: [f64; 2] = [0.03, 0.01];
/// Darkening of a lens towards the corners of the picture, log light: mean and standard deviation. Usual sizes of what correction in the
/// camera leaves, from memory; a mean from none to half as much again moved the mean error by 2 % at most.
const CORNERS: [f64; 2] = [-0.08, 0.06];

/// Least that a photo must show of local tone mapping, over what is supposed, to be heard at all.
const LEAST_SEEN: f64 = 0.1;

fn spread([linear, quadratic]: [f64; 2]) -> Covariance {
    let sd = Coefficients::from([linear, linear, quadratic, quadratic, quadratic]);
    Covariance::from_diagonal(&sd.component_mul(&sd))
}

fn colour() -> Prior {
    Prior {
        mean: Coefficients::zeros(),
        covariance: spread([COLOUR[0], COLOUR[1]]),
        // All channels are lifted together.
        around: NO_SURROUNDINGS,
    }
}

/// Coordinates in which the polynomial is well conditioned.
struct Frame {
    centre: [f64; 2],
    scale: f64,
}

impl Frame {
    fn of(looks: &[Look], references: &[[f64; 2]]) -> Option<Self> {
        let places = || {
            looks
                .iter()
                .map(|it| it.mm)
                .chain(references.iter().copied())
        };
        if looks.is_empty() {
            return None;
        }
        let n = float(places().count());
        let centre = [0, 1].map(|i| places().map(|it| it[i]).sum::<f64>() / n);
        let away = |it: [f64; 2]| (it[0] - centre[0]).hypot(it[1] - centre[1]);
        let scale = places().map(away).fold(1.0, f64::max);
        Some(Self { centre, scale })
    }

    /// The part of looks and ties that `value` makes of three channels.
    fn evidence(
        &self,
        looks: &[Look],
        ties: &[Tie],
        tone: &ToneCurve,
        value: impl Fn([f64; 3]) -> f64,
    ) -> Evidence {
        let around = looks.iter().map(|it| it.around.0).sum::<f64>() / float(looks.len());
        let observation = |it: &Look| {
            Observation::of(
                it.surface,
                self.place(it.mm),
                self.scale,
                (it.around.0 - around, it.around.1),
                &it.seen(tone),
                &value,
            )
        };
        let tied = |it: &Tie| {
            let [one, other] = [0, 1].map(|i| {
                let light = |c: usize| tone.undo(it.seen[i][c]).max(1e-6) / it.stated[i][c];
                (
                    Coefficients::from(terms(self.place(it.mm[i]))),
                    value([0, 1, 2].map(|c| light(c).ln())),
                )
            });
            Tied {
                row: one.0 - other.0,
                level: one.1 - other.1,
                sd: it.sd,
            }
        };
        Evidence {
            observations: looks.iter().map(observation).collect(),
            ties: ties.iter().map(tied).collect(),
        }
    }

    fn place(&self, mm: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|i| (mm[i] - self.centre[i]) / self.scale)
    }

    /// What is supposed of the fall-off: of light, and of the lens.
    fn fall_off(&self, looks: &[Look], size: [usize; 2]) -> Prior {
        let light = spread([FALL_OFF[0], FALL_OFF[1]]);
        let corner = self.corner(looks, size);
        Prior {
            mean: corner * CORNERS[0],
            covariance: light + corner * corner.transpose() * CORNERS[1].powi(2),
            around: NO_SURROUNDINGS,
        }
    }

    /// The square of the distance from the picture's middle, 1 in its corners, as a polynomial: pixels are taken to follow
    /// millimetres linearly.
    fn corner(&self, looks: &[Look], size: [usize; 2]) -> Coefficients {
        let row = |it: &Look| {
            let [x, y] = self.place(it.mm);
            Vector3::new(1.0, x, y)
        };
        let normal: Matrix3<f64> = looks.iter().map(|it| row(it) * row(it).transpose()).sum();
        let Some(inverse) = normal.try_inverse() else {
            return Coefficients::zeros();
        };
        let half_diagonal = float(size[0]).hypot(float(size[1])) / 2.0;
        let mut total = Coefficients::zeros();
        for (axis, length) in size.into_iter().enumerate() {
            let away = |it: &Look| (it.px[axis] - float(length) / 2.0) / half_diagonal;
            let pull: Vector3<f64> = looks.iter().map(|it| row(it) * away(it)).sum();
            let [c, x, y] = (inverse * pull).into();
            total += Coefficients::from([2.0 * c * x, 2.0 * c * y, x * x, 2.0 * x * y, y * y]);
        }
        total
    }
}

#[cfg(test)]
mod tests;
