//! Design tokens: held against the published form, and read by a parser of the format.
//!
//! What `@terrazzo/parser` makes of `tests/data/publish/swatches.tokens.json` is committed beside it (`tests/oracle/tokens.mjs`).

use crate::{by_hand, ranges, same, text};
use masstone::publish::{Range, Swatch, Tone};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

/// Where the sample for other readers lies.
const SAMPLE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/tests/data/publish/swatches.tokens.json"
);

/// Keys of a token, and of a colour's value, in the published form.
const OF_TOKEN: [&str; 4] = ["$description", "$extensions", "$type", "$value"];
const OF_VALUE: [&str; 4] = ["alpha", "colorSpace", "components", "hex"];

fn keys(it: &Value) -> Vec<&str> {
    it.as_object().unwrap().keys().map(String::as_str).collect()
}

#[track_caller]
fn value(read: &Value, meant: &Tone) {
    assert_eq!(keys(read), OF_VALUE);
    assert_eq!(read["colorSpace"], "lab");
    let lab = [meant.lab.l, meant.lab.a, meant.lab.b];
    let components = read["components"].as_array().unwrap();
    assert_eq!(components.len(), 3);
    for (it, of) in components.iter().zip(lab) {
        same(it.as_f64().unwrap(), of, 3, "component");
    }
    assert_eq!(read["alpha"], 1);
    let hex = read["hex"].as_str().unwrap();
    assert_eq!(hex, meant.hex());
    // The form: six digits.
    assert!(hex.len() == 7 && hex[1..].bytes().all(|it| it.is_ascii_hexdigit()));
}

fn token(read: &Value, meant: &Swatch) {
    assert_eq!(keys(read), OF_TOKEN);
    assert_eq!(read["$type"], "color");
    value(&read["$value"], &meant.tone);
    let description = read["$description"].as_str().unwrap();
    assert!(description.starts_with(&meant.name));
    let beyond = meant.tone.shows() != masstone::publish::Shows::Srgb;
    assert_eq!(description.contains("beyond sRGB"), beyond);
    let own = &read["$extensions"]["masstone"];
    assert_eq!(own["name"], meant.name);
    assert_eq!(own["U95"], serde_json::json!(meant.tone.u95));
    for (index, it) in own["stdev"].as_array().unwrap().iter().enumerate() {
        let variance = meant.tone.covariance[(index, index)];
        same(it.as_f64().unwrap(), variance.sqrt(), 4, "stdev");
    }
    assert_eq!(
        (&own["white"], &own["observer"]),
        (&"D50".into(), &"2deg".into())
    );
}

#[test]
fn every_token_is_of_the_published_form() {
    for range in ranges() {
        let read: Value = serde_json::from_str(&text(range, "swatches.tokens.json")).unwrap();
        let group = read.as_object().unwrap();
        assert_eq!(group.len(), range.swatches.len() + 1);
        assert!(
            group["$description"]
                .as_str()
                .unwrap()
                .starts_with(&range.title)
        );
        for meant in &range.swatches {
            let name = format!("swatch-{}", meant.id);
            // The form: a name begins with no $ and holds none of these.
            assert!(!name.starts_with('$') && !name.contains(['{', '}', '.']));
            token(&group[&name], meant);
        }
    }
}

/// In the range's order, whatever the numbers are.
#[test]
fn tokens_keep_the_order() {
    let text = text(by_hand::range(), "swatches.tokens.json");
    let places: Vec<usize> = (by_hand::range().swatches.iter())
        .map(|it| text.find(&format!("\"swatch-{}\"", it.id)).unwrap())
        .collect();
    assert!(places.is_sorted(), "{places:?}");
}

fn sample() -> &'static Range {
    by_hand::range()
}

#[test]
fn the_sample_is_what_is_written() {
    let now = text(sample(), "swatches.tokens.json");
    if std::env::var_os("MASSTONE_RENEW_SAMPLES").is_some() {
        std::fs::write(SAMPLE, &now).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(SAMPLE).unwrap(),
        now,
        "if the change is meant, renew it with MASSTONE_RENEW_SAMPLES=1, then run tests/oracle/tokens.mjs"
    );
}

#[test]
fn a_parser_of_the_format_reads_the_same() {
    let read: Value =
        serde_json::from_str(include_str!("../data/publish/tokens-read.json")).unwrap();
    let digest = format!("{:x}", Sha256::digest(std::fs::read(SAMPLE).unwrap()));
    assert_eq!(read["sha256"], digest, "run tests/oracle/tokens.mjs");
    assert_eq!(read["problems"], serde_json::json!([]));
    let tokens = read["tokens"].as_object().unwrap();
    assert_eq!(tokens.len(), sample().swatches.len());
    for meant in &sample().swatches {
        let it = &tokens[&format!("swatch-{}", meant.id)];
        assert_eq!(it["type"], "color");
        value(&it["value"], &meant.tone);
        assert!(it["description"].as_str().unwrap().starts_with(&meant.name));
    }
}
