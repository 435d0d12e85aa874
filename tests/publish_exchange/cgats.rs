//! CGATS text: by the grammar, and by a colour library that reads it.
//!
//! The registries' one reader made for it has a licence that doesn't go with this program's. So two others judge: a tokenizer written from the standard's grammar, and
//! Little CMS, a general-purpose colour library, whose reading of `tests/data/publish/swatches.cgats.txt` is committed beside it (`tests/oracle/cgats.py`).

use crate::{by_hand, ranges, same, text, xyz};
use masstone::publish::exchange::cgats::FIELDS;
use masstone::publish::{Range, Swatch};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;

/// Where the sample for other readers lies.
const SAMPLE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/tests/data/publish/swatches.cgats.txt"
);

/// Keywords and fields of CGATS.17 that need no declaration (from memory of the standard); those of the form itself are in the grammar.
const STANDARD: [&str; 16] = [
    "ORIGINATOR",
    "FILE_DESCRIPTOR",
    "CREATED",
    "INSTRUMENTATION",
    "MEASUREMENT_SOURCE",
    "SAMPLE_ID",
    "LAB_L",
    "LAB_A",
    "LAB_B",
    "XYZ_X",
    "XYZ_Y",
    "XYZ_Z",
    "STDEV_L",
    "STDEV_A",
    "STDEV_B",
    "KEYWORD",
];

#[derive(Clone, Debug, PartialEq)]
enum Token {
    Word(String),
    Text(String),
}

/// Tokens apart by white space, strings in quotation marks that end on their line, comments from `#` to the end of the line.
fn tokens(text: &str) -> Vec<Vec<Token>> {
    assert!(
        (text.bytes()).all(|it| it == b'\n' || (b' '..=b'~').contains(&it)),
        "7-bit text"
    );
    text.lines().map(line).collect()
}

fn line(text: &str) -> Vec<Token> {
    let mut all = Vec::new();
    let mut rest = text.trim_start();
    while !rest.is_empty() && !rest.starts_with('#') {
        if let Some(inner) = rest.strip_prefix('"') {
            let (inside, after) = inner.split_once('"').unwrap();
            assert!(after.is_empty() || after.starts_with(' '), "{text}");
            all.push(Token::Text(inside.to_owned()));
            rest = after.trim_start();
        } else {
            let (word, after) = rest.split_once(' ').unwrap_or((rest, ""));
            assert!(!word.contains('"'), "{text}");
            all.push(Token::Word(word.to_owned()));
            rest = after.trim_start();
        }
    }
    all
}

struct Table {
    keywords: BTreeMap<String, String>,
    sets: Vec<BTreeMap<String, String>>,
}

/// By the grammar: the identifier, keywords with a value each, the counts before what they count, every name that isn't the standard's declared before.
fn parse(text: &str) -> Table {
    let mut lines = (tokens(text).into_iter()).filter(|it| !it.is_empty());
    let word = |it: &str| Token::Word(it.to_owned());
    assert_eq!(lines.next().unwrap(), [word("CGATS.17")]);
    let mut declared: Vec<String> = STANDARD.map(str::to_owned).to_vec();
    let mut keywords = BTreeMap::new();
    let mut count = |keywords: &mut BTreeMap<String, String>, until: &str| -> usize {
        loop {
            match &lines.next().unwrap()[..] {
                [Token::Word(name), Token::Word(count)] if name == until => {
                    return count.parse().unwrap();
                }
                [Token::Word(name), Token::Text(value)] => {
                    assert!(declared.contains(name), "{name} is not declared");
                    if name == "KEYWORD" {
                        declared.push(value.clone());
                    } else {
                        assert_eq!(keywords.insert(name.clone(), value.clone()), None);
                    }
                }
                other => panic!("{other:?}"),
            }
        }
    };
    let fields = count(&mut keywords, "NUMBER_OF_FIELDS");
    assert_eq!(lines.next().unwrap(), [word("BEGIN_DATA_FORMAT")]);
    let format: Vec<String> = (lines.next().unwrap().into_iter())
        .map(|it| match it {
            Token::Word(it) => it,
            Token::Text(it) => panic!("{it}"),
        })
        .collect();
    assert_eq!(format.len(), fields);
    for it in &format {
        assert!(declared.contains(it), "{it} is not declared");
    }
    assert_eq!(lines.next().unwrap(), [word("END_DATA_FORMAT")]);
    let sets = match &lines.next().unwrap()[..] {
        [Token::Word(name), Token::Word(count)] if name == "NUMBER_OF_SETS" => count.clone(),
        other => panic!("{other:?}"),
    };
    assert_eq!(lines.next().unwrap(), [word("BEGIN_DATA")]);
    let sets = (0..sets.parse().unwrap()).map(|_| {
        let values = lines.next().unwrap();
        assert_eq!(values.len(), fields, "{values:?}");
        let values = values.into_iter().map(|it| match it {
            Token::Word(it) | Token::Text(it) => it,
        });
        format.iter().cloned().zip(values).collect()
    });
    let sets = sets.collect();
    assert_eq!(lines.next().unwrap(), [word("END_DATA")]);
    assert!(lines.next().is_none());
    Table { keywords, sets }
}

/// A name as it was: the content of a JSON string.
fn name(it: &str) -> String {
    serde_json::from_str(&format!("\"{it}\"")).unwrap()
}

