//! A simulated photo with its panel, located by the truth: what the proof and the check are tested on.

#![expect(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    reason = "a test may fail; table values need no more digits"
)]

use masstone::colour::srgb::{RgbSpace, decode};
use masstone::geometry::{PlaneMap, Point};
use masstone::locate::{Located, LocatedCard, Quality};
use masstone::panel::{self, Panel};
use masstone::photo::{Encoding, EncodingSource, Metadata, Orientation, Photo, Pixels};
use masstone::sample::{Samples, sample};
use masstone_simulator as sim;

/// A photo and everything that is known of it.
pub(crate) struct Shot {
    pub(crate) photo: Photo,
    pub(crate) panel: Panel,
    pub(crate) located: Located,
    pub(crate) truth: sim::Truth,
}

/// Renders a scene without its colour filter array and without JPEG loss, `long_side` pixels long.
pub(crate) fn shoot(spec: &sim::SceneSpec, long_side: u32) -> Shot {
    let scene = spec.build();
    let rendered = scene.render_small(long_side);
    let panel = panel_of(&scene);
    let truth = rendered.truth;
    let located = locate(&panel, &truth);
    let sim::Pixels::U8(pixels) = rendered.pixels else {
        panic!("a small render has 8 bits");
    };
    let table: Vec<f32> = (0..=255_u8)
        .map(|it| decode(f64::from(it) / 255.0) as f32)
        .collect();
    let space = match spec.camera.space {
        sim::Space::Srgb => RgbSpace::Srgb,
        sim::Space::DisplayP3 => RgbSpace::DisplayP3,
    };
    let photo = Photo {
        path: "board.jpg".into(),
        sha256: String::new(),
        width: rendered.width as usize,
        height: rendered.height as usize,
        pixels: Pixels::U8(pixels),
        bits: 8,
        encoding: Encoding {
            source: EncodingSource::Profile,
            name: "simulated".into(),
            tables: [table.clone(), table.clone(), table],
            to_xyz: *space.linear_to_xyz_d50(),
            camera: None,
        },
        orientation: Orientation(spec.tag.unwrap_or(1)),
        metadata: Metadata {
            focal_35mm: Some(26.0),
            ..Metadata::default()
        },
    };
    Shot {
        photo,
        panel,
        located,
        truth,
    }
}

/// The scene's panel file and its cards' files, read as any.
fn panel_of(scene: &sim::Scene) -> Panel {
    let folder = tempfile::tempdir().unwrap();
    scene.write_panel(folder.path()).unwrap();
    panel::read(&folder.path().join("panel.toml")).unwrap()
}

pub(crate) fn points(quad: &sim::Quad) -> [Point; 4] {
    quad.map(|it| Point::new(it[0], it[1]))
}

/// The true place of everything.
fn locate(panel: &Panel, truth: &sim::Truth) -> Located {
    let whole = panel.grid.unwrap().rows;
    assert!(whole > 0);
    let map = PlaneMap::fit(&panel.extent().corners(), &points(&truth.grid)).unwrap();
    let mut cards = Vec::new();
    let mut seen = truth.cards.iter();
    for (index, placed) in panel.cards.iter().enumerate() {
        if let Some(card) = seen.next() {
            let outer = placed.card.outer().corners();
            let map = PlaneMap::fit(&outer, &points(&card.corners)).unwrap();
            cards.push(LocatedCard { index, map });
        }
    }
    Located {
        panel: map,
        cards,
        quality: Quality {
            outline_rms_px: 0.5,
            seen: 1.0,
            rival: 0.0,
        },
        witnesses: vec!["the truth".into()],
        by_hand: false,
    }
}

impl Shot {
    pub(crate) fn samples(&self) -> Samples {
        sample(&self.photo, &self.panel, &self.located)
    }
}
