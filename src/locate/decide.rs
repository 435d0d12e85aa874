//! Which of the ways of laying the layout is right, if any is beyond doubt.

use super::card::{self, Found, Search};
use super::evidence::{Look, half_side};
use super::lattice;
use super::place::{self, Placement};
use super::region::{self, Quad};
use super::view::View;
use super::{LocateError, Options, free, shade};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Panel, Place, PlacedCard, Side};
use crate::photo::Orientation;

/// The way that was decided on.
#[derive(Debug)]
pub(super) struct Decided {
    /// Panel millimetres to view pixels.
    pub map: PlaneMap,
    /// The cards, in the panel's order.
    pub cards: Vec<Found>,
    /// What decided which way is up.
    pub witnesses: Vec<String>,
    /// Likelihood of the best rival over that of the accepted way, 0–1.
    pub rival: f64,
    /// Noise of a view pixel.
    pub noise: f64,
}

/// Log likelihood by which the best way must beat every other.
const NEEDED: f64 = 5.0;
/// Log likelihood from which a single witness counts as having spoken.
const SPOKEN: f64 = 3.0;

/// A way of laying the layout and what each witness says of it.
struct Candidate {
    placement: Placement,
    /// Empty cells, board, cards …, colours.
    says: Vec<f64>,
    cards: Vec<Search>,
}

impl Candidate {
    fn total(&self) -> f64 {
        self.placement.patches + self.says.iter().sum::<f64>()
    }
}

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
    factor: usize,
    size: (usize, usize),
) -> Result<Decided, LocateError> {
    let (quads, noise) = region::find(view);
    let mut ways = match options.corners {
        Some(corners) => by_hand(view, panel, corners, factor, size, noise)?,
        None => search(view, panel, &quads, noise),
    };
    // A tag that mirrors is taken at its word: displayed, the panel must not be mirrored.
    if matches!(orientation.0, 2 | 4 | 5 | 7) {
        for way in &mut ways {
            way.mirrored = !way.mirrored;
        }
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
        if first.share() < 0.55 {
            return Err(LocateError::LayoutDoesNotFit {
                seen: first.seen,
                of: first.of,
            });
        }
    }
    let floor = first.patches + first.empties - 14.0;
    let tolerance = small_step(panel, &first.map);
    let mut kept: Vec<Placement> = Vec::new();
    for way in ways.iter().filter(|it| it.patches + it.empties >= floor) {
        let twin = kept
            .iter()
            .any(|it| same_map(panel, &it.map, &way.map, tolerance));
        if !twin && kept.len() < 24 {
            kept.push(way.clone());
        }
    }
    let mut candidates: Vec<Candidate> = kept
        .into_iter()
        .map(|it| hear(view, panel, &quads, noise, it))
        .collect();
    candidates.sort_by(|a, b| b.total().total_cmp(&a.total()));
    let best = choose(panel, options, orientation, factor, size, &candidates)?;
    if let Some(distance) = second_panel(view, panel, &ways, &candidates[best.index]) {
        return Err(LocateError::TwoPanels {
            distance: distance * factor as f64,
        });
    }
    let winner = &candidates[best.index];
    let cut: Vec<String> = panel
        .patches
        .iter()
        .filter(|it| !it.empty)
        .filter(|it| {
            winner.placement.map.outline(&it.rect).iter().any(|p| {
                p.x < 0.5
                    || p.y < 0.5
                    || p.x > view.width as f64 - 0.5
                    || p.y > view.height as f64 - 0.5
            })
        })
        .map(|it| it.id.clone())
        .collect();
    if !cut.is_empty() {
        return Err(LocateError::CutOff { patches: cut });
    }
    Ok(Decided {
        map: winner.placement.map,
        cards: found_cards(panel, winner)?,
        witnesses: best.witnesses,
        rival: best.rival,
        noise,
    })
}

