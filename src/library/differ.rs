//! How two measurements under one key differ: fact by fact and patch by patch, the old beside the new.

use super::LibraryError;
use super::store::without_files;
use crate::record::csv::word;
use crate::record::{Fact, PhotoRecord, Reading};
use serde_json::Value;

/// Most differences of a kind that are told one by one.
const TOLD: usize = 24;

/// Something that two measurements under one key say differently.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Difference {
    pub(super) kind: Kind,
    /// The patch, if it is of one.
    pub(super) patch: Option<String>,
    /// What it is.
    pub(super) what: String,
    pub(super) old: String,
    pub(super) new: String,
}

/// What a difference is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Dose,
    Exposure,
    Fact,
    Number,
}

/// What of `new` differs from `old`: doses, panel facts, how the board was exposed, numbers. Readings, and statements of an exposure, that
/// only one of the two has are no difference, nor is where the files were.
pub(super) fn differences(
    old: &PhotoRecord,
    new: &PhotoRecord,
) -> Result<Vec<Difference>, LibraryError> {
    let mut found = doses(old, new);
    let value = |it: &PhotoRecord| {
        serde_json::to_value(without_files(&it.photo.panel))
            .map_err(|it| LibraryError::damaged("a panel", it))
    };
    let mut facts = Walk::new(Kind::Fact, &["panel"]);
    facts.values(&value(old)?, &value(new)?);
    found.append(&mut facts.found);
    found.append(&mut exposures(old, new));
    for it in &new.readings {
        let same = |other: &&Reading| other.patch == it.patch && other.half == it.half;
        if let Some(before) = old.readings.iter().find(same) {
            found.append(&mut numbers(before, it)?);
        }
    }
    Ok(found)
}

/// In words, for those who added the new one.
pub(super) fn in_words(all: &[Difference]) -> Vec<String> {
    let mut told = Vec::new();
    for (kind, name) in [
        (Kind::Dose, "doses"),
        (Kind::Fact, "facts of the panel"),
        (Kind::Exposure, "facts of the exposure"),
        (Kind::Number, "readings"),
    ] {
        let of_it: Vec<&Difference> = all.iter().filter(|it| it.kind == kind).collect();
        told.extend(
            of_it
                .iter()
                .take(TOLD)
                .map(|it| format!("{}: {} in the library, {} here", it.what, it.old, it.new)),
        );
        if of_it.len() > TOLD {
            told.push(format!("and {} more {name}", of_it.len() - TOLD));
        }
    }
    told
}

fn doses(old: &PhotoRecord, new: &PhotoRecord) -> Vec<Difference> {
    let (before, after) = (&old.photo, &new.photo);
    let bits = |it: Option<f64>| it.map(f64::to_bits);
    let stated = |it: Option<f64>| it.map_or("unknown".to_owned(), |it| it.to_string());
    let mut found = Vec::new();
    let mut told = |what: &str, old: String, new: String| {
        found.push(Difference {
            kind: Kind::Dose,
            patch: None,
            what: what.to_owned(),
            old,
            new,
        });
    };
    if bits(before.hours) != bits(after.hours) {
        told("hours", stated(before.hours), stated(after.hours));
    }
    if bits(before.dose) != bits(after.dose) || before.dose_kind != after.dose_kind {
        let dose = |dose, kind: &Option<String>| match kind {
            Some(kind) => format!("{} ({kind})", stated(dose)),
            None => stated(dose),
        };
        told(
            "dose",
            dose(before.dose, &before.dose_kind),
            dose(after.dose, &after.dose_kind),
        );
    }
    found
}

/// What two statements of how a board was exposed differ in; where only one is there, nothing.
fn exposures(old: &PhotoRecord, new: &PhotoRecord) -> Vec<Difference> {
    let (Some(old), Some(new)) = (&old.photo.exposure, &new.photo.exposure) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let mut told = |what: &str, old: &str, new: &str| {
        if old != new {
            let or_none = |it: &str| if it.is_empty() { "none" } else { it }.to_owned();
            found.push(Difference {
                kind: Kind::Exposure,
                patch: None,
                what: format!("exposure, {what}"),
                old: or_none(old),
                new: or_none(new),
            });
        }
    };
    told("kind", &word(&old.kind), &word(&new.kind));
    for (one, other) in [(&old.conditions, &new.conditions), (&old.shot, &new.shot)] {
        let value = |facts: &[Fact], name: &str| {
            let fact = facts.iter().find(|it| it.name == name);
            fact.map_or(String::new(), |it| it.value.clone())
        };
        let more = other.iter().filter(|it| value(one, &it.name).is_empty());
        for it in one.iter().chain(more) {
            told(&it.name, &value(one, &it.name), &value(other, &it.name));
        }
    }
    told("witness", &old.witness.join(" "), &new.witness.join(" "));
    found
}

