//! Where the photos of the series are: in records, or in a library.

use super::super::failure::Failure;
use super::super::library;
use masstone::library::Library;
use masstone::record::{Half, PhotoRecord};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The photos of the series.
#[derive(Debug, Default)]
pub(super) struct Sources {
    pub(super) photos: Vec<PhotoRecord>,
    /// How much could not be taken; it was said.
    pub(super) bad: usize,
    /// Small pictures by photo, patch and half.
    pictures: BTreeMap<(String, String, Half), Vec<u8>>,
}

impl Sources {
    /// Reads them, of these panels only; of all where none is named.
    pub(super) fn read(
        records: &[PathBuf],
        named: Option<&Path>,
        panels: &[String],
    ) -> Result<Self, Failure> {
        if records.is_empty() {
            Self::of_library(named, panels)
        } else {
            Self::of_records(records, panels)
        }
    }

    fn of_records(records: &[PathBuf], panels: &[String]) -> Result<Self, Failure> {
        let (mut photos, bad) = library::read(records)?;
        if photos.is_empty() {
            return Err(Failure::work(
                anyhow::anyhow!("there is no photo in these records"),
                "Give the .json or .jsonl files of the whole series.",
            ));
        }
        let there: Vec<String> = photos.iter().map(|it| it.photo.panel.id.clone()).collect();
        known(panels, &there)?;
        if !panels.is_empty() {
            photos.retain(|it| panels.contains(&it.photo.panel.id));
        }
        Ok(Self {
            photos,
            bad,
            pictures: BTreeMap::new(),
        })
    }

    fn of_library(named: Option<&Path>, panels: &[String]) -> Result<Self, Failure> {
        let place = library::place(named);
        if named.is_none() && place == library::place_by_default() && !place.exists() {
            return Err(Failure::usage(
                anyhow::anyhow!("there is nothing to assess: no records, and no library here"),
                "Name the records (.json or .jsonl) of the series, or a library with --library FILE.",
            ));
        }
        let library = library::open(&place)?;
        let failure = library::failure(&place);
        let there = library.panels_with_halves().map_err(&failure)?;
        known(panels, &there)?;
        let mut sources = Self::default();
        for panel in there
            .iter()
            .filter(|it| panels.is_empty() || panels.contains(it))
        {
            sources.add(&library, panel).map_err(&failure)?;
        }
        if sources.photos.is_empty() {
            return Err(Failure::work(
                anyhow::anyhow!("{}: no panel in it has masked halves", place.display()),
                "State `masked` in the panel file and measure its photos into the library.",
            ));
        }
        Ok(sources)
    }

    fn add(
        &mut self,
        library: &Library,
        panel: &str,
    ) -> Result<(), masstone::library::LibraryError> {
        self.photos.extend(library.series(panel)?);
        for it in library.crops_of(panel)? {
            self.pictures
                .insert((it.sha256, it.patch, it.half), it.jpeg);
        }
        Ok(())
    }

    /// The small picture of a half in a photo.
    pub(super) fn picture(&self, sha256: &str, patch: &str, half: Half) -> Option<Vec<u8>> {
        let key = (sha256.to_owned(), patch.to_owned(), half);
        self.pictures.get(&key).cloned()
    }
}

/// That every panel that is named is there.
fn known(panels: &[String], there: &[String]) -> Result<(), Failure> {
    let Some(unknown) = panels.iter().find(|it| !there.contains(it)) else {
        return Ok(());
    };
    let mut there: Vec<&str> = there.iter().map(String::as_str).collect();
    there.sort_unstable();
    there.dedup();
    let hint = if there.is_empty() {
        "No panel there has masked halves.".to_owned()
    } else {
        format!("There are: {}.", there.join(", "))
    };
    Err(Failure::usage(
        anyhow::anyhow!("--panel {unknown}: there is no photo of it"),
        hint,
    ))
}
