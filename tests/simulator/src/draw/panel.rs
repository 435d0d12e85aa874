//! Drawing the panel, its cards, and what lies around them.

use crate::colorimetry::{Lab, ciede2000, lab_of};
use crate::layout::{CardKind, Layout, OffPatch, Place, PlacedCard, Side, Xy};
use crate::paint::{Recipe, Substrate};
use crate::random::{between, chance, normal, pick, stream, weighted};
use crate::spec::{Clutter, ClutterKind, Mixture, Table, Trouble};
use crate::spectrum::as_f64;
use crate::surface::table_surface;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

/// What lets a measurer decide which way is up, where no card's side does.
#[derive(Clone, Copy, PartialEq)]
enum Witness {
    CardSide,
    Upright,
    EmptyCells,
    Margins,
    None,
}

/// The panel with its cards, and the turn of the pose.
pub(super) fn layout(
    seed: u64,
    hard: bool,
    trouble: Trouble,
    substrate: Substrate,
) -> (Layout, f64) {
    let mut rng = stream(seed, 5);
    let (rows, columns) = match weighted(&mut rng, &[0.75, if hard { 0.2 } else { 0.08 }, 0.17]) {
        0 => (rng.random_range(3..=6), rng.random_range(4..=8)),
        1 => (1, rng.random_range(4..=10)),
        _ => (rng.random_range(6..=10), rng.random_range(6..=10)),
    };
    let width = between(&mut rng, 25.0, 70.0).round();
    let height = if chance(&mut rng, 0.5) {
        width
    } else {
        (width * between(&mut rng, 0.7, 1.4)).round()
    };
    let gap = between(&mut rng, 6.0, 18.0).round();
    let gaps = if chance(&mut rng, 0.7) {
        [gap, gap]
    } else {
        [gap, between(&mut rng, 6.0, 18.0).round()]
    };
    let extent = [
        (width + gaps[0]) * as_f64(columns) - gaps[0],
        (height + gaps[1]) * as_f64(rows) - gaps[1],
    ];
    let witness = match trouble {
        Trouble::NoWitness => Witness::None,
        _ => [
            Witness::CardSide,
            Witness::Upright,
            Witness::EmptyCells,
            Witness::Margins,
        ][weighted(&mut rng, &[0.7, 0.1, 0.1, 0.1])],
    };
    let margin = between(&mut rng, 12.0, 45.0).round();
    let (first, board) = if witness == Witness::Margins {
        let wide = margin + f64::max(45.0, 0.6 * width);
        let (left, top) = if rows == 1 || chance(&mut rng, 0.5) {
            (margin, wide)
        } else {
            (wide, margin)
        };
        (
            [left, top],
            [extent[0] + left + margin, extent[1] + top + margin],
        )
    } else {
        (
            [margin, margin],
            [extent[0] + 2.0 * margin, extent[1] + 2.0 * margin],
        )
    };
    let masked = chance(&mut rng, 0.4).then(|| pick(&mut rng, &Side::ALL));
    let mut recipes: Vec<Option<Recipe>> = (0..rows * columns)
        .map(|_| Some(Recipe::draw(&mut rng)))
        .collect();
    if witness == Witness::EmptyCells {
        // The last cells of the last row: a panel that was not filled.
        let count = rng.random_range(2..=3).min(columns - 1);
        for cell in recipes.iter_mut().rev().take(count) {
            *cell = None;
        }
        // Where another turn would put the empty cells there is something to see, or they would tell nothing.
        let ends = [0, columns - 1, (rows - 1) * columns];
        for cell in ends.into_iter().flat_map(|it| it..it + count) {
            if let Some(Some(recipe)) = recipes.get_mut(cell) {
                *recipe = visible(&mut rng, substrate);
            }
        }
    } else if hard && rows > 1 && witness != Witness::None && chance(&mut rng, 0.25) {
        recipes[rows * columns - 1] = None;
    }
    let upright = witness == Witness::Upright;
    let layout = Layout {
        id: format!("panel-{seed}"),
        title: "Simulated panel".to_owned(),
        rows,
        columns,
        patch: [width, height],
        pitch: [width + gaps[0], height + gaps[1]],
        board,
        first,
        board_stated: witness == Witness::Margins || chance(&mut rng, 0.6),
        upright,
        masked,
        recipes,
        off: Vec::<OffPatch>::new(),
        cards: Vec::new(),
    };
    let cards = cards(&mut rng, &layout, witness, hard);
    let off = if witness == Witness::Margins && hard && chance(&mut rng, 0.5) {
        vec![off_patch(&mut rng, &layout)]
    } else {
        Vec::new()
    };
    let turn = if upright {
        0.0
    } else {
        pick(&mut rng, &[0.0, 90.0, 180.0, 270.0])
    };
    (
        Layout {
            cards,
            off,
            ..layout
        },
        turn,
    )
}

