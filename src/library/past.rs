//! What of a swatch was otherwise before: amended, superseded or withdrawn, the old beside the new.

use super::differ::{self, Difference};
use super::document::NoteOfSpecimen;
use super::photos::{Source, SourceReading};
use super::{Library, LibraryError, pack, store};
use crate::record::csv::word;
use crate::record::{PhotoRecord, Record, json};
use rusqlite::OptionalExtension as _;
use serde::Serialize;

/// Something that was otherwise before.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Past {
    /// When it was changed, UTC.
    pub date: String,
    /// What it is of: a photo, a reading, a note.
    pub of: String,
    /// Why, if it was said.
    pub why: Option<String>,
    /// What changed, the old beside the new.
    pub changes: Vec<Change>,
    /// How it was before, whole.
    pub before: serde_json::Value,
}

/// An old value and what took its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What it is.
    pub what: String,
    /// As it was.
    pub old: String,
    /// What took its place.
    pub new: String,
}

impl Library {
    /// What of a swatch was otherwise before, by date: photos amended (as far as this swatch is concerned), readings superseded by better
    /// ones of the same shot, notes withdrawn of these patches (panel and patch).
    pub(super) fn past(
        &self,
        sources: &[Source],
        patches: &[(String, String)],
    ) -> Result<Vec<Past>, LibraryError> {
        let mut all = superseded(sources);
        let mut photos: Vec<&str> = sources.iter().map(|it| it.sha256.as_str()).collect();
        photos.sort_unstable();
        photos.dedup();
        for sha256 in photos {
            all.append(&mut self.amended(sha256, patches)?);
        }
        let mut names: Vec<String> = patches
            .iter()
            .map(|(panel, patch)| format!("note {panel}/{patch}"))
            .collect();
        names.sort_unstable();
        names.dedup();
        for what in names {
            for (date, why, before) in self.kept(&what)? {
                all.push(withdrawn(date, why, before, &what)?);
            }
        }
        all.sort_by(|a, b| a.date.cmp(&b.date));
        Ok(all)
    }

    /// What was kept under this name, by date (an imported entry may be older than those that were there): date, why, and how it was.
    fn kept(
        &self,
        what: &str,
    ) -> Result<Vec<(String, Option<String>, serde_json::Value)>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT date, why, before FROM history WHERE what = ?1 ORDER BY date, id",
        )?;
        let rows = statement.query_map([what], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get::<_, Vec<u8>>(2)?))
        })?;
        rows.map(|row| {
            let (date, why, packed) = row?;
            let before = serde_json::from_str(&pack::unpacked(&packed, what)?)
                .map_err(|it| LibraryError::damaged(what, it))?;
            Ok((date, why, before))
        })
        .collect()
    }

    /// What was amended in a photo's measurements, of these patches or of the panel as a whole.
    fn amended(
        &self,
        sha256: &str,
        patches: &[(String, String)],
    ) -> Result<Vec<Past>, LibraryError> {
        let what = format!("photo {sha256}");
        let kept = self.kept(&what)?;
        let mut records = Vec::with_capacity(kept.len());
        for (date, why, before) in kept {
            let record: Record = serde_json::from_value(before.clone())
                .map_err(|it| LibraryError::damaged(&what, it))?;
            let Some(photo) = json::by_photo(record).pop() else {
                return Err(LibraryError::damaged(what, "it holds no photo"));
            };
            records.push((date, why, before, photo));
        }
        let key = |it: &PhotoRecord| {
            let correction = store::correction_key(&it.photo);
            (it.photo.panel.id.clone(), correction)
        };
        let mut all = Vec::new();
        for (index, (date, why, before, photo)) in records.iter().enumerate() {
            // What took its place: the next that was replaced in turn, else what is there now.
            let key_of_it = key(photo);
            let next = records[index + 1..]
                .iter()
                .find(|it| key(&it.3) == key_of_it)
                .map(|it| it.3.clone());
            let next = match next {
                Some(next) => Some(next),
                None => self.now(sha256, &key_of_it.0, &key_of_it.1)?,
            };
            let Some(next) = next else {
                continue;
            };
            let of_these = |it: &Difference| {
                let mut of_panel = patches.iter().filter(|it| it.0 == photo.photo.panel.id);
                of_panel.any(|other| it.patch.as_ref().is_none_or(|patch| *patch == other.1))
            };
            let changes: Vec<Change> = differ::differences(photo, &next)?
                .into_iter()
                .filter(of_these)
                .map(|it| Change {
                    what: it.what,
                    old: it.old,
                    new: it.new,
                })
                .collect();
            if !changes.is_empty() {
                all.push(Past {
                    date: date.clone(),
                    of: format!("photo {}", photo.photo.path),
                    why: why.clone(),
                    changes,
                    before: before.clone(),
                });
            }
        }
        Ok(all)
    }

    fn now(
        &self,
        sha256: &str,
        panel: &str,
        correction: &str,
    ) -> Result<Option<PhotoRecord>, LibraryError> {
        let id: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT measurement.id FROM measurement JOIN photo ON photo.id = measurement.photo
                 WHERE sha256 = ?1 AND panel_name = ?2 AND correction = ?3",
            )?
            .query_row([sha256, panel, correction], |row| row.get(0))
            .optional()?;
        id.map(|id| store::record(&self.connection, id)).transpose()
    }
}

/// Readings that do not count, since a better one of the same shot is there.
fn superseded(sources: &[Source]) -> Vec<Past> {
    let mut all = Vec::new();
    for source in sources {
        for it in source.readings.iter().filter(|it| !it.counts) {
            let better = sources.iter().find_map(|other| {
                let same = |reading: &&SourceReading| {
                    reading.counts && reading.patch == it.patch && reading.half == it.half
                };
                let reading = other.readings.iter().find(same)?;
                (other.shot() == source.shot() && other.panel == source.panel)
                    .then_some((other, reading))
            });
            let (Some(old), Some((other, new))) = (colour(source, it), better) else {
                continue;
            };
            all.push(Past {
                date: source.added.clone().max(other.added.clone()),
                of: format!("photo {}", source.path),
                why: None,
                changes: vec![Change {
                    what: format!(
                        "patch {} {}, superseded by a smaller U95",
                        it.patch,
                        word(&it.half)
                    ),
                    old,
                    new: colour(other, new).unwrap_or_default(),
                }],
                before: serde_json::json!({
                    "photo": source.path, "sha256": source.sha256, "panel": source.panel, "patch": it.patch,
                    "half": it.half, "correction": source.correction, "added": source.added,
                    "L": it.lab.map(|it| it.l), "a": it.lab.map(|it| it.a), "b": it.lab.map(|it| it.b), "U95": it.u95,
                }),
            });
        }
    }
    all
}

fn colour(source: &Source, it: &SourceReading) -> Option<String> {
    let (lab, u95) = (it.lab?, it.u95?);
    Some(format!(
        "L* {:.2} a* {:.2} b* {:.2} U95 {u95:.2} ({})",
        lab.l, lab.a, lab.b, source.correction
    ))
}

fn withdrawn(
    date: String,
    why: Option<String>,
    before: serde_json::Value,
    what: &str,
) -> Result<Past, LibraryError> {
    let old: NoteOfSpecimen =
        serde_json::from_value(before.clone()).map_err(|it| LibraryError::damaged(what, it))?;
    let note = old.note;
    Ok(Past {
        date,
        of: what.to_owned(),
        why,
        changes: vec![Change {
            what: format!("note of {}", old.specimen.recipe.in_short()),
            old: format!("{}, {}", note.word, note.date),
            new: "withdrawn".to_owned(),
        }],
        before,
    })
}
