//! Drawing scenes: what is likely in each mixture.
//!
//! Each group of factors has its own stream of draws, so a change in one does not move the others.

use crate::camera::{CAMERAS_PER_SPLIT, CameraId};
use crate::colorimetry::{Lab, ciede2000, lab_of};
use crate::layout::{CardKind, Layout, OffPatch, Place, PlacedCard, Side, Xy};
use crate::light::{LightKind, Split, TintedLight};
use crate::paint::{Recipe, Substrate};
use crate::random::{between, chance, log_between, normal, pick, stream, weighted};
use crate::scene::{Scene, table_surface};
use crate::spec::{
    CameraSpec, Clutter, ClutterKind, Encoding, ExifSpec, Field, Highlight, Mixture, SceneSpec,
    Shadow, Space, Table, ToneCurve, ToneStrength, Trouble,
};
use crate::spectrum::as_f64;
use crate::view::Pose;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

impl Scene {
    /// A scene of the ordinary mixture, test cameras and lights.
    #[must_use]
    pub fn ordinary(seed: u64) -> Self {
        SceneSpec::draw(Mixture::Ordinary, Split::Test, seed).build()
    }

    /// A scene of the hard mixture, test cameras and lights.
    #[must_use]
    pub fn hard(seed: u64) -> Self {
        SceneSpec::draw(Mixture::Hard, Split::Test, seed).build()
    }

    /// A scene without flaws, test cameras and lights.
    #[must_use]
    pub fn flawless(seed: u64) -> Self {
        SceneSpec::draw(Mixture::Flawless, Split::Test, seed).build()
    }
}

/// What lets a measurer decide which way is up, where no card's side does.
#[derive(Clone, Copy, PartialEq)]
enum Witness {
    CardSide,
    Upright,
    EmptyCells,
    Margins,
    None,
}

impl SceneSpec {
    /// Draws every factor. The same arguments always give the same scene.
    #[must_use]
    pub fn draw(mixture: Mixture, split: Split, seed: u64) -> Self {
        Self::draw_with(mixture, split, seed, Trouble::None)
    }

    /// Draws a scene that has something wrong on purpose.
    #[must_use]
    pub fn troubled(trouble: Trouble, split: Split, seed: u64) -> Self {
        Self::draw_with(Mixture::Ordinary, split, seed, trouble)
    }

    fn draw_with(mixture: Mixture, split: Split, seed: u64, trouble: Trouble) -> Self {
        let hard = mixture == Mixture::Hard;
        let flawless = mixture == Mixture::Flawless;
        let mut rng = stream(seed, 1);
        let substrate = if hard {
            pick(&mut rng, &Substrate::ALL)
        } else {
            Substrate::ALL[weighted(&mut rng, &[0.35, 0.2, 0.12, 0.18, 0.1, 0.05])]
        };
        let (layout, turn) = layout(seed, hard, trouble, substrate);
        let thickness = if flawless {
            0.0
        } else {
            between(&mut rng, 0.0, 18.0)
        };
        let mut layout = layout;
        for card in &mut layout.cards {
            card.height = if flawless || chance(&mut rng, 0.5) {
                0.0
            } else {
                1.5 - thickness
            };
        }
        let (light_kind, light, second) = lights(seed, mixture, split);
        let extent = layout.extent();
        let half = f64::max(extent[0], extent[1]) / 2.0;
        let mut rng = stream(seed, 2);
        let field = if flawless {
            Field::default()
        } else {
            field(&mut rng, hard, half, extent)
        };
        let second =
            second.map(|(light, share)| (light, share, self::field(&mut rng, true, half, extent)));
        let shadows = if hard && chance(&mut rng, 0.35) {
            vec![shadow(&mut rng, extent)]
        } else {
            Vec::new()
        };
        let highlights = highlights(&mut rng, mixture, extent);
        let mut rng = stream(seed, 3);
        let tone_strength = match mixture {
            Mixture::Flawless => ToneStrength::None,
            _ => [ToneStrength::None, ToneStrength::Mild, ToneStrength::Strong]
                [weighted(&mut rng, &[0.2, 0.5, 0.3])],
        };
        let camera = camera(&mut rng, mixture, split, tone_strength);
        let mut rng = stream(seed, 4);
        let stored_as = if chance(&mut rng, 0.8) {
            pick(&mut rng, &[1, 6, 3, 8])
        } else {
            pick(&mut rng, &[2, 4, 5, 7])
        };
        // A wrong tag on mirrored pixels would leave the picture mirrored, which has to be refused.
        let plain = matches!(stored_as, 1 | 3 | 6 | 8);
        let wrong = plain && !layout.upright && chance(&mut rng, if hard { 0.3 } else { 0.1 });
        let tag = if wrong {
            Some(pick(&mut rng, &[1, 3, 6, 8]))
        } else {
            Some(stored_as)
        };
        let (table, table_seed) = table(seed, mixture, &layout, substrate);
        let pose = pose(&mut rng, mixture, turn);
        Self {
            mixture,
            split,
            panel_seed: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x51,
            shot_seed: seed ^ 0x5eed_0000,
            clutter: clutter(seed, mixture, &layout),
            exposure: if layout.masked.is_some() {
                log_between(&mut rng, 0.05, 1.0)
            } else {
                0.0
            },
            layout,
            trouble,
            substrate,
            thickness,
            grain: if hard {
                between(&mut rng, 0.5, 1.2)
            } else {
                between(&mut rng, 0.3, 0.8)
            },
            grain_angle: pick(&mut rng, &[0.0, 90.0]) + normal(&mut rng, 2.0),
            mottle: log_between(&mut rng, 0.003, if hard { 0.04 } else { 0.02 }),
            wobble: if flawless {
                0.0
            } else {
                between(&mut rng, 0.0, 0.6)
            },
            half_difference: if flawless { 0.0 } else { 0.05 },
            card_deviation: 0.0,
            table,
            table_seed,
            light_kind,
            light,
            field,
            second,
            shadows,
            highlights,
            pose,
            stored_as,
            tag,
            portrait: chance(&mut rng, 0.4),
            camera,
            tone_strength,
            exif: exif(&mut rng, light_kind),
        }
    }

