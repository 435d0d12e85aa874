//! A record made by hand, without any photo.

use masstone::colour::{Lab, Matrix};
use masstone::correct::{
    ColourMap, Component, ComponentName, Corrected, Correction, CorrectionKind, LightField, Local,
    LocalTone, Terms, Tone, ToneCurve, ToneSource, UsedReference,
};
use masstone::flag::Flag;
use masstone::geometry::{PlaneMap, Rect};
use masstone::locate::{Located, Quality};
use masstone::panel::{Grid, KnownColour, Panel, Patch, PigmentLoad, Place, PlacedCard, Side};
use masstone::photo::{Encoding, EncodingSource, Metadata, Orientation, Photo, Pixels};
use masstone::record::{Dose, Found, PhotoRecord, Settings, of_photo};
use masstone::reference::{Origin, Reference, RegionIndex};
use masstone::sample::{LeftOut, Overview, Region, RegionKind, Samples};
use nalgebra::Matrix2;
use std::path::PathBuf;

/// A photo of two patches with halves, of which one half could be measured.
pub(crate) fn measured(path: &str) -> PhotoRecord {
    record_of(path, &panel(), &corrected())
}

pub(crate) fn record_of(path: &str, panel: &Panel, corrected: &[Corrected]) -> PhotoRecord {
    let photo = Photo {
        path: PathBuf::from(path),
        sha256: "0123456789abcdef".repeat(4),
        width: 1,
        height: 1,
        pixels: Pixels::U8(vec![0; 3]),
        bits: 8,
        encoding: Encoding {
            source: EncodingSource::StatedSrgb,
            name: "sRGB".into(),
            tables: std::array::from_fn(|_| vec![0.0; 256]),
            to_xyz: Matrix::identity(),
            camera: None,
        },
        orientation: Orientation(1),
        metadata: Metadata::default(),
    };
    let half_turn = Matrix::new(-10.0, 0.0, 1000.0, 0.0, -10.0, 500.0, 0.0, 0.0, 1.0);
    let located = Located {
        panel: PlaneMap::new(half_turn),
        cards: Vec::new(),
        quality: Quality {
            outline_rms_px: 0.5,
            seen: 1.0,
            rival: 0.25,
        },
        witnesses: vec!["the card lies right of the grid".into()],
        by_hand: false,
    };
    let rect = Rect {
        x: 2.0,
        y: 2.0,
        width: 26.0,
        height: 46.0,
    };
    let samples = Samples {
        to_xyz: Matrix::identity(),
        encoding: EncodingSource::StatedSrgb,
        camera: None,
        size: [1, 1],
        bits: 8,
        code_step: 0.001,
        patches: vec![Region {
            kind: RegionKind::Masked { patch: 0 },
            rect,
            outline: [[0.0; 2]; 4],
            blocks: Vec::new(),
            pixels: 900,
            at_top: 40,
            at_bottom: 30,
            left_out: LeftOut {
                clipped_high: 40,
                clipped_low: 30,
                glare: 20,
                outside: 10,
            },
        }],
        cards: Vec::new(),
        substrate: Vec::new(),
        overview: Overview::default(),
    };
    let correction = Correction {
        kind: CorrectionKind::Neutral,
        references: vec![UsedReference {
            reference: Reference {
                name: "card grey A1".into(),
                regions: vec![RegionIndex::Card(0)],
                lab: Lab::new(49.5, 0.0, 0.0),
                covariance: Matrix::identity() * 0.01,
                origin: Origin::Stated,
            },
            taken_as: None,
            residual: 0.0,
            left_out: None,
            weight: 1.0,
            alone: None,
            put_right: None,
        }],
        leave_one_out: None,
        neutral_alone: Some(0.0),
        tone: ToneCurve {
            contrast: 0.1,
            shift: -0.2,
            source: ToneSource::Assumed,
            covariance: Matrix2::new(0.01, 0.001, 0.001, 0.02),
        },
        light: LightField {
            order: 1,
            colour_order: 0,
            centre: [67.5, 25.0],
            scale: 67.5,
            coefficients: [[0.1, -0.05, 0.0, 0.0, 0.0]; 3],
            origin: [0.2, 0.1, 0.0, 0.0, 0.0],
            residual: 0.01,
            covariance: [[0.0; 5]; 5],
            stretches: 8,
            seen: true,
            local: Local::default(),
            local_tone: None,
        },
        local_tone: Some(LocalTone {
            strength: 0.04,
            sd: 0.02,
            range: 0.7,
        }),
        map: ColourMap {
            gains: [1.2, 1.0, 1.4],
            terms: Terms::Linear,
            coefficients: vec![[0.4, 0.2, 0.01], [0.4, 0.7, 0.1], [0.1, 0.1, 0.7]],
        },
        saved: None,
        drift: None,
    };
    of_photo(&Found {
        photo: &photo,
        panel,
        located: &located,
        samples: &samples,
        correction: &correction,
        corrected,
        settings: Settings {
            upright: false,
            linear: false,
            tone: Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
        dose: Dose::of_hours(Some(168.5)),
        exposure: None,
        doubts: vec!["the photo names no colour space".into()],
    })
}

pub(crate) fn panel() -> Panel {
    let patch = |id: &str, x: f64, column| Patch {
        id: id.into(),
        cell: Some((0, column)),
        rect: Rect {
            x,
            y: 0.0,
            width: 60.0,
            height: 50.0,
        },
        name: Some("red iron oxide".into()),
        lot: None,
        pigments: vec![PigmentLoad {
            pigment: "PR101".into(),
            load: 12.0,
        }],
        wet_g_per_m2: None,
        known: None,
        control: None,
        empty: false,
        masked: Some(Side::Left),
        substrate: None,
        coating: None,
        coats: None,
        before: None,
    };
    let bare = Panel {
        id: "grey".into(),
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
        patches: vec![Patch {
            known: Some(KnownColour {
                lab: Lab::new(49.5, 0.0, 0.0),
                u95: Some(0.5),
                reflectance: None,
            }),
            masked: None,
            pigments: Vec::new(),
            ..patch("A1", 0.0, 0)
        }],
        cards: Vec::new(),
    };
    Panel {
        id: "p-1".into(),
        path: Some(PathBuf::from("panels/p-1.toml")),
        coats: Some(3.0),
        grid: Some(Grid {
            rows: 1,
            columns: 2,
            patch_mm: [60.0, 50.0],
            pitch_mm: [75.0, 75.0],
        }),
        masked: Some(Side::Left),
        patches: vec![patch("A1", 0.0, 0), patch("red, \"new\"", 75.0, 1)],
        cards: vec![PlacedCard {
            card: bare.clone(),
            place: Place::Beside(Side::Right),
            turned: None,
        }],
        ..bare
    }
}

/// The masked half of the first patch, and one that was clipped.
pub(crate) fn corrected() -> Vec<Corrected> {
    let good = Corrected {
        kind: RegionKind::Masked { patch: 0 },
        region: 0,
        lab: Some(Lab::new(50.0, -0.000_01, -10.0)),
        sd: [0.1, 0.2, 0.3],
        unevenness: 0.4,
        cov_own: Matrix::identity() * 0.01,
        cov_common: Matrix::identity(),
        components: vec![Component {
            name: ComponentName::Noise,
            common: false,
            sd_lab: [0.1; 3],
        }],
        u95: 2.5,
        flags: Vec::new(),
    };
    let clipped = Corrected {
        kind: RegionKind::Masked { patch: 1 },
        lab: None,
        flags: vec![Flag::ClippedHigh],
        ..good.clone()
    };
    vec![clipped, good]
}
