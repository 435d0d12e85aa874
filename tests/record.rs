//! The record's files: the committed schema, what is written, and what is read back.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod made;

use made::{corrected, measured, panel, record_of};
use masstone::colour::Lab;
use masstone::flag::Flag;
use masstone::record::{Half, Record, csv, json, schema};

/// Where the committed schema lies.
const SCHEMA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/src/record/schema.json");

#[test]
fn the_committed_schema_is_that_of_the_types() {
    // Renewal only on purpose: a change here is a change of everyone's files.
    if std::env::var_os("MASSTONE_RENEW_SCHEMA").is_some() {
        std::fs::write(SCHEMA, schema::generate()).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(SCHEMA).unwrap(),
        schema::generate(),
        "run the test with MASSTONE_RENEW_SCHEMA=1 if the change is meant"
    );
}

/// The `jsonschema` crate as the judge: it validates against the draft itself, too.
fn errors(instance: &serde_json::Value) -> Vec<String> {
    let schema: serde_json::Value = serde_json::from_str(schema::COMMITTED).unwrap();
    jsonschema::meta::validate(&schema).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    validator
        .iter_errors(instance)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect()
}

#[test]
fn the_schema_holds_for_what_is_written_and_not_for_what_is_wrong() {
    let record = Record::new(vec![measured("b.jpg"), measured("a.jpg")]);
    let whole: serde_json::Value = serde_json::from_slice(&written(&record, json::write)).unwrap();
    assert_eq!(errors(&whole), [""; 0]);
    for line in String::from_utf8(written(&record, json::write_lines))
        .unwrap()
        .lines()
    {
        assert_eq!(errors(&serde_json::from_str(line).unwrap()), [""; 0]);
    }

    let wrong: [(&str, serde_json::Value); 7] = [
        ("/schema", 2.into()),
        ("/readings/0/flags", serde_json::json!(["no-such-flag"])),
        ("/readings/0/correction", "no-such-correction".into()),
        ("/readings/0/left_out", 1.5.into()),
        ("/readings/0/L", "38".into()),
        ("/readings/0/hex", "red".into()),
        ("/photos/0/sha256", "abc".into()),
    ];
    for (pointer, value) in wrong {
        let mut broken = whole.clone();
        *broken.pointer_mut(pointer).unwrap() = value;
        assert!(!errors(&broken).is_empty(), "{pointer} should be refused");
    }
    let mut without_key = whole.clone();
    without_key["readings"][0]
        .as_object_mut()
        .unwrap()
        .remove("U95");
    assert!(!errors(&without_key).is_empty(), "every key is required");
    let mut with_key = whole;
    with_key["readings"][0]["guess"] = 1.into();
    assert!(!errors(&with_key).is_empty(), "no other key is known");
}

#[test]
fn csv_has_the_agreed_header_order_and_cells() {
    let record = Record::new(vec![measured("b.jpg"), measured("=a.jpg")]);
    let text = String::from_utf8(written(&record, csv::write)).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(
        lines,
        [
            "photo,panel,patch,half,hours,L,a,b,C,h,hex,sd_L,sd_a,sd_b,unevenness,pixels,left_out,U95,correction,flags",
            "'=a.jpg,p-1,A1,masked,168.500,50.000,0.000,-10.000,10.000,270.000,#707788,0.100,0.200,0.300,0.400,900,0.100,2.500,neutral,",
            "'=a.jpg,p-1,A1,exposed,168.500,,,,,,,,,,,0,1.000,,neutral,unmeasurable",
            "'=a.jpg,p-1,\"red, \"\"new\"\"\",masked,168.500,,,,,,,,,,,0,1.000,,neutral,unmeasurable clipped-high",
            "'=a.jpg,p-1,\"red, \"\"new\"\"\",exposed,168.500,,,,,,,,,,,0,1.000,,neutral,unmeasurable",
            "b.jpg,p-1,A1,masked,168.500,50.000,0.000,-10.000,10.000,270.000,#707788,0.100,0.200,0.300,0.400,900,0.100,2.500,neutral,",
            "b.jpg,p-1,A1,exposed,168.500,,,,,,,,,,,0,1.000,,neutral,unmeasurable",
            "b.jpg,p-1,\"red, \"\"new\"\"\",masked,168.500,,,,,,,,,,,0,1.000,,neutral,unmeasurable clipped-high",
            "b.jpg,p-1,\"red, \"\"new\"\"\",exposed,168.500,,,,,,,,,,,0,1.000,,neutral,unmeasurable",
        ]
    );
    assert_eq!(csv::HEADER.join(","), lines[0]);
}

