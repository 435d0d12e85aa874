//! What is meant by a swatch: pigments with loads, coating, substrate, coats.
//!
//! Two patches are of one swatch if they agree in all of it. Where the panel file leaves some of it out, nobody can say that
//! they agree: such a patch counts together with others of its own panel only, and one of which nothing at all is said with none.

use super::digest::{self, Digest};
use super::{Library, LibraryError};
use crate::record::{ControlEntry, PanelEntry, PatchEntry};
use rusqlite::{Connection, OptionalExtension as _};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A pigment and its load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ingredient {
    /// The pigment's id.
    pub pigment: String,
    /// Grams per 100 g of mixed coating (all parts, before pigment), > 0.
    pub load: f64,
}

/// What was meant.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// By pigment id; empty for a control.
    pub pigments: Vec<Ingredient>,
    /// The coating's id; null if the panel file doesn't say.
    pub coating: Option<String>,
    /// What is coated.
    pub substrate: Option<String>,
    /// Number of coats, > 0.
    pub coats: Option<f64>,
    /// Wet coating put on, grams per square metre, all coats together, pigment included, > 0: only where coats are not stated. What was
    /// weighed beside a number of coats belongs to the specimen.
    pub g_per_m2: Option<f64>,
    /// Coating without pigment: on the panel's substrate, or on an inert white.
    pub control: Option<ControlEntry>,
}

/// A swatch as the library names it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Swatch {
    /// Its number in this library.
    pub id: i64,
    /// The name that its first patch has.
    pub name: Option<String>,
    /// What is meant.
    pub recipe: Recipe,
    /// Where the recipe is incomplete: the panel beyond which nobody can say what is the same.
    pub only_panel: Option<String>,
}

impl Recipe {
    /// What a panel says of one of its patches.
    #[must_use]
    pub fn of(panel: &PanelEntry, patch: &PatchEntry) -> Self {
        let mut pigments: Vec<Ingredient> = Vec::new();
        for it in &patch.pigments {
            // The same pigment said twice adds up in the tin, too.
            match pigments.iter_mut().find(|old| old.pigment == it.pigment) {
                Some(old) => old.load += it.load,
                None => pigments.push(Ingredient {
                    pigment: it.pigment.clone(),
                    load: it.load,
                }),
            }
        }
        pigments.sort_by(|a, b| a.pigment.cmp(&b.pigment));
        let coats = patch.coats.or(panel.coats);
        let either = |one: &Option<String>, other: &Option<String>| one.clone().or(other.clone());
        Self {
            pigments,
            coating: either(&patch.coating, &panel.coating),
            substrate: either(&patch.substrate, &panel.substrate),
            coats,
            g_per_m2: patch.wet_g_per_m2.filter(|_| coats.is_none()),
            control: patch.control,
        }
    }

    /// Whether it says enough to be the same on another panel.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        self.says_what()
            && self.coating.is_some()
            && self.substrate.is_some()
            && (self.coats.is_some() || self.g_per_m2.is_some())
    }

    /// Whether it says what the patch is at all.
    fn says_what(&self) -> bool {
        !self.pigments.is_empty() || self.control.is_some()
    }

    /// Which panel and patch it can't be told from: `(None, None)` for a complete recipe.
    pub(super) fn bounds<'a>(
        &self,
        panel: &'a str,
        patch: &'a str,
    ) -> (Option<&'a str>, Option<&'a str>) {
        if self.is_complete() {
            (None, None)
        } else if self.says_what() {
            (Some(panel), None)
        } else {
            (Some(panel), Some(patch))
        }
    }

    /// Of all that makes a swatch: the same for the same, whatever the order in the panel file.
    pub(super) fn digest(
        &self,
        bounds: (Option<&str>, Option<&str>),
    ) -> Result<Digest, LibraryError> {
        digest::of_said(
            &serde_json::json!({ "recipe": self, "panel": bounds.0, "patch": bounds.1 }),
        )
    }

    /// In short, for people: `PR101 12 + PW6 8`.
    #[must_use]
    pub fn in_short(&self) -> String {
        match self.control {
            Some(ControlEntry::Clear) => "clear".to_owned(),
            Some(ControlEntry::ClearOnWhite) => "clear on white".to_owned(),
            None if self.pigments.is_empty() => "not stated".to_owned(),
            None => {
                let parts: Vec<String> = self
                    .pigments
                    .iter()
                    .map(|it| format!("{} {}", it.pigment, it.load))
                    .collect();
                parts.join(" + ")
            }
        }
    }
}

