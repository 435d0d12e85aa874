//! Simulated photos with the true geometry, and the plain method to compare with.

#![expect(clippy::cast_possible_truncation, reason = "linear values as f32")]

#[path = "plain.rs"]
mod plain;

use masstone::colour::{Lab, difference, srgb};
use masstone::correct::{Given, Options, Outcome, Tone, correct_given};
use masstone::geometry::{PlaneMap, Rect};
use masstone::locate::{Located, LocatedCard, Quality};
use masstone::panel::{Grid, KnownColour, Panel, Patch, Place, PlacedCard, Side};
use masstone::photo::{Encoding, EncodingSource, Metadata, Orientation, Photo, Pixels};
use masstone::reference::references;
use masstone::sample::{RegionKind, Samples, sample};
use masstone_simulator as sim;
use nalgebra::Vector3;
use plain::points;

/// Which references a photo holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Grey,
    Zones,
    Chart,
}

pub(crate) fn kind(spec: &sim::SceneSpec) -> Option<Kind> {
    let has = |kind: sim::CardKind| spec.layout.cards.iter().any(|it| it.kind == kind);
    if has(sim::CardKind::Chart24) {
        Some(Kind::Chart)
    } else if has(sim::CardKind::WhiteGreyBlack) {
        Some(Kind::Zones)
    } else {
        has(sim::CardKind::Grey18).then_some(Kind::Grey)
    }
}

/// A rendered photo with everything the stages take, located by the truth.
pub(crate) struct Shot {
    pub(crate) photo: Photo,
    pub(crate) panel: Panel,
    pub(crate) located: Located,
    pub(crate) truth: sim::Truth,
}

/// One measured patch or half.
#[derive(Clone, Debug)]
pub(crate) struct Measured {
    pub(crate) truth: Lab,
    pub(crate) camera: Lab,
    pub(crate) plain: Lab,
    pub(crate) ours: Option<Lab>,
    pub(crate) u95: f64,
    pub(crate) clipped: f64,
    /// Whether it is the exposed half of the patch whose masked half comes just before.
    pub(crate) other_half: bool,
}

fn side(it: sim::Side) -> Side {
    match it {
        sim::Side::Left => Side::Left,
        sim::Side::Right => Side::Right,
        sim::Side::Top => Side::Top,
        sim::Side::Bottom => Side::Bottom,
    }
}

fn patch(id: String, cell: Option<(usize, usize)>, at: [f64; 2], size: [f64; 2]) -> Patch {
    Patch {
        id,
        cell,
        rect: Rect {
            x: at[0],
            y: at[1],
            width: size[0],
            height: size[1],
        },
        name: None,
        lot: None,
        pigments: vec![],
        wet_g_per_m2: None,
        known: None,
        control: None,
        empty: false,
        masked: None,
        substrate: None,
        coating: None,
        coats: None,
        before: None,
    }
}

fn empty_panel(id: &str) -> Panel {
    Panel {
        id: id.into(),
        path: None,
        title: None,
        edition: None,
        source: None,
        substrate: None,
        coating: None,
        coats: None,
        upright: false,
        board: None,
        board_colour: None,
        grid: None,
        masked: None,
        patches: vec![],
        cards: vec![],
    }
}

fn card_panel(kind: sim::CardKind) -> Panel {
    let shape = kind.shape();
    let mut panel = empty_panel(kind.name());
    let colours = kind.nominal();
    for (i, colour) in colours.iter().enumerate() {
        let (row, column) = (i / shape.columns, i % shape.columns);
        let at = [shape.pitch[0] * column as f64, shape.pitch[1] * row as f64];
        let mut it = patch(
            sim::cell_name(row, column),
            Some((row, column)),
            at,
            shape.patch,
        );
        it.known = Some(KnownColour {
            lab: Lab::new(colour[0], colour[1], colour[2]),
            u95: Some(0.5),
            reflectance: None,
        });
        panel.patches.push(it);
    }
    panel.board = Some(Rect {
        x: -shape.first[0],
        y: -shape.first[1],
        width: shape.outer[0],
        height: shape.outer[1],
    });
    panel
}

