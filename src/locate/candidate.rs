//! What each witness says of a way of laying the layout.

use super::card::{self, Search, Sightings};
use super::chart::Chart;
use super::choose::NEEDED;
use super::decide::small_step;
use super::ends;
use super::ground::Ground;
use super::level;
use super::place::{self, Placement};
use super::pose::{self, Motion};
use super::region::{self, Quad};
use super::rim::{self, Beside};
use super::view::View;
use super::{sawn, shade};
use crate::geometry::{PlaneMap, Point};
use crate::panel::{Panel, Patch, Place, PlacedCard, Side};
use std::cell::LazyCell;
use std::collections::BTreeMap;

/// Where the board around the patches stands among what witnesses say.
pub(super) const AROUND: usize = 1;
/// Where the board's margins stand among what witnesses say.
pub(super) const BOARD: usize = 2;

/// A way of laying the layout and what each witness says of it.
pub(super) struct Candidate {
    pub placement: Placement,
    /// Log likelihoods of empty cells, the board around patches, its margins, cards …, colours.
    pub says: Vec<f64>,
    /// What came of looking for each card.
    pub cards: Vec<Search>,
}

impl Candidate {
    pub(super) fn total(&self) -> f64 {
        self.placement.patches + self.placement.clear + self.says.iter().sum::<f64>()
    }
}

/// A card is found where it lies in this share of photos …
const FOUND: f64 = 0.97;
/// … and where none lies, something is taken for a card of few zones this often, and for a chart this often.
const PHANTOM: [f64; 2] = [0.05, 0.001];

/// Millimetres that a card laid where the panel file has it is off by along each axis, as a standard deviation: a guess, laid by eye beside a
/// ruler. One laid with less care says no less than one in doubt.
const LAID: f64 = 15.0;

/// Asks every witness about every way.
pub(super) fn hear(
    view: &View,
    panel: &Panel,
    quads: &[Quad],
    charts: &[Option<Chart>],
    placements: Vec<Placement>,
) -> Vec<Candidate> {
    // Ways of one lattice share a plane, and what lies in it is looked for once.
    let mut planes: BTreeMap<(usize, usize), Vec<Placement>> = BTreeMap::new();
    for (i, it) in placements.into_iter().enumerate() {
        let key = it
            .lattice
            .map_or((i, usize::MAX), |lattice| (usize::MAX, lattice));
        planes.entry(key).or_default().push(it);
    }
    // Charts are found by themselves, and what lies on them is no card.
    let on_chart = |it: &Quad| charts.iter().flatten().any(|chart| chart.covers(it.centre));
    let at_half = LazyCell::new(|| {
        let mut all = region::coarse(view);
        all.retain(|it| !on_chart(it));
        all
    });
    let coarse = || at_half.as_slice();
    let mut heard: Vec<Heard> = Vec::new();
    for (plane_of, mut ways) in planes.into_values().enumerate() {
        // What is seen in the mirrored ways' plane would be seen in a mirror.
        let Some(plane) = ways.iter().find(|it| !it.mirrored).or(ways.first()) else {
            continue;
        };
        let mut plane = plane.map;
        let motions: Vec<Motion> = ways.iter().map(|it| motion(&plane, &it.map)).collect();
        // A line of patches says little of where in its plane other cards lie.
        if let Some(levelled) = level::by_chart(view, panel, charts, &plane) {
            plane = levelled;
            for (way, motion) in ways.iter_mut().zip(&motions) {
                *way = Placement {
                    mirrored: way.mirrored,
                    lattice: way.lattice,
                    ..place::weigh(view, panel, &moved(&plane, motion))
                };
            }
        }
        let sightings: Vec<Sightings> = panel
            .cards
            .iter()
            .zip(charts)
            .map(|(placed, chart)| {
                card::look_for(
                    view,
                    (quads, &coarse),
                    chart.as_ref(),
                    panel,
                    placed,
                    &plane,
                    &motions,
                )
            })
            .collect();
        let searched: Vec<Vec<Search>> = motions
            .iter()
            .map(|motion| {
                let all = panel.cards.iter().zip(&sightings);
                all.map(|(placed, seen)| seen.at_its_place(panel, placed, motion))
                    .collect()
            })
            .collect();
        heard.extend(
            ways.into_iter()
                .zip(searched)
                .map(|(placement, cards)| Heard {
                    plane: plane_of,
                    placement,
                    cards,
                }),
        );
    }
    let likest: Vec<Vec<f64>> = heard.iter().map(|it| likest(panel, &heard, it)).collect();
    heard
        .into_iter()
        .zip(likest)
        .map(|(it, likest)| candidate(view, panel, charts, it, &likest))
        .collect()
}

