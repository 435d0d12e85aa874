//! A photo's record in the tables, and out of them again, without loss.

mod specimen;

pub(super) use specimen::{
    Specimen, find_specimen, find_swatch, name_anew, new_swatch, specimen, swatch, weigh_anew,
};

use super::detail::Detail;
use super::digest::{self, Digest};
use super::{LibraryError, number, pack};
use crate::record::{Half, PanelEntry, PhotoEntry, PhotoRecord, Reading};
use rusqlite::{Connection, OptionalExtension as _, params};
use sha2::Digest as _;
use sha2::Sha256;

/// The correction of a reading's key: its kind, and what else it rests on beside the photo.
pub(super) fn correction_key(photo: &PhotoEntry) -> String {
    let mut key = crate::record::csv::word(&photo.correction.kind);
    for (name, hash) in [
        ("correction", &photo.settings.correction),
        ("blank", &photo.settings.blank),
        ("masked", &photo.settings.masked),
    ] {
        if let Some(hash) = hash {
            key += &format!(" {name}:{}", hash.get(..16).unwrap_or(hash));
        }
    }
    if photo.settings.tone == crate::correct::Tone::None {
        key += " tone:none";
    }
    key
}

/// What photos must share to share the error that is common to a photo: camera and cards. A hash; unknown cameras are one.
pub(super) fn group(photo: &PhotoEntry) -> i64 {
    let cards: Vec<[Option<&str>; 2]> = (photo.panel.cards.iter())
        .map(|it| [Some(it.card.id.as_str()), it.card.edition.as_deref()])
        .collect();
    let text = serde_json::json!([photo.metadata.camera, cards]).to_string();
    let digest = Sha256::digest(text.as_bytes());
    let mut first = [0; 8];
    first.copy_from_slice(&digest[..8]);
    i64::from_le_bytes(first)
}

/// The panel's facts: without the paths that its files had.
pub(super) fn without_files(panel: &PanelEntry) -> PanelEntry {
    let mut bare = panel.clone();
    bare.file = None;
    for it in &mut bare.cards {
        it.card.file = None;
    }
    bare
}

/// The panel without its facts: what [`without_files`] leaves out.
fn files_only(panel: &PanelEntry) -> serde_json::Value {
    let cards: Vec<&Option<String>> = panel.cards.iter().map(|it| &it.card.file).collect();
    serde_json::json!({ "file": panel.file, "cards": cards })
}

fn with_files(mut panel: PanelEntry, files: &serde_json::Value) -> PanelEntry {
    let path = |it: &serde_json::Value| it.as_str().map(str::to_owned);
    panel.file = path(&files["file"]);
    for (index, it) in panel.cards.iter_mut().enumerate() {
        it.card.file = path(&files["cards"][index]);
    }
    panel
}

fn json<T: serde::Serialize>(it: &T) -> Result<String, LibraryError> {
    serde_json::to_string(it).map_err(|it| LibraryError::damaged("a record", it))
}

/// The digest by which a panel's revisions are told apart: of all that it says.
fn panel_digest(panel: &PanelEntry) -> Result<Digest, LibraryError> {
    digest::of_said(&without_files(panel))
}

/// The revision of the panel that says exactly this, a new one if there is none.
pub(super) fn panel(connection: &Connection, panel: &PanelEntry) -> Result<i64, LibraryError> {
    let digest = panel_digest(panel)?;
    let found: Option<i64> = connection
        .prepare_cached("SELECT id FROM panel WHERE name = ?1 AND digest = ?2")?
        .query_row(params![panel.id, digest], |row| row.get(0))
        .optional()?;
    if let Some(id) = found {
        return Ok(id);
    }
    let entry = pack::text(&json(&without_files(panel))?);
    connection
        .prepare_cached(
            "INSERT INTO panel (name, revision, digest, entry)
             VALUES (?1, (SELECT coalesce(max(revision), 0) + 1 FROM panel WHERE name = ?1), ?2, ?3)",
        )?
        .execute(params![panel.id, digest, entry])?;
    Ok(connection.last_insert_rowid())
}

/// A revision of a panel.
pub(super) fn panel_entry(connection: &Connection, id: i64) -> Result<PanelEntry, LibraryError> {
    let (text, what) = panel_text(connection, id)?;
    serde_json::from_str(&text).map_err(|it| LibraryError::damaged(what, it))
}

/// The digest of what is stored of a revision, whatever this program makes of it.
pub(super) fn stored_panel_digest(
    connection: &Connection,
    id: i64,
) -> Result<Digest, LibraryError> {
    let (text, what) = panel_text(connection, id)?;
    let said: serde_json::Value =
        serde_json::from_str(&text).map_err(|it| LibraryError::damaged(what, it))?;
    digest::of_said(&said)
}

fn panel_text(connection: &Connection, id: i64) -> Result<(String, String), LibraryError> {
    let packed: Vec<u8> = connection
        .prepare_cached("SELECT entry FROM panel WHERE id = ?1")?
        .query_row([id], |row| row.get(0))?;
    let what = format!("revision {id} of a panel");
    Ok((pack::unpacked(&packed, &what)?, what))
}