/// Ways that regions suggest.
fn search(view: &View, panel: &Panel, quads: &[Quad], noise: f64) -> Vec<Placement> {
    let Some(grid) = &panel.grid else {
        return free::placements(view, panel, quads, noise);
    };
    let patches = panel.patches.iter().filter(|it| !it.empty).count();
    let mut lattices = lattice::grow_all(panel, grid, quads);
    let most = lattices.first().map_or(0, |it| it.cells.len());
    let enough = (most / 2).max(2).min(patches.max(1));
    lattices.retain(|it| it.cells.len() >= enough);
    // Lattices of the same cells are the same lattice.
    let mut out: Vec<Placement> = Vec::new();
    let mut taken: Vec<lattice::Lattice> = Vec::new();
    for mut lattice in lattices {
        if taken.len() >= 10 {
            break;
        }
        let twin = taken.iter().any(|it| same_lattice(grid, it, &lattice));
        if twin {
            continue;
        }
        taken.push(lattice.clone());
        place::refine(view, grid, &mut lattice, noise);
        out.extend(place::placements(view, panel, grid, &lattice, noise));
    }
    out
}

/// Whether all cells of `b` are cells of `a` as well.
fn same_lattice(grid: &crate::panel::Grid, a: &lattice::Lattice, b: &lattice::Lattice) -> bool {
    let places: Vec<([Point; 4], f64)> = a
        .cells
        .iter()
        .map(|it| {
            let corners = a.map.outline(&lattice::Lattice::rect(grid, *it));
            (corners, region::polygon_area(&corners).sqrt())
        })
        .collect();
    b.cells.iter().all(|it| {
        let corners = b.map.outline(&lattice::Lattice::rect(grid, *it));
        places.iter().any(|(other, size)| {
            // Half a turn is left open; a quarter makes another lattice unless the patches are square.
            [0, 2].iter().any(|turn| {
                (0..4).all(|i| (corners[i] - other[(i + turn) % 4]).norm() < 0.1 * size)
            })
        })
    })
}

/// The corners given by hand, and the other turns of them as rivals.
fn by_hand(
    view: &View,
    panel: &Panel,
    corners: [Point; 4],
    factor: usize,
    size: (usize, usize),
    noise: f64,
) -> Result<Vec<Placement>, LocateError> {
    let problem = |it: &str| LocateError::Corners {
        problem: it.to_owned(),
    };
    let outside =
        |p: &Point| !(p.x >= 0.0 && p.y >= 0.0 && p.x <= size.0 as f64 && p.y <= size.1 as f64);
    if corners.iter().any(outside) {
        return Err(problem("lie outside the photo"));
    }
    let shrunk = corners.map(|it| it / factor as f64);
    let convex = (0..4).all(|i| {
        let (a, b, c) = (shrunk[i], shrunk[(i + 1) % 4], shrunk[(i + 2) % 4]);
        let (u, v) = (b - a, c - b);
        u.x * v.y - u.y * v.x > 1.0
    });
    if !convex {
        return Err(problem("do not go clockwise around the grid"));
    }
    let frame = frame(panel).corners();
    let Some(start) = PlaneMap::fit(&frame, &shrunk) else {
        return Err(problem("lie on a line"));
    };
    let settled = place::settle(view, panel, &start, noise);
    // What moves the corners far has latched on to something else.
    let tolerance = 6.0 * small_step(panel, &start) / 10.0;
    let map = if same_map(panel, &settled, &start, tolerance) {
        settled
    } else {
        start
    };
    let mut out = vec![place::weigh(view, panel, &map, noise)];
    let there = frame.map(|it| map.map(it));
    for turn in 1..4 {
        let to = [0, 1, 2, 3].map(|i| there[(i + turn) % 4]);
        if let Some(it) = PlaneMap::fit(&frame, &to)
            && lattice::plausible(&it, panel.extent().centre())
        {
            out.push(place::weigh(view, panel, &it, noise));
        }
    }
    Ok(out)
}

/// The rectangle whose corners are given by hand: the grid's, or that of all patches.
fn frame(panel: &Panel) -> Rect {
    panel.grid.map_or_else(
        || panel.extent(),
        |grid| {
            let [width, height] = grid.size_mm();
            Rect {
                x: 0.0,
                y: 0.0,
                width,
                height,
            }
        },
    )
}

