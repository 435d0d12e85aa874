//! Renders the demo photos: a garden-furniture workshop's panel of pigments in a clear coating on larch.
//!
//! `make-samples FOLDER` writes three 12-megapixel JPEGs with their panel files and the truth as CSV. The one with a chart
//! goes into a folder of its own: its panel file is another, and a folder is measured with one.

use masstone_simulator::{
    CardKind, Clutter, ClutterKind, Field, FileKind, Half, Layout, Light, LightKind, Mixture,
    Place, PlacedCard, Pose, Recipe, SceneSpec, Side, Space, Split, Substrate, Table, TintedLight,
    ToneCurve, ToneStrength,
};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Name, pigments (as the simulator numbers them) with loads; the last patch is the clear control.
const PATCHES: [(&str, &[(usize, f64)]); 24] = [
    ("red iron oxide, full", &[(0, 12.0)]),
    ("red iron oxide, half", &[(0, 6.0)]),
    ("red iron oxide, tenth", &[(0, 1.2)]),
    ("red iron oxide in white", &[(0, 2.0), (12, 8.0)]),
    ("blue-shade red iron oxide", &[(1, 10.0)]),
    ("red earth", &[(5, 9.0)]),
    ("yellow iron oxide, full", &[(2, 12.0)]),
    ("yellow iron oxide, half", &[(2, 6.0)]),
    ("yellow iron oxide, tenth", &[(2, 1.2)]),
    ("yellow iron oxide in white", &[(2, 2.0), (12, 8.0)]),
    ("yellow ochre", &[(3, 10.0)]),
    ("orange mixture", &[(0, 3.0), (2, 8.0)]),
    ("raw umber", &[(4, 10.0)]),
    ("raw umber, half", &[(4, 5.0)]),
    ("burnt umber", &[(6, 9.0)]),
    ("iron oxide black", &[(11, 8.0)]),
    ("grey", &[(11, 0.8), (12, 9.0)]),
    ("white", &[(12, 10.0)]),
    ("ultramarine", &[(7, 12.0)]),
    ("ultramarine in white", &[(7, 4.0), (12, 6.0)]),
    ("chromium oxide green", &[(8, 12.0)]),
    ("hydrated chromium oxide", &[(9, 9.0)]),
    ("green mixture", &[(8, 6.0), (2, 5.0)]),
    ("clear control", &[]),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args_os().skip(1);
    let (Some(folder), None) = (args.next(), args.next()) else {
        return Err("make-samples FOLDER".into());
    };
    let folder = PathBuf::from(folder);
    let chart = folder.join("chart");
    std::fs::create_dir_all(&chart)?;
    let new = new_panel();
    photo(&folder, "larch-2026-03-0h", &new)?;
    photo(&folder, "larch-2026-03-1500h", &after_1500_hours(&new))?;
    photo(&chart, "larch-2026-03-chart", &with_chart(&new))?;
    std::fs::write(folder.join("larch-2026-03.toml"), new.build().panel_toml())?;
    std::fs::write(
        chart.join("larch-2026-03-chart.toml"),
        with_chart(&new).build().panel_toml(),
    )?;
    Ok(())
}

/// Writes one photo and what is true of it.
fn photo(folder: &Path, name: &str, spec: &SceneSpec) -> Result<(), Box<dyn std::error::Error>> {
    let scene = spec.build();
    let rendered = scene.write(
        &folder.join(format!("{name}.jpg")),
        FileKind::Jpeg,
        scene.stored_size(4032),
    )?;
    let mut truth = "patch,half,L,a,b\n".to_owned();
    for patch in &rendered.truth.patches {
        let half = match patch.half {
            Half::Whole => "whole",
            Half::Masked => "masked",
            Half::Exposed => "exposed",
        };
        let [l, a, b] = patch.lab;
        writeln!(truth, "{},{half},{l:.3},{a:.3},{b:.3}", patch.id)?;
    }
    std::fs::write(folder.join(format!("{name}.truth.csv")), truth)?;
    Ok(())
}

fn layout() -> Layout {
    let recipe = |(name, pigments): &(&str, &[(usize, f64)])| Recipe {
        name: Some((*name).to_owned()),
        pigments: pigments.to_vec(),
        film: 1.0,
        on_white: false,
    };
    Layout {
        id: "larch-2026-03".to_owned(),
        title: "Mineral pigments in clear coating on larch".to_owned(),
        rows: 4,
        columns: 6,
        patch: [60.0, 60.0],
        pitch: [75.0, 75.0],
        board: [520.0, 370.0],
        first: [40.0, 40.0],
        board_stated: true,
        upright: false,
        masked: Some(Side::Left),
        recipes: PATCHES.iter().map(|it| Some(recipe(it))).collect(),
        off: Vec::new(),
        cards: vec![PlacedCard {
            kind: CardKind::Grey18,
            place: Place::Beside(Side::Right),
            stated_turn: None,
            centre: [552.0, 148.0],
            angle: -1.6,
            height: 0.0,
        }],
    }
}

