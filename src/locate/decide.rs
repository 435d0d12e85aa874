//! From a view to the way of laying the layout that is right beyond doubt, or a refusal.

use super::candidate::{self, Candidate, place_words};
use super::card::{Found, Search};
use super::chart::{self, Chart};
use super::evidence::outline;
use super::laid::{self, Asked, Laid};
use super::lattice;
use super::place::{self, Placement};
use super::region::{self, Quad};
use super::view::View;
use super::{LocateError, Options, board, choose, free, hand, sawn, second};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Control, Panel};
use crate::photo::Orientation;
use std::cell::Cell;

/// The way that was decided on.
#[derive(Debug)]
pub(super) struct Decided {
    /// Panel millimetres to view pixels.
    pub map: PlaneMap,
    /// Sum of beliefs in the patches' outlines.
    pub seen: f64,
    /// The cards that were found, by their index in the panel.
    pub cards: Vec<(usize, Found)>,
    /// What decided which way is up.
    pub witnesses: Vec<String>,
    /// Likelihood of the best rival over that of the accepted way, 0–1.
    pub rival: f64,
}

/// Share of the patches that must be seen …
const PLAINLY: f64 = 0.55;
/// … or this, where the board's edge is seen as well: its log likelihood is beyond that of two sides.
pub(super) const FAINTLY: f64 = 0.4;
pub(super) const VOUCHED: f64 = 8.0;
/// Lattices that the layout is laid on.
const MOST_LATTICES: usize = 10;
/// Ways that are moved onto the board's edges, the best first.
const MOST_SETTLED: usize = 32;
/// Ways that are heard …
const MOST_WAYS: usize = 96;
/// … and how far, in log likelihood of all outlines, they may lie below the best.
const WITHIN: f64 = 14.0;

/// Decides.
///
/// # Errors
///
/// Whatever leaves doubt.
pub(super) fn decide(
    view: &View,
    panel: &Panel,
    options: &Options,
    orientation: Orientation,
    size: (usize, usize),
) -> Result<Decided, LocateError> {
    let factor = view.factor;
    let mut quads = region::find(view);
    // A tag that mirrors is taken at its word: displayed, the panel must not be mirrored.
    let mirrored = matches!(orientation.0, 2 | 4 | 5 | 7);
    let charts: Vec<Option<Chart>> = panel
        .cards
        .iter()
        .map(|it| chart::find(view, &quads, &it.card, mirrored))
        .collect();
    let on_chart = |p: Point| charts.iter().flatten().any(|it| it.covers(p));
    quads.retain(|it| !on_chart(it.centre));
    let beside_charts = |map: &PlaneMap| {
        let mut patches = panel.patches.iter().filter(|it| !it.empty);
        !patches.any(|it| on_chart(map.map(it.rect.centre())))
    };
    let mut lattices = Vec::new();
    let mut ways = match options.corners {
        Some(corners) => hand::ways(view, panel, corners, factor, size)?,
        None => {
            lattices = grow(view, panel, &quads, &|_| true);
            let mut ways = suggested(view, panel, &quads);
            ways.extend(best(view, panel, &mut lattices, &beside_charts));
            // Where patches hardly show, their lattice is laid amiss, or none is found; their board may be seen all the same.
            let plain = |it: &Placement| it.share() >= PLAINLY && beside_charts(&it.map);
            if !board::tells(panel) && !ways.iter().any(plain) {
                let on_board = board::ways(view, panel, &quads).into_iter();
                ways.extend(on_board.map(|it| board::settle(view, panel, &it)));
            }
            ways
        }
    };
    ways.retain(|it| beside_charts(&it.map));
    for way in &mut ways {
        way.mirrored ^= mirrored;
    }
    ways.sort_by(|a, b| b.score().total_cmp(&a.score()));
    let no_panel = LocateError::NoPanel {
        regions: quads.len(),
    };
    let Some(first) = ways.first() else {
        return Err(no_panel);
    };
    if options.corners.is_none() {
        if too_few(first) && panel.board.is_none() {
            return Err(no_panel);
        }
        if first.share() < FAINTLY {
            return Err(does_not_fit(first));
        }
    }
    let floor = first.score() - WITHIN;
    let tolerance = small_step(panel, &first.map);
    let mut kept: Vec<Placement> = Vec::new();
    for way in ways.iter().filter(|it| it.score() >= floor) {
        let twin = kept
            .iter()
            .any(|it| same_map(panel, &it.map, &way.map, tolerance));
        if !twin && kept.len() < MOST_WAYS {
            kept.push(way.clone());
        }
    }
    if options.corners.is_none() && board::tells(panel) {
        for way in kept.iter_mut().take(MOST_SETTLED) {
            *way = board::settle(view, panel, way);
        }
    }
    let vouches = |it: &Placement| sawn::says(view, panel, &it.map) > VOUCHED;
    if options.corners.is_none() && kept.iter().all(|it| too_few(it) && !vouches(it)) {
        return Err(no_panel);
    }
    let hear = |ways: Vec<Placement>| candidate::hear(view, panel, &quads, &charts, ways);
    let mut candidates = hear(kept);
    candidates.sort_by(|a, b| b.total().total_cmp(&a.total()));
    if options.corners.is_none()
        && let Some(first) = candidates.iter().find(|it| !it.placement.mirrored)
        && let Some(distance) =
            second::panel(view, panel, &quads, &ways, &mut lattices, first, &hear)
    {
        return Err(LocateError::TwoPanels {
            distance: distance * factor as f64,
        });
    }
    let best = choose::choose(panel, options, orientation, factor, size, &candidates)?;
    let winner = &candidates[best.index];
    // Where patches hardly show, as dark paint on dark wood, the board's edge must vouch for the layout.
    let vouched = winner.says[candidate::BOARD] > VOUCHED;
    if options.corners.is_none() && too_few(&winner.placement) && !vouched {
        return Err(no_panel);
    }
    if options.corners.is_none() && winner.placement.share() < PLAINLY && !vouched {
        return Err(does_not_fit(&winner.placement));
    }
    if options.corners.is_none() && !vouched && line_of_none(view, panel, &winner.placement.map) {
        return Err(does_not_fit(&winner.placement));
    }
    let cut: Vec<String> = candidate::cut_off(view, panel, &winner.placement.map)
        .map(|it| it.id.clone())
        .collect();
    if !cut.is_empty() {
        return Err(LocateError::CutOff { patches: cut });
    }
    Ok(Decided {
        map: winner.placement.map,
        seen: winner.placement.seen,
        cards: found_cards(panel, winner)?,
        witnesses: best.witnesses,
        rival: best.rival,
    })
}

