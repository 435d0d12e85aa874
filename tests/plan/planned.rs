//! Short words for plans, and a bookkeeping of masses that pours them out again.

#![allow(dead_code, reason = "not every test uses all of it")]

use masstone::plan::{
    Add, Balance, Coating, Limit, Limits, Load, PigmentName, Recipe, Session, Settings, Surface,
};
use std::collections::BTreeMap;

/// A coating of two parts, 4:1.
pub(crate) fn coating() -> Coating {
    Coating::by_mass("clear", &[4.0, 1.0]).unwrap()
}

/// Pigments and loads in that coating.
pub(crate) fn mix(loads: &[(&str, f64)]) -> Recipe {
    let loads = loads.iter().map(|(pigment, load)| Load {
        pigment: name(pigment),
        load: *load,
    });
    Recipe {
        coating: "clear".to_owned(),
        loads: loads.collect(),
    }
}

pub(crate) fn clear() -> Recipe {
    mix(&[])
}

pub(crate) fn name(pigment: &str) -> PigmentName {
    PigmentName {
        pigment: pigment.to_owned(),
        lot: None,
    }
}

pub(crate) fn limit(pigment: &str, cured: f64) -> Limit {
    Limit {
        pigment: pigment.to_owned(),
        lot: None,
        coating: None,
        cured: Some(cured),
        failed: None,
    }
}

/// A surface with one coat.
pub(crate) fn surface(id: &str, recipe: &Recipe, area_m2: f64, wet_g_per_m2: f64) -> Surface {
    Surface {
        id: id.to_owned(),
        name: None,
        recipe: recipe.clone(),
        area_m2,
        wet_g_per_m2,
        coats: 1,
    }
}

/// A balance of 0.01 g, trusted from 0.2 g on.
pub(crate) fn settings(overage: f64, least_cup_g: f64) -> Settings {
    Settings {
        overage,
        least_cup_g,
        ..Settings::usual(Balance::new(0.01, None).unwrap())
    }
}

pub(crate) fn one_session(surfaces: &[Surface], settings: &Settings) -> Session {
    let rounds =
        masstone::plan::sessions(surfaces, &[coating()], &Limits::default(), settings).unwrap();
    assert_eq!((rounds.len(), rounds[0].sessions.len()), (1, 1));
    rounds[0].sessions[0].clone()
}

pub(crate) fn grams(adds: &[Add]) -> Vec<f64> {
    adds.iter().map(gram).collect()
}

pub(crate) fn gram(add: &Add) -> f64 {
    match add {
        Add::Pigment { grams, .. } | Add::Cup { grams, .. } | Add::Coating { grams } => *grams,
    }
}

#[track_caller]
pub(crate) fn close(value: f64, other: f64) {
    assert!(
        (value - other).abs() <= 1e-9 * other.abs().max(1.0),
        "{value} is not {other}"
    );
}

/// Masses by what they are of: parts by their number, pigments by their name.
pub(crate) type Masses = BTreeMap<String, f64>;

fn whole(masses: &Masses) -> f64 {
    masses.values().sum()
}

/// Takes a well stirred portion out of a cup. What is not there can't be taken.
fn take(cup: &mut Masses, grams: f64) -> Masses {
    let there = whole(cup);
    assert!(
        grams <= there + 1e-6,
        "{grams} g are poured from a cup that holds {there} g"
    );
    let share = grams / there;
    let portion = cup
        .iter()
        .map(|(what, grams)| (what.clone(), grams * share))
        .collect();
    cup.values_mut().for_each(|it| *it *= 1.0 - share);
    portion
}

fn put(cup: &mut Masses, portion: Masses) {
    for (what, grams) in portion {
        *cup.entry(what).or_default() += grams;
    }
}

/// What was poured out by a session's weighings, by hand as it were.
#[derive(Debug)]
pub(crate) struct Poured {
    /// What was in each cup when it was filled, before anything was poured from it.
    pub(crate) filled: Vec<Masses>,
    /// What is in each in the end.
    pub(crate) left: Vec<Masses>,
    /// What is left of the clear coating.
    pub(crate) clear: Masses,
    /// Everything that was taken from tins and bags.
    pub(crate) taken: f64,
}

pub(crate) fn pour(session: &Session) -> Poured {
    let mut clear: Masses = session
        .parts
        .iter()
        .enumerate()
        .map(|(at, it)| (format!("part {at}"), it.grams))
        .collect();
    let mut taken = whole(&clear);
    let mut cups: Vec<Masses> = vec![Masses::new(); session.cups.len()];
    let mut filled = cups.clone();
    assert_eq!(session.order.len(), cups.len(), "every cup is filled once");
    for number in &session.order {
        let at = number - 1;
        for add in &session.cups[at].adds {
            let portion = match add {
                Add::Pigment { pigment, grams } => {
                    taken += grams;
                    Masses::from([(pigment.to_string(), *grams)])
                }
                Add::Cup { from, grams } => take(&mut cups[from - 1], *grams),
                Add::Coating { grams } => take(&mut clear, *grams),
            };
            put(&mut cups[at], portion);
        }
        filled[at] = cups[at].clone();
    }
    Poured {
        filled,
        left: cups,
        clear,
        taken,
    }
}

/// The load of a pigment in a cup: of its mass and that of all parts.
pub(crate) fn load(cup: &Masses, pigment: &str) -> f64 {
    let coating: f64 = cup
        .iter()
        .filter(|it| it.0.starts_with("part "))
        .map(|it| it.1)
        .sum();
    100.0 * cup.get(pigment).copied().unwrap_or(0.0) / coating
}

pub(crate) fn all(cups: &[Masses]) -> f64 {
    cups.iter().map(whole).sum()
}