/// A tenth of a patch's shorter side in view pixels.
fn small_step(panel: &Panel, map: &PlaneMap) -> f64 {
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
fn same_map(panel: &Panel, a: &PlaneMap, b: &PlaneMap, tolerance: f64) -> bool {
    panel
        .extent()
        .corners()
        .iter()
        .all(|p| (a.map(*p) - b.map(*p)).norm() < tolerance.max(1.5))
}

/// Asks every witness about a way.
fn hear(view: &View, panel: &Panel, quads: &[Quad], noise: f64, placement: Placement) -> Candidate {
    let map = placement.map;
    let mut says = vec![placement.empties, board(view, panel, &map, noise)];
    let mut cards = Vec::new();
    for placed in &panel.cards {
        let found = card::search(view, quads, panel, placed, &map, noise);
        says.push(match (&found, placed.place) {
            (_, Place::Anywhere) | (Search::Missing, _) => 0.0,
            (Search::Found(_), _) => 6.0,
            (Search::Doubtful, _) => 3.0,
        });
        cards.push(found);
    }
    says.push(shade::favour(view, &map, panel));
    Candidate {
        placement,
        says,
        cards,
    }
}

/// Log likelihood that the board's edges are where a way has them.
fn board(view: &View, panel: &Panel, map: &PlaneMap, noise: f64) -> f64 {
    let Some(rect) = panel.board else {
        return 0.0;
    };
    let corners = rect.corners();
    let scale = map.jacobian(rect.centre()).determinant().abs().sqrt();
    let look = Look {
        noise,
        // Boards are sawn, and their margins measured, to a few millimetres.
        reach: (3.0 * scale).clamp(2.0, 8.0),
        gap_mm: 0.0,
        step: 1.0,
    };
    let centre = map.map(rect.centre());
    let mut sum = 0.0;
    for i in 0..4 {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let parts = 4;
        let seen = (0..parts)
            .filter(|k| {
                let at = |t: i32| a + (b - a) * f64::from(t) / f64::from(parts);
                half_side(view, map, at(*k), at(k + 1), centre, &look).is_some()
            })
            .count();
        // Half a side may be covered, or melt into the table.
        sum += match seen {
            0 => -1.0,
            1 => 0.0,
            2 => 1.0,
            _ => 2.0,
        };
    }
    sum
}

/// What was chosen.
struct Choice {
    index: usize,
    witnesses: Vec<String>,
    rival: f64,
}

/// Names of the witnesses in the order of [`Candidate::says`].
fn names(panel: &Panel) -> Vec<String> {
    let mut out = vec!["empty cells".to_owned(), "the board's margins".to_owned()];
    out.extend(
        panel
            .cards
            .iter()
            .map(|it| format!("card `{}` {}", it.card.id, place_words(it))),
    );
    out.push("known colours".to_owned());
    out
}

/// Where a card should be, in words.
pub(super) fn place_words(placed: &PlacedCard) -> String {
    match placed.place {
        Place::Anywhere => "anywhere in the photo".to_owned(),
        Place::Beside(Side::Left) => "left of the grid".to_owned(),
        Place::Beside(Side::Right) => "right of the grid".to_owned(),
        Place::Beside(Side::Top) => "above the grid".to_owned(),
        Place::Beside(Side::Bottom) => "below the grid".to_owned(),
        Place::AtMm([x, y]) => format!("at {x:.0} mm, {y:.0} mm"),
    }
}

/// Chooses among the ways, best first.
fn choose(
    panel: &Panel,
    options: &Options,
    orientation: Orientation,
    factor: usize,
    size: (usize, usize),
    candidates: &[Candidate],
) -> Result<Choice, LocateError> {
    let names = names(panel);
    let right: Vec<usize> = (0..candidates.len())
        .filter(|it| !candidates[*it].placement.mirrored)
        .collect();
    let Some(&best) = right.first() else {
        return Err(LocateError::Mirrored);
    };
    if let Some(first) = candidates.first()
        && first.total() > candidates[best].total() + SPOKEN
    {
        return Err(LocateError::Mirrored);
    }
    let footprint = |i: usize| candidates[i].placement.map.map(panel.extent().centre());
    let near = 3.0 * small_step(panel, &candidates[best].placement.map);
    let turned = |i: usize| (footprint(i) - footprint(best)).norm() < near;
    let mut index = best;
    let mut by_tag = false;
    if options.corners.is_none() {
        let rivals: Vec<usize> = right
            .iter()
            .copied()
            .filter(|it| *it != best && candidates[*it].total() > candidates[best].total() - NEEDED)
            .collect();
        if let Some(rival) = rivals.first() {
            let margin = candidates[best].total() - candidates[*rival].total();
            if rivals.iter().any(|it| !turned(*it)) {
                return Err(LocateError::Shifted {
                    margin,
                    needed: NEEDED,
                });
            }
            let upright = std::iter::once(best).chain(rivals).find(|it| {
                is_upright(
                    panel,
                    &candidates[*it].placement.map,
                    orientation,
                    factor,
                    size,
                )
            });
            match upright {
                Some(it) if options.upright || panel.upright => (index, by_tag) = (it, true),
                _ => {
                    return Err(LocateError::TurnUndecided {
                        margin,
                        needed: NEEDED,
                    });
                }
            }
        }
    } else {
        // The first of the ways by hand is the one meant, wherever the sort has put it.
        index = right
            .iter()
            .copied()
            .find(|it| {
                options.corners.is_some_and(|corners| {
                    let first = candidates[*it].placement.map.map(frame(panel).corners()[0]);
                    (first - corners[0] / factor as f64).norm() < 2.0 * near
                })
            })
            .ok_or_else(|| LocateError::Corners {
                problem: "do not fit the layout".to_owned(),
            })?;
    }
    let chosen = &candidates[index];
    let mut witnesses = Vec::new();
    for (k, name) in names.iter().enumerate() {
        let here = chosen.says[k];
        let other = right
            .iter()
            .filter(|it| **it != index && turned(**it))
            .map(|it| candidates[*it].says[k]);
        let (low, high) = other.fold((f64::MAX, f64::MIN), |(l, h), it| (l.min(it), h.max(it)));
        if high > here + SPOKEN {
            let chosen = if options.corners.is_some() {
                "the corners given by hand".to_owned()
            } else {
                "everything else".to_owned()
            };
            return Err(LocateError::Contradiction {
                against: name.clone(),
                chosen,
            });
        }
        if low < here - SPOKEN {
            witnesses.push(name.clone());
        }
    }
    if options.corners.is_some() {
        witnesses.push("the corners given by hand".to_owned());
    }
    if by_tag {
        witnesses.push("upright as displayed, as stated".to_owned());
    }
    if witnesses.is_empty() {
        witnesses.push("all outlines together".to_owned());
    }
    let rival = right
        .iter()
        .filter(|it| **it != index)
        .map(|it| (candidates[*it].total() - chosen.total()).exp())
        .fold(0.0, f64::max)
        .min(1.0);
    Ok(Choice {
        index,
        witnesses,
        rival,
    })
}

/// Whether a way has the panel's top up, within 45°, as the photo is displayed.
fn is_upright(
    panel: &Panel,
    map: &PlaneMap,
    orientation: Orientation,
    factor: usize,
    size: (usize, usize),
) -> bool {
    let extent = panel.extent();
    let shown = |p: Point| orientation.to_displayed(map.map(p) * factor as f64, size);
    let centre = extent.centre();
    let up = shown(Point::new(centre.x, extent.y)) - shown(centre);
    -up.y > up.x.abs()
}

/// The cards of a way.
fn found_cards(panel: &Panel, way: &Candidate) -> Result<Vec<Found>, LocateError> {
    panel
        .cards
        .iter()
        .zip(&way.cards)
        .map(|(placed, search)| match search {
            Search::Found(it) => Ok(*it),
            Search::Missing => Err(LocateError::CardMissing {
                card: placed.card.id.clone(),
                place: place_words(placed),
            }),
            Search::Doubtful => Err(LocateError::CardDoubtful {
                card: placed.card.id.clone(),
                place: place_words(placed),
            }),
        })
        .collect()
}

/// Distance to a second place that the layout fits nearly as well, if there is one that no card explains.
fn second_panel(view: &View, panel: &Panel, ways: &[Placement], best: &Candidate) -> Option<f64> {
    let map = &best.placement.map;
    let centre = map.map(panel.extent().centre());
    ways.iter()
        .filter(|it| it.share() > 0.75 && it.share() > 0.8 * best.placement.share())
        .filter_map(|it| {
            let other = it.map.map(panel.extent().centre());
            let inside = map.unmap(other).is_some_and(|p| {
                panel
                    .extent()
                    .inset(-0.1 * panel.extent().width)
                    .contains(&p)
            });
            let card = panel.cards.iter().zip(&best.cards).any(|(placed, search)| {
                let Search::Found(found) = search else {
                    return false;
                };
                let card_map = found.pose.map(&placed.card, map);
                card_map
                    .unmap(other)
                    .is_some_and(|p| placed.card.outer().contains(&p))
            });
            let in_view = other.x > 0.0
                && other.y > 0.0
                && other.x < view.width as f64
                && other.y < view.height as f64;
            (in_view && !inside && !card).then(|| (other - centre).norm())
        })
        .next()
}
