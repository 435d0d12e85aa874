//! Which colours of a board changed fastest, as far as that can be told.

use super::kinetics::Threshold;
use super::report::{Board, Change, Patch};
use super::rows::same_dose;
use crate::record::ControlEntry;

/// The threshold by which a range is ranked, ΔE00: what most people see (common practice, no source).
pub(super) const RANKED_BY: f64 = 2.0;

/// A board's colours, the fastest first. Controls are in none of the lists.
#[derive(Debug, Default)]
pub(super) struct Ranking<'a> {
    /// Those of which it is known at which dose they reach [`RANKED_BY`].
    pub(super) by_dose: Vec<Ranked<'a, Threshold>>,
    /// The dose at which the others are compared: the largest that most of them have.
    pub(super) common_dose: Option<f64>,
    /// The others, by their change at that dose.
    pub(super) by_change: Vec<Ranked<'a, &'a Change>>,
    /// Those without a change at that dose.
    pub(super) unranked: Vec<&'a Patch>,
}

/// A colour in a list.
#[derive(Debug)]
pub(super) struct Ranked<'a, T> {
    /// Which, by its number on the board.
    pub(super) number: usize,
    pub(super) patch: &'a Patch,
    /// By what.
    pub(super) by: T,
    /// From 1, the best and the worst place that its interval leaves it: those with overlapping intervals are not told apart.
    pub(super) places: [usize; 2],
}

/// Ranks the colours of a board.
pub(super) fn rank(board: &Board) -> Ranking<'_> {
    let mut ranking = Ranking::default();
    let mut others = Vec::new();
    let colours = board.patches.iter().enumerate();
    for (number, patch) in colours.filter(|it| it.1.control.is_none()) {
        match reached(patch) {
            Some(by) => ranking.by_dose.push(Ranked {
                number,
                patch,
                by,
                places: [0; 2],
            }),
            None => others.push((number, patch)),
        }
    }
    ranking.by_dose.sort_by(|a, b| {
        let best = |it: &Ranked<'_, Threshold>| it.by.dose.unwrap_or(f64::INFINITY);
        best(a).total_cmp(&best(b))
    });
    place(&mut ranking.by_dose, |it| {
        [it.low.unwrap_or(0.0), it.high.unwrap_or(f64::INFINITY)]
    });
    ranking.common_dose = common_dose(board, &others);
    for (number, patch) in others {
        match ranking.common_dose.and_then(|it| patch.at(it)) {
            Some(by) => ranking.by_change.push(Ranked {
                number,
                patch,
                by,
                places: [0; 2],
            }),
            None => ranking.unranked.push(patch),
        }
    }
    ranking
        .by_change
        .sort_by(|a, b| b.by.de_00.total_cmp(&a.by.de_00));
    // The larger comes first, so the ends of the interval change places.
    place(&mut ranking.by_change, |it| {
        [
            -(it.de_00 + it.u95_de_00),
            -(it.de_00 - it.u95_de_00).max(0.0),
        ]
    });
    ranking
}

/// Sets the places: as many come surely before as have an interval that ends before this one begins.
fn place<T>(list: &mut [Ranked<'_, T>], interval: impl Fn(&T) -> [f64; 2]) {
    let intervals: Vec<[f64; 2]> = list.iter().map(|it| interval(&it.by)).collect();
    for (index, it) in list.iter_mut().enumerate() {
        let [low, high] = intervals[index];
        let before = intervals.iter().filter(|it| it[1] < low).count();
        let after = intervals.iter().filter(|it| it[0] > high).count();
        it.places = [before + 1, intervals.len() - after];
    }
}

/// When it reaches [`RANKED_BY`], if that is known.
pub(super) fn reached(patch: &Patch) -> Option<Threshold> {
    let thresholds = patch.course.iter().flat_map(|it| &it.thresholds);
    thresholds
        .copied()
        .find(|it| same_dose(it.de_00, RANKED_BY))
        .filter(|it| it.dose.is_some())
}

/// The largest of the doses that most of the patches have.
fn common_dose(board: &Board, patches: &[(usize, &Patch)]) -> Option<f64> {
    let have = |dose: f64| patches.iter().filter(|it| it.1.at(dose).is_some()).count();
    let doses = board.exposed().map(|it| (have(it.dose), it.dose));
    doses
        .filter(|it| it.0 > 0)
        .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|it| it.1)
}

/// What a control is for.
pub(super) fn controls(board: &Board, kind: ControlEntry) -> impl Iterator<Item = &Patch> {
    let patches = board.patches.iter();
    patches.filter(move |it| it.control == Some(kind))
}
