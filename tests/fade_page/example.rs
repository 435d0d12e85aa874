//! A report as a workshop would get it: made up, with every awkward thing that can be in one.

use image::{ExtendedColorType, ImageEncoder as _, RgbImage};
use masstone::colour::{Lab, difference, lab, srgb};
use masstone::fade::kinetics::{Course, CurvePoint, Model, ModelName, Parameter, Threshold};
use masstone::fade::page::Crop;
use masstone::fade::report::{
    Board, Change, Exposure, Fact, FadeFlag, Parts, Patch, Report, SCHEMA, Swatch,
};
use masstone::record::{ControlEntry, Half, Program};

/// A name that must stay a name.
pub(crate) const NASTY: &str = "</td><script>alert('x')</script> & \"é😀\" =1+1";
/// A name that takes more room than there is.
pub(crate) const LONG: &str = "natural burnt umber from the third delivery, ground once more, sieved, in white with a little violet";
/// Hours at which the board was photographed.
pub(crate) const HOURS: [f64; 7] = [0.0, 100.0, 200.0, 400.0, 800.0, 1200.0, 1500.0];
const LIMIT: f64 = 2250.0;

/// A patch: id, name, made of, where it begins, where its plateau is, and how much of it is there at 1500 h.
type Spec = (
    &'static str,
    &'static str,
    &'static str,
    [f64; 3],
    [f64; 3],
    f64,
);

const PATCHES: [Spec; 18] = [
    (
        "PR101-12",
        "red iron oxide, full",
        "PR101 12",
        [38.2, 32.0, 24.5],
        [0.3, -0.2, 0.4],
        1.0,
    ),
    (
        "PR101-6",
        "red iron oxide, half",
        "PR101 6",
        [41.7, 28.1, 24.9],
        [0.2, -0.6, 0.9],
        1.2,
    ),
    (
        "PY42-12",
        "yellow iron oxide, full",
        "PY42 12",
        [58.8, 14.2, 46.0],
        [-0.7, 0.5, 0.3],
        1.4,
    ),
    (
        "PY74-4",
        "arylide yellow",
        "PY74 4",
        [74.6, 6.2, 68.4],
        [3.9, -5.2, -22.0],
        2.0,
    ),
    (
        "PY74-1",
        "arylide yellow, a quarter",
        "PY74 1",
        [76.1, 5.0, 52.7],
        [2.2, -2.6, -24.0],
        2.6,
    ),
    (
        "PR112-4",
        "naphthol red",
        "PR112 4",
        [43.5, 52.0, 31.0],
        [5.0, -14.0, -4.0],
        1.1,
    ),
    (
        "PR112-1",
        NASTY,
        "PR112 1",
        [52.2, 44.6, 26.7],
        [8.0, -22.0, 1.0],
        1.3,
    ),
    (
        "PB15:3-3",
        "phthalocyanine blue",
        "PB15:3 3",
        [36.4, -6.0, -32.0],
        [0.8, -2.9, 3.4],
        0.8,
    ),
    (
        "PB29-8",
        "ultramarine",
        "PB29 8",
        [35.1, 14.0, -38.5],
        [1.1, -1.4, 3.0],
        0.9,
    ),
    (
        "PG7-3",
        "phthalocyanine green",
        "PG7 3",
        [40.3, -33.0, 3.3],
        [0.2, 0.9, 2.8],
        1.0,
    ),
    (
        "PV23-1",
        "dioxazine violet",
        "PV23 1",
        [44.0, 21.0, -25.0],
        [7.5, -7.0, 13.0],
        0.5,
    ),
    (
        "PBk11-6",
        "black iron oxide",
        "PBk11 6",
        [29.7, 0.3, -0.4],
        [0.5, 0.1, 0.5],
        1.0,
    ),
    (
        "umber-from-the-third-delivery-in-white",
        LONG,
        "PBr7 4 + PW6 6 + PV23 0.2",
        [57.3, 6.6, 13.0],
        [-1.8, -0.3, 2.4],
        1.0,
    ),
    (
        "PW6-10",
        "titanium white",
        "PW6 10",
        [93.8, -0.9, 4.1],
        [-0.9, -0.6, 4.9],
        1.1,
    ),
    (
        "PY184-5",
        "",
        "PY184 5",
        [80.0, -3.4, 71.2],
        [-1.2, 1.5, -2.0],
        1.0,
    ),
    (
        "clear",
        "clear coating on larch",
        "clear coating",
        [71.0, 9.6, 29.5],
        [-10.0, 3.2, 6.4],
        1.7,
    ),
    (
        "white",
        "clear coating on a glazed tile",
        "clear coating",
        [92.3, -1.1, 2.7],
        [-1.1, -0.9, 6.8],
        1.2,
    ),
    (
        "spoilt",
        "a drip across both halves",
        "PB28 4",
        [0.0; 3],
        [0.0; 3],
        1.0,
    ),
];

