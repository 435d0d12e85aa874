//! What people saw of specimens: how they cured, and how they fared outdoors.
//!
//! A note is of one specimen, photographed or not. One that was wrong is withdrawn: it goes into the history, and nothing rests on it.

use super::document::NoteOfSpecimen;
use super::{Library, LibraryError, digest, history, pack, store};
use crate::record::PanelEntry;
use rusqlite::{Connection, OptionalExtension as _, params};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How a specimen cured.
pub const CURES: [&str; 6] = ["cured", "slow", "soft", "foamed", "cracked", "separated"];
/// What else happens to a specimen.
pub const EVENTS: [&str; 4] = ["washed", "dirt", "chalking", "gloss-loss"];

/// Something seen of a specimen.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// One of [`CURES`] or [`EVENTS`].
    pub word: String,
    /// When, as year-month-day.
    pub date: String,
    /// More in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
    /// Of the air when it was mixed, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Of the air when it was mixed, %.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub humidity_percent: Option<f64>,
    /// Hours of exposure so far.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<f64>,
    /// How much of it, 0 (none) to 5 (as much as there can be), for dirt, chalking and loss of gloss.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<f64>,
}

/// The note is the last one on how its specimen cured.
pub(super) const LATEST_CURE: &str = "note.id = (
    SELECT id FROM note AS later WHERE later.specimen = specimen.id
      AND later.word IN ('cured', 'slow', 'soft', 'foamed', 'cracked', 'separated')
    ORDER BY later.date DESC, later.id DESC LIMIT 1)";

impl Note {
    /// # Errors
    /// If the word is none of those known, the date is none, or a number is outside its range.
    pub fn check(&self) -> Result<(), LibraryError> {
        let senseless = |what: String, hint| Err(LibraryError::Senseless(what, hint));
        let cure = CURES.contains(&self.word.as_str());
        if !cure && !EVENTS.contains(&self.word.as_str()) {
            return senseless(
                format!("{} is nothing that can be noted", self.word),
                "Say cured, slow, soft, foamed, cracked or separated; or washed, dirt, chalking or gloss-loss.",
            );
        }
        if !is_date(&self.date) {
            return senseless(
                format!("{} is no date", self.date),
                "Give year-month-day, such as 2026-03-14.",
            );
        }
        for (what, value, range) in [
            ("temperature", self.temperature_c, -40.0..=80.0),
            ("humidity", self.humidity_percent, 0.0..=100.0),
            ("hours", self.hours, 0.0..=1e9),
            ("grade", self.grade, 0.0..=5.0),
        ] {
            if let Some(it) = value.filter(|it| !range.contains(it)) {
                return senseless(
                    format!("a {what} of {it}"),
                    "Temperature in °C (-40 to 80), humidity in % (0 to 100), hours from 0, grades from 0 (none) to 5.",
                );
            }
        }
        if self.grade.is_some() && (cure || self.word == "washed") {
            return senseless(
                format!("a grade of {}", self.word),
                "Only dirt, chalking and gloss-loss have grades.",
            );
        }
        Ok(())
    }
}

/// Year-month-day, of a day that is in the calendar.
#[must_use]
pub fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else {
        return false;
    };
    let number = |text: &str, digits: usize| {
        (text.len() == digits && text.bytes().all(|it| it.is_ascii_digit()))
            .then(|| text.parse::<u32>().unwrap_or(0))
    };
    let (Some(year), Some(month), Some(day)) = (number(year, 4), number(month, 2), number(day, 2))
    else {
        return false;
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let last = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    (1..=12).contains(&month) && (1..=last).contains(&day)
}