fn panel_of(layout: &sim::Layout) -> Panel {
    let mut panel = empty_panel(&layout.id);
    panel.grid = Some(Grid {
        rows: layout.rows,
        columns: layout.columns,
        patch_mm: layout.patch,
        pitch_mm: layout.pitch,
    });
    panel.masked = layout.masked.map(side);
    for (i, recipe) in layout.recipes.iter().enumerate() {
        let mut it = patch(
            layout.name(i),
            Some((i / layout.columns, i % layout.columns)),
            layout.cell(i),
            layout.patch,
        );
        it.empty = recipe.is_none();
        panel.patches.push(it);
    }
    for it in &layout.off {
        panel
            .patches
            .push(patch(it.id.clone(), None, it.at, it.size));
    }
    for patch in &mut panel.patches {
        patch.masked = panel.masked;
    }
    if layout.board_stated {
        panel.board = Some(Rect {
            x: -layout.first[0],
            y: -layout.first[1],
            width: layout.board[0],
            height: layout.board[1],
        });
    }
    for card in &layout.cards {
        panel.cards.push(PlacedCard {
            card: card_panel(card.kind),
            place: Place::Anywhere,
            turned: None,
        });
    }
    panel
}

/// Renders a scene: `long_side` in pixels, with the whole camera or without its colour filter array.
pub(crate) fn shoot(spec: &sim::SceneSpec, long_side: u32, full: bool) -> Option<Shot> {
    let scene = spec.build();
    let rendered = if full {
        let [width, height] = scene.stored_size(long_side);
        scene.render(width, height)
    } else {
        scene.render_small(long_side)
    };
    let photo = photo_of(spec, [rendered.width, rendered.height], rendered.pixels);
    placed(spec, photo, rendered.truth)
}

/// A photo with its panel, located by the truth.
pub(crate) fn placed(spec: &sim::SceneSpec, photo: Photo, truth: sim::Truth) -> Option<Shot> {
    let panel = panel_of(&spec.layout);
    // All patches' corners: the lens bends the grid's outline.
    let (mut from, mut to) = (Vec::new(), Vec::new());
    for (patch, quad) in quads(&panel, &truth) {
        from.extend(patch.corners());
        to.extend(points(quad));
    }
    let map = PlaneMap::fit(&from, &to)?;
    let mut cards = Vec::new();
    let mut seen = truth.cards.iter();
    for (index, placed) in spec.layout.cards.iter().enumerate() {
        let Some(card) = seen.next().filter(|it| it.kind == placed.kind) else {
            continue;
        };
        let corners = panel.cards[index].card.outer().corners();
        cards.push(LocatedCard {
            index,
            map: PlaneMap::fit(&corners, &points(&card.corners))?,
        });
    }
    let located = Located {
        panel: map,
        cards,
        quality: Quality {
            outline_rms_px: 0.5,
            seen: 1.0,
            rival: 0.0,
        },
        witnesses: vec!["truth".into()],
        by_hand: true,
    };
    Some(Shot {
        photo,
        panel,
        located,
        truth,
    })
}

/// Pixels as the photo of a file that says how they are encoded.
pub(crate) fn photo_of(spec: &sim::SceneSpec, size: [u32; 2], pixels: sim::Pixels) -> Photo {
    let linear = spec.camera.encoding == sim::Encoding::Linear;
    let (codes, pixels) = match pixels {
        sim::Pixels::U8(it) => (256_u32, Pixels::U8(it)),
        sim::Pixels::U16(it) => (65536, Pixels::U16(it)),
    };
    let table: Vec<f32> = (0..codes)
        .map(|code| {
            let value = f64::from(code) / f64::from(codes - 1);
            (if linear { value } else { srgb::decode(value) }) as f32
        })
        .collect();
    let space = match spec.camera.space {
        sim::Space::Srgb => srgb::RgbSpace::Srgb,
        sim::Space::DisplayP3 => srgb::RgbSpace::DisplayP3,
    };
    Photo {
        path: "simulated".into(),
        sha256: String::new(),
        width: size[0] as usize,
        height: size[1] as usize,
        pixels,
        bits: codes.ilog2(),
        encoding: Encoding {
            source: if linear {
                EncodingSource::Linear
            } else {
                EncodingSource::Profile
            },
            name: "simulated".into(),
            tables: [table.clone(), table.clone(), table],
            to_xyz: *space.linear_to_xyz_d50(),
            camera: None,
        },
        orientation: Orientation(1),
        metadata: Metadata::default(),
    }
}