/// Noise of a reading, the same each time: about a third of a unit.
fn noise(patch: usize, exposure: usize, channel: usize) -> f64 {
    let step = (patch * 31 + exposure * 17 + channel * 11 + patch * exposure * 5) % 13;
    (f64::from(u32::try_from(step).unwrap()) - 6.0) / 20.0
}

/// How much of the plateau is there.
fn share(pace: f64, dose: f64) -> f64 {
    1.0 - (-pace * dose / 1500.0).exp()
}

fn lab_of(start: [f64; 3], change: [f64; 3]) -> Lab {
    Lab::new(
        start[0] + change[0],
        start[1] + change[1],
        start[2] + change[2],
    )
}

fn grade(de: f64) -> &'static str {
    let steps = [0.4, 1.25, 2.1, 2.95, 4.1, 5.8, 8.2, 11.6];
    let names = ["5", "4-5", "4", "3-4", "3", "2-3", "2", "1-2", "1"];
    names[steps.iter().filter(|it| de >= **it).count()]
}

fn band(de: f64) -> &'static str {
    let limits = [4.0, 8.0, 16.0, 24.0];
    ["I", "II", "III", "IV", "V"][limits.iter().filter(|it| de > **it).count()]
}

fn words(d: [f64; 3], start: [f64; 3]) -> Vec<String> {
    let mut words = Vec::new();
    let mut say = |value: f64, up: &str, down: &str| {
        if value.abs() > 0.8 {
            words.push(if value > 0.0 { up } else { down }.to_owned());
        }
    };
    say(d[0], "lighter", "darker");
    let after = lab_of(start, d);
    let dc = lab::chroma(after) - lab::chroma(lab_of(start, [0.0; 3]));
    say(dc, "more colourful", "duller");
    say(d[1], "redder", "greener");
    say(d[2], "yellower", "bluer");
    words
}

fn change(patch: usize, exposure: usize) -> Change {
    let (id, _, _, start, plateau, pace) = PATCHES[patch];
    let dose = HOURS[exposure];
    let d: [f64; 3] =
        std::array::from_fn(|it| plateau[it] * share(pace, dose) + noise(patch, exposure, it));
    let (one, other) = (lab_of(start, [0.0; 3]), lab_of(start, d));
    let parts = difference::parts(one, other);
    let de_ab = difference::delta_e_76(one, other);
    let significant = de_ab > 0.75;
    let yellowing: [f64; 3] = [-1.1, -0.9, 6.8].map(|it: f64| it * share(1.2, dose));
    let cool = if start[2] < 4.0 { 0.92 } else { 0.27 };
    let coating = yellowing.map(|it| it * cool * start[0] / 92.3);
    let rest = std::array::from_fn(|it| d[it] - coating[it]);
    let white = id == "white";
    let mut flags = Vec::new();
    if id == "PB29-8" && dose >= 800.0 {
        flags.push(FadeFlag::MaskedMoved);
    }
    if dose >= 1200.0 {
        flags.push(FadeFlag::CommonDrift);
    }
    if exposure == 2 {
        flags.push(FadeFlag::SinglePhoto);
    }
    if id == "PY184-5" {
        flags.push(FadeFlag::DoubtfulReading);
    }
    let (de_00, u95) = (difference::delta_e_2000(one, other), 0.35 + 0.04 * de_ab);
    Change {
        dose,
        hours: Some(dose),
        photos: if exposure == 2 { 1 } else { 3 },
        dl: d[0],
        da: d[1],
        db: d[2],
        dc: parts.chroma,
        dh: parts.hue,
        de_ab,
        de_00,
        u95_de_00: u95,
        interval_de_00: [(de_00 - u95).max(0.0), de_00 + u95],
        detection_limit: 0.52,
        significant,
        p: if significant { 1e-4 } else { 0.4 },
        covariance: [[0.05, 0.0, 0.01], [0.0, 0.07, 0.02], [0.01, 0.02, 0.08]],
        words: if significant {
            words(d, start)
        } else {
            Vec::new()
        },
        grade: grade(de_ab).to_owned(),
        band: band(de_ab).to_owned(),
        yellowness: white.then_some(1.7 * d[2]),
        why_no_yellowness: if white {
            String::new()
        } else {
            "ASTM E313 is for whites; Δb* says how much yellower a colour got".to_owned()
        },
        unevenness: patch.is_multiple_of(3).then_some(0.11 * share(pace, dose)),
        parts: (id != "white" && id != "clear").then(|| Parts {
            coating,
            rest,
            coating_de_00: difference::delta_e_2000(one, lab_of(start, coating)),
            rest_de_00: difference::delta_e_2000(one, lab_of(start, rest)),
        }),
        flags,
    }
}