/// Whether so few patches are seen that chance could have laid them, unless their board is seen as well.
fn too_few(way: &Placement) -> bool {
    way.seen < 2.5 && way.of > 2.5
}

/// Too much of the layout is not where a way has it.
fn does_not_fit(way: &Placement) -> LocateError {
    LocateError::LayoutDoesNotFit {
        seen: way.seen,
        of: way.of,
    }
}

/// Fewest patches of an outermost row or column that can't all be like the board.
const A_LINE: usize = 4;
/// The same where a line is seen beyond the opposite side, and the mean belief from which it is.
const A_SHORT_LINE: usize = 2;
const BEYOND_SEEN: f64 = 0.8;

/// Whether none of the patches of an outermost row or column is seen, but patches beside it are: another panel has a row less. Or, where
/// few could be seen, a line of patches lies beyond the opposite side: the layout is laid a line off.
fn line_of_none(view: &View, panel: &Panel, map: &PlaneMap) -> bool {
    let extent = panel.extent();
    let patches: Vec<_> = (panel.patches.iter())
        .filter(|it| !it.empty)
        .map(|it| (it.rect, it.control == Some(Control::Clear)))
        .collect();
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    let at_side = |it: &Rect, side: usize| match side {
        0 => near(it.x, extent.x),
        1 => near(it.y, extent.y),
        2 => near(it.x + it.width, extent.x + extent.width),
        _ => near(it.y + it.height, extent.y + extent.height),
    };
    let belief = |it: &Rect, round: i32| {
        let look = place::free_look(panel, map, it, round);
        outline(view, map, it, &look).visible()
    };
    // Roughly, since a map that is laid off may be bent, too.
    let beyond = |side: usize| {
        let Some(grid) = &panel.grid else {
            return false;
        };
        let sign = if side < 2 { -1.0 } else { 1.0 };
        let by = sign * grid.pitch_mm[side % 2];
        let line = patches.iter().filter(|it| at_side(&it.0, side));
        let seen: Vec<f64> = line
            .map(|(it, _)| {
                let moved = match side % 2 {
                    0 => Rect {
                        x: it.x + by,
                        ..*it
                    },
                    _ => Rect {
                        y: it.y + by,
                        ..*it
                    },
                };
                belief(&moved, 0)
            })
            .collect();
        seen.iter().sum::<f64>() > BEYOND_SEEN * seen.len() as f64
    };
    let painted = patches.iter().filter(|it| !it.1).count();
    (0..4).any(|side| {
        let line: Vec<_> = patches
            .iter()
            .filter(|it| !it.1 && at_side(&it.0, side))
            .collect();
        let none = || line.iter().map(|it| belief(&it.0, 2)).sum::<f64>() < 0.5;
        (A_SHORT_LINE..painted).contains(&line.len())
            && none()
            && (line.len() >= A_LINE || beyond((side + 2) % 4))
    })
}