/// What two readings of one half of one patch differ in: their colours if those are not the same, else each number that is not.
fn numbers(old: &Reading, new: &Reading) -> Result<Vec<Difference>, LibraryError> {
    let mut old = old.clone();
    old.photo.clone_from(&new.photo);
    // Hours are told once.
    old.hours = new.hours;
    if old == *new {
        return Ok(Vec::new());
    }
    let name = format!("patch {} {}", new.patch, word(&new.half));
    let (before, after) = (colour(&old), colour(new));
    if before != after {
        return Ok(vec![Difference {
            kind: Kind::Number,
            patch: Some(new.patch.clone()),
            what: name,
            old: before,
            new: after,
        }]);
    }
    let value = |it: &Reading| {
        serde_json::to_value(it).map_err(|it| LibraryError::damaged("a reading", it))
    };
    let mut walk = Walk::new(Kind::Number, &[&name]);
    walk.patch = Some(new.patch.clone());
    walk.values(&value(&old)?, &value(new)?);
    Ok(walk.found)
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

/// Goes through two values of one form.
struct Walk {
    kind: Kind,
    patch: Option<String>,
    /// The way to where it is.
    way: Vec<String>,
    found: Vec<Difference>,
}

impl Walk {
    fn new(kind: Kind, way: &[&str]) -> Self {
        Self {
            kind,
            patch: None,
            way: way.iter().map(|it| (*it).to_owned()).collect(),
            found: Vec::new(),
        }
    }

    fn told(&mut self, old: String, new: String) {
        self.found.push(Difference {
            kind: self.kind,
            patch: self.patch.clone(),
            what: self.way.join(", "),
            old,
            new,
        });
    }

    /// Goes one step down.
    fn below(&mut self, step: String, old: &Value, new: &Value) {
        self.way.push(step);
        self.values(old, new);
        self.way.pop();
    }

    fn values(&mut self, old: &Value, new: &Value) {
        match (old, new) {
            _ if old == new => {}
            (Value::Object(one), Value::Object(other)) => {
                let mut keys: Vec<&String> = one.keys().chain(other.keys()).collect();
                keys.sort();
                keys.dedup();
                for key in keys {
                    let of = |it: &serde_json::Map<String, Value>| {
                        it.get(key).cloned().unwrap_or(Value::Null)
                    };
                    let (one, other) = (of(one), of(other));
                    match (names(&one), names(&other)) {
                        (Some(one_names), Some(other_names)) => {
                            self.named(key, (&one, &one_names), (&other, &other_names));
                        }
                        _ => self.below(key.clone(), &one, &other),
                    }
                }
            }
            (Value::Array(one), Value::Array(other)) if one.len() == other.len() => {
                for (index, (one, other)) in one.iter().zip(other).enumerate() {
                    self.below((index + 1).to_string(), one, other);
                }
            }
            _ => self.told(brief(old), brief(new)),
        }
    }

    /// Lists of things that have names: each against the one of its name.
    fn named(&mut self, key: &str, old: (&Value, &[String]), new: (&Value, &[String])) {
        let one = match key {
            "patches" => "patch",
            "pigments" => "pigment",
            "cards" => "card",
            other => other,
        };
        let of = |it: (&Value, &[String]), name: &String| {
            let index = it.1.iter().position(|other| other == name);
            index.map_or(Value::Null, |index| it.0[index].clone())
        };
        let mut all: Vec<&String> = old.1.iter().collect();
        all.extend(new.1.iter().filter(|it| !old.1.contains(it)));
        let before = self.found.len();
        for name in all {
            let step = format!("{one} {name}");
            if key == "patches" {
                // Its own name says enough of where it is.
                let way = std::mem::replace(&mut self.way, vec![step]);
                self.patch = Some(name.clone());
                self.values(&of(old, name), &of(new, name));
                self.patch = None;
                self.way = way;
            } else {
                self.below(step, &of(old, name), &of(new, name));
            }
        }
        // The same in another order.
        if self.found.len() == before && old.1 != new.1 {
            self.way.push(format!("order of {key}"));
            self.told(old.1.join(" "), new.1.join(" "));
            self.way.pop();
        }
    }
}

/// The names of things in a list, if each has one of its own. An empty list has none, and all of them.
fn names(list: &Value) -> Option<Vec<String>> {
    let name = |it: &Value| {
        let name = [&it["id"], &it["pigment"], &it["card"]["id"]];
        name.into_iter().find_map(Value::as_str).map(str::to_owned)
    };
    let names: Vec<String> = list.as_array()?.iter().map(name).collect::<Option<_>>()?;
    let mut once = names.clone();
    once.sort();
    once.dedup();
    (once.len() == names.len()).then_some(names)
}

/// A value in few words, without what is not stated and without places in millimetres.
fn brief(it: &Value) -> String {
    let joined = |parts: Vec<String>, with: &str| parts.join(with);
    match it {
        Value::Null => "none".to_owned(),
        Value::Bool(it) => if *it { "yes" } else { "no" }.to_owned(),
        Value::Number(number) => number
            .as_f64()
            .map_or_else(|| number.to_string(), |it| it.to_string()),
        Value::String(it) => it.clone(),
        Value::Array(all) if all.len() > 6 => format!("{} values", all.len()),
        Value::Array(all) if all.iter().all(Value::is_number) => {
            joined(all.iter().map(brief).collect(), " ")
        }
        Value::Array(all) => joined(all.iter().map(brief).collect(), " + "),
        Value::Object(all) => {
            if let (Some(pigment), Some(load)) = (all.get("pigment"), all.get("load")) {
                return format!("{} {}", brief(pigment), brief(load));
            }
            let stated = all.iter().filter(|(key, value)| {
                let nothing = match value {
                    Value::Null | Value::Bool(false) => true,
                    Value::Array(all) => all.is_empty(),
                    _ => false,
                };
                !nothing && !["id", "cell", "rect"].contains(&key.as_str())
            });
            joined(
                stated
                    .map(|(key, value)| format!("{key} {}", brief(value)))
                    .collect(),
                ", ",
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn told(old: &Value, new: &Value) -> Vec<String> {
        let mut walk = Walk::new(Kind::Fact, &["panel"]);
        walk.values(old, new);
        in_words(&walk.found)
    }

    #[test]
    fn only_what_differs_is_told_patch_by_patch() {
        let patch = |id: &str, load: f64| {
            json!({"id": id, "name": null, "rect": {"x": 1}, "empty": false,
                   "pigments": [{"pigment": "PR101", "load": load}]})
        };
        let old = json!({"coats": 3.0, "patches": [patch("A1", 12.0), patch("A2", 6.0)]});
        let mut other = patch("A1", 13.0);
        let white = json!({"pigment": "PW6", "load": 8.0});
        other["pigments"].as_array_mut().unwrap().push(white);
        other["name"] = json!("barn door");
        let new = json!({"coats": 2.0, "patches": [other, patch("A2", 6.0), patch("A3", 1.2)]});
        assert_eq!(
            told(&old, &new),
            [
                "panel, coats: 3 in the library, 2 here",
                "patch A1, name: none in the library, barn door here",
                "patch A1, pigment PR101, load: 12 in the library, 13 here",
                "patch A1, pigment PW6: none in the library, PW6 8 here",
                "patch A3: none in the library, pigments PR101 1.2 here",
            ]
        );
        let turned = json!({"coats": 3.0, "patches": [patch("A2", 6.0), patch("A1", 12.0)]});
        assert_eq!(
            told(&old, &turned),
            ["panel, order of patches: A1 A2 in the library, A2 A1 here"]
        );
    }

    #[test]
    fn what_is_much_is_counted() {
        let list = |first: usize| {
            let values: Vec<usize> = (first..first + 40).collect();
            json!({ "values": values })
        };
        let told = told(&list(0), &list(1));
        assert_eq!(
            (told.len(), told[24].as_str()),
            (25, "and 16 more facts of the panel")
        );
        assert_eq!(told[0], "panel, values, 1: 0 in the library, 1 here");
    }
}