fn course(patch: usize) -> Course {
    let (_, _, _, start, plateau, pace) = PATCHES[patch];
    let at = |dose: f64| -> ([f64; 3], f64) {
        let d = plateau.map(|it| it * share(pace, dose));
        let de = difference::delta_e_2000(lab_of(start, [0.0; 3]), lab_of(start, d));
        (d, de)
    };
    let curve: Vec<CurvePoint> = (0..=90)
        .map(|it| {
            let dose = LIMIT * f64::from(it) / 90.0;
            let (change, de_00) = at(dose);
            let beyond = (dose - 1500.0).max(0.0) / 750.0;
            let half = 0.08 + 0.08 * de_00 + beyond * (0.3 + 0.25 * de_00);
            CurvePoint {
                dose,
                change,
                de_00,
                low: (de_00 - half).max(0.0),
                high: de_00 + half,
            }
        })
        .collect();
    let reach = |value: fn(&CurvePoint) -> f64, de: f64| {
        curve.iter().find(|it| value(it) >= de).map(|it| it.dose)
    };
    let thresholds = [1.0, 2.0, 5.0].map(|de_00| Threshold {
        de_00,
        dose: reach(|it| it.de_00, de_00),
        low: reach(|it| it.high, de_00),
        high: reach(|it| it.low, de_00),
    });
    let model = |name, weight, parameters| Model {
        name,
        parameters,
        chi_square: 12.5,
        aicc: 20.25,
        weight,
    };
    let rate = Parameter {
        name: "rate".to_owned(),
        value: pace / 1500.0,
        sd: None,
    };
    Course {
        models: vec![
            model(ModelName::Plateau, 0.71, vec![rate]),
            model(ModelName::Power, 0.27, Vec::new()),
            model(ModelName::Linear, 0.02, Vec::new()),
        ],
        range_over_models: false,
        thresholds: thresholds.to_vec(),
        limit_dose: LIMIT,
        limit_reason:
            "That is 1.5 times the furthest exposure, and how a coating fails is in no photo yet."
                .to_owned(),
        curve,
    }
}

fn patch(number: usize) -> Patch {
    let (id, name, made_of, start, ..) = PATCHES[number];
    let spoilt = id == "spoilt";
    let mut changes: Vec<Change> = match id {
        "spoilt" => Vec::new(),
        // Only one exposure could be read: a difference, no course.
        "PY184-5" => vec![change(number, 3)],
        _ => (1..HOURS.len()).map(|it| change(number, it)).collect(),
    };
    if id == "PG7-3" {
        changes.remove(2);
    }
    Patch {
        patch: id.to_owned(),
        name: (!name.is_empty()).then(|| name.to_owned()),
        made_of: made_of.to_owned(),
        control: match id {
            "clear" => Some(ControlEntry::Clear),
            "white" => Some(ControlEntry::ClearOnWhite),
            _ => None,
        },
        start: (!spoilt).then_some(start),
        start_hex: (!spoilt).then(|| srgb::to_hex(lab_of(start, [0.0; 3]))),
        course: (changes.len() > 1).then(|| course(number)),
        changes,
    }
}

