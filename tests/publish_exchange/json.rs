//! JSON: the committed schema by the crate `jsonschema`, the values by their keys.

use crate::{by_hand, ranges, same, text};
use masstone::publish::exchange::json;
use masstone::publish::{Range, Swatch, Tone};
use serde_json::{Value, json};

/// Where the committed schema lies.
const SCHEMA: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/src/publish/exchange/schema.json"
);

fn document(range: &Range) -> Value {
    serde_json::from_str(&text(range, "swatches.json")).unwrap()
}

/// The `jsonschema` crate as the judge: it validates against the draft itself, too. The schema is the one that is published.
fn errors(instance: &Value) -> Vec<String> {
    let schema: Value =
        serde_json::from_str(&text(by_hand::range(), "swatches.schema.json")).unwrap();
    jsonschema::meta::validate(&schema).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    validator
        .iter_errors(instance)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect()
}

#[test]
fn the_committed_schema_is_that_of_the_types() {
    // Renewal only on purpose: a change here is a change of everyone's files.
    if std::env::var_os("MASSTONE_RENEW_SCHEMA").is_some() {
        std::fs::write(SCHEMA, json::schema()).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(SCHEMA).unwrap(),
        json::schema(),
        "run the test with MASSTONE_RENEW_SCHEMA=1 if the change is meant"
    );
}

#[test]
fn what_is_written_holds_to_it() {
    for range in ranges() {
        assert_eq!(errors(&document(range)), [""; 0]);
    }
}

#[test]
fn what_is_wrong_does_not() {
    let good = document(by_hand::range());
    let spoilt = |at: &str, value: Option<Value>| {
        let mut document = good.clone();
        let (parent, key) = at.rsplit_once('/').unwrap();
        let parent = document.pointer_mut(parent).unwrap();
        let parent = parent.as_object_mut().unwrap();
        assert_eq!(parent.contains_key(key), key != "surplus", "{at}");
        match value {
            Some(value) => parent.insert(key.to_owned(), value),
            None => parent.remove(key),
        };
        errors(&document)
    };
    for (at, value) in [
        ("/schema", Some(json!(2))),
        ("/program", None),
        ("/title", None),
        ("/swatches", Some(json!({}))),
        ("/surplus", Some(json!(1))),
        ("/swatches/0/id", Some(json!(17))),
        ("/swatches/0/colour", None),
        ("/swatches/0/surplus", Some(json!(1))),
        ("/swatches/0/colour/L", Some(json!("52.3"))),
        ("/swatches/0/colour/L", Some(Value::Null)),
        ("/swatches/0/colour/h", Some(json!(-1))),
        ("/swatches/0/colour/surplus", Some(json!(1))),
        ("/swatches/0/colour/shows", Some(json!("all"))),
        ("/swatches/0/colour/covariance", Some(json!([[1, 2, 3]]))),
        ("/swatches/0/colour/U95", None),
        ("/swatches/0/ages/0/half", Some(json!("left"))),
        ("/swatches/0/ages/1/colour/hex", None),
        ("/swatches/0/exposed/0/changes/0/dE00", Some(json!("1"))),
        ("/swatches/0/exposed/0/changes/0/surplus", Some(json!(1))),
        ("/swatches/0/recipe/pigments/0/load", Some(json!("7"))),
        ("/swatches/0/loads/0/id", None),
        ("/swatches/0/notes/0/word", Some(json!(7))),
        ("/swatches/0/readings/0/U95", Some(json!("1"))),
        ("/swatches/0/readings/0/sha256", None),
        ("/swatches/0/packs/0/stock", Some(json!("plenty"))),
        ("/swatches/0/patches/0/surplus", Some(json!(1))),
    ] {
        assert!(!spoilt(at, value.clone()).is_empty(), "{at} = {value:?}");
    }
}

#[track_caller]
fn number(read: &Value, meant: Option<f64>, decimals: i32, what: &str) {
    match meant {
        Some(meant) => same(read.as_f64().unwrap(), meant, decimals, what),
        None => assert!(read.is_null(), "{what}: {read}"),
    }
}

fn colour(read: &Value, meant: &Tone) {
    let [l, a, b] = [meant.lab.l, meant.lab.a, meant.lab.b];
    number(&read["L"], Some(l), 12, "L");
    number(&read["a"], Some(a), 12, "a");
    number(&read["b"], Some(b), 12, "b");
    number(&read["C"], Some(a.hypot(b)), 3, "C");
    if a.hypot(b) > 0.0 {
        let h = b.atan2(a).to_degrees().rem_euclid(360.0);
        number(&read["h"], Some(h), 3, "h");
    }
    assert_eq!(read["hex"], meant.hex());
    number(&read["Y"], Some(crate::xyz([l, a, b])[1]), 6, "Y");
    number(&read["U95_Y"], Some(meant.luminous().1), 6, "U95_Y");
    for row in 0..3 {
        for column in 0..3 {
            let entry = &read["covariance"][row][column];
            let meant = meant.covariance[(row, column)];
            number(entry, Some(meant), 12, "covariance");
        }
    }
    number(&read["U95"], meant.u95, 12, "U95");
    number(&read["U95_of_another"], meant.u95_of_another, 12, "another");
    assert_eq!(read["specimens"], meant.specimens);
    assert_eq!(read["photos"], meant.photos);
    assert_eq!(read["disagree"], meant.disagree);
}

