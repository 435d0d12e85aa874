//! Whether the file is whole, and whether what is derived in it follows from the rest.

use super::colour;
use super::recipe::Recipe;
use super::{Library, LibraryError, catalog, crops, history, notes, sound, store};
use std::collections::BTreeSet;

/// What is wrong with a library.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong, in words.
    pub what: String,
    /// Whether it is only something derived, which can be made anew.
    pub derived: bool,
}

/// What was looked at.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Findings {
    /// Photos with their readings.
    pub measurements: usize,
    /// Swatches.
    pub swatches: usize,
    /// What is wrong; empty if nothing is.
    pub faults: Vec<Fault>,
}

impl Findings {
    fn damage(&mut self, what: impl Into<String>) {
        self.faults.push(Fault {
            what: what.into(),
            derived: false,
        });
    }

    fn stale(&mut self, what: impl Into<String>) {
        self.faults.push(Fault {
            what: what.into(),
            derived: true,
        });
    }
}

impl Library {
    /// Checks everything: SQLite's own check, every record against its digest and against sense, every label against the panel file as it
    /// was, and all that is derived against what it derives from.
    ///
    /// # Errors
    ///
    /// If the file is so damaged that it can't be gone through.
    pub fn check(&self) -> Result<Findings, LibraryError> {
        let mut found = Findings::default();
        self.pages(&mut found)?;
        if !found.faults.is_empty() {
            // What the pages say is not to be trusted.
            return Ok(found);
        }
        self.records(&mut found)?;
        self.same_shots(&mut found)?;
        self.panels(&mut found)?;
        self.swatches(&mut found)?;
        self.counting(&mut found)?;
        self.colours(&mut found)?;
        self.said(&mut found)?;
        Ok(found)
    }

    /// Makes anew what is derived: which readings count, and the colours of swatches.
    ///
    /// # Errors
    ///
    /// If the library can't be read or written.
    pub fn derive_anew(&mut self) -> Result<(), LibraryError> {
        let photos = self.photos_and_panels()?;
        let swatches = self.numbers_of("SELECT id FROM swatch ORDER BY id")?;
        self.write(|transaction| {
            for (photo, panel) in photos {
                colour::count_best(transaction, photo, &panel, &mut BTreeSet::new())?;
            }
            for swatch in swatches {
                colour::derive(transaction, swatch)?;
            }
            Ok(())
        })
    }