const COLUMNS: &str = "id, name, coating, substrate, coats, g_per_m2, control, only_panel";

impl Library {
    /// The swatch of this number.
    ///
    /// # Errors
    ///
    /// If there is none, or the library can't be read.
    pub fn swatch(&self, id: i64) -> Result<Swatch, LibraryError> {
        swatch(&self.connection, id)?.ok_or_else(|| {
            LibraryError::Unknown(
                format!("there is no swatch {id}"),
                "`masstone library list` shows those that there are.",
            )
        })
    }

    /// The swatch that a user's word means: its number, `PANEL/PATCH`, or its name if only one has it.
    ///
    /// # Errors
    ///
    /// If none or several are meant, or the library can't be read.
    pub fn find_swatch(&self, word: &str) -> Result<Swatch, LibraryError> {
        if let Ok(id) = word.parse() {
            return self.swatch(id);
        }
        // What was scraped off and never photographed is meant only where nothing else is.
        let mut found = self.ids(
            "SELECT DISTINCT swatch FROM specimen WHERE panel_name || '/' || patch = ?1
             AND EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id) ORDER BY swatch",
            word,
        )?;
        if found.is_empty() {
            found = self.ids(
                "SELECT DISTINCT swatch FROM specimen WHERE panel_name || '/' || patch = ?1 ORDER BY swatch",
                word,
            )?;
        }
        if found.is_empty() {
            found = self.ids("SELECT id FROM swatch WHERE name = ?1 ORDER BY id", word)?;
        }
        match found[..] {
            [] => Err(LibraryError::Unknown(
                format!("there is no swatch {word}"),
                "Name it by its number, PANEL/PATCH or its name: `masstone library list` shows them.",
            )),
            [id] => self.swatch(id),
            _ => {
                let numbers: Vec<String> = found.iter().map(ToString::to_string).collect();
                Err(LibraryError::Unknown(
                    format!("{word} may mean any of the swatches {}", numbers.join(", ")),
                    "Name it by its number.",
                ))
            }
        }
    }

    fn ids(&self, sql: &str, word: &str) -> Result<Vec<i64>, LibraryError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let ids = statement.query_map([word], |row| row.get(0))?;
        Ok(ids.collect::<rusqlite::Result<_>>()?)
    }
}

/// The last number that was given to a swatch; 0 if none was.
pub(super) fn last_number(connection: &Connection) -> Result<i64, LibraryError> {
    Ok(connection
        .prepare_cached("SELECT seq FROM sqlite_sequence WHERE name = 'swatch'")?
        .query_row([], |row| row.get(0))
        .optional()?
        .unwrap_or(0))
}

/// The swatch of this number, if there is one.
pub(super) fn swatch(connection: &Connection, id: i64) -> Result<Option<Swatch>, LibraryError> {
    let mut statement =
        connection.prepare_cached(&format!("SELECT {COLUMNS} FROM swatch WHERE id = ?1"))?;
    let found = statement
        .query_row([id], |row| {
            Ok((
                Swatch {
                    id: row.get(0)?,
                    name: row.get(1)?,
                    recipe: Recipe {
                        pigments: Vec::new(),
                        coating: row.get(2)?,
                        substrate: row.get(3)?,
                        coats: row.get(4)?,
                        g_per_m2: row.get(5)?,
                        control: None,
                    },
                    only_panel: row.get(7)?,
                },
                row.get::<_, Option<String>>(6)?,
            ))
        })
        .optional()?;
    let Some((mut swatch, control)) = found else {
        return Ok(None);
    };
    swatch.recipe.control = control.as_deref().map(control_of).transpose()?;
    let mut statement = connection.prepare_cached(
        "SELECT pigment, load FROM ingredient WHERE swatch = ?1 ORDER BY pigment",
    )?;
    let rows = statement.query_map([id], |row| {
        Ok(Ingredient {
            pigment: row.get(0)?,
            load: row.get(1)?,
        })
    })?;
    swatch.recipe.pigments = rows.collect::<rusqlite::Result<_>>()?;
    Ok(Some(swatch))
}

/// A kind of control from its word.
fn control_of(word: &str) -> Result<ControlEntry, LibraryError> {
    serde_json::from_value(serde_json::Value::String(word.to_owned()))
        .map_err(|it| LibraryError::damaged("a swatch", it))
}
