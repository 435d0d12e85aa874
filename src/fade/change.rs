//! The change of each patch: what lies between its halves after the sun, less what lay between them before.

use super::difference::{self, Difference};
use super::history::{Board, Exposure, Pair};
use super::moved::{Moves, Undone, Whole};
use super::report::FadeFlag;
use super::scale::Scale;
use crate::colour::Matrix;
use nalgebra::Vector3;

/// A patch's change at one dose.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Changed {
    pub(super) dose: f64,
    pub(super) hours: Option<f64>,
    pub(super) photos: usize,
    /// In L*, a*, b*.
    pub(super) lab: Vector3<f64>,
    /// Its covariance, without what the patch's changes at all doses share, and without what the mask and the scale leave.
    pub(super) own: Matrix,
    /// Covariance that a mask leaves which may have leaked, the same share of the change at all doses.
    pub(super) leak: Matrix,
    /// Covariance that the scale leaves, part of it shared by all doses: see [`super::scale::SHARED`].
    pub(super) scale: Matrix,
    /// Change of unevenness, ΔE00.
    pub(super) unevenness: Option<f64>,
    pub(super) flags: Vec<FadeFlag>,
}

/// A patch's changes at all doses.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Course {
    /// The masked half before any sun, or at the first dose there is.
    pub(super) start: Option<Vector3<f64>>,
    pub(super) changes: Vec<Changed>,
    /// Covariance that they share: of the difference between the halves before any sun.
    pub(super) shared: Matrix,
    /// Relative standard uncertainty of L*, a*, b* that they share.
    pub(super) scale: [f64; 3],
    /// The same of all three alike, where the mask may have leaked.
    pub(super) leak: f64,
}

/// Standard deviations of L*, a*, b* between halves of hand-laid coats where nothing shows them: common practice, no source.
const BETWEEN_HALVES: [f64; 3] = [1.0, 0.6, 0.8];
/// Fewest patches whose halves at dose 0 show how halves differ.
const ENOUGH: usize = 8;

/// How halves differ before any sun: from the boards that show it, else what is usual.
pub(super) fn between_halves(boards: &[Board<'_>]) -> Matrix {
    let fresh: Vec<Difference> = boards
        .iter()
        .filter_map(|board| Some((board, board.start()?)))
        .flat_map(|(board, start)| {
            let patches = board.panel.patches.iter();
            patches.filter_map(|it| difference::of(&start.pairs(&it.id)))
        })
        .collect();
    if fresh.len() < ENOUGH {
        let sd = Vector3::from(BETWEEN_HALVES);
        return Matrix::from_diagonal(&sd.component_mul(&sd));
    }
    let squares: Matrix = fresh.iter().map(|it| it.lab * it.lab.transpose()).sum();
    squares / crate::sample::float(fresh.len())
}

/// The changes of one patch. `moves` are those of the later exposures, in order.
pub(super) fn of(
    board: &Board<'_>,
    patch: &str,
    moves: &Moves,
    scale: &Scale,
    between: &Matrix,
) -> Course {
    let fresh = board.start().map(|it| it.pairs(patch)).unwrap_or_default();
    let start = difference::of(&fresh);
    let whole = match start {
        Some(_) => moves.whole(patch),
        None => Whole::SOUND,
    };
    let moved = start.is_some() && moves.own.contains(patch);
    let changes = board
        .later()
        .zip(&moves.carried)
        .filter_map(|(exposure, carried)| {
            at(
                exposure,
                patch,
                start.as_ref(),
                &fresh,
                (&whole, moved, *carried),
                scale,
            )
        })
        .collect();
    let first = || {
        let seen = board.exposures.iter().map(|it| it.pairs(patch));
        let first = seen.into_iter().find(|it| !it.is_empty())?;
        difference::of(&first).map(|it| it.halves[0])
    };
    Course {
        start: start.as_ref().map(|it| it.halves[0]).or_else(first),
        changes,
        shared: match &start {
            // What is off at the start is multiplied as the change is.
            Some(it) => scale.carry(&it.halves[1], &it.covariance) * whole.mean.powi(2),
            None => first().map_or(*between, |it| scale.carry(&it, between)),
        },
        scale: scale.shared(),
        leak: whole.relative(),
    }
}

fn at(
    exposure: &Exposure<'_>,
    patch: &str,
    start: Option<&Difference>,
    fresh: &[Pair<'_>],
    (whole, moved, carried): (&Whole, bool, bool),
    scale: &Scale,
) -> Option<Changed> {
    let pairs = exposure.pairs(patch);
    let now = difference::of(&pairs)?;
    let mut flags = Vec::new();
    let mut flag = |when: bool, flag| {
        if when {
            flags.push(flag);
        }
    };
    flag(start.is_none(), FadeFlag::NoStart);
    flag(moved, FadeFlag::MaskedMoved);
    flag(!carried, FadeFlag::OwnScaleOnly);
    let mut all = pairs.iter().chain(fresh);
    flag(all.any(|it| it.clipped), FadeFlag::DoubtfulReading);
    flag(pairs.len() == 1 || fresh.len() == 1, FadeFlag::SinglePhoto);
    let between = start.map_or(now.lab, |it| now.lab - it.lab);
    let Undone { lab, own, leak } = whole.undo(&between, &now.covariance);
    // Without a start of its own a patch changes from its masked half.
    let colour = start.map_or(now.halves[0], |it| it.halves[1]);
    let end = colour + lab;
    let lab = scale.of(&colour, &lab);
    Some(Changed {
        dose: exposure.dose,
        hours: exposure.hours,
        photos: now.photos,
        lab,
        // What is off at the end counts with the slope there.
        own: scale.carry(&end, &own),
        leak: scale.carry(&end, &leak),
        scale: scale.left(&lab),
        unevenness: match (now.unevenness, start) {
            (Some(now), Some(start)) => start.unevenness.map(|it| now - it),
            (now, None) => now,
            (None, Some(_)) => None,
        },
        flags,
    })
}