    fn pages(&self, found: &mut Findings) -> Result<(), LibraryError> {
        let mut statement = self.connection.prepare("PRAGMA integrity_check(20)")?;
        let rows = statement.query_map([], |row| row.get::<_, String>(0))?;
        for row in rows {
            let row = row?;
            if row != "ok" {
                found.damage(row);
            }
        }
        let mut statement = self.connection.prepare("PRAGMA foreign_key_check")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (from, to): (String, String) = (row.get(0)?, row.get(2)?);
            found.damage(format!("a {from} belongs to a {to} that is not there"));
        }
        Ok(())
    }

    fn records(&self, found: &mut Findings) -> Result<(), LibraryError> {
        for id in self.numbers_of("SELECT id FROM measurement ORDER BY id")? {
            found.measurements += 1;
            // Text whose bits flipped is an error of SQLite's, too.
            if let Err(error) = self.record(id, found) {
                found.damage(format!("measurement {id}: {error}"));
            }
        }
        Ok(())
    }

    fn record(&self, id: i64, found: &mut Findings) -> Result<(), LibraryError> {
        let record = store::record(&self.connection, id)?;
        let photo = &record.photo;
        let name = format!("photo {} on panel {}", photo.path, photo.panel.id);
        let (shot, added): ((Option<String>, Option<String>), String) = self
            .connection
            .prepare_cached(
                "SELECT taken, camera, added FROM measurement JOIN photo ON photo.id = photo WHERE measurement.id = ?1",
            )?
            .query_row([id], |row| Ok(((row.get(0)?, row.get(1)?), row.get(2)?)))?;
        if !added.get(..10).is_some_and(notes::is_date) {
            found.damage(format!("{name}: nobody knows when it was added"));
        }
        let (digest, correction, hours, group, panel, sha256): (
            Vec<u8>,
            String,
            Option<f64>,
            i64,
            String,
            String,
        ) = self
            .connection
            .prepare_cached(
                "SELECT digest, correction, hours, common_group, panel_name, sha256
                     FROM measurement JOIN photo ON photo.id = photo WHERE measurement.id = ?1",
            )?
            .query_row([id], |row| {
                Ok((
                    row.get(0)?,
                    row.get(1)?,
                    row.get(2)?,
                    row.get(3)?,
                    row.get(4)?,
                    row.get(5)?,
                ))
            })?;
        if digest != store::stored_digest(&self.connection, id)? {
            found.damage(format!("{name}: not what was written (its digest differs)"));
        }
        if correction != store::correction_key(photo)
            || hours.map(f64::to_bits) != photo.hours.map(f64::to_bits)
            || group != store::group(photo)
            || panel != photo.panel.id
            || sha256 != photo.sha256
            || shot != (photo.metadata.taken.clone(), photo.metadata.camera.clone())
        {
            found.damage(format!("{name}: its row and its record differ"));
        }
        if let Err(reason) = sound::photo(photo) {
            found.damage(format!("{name}: {reason}"));
        }
        for it in &record.readings {
            if let Err(reason) = sound::reading(it, photo) {
                found.damage(format!("{name}, patch {}: {reason}", it.patch));
            }
        }
        self.labels(id, &record, &name, found)
    }

    /// Every reading belongs to the swatch that the panel file, as it was, means.
    fn labels(
        &self,
        id: i64,
        record: &crate::record::PhotoRecord,
        name: &str,
        found: &mut Findings,
    ) -> Result<(), LibraryError> {
        let panel = &record.photo.panel;
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT specimen.patch, specimen.lot, swatch.digest, specimen.panel_name FROM reading
             JOIN specimen ON specimen.id = reading.specimen JOIN swatch ON swatch.id = specimen.swatch
             WHERE measurement = ?1",
        )?;
        let mut rows = statement.query([id])?;
        while let Some(row) = rows.next()? {
            let (patch, lot, digest): (String, String, Vec<u8>) =
                (row.get(0)?, row.get(1)?, row.get(2)?);
            let Some(entry) = panel.patches.iter().find(|it| it.id == patch) else {
                found.damage(format!(
                    "{name}: a reading of patch {patch}, which the panel lacks"
                ));
                continue;
            };
            let recipe = Recipe::of(panel, entry);
            let meant = recipe.digest(recipe.bounds(&panel.id, &patch))?;
            let on: String = row.get(3)?;
            if digest != meant || on != panel.id || lot != entry.lot.as_deref().unwrap_or_default()
            {
                found.damage(format!(
                    "{name}: patch {patch} is under another swatch than its panel file meant"
                ));
            }
        }
        Ok(())
    }

    /// A copy was taken with its original, which is none itself.
    fn same_shots(&self, found: &mut Findings) -> Result<(), LibraryError> {
        let wrong = "SELECT photo.sha256 FROM photo JOIN photo AS original ON original.id = photo.copy_of
             WHERE photo.taken IS NULL OR photo.taken IS NOT original.taken OR photo.camera IS NOT original.camera
                OR original.copy_of IS NOT NULL ORDER BY photo.id";
        let mut statement = self.connection.prepare_cached(wrong)?;
        for row in statement.query_map([], |row| row.get::<_, String>(0))? {
            found.damage(format!(
                "photo {}: it is not a copy of the one that it is said to be",
                row?
            ));
        }
        Ok(())
    }

    /// Every revision of a panel is what its digest says.
    fn panels(&self, found: &mut Findings) -> Result<(), LibraryError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT id, name, digest FROM panel ORDER BY id")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, name, digest): (i64, String, Vec<u8>) =
                (row.get(0)?, row.get(1)?, row.get(2)?);
            let stored = store::stored_panel_digest(&self.connection, id);
            match store::panel_entry(&self.connection, id).and_then(|it| Ok((it, stored?))) {
                Ok((entry, stored)) if entry.id == name && digest == stored => {}
                Ok(_) => found.damage(format!("panel {name}: a revision is not what was written")),
                Err(error) => found.damage(format!("panel {name}: {error}")),
            }
        }
        Ok(())
    }

    /// Every swatch is the recipe that its digest says, under the name of one of its patches.
    fn swatches(&self, found: &mut Findings) -> Result<(), LibraryError> {
        let mut names: std::collections::BTreeMap<i64, BTreeSet<Option<String>>> =
            std::collections::BTreeMap::new();
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT specimen.swatch, specimen.patch, measurement.panel FROM measurement
             JOIN reading ON reading.measurement = measurement.id JOIN specimen ON specimen.id = reading.specimen
             ORDER BY measurement.panel",
        )?;
        let mut rows = statement.query([])?;
        let mut last: Option<(i64, crate::record::PanelEntry)> = None;
        while let Some(row) = rows.next()? {
            let (swatch, patch, panel): (i64, String, i64) =
                (row.get(0)?, row.get(1)?, row.get(2)?);
            if last.as_ref().is_none_or(|it| it.0 != panel) {
                let Ok(entry) = store::panel_entry(&self.connection, panel) else {
                    continue;
                };
                last = Some((panel, entry));
            }
            let patches = last.iter().flat_map(|it| &it.1.patches);
            let named = patches
                .filter(|it| it.id == patch)
                .map(|it| it.name.clone());
            names.entry(swatch).or_default().extend(named);
        }
        let mut statement = self
            .connection
            .prepare_cached("SELECT id, digest, only_panel, only_patch FROM swatch ORDER BY id")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, digest): (i64, Vec<u8>) = (row.get(0)?, row.get(1)?);
            let (panel, patch): (Option<String>, Option<String>) = (row.get(2)?, row.get(3)?);
            let Some(swatch) = super::recipe::swatch(&self.connection, id)? else {
                continue;
            };
            if digest != swatch.recipe.digest((panel.as_deref(), patch.as_deref()))? {
                found.damage(format!("swatch {id}: its recipe is not what was written"));
            }
            // A patch that was noted and never photographed has no panel to compare with, and may have named it.
            let noted: bool = self
                .connection
                .prepare_cached(
                    "SELECT EXISTS (SELECT 1 FROM specimen WHERE swatch = ?1
                     AND NOT EXISTS (SELECT 1 FROM reading WHERE reading.specimen = specimen.id))",
                )?
                .query_row([id], |row| row.get(0))?;
            if !noted && names.get(&id).is_some_and(|it| !it.contains(&swatch.name)) {
                found.damage(format!("swatch {id}: none of its patches has its name"));
            }
        }
        Ok(())
    }

    fn counting(&self, found: &mut Findings) -> Result<(), LibraryError> {
        for (photo, panel) in self.photos_and_panels()? {
            let wrong = colour::miscounted(&self.connection, photo, &panel)?.len();
            if wrong > 0 {
                found.stale(format!("{wrong} readings of a photo on panel {panel} count that shouldn't, or don't that should"));
            }
        }
        Ok(())
    }

    fn colours(&self, found: &mut Findings) -> Result<(), LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT masked, hours, photo, l, a, b, covariance, specimens, readings, disagree, standard, u95
             FROM colour WHERE swatch = ?1 ORDER BY masked, hours, photo",
        )?;
        for id in self.numbers_of("SELECT id FROM swatch ORDER BY id")? {
            found.swatches += 1;
            let rows = statement.query_map([id], |row| {
                Ok(colour::Row {
                    exposure: colour::Exposure::of_row(row.get(0)?, row.get(1)?, row.get(2)?),
                    lab: [row.get(3)?, row.get(4)?, row.get(5)?],
                    covariance: row.get(6)?,
                    specimens: row.get(7)?,
                    readings: row.get(8)?,
                    disagree: row.get(9)?,
                    standard: row.get(10)?,
                    u95: row.get(11)?,
                })
            })?;
            let there = rows.collect::<rusqlite::Result<Vec<_>>>()?;
            let meant = colour::rows(&self.connection, id)?;
            let alike =
                there.len() == meant.len() && there.iter().zip(&meant).all(|(a, b)| a.is(b));
            if !alike {
                found.stale(format!(
                    "the colours of swatch {id} don't follow from its readings"
                ));
            }
        }
        Ok(())
    }

    /// What people said, the crops, and the history: as they were written, and as they can be.
    fn said(&self, found: &mut Findings) -> Result<(), LibraryError> {
        let faults = [
            catalog::faults(&self.connection)?,
            notes::faults(&self.connection)?,
            crops::faults(&self.connection)?,
            history::faults(&self.connection)?,
        ];
        let bent = !faults[0].is_empty();
        faults.into_iter().flatten().for_each(|it| found.damage(it));
        if bent {
            // What is not as it was written may not even be read.
            return Ok(());
        }
        for it in self.pigments()? {
            if let Err(error) = it.check() {
                found.damage(error.to_string());
            }
        }
        for it in self.coatings()? {
            if let Err(error) = it.check() {
                found.damage(error.to_string());
            }
        }
        Ok(())
    }

    fn photos_and_panels(&self) -> Result<Vec<(i64, String)>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT coalesce(copy_of, photo.id), panel_name FROM measurement JOIN photo ON photo.id = photo ORDER BY 1, 2",
        )?;
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    fn numbers_of(&self, sql: &str) -> Result<Vec<i64>, LibraryError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let rows = statement.query_map([], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }
}