    /// The same panel in the same set-up, shot once more by hand: new noise, and a pose that differs a little.
    #[must_use]
    pub fn reshoot(&self, shot: u64) -> Self {
        let mut rng = stream(
            self.shot_seed ^ shot.wrapping_mul(0x2545_f491_4f6c_dd1d),
            21,
        );
        let mut next = self.clone();
        next.shot_seed = rng.random();
        next.pose.turn += normal(&mut rng, 0.7);
        next.pose.tilt = (next.pose.tilt + normal(&mut rng, 0.6)).clamp(0.0, 30.0);
        next.pose.fill = (next.pose.fill * (1.0 + normal(&mut rng, 0.015))).clamp(0.25, 0.93);
        next.pose.shift = next
            .pose
            .shift
            .map(|it| (it + normal(&mut rng, 0.08)).clamp(-0.8, 0.8));
        next
    }

    /// The same panel with the same cards at another time: another light, phone, pose and place of the cards' jitter.
    #[must_use]
    pub fn elsewhere(&self, seed: u64) -> Self {
        let other = Self::draw(self.mixture, self.split, seed);
        let mut rng = stream(seed, 22);
        let turn = if self.layout.upright {
            0.0
        } else {
            pick(&mut rng, &[0.0, 90.0, 180.0, 270.0])
        };
        let jitter = other.pose.turn - (other.pose.turn / 90.0).round() * 90.0;
        let mut next = Self {
            panel_seed: self.panel_seed,
            layout: self.layout.clone(),
            substrate: self.substrate,
            thickness: self.thickness,
            grain: self.grain,
            grain_angle: self.grain_angle,
            mottle: self.mottle,
            wobble: self.wobble,
            half_difference: self.half_difference,
            exposure: self.exposure,
            card_deviation: self.card_deviation,
            trouble: self.trouble,
            ..other
        };
        next.pose.turn = turn + jitter;
        if self.layout.upright {
            next.tag = Some(next.stored_as);
        }
        for card in &mut next.layout.cards {
            card.centre = card.centre.map(|it| it + normal(&mut rng, 1.5));
            card.angle += normal(&mut rng, 1.0);
        }
        (next.table, next.table_seed) = table(seed, next.mixture, &next.layout, next.substrate);
        next.clutter = clutter(seed, next.mixture, &next.layout);
        next
    }
}

