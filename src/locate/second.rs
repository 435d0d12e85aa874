//! Whether the layout fits in a second place that is a panel, too.

use super::candidate::{self, Candidate};
use super::card::{SIZES, Search};
use super::decide::{self, FAINTLY, VOUCHED};
use super::ground::Ground;
use super::laid::{Asked, Laid};
use super::place::Placement;
use super::region::{Quad, polygon_area};
use super::view::View;
use super::{rim, sawn};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Panel, Patch, Place};
use std::cell::LazyCell;

/// Sum of beliefs in patches that one or two regions don't reach.
const MORE_THAN_TWO: f64 = 2.5;

/// Share of the patches that must be seen for a second panel, by their number: one or two regions are no panel, and of few some
/// may be clutter.
fn enough(seen: f64) -> f64 {
    match seen {
        it if it < MORE_THAN_TWO => f64::INFINITY,
        it if it < 6.0 => 0.75,
        it if it < 10.0 => 0.68,
        _ => 0.5,
    }
}

/// Fewest regions that the first panel leaves unexplained for a second to be looked for among them.
const FEWEST: usize = 3;

/// Distance to a second place that the layout fits nearly as well, if there is one that no card and nothing of the first explains.
///
/// It is looked for among the ways, then on the lattices, and then on the regions that the first leaves: a lattice that reaches over two
/// boards alike keeps that of the other out of them.
pub(super) fn panel(
    view: &View,
    panel: &Panel,
    quads: &[Quad],
    ways: &[Placement],
    lattices: &mut [Laid],
    best: &Candidate,
    hear: &dyn Fn(Vec<Placement>) -> Vec<Candidate>,
) -> Option<f64> {
    let map = &best.placement.map;
    let cards = Cards::of(panel, best);
    // Around it is what is beyond it, as far as that can be seen.
    let boardless = LazyCell::new(|| Ground::read(view, panel, map).is_none());
    let may_be = |it: &PlaneMap| elsewhere(view, panel, it, map, &cards);
    let is_second = |it: &Placement| {
        may_be(&it.map)
            && is_panel(view, panel, it, best, &|| *boardless, &cards)
            && has_its_own(view, panel, it, map)
            && !clutter(view, panel, it, best, hear)
    };
    let centre = map.map(panel.extent().centre());
    let distance = |it: &Placement| (it.map.map(panel.extent().centre()) - centre).norm();
    let among = |ways: &[Placement]| ways.iter().find(|it| is_second(it)).map(distance);
    let on = |lattices: &mut [Laid]| {
        let asked = |way: &PlaneMap| {
            may_be(way).then(|| {
                let open = panel.patches.iter().filter(|it| is_open(way, &cards, it));
                Asked {
                    score: f64::NEG_INFINITY,
                    seen: MORE_THAN_TWO.max(FAINTLY * open.count() as f64),
                }
            })
        };
        let mut ways = decide::lay(view, panel, lattices, &asked, &|_| ());
        ways.sort_by(|a, b| b.score().total_cmp(&a.score()));
        among(&ways)
    };
    among(ways).or_else(|| on(lattices)).or_else(|| {
        let left = unexplained(panel, map, &cards, quads);
        if left.len() < FEWEST {
            return None;
        }
        among(&decide::suggested(view, panel, &left))
            .or_else(|| on(&mut decide::grow(view, panel, &left, &may_be)))
    })
}

/// Whether a way has the layout in view, as large as the first, and neither on it nor on a card.
fn elsewhere(view: &View, panel: &Panel, way: &PlaneMap, first: &PlaneMap, cards: &Cards) -> bool {
    let extent = panel.extent();
    let centre = way.map(extent.centre());
    let around = extent.inset(-0.1 * extent.width);
    view.holds(centre)
        && !first.unmap(centre).is_some_and(|p| around.contains(&p))
        && !cards.cover(centre)
        && as_large(panel, way, first)
}

/// Whether a patch of a way is not empty, and no card hides it.
fn is_open(way: &PlaneMap, cards: &Cards, patch: &Patch) -> bool {
    !patch.empty && !cards.hide(way, &patch.rect)
}

/// The regions that are neither on the first panel nor on its cards, and in its plane as large as a patch or its half.
fn unexplained(panel: &Panel, map: &PlaneMap, cards: &Cards, quads: &[Quad]) -> Vec<Quad> {
    let sizes: Vec<f64> = (panel.patches.iter().filter(|it| !it.empty))
        .flat_map(|it| {
            let area = it.rect.width * it.rect.height;
            [Some(area), it.masked.map(|_| area / 2.0)]
        })
        .flatten()
        .collect();
    let extent = panel.extent();
    let left = |quad: &&Quad| {
        let Some(at) = map.unmap(quad.centre) else {
            return true;
        };
        let area = quad.area / map.jacobian(at).determinant().abs();
        let as_large = sizes.iter().any(|it| SIZES.contains(&(area / it).sqrt()));
        as_large && !extent.contains(&at) && !cards.cover(quad.centre)
    };
    quads.iter().filter(left).copied().collect()
}

/// Where the cards of the first panel lie.
struct Cards(Vec<(PlaneMap, Rect)>);

