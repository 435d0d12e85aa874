//! From the film's colour to the predicted one.
//!
//! A prediction adds to the film's colour what trials nearby say of it, which changes little with the loads. So loads are sought whose film has the
//! wanted colour less that, until it is what it was.

use super::SearchError;
use super::combinations::{Searched, Spot};
use super::recipe::parts;
use super::task::Task;
use crate::colour::Lab;
use crate::colour::difference::delta_e_2000;
use crate::mix::Prediction;
use nalgebra::Vector3;

/// Rounds at most: what is added hardly changes after the second.
const ROUNDS: usize = 4;
/// Lab units of change that are none.
const NONE: f64 = 1e-3;

/// The loads at their best by what is predicted of them, and the prediction.
///
/// # Errors
///
/// If their colour can't be predicted.
pub(super) fn settled(
    spot: Spot,
    task: &Task<'_>,
    searched: &Searched<'_>,
) -> Result<(Spot, Prediction), SearchError> {
    let mut here = searched.closely(spot);
    let mut shift = Vector3::zeros();
    let mut best: Option<(Spot, Prediction)> = None;
    for _ in 0..ROUNDS {
        let seen = super::seen(task, &parts(&here, searched.choice))?;
        let film = here.best.seen.lab;
        let added = Vector3::new(
            seen.lab.l - film.l,
            seen.lab.a - film.a,
            seen.lab.b - film.b,
        );
        let change = (added - shift).norm();
        shift = added;
        here.shift = shift;
        here.best.off = delta_e_2000(seen.lab, task.wanted);
        if best.as_ref().is_none_or(|it| here.best.off < it.0.best.off) {
            best = Some((here, seen));
        }
        if change < NONE || here.tested {
            break;
        }
        let wanted = task.wanted;
        let less = Searched {
            wanted: Lab::new(wanted.l - shift.x, wanted.a - shift.y, wanted.b - shift.z),
            ..*searched
        };
        here = less.closely(here);
    }
    Ok(best.expect("there is a first round"))
}