impl Library {
    /// Writes down what was seen of a patch: of the specimen that was photographed last, if the panel file changed. The very same again
    /// changes nothing. The number of the swatch that the patch is of.
    ///
    /// # Errors
    ///
    /// If the note makes no sense or is of a day to come, there is no such patch, or the library can't be written.
    pub fn note(&mut self, note: &Note) -> Result<i64, LibraryError> {
        self.check_new(note)?;
        self.write(|transaction| {
            let found = transaction
                .query_row(
                    "SELECT id, swatch FROM specimen WHERE panel_name = ?1 AND patch = ?2
                     ORDER BY EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id) DESC, id DESC LIMIT 1",
                    [&note.panel, &note.patch],
                    |row| Ok((row.get(0)?, row.get(1)?)),
                )
                .optional()?;
            let (specimen, swatch) = found.ok_or_else(|| no_patch(note))?;
            insert(transaction, specimen, note)?;
            Ok(swatch)
        })
    }

    /// Writes down what was seen of a patch as this panel means it, whether or not a photo of it was ever added: what foamed and was scraped
    /// off tells of its load all the same. `panel` of the note is of no account. The number of the swatch that the patch is of.
    ///
    /// # Errors
    ///
    /// If the note makes no sense or is of a day to come, the panel has no such patch, or the library can't be written.
    pub fn note_on(&mut self, panel: &PanelEntry, note: &Note) -> Result<i64, LibraryError> {
        self.check_new(note)?;
        match panel.patches.iter().find(|it| it.id == note.patch) {
            Some(patch) if !patch.empty => {}
            Some(_) => {
                return Err(LibraryError::Unknown(
                    format!("the panel {} says that {} is empty", panel.id, note.patch),
                    "Say in the panel file what is there, or name another patch.",
                ));
            }
            None => {
                return Err(LibraryError::Unknown(
                    format!("the panel {} has no patch {}", panel.id, note.patch),
                    "`masstone panel show FILE` shows the patches of a panel file.",
                ));
            }
        }
        self.write(|transaction| {
            let specimen = store::specimen(transaction, panel, &note.patch)?;
            insert(transaction, specimen.id, note)?;
            Ok(specimen.swatch)
        })
    }

    /// Takes back a note that was wrong: the one of this patch, word and date, and with whatever else of it is stated here. It stays in the
    /// history. The number of the swatch that the patch is of.
    ///
    /// # Errors
    ///
    /// If there is no such note, or several, or the library can't be written.
    pub fn withdraw(&mut self, which: &Note, why: Option<&str>) -> Result<i64, LibraryError> {
        let found: Vec<(i64, i64)> = self
            .connection
            .prepare_cached(
                "SELECT note.id, specimen.swatch FROM note JOIN specimen ON specimen.id = note.specimen
                 WHERE panel_name = ?1 AND patch = ?2 AND word = ?3 AND date = ?4 AND text IS coalesce(?5, text)
                   AND temperature_c IS coalesce(?6, temperature_c) AND humidity_percent IS coalesce(?7, humidity_percent)
                   AND hours IS coalesce(?8, hours) AND grade IS coalesce(?9, grade)",
            )?
            .query_map(
                params![
                    which.panel,
                    which.patch,
                    which.word,
                    which.date,
                    which.text,
                    which.temperature_c,
                    which.humidity_percent,
                    which.hours,
                    which.grade
                ],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?
            .collect::<rusqlite::Result<_>>()?;
        let name = format!(
            "{} of {}/{}, {}",
            which.word, which.panel, which.patch, which.date
        );
        let [(id, swatch)] = found[..] else {
            return Err(if found.is_empty() {
                LibraryError::Unknown(
                    format!("there is no note {name}"),
                    "`masstone library show PANEL/PATCH` shows what was noted, and when.",
                )
            } else {
                LibraryError::Unknown(
                    format!("there are {} notes {name}", found.len()),
                    "Say more of the one that is meant: --text, --temperature, --humidity, --hours or --grade.",
                )
            });
        };
        let before = serde_json::to_string(&self.note_of(id)?)
            .map_err(|it| LibraryError::damaged("a note", it))?;
        self.write(|transaction| {
            // Another program may have done it meanwhile.
            if transaction.execute("DELETE FROM note WHERE id = ?1", [id])? == 1 {
                let what = format!("note {}/{}", which.panel, which.patch);
                history::keep(transaction, &what, why, &before)?;
            }
            Ok(swatch)
        })
    }

    /// Whether a note can be written down today.
    fn check_new(&self, note: &Note) -> Result<(), LibraryError> {
        note.check()?;
        // Of all time zones the foremost is fourteen hours ahead of UTC.
        let (today, last): (String, String) =
            self.connection
                .query_row("SELECT date('now'), date('now', '+1 day')", [], |row| {
                    Ok((row.get(0)?, row.get(1)?))
                })?;
        if note.date > last {
            return Err(LibraryError::Senseless(
                format!("{} is to come: today is {today}", note.date),
                "Note what was seen, on the day when it was seen. If today is another day, set this computer's clock.",
            ));
        }
        Ok(())
    }

    /// All notes of a swatch's specimens, by date.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn notes(&self, swatch: i64) -> Result<Vec<Note>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT panel_name, patch, word, date, text, temperature_c, humidity_percent, hours, grade
             FROM note JOIN specimen ON specimen.id = note.specimen
             WHERE specimen.swatch = ?1 ORDER BY date, note.id",
        )?;
        let rows = statement.query_map([swatch], from_row)?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// How the specimens of a swatch cured, by their latest notes; each word once.
    pub(super) fn cures(&self, swatch: i64) -> Result<Vec<String>, LibraryError> {
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT DISTINCT word FROM specimen JOIN note ON note.specimen = specimen.id
             WHERE specimen.swatch = ?1 AND {LATEST_CURE} ORDER BY word"
        ))?;
        let rows = statement.query_map([swatch], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }
}