/// A way, and what came of looking for each card where it has it.
struct Heard {
    /// Which of the planes it lies in.
    plane: usize,
    placement: Placement,
    cards: Vec<Search>,
}

/// Distance within which two ways have the panel in the same place, in tenths of a patch.
const SAME_PLACE: f64 = 3.0;

/// For each card, the score of what is most like it where any way has it that shares the plane, or has the panel in the same place: turned by a quarter, rows of
/// another pitch than columns make another lattice of what is seen.
fn likest(panel: &Panel, heard: &[Heard], way: &Heard) -> Vec<f64> {
    let middle = |it: &Placement| it.map.map(panel.extent().centre());
    let near = SAME_PLACE * small_step(panel, &way.placement.map);
    let beside = |it: &&Heard| {
        let off = middle(&it.placement) - middle(&way.placement);
        it.plane == way.plane || off.norm() < near
    };
    let all: Vec<&Heard> = heard.iter().filter(beside).collect();
    (0..panel.cards.len())
        .map(|i| {
            let scores = all.iter().filter_map(|it| it.cards[i].score());
            scores.fold(f64::MIN, f64::max)
        })
        .collect()
}

/// Asks every witness about one way; `likest` is for each card the score of what is most like it.
fn candidate(
    view: &View,
    panel: &Panel,
    charts: &[Option<Chart>],
    heard: Heard,
    likest: &[f64],
) -> Candidate {
    let Heard {
        placement, cards, ..
    } = heard;
    let map = &placement.map;
    let has_bare =
        placement.seen < placement.of - HARDLY || panel.patches.iter().any(|it| it.empty);
    let cut = if cut_off(view, panel, map).next().is_some() {
        CUT_OFF
    } else {
        0.0
    };
    let cut = cut + under_chart(panel, charts, map);
    let ground = has_bare.then(|| Ground::read(view, panel, map)).flatten();
    let unseen = ground
        .as_ref()
        .map_or(0.0, |it| it.under_unseen(view, panel, &placement));
    let mut says = vec![
        placement.empties
            + bare(view, panel, map, ground.as_ref())
            + ends::within(view, panel, map, &placement.believed),
        rim::shows(view, panel, map) + cut + unseen,
        sawn::says(view, panel, map),
    ];
    let searches = panel.cards.iter().zip(cards.iter().zip(likest));
    says.extend(searches.map(|(placed, (search, likest))| card_says(placed, search, *likest)));
    says.push(shade::favour(view, map, panel));
    Candidate {
        placement,
        says,
        cards,
    }
}

/// Millimetres of one map to those of another that sends them to the same pixels.
fn motion(from: &PlaneMap, to: &PlaneMap) -> Motion {
    to.homography
        .try_inverse()
        .map_or_else(Motion::identity, |back| {
            let out = back * from.homography;
            out / out[(2, 2)]
        })
}

/// A way's map: its millimetres moved back to the plane's, and those to pixels.
fn moved(plane: &PlaneMap, by: &Motion) -> PlaneMap {
    let back = by.try_inverse().unwrap_or_else(Motion::identity);
    let homography = plane.homography * back;
    PlaneMap {
        homography: homography / homography[(2, 2)],
        ..*plane
    }
}

/// Log likelihood of a search's outcome if the way is right, over its being wrong; `likest` is the score of what is most like the card where this way or another
/// has it.
///
/// A lead that settles which of two things in one place is the card settles it between the places of two ways as well: what is so much less like it is none.
fn card_says(placed: &PlacedCard, search: &Search, likest: f64) -> f64 {
    let phantom = PHANTOM[usize::from(card::told_by_colours(&placed.card))];
    let found = (FOUND / phantom).ln();
    let missing = ((1.0 - FOUND) / (1.0 - phantom)).ln();
    match search {
        Search::Found(it) => {
            let away = pose::away(placed, &it.pose).unwrap_or(0.0) / LAID;
            let there = (found - away * away / 2.0).max(0.5 * found);
            let behind = it.behind(likest, placed.card.patches.len() == 1);
            (there - NEEDED * behind).max(missing)
        }
        Search::Doubtful | Search::Askew => 0.5 * found,
        Search::Missing => missing,
    }
}