#[test]
fn halves_have_their_own_outlines_from_the_patchs_top_left() {
    let record = measured("a.jpg");
    // The map of the fixture: 10 pixels a millimetre, turned by a half turn, A1's top left corner at (1000, 500).
    let of = |half| {
        &record
            .readings
            .iter()
            .find(|it| it.half == half)
            .unwrap()
            .outline
    };
    assert_eq!(
        of(Half::Masked),
        &[[1000.0, 500.0], [700.0, 500.0], [700.0, 0.0], [1000.0, 0.0]]
    );
    assert_eq!(
        of(Half::Exposed),
        &[[700.0, 500.0], [400.0, 500.0], [400.0, 0.0], [700.0, 0.0]]
    );
}

#[test]
fn hours_are_empty_when_unknown() {
    let mut record = Record::new(vec![measured("a.jpg")]);
    for it in &mut record.readings {
        it.hours = None;
    }
    let text = String::from_utf8(written(&record, csv::write)).unwrap();
    assert!(
        text.lines()
            .nth(1)
            .unwrap()
            .starts_with("a.jpg,p-1,A1,masked,,50.000")
    );
    let whole: serde_json::Value = serde_json::from_slice(&written(&record, json::write)).unwrap();
    assert!(whole["readings"][0]["hours"].is_null());
}

#[test]
fn what_is_written_is_read_back_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let record = Record::new(vec![measured("b.jpg"), measured("ä.jpg")]);
    for (name, write) in [
        ("r.json", json::write as Writer),
        ("r.jsonl", json::write_lines as Writer),
    ] {
        let path = folder.path().join(name);
        std::fs::write(&path, written(&record, write)).unwrap();
        assert_eq!(json::read(&path).unwrap(), record);
    }
}

#[test]
fn reading_back_names_file_line_and_reason() {
    let folder = tempfile::tempdir().unwrap();
    let good = json::line(measured("a.jpg")).unwrap();
    let cases = [
        (
            "torn.jsonl",
            format!("{good}{}", &good[..good.len() / 2]),
            ":2:",
            "EOF",
        ),
        (
            "new.json",
            "{\"schema\": 2, \"photos\": []}".into(),
            ":1:",
            "schema is 2, and this program reads 1",
        ),
        (
            "key.json",
            "{\n\"schema\": 1,\n\"fotos\": []}".into(),
            ":3:",
            "unknown field `fotos`",
        ),
        (
            "stray.json",
            good.replace("\"photo\":\"a.jpg\"", "\"photo\":\"z.jpg\""),
            ":1:",
            "z.jpg, which is not among",
        ),
        ("text.json", "hello".into(), ":1:", "expected value"),
    ];
    for (name, content, place, reason) in cases {
        let path = folder.path().join(name);
        std::fs::write(&path, content).unwrap();
        let error = json::read(&path).unwrap_err();
        let text = error.to_string();
        assert!(text.contains(&format!("{name}{place}")), "{name}: {text}");
        assert!(text.contains(reason), "{name}: {text}");
    }
    let missing = json::read(&folder.path().join("none.json")).unwrap_err();
    assert!(missing.to_string().contains("none.json"), "{missing}");
}

#[test]
fn a_number_that_is_none_is_never_written() {
    let (panel, mut corrected) = (panel(), corrected());
    corrected[1].u95 = f64::NAN;
    let record = record_of("a.jpg", &panel, &corrected);
    assert_eq!(record.readings[0].lab(), None);
    assert_eq!(record.readings[0].flags, [Flag::Unmeasurable]);
    assert_eq!(record.readings[0].cov_own, None);
}

#[test]
fn empty_cells_have_no_rows() {
    let mut panel = panel();
    panel.patches[1].empty = true;
    let record = record_of("a.jpg", &panel, &corrected());
    assert!(record.readings.iter().all(|it| it.patch == "A1"));
    assert_eq!(record.readings.len(), 2);
}

type Writer = fn(&Record, &mut dyn std::io::Write) -> std::io::Result<()>;

fn written(record: &Record, write: Writer) -> Vec<u8> {
    let mut bytes = Vec::new();
    write(record, &mut bytes).unwrap();
    bytes
}

/// Just below a full turn: rounded to six decimals it is none, which the schema doesn't let be 360.
#[test]
fn a_hue_never_rounds_up_to_a_full_turn() {
    let mut corrected = corrected();
    for it in &mut corrected {
        it.lab = it.lab.map(|it| Lab::new(it.l, 30.0, -1e-9));
    }
    let record = record_of("a.jpg", &panel(), &corrected);
    let hues: Vec<f64> = record.readings.iter().filter_map(|it| it.h).collect();
    assert_eq!(hues, [0.0]);
}
