//! A range made by hand: colours on all sides of the gamuts, and names that try to get out of their place.

use masstone::colour::{Lab, Matrix};
use masstone::library::catalog::Stock;
use masstone::library::notes::Note;
use masstone::library::recipe::{Ingredient, Recipe};
use masstone::publish::{
    Age, Change, Exposed, Family, Lighter, Other, Pack, Range, Reading, Show, Swatch, Tone,
};
use masstone::record::{Fact, Half, Program, SideEntry};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// What a name can be.
pub(crate) const NAMES: [&str; 9] = [
    "=HYPERLINK(\"https://example.org/\",\"red\")",
    "barn red */ } :root { --swatch-1: red; } /*",
    "</style><script>alert(1)</script>",
    "\"quoted\" 'twice' \\ back\\\" # no comment",
    "two\nlines\tand a tab, END_DATA",
    "אדום \u{202e}trap\u{202c} larch",
    "moss 🌿🏽 green",
    "{alias.of} $value",
    "-1+1; a,b;c",
];

/// L*, a*, b* by name: shown by sRGB (the first six), by Display P3 (one), by neither (one), and black.
const COLOURS: [[f64; 3]; 9] = [
    [52.312, 40.031, 60.101],
    [38.223, 12.767, 13.971],
    [29.235, 39.383, 20.066],
    [50.0, 0.0, 0.0],
    [96.5, -1.004, 2.1],
    [20.125, 0.0, -0.001],
    [60.0, 80.0, 50.0],
    [55.0, 100.0, 90.0],
    [0.0, 0.0, 0.0],
];

/// The range; its program has a version of its own, lest a new version changes what other readers read.
pub(crate) fn range() -> &'static Range {
    static RANGE: OnceLock<Range> = OnceLock::new();
    RANGE.get_or_init(|| Range {
        title: "Larch */ \"colours\" <b>".to_owned(),
        text: vec!["One & two.".to_owned(), "Three.".to_owned()],
        home: Some("https://example.org/?a=1&b=2".to_owned()),
        accent: None,
        show: Show::default(),
        boards: Vec::new(),
        swatches: (0..NAMES.len()).map(swatch).collect(),
        left_out: Vec::new(),
        pictures: BTreeMap::new(),
        program: Program {
            name: "masstone".to_owned(),
            version: "0.0.0".to_owned(),
        },
    })
}

fn tone(index: usize) -> Tone {
    let [l, a, b] = COLOURS[index];
    let spread = 0.01 * (1.0 + index as f64);
    Tone {
        lab: Lab::new(l, a, b),
        covariance: Matrix::new(
            spread,
            0.001,
            -0.002,
            0.001,
            2.0 * spread,
            0.000_5,
            -0.002,
            0.000_5,
            3.0 * spread,
        ),
        // Of the last nobody knows it.
        u95: (index != 8).then_some(0.5 + 0.125 * index as f64),
        u95_of_another: index.is_multiple_of(2).then_some(1.234),
        specimens: 1 + index,
        photos: 2 + index,
        disagree: index % 2,
    }
}

fn swatch(index: usize) -> Swatch {
    let made = tone(index);
    let mut aged = made;
    aged.lab.l += 1.5;
    let age = |masked, half, hours, tone| Age {
        masked,
        half,
        hours,
        tone,
        picture: None,
    };
    Swatch {
        // Neither from 1 up nor in order: a number is a name.
        id: [17, 2, 101, 3, 5, 40, 41, 8, 9][index],
        name: NAMES[index].to_owned(),
        text: vec![NAMES[index].to_owned()],
        shop: Some("https://example.org/shop".to_owned()),
        recipe: Recipe {
            pigments: vec![
                Ingredient {
                    pigment: "PR101".to_owned(),
                    load: 7.5,
                },
                Ingredient {
                    pigment: "=PY42".to_owned(),
                    load: 0.25,
                },
            ],
            coating: Some("@coating".to_owned()),
            substrate: Some("larch, \"sawn\"".to_owned()),
            coats: (index != 1).then_some(2.0),
            g_per_m2: (index == 1).then_some(180.5),
            control: None,
        },
        only_panel: (index == 2).then(|| "panel".to_owned()),
        families: vec![Family::Yellow, Family::Red],
        tone: made,
        hours: (index != 3).then_some(0.0),
        picture: None,
        // As made comes last here.
        ages: vec![
            age(false, Half::Exposed, Some(1500.25), aged),
            age(
                false,
                Half::Whole,
                if index == 3 { None } else { Some(0.0) },
                made,
            ),
        ],
        exposed: vec![exposed(index)],
        loads: vec![
            Other {
                swatch: index,
                load: 7.75,
            },
            Other {
                swatch: (index + 1) % NAMES.len(),
                load: 9.0,
            },
        ],
        lighter: vec![Lighter {
            load: 3.875,
            tone: aged,
        }],
        cure: vec!["cured".to_owned(), "slow".to_owned()],
        notes: vec![Note {
            panel: "panel".to_owned(),
            patch: "A1".to_owned(),
            word: "slow".to_owned(),
            date: "2026-03-04".to_owned(),
            text: Some(NAMES[index].to_owned()),
            temperature_c: Some(11.5),
            ..Note::default()
        }],
        patches: vec![("panel".to_owned(), format!("A{index}"))],
        readings: vec![reading(index, true), reading(index, false)],
        packs: vec![Pack {
            pigment: "PR101".to_owned(),
            maker_name: Some(NAMES[index].to_owned()),
            pack_g: Some(250.0),
            tints_g: Some(250.0 / 7.5 * 100.0),
            covers_m2: None,
            price: Some("9.50 €".to_owned()),
            shop: None,
            stock: Some(Stock::RunningOut),
        }],
    }
}

fn exposed(index: usize) -> Exposed {
    let change = |dose: f64, told: bool| Change {
        dose,
        hours: told.then_some(dose),
        de_00: 1.125 + index as f64,
        u95: 0.5,
        interval: [0.625, 1.625],
        detection_limit: 0.775,
        told,
        words: if told {
            vec!["lighter".to_owned(), "yellower".to_owned()]
        } else {
            Vec::new()
        },
        grade: "4-5".to_owned(),
        halves: [None, None],
    };
    Exposed {
        panel: "panel".to_owned(),
        patch: format!("A{index}"),
        dose_kind: "-hours".to_owned(),
        conditions: vec![Fact {
            name: "facing".to_owned(),
            value: "south".to_owned(),
        }],
        masked: Some(SideEntry::Left),
        changes: vec![change(700.5, false), change(1500.25, true)],
        start: [None, None],
    }
}

fn reading(index: usize, counts: bool) -> Reading {
    let [l, a, b] = COLOURS[index];
    Reading {
        panel: "panel".to_owned(),
        patch: format!("A{index}"),
        half: if counts { Half::Masked } else { Half::Whole },
        hours: counts.then_some(0.5),
        photo: "=photo, \"1\".jpg".to_owned(),
        sha256: format!("{index:064x}"),
        taken: counts.then(|| format!("2026:03:{:02} 10:00:00 +02:00", 1 + index)),
        camera: Some("a phone".to_owned()),
        correction: "neutral".to_owned(),
        lab: counts.then_some([l, a, b]),
        u95: counts.then_some(1.75),
        counts,
    }
}