/// The panel with its cards, and the turn of the pose.
fn layout(seed: u64, hard: bool, trouble: Trouble, substrate: Substrate) -> (Layout, f64) {
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
    let turn = if upright {
        0.0
    } else {
        pick(&mut rng, &[0.0, 90.0, 180.0, 270.0])
    };
    (Layout { cards, ..layout }, turn)
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
fn table(seed: u64, mixture: Mixture, layout: &Layout, substrate: Substrate) -> (Table, u64) {
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

/// Kind and spectrum of the main light, and a second one.
fn lights(
    seed: u64,
    mixture: Mixture,
    split: Split,
) -> (LightKind, TintedLight, Option<(TintedLight, f64)>) {
    let mut rng = stream(seed, 6);
    let kinds = [
        LightKind::Daylight,
        LightKind::Overcast,
        LightKind::Incandescent,
        LightKind::Fluorescent,
        LightKind::Led,
    ];
    let kind = kinds[weighted(&mut rng, &[0.45, 0.15, 0.08, 0.12, 0.2])];
    let light = TintedLight::draw(&mut rng, kind, split);
    let share = if mixture == Mixture::Hard { 0.35 } else { 0.15 };
    let second = (mixture != Mixture::Flawless && chance(&mut rng, share)).then(|| {
        let other = pick(
            &mut rng,
            &[LightKind::Overcast, LightKind::Incandescent, LightKind::Led],
        );
        (
            TintedLight::draw(&mut rng, other, split),
            between(&mut rng, 0.05, 0.3),
        )
    });
    (kind, light, second)
}

/// Light that falls off: to about 30 % across the board, to 60 % in hard scenes.
fn field(rng: &mut ChaCha8Rng, hard: bool, half: f64, extent: Xy) -> Field {
    let across = between(rng, 0.0, if hard { 0.6 } else { 0.3 });
    let angle = between(rng, 0.0, std::f64::consts::TAU);
    let bend = 0.5 * across;
    let lamp = chance(rng, 0.3).then(|| {
        let away = half * between(rng, 0.3, 1.5);
        [
            extent[0] / 2.0 + away * angle.cos(),
            extent[1] / 2.0 + away * angle.sin(),
            half * between(rng, if hard { 2.0 } else { 3.5 }, 6.0),
        ]
    });
    let left = if lamp.is_some() { 0.3 } else { 0.5 };
    Field {
        linear: [left * across * angle.cos(), left * across * angle.sin()],
        quadratic: [
            normal(rng, 0.2 * bend),
            normal(rng, 0.2 * bend),
            normal(rng, 0.2 * bend),
        ]
        .map(|it| it.clamp(-0.12, 0.12)),
        lamp,
    }
}

fn shadow(rng: &mut ChaCha8Rng, extent: Xy) -> Shadow {
    Shadow {
        through: [
            extent[0] * between(rng, 0.0, 1.0),
            extent[1] * between(rng, 0.0, 1.0),
        ],
        towards: between(rng, 0.0, 360.0),
        left: between(rng, 0.25, 0.75),
        soft_mm: log_between(rng, 3.0, 120.0),
    }
}

fn highlights(rng: &mut ChaCha8Rng, mixture: Mixture, extent: Xy) -> Vec<Highlight> {
    let count = match mixture {
        Mixture::Flawless => 0,
        Mixture::Ordinary => weighted(rng, &[0.75, 0.2, 0.05]),
        Mixture::Hard => weighted(rng, &[0.4, 0.3, 0.2, 0.1]),
    };
    (0..count)
        .map(|_| Highlight {
            at: [
                extent[0] * between(rng, -0.05, 1.05),
                extent[1] * between(rng, -0.05, 1.05),
            ],
            size: [log_between(rng, 5.0, 40.0), log_between(rng, 5.0, 25.0)],
            angle: between(rng, 0.0, 180.0),
            peak: log_between(rng, 0.03, 0.8),
        })
        .collect()
}

fn tone(rng: &mut ChaCha8Rng, strength: ToneStrength) -> ToneCurve {
    match strength {
        ToneStrength::None => ToneCurve::None,
        ToneStrength::Mild => match rng.random_range(0..3) {
            0 => ToneCurve::Logistic {
                steepness: between(rng, 2.0, 4.0),
                middle: between(rng, 0.4, 0.55),
                exponent: between(rng, 0.88, 1.08),
            },
            1 => ToneCurve::Filmic {
                strength: between(rng, 0.2, 0.55),
                white: between(rng, 0.8, 1.4),
            },
            _ => ToneCurve::Cubic {
                amount: between(rng, 0.15, 0.5),
            },
        },
        ToneStrength::Strong => match rng.random_range(0..3) {
            0 => ToneCurve::Logistic {
                steepness: between(rng, 4.5, 7.0),
                middle: between(rng, 0.38, 0.55),
                exponent: between(rng, 0.8, 1.05),
            },
            1 => ToneCurve::Filmic {
                strength: between(rng, 0.7, 1.0),
                white: between(rng, 1.0, 2.2),
            },
            _ => ToneCurve::Cubic {
                amount: between(rng, 0.6, 0.95),
            },
        },
    }
}

fn camera(
    rng: &mut ChaCha8Rng,
    mixture: Mixture,
    split: Split,
    strength: ToneStrength,
) -> CameraSpec {
    let flawless = mixture == Mixture::Flawless;
    let hard = mixture == Mixture::Hard;
    let id = CameraId {
        split,
        number: rng.random_range(0..CAMERAS_PER_SPLIT),
    };
    let balance = normal(rng, if hard { 0.10 } else { 0.05 });
    let tint = normal(rng, 0.02);
    let wrong_light = chance(rng, if hard { 0.5 } else { 0.35 });
    let other = pick(
        rng,
        &[LightKind::Daylight, LightKind::Incandescent, LightKind::Led],
    );
    let matrix_light = TintedLight::draw(rng, other, split);
    let noise = log_between(rng, 0.004, if hard { 0.03 } else { 0.018 });
    let sharpening = chance(rng, 0.6).then(|| (between(rng, 0.2, 0.9), between(rng, 0.8, 1.6)));
    let base = CameraSpec {
        id,
        balance_error: [1.0 + balance, 1.0 + tint, 1.0 - balance],
        matrix_light: wrong_light.then_some(matrix_light),
        white_level: between(
            rng,
            if hard { 0.45 } else { 0.6 },
            if hard { 1.15 } else { 0.98 },
        ),
        shot_noise: noise,
        read_noise: noise * between(rng, 0.1, 0.25),
        blur_px: between(rng, 0.6, if hard { 3.0 } else { 1.5 }),
        vignetting: between(rng, 0.0, if hard { 0.35 } else { 0.2 }),
        flare: between(rng, 0.0, if hard { 0.015 } else { 0.006 }),
        local_tone: if chance(rng, if hard { 0.5 } else { 0.2 }) {
            between(rng, 0.05, if hard { 0.3 } else { 0.12 })
        } else {
            0.0
        },
        saturation: between(rng, 1.0, 1.18),
        tone: tone(rng, strength),
        sharpening,
        space: if chance(rng, 0.5) {
            Space::DisplayP3
        } else {
            Space::Srgb
        },
        encoding: Encoding::Display,
        jpeg_quality: rng.random_range(84..=96),
        jpeg_420: chance(rng, 0.7),
        progressive: chance(rng, 0.2),
        embed_profile: chance(rng, 0.85),
    };
    let base = CameraSpec {
        embed_profile: base.embed_profile || base.space == Space::DisplayP3,
        ..base
    };
    if !flawless {
        return base;
    }
    CameraSpec {
        balance_error: [1.0; 3],
        matrix_light: None,
        white_level: 0.78,
        shot_noise: 0.003,
        read_noise: 0.0003,
        blur_px: 0.7,
        vignetting: 0.0,
        flare: 0.0,
        local_tone: 0.0,
        saturation: 1.0,
        tone: ToneCurve::None,
        sharpening: None,
        space: Space::DisplayP3,
        jpeg_quality: 97,
        jpeg_420: false,
        progressive: false,
        embed_profile: true,
        ..base
    }
}

fn pose(rng: &mut ChaCha8Rng, mixture: Mixture, turn: f64) -> Pose {
    let hard = mixture == Mixture::Hard;
    Pose {
        turn: turn + normal(rng, if hard { 6.0 } else { 3.0 }).clamp(-14.0, 14.0),
        tilt: match mixture {
            Mixture::Flawless => between(rng, 0.0, 8.0),
            Mixture::Ordinary => between(rng, 0.0, 20.0),
            Mixture::Hard => between(rng, 5.0, 30.0),
        },
        towards: between(rng, 0.0, 360.0),
        fill: between(rng, if hard { 0.4 } else { 0.6 }, 0.92),
        shift: [between(rng, -0.6, 0.6), between(rng, -0.6, 0.6)],
        focal: between(rng, 0.68, 0.8),
        distortion: normal(rng, if hard { 0.012 } else { 0.004 }),
    }
}

/// Things around board and cards, none of them on either.
fn clutter(seed: u64, mixture: Mixture, layout: &Layout) -> Vec<Clutter> {
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

fn exif(rng: &mut ChaCha8Rng, kind: LightKind) -> ExifSpec {
    let dim = matches!(
        kind,
        LightKind::Incandescent | LightKind::Fluorescent | LightKind::Led
    );
    ExifSpec {
        make: "Workshop".to_owned(),
        model: format!("Workshop Phone {}", rng.random_range(1..=5)),
        taken: format!(
            "2026:{:02}:{:02} {:02}:{:02}:{:02}",
            rng.random_range(1..=12),
            rng.random_range(1..=28),
            rng.random_range(8..=17),
            rng.random_range(0..60),
            rng.random_range(0..60)
        ),
        offset: "+01:00".to_owned(),
        exposure_per_s: if dim {
            pick(rng, &[30, 60, 100])
        } else {
            pick(rng, &[120, 250, 500])
        },
        iso: if dim {
            pick(rng, &[200, 400, 640])
        } else {
            pick(rng, &[32, 50, 100])
        },
        flash: false,
        zoom: None,
    }
}