/// A patch in the wide margin of a board, off the grid.
fn off_patch(rng: &mut ChaCha8Rng, layout: &Layout) -> OffPatch {
    let wide = layout.first[0].max(layout.first[1]);
    let side = (0.6 * wide).round();
    let away = -(0.8 * wide).round();
    let extent = layout.extent();
    let at = if layout.first[0] > layout.first[1] {
        [away, between(rng, 0.0, extent[1] - side).max(0.0).round()]
    } else {
        [between(rng, 0.0, extent[0] - side).max(0.0).round(), away]
    };
    OffPatch {
        id: "extra".to_owned(),
        at,
        size: [side, side],
        recipe: Recipe::draw(rng),
    }
}

/// A recipe that differs from its substrate at a glance.
fn visible(rng: &mut ChaCha8Rng, substrate: Substrate) -> Recipe {
    let ground = substrate.surface().0;
    let mut recipe = Recipe::draw(rng);
    for _ in 0..100 {
        if ciede2000(lab_of(&recipe.over(&ground, 1.0)), lab_of(&ground)) > 12.0 {
            break;
        }
        recipe = Recipe::draw(rng);
    }
    recipe
}

/// What the board lies on: anything on which what has to be seen can be seen at all. A grey card on concrete of its own
/// grey has no outline, and a board's margins on a bench of the same wood tell nothing; nobody could decide such a photo.
pub(crate) fn table(
    seed: u64,
    mixture: Mixture,
    layout: &Layout,
    substrate: Substrate,
) -> (Table, u64) {
    let least = if mixture == Mixture::Hard { 5.0 } else { 8.0 };
    let stated_side = layout.cards.iter().any(|it| it.place != Place::Anywhere);
    let mut to_be_seen: Vec<Lab> = Vec::new();
    if layout.cards.iter().any(|it| it.kind == CardKind::Grey18) {
        to_be_seen.push([49.5, 0.0, 0.0]);
    }
    if !stated_side && layout.board_stated {
        to_be_seen.push(lab_of(&substrate.surface().0));
    }
    let mut rng = stream(seed, 8);
    let mut drawn = (Table::Plain, 0);
    for _ in 0..60 {
        drawn = (
            pick(
                &mut rng,
                &[
                    Table::Wood,
                    Table::Cloth,
                    Table::Concrete,
                    Table::Grass,
                    Table::Plain,
                ],
            ),
            rng.random(),
        );
        let colour = lab_of(&table_surface(drawn.0, drawn.1)[0]);
        if to_be_seen.iter().all(|it| ciede2000(*it, colour) > least) {
            break;
        }
    }
    drawn
}

/// One card, sometimes two, laid by hand.
fn cards(rng: &mut ChaCha8Rng, layout: &Layout, witness: Witness, hard: bool) -> Vec<PlacedCard> {
    let kind = [
        CardKind::Grey18,
        CardKind::WhiteGreyBlack,
        CardKind::Chart24,
    ][weighted(rng, &[0.5, 0.25, 0.25])];
    let side = pick(rng, &Side::ALL);
    let mut cards = vec![card(
        rng,
        layout,
        kind,
        side,
        witness == Witness::CardSide,
        hard,
    )];
    if kind == CardKind::Grey18 && chance(rng, 0.12) {
        let opposite = match side {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
            Side::Top => Side::Bottom,
            Side::Bottom => Side::Top,
        };
        cards.push(card(
            rng,
            layout,
            CardKind::Chart24,
            opposite,
            witness == Witness::CardSide,
            hard,
        ));
    }
    cards
}