/// The report of one board of 18 patches with 6 exposures, and one swatch.
pub(crate) fn report() -> Report {
    let fact = |name: &str, value: &str| Fact {
        name: name.to_owned(),
        value: value.to_owned(),
    };
    let patches: Vec<Patch> = (0..PATCHES.len()).map(patch).collect();
    let swatch = Swatch {
        swatch: format!("PY74 4 {NASTY}"),
        dose_kind: "hours".to_owned(),
        specimens: vec![
            "larch-2026-03 PY74-4".to_owned(),
            "larch-2026-04 C2".to_owned(),
        ],
        changes: patches[3].changes.clone(),
        course: patches[3].course.clone(),
    };
    Report {
        schema: SCHEMA,
        program: Program::this(),
        boards: vec![Board {
            panel: "larch-2026-03".to_owned(),
            title: Some("Tints in clear coating on larch".to_owned()),
            dose_kind: "hours".to_owned(),
            conditions: vec![
                fact("kind", "sun"),
                fact("site", "workshop roof, 48.1° N, 560 m"),
                fact("tilt", "45°"),
                fact("azimuth", "180° (south)"),
                fact("glass", "none: open"),
                fact("washing", "rinsed with water before each photo"),
            ],
            exposures: HOURS
                .iter()
                .enumerate()
                .map(|(index, hours)| Exposure {
                    dose: *hours,
                    hours: Some(*hours),
                    photos: (1..=if index == 2 { 1 } else { 3 })
                        .map(|it| format!("photos/{hours}h/IMG_{it}.jpg"))
                        .collect(),
                })
                .collect(),
            patches,
            not_shown: 0,
            notes: vec![
                "PB29-8: its masked half moved on its own from 800 hours on and is left out as a reference.".to_owned(),
                "All masked halves drifted by ΔE00 0.6 against the card at 1200 hours: differences are against the masked half.".to_owned(),
            ],
        }],
        swatches: vec![swatch],
        notes: vec!["Doses are as the series file states them; nothing was measured of the sun.".to_owned()],
    }
}

/// Pictures of most patches; some have colours only, one has nothing.
pub(crate) fn crops() -> Vec<Crop> {
    let mut crops = Vec::new();
    for (number, (id, _, _, start, plateau, pace)) in PATCHES.iter().enumerate() {
        for (exposure, dose) in HOURS.iter().enumerate() {
            for half in [Half::Masked, Half::Exposed] {
                let d = plateau.map(|it| {
                    if half == Half::Exposed {
                        it * share(*pace, *dose)
                    } else {
                        0.0
                    }
                });
                let colour = lab_of(*start, d);
                let pictured = number % 5 != 1 && !(number == 3 && exposure == 4);
                if *id == "spoilt" {
                    continue;
                }
                crops.push(Crop {
                    panel: "larch-2026-03".to_owned(),
                    patch: (*id).to_owned(),
                    half,
                    dose_kind: "hours".to_owned(),
                    dose: *dose,
                    picture: pictured.then(|| png(colour)),
                    hex: Some(srgb::to_hex(colour)),
                });
            }
        }
    }
    crops
}

/// A coat with some grain.
fn png(colour: Lab) -> Vec<u8> {
    let picture = RgbImage::from_fn(60, 60, |x, y| {
        let grain = f64::from((x * 7 + (y * y) / 9) % 11) / 11.0 - 0.5;
        image::Rgb(srgb::to_rgb8(Lab::new(
            colour.l + 1.6 * grain,
            colour.a,
            colour.b + grain,
        )))
    });
    let mut bytes = Vec::new();
    image::codecs::png::PngEncoder::new(&mut bytes)
        .write_image(&picture, 60, 60, ExtendedColorType::Rgb8)
        .unwrap();
    bytes
}
