//! Plans as JSON: the committed schema, and that it tells right from wrong.

use crate::{like, pot_life};
use masstone::plan::schema::{self, Plan};
use serde_json::{Value, json};

/// Where the committed schema lies.
const SCHEMA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/src/plan/schema.json");

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
fn errors(instance: &Value) -> Vec<String> {
    let schema: Value = serde_json::from_str(schema::COMMITTED).unwrap();
    jsonschema::meta::validate(&schema).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    validator
        .iter_errors(instance)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect()
}

fn plans() -> [Value; 2] {
    let panel = Plan::Panel(Box::new(pot_life::panel_of(5, 32.0)));
    let job = Plan::Job(Box::new(like::planned_job()));
    [panel, job].map(|it| serde_json::to_value(it).unwrap())
}

#[test]
fn what_is_written_holds_to_it() {
    let [panel, job] = plans();
    assert_eq!(
        (&panel["kind"], &job["kind"]),
        (&json!("panel"), &json!("job"))
    );
    // So that what matters is there to be judged.
    assert!(panel["rounds"][0]["sessions"][1]["cups"][0]["adds"][0]["add"].is_string());
    assert!(job["like"]["compared"][0]["factor"].is_number() && job["tinted"].is_object());
    for plan in [panel, job] {
        assert_eq!(errors(&plan), [""; 0]);
    }
}

#[test]
fn what_is_wrong_does_not() {
    let spoilt = |which: usize, at: &str, value: Option<Value>| {
        let mut plan = plans()[which].clone();
        let (parent, key) = at.rsplit_once('/').unwrap();
        let parent = plan.pointer_mut(parent).unwrap().as_object_mut().unwrap();
        match value {
            Some(value) => parent.insert(key.to_owned(), value),
            None => parent.remove(key),
        };
        errors(&plan)
    };
    for (which, at, value) in [
        (0, "/kind", Some(json!("boat"))),
        (0, "/rounds", None),
        (0, "/surplus", Some(json!(1))),
        (0, "/surfaces/0/area_m2", Some(json!("0.1"))),
        (0, "/surfaces/0/surplus", Some(json!(1))),
        (0, "/rounds/0/sessions/0/minutes", Some(Value::Null)),
        (0, "/rounds/0/sessions/0/cups/0/adds/0/grams", None),
        (
            0,
            "/rounds/0/sessions/0/cups/0/adds/0/add",
            Some(json!("stone")),
        ),
        (
            0,
            "/rounds/0/sessions/0/cups/0/loads/0/surplus",
            Some(json!(1)),
        ),
        (
            0,
            "/rounds/0/sessions/0/cups/0/adds/0/surplus",
            Some(json!(1)),
        ),
        (1, "/batch/0/grams", Some(json!("many"))),
        (1, "/standing/verdict", Some(json!("perhaps"))),
        (1, "/like/lots", Some(json!("0312"))),
        (1, "/cost/lines", None),
    ] {
        assert!(
            !spoilt(which, at, value.clone()).is_empty(),
            "{at} = {value:?} passed"
        );
    }
}