fn card(
    rng: &mut ChaCha8Rng,
    layout: &Layout,
    kind: CardKind,
    side: Side,
    stated: bool,
    hard: bool,
) -> PlacedCard {
    let turned = if chance(rng, 0.2) {
        pick(rng, &[90u16, 180, 270])
    } else {
        0
    };
    let [w, h] = kind.shape().outer;
    let [w, h] = if turned % 180 == 90 { [h, w] } else { [w, h] };
    let jitter = normal(rng, if hard { 2.0 } else { 1.3 }).clamp(-4.0, 4.0);
    let gap = between(rng, 6.0, 30.0);
    let extent = layout.extent();
    let [bx, by] = layout.first;
    let (right, low) = (layout.board[0] - bx, layout.board[1] - by);
    let slide = |rng: &mut ChaCha8Rng, length: f64, own: f64| {
        length / 2.0 + between(rng, -0.5, 0.5) * (length - own).max(0.0)
    };
    let centre: Xy = match side {
        Side::Left => [-bx - gap - w / 2.0, slide(rng, extent[1], h)],
        Side::Right => [right + gap + w / 2.0, slide(rng, extent[1], h)],
        Side::Top => [slide(rng, extent[0], w), -by - gap - h / 2.0],
        Side::Bottom => [slide(rng, extent[0], w), low + gap + h / 2.0],
    };
    let place = match stated {
        false => Place::Anywhere,
        true if chance(rng, 0.25) => {
            // What the file says is where the card was meant to lie.
            let meant = [centre[0] - w / 2.0, centre[1] - h / 2.0]
                .map(|it| (it + normal(rng, 2.0)).round());
            Place::AtMm(meant)
        }
        true => Place::Beside(side),
    };
    PlacedCard {
        kind,
        place,
        stated_turn: (stated && turned != 0 && chance(rng, 0.5)).then_some(turned),
        centre,
        angle: f64::from(turned) + jitter,
        height: 0.0,
    }
}

/// Things around board and cards, none of them on either.
pub(crate) fn clutter(seed: u64, mixture: Mixture, layout: &Layout) -> Vec<Clutter> {
    let mut rng = stream(seed, 7);
    let (count, kinds): (usize, &[ClutterKind]) = match mixture {
        Mixture::Flawless => (0, &[ClutterKind::Paper]),
        Mixture::Ordinary => (
            rng.random_range(0..=4),
            &[
                ClutterKind::Paper,
                ClutterKind::Stick,
                ClutterKind::Round,
                ClutterKind::Swatch,
            ],
        ),
        Mixture::Hard => (
            rng.random_range(3..=10),
            &[
                ClutterKind::Paper,
                ClutterKind::Stick,
                ClutterKind::Round,
                ClutterKind::Swatch,
                ClutterKind::Swatch,
                ClutterKind::CardLike,
                ClutterKind::Row,
            ],
        ),
    };
    let mut out = Vec::new();
    for _ in 0..count * 4 {
        if out.len() == count {
            break;
        }
        let kind = pick(&mut rng, kinds);
        let unit = layout.patch[0];
        let size = match kind {
            ClutterKind::Paper => [
                between(&mut rng, 90.0, 210.0),
                between(&mut rng, 120.0, 297.0),
            ],
            ClutterKind::Swatch => [
                unit * between(&mut rng, 0.6, 1.8),
                unit * between(&mut rng, 0.6, 1.8),
            ],
            ClutterKind::CardLike => [
                between(&mut rng, 60.0, 130.0),
                between(&mut rng, 60.0, 130.0),
            ],
            ClutterKind::Row => [unit * 7.0, unit],
            ClutterKind::Stick => [
                between(&mut rng, 120.0, 300.0),
                between(&mut rng, 7.0, 25.0),
            ],
            ClutterKind::Round => [between(&mut rng, 50.0, 110.0); 2],
        };
        let reach = [0, 1].map(|i| layout.board[i] * 0.5 + 220.0);
        let middle = [0, 1].map(|i| layout.board[i] / 2.0 - layout.first[i]);
        let centre = [0, 1].map(|i| middle[i] + between(&mut rng, -1.0, 1.0) * reach[i]);
        let angle = between(&mut rng, 0.0, 360.0);
        let item_seed = rng.random();
        if is_free(layout, centre, size[0].hypot(size[1]) / 2.0) {
            out.push(Clutter {
                centre,
                size,
                angle,
                seed: item_seed,
                kind,
            });
        }
    }
    out
}

/// Whether a circle keeps clear of board and cards.
fn is_free(layout: &Layout, centre: Xy, radius: f64) -> bool {
    let outside = |low: Xy, high: Xy| {
        let d = [0, 1].map(|i| (low[i] - centre[i]).max(centre[i] - high[i]).max(0.0));
        d[0].hypot(d[1]) > radius + 4.0
    };
    let board = outside(
        [-layout.first[0], -layout.first[1]],
        [
            layout.board[0] - layout.first[0],
            layout.board[1] - layout.first[1],
        ],
    );
    board
        && layout.cards.iter().all(|card| {
            let [w, h] = card.kind.shape().outer;
            let reach = w.hypot(h) / 2.0;
            (card.centre[0] - centre[0]).hypot(card.centre[1] - centre[1]) > reach + radius
        })
}