impl Cards {
    /// Those that were found.
    fn of(panel: &Panel, best: &Candidate) -> Self {
        let found = panel.cards.iter().zip(&best.cards);
        let lie = found.filter_map(|(placed, search)| match search {
            Search::Found(it) => {
                let map = it.pose.map(&placed.card, &best.placement.map);
                Some((map, placed.card.outer()))
            }
            Search::Missing | Search::Doubtful | Search::Askew => None,
        });
        Self(lie.collect())
    }

    /// Whether one lies on a place in the view.
    fn cover(&self, at: Point) -> bool {
        let mut all = self.0.iter();
        all.any(|(map, outer)| map.unmap(at).is_some_and(|p| outer.contains(&p)))
    }

    /// Whether one lies on some of a patch.
    fn hide(&self, map: &PlaneMap, rect: &Rect) -> bool {
        let mut corners = map.outline(rect).into_iter();
        self.cover(map.map(rect.centre())) || corners.any(|it| self.cover(it))
    }
}

/// Sides beyond which the table must show for a way to lie on a board of its own: something else may lie along one.
const BOARD_SIDES: usize = 3;

/// Whether so much is seen of a way that it is a panel: enough of its patches; or fewer, on a board whose edges are seen, too, or on any board where the
/// first has none that ends, as a row of cards on the table.
///
/// What a card lies on says nothing.
fn is_panel(
    view: &View,
    panel: &Panel,
    way: &Placement,
    best: &Candidate,
    boardless: &dyn Fn() -> bool,
    cards: &Cards,
) -> bool {
    let map = &way.map;
    if way.seen < MORE_THAN_TWO {
        return false;
    }
    let open = |it: &Patch| is_open(map, cards, it);
    let of = panel.patches.iter().filter(|it| open(it)).count();
    let seen = seen(view, panel, way, &best.placement.map, open);
    let share = seen / (of as f64).max(1.0);
    let by_patches = share > enough(seen) && share > 0.65 * best.placement.share();
    let on_a_board = || {
        let ground = || Ground::read(view, panel, map);
        sawn::says(view, panel, map) > VOUCHED
            || boardless() && ground().is_some_and(|it| it.sides() >= BOARD_SIDES)
    };
    by_patches || (seen > MORE_THAN_TWO && share > FAINTLY && on_a_board())
}

/// Sum of beliefs in some patches of a way.
///
/// Only what is plainly seen counts, since clutter on a mottled table goes on faintly; but on a board like the first's, faint patches
/// are as good as there.
fn seen(
    view: &View,
    panel: &Panel,
    way: &Placement,
    first: &PlaneMap,
    counts: impl Fn(&Patch) -> bool,
) -> f64 {
    let all = panel.patches.iter().zip(&way.believed);
    let (mut plain, mut visible) = (0.0, 0.0);
    for (_, it) in all.filter(|it| counts(it.0)) {
        plain += it.plain;
        visible += it.visible;
    }
    // The board is asked where it matters.
    if visible > MORE_THAN_TWO
        && visible > plain
        && rim::on_a_board_alike(view, panel, &way.map, first)
    {
        visible
    } else {
        plain
    }
}

/// Whether two ways have the layout about as large in one plane: panels of one layout that lie on one table are.
fn as_large(panel: &Panel, way: &PlaneMap, plane: &PlaneMap) -> bool {
    let extent = panel.extent();
    let mut corners = way.outline(&extent);
    for it in &mut corners {
        // Beyond the horizon nothing says how large it is.
        let Some(p) = plane.unmap(*it) else {
            return true;
        };
        *it = p;
    }
    SIZES.contains(&(polygon_area(&corners) / (extent.width * extent.height)).sqrt())
}

/// Whether a way has patches that are seen where another has none: a row turned about its end is no second one.
fn has_its_own(view: &View, panel: &Panel, way: &Placement, other: &PlaneMap) -> bool {
    let patches = || panel.patches.iter().filter(|it| !it.empty);
    let shared = |p| {
        other
            .unmap(p)
            .is_some_and(|p| patches().any(|it| it.rect.contains(&p)))
    };
    let own = |it: &Patch| !it.empty && !shared(way.map.map(it.rect.centre()));
    seen(view, panel, way, other, own) > MORE_THAN_TWO
}

/// Whether what fits the layout is a row of clutter: it lacks the edges of the board that the panel file states, and the first shows; or it lies on the table
/// itself, and lacks a card where the panel file says. Where cards may lie anywhere, they say nothing of which place is the panel: then the first must lie on a
/// board.
fn clutter(
    view: &View,
    panel: &Panel,
    way: &Placement,
    best: &Candidate,
    hear: &dyn Fn(Vec<Placement>) -> Vec<Candidate>,
) -> bool {
    let map = &best.placement.map;
    let board = sawn::says(view, panel, &way.map);
    if board < 0.0 && best.says[candidate::BOARD] > board + VOUCHED {
        return true;
    }
    if !rim::on_the_table(view, panel, &way.map, map) {
        return false;
    }
    let found = |it: &Search| matches!(it, Search::Found(_));
    let lacks = |it: &Candidate| {
        let mut pairs = best.cards.iter().zip(&it.cards);
        pairs.any(|(first, second)| found(first) && matches!(second, Search::Missing))
    };
    let anywhere = panel.cards.iter().all(|it| it.place == Place::Anywhere);
    (anywhere && !rim::on_the_table(view, panel, map, &way.map))
        || hear(vec![way.clone()]).iter().any(lacks)
}
