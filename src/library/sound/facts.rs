//! Whether what a panel says of itself and of its patches can be: the same bounds as for a panel file.

use super::{FARTHEST, LIGHTNESS};
use crate::library::recipe::Recipe;
use crate::panel::{MOST_COATS, MOST_LOAD, MOST_WET};
use crate::record::{KnownEntry, PanelEntry, PatchEntry};

/// What is wrong with what is said of the whole panel, in words.
pub(in crate::library) fn of_panel(it: &PanelEntry) -> Result<(), String> {
    if it.id.trim().is_empty() {
        return Err("its panel has no id".to_owned());
    }
    let said = || {
        amount("coats", it.coats, MOST_COATS)?;
        text("substrate", it.substrate.as_deref())?;
        text("coating", it.coating.as_deref())?;
        known(it.board_colour.as_ref())
    };
    said().map_err(|reason| format!("its panel {} has {reason}", it.id))?;
    for (index, patch) in it.patches.iter().enumerate() {
        if patch.id.trim().is_empty() {
            return Err("its panel has a patch without an id".to_owned());
        }
        if it.patches[..index].iter().any(|other| other.id == patch.id) {
            return Err(format!("its panel has two patches {}", patch.id));
        }
    }
    Ok(())
}

/// What is wrong with what is said of one patch, in words.
pub(in crate::library) fn of_patch(it: &PatchEntry) -> Result<(), String> {
    let said = || {
        let pigments = it.pigments.iter();
        loads(pigments.map(|it| (it.pigment.as_str(), it.load)))?;
        if it.control.is_some() && !it.pigments.is_empty() {
            return Err("a control with pigments".to_owned());
        }
        amount("wet_g_per_m2", it.wet_g_per_m2, MOST_WET)?;
        amount("coats", it.coats, MOST_COATS)?;
        for (what, value) in [
            ("name", &it.name),
            ("lot", &it.lot),
            ("substrate", &it.substrate),
            ("coating", &it.coating),
        ] {
            text(what, value.as_deref())?;
        }
        if it.rect.size_mm.iter().any(|it| *it <= 0.0) {
            let [width, height] = it.rect.size_mm;
            return Err(format!("a size of {width} x {height} mm"));
        }
        known(it.known.as_ref())
    };
    said().map_err(|reason| format!("patch {} has {reason}", it.id))
}

/// What is wrong with what was weighed onto a specimen, in words.
pub(in crate::library) fn of_weight(it: Option<f64>) -> Result<(), String> {
    amount("wet_g_per_m2", it, MOST_WET)
}

/// What is wrong with what is meant by a swatch, in words.
pub(in crate::library) fn of_recipe(it: &Recipe) -> Result<(), String> {
    let said = || {
        let pigments = it.pigments.iter();
        loads(pigments.map(|it| (it.pigment.as_str(), it.load)))?;
        if it.control.is_some() && !it.pigments.is_empty() {
            return Err("a control with pigments".to_owned());
        }
        amount("coats", it.coats, MOST_COATS)?;
        amount("g_per_m2", it.g_per_m2, MOST_WET)?;
        text("substrate", it.substrate.as_deref())?;
        text("coating", it.coating.as_deref())
    };
    said().map_err(|reason| format!("its recipe has {reason}"))
}

fn loads<'a>(pigments: impl Iterator<Item = (&'a str, f64)>) -> Result<(), String> {
    let mut all = 0.0;
    for (pigment, load) in pigments {
        if pigment.trim().is_empty() {
            return Err("a pigment without a name".to_owned());
        }
        if !(load > 0.0 && load <= MOST_LOAD) {
            return Err(format!(
                "a load of {load} of {pigment}: it must be above 0, and at most {MOST_LOAD}"
            ));
        }
        all += load;
    }
    if all > MOST_LOAD {
        return Err(format!("loads that add up to {all} (limit {MOST_LOAD})"));
    }
    Ok(())
}

fn amount(what: &str, value: Option<f64>, most: f64) -> Result<(), String> {
    match value {
        Some(it) if !(it > 0.0 && it <= most) => Err(format!(
            "{what} of {it}: it must be above 0, and at most {most}"
        )),
        _ => Ok(()),
    }
}

fn text(what: &str, value: Option<&str>) -> Result<(), String> {
    match value {
        Some(it) if it.trim().is_empty() => Err(format!("an empty {what}")),
        _ => Ok(()),
    }
}

fn known(it: Option<&KnownEntry>) -> Result<(), String> {
    let Some(it) = it else {
        return Ok(());
    };
    let [l, a, b] = it.lab;
    if !LIGHTNESS.contains(&l) || a.abs() > FARTHEST || b.abs() > FARTHEST {
        return Err(format!(
            "a known colour of L* {l}, a* {a}, b* {b}: no surface has that colour"
        ));
    }
    match it.uncertainty {
        Some(it) if !(it.is_finite() && it > 0.0) => Err(format!(
            "a known colour with an uncertainty of {it}: it must be above 0"
        )),
        _ => Ok(()),
    }
}