/// Log likelihood of a way that has its board's rim under a chart that was found by itself: a chart is laid beside the board. A guess, for one photo in some hundreds.
const UNDER_CHART: f64 = -6.0;
/// Millimetres by which a board's edge may seem to lie under a chart that lies beside it: sawn edges and the map err by some. And of a narrow board a share.
const BESIDE: (f64, f64) = (6.0, 0.25);
/// Places along each side of the board that are asked.
const PLACES: i32 = 16;

/// What a chart says of a way that has some of the stated board's rim under it.
fn under_chart(panel: &Panel, charts: &[Option<Chart>], map: &PlaneMap) -> f64 {
    let Some(board) = &panel.board else {
        return 0.0;
    };
    // What lies on it from beside it crosses its rim.
    let within = BESIDE.0.min(BESIDE.1 * board.width.min(board.height));
    let corners = board.inset(within).corners();
    let rim = (0..4).flat_map(|i| {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        (0..PLACES).map(move |k| a + (b - a) * (f64::from(k) / f64::from(PLACES)))
    });
    let covered = |p: Point| charts.iter().flatten().any(|it| it.covers(map.map(p)));
    if rim.into_iter().any(covered) {
        UNDER_CHART
    } else {
        0.0
    }
}

/// Log likelihood of a way that has patches outside of the photo: who photographs a panel has it in view.
const CUT_OFF: f64 = -5.0;

/// The patches that a way has partly outside of the photo.
pub(super) fn cut_off<'a>(
    view: &View,
    panel: &'a Panel,
    map: &PlaneMap,
) -> impl Iterator<Item = &'a Patch> {
    let (width, height) = (view.width as f64 - 0.5, view.height as f64 - 0.5);
    panel.patches.iter().filter(move |it| {
        let outside = |p: &Point| p.x < 0.5 || p.y < 0.5 || p.x > width || p.y > height;
        !it.empty && map.outline(&it.rect).iter().any(outside)
    })
}

/// How far an empty cell's colour may be from the board's between the patches, beside its own spread: wood varies.
pub(super) const BOARD_LIKE: f64 = 6.0;
/// Log likelihood of a place that does not show the board where the layout has it: a label or a spill may hide it.
const NOT_BARE: f64 = -3.0;
/// The same where a highlight or a shadow could have changed it.
const LIT: f64 = -1.0;

/// Sum of beliefs that may lack for all patches to be seen.
const HARDLY: f64 = 0.3;

/// Log likelihood that empty cells show the bare board, as it lies around their neighbours, and not the table.
fn bare(view: &View, panel: &Panel, map: &PlaneMap, ground: Option<&Ground>) -> f64 {
    let Some(grid) = &panel.grid else {
        return 0.0;
    };
    let gap = [0, 1].map(|k| grid.pitch_mm[k] - grid.patch_mm[k]);
    let mut out = 0.0;
    for cell in panel.patches.iter().filter(|it| it.empty) {
        let Some((colour, spread)) = shade::inside(view, map, &cell.rect) else {
            // Who photographs a board has it in view.
            out += NOT_BARE;
            continue;
        };
        if let Some(board) =
            rim::nearest(panel, cell).and_then(|it| shade::around(view, map, &it.rect, gap))
        {
            let table = ground.is_some_and(|it| it.shows(view, map, &cell.rect, board));
            out += match rim::what(colour, board, BOARD_LIKE + spread) {
                _ if table => NOT_BARE,
                Beside::Board => 0.0,
                Beside::Lit => LIT,
                Beside::Other => NOT_BARE,
            };
        }
    }
    out
}

/// Names of the witnesses in the order of [`Candidate::says`].
pub(super) fn names(panel: &Panel) -> Vec<String> {
    let mut out = vec![
        "empty cells".to_owned(),
        "the board around the patches".to_owned(),
        "the board's margins".to_owned(),
    ];
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
