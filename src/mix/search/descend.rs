//! From a start to the nearest colour that some pigments can make.
//!
//! ΔE00² is lessened by Gauss and Newton's step in Lab, under the local metric of ΔE00 halfway to the wanted colour, damped as Levenberg
//! and Marquardt have it, and kept within the limits by [`quadratic`]. Steps are judged by the exact ΔE00.

use super::layer::{Layer, Seen};
use super::quadratic::{self, Bounds};
use crate::colour::difference::{delta_e_2000, local_metric};
use crate::colour::{Lab, Matrix};
use nalgebra::Vector3;

/// Where the loads of some pigments may lie, each as a share of its limit: all shares together are at most 1.
#[derive(Clone, Copy, Debug)]
pub(super) struct Room {
    /// How many pigments.
    pub(super) count: usize,
    /// Grams to 100 g at a share of 1.
    pub(super) limit: Vector3<f64>,
    /// Least shares.
    pub(super) least: Vector3<f64>,
    /// Most shares, infinite where only the sum bounds them.
    pub(super) most: Vector3<f64>,
}

impl Room {
    /// Whether there is any.
    pub(super) fn is_open(&self) -> bool {
        let (least, most) = (self.least, self.most);
        (0..self.count).all(|it| least[it] <= most[it]) && least.sum() <= 1.0
    }

    /// The nearest shares that may be, nearly: raised to the least, then what is above it lessened until the sum is kept.
    pub(super) fn bring_in(&self, shares: &Vector3<f64>) -> Vector3<f64> {
        let mut above = Vector3::zeros();
        for it in 0..self.count {
            above[it] = shares[it].min(self.most[it]).max(self.least[it]) - self.least[it];
        }
        let (room, taken) = (1.0 - self.least.sum(), above.sum());
        if taken > room {
            above *= room.max(0.0) / taken;
        }
        self.least + above
    }

    /// Loads in grams to 100 g.
    pub(super) fn loads(&self, shares: &Vector3<f64>) -> Vector3<f64> {
        shares.component_mul(&self.limit)
    }
}

/// How closely to look.
#[derive(Clone, Copy, Debug)]
pub(super) struct Care {
    /// Colours worked out at most.
    pub(super) looks: usize,
    /// ΔE00 that is as good as none.
    pub(super) good: f64,
    /// A step that lessens ΔE00² by less than this share of it is the last.
    pub(super) gain: f64,
    /// The slope of ΔE00 itself, not that of its local form: the very least where the wanted colour can't be reached.
    pub(super) exact: bool,
}

/// Shares and what they look like.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// Shares of the limits.
    pub(super) shares: Vector3<f64>,
    /// The colour.
    pub(super) seen: Seen,
    /// ΔE00 to the wanted one.
    pub(super) off: f64,
}

/// The best point downhill of a start.
pub(super) fn descend<const N: usize>(
    layer: &Layer<N>,
    pigments: &[usize],
    room: &Room,
    start: &Vector3<f64>,
    wanted: Lab,
    care: &Care,
) -> Point {
    let look = |shares: Vector3<f64>| {
        let seen = layer.seen(pigments, &room.loads(&shares));
        let off = delta_e_2000(seen.lab, wanted);
        Point { shares, seen, off }
    };
    let mut here = look(room.bring_in(start));
    let mut damping = 0.01;
    let mut form = form(&here, room, wanted, care.exact);
    for _ in 1..care.looks {
        if here.off <= care.good {
            break;
        }
        let (gradient, hessian) = form_damped(&form, damping);
        let step = quadratic::least(&hessian, &gradient, &bounds(room, &here.shares));
        if step.amax() < 1e-12 {
            break;
        }
        let there = look(room.bring_in(&(here.shares + step)));
        if there.off < here.off {
            let gain = 1.0 - (there.off / here.off).powi(2);
            here = there;
            if gain < care.gain {
                break;
            }
            damping = f64::max(damping * 0.1, 1e-9);
            form = self::form(&here, room, wanted, care.exact);
        } else {
            damping *= 8.0;
            if damping > 1e9 {
                break;
            }
        }
    }
    here
}

/// Gradient and Hessian of ΔE00² by the shares.
type Form = (Vector3<f64>, Matrix);

fn form(here: &Point, room: &Room, wanted: Lab, exact: bool) -> Form {
    let lab = here.seen.lab;
    let off = Vector3::new(lab.l - wanted.l, lab.a - wanted.a, lab.b - wanted.b);
    let halfway = Lab::new(
        wanted.l + off.x / 2.0,
        wanted.a + off.y / 2.0,
        wanted.b + off.z / 2.0,
    );
    let metric = local_metric(halfway);
    let slopes = here.seen.slopes * Matrix::from_diagonal(&room.limit);
    let by_lab = if exact {
        slope_of_square(lab, wanted)
    } else {
        metric * off * 2.0
    };
    (
        slopes.tr_mul(&by_lab),
        slopes.transpose() * metric * slopes * 2.0,
    )
}

/// The slope of ΔE00² by the first colour: central differences, whose error is of the step's square.
fn slope_of_square(lab: Lab, wanted: Lab) -> Vector3<f64> {
    const STEP: f64 = 1e-4;
    let square = |l: f64, a: f64, b: f64| {
        delta_e_2000(Lab::new(lab.l + l, lab.a + a, lab.b + b), wanted).powi(2)
    };
    Vector3::new(
        square(STEP, 0.0, 0.0) - square(-STEP, 0.0, 0.0),
        square(0.0, STEP, 0.0) - square(0.0, -STEP, 0.0),
        square(0.0, 0.0, STEP) - square(0.0, 0.0, -STEP),
    ) / (2.0 * STEP)
}

fn form_damped((gradient, hessian): &Form, damping: f64) -> Form {
    let mut damped = *hessian;
    let widest = hessian.diagonal().max().max(1e-12);
    for it in 0..3 {
        // A pigment that hides under another has no slope: something holds it, too.
        damped[(it, it)] += damping * hessian[(it, it)] + 1e-9 * widest;
    }
    (*gradient, damped)
}

fn bounds(room: &Room, shares: &Vector3<f64>) -> Bounds {
    Bounds {
        count: room.count,
        lower: (room.least - shares).map(|it| it.min(0.0)),
        upper: (room.most - shares).map(|it| it.max(0.0)),
        sum: (1.0 - shares.sum()).max(0.0),
    }
}