/// Each region's rectangle with its quad, in the order of the truth.
fn quads<'a>(panel: &Panel, truth: &'a sim::Truth) -> Vec<(Rect, &'a sim::Quad)> {
    let masked = panel.masked;
    truth
        .patches
        .iter()
        .filter_map(|it| {
            let rect = panel.patches.iter().find(|p| p.id == it.id)?.rect;
            let half = |towards: bool| {
                let side = masked?;
                let first = matches!(side, Side::Left | Side::Top) == towards;
                Some(match side {
                    Side::Left | Side::Right => Rect {
                        x: if first {
                            rect.x
                        } else {
                            rect.x + rect.width / 2.0
                        },
                        width: rect.width / 2.0,
                        ..rect
                    },
                    Side::Top | Side::Bottom => Rect {
                        y: if first {
                            rect.y
                        } else {
                            rect.y + rect.height / 2.0
                        },
                        height: rect.height / 2.0,
                        ..rect
                    },
                })
            };
            let part = match it.half {
                sim::Half::Whole => Some(rect),
                sim::Half::Masked => half(true),
                sim::Half::Exposed => half(false),
            };
            part.map(|part| (part, &it.quad))
        })
        .collect()
}

/// The plain method on a shot.
pub(crate) fn plain(shot: &Shot) -> Vec<Lab> {
    plain::plain(&shot.photo, &shot.truth)
}

fn as_lab(it: [f64; 3]) -> Lab {
    Lab::new(it[0], it[1], it[2])
}

/// Measures a shot both ways.
pub(crate) fn measure(
    shot: &Shot,
    tone: Tone,
) -> Result<(Vec<Measured>, Samples, Outcome), String> {
    measure_given(shot, tone, &Given::default())
}

/// Measures a shot both ways, ours with what is given beside it.
pub(crate) fn measure_given(
    shot: &Shot,
    tone: Tone,
    given: &Given<'_>,
) -> Result<(Vec<Measured>, Samples, Outcome), String> {
    let samples = sample(&shot.photo, &shot.panel, &shot.located);
    let known = references(&shot.panel, &samples);
    let outcome =
        correct_given(&samples, &known, &Options { tone }, given).map_err(|it| it.to_string())?;
    let plain = plain(shot);
    let mut all = Vec::new();
    let mut before: Option<&sim::PatchTruth> = None;
    for (truth, plain) in shot.truth.patches.iter().zip(plain) {
        let reading = outcome.readings.iter().find(|it| {
            let (patch, half) = match it.kind {
                RegionKind::Whole { patch } => (patch, sim::Half::Whole),
                RegionKind::Masked { patch } => (patch, sim::Half::Masked),
                RegionKind::Exposed { patch } => (patch, sim::Half::Exposed),
                RegionKind::Card { .. }
                | RegionKind::Substrate { .. }
                | RegionKind::Sheltered { .. } => return false,
            };
            shot.panel.patches[patch].id == truth.id && half == truth.half
        });
        let reading =
            reading.ok_or_else(|| format!("no reading of {} {:?}", truth.id, truth.half))?;
        all.push(Measured {
            truth: as_lab(truth.lab),
            camera: as_lab(truth.camera_lab),
            plain,
            ours: reading.lab,
            u95: reading.u95,
            clipped: truth.clipped,
            other_half: truth.half == sim::Half::Exposed
                && before.is_some_and(|it| it.id == truth.id && it.half == sim::Half::Masked),
        });
        before = Some(truth);
    }
    Ok((all, samples, outcome))
}

pub(crate) fn mean(values: impl IntoIterator<Item = f64>) -> f64 {
    let all: Vec<f64> = values.into_iter().collect();
    all.iter().sum::<f64>() / all.len() as f64
}

impl Measured {
    pub(crate) fn error(&self) -> Option<f64> {
        self.ours.map(|it| difference::delta_e_2000(it, self.truth))
    }
    pub(crate) fn plain_error(&self) -> f64 {
        difference::delta_e_2000(self.plain, self.truth)
    }
    pub(crate) fn camera_error(&self) -> f64 {
        difference::delta_e_2000(self.camera, self.truth)
    }
}

/// Mean errors of the difference between the halves of a patch, as vectors in Lab: of ours and of the plain method; none without
/// halves.
pub(crate) fn of_halves(photos: &[&[Measured]]) -> Option<[f64; 2]> {
    let mut errors = [Vec::new(), Vec::new()];
    for photo in photos {
        for pair in photo.windows(2) {
            let [masked, exposed] = pair else { continue };
            let readable = pair.iter().all(|it| it.clipped < 0.25);
            let (Some(a), Some(b)) = (masked.ours, exposed.ours) else {
                continue;
            };
            if exposed.other_half && readable {
                let truth = vector(masked.truth) - vector(exposed.truth);
                errors[0].push((vector(a) - vector(b) - truth).norm());
                errors[1].push((vector(masked.plain) - vector(exposed.plain) - truth).norm());
            }
        }
    }
    (!errors[0].is_empty()).then(|| errors.map(mean))
}

fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}