/// The photo's history without its panel's facts, as JSON.
fn entry(photo: &PhotoEntry) -> Result<String, LibraryError> {
    let mut value =
        serde_json::to_value(photo).map_err(|it| LibraryError::damaged("a record", it))?;
    value["panel"] = files_only(&photo.panel);
    Ok(value.to_string())
}

/// The photo's row, a new one if there is none.
pub(super) fn photo(connection: &Connection, photo: &PhotoEntry) -> Result<i64, LibraryError> {
    let found = photo_id(connection, &photo.sha256)?;
    if let Some(id) = found {
        return Ok(id);
    }
    connection
        .prepare_cached("INSERT INTO photo (sha256, taken, camera) VALUES (?1, ?2, ?3)")?
        .execute(params![
            photo.sha256,
            photo.metadata.taken,
            photo.metadata.camera
        ])?;
    Ok(connection.last_insert_rowid())
}

pub(super) fn photo_id(connection: &Connection, sha256: &str) -> Result<Option<i64>, LibraryError> {
    Ok(connection
        .prepare_cached("SELECT id FROM photo WHERE sha256 = ?1")?
        .query_row([sha256], |row| row.get(0))
        .optional()?)
}

/// A photo's SHA-256.
pub(super) fn sha256(connection: &Connection, photo: i64) -> Result<String, LibraryError> {
    Ok(connection
        .prepare_cached("SELECT sha256 FROM photo WHERE id = ?1")?
        .query_row([photo], |row| row.get(0))?)
}

/// The measurement of this key, if there is one.
pub(super) fn measurement_id(
    connection: &Connection,
    photo: i64,
    panel: &str,
    correction: &str,
) -> Result<Option<i64>, LibraryError> {
    Ok(connection
        .prepare_cached(
            "SELECT id FROM measurement WHERE photo = ?1 AND panel_name = ?2 AND correction = ?3",
        )?
        .query_row(params![photo, panel, correction], |row| row.get(0))
        .optional()?)
}

/// Writes a measurement's row; `added` is when, now if not given; `number` its own, a new one if not given.
pub(super) fn measurement(
    connection: &Connection,
    photo: i64,
    record: &PhotoRecord,
    added: Option<&str>,
    number: Option<i64>,
) -> Result<i64, LibraryError> {
    let it = &record.photo;
    let panel = panel(connection, &it.panel)?;
    let now = || -> rusqlite::Result<String> {
        connection
            .prepare_cached("SELECT strftime('%Y-%m-%dT%H:%M:%SZ', 'now')")?
            .query_row([], |row| row.get(0))
    };
    let added = added.map_or_else(now, |it| Ok(it.to_owned()))?;
    let entry = pack::text(&entry(it)?);
    let mut sum = Sum::new(&added, &entry);
    for it in &record.readings {
        let detail = Detail::from(it).pack();
        sum.reading(&it.patch, half_number(it.half), it.u95, &detail);
    }
    connection
        .prepare_cached(
            "INSERT INTO measurement (photo, panel, panel_name, correction, hours, common_group, added, entry, digest, id)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            photo,
            panel,
            it.panel.id,
            correction_key(it),
            it.hours,
            group(it),
            added,
            entry,
            sum.digest(),
            number,
        ])?;
    Ok(connection.last_insert_rowid())
}

/// The digest of a measurement: of when it was added, its history, and reading by reading in the record's order, as they are stored.
struct Sum(Sha256);

impl Sum {
    fn new(added: &str, entry: &[u8]) -> Self {
        let mut sum = Self(Sha256::new());
        sum.0.update(added.as_bytes());
        sum.0.update(entry);
        sum
    }

    fn reading(&mut self, patch: &str, half: i64, u95: Option<f64>, detail: &[u8]) {
        self.0.update(patch.as_bytes());
        self.0.update([0, u8::try_from(half).unwrap_or(0xff)]);
        self.0.update(u95.map_or([0xff; 8], f64::to_le_bytes));
        self.0.update(detail);
    }

    fn digest(self) -> Digest {
        digest::first_half(self.0)
    }
}

/// The digest of what is stored of a measurement: another than was written with it if a bit of it flipped.
pub(super) fn stored_digest(connection: &Connection, id: i64) -> Result<Digest, LibraryError> {
    let mut statement =
        connection.prepare_cached("SELECT added, entry FROM measurement WHERE id = ?1")?;
    let mut sum = statement.query_row([id], |row| {
        let (added, entry): (String, Vec<u8>) = (row.get(0)?, row.get(1)?);
        Ok(Sum::new(&added, &entry))
    })?;
    let mut statement = connection.prepare_cached(
        "SELECT specimen.patch, reading.half, u95, detail
         FROM reading JOIN specimen ON specimen.id = reading.specimen
         WHERE measurement = ?1 ORDER BY place",
    )?;
    let mut rows = statement.query([id])?;
    while let Some(row) = rows.next()? {
        let (patch, half): (String, i64) = (row.get(0)?, row.get(1)?);
        let detail = row.get_ref(3)?.as_blob().unwrap_or_default();
        sum.reading(&patch, half, row.get(2)?, detail);
    }
    Ok(sum.digest())
}

