//! What a polynomial doesn't follow of the light, place by place: where a blank shows it, and what a camera did by the surroundings.

use super::{LightField, Look};
use crate::correct::{ToneCurve, blank, robust};
use crate::sample::float;
use serde::{Deserialize, Serialize};

/// Log light beside a polynomial: a weighted mean of what it left at the knots nearby. Empty: nothing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Local {
    /// Where the blank was seen, and what the polynomial left there.
    pub knots: Vec<Knot>,
    /// How far a knot reaches, mm.
    pub reach: f64,
    /// The mean over the references, where the light is 1: log of red, green and blue.
    pub origin: [f64; 3],
}

/// A place on the blank.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Knot {
    /// Panel millimetres.
    pub mm: [f64; 2],
    /// What is left there of the log of red, green and blue light.
    pub log: [f64; 3],
}

/// Reaches that are tried, in distances between neighbours.
const REACHES: [f64; 3] = [1.6, 2.5, 4.0];
/// Weight of "nothing is left": draws a mean of few and far knots towards zero.
const DOUBT: f64 = 0.1;
/// By what factor what is left must be less.
const WORTH_IT: f64 = 0.9;

impl Local {
    /// Log light at a place beside the polynomial's, relative to that on the references.
    #[must_use]
    pub fn at(&self, mm: [f64; 2]) -> [f64; 3] {
        if self.knots.is_empty() {
            return [0.0; 3];
        }
        let (log, _) = self.mean(mm, None);
        [0, 1, 2].map(|c| log[c] - self.origin[c])
    }

    /// The same with the light 1 in the mean over the references.
    fn relative_to(mut self, references: &[[f64; 2]]) -> Self {
        for mm in references {
            let there = self.mean(*mm, None).0;
            for (sum, log) in self.origin.iter_mut().zip(there) {
                *sum += log / float(references.len());
            }
        }
        self
    }

    /// The mean at a place, and the weight of the knots in it, one of them left out.
    fn mean(&self, mm: [f64; 2], without: Option<usize>) -> ([f64; 3], f64) {
        let (mut sum, mut weight) = ([0.0; 3], 0.0);
        for (i, knot) in self.knots.iter().enumerate() {
            let (x, y) = (knot.mm[0] - mm[0], knot.mm[1] - mm[1]);
            let near = 1.0 - (x * x + y * y) / (self.reach * self.reach);
            if near > 0.0 && Some(i) != without {
                let w = near * near;
                weight += w;
                for (sum, log) in sum.iter_mut().zip(knot.log) {
                    *sum += w * log;
                }
            }
        }
        (sum.map(|it| it / (weight + DOUBT)), weight)
    }

    /// Root mean square of what is left at knots that have no say themselves, in log green light.
    fn left(&self) -> f64 {
        let mut squares = Vec::new();
        for (i, knot) in self.knots.iter().enumerate() {
            let (there, weight) = self.mean(knot.mm, Some(i));
            // A knot without neighbours tells nothing of how well neighbours tell.
            if weight > 0.0 {
                squares.push((knot.log[1] - there[1]).powi(2));
            }
        }
        (squares.iter().sum::<f64>() / float(squares.len().max(1))).sqrt()
    }
}

/// Lets a field follow the blank beyond its polynomial where that is better at places left out in turn; what is left then, of
/// all places, is its residual.
pub(in crate::correct) fn follow(
    field: LightField,
    looks: &[Look],
    tone: &ToneCurve,
    references: &[[f64; 2]],
) -> LightField {
    let mut knots = knots(&field, looks, tone);
    // A card that was left on the sheet, or a place beyond its edge, is no light.
    knots.retain(|it| it.log[1].abs() < blank::FOREIGN);
    let square = knots.iter().map(|it| it.log[1].powi(2)).sum::<f64>();
    let before = (square / float(knots.len().max(1))).sqrt();
    let spacing = spacing(&knots);
    let tried = REACHES.map(|it| Local {
        knots: knots.clone(),
        reach: it * spacing,
        origin: [0.0; 3],
    });
    let best = (tried.into_iter().map(|it| (it.left(), it))).min_by(|a, b| a.0.total_cmp(&b.0));
    match best {
        Some((left, local)) if left < WORTH_IT * before => LightField {
            local: local.relative_to(references),
            residual: left,
            ..field
        },
        _ => LightField {
            // All that the polynomial doesn't follow counts, what its robust fit took for a stain too: it may be the light.
            residual: before.max(field.residual),
            ..field
        },
    }
}

/// What local tone mapping of a strength does to the light, as knots: the change of log light by that of its surroundings, seen at each look.
pub(super) fn of_surroundings(looks: &[Look], change: f64, references: &[[f64; 2]]) -> Local {
    let knot = |it: &Look| Knot {
        mm: it.mm,
        log: [change * it.around.0; 3],
    };
    let mut knots: Vec<Knot> = looks.iter().map(knot).collect();
    let middle = knots.iter().map(|it| it.log[0]).sum::<f64>() / float(knots.len().max(1));
    for it in &mut knots {
        it.log = it.log.map(|log| log - middle);
    }
    let reach = REACHES[1] * spacing(&knots);
    Local {
        knots,
        reach,
        origin: [0.0; 3],
    }
    .relative_to(references)
}

/// What a field leaves of each look's log light, about the median of all.
pub(in crate::correct) fn knots(field: &LightField, looks: &[Look], tone: &ToneCurve) -> Vec<Knot> {
    let left = |it: &Look| {
        let (seen, there) = (it.seen(tone).level, field.at(it.mm));
        [0, 1, 2].map(|c| seen[c] - there[c].ln())
    };
    let mut knots: Vec<Knot> = looks
        .iter()
        .map(|it| Knot {
            mm: it.mm,
            log: left(it),
        })
        .collect();
    for c in 0..3 {
        let mut logs: Vec<f64> = knots.iter().map(|it| it.log[c]).collect();
        let level = robust::median(&mut logs);
        knots.iter_mut().for_each(|it| it.log[c] -= level);
    }
    knots
}

/// By how much each knot's log green light differs from its neighbours': a smooth light doesn't matter then, however steep.
pub(in crate::correct) fn steps(knots: Vec<Knot>) -> Vec<f64> {
    let local = Local {
        reach: REACHES[1] * spacing(&knots),
        knots,
        origin: [0.0; 3],
    };
    (local.knots.iter().enumerate())
        .filter_map(|(i, knot)| {
            let (there, weight) = local.mean(knot.mm, Some(i));
            // One without neighbours is none's; the doubt of a mean doesn't count here.
            (weight > 0.0).then(|| knot.log[1] - there[1] * (weight + DOUBT) / weight)
        })
        .collect()
}

/// Median distance from a knot to the nearest other.
fn spacing(knots: &[Knot]) -> f64 {
    let mut nearest: Vec<f64> = knots
        .iter()
        .enumerate()
        .map(|(i, it)| {
            let others = knots.iter().enumerate().filter(|other| other.0 != i);
            let distance = |other: &Knot| (other.mm[0] - it.mm[0]).hypot(other.mm[1] - it.mm[1]);
            others
                .map(|other| distance(other.1))
                .fold(f64::INFINITY, f64::min)
        })
        .filter(|it| it.is_finite())
        .collect();
    robust::median(&mut nearest).max(1.0)
}
