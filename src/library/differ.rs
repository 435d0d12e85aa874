//! How two measurements under one key differ, in words.

use super::LibraryError;
use super::store::without_files;
use crate::record::csv::word;
use crate::record::{PhotoRecord, Reading};
use serde_json::Value;

/// Most differences of a kind that are told one by one.
const TOLD: usize = 5;

/// What of `new` differs from `old`: hours, panel facts, numbers. Readings that only one of the two has are no difference, nor is
/// where the files were.
pub(super) fn differences(
    old: &PhotoRecord,
    new: &PhotoRecord,
) -> Result<Vec<String>, LibraryError> {
    let mut found = Vec::new();
    let bits = |it: Option<f64>| it.map(f64::to_bits);
    let (before, after) = (&old.photo, &new.photo);
    let stated = |it: Option<f64>| it.map_or("unknown".to_owned(), |it| it.to_string());
    if bits(before.hours) != bits(after.hours) {
        found.push(format!(
            "hours: {} in the library, {} here",
            stated(before.hours),
            stated(after.hours)
        ));
    }
    if bits(before.dose) != bits(after.dose) || before.dose_kind != after.dose_kind {
        found.push(format!(
            "dose: {} in the library, {} here",
            stated(before.dose),
            stated(after.dose)
        ));
    }
    let value = |it: &PhotoRecord| {
        serde_json::to_value(without_files(&it.photo.panel))
            .map_err(|it| LibraryError::damaged("a panel", it))
    };
    let mut facts = Vec::new();
    walk("panel", &value(old)?, &value(new)?, &mut facts);
    told(&mut found, facts, "facts of the panel");

    let mut numbers = Vec::new();
    for it in &new.readings {
        let same = |other: &&Reading| other.patch == it.patch && other.half == it.half;
        if let Some(before) = old.readings.iter().find(same)
            && !same_numbers(before, it)
        {
            numbers.push(format!(
                "patch {} {}: {} in the library, {} here",
                it.patch,
                word(&it.half),
                colour(before),
                colour(it)
            ));
        }
    }
    told(&mut found, numbers, "readings");
    Ok(found)
}

fn told(found: &mut Vec<String>, mut all: Vec<String>, what: &str) {
    let more = all.len().saturating_sub(TOLD);
    all.truncate(TOLD);
    found.append(&mut all);
    if more > 0 {
        found.push(format!("and {more} more {what}"));
    }
}

fn same_numbers(old: &Reading, new: &Reading) -> bool {
    let mut old = old.clone();
    old.photo.clone_from(&new.photo);
    // Hours are told once.
    old.hours = new.hours;
    old == *new
}

fn colour(it: &Reading) -> String {
    match (it.lab(), it.u95) {
        (Some(lab), Some(u95)) => {
            format!(
                "L* {:.3} a* {:.3} b* {:.3} U95 {u95:.3}",
                lab.l, lab.a, lab.b
            )
        }
        _ => "no colour".to_owned(),
    }
}

/// Every place where the two have different values.
fn walk(place: &str, old: &Value, new: &Value, found: &mut Vec<String>) {
    match (old, new) {
        (Value::Object(one), Value::Object(other)) => {
            let mut keys: Vec<&String> = one.keys().chain(other.keys()).collect();
            keys.sort();
            keys.dedup();
            for key in keys {
                let place = format!("{place}.{key}");
                walk(
                    &place,
                    one.get(key).unwrap_or(&Value::Null),
                    other.get(key).unwrap_or(&Value::Null),
                    found,
                );
            }
        }
        (Value::Array(one), Value::Array(other)) if one.len() == other.len() => {
            for (index, (one, other)) in one.iter().zip(other).enumerate() {
                // Patches are known by their ids.
                let id = one["id"].as_str().map_or(index.to_string(), str::to_owned);
                walk(&format!("{place} {id}"), one, other, found);
            }
        }
        _ if old == new => {}
        _ => found.push(format!("{place}: {old} in the library, {new} here")),
    }
}
