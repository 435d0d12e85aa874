//! Numbers of swatches, which people know them by: those of a document go with it into another library, as far as they are free there.

use super::document::{Document, Numbered};
use super::{LibraryError, recipe, sound, store};
use rusqlite::Connection;

/// The highest number that a document may bring: numbers must be left for what comes after it.
const HIGHEST: i64 = 1_000_000_000_000;
/// Most numbers that are told one by one.
const TOLD: usize = 5;

/// What is wrong with the numbers of a document.
pub(super) fn check(document: &Document) -> Result<(), LibraryError> {
    let mut last = 0;
    for it in &document.swatches {
        let wrong = |reason: String| LibraryError::damaged(format!("swatch {}", it.id), reason);
        if it.id <= last {
            return Err(wrong(
                "its number is not above the one before it".to_owned(),
            ));
        }
        last = it.id;
        sound::facts::of_recipe(&it.recipe).map_err(wrong)?;
        let mut pigments = it.recipe.pigments.windows(2);
        if pigments.any(|it| it[0].pigment >= it[1].pigment) {
            return Err(wrong("its pigments are not in order, each once".to_owned()));
        }
        // The panel and the patch count exactly where the recipe leaves something open.
        let panel = it.only_panel.as_deref().unwrap_or_default();
        let patch = it.only_patch.as_deref().unwrap_or_default();
        if it.recipe.bounds(panel, patch) != bounds(it) {
            return Err(wrong(
                "what it can't be told from does not fit its recipe".to_owned(),
            ));
        }
    }
    if !(last..=HIGHEST).contains(&document.last_swatch) {
        return Err(LibraryError::damaged(
            "last_swatch",
            format!(
                "it is {}, and must be from {last}, the last swatch's, to {HIGHEST}",
                document.last_swatch
            ),
        ));
    }
    Ok(())
}

fn bounds(it: &Numbered) -> (Option<&str>, Option<&str>) {
    (it.only_panel.as_deref(), it.only_patch.as_deref())
}

/// What became of the numbers of a document.
#[derive(Debug, Default)]
pub(super) struct Given {
    /// Swatches that are new, with nothing in them yet.
    new: Vec<i64>,
    /// What a user should know.
    pub(super) note: Option<String>,
}

/// Gives the swatches of a document their numbers, before anything is added to them. A swatch that is there keeps
/// the number that it has; one whose number is taken gets a new one.
pub(super) fn give(connection: &Connection, document: &Document) -> Result<Given, LibraryError> {
    let mut given = Given::default();
    let mut others = Vec::new();
    // A number that was given to one is never given to another, though that one may be gone.
    let before = recipe::last_number(connection)?;
    let mut without = Vec::new();
    for it in &document.swatches {
        match store::find_swatch(connection, &it.recipe, bounds(it))? {
            Some(id) if id == it.id => {}
            Some(id) => others.push((it.id, id)),
            None if it.id <= before => without.push(it),
            None => given.add(connection, Some(it.id), it)?,
        }
    }
    connection.execute(
        "INSERT INTO sqlite_sequence (name, seq) SELECT 'swatch', 0
         WHERE NOT EXISTS (SELECT 1 FROM sqlite_sequence WHERE name = 'swatch')",
        [],
    )?;
    connection.execute(
        "UPDATE sqlite_sequence SET seq = max(seq, ?1) WHERE name = 'swatch'",
        [document.last_swatch],
    )?;
    for it in without {
        given.add(connection, None, it)?;
        others.extend(given.new.last().map(|id| (it.id, *id)));
    }
    others.sort_unstable();
    if others.is_empty() {
        return Ok(given);
    }
    let count = others.len();
    let mut told: Vec<String> = others
        .iter()
        .take(TOLD)
        .map(|(there, here)| format!("{there} is {here} here"))
        .collect();
    if count > TOLD {
        told.push(format!("and {} more", count - TOLD));
    }
    given.note = Some(format!(
        "swatches of the document have other numbers in this library: {}",
        told.join(", ")
    ));
    Ok(given)
}

impl Given {
    fn add(
        &mut self,
        connection: &Connection,
        number: Option<i64>,
        it: &Numbered,
    ) -> Result<(), LibraryError> {
        let name = it.name.as_deref();
        let id = store::new_swatch(connection, number, &it.recipe, bounds(it), name)?;
        self.new.push(id);
        Ok(())
    }

    /// After all was added: takes away new swatches that nothing was added to, and gives the others names that their patches have.
    pub(super) fn tidy(&self, connection: &Connection) -> Result<(), LibraryError> {
        for id in &self.new {
            let used: bool = connection
                .prepare_cached("SELECT EXISTS (SELECT 1 FROM specimen WHERE swatch = ?1)")?
                .query_row([id], |row| row.get(0))?;
            if used {
                store::name_anew(connection, *id)?;
            } else {
                connection.execute("DELETE FROM ingredient WHERE swatch = ?1", [id])?;
                connection.execute("DELETE FROM swatch WHERE id = ?1", [id])?;
            }
        }
        Ok(())
    }
}