fn no_patch(note: &Note) -> LibraryError {
    LibraryError::Unknown(
        format!("there is no patch {} of a panel {}", note.patch, note.panel),
        "A patch is in the library once a photo of it was added. Of one that never was photographed name the panel file: \
         `masstone library note PANEL.toml PATCH …`.",
    )
}

/// Notes that were withdrawn, with their specimens.
pub(super) fn withdrawn(connection: &Connection) -> Result<Vec<NoteOfSpecimen>, LibraryError> {
    let mut statement = connection
        .prepare_cached("SELECT what, before FROM history WHERE what LIKE 'note %' ORDER BY id")?;
    let rows = statement.query_map([], |row| {
        Ok((row.get::<_, String>(0)?, row.get::<_, Vec<u8>>(1)?))
    })?;
    rows.map(|row| {
        let (what, packed) = row?;
        serde_json::from_str(&pack::unpacked(&packed, &what)?)
            .map_err(|it| LibraryError::damaged(what, it))
    })
    .collect()
}

/// Whether the note's row is there.
pub(super) fn is_there(
    connection: &Connection,
    specimen: i64,
    note: &Note,
) -> Result<bool, LibraryError> {
    Ok(connection
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM note WHERE specimen = ?1 AND word = ?2 AND date = ?3 AND text IS ?4
               AND temperature_c IS ?5 AND humidity_percent IS ?6 AND hours IS ?7 AND grade IS ?8)",
        )?
        .query_row(
            params![
                specimen,
                note.word,
                note.date,
                note.text,
                note.temperature_c,
                note.humidity_percent,
                note.hours,
                note.grade
            ],
            |row| row.get(0),
        )?)
}

/// Writes the note's row unless it is there.
pub(super) fn insert(
    connection: &Connection,
    specimen: i64,
    note: &Note,
) -> Result<(), LibraryError> {
    if is_there(connection, specimen, note)? {
        return Ok(());
    }
    // The panel and the patch are the specimen's, whatever the note calls them.
    let (panel, patch) = connection
        .prepare_cached("SELECT panel_name, patch FROM specimen WHERE id = ?1")?
        .query_row([specimen], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let said = Note {
        panel,
        patch,
        ..note.clone()
    };
    connection.execute(
        "INSERT INTO note (specimen, word, date, text, temperature_c, humidity_percent, hours, grade, digest)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            specimen,
            note.word,
            note.date,
            note.text,
            note.temperature_c,
            note.humidity_percent,
            note.hours,
            note.grade,
            digest::of_said(&said)?,
        ],
    )?;
    Ok(())
}

/// What is not as it was written, in words.
pub(super) fn faults(connection: &Connection) -> Result<Vec<String>, LibraryError> {
    let mut statement = connection.prepare_cached(
        "SELECT panel_name, patch, word, date, text, temperature_c, humidity_percent, hours, grade, digest
         FROM note JOIN specimen ON specimen.id = note.specimen ORDER BY note.id",
    )?;
    let rows = statement.query_map([], |row| Ok((from_row(row)?, row.get::<_, Vec<u8>>(9)?)))?;
    let mut faults = Vec::new();
    for row in rows {
        // Text whose bits flipped is an error of SQLite's, too.
        let (note, digest) = match row {
            Ok(row) => row,
            Err(error) => {
                faults.push(format!("a note can't be read: {error}"));
                continue;
            }
        };
        let name = format!("a note on {}/{}, {}", note.panel, note.patch, note.date);
        if digest != digest::of_said(&note)? {
            faults.push(format!("{name}: it is not what was written"));
        } else if let Err(error) = note.check() {
            faults.push(format!("{name}: {error}"));
        }
    }
    Ok(faults)
}

pub(super) fn from_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<Note> {
    Ok(Note {
        panel: row.get(0)?,
        patch: row.get(1)?,
        word: row.get(2)?,
        date: row.get(3)?,
        text: row.get(4)?,
        temperature_c: row.get(5)?,
        humidity_percent: row.get(6)?,
        hours: row.get(7)?,
        grade: row.get(8)?,
    })
}