fn set(read: &BTreeMap<String, String>, meant: &Swatch) {
    let tone = &meant.tone;
    let lab = [tone.lab.l, tone.lab.a, tone.lab.b];
    let number = |field: &str| -> f64 { read[field].parse().unwrap() };
    assert_eq!(read["SAMPLE_ID"], format!("swatch-{}", meant.id));
    assert_eq!(name(&read["SAMPLE_NAME"]), meant.name);
    let xyz = xyz(lab);
    for (index, (of_lab, of_xyz, deviation)) in [
        ("LAB_L", "XYZ_X", "STDEV_L"),
        ("LAB_A", "XYZ_Y", "STDEV_A"),
        ("LAB_B", "XYZ_Z", "STDEV_B"),
    ]
    .into_iter()
    .enumerate()
    {
        same(number(of_lab), lab[index], 3, of_lab);
        same(number(of_xyz), 100.0 * xyz[index], 4, of_xyz);
        let meant = tone.covariance[(index, index)].sqrt();
        same(number(deviation), meant, 4, deviation);
    }
    let chroma = lab[1].hypot(lab[2]);
    same(number("LCH_C"), chroma, 3, "LCH_C");
    if chroma > 0.0 {
        let hue = lab[2].atan2(lab[1]).to_degrees().rem_euclid(360.0);
        same(number("LCH_H"), hue, 3, "LCH_H");
    }
    same(number("U95"), tone.u95.unwrap_or(-1.0), 3, "U95");
    let u95_y = 100.0 * tone.luminous().1;
    same(number("LUMINANCE_U95"), u95_y, 4, "LUMINANCE_U95");
}

#[test]
fn every_number_comes_back_by_the_grammar() {
    for range in ranges() {
        let table = parse(&text(range, "swatches.cgats.txt"));
        assert_eq!(name(&table.keywords["FILE_DESCRIPTOR"]), range.title);
        assert_eq!(table.keywords["ILLUMINATION_NAME"], "D50");
        assert_eq!(table.keywords["OBSERVER_ANGLE"], "2");
        assert!(table.keywords["MEASUREMENT_SOURCE"].contains("not that of ISO 13655"));
        assert_eq!(table.sets.len(), range.swatches.len());
        for (read, meant) in table.sets.iter().zip(&range.swatches) {
            assert_eq!(read.len(), FIELDS.len());
            set(read, meant);
        }
    }
    let table = parse(&text(by_hand::range(), "swatches.cgats.txt"));
    assert_eq!(
        table.keywords["CREATED"], "2026-03-09",
        "the latest photo's"
    );
}

#[test]
fn without_dates_nothing_is_said_of_one() {
    let mut range = by_hand::range().clone();
    for it in range.swatches.iter_mut().flat_map(|it| &mut it.readings) {
        it.taken = None;
    }
    let table = parse(&text(&range, "swatches.cgats.txt"));
    assert!(!table.keywords.contains_key("CREATED"));
}

/// The grammar above must be able to say no.
#[test]
fn the_grammar_refuses_what_is_wrong() {
    let good = text(by_hand::range(), "swatches.cgats.txt");
    for (from, to) in [
        ("CGATS.17", "CGATS"),
        ("KEYWORD \"U95\"\n", ""),
        ("NUMBER_OF_FIELDS 15", "NUMBER_OF_FIELDS 14"),
        ("NUMBER_OF_SETS 9", "NUMBER_OF_SETS 8"),
        ("\nEND_DATA\n", "\n"),
        ("moss ", "moss\" "),
        ("moss ", "m\u{f6}ss "),
        (" 52.312 ", " 52,312 1 "),
    ] {
        let bad = good.replacen(from, to, 1);
        assert_ne!(bad, good, "{from}");
        let judged = std::panic::catch_unwind(|| parse(&bad));
        assert!(judged.is_err(), "{from} -> {to:?}");
    }
}

fn sample() -> &'static Range {
    by_hand::range()
}

#[test]
fn the_sample_is_what_is_written() {
    let now = text(sample(), "swatches.cgats.txt");
    if std::env::var_os("MASSTONE_RENEW_SAMPLES").is_some() {
        std::fs::write(SAMPLE, &now).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(SAMPLE).unwrap(),
        now,
        "if the change is meant, renew it with MASSTONE_RENEW_SAMPLES=1, then run tests/oracle/cgats.py"
    );
}

#[test]
fn another_library_reads_the_same() {
    let read: serde_json::Value =
        serde_json::from_str(include_str!("../data/publish/cgats-read.json")).unwrap();
    let digest = format!("{:x}", Sha256::digest(std::fs::read(SAMPLE).unwrap()));
    assert_eq!(read["sha256"], digest, "run tests/oracle/cgats.py");
    let sets: Vec<BTreeMap<String, String>> = serde_json::from_value(read["sets"].clone()).unwrap();
    assert_eq!(sets.len(), sample().swatches.len());
    for (read, meant) in sets.iter().zip(&sample().swatches) {
        assert_eq!(read.len(), FIELDS.len());
        set(read, meant);
    }
    assert_eq!(
        name(read["keywords"]["FILE_DESCRIPTOR"].as_str().unwrap()),
        sample().title
    );
}