/// Ways that regions suggest by themselves: of free patches, and of few patches on a board.
pub(super) fn suggested(view: &View, panel: &Panel, quads: &[Quad]) -> Vec<Placement> {
    if panel.grid.is_none() {
        return free::placements(view, panel, quads);
    }
    if board::tells(panel) {
        // One patch is like any sheet; on a region of its board's shape it is not.
        return board::ways(view, panel, quads);
    }
    Vec::new()
}

/// The lattices that regions lie on, the fullest first, if the layout laid on them is anywhere `wanted`; none of free patches.
pub(super) fn grow(
    view: &View,
    panel: &Panel,
    quads: &[Quad],
    wanted: &dyn Fn(&PlaneMap) -> bool,
) -> Vec<Laid> {
    let Some(grid) = &panel.grid else {
        return Vec::new();
    };
    let patches = panel.patches.iter().filter(|it| !it.empty).count();
    let mut lattices = lattice::grow_all(panel, grid, quads);
    let most = lattices.first().map_or(0, |it| it.cells.len());
    let enough = (most / 2).max(2).min(patches.max(1));
    lattices.retain(|it| it.cells.len() >= enough);
    let distinct = lattice::distinct(grid, lattices, MOST_LATTICES).into_iter();
    let outer = panel.outer();
    distinct
        .filter(|it| (laid::arrangements(grid, &outer, it).iter()).any(|it| wanted(&it.map)))
        .map(|mut lattice| {
            lattice.straighten();
            laid::refine(view, grid, &mut lattice);
            Laid::new(lattice)
        })
        .collect()
}

/// The ways of laying the layout on lattices that may be heard: not those that lie farther below another of which `may_lead` holds.
fn best(
    view: &View,
    panel: &Panel,
    lattices: &mut [Laid],
    may_lead: &dyn Fn(&PlaneMap) -> bool,
) -> Vec<Placement> {
    let leader = Cell::new(f64::NEG_INFINITY);
    let asked = |_: &PlaneMap| {
        Some(Asked {
            score: leader.get() - WITHIN,
            seen: 0.0,
        })
    };
    let met = |it: &Placement| {
        if it.score() > leader.get() && may_lead(&it.map) {
            leader.set(it.score());
        }
    };
    lay(view, panel, lattices, &asked, &met)
}

/// The ways of laying the layout on lattices that are what is `asked`; each that is, is `met`.
pub(super) fn lay(
    view: &View,
    panel: &Panel,
    lattices: &mut [Laid],
    asked: &dyn Fn(&PlaneMap) -> Option<Asked>,
    met: &dyn Fn(&Placement),
) -> Vec<Placement> {
    let Some(grid) = &panel.grid else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for (index, lattice) in lattices.iter_mut().enumerate() {
        let ways = lattice.ways(view, panel, grid, asked, met);
        out.extend(ways.into_iter().map(|it| Placement {
            lattice: Some(index),
            ..it
        }));
    }
    out
}

/// A tenth of a patch's shorter side in view pixels.
pub(super) fn small_step(panel: &Panel, map: &PlaneMap) -> f64 {
    let shortest = panel
        .patches
        .iter()
        .map(|it| it.rect.width.min(it.rect.height))
        .fold(f64::MAX, f64::min);
    let scale = map
        .jacobian(panel.extent().centre())
        .determinant()
        .abs()
        .sqrt();
    0.1 * shortest * scale
}

/// Whether two maps send the corners of the patches to the same places.
pub(super) fn same_map(panel: &Panel, a: &PlaneMap, b: &PlaneMap, tolerance: f64) -> bool {
    panel
        .extent()
        .corners()
        .iter()
        .all(|p| (a.map(*p) - b.map(*p)).norm() < tolerance.max(1.5))
}

/// The cards of a way, by their index in the panel.
///
/// # Errors
///
/// If the panel has cards and none was found: one of several is enough, and the record says which was missing.
fn found_cards(panel: &Panel, way: &Candidate) -> Result<Vec<(usize, Found)>, LocateError> {
    let found: Vec<(usize, Found)> = way
        .cards
        .iter()
        .enumerate()
        .filter_map(|(i, search)| match search {
            Search::Found(it) => Some((i, *it)),
            Search::Missing | Search::Doubtful | Search::Askew => None,
        })
        .collect();
    match no_card(panel, way) {
        Some(error) if found.is_empty() => Err(error),
        _ => Ok(found),
    }
}

/// Why the first of a way's cards can't be used, if none can.
pub(super) fn no_card(panel: &Panel, way: &Candidate) -> Option<LocateError> {
    if way.cards.iter().any(|it| matches!(it, Search::Found(_))) {
        return None;
    }
    let (placed, search) = panel.cards.iter().zip(&way.cards).next()?;
    let (card, place) = (placed.card.id.clone(), place_words(placed));
    Some(match search {
        Search::Doubtful => LocateError::CardDoubtful { card, place },
        Search::Askew => LocateError::CardAskew { card },
        Search::Found(_) | Search::Missing => LocateError::CardMissing { card, place },
    })
}