/// The new panel by a window, before it goes outdoors.
fn new_panel() -> SceneSpec {
    let drawn = SceneSpec::draw(Mixture::Ordinary, Split::Study, 2026);
    let mut spec = SceneSpec {
        layout: layout(),
        substrate: Substrate::Larch,
        thickness: 9.0,
        grain: 0.55,
        grain_angle: 0.6,
        mottle: 0.008,
        wobble: 0.35,
        half_difference: 0.04,
        exposure: 0.0,
        table: Table::Wood,
        table_seed: 3,
        clutter: vec![
            thing(ClutterKind::Stick, [150.0, -120.0], [190.0, 9.0], 8.0, 1),
            thing(ClutterKind::Round, [640.0, -60.0], [85.0, 85.0], 0.0, 2),
            thing(ClutterKind::Paper, [-150.0, 260.0], [148.0, 210.0], 14.0, 3),
        ],
        light_kind: LightKind::Daylight,
        light: TintedLight::plain(Light::Daylight(5600.0)),
        field: Field {
            linear: [0.035, -0.02],
            quadratic: [-0.01, 0.003, -0.007],
            lamp: None,
        },
        second: None,
        shadows: Vec::new(),
        highlights: Vec::new(),
        pose: Pose {
            turn: 1.8,
            tilt: 9.0,
            towards: 20.0,
            fill: 0.86,
            shift: [0.1, -0.2],
            focal: 0.72,
            distortion: 0.003,
        },
        stored_as: 1,
        tag: Some(1),
        portrait: false,
        tone_strength: ToneStrength::Mild,
        ..drawn
    };
    let camera = &mut spec.camera;
    camera.balance_error = [1.03, 1.0, 0.975];
    camera.matrix_light = None;
    camera.white_level = 0.8;
    camera.shot_noise = 0.006;
    camera.read_noise = 0.001;
    camera.blur_px = 0.8;
    camera.vignetting = 0.08;
    camera.flare = 0.003;
    camera.local_tone = 0.0;
    camera.saturation = 1.05;
    camera.tone = ToneCurve::Logistic {
        steepness: 2.8,
        middle: 0.47,
        exponent: 0.97,
    };
    camera.sharpening = Some((0.4, 1.0));
    camera.space = Space::DisplayP3;
    camera.jpeg_quality = 90;
    camera.jpeg_420 = true;
    camera.progressive = false;
    camera.embed_profile = true;
    camera.id.number = 1;
    let exif = &mut spec.exif;
    exif.model = "Workshop Phone 1".to_owned();
    exif.taken = "2026:03:14 10:20:30".to_owned();
    exif.offset = "+01:00".to_owned();
    exif.exposure_per_s = 120;
    exif.iso = 50;
    spec
}

/// The same panel after 1,500 hours outdoors, under an overcast sky, shot from the side.
fn after_1500_hours(new: &SceneSpec) -> SceneSpec {
    let mut spec = new.clone();
    spec.exposure = 0.55;
    spec.shot_seed = 1500;
    spec.light_kind = LightKind::Overcast;
    spec.light = TintedLight::plain(Light::Daylight(6700.0));
    spec.field.linear = [-0.02, 0.03];
    spec.pose = Pose {
        turn: 91.5,
        tilt: 12.0,
        towards: 100.0,
        fill: 0.88,
        shift: [-0.2, 0.1],
        focal: 0.72,
        distortion: 0.003,
    };
    (spec.stored_as, spec.tag, spec.portrait) = (6, Some(6), true);
    spec.camera.balance_error = [0.98, 1.0, 1.02];
    spec.layout.cards[0].centre = [555.0, 131.0];
    spec.layout.cards[0].angle = 2.3;
    spec.clutter.truncate(2);
    spec.exif.taken = "2026:05:16 09:05:12".to_owned();
    spec.exif.offset = "+02:00".to_owned();
    spec
}

/// The new panel with a chart below it under an LED lamp, another phone.
fn with_chart(new: &SceneSpec) -> SceneSpec {
    let mut spec = new.clone();
    spec.shot_seed = 24;
    spec.light_kind = LightKind::Led;
    spec.light = TintedLight::plain(Light::named("LED-B3").unwrap_or(Light::Daylight(5000.0)));
    spec.layout.cards = vec![PlacedCard {
        kind: CardKind::Chart24,
        place: Place::Beside(Side::Bottom),
        stated_turn: None,
        centre: [215.0, 445.0],
        angle: 1.2,
        height: 0.0,
    }];
    spec.clutter = vec![thing(
        ClutterKind::Stick,
        [640.0, 300.0],
        [190.0, 9.0],
        75.0,
        1,
    )];
    spec.pose.turn = -2.2;
    spec.pose.fill = 0.9;
    spec.camera.id.number = 4;
    spec.camera.space = Space::Srgb;
    spec.camera.matrix_light = Some(TintedLight::plain(Light::Daylight(5000.0)));
    spec.exif.model = "Workshop Phone 2".to_owned();
    spec.exif.taken = "2026:03:14 16:41:07".to_owned();
    spec.exif.exposure_per_s = 60;
    spec.exif.iso = 160;
    spec
}

fn thing(kind: ClutterKind, centre: [f64; 2], size: [f64; 2], angle: f64, seed: u64) -> Clutter {
    Clutter {
        centre,
        size,
        angle,
        seed,
        kind,
    }
}
