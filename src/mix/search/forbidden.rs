//! What mixtures that did not cure leave of the loads.
//!
//! A recipe with at least as much of each pigment as a mixture that did not cure is not proposed: it has less of one of them. Which one is open,
//! so that what is left are several rooms.

use super::Tested;
use super::allowed::Choice;
use super::descend::Room;
use crate::mix::Load;
use nalgebra::Vector3;

/// Of the loads of a mixture that did not cure, what stays away from it: half of what a balance may take away (`SAME` in `plan::limit`).
const BELOW: f64 = 0.98;

/// Mixtures that did not cure.
#[derive(Debug, Default)]
pub(super) struct Forbidden(Vec<Vec<(usize, f64)>>);

impl Forbidden {
    /// By places among the allowed; a mixture with any other pigment is in no recipe.
    pub(super) fn of(choice: &Choice<'_>, mixtures: &[Tested]) -> Self {
        let place = |it: &Load| Some((choice.place(&it.pigment)?, it.load));
        let failed = mixtures
            .iter()
            .filter(|it| !it.cured && !it.pigments.is_empty());
        Self(
            failed
                .filter_map(|it| it.pigments.iter().map(place).collect())
                .collect(),
        )
    }

    /// Whether a recipe has at least as much of each pigment as one of these.
    pub(super) fn has(&self, pigments: &[usize], loads: &Vector3<f64>) -> bool {
        let load = |place: usize| {
            let it = pigments.iter().position(|it| *it == place);
            it.map_or(0.0, |it| loads[it])
        };
        let within = |mixture: &Vec<(usize, f64)>| {
            mixture
                .iter()
                .all(|(place, failed)| load(*place) >= failed * (1.0 - 1e-9))
        };
        self.0.iter().any(within)
    }

    /// Where the loads of these pigments may lie.
    pub(super) fn rooms(&self, choice: &Choice<'_>, pigments: &[usize]) -> Vec<Room> {
        let mut limit = Vector3::repeat(1.0);
        for (it, place) in pigments.iter().enumerate() {
            limit[it] = choice.pigments[*place].most.unwrap_or(f64::NAN);
        }
        let mut least = Vector3::zeros();
        for it in 0..pigments.len() {
            least[it] = choice.least / limit[it];
        }
        let whole = Room {
            count: pigments.len(),
            limit,
            least,
            most: Vector3::repeat(f64::INFINITY),
        };
        let mut rooms = vec![whole];
        for mixture in &self.0 {
            let at = |place: usize| pigments.iter().position(|it| *it == place);
            let places: Option<Vec<(usize, f64)>> = (mixture.iter())
                .map(|(place, load)| Some((at(*place)?, *load)))
                .collect();
            let Some(places) = places else {
                continue;
            };
            let cut = |room: &Room| -> Vec<Room> {
                let less = |(it, load): &(usize, f64)| {
                    let mut less = *room;
                    less.most[*it] = less.most[*it].min(BELOW * load / limit[*it]);
                    less
                };
                if places.iter().any(|it| less(it).most == room.most) {
                    return vec![*room];
                }
                places.iter().map(less).collect()
            };
            rooms = widest(rooms.iter().flat_map(cut).collect());
        }
        rooms.retain(Room::is_open);
        rooms
    }
}

/// Without rooms that lie within another.
fn widest(rooms: Vec<Room>) -> Vec<Room> {
    let mut kept: Vec<Room> = Vec::new();
    for room in rooms {
        let lies_in =
            |inner: &Room, outer: &Room| (0..3).all(|it| inner.most[it] <= outer.most[it]);
        if kept.iter().any(|it| lies_in(&room, it)) {
            continue;
        }
        kept.retain(|it| !lies_in(it, &room));
        kept.push(room);
    }
    kept
}
