//! Swatches and specimens: the rows that a panel's patches mean.

use super::super::LibraryError;
use super::super::recipe::Recipe;
use super::panel_entry;
use crate::record::PanelEntry;
use rusqlite::{Connection, OptionalExtension as _, params};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The swatch of a recipe, a new one if there is none.
pub(in crate::library) fn swatch(
    connection: &Connection,
    recipe: &Recipe,
    panel: &str,
    patch: &str,
    name: Option<&str>,
) -> Result<i64, LibraryError> {
    let bounds = recipe.bounds(panel, patch);
    match find_swatch(connection, recipe, bounds)? {
        Some(id) => Ok(id),
        None => new_swatch(connection, None, recipe, bounds, name),
    }
}

/// Panel and patch beyond which nobody can say what is the same.
type Bounds<'a> = (Option<&'a str>, Option<&'a str>);

/// The swatch of a recipe within its bounds, if there is one.
pub(in crate::library) fn find_swatch(
    connection: &Connection,
    recipe: &Recipe,
    bounds: Bounds<'_>,
) -> Result<Option<i64>, LibraryError> {
    Ok(connection
        .prepare_cached("SELECT id FROM swatch WHERE digest = ?1")?
        .query_row([recipe.digest(bounds)?], |row| row.get(0))
        .optional()?)
}

/// Writes a swatch that is not there yet, under its number, or a new one if not given.
pub(in crate::library) fn new_swatch(
    connection: &Connection,
    number: Option<i64>,
    recipe: &Recipe,
    bounds: Bounds<'_>,
    name: Option<&str>,
) -> Result<i64, LibraryError> {
    connection
        .prepare_cached(
            "INSERT INTO swatch (digest, name, coating, substrate, coats, g_per_m2, control, only_panel, only_patch, id)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            recipe.digest(bounds)?,
            name,
            recipe.coating,
            recipe.substrate,
            recipe.coats,
            recipe.g_per_m2,
            recipe.control.as_ref().map(crate::record::csv::word),
            bounds.0,
            bounds.1,
            number,
        ])?;
    let id = connection.last_insert_rowid();
    let mut insert = connection
        .prepare_cached("INSERT INTO ingredient (swatch, pigment, load) VALUES (?1, ?2, ?3)")?;
    for it in &recipe.pigments {
        insert.execute(params![id, it.pigment, it.load])?;
    }
    Ok(id)
}

