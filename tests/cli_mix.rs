//! `masstone mix` as a user meets it: arguments, the library, files, messages, exit status.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[allow(dead_code, reason = "not every test needs all of it")]
mod letdowns;
#[allow(dead_code, reason = "not every test needs all of it")]
mod made;
#[allow(dead_code, reason = "not every test needs all of it")]
mod shelf;
#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

#[path = "cli_mix/aged.rs"]
mod aged;
#[path = "cli_mix/ladder.rs"]
mod ladder;
#[path = "cli_mix/matching.rs"]
mod matching;
#[path = "cli_mix/next.rs"]
mod next;
#[path = "cli_mix/photo.rs"]
mod photo;
#[path = "cli_mix/predict.rs"]
mod predict;
#[path = "cli_mix/shelves.rs"]
mod shelves;

use masstone::mix::answer;
use serde_json::Value;
use workshop::Ran;

/// An answer as JSON, which always holds to its schema.
fn json(ran: Ran) -> Value {
    let given = serde_json::from_str(&ran.exits(0).stdout).unwrap();
    let schema = serde_json::from_str(answer::COMMITTED).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let wrong: Vec<String> = validator
        .iter_errors(&given)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    given
}

/// The colour of an answer's part.
fn lab(it: &Value) -> masstone::colour::Lab {
    let number = |key: &str| it[key].as_f64().unwrap();
    masstone::colour::Lab::new(number("L"), number("a"), number("b"))
}

#[test]
fn the_committed_schema_is_what_the_types_have() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/mix/schema.json");
    if std::env::var_os("MASSTONE_RENEW_SCHEMA").is_some() {
        std::fs::write(path, answer::generate()).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(path).unwrap(),
        answer::generate(),
        "if the change is meant, renew it: MASSTONE_RENEW_SCHEMA=1 cargo test --test cli_mix"
    );
}