/// Puts other words in the place of a measurement's history, without its panel's facts.
pub(super) fn renew_entry(
    connection: &Connection,
    id: i64,
    photo: &PhotoEntry,
) -> Result<(), LibraryError> {
    connection.execute(
        "UPDATE measurement SET entry = ?1 WHERE id = ?2",
        params![pack::text(&entry(photo)?), id],
    )?;
    renew_digest(connection, id)
}

/// After something was added to a measurement.
pub(super) fn renew_digest(connection: &Connection, id: i64) -> Result<(), LibraryError> {
    connection.execute(
        "UPDATE measurement SET digest = ?1 WHERE id = ?2",
        params![stored_digest(connection, id)?, id],
    )?;
    Ok(())
}

/// Writes the rows of readings, from `place` on; each with its specimen.
pub(super) fn readings(
    connection: &Connection,
    measurement: i64,
    panel: &PanelEntry,
    readings: &[Reading],
    place: usize,
) -> Result<Vec<Specimen>, LibraryError> {
    let mut specimens: Vec<(&str, Specimen)> = Vec::new();
    let mut insert = connection.prepare_cached(
        "INSERT INTO reading (specimen, half, measurement, place, current, u95, detail)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?;
    let mut all = Vec::with_capacity(readings.len());
    for (index, it) in readings.iter().enumerate() {
        // The halves of a patch follow each other.
        let of_it = match specimens
            .iter()
            .rev()
            .take(2)
            .find(|other| other.0 == it.patch)
        {
            Some((_, of_it)) => *of_it,
            None => {
                let of_it = specimen(connection, panel, &it.patch)?;
                specimens.push((&it.patch, of_it));
                of_it
            }
        };
        insert.execute(params![
            of_it.id,
            half_number(it.half),
            measurement,
            number(place + index),
            it.l.is_some(),
            it.u95,
            Detail::from(it).pack(),
        ])?;
        all.push(of_it);
    }
    Ok(all)
}

pub(super) fn half_number(half: Half) -> i64 {
    match half {
        Half::Whole => 0,
        Half::Masked => 1,
        Half::Exposed => 2,
    }
}

pub(super) fn half_of(number: i64) -> Result<Half, LibraryError> {
    match number {
        0 => Ok(Half::Whole),
        1 => Ok(Half::Masked),
        2 => Ok(Half::Exposed),
        other => Err(LibraryError::damaged("a reading", format!("half {other}"))),
    }
}

/// The record of a measurement, as it was added.
pub(super) fn record(connection: &Connection, id: i64) -> Result<PhotoRecord, LibraryError> {
    let (panel, packed): (i64, Vec<u8>) = connection
        .prepare_cached("SELECT panel, entry FROM measurement WHERE id = ?1")?
        .query_row([id], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let what = format!("measurement {id}");
    let text = pack::unpacked(&packed, &what)?;
    let wrong = |it| LibraryError::damaged(&what, it);
    let mut value: serde_json::Value = serde_json::from_str(&text).map_err(wrong)?;
    let files = value["panel"].take();
    let panel = with_files(panel_entry(connection, panel)?, &files);
    value["panel"] = serde_json::to_value(&panel).map_err(wrong)?;
    let photo: PhotoEntry = serde_json::from_value(value).map_err(wrong)?;

    let mut statement = connection.prepare_cached(
        "SELECT specimen.patch, reading.half, u95, detail
         FROM reading JOIN specimen ON specimen.id = reading.specimen
         WHERE measurement = ?1 ORDER BY place",
    )?;
    let mut rows = statement.query([id])?;
    let mut readings = Vec::new();
    while let Some(row) = rows.next()? {
        let detail = Detail::unpack(row.get_ref(3)?.as_blob().unwrap_or_default())?;
        let [sd_l, sd_a, sd_b] = detail.sd;
        let [l, a, b] = detail.lab;
        readings.push(Reading {
            photo: photo.path.clone(),
            panel: photo.panel.id.clone(),
            patch: row.get(0)?,
            half: half_of(row.get(1)?)?,
            hours: photo.hours,
            l,
            a,
            b,
            c: detail.c,
            h: detail.h,
            hex: detail.hex,
            sd_l,
            sd_a,
            sd_b,
            unevenness: detail.unevenness,
            pixels: detail.pixels,
            left_out: detail.left_out,
            u95: row.get(2)?,
            correction: photo.correction.kind,
            flags: detail.flags,
            outline: detail.outline,
            cov_own: detail.cov_own,
            cov_common: detail.cov_common,
            components: detail.components,
        });
    }
    Ok(PhotoRecord { photo, readings })
}
