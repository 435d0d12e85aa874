//! From a view to the way of laying the layout that is right beyond doubt, or a refusal.

use super::candidate::{self, Candidate, place_words};
use super::card::{Found, Search};
use super::chart::{self, Chart};
use super::evidence::outline;
use super::lattice;
use super::place::{self, Placement};
use super::region::{self, Quad};
use super::view::View;
use super::{LocateError, Options, board, choose, free, hand, second};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Control, Panel};
use crate::photo::Orientation;

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
/// Ways that are heard.
const MOST_WAYS: usize = 96;

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
    let mut ways = match options.corners {
        Some(corners) => hand::ways(view, panel, corners, factor, size)?,
        None => search(view, panel, &quads),
    };
    ways.retain(|way| {
        let mut patches = panel.patches.iter().filter(|it| !it.empty);
        !patches.any(|it| on_chart(way.map.map(it.rect.centre())))
    });
    for way in &mut ways {
        way.mirrored ^= mirrored;
    }
    ways.sort_by(|a, b| (b.patches + b.empties).total_cmp(&(a.patches + a.empties)));
    let Some(first) = ways.first() else {
        return Err(LocateError::NoPanel {
            regions: quads.len(),
        });
    };
    if options.corners.is_none() {
        if first.seen < 2.5 && first.of > 2.5 {
            return Err(LocateError::NoPanel {
                regions: quads.len(),
            });
        }
        if first.share() < FAINTLY {
            return Err(does_not_fit(first));
        }
    }
    let floor = first.patches + first.empties - 14.0;
    let tolerance = small_step(panel, &first.map);
    let mut kept: Vec<Placement> = Vec::new();
    for way in ways.iter().filter(|it| it.patches + it.empties >= floor) {
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
    let hear = |ways: Vec<Placement>| candidate::hear(view, panel, &quads, &charts, ways);
    let mut candidates = hear(kept);
    candidates.sort_by(|a, b| b.total().total_cmp(&a.total()));
    if options.corners.is_none()
        && let Some(first) = candidates.iter().find(|it| !it.placement.mirrored)
        && let Some(distance) = second::panel(view, panel, &quads, &ways, first, &hear)
    {
        return Err(LocateError::TwoPanels {
            distance: distance * factor as f64,
        });
    }
    let best = choose::choose(panel, options, orientation, factor, size, &candidates)?;
    let winner = &candidates[best.index];
    // Where patches hardly show, as dark paint on dark wood, the board's edge must vouch for the layout.
    let vouched = winner.says[candidate::BOARD] > VOUCHED;
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

/// Ways that regions suggest.
pub(super) fn search(view: &View, panel: &Panel, quads: &[Quad]) -> Vec<Placement> {
    let Some(grid) = &panel.grid else {
        return free::placements(view, panel, quads);
    };
    let patches = panel.patches.iter().filter(|it| !it.empty).count();
    let mut lattices = lattice::grow_all(panel, grid, quads);
    let most = lattices.first().map_or(0, |it| it.cells.len());
    let enough = (most / 2).max(2).min(patches.max(1));
    lattices.retain(|it| it.cells.len() >= enough);
    let mut out: Vec<Placement> = Vec::new();
    if board::tells(panel) {
        // One patch is like any sheet; on a region of its board's shape it is not.
        out.extend(board::ways(view, panel, quads));
    }
    for (index, mut lattice) in lattice::distinct(grid, lattices, MOST_LATTICES)
        .into_iter()
        .enumerate()
    {
        lattice.straighten();
        place::refine(view, grid, &mut lattice);
        let laid = place::placements(view, panel, grid, &lattice);
        out.extend(laid.into_iter().map(|it| Placement {
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