/// Gives a swatch the name of one of its patches, where their names were corrected and none of them has its name any more.
pub(in crate::library) fn name_anew(
    connection: &Connection,
    swatch: i64,
) -> Result<(), LibraryError> {
    let patches = connection
        .prepare_cached(
            "SELECT measurement.panel, specimen.patch FROM specimen
             JOIN reading ON reading.specimen = specimen.id JOIN measurement ON measurement.id = reading.measurement
             WHERE specimen.swatch = ?1 GROUP BY 1, 2 ORDER BY min(measurement.id), specimen.id",
        )?
        .query_map([swatch], |row| {
            Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut names: Vec<Option<String>> = Vec::with_capacity(patches.len());
    for (panel, patch) in patches {
        let entry = panel_entry(connection, panel)?;
        let its = entry.patches.into_iter().filter(|it| it.id == patch);
        names.extend(its.map(|it| it.name));
    }
    let Some(first) = names.first() else {
        return Ok(());
    };
    let name: Option<String> =
        connection.query_row("SELECT name FROM swatch WHERE id = ?1", [swatch], |row| {
            row.get(0)
        })?;
    if !names.contains(&name) {
        connection.execute(
            "UPDATE swatch SET name = ?2 WHERE id = ?1",
            params![swatch, first],
        )?;
    }
    Ok(())
}

/// A specimen and the swatch that it is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::library) struct Specimen {
    pub(in crate::library) id: i64,
    pub(in crate::library) swatch: i64,
}

/// The specimen that a panel means by one of its patches, a new one if there is none.
pub(in crate::library) fn specimen(
    connection: &Connection,
    panel: &PanelEntry,
    patch: &str,
) -> Result<Specimen, LibraryError> {
    let entry = panel.patches.iter().find(|it| it.id == patch);
    let entry = entry.ok_or_else(|| {
        LibraryError::damaged(format!("panel {}", panel.id), format!("no patch {patch}"))
    })?;
    let recipe = Recipe::of(panel, entry);
    let swatch = swatch(connection, &recipe, &panel.id, patch, entry.name.as_deref())?;
    let lot = entry.lot.as_deref().unwrap_or_default();
    let id = match specimen_of(connection, swatch, &panel.id, patch, lot)? {
        Some(id) => {
            if let Some(weight) = entry.wet_g_per_m2 {
                weigh(connection, id, weight)?;
            }
            id
        }
        None => {
            connection
                .prepare_cached(
                    "INSERT INTO specimen (swatch, panel_name, patch, lot, g_per_m2) VALUES (?1, ?2, ?3, ?4, ?5)",
                )?
                .execute(params![swatch, panel.id, patch, lot, entry.wet_g_per_m2])?;
            connection.last_insert_rowid()
        }
    };
    Ok(Specimen { id, swatch })
}

/// The specimen of a recipe and a lot in a place of a panel, if there is one.
pub(in crate::library) fn find_specimen(
    connection: &Connection,
    recipe: &Recipe,
    panel: &str,
    patch: &str,
    lot: &str,
) -> Result<Option<i64>, LibraryError> {
    match find_swatch(connection, recipe, recipe.bounds(panel, patch))? {
        Some(swatch) => specimen_of(connection, swatch, panel, patch, lot),
        None => Ok(None),
    }
}

fn specimen_of(
    connection: &Connection,
    swatch: i64,
    panel: &str,
    patch: &str,
    lot: &str,
) -> Result<Option<i64>, LibraryError> {
    Ok(connection
        .prepare_cached(
            "SELECT id FROM specimen WHERE panel_name = ?1 AND patch = ?2 AND swatch = ?3 AND lot = ?4",
        )?
        .query_row(params![panel, patch, swatch, lot], |row| row.get(0))
        .optional()?)
}

/// Gives a specimen the weight of coating that a panel states, where none did before, or where it was only noted so far: what was stated
/// when it was measured stays until that is corrected.
fn weigh(connection: &Connection, specimen: i64, weight: f64) -> Result<(), LibraryError> {
    connection
        .prepare_cached(
            "UPDATE specimen SET g_per_m2 = ?2 WHERE id = ?1 AND g_per_m2 IS NOT ?2
             AND (g_per_m2 IS NULL OR NOT EXISTS (SELECT 1 FROM reading WHERE reading.specimen = ?1))",
        )?
        .execute(params![specimen, weight])?;
    Ok(())
}

/// Gives the specimens of a panel the weights of coating that were first stated when they were measured, where those were corrected.
pub(in crate::library) fn weigh_anew(
    connection: &Connection,
    panel: &str,
) -> Result<(), LibraryError> {
    let measured = connection
        .prepare_cached(
            "SELECT specimen.id, patch, measurement.panel, min(measurement.id) AS first FROM specimen
             JOIN reading ON reading.specimen = specimen.id JOIN measurement ON measurement.id = reading.measurement
             WHERE specimen.panel_name = ?1 GROUP BY specimen.id, measurement.panel ORDER BY specimen.id, first",
        )?
        .query_map([panel], |row| {
            Ok((
                row.get::<_, i64>(0)?,
                row.get::<_, String>(1)?,
                row.get::<_, i64>(2)?,
            ))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut revisions: BTreeMap<i64, PanelEntry> = BTreeMap::new();
    let mut weights: BTreeMap<i64, Option<f64>> = BTreeMap::new();
    for (specimen, patch, revision) in measured {
        let weight = weights.entry(specimen).or_default();
        if weight.is_some() {
            continue;
        }
        let entry = match revisions.entry(revision) {
            Entry::Occupied(there) => there.into_mut(),
            Entry::Vacant(place) => place.insert(panel_entry(connection, revision)?),
        };
        let mut patches = entry.patches.iter().filter(|it| it.id == patch);
        *weight = patches.find_map(|it| it.wet_g_per_m2);
    }
    for (specimen, weight) in weights {
        connection
            .prepare_cached(
                "UPDATE specimen SET g_per_m2 = ?2 WHERE id = ?1 AND g_per_m2 IS NOT ?2",
            )?
            .execute(params![specimen, weight])?;
    }
    Ok(())
}