fn swatch(read: &Value, meant: &Swatch, range: &Range) {
    assert_eq!(read["id"], format!("swatch-{}", meant.id));
    assert_eq!(read["swatch"], meant.id);
    assert_eq!(read["name"], meant.name);
    assert_eq!(read["text"], json!(meant.text));
    for (it, of) in meant.recipe.pigments.iter().enumerate() {
        let pigment = &read["recipe"]["pigments"][it];
        assert_eq!(pigment["pigment"], of.pigment);
        number(&pigment["load"], Some(of.load), 12, "load");
    }
    assert_eq!(read["recipe"]["coating"], json!(meant.recipe.coating));
    number(&read["recipe"]["coats"], meant.recipe.coats, 12, "coats");
    number(&read["hours"], meant.hours, 12, "hours");
    colour(&read["colour"], &meant.tone);

    // As made first, then the others as they were.
    let ages = read["ages"].as_array().unwrap();
    assert_eq!(ages.len(), meant.ages.len());
    assert_eq!(ages[0]["colour"], read["colour"]);
    for (index, it) in ages.iter().enumerate() {
        assert_eq!(it["as_made"], index == 0);
    }
    for age in &meant.ages {
        let found = (ages.iter()).find(|it| {
            it["hours"] == json!(age.hours)
                && it["half"] == json!(age.half)
                && it["masked"] == age.masked
        });
        colour(&found.unwrap()["colour"], &age.tone);
    }

    let exposed = read["exposed"].as_array().unwrap();
    assert_eq!(exposed.len(), meant.exposed.len());
    for (it, of) in exposed.iter().zip(&meant.exposed) {
        assert_eq!(it["patch"], of.patch);
        assert_eq!(it["dose_kind"], of.dose_kind);
        let changes = it["changes"].as_array().unwrap();
        assert_eq!(changes.len(), of.changes.len());
        for (it, of) in changes.iter().zip(&of.changes) {
            number(&it["dose"], Some(of.dose), 12, "dose");
            number(&it["hours"], of.hours, 12, "hours");
            number(&it["dE00"], Some(of.de_00), 12, "dE00");
            number(&it["U95_dE00"], Some(of.u95), 12, "U95_dE00");
            number(&it["interval_dE00"][0], Some(of.interval[0]), 12, "from");
            number(&it["interval_dE00"][1], Some(of.interval[1]), 12, "to");
            number(
                &it["detection_limit"],
                Some(of.detection_limit),
                12,
                "limit",
            );
            assert_eq!(it["significant"], of.told);
            assert_eq!(it["words"], json!(of.words));
            assert_eq!(it["grade"], of.grade);
        }
    }

    for (index, of) in meant.loads.iter().enumerate() {
        let id = range.swatches[of.swatch].id;
        assert_eq!(read["loads"][index]["id"], format!("swatch-{id}"));
        number(&read["loads"][index]["load"], Some(of.load), 6, "load");
    }
    assert_eq!(
        read["expected"].as_array().unwrap().len(),
        meant.lighter.len()
    );
    for (index, of) in meant.lighter.iter().enumerate() {
        number(&read["expected"][index]["load"], Some(of.load), 6, "load");
        colour(&read["expected"][index]["colour"], &of.tone);
    }
    let readings = read["readings"].as_array().unwrap();
    assert_eq!(readings.len(), meant.readings.len());
    for (it, of) in readings.iter().zip(&meant.readings) {
        assert_eq!(it["photo"], of.photo);
        assert_eq!(it["sha256"], of.sha256);
        assert_eq!(it["lab"], json!(of.lab));
        assert_eq!(it["U95"], json!(of.u95));
        assert_eq!(it["counts"], of.counts);
    }
    assert_eq!(read["notes"].as_array().unwrap().len(), meant.notes.len());
    for (index, of) in meant.packs.iter().enumerate() {
        let it = &read["packs"][index];
        assert_eq!(it["pigment"], of.pigment);
        number(&it["tints_g"], of.tints_g, 3, "tints_g");
        number(&it["covers_m2"], of.covers_m2, 3, "covers_m2");
    }
}

#[test]
fn every_number_comes_back() {
    for range in ranges() {
        let read = document(range);
        assert_eq!(read["title"], range.title);
        assert_eq!(read["schema"], 1);
        let swatches = read["swatches"].as_array().unwrap();
        assert_eq!(swatches.len(), range.swatches.len());
        for (it, of) in swatches.iter().zip(&range.swatches) {
            swatch(it, of, range);
        }
    }
}
