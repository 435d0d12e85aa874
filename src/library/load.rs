//! Records from files, reading by reading: one bad reading does not lose the good ones.
//!
//! [`crate::record::json`] reads a record as a whole or not at all. Here each photo and each reading is read by itself, and each
//! that can't be read, or makes no sense, is named with its place.

use super::sound;
use crate::record::{PhotoEntry, PhotoRecord, Reading, SchemaNumber};
use serde::Deserialize;
use serde_json::value::RawValue;
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// What a file holds.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Loaded {
    /// Photos with all of their readings that make sense.
    pub photos: Vec<PhotoRecord>,
    /// What does not, in the order of the file.
    pub bad: Vec<Bad>,
}

/// Something in a file that can't be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bad {
    /// File, line and column.
    pub place: String,
    /// What it is: the photo, or the reading.
    pub what: String,
    /// What is wrong with it.
    pub reason: String,
}

impl std::fmt::Display for Bad {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.what.is_empty() {
            write!(f, "{}: {}", self.place, self.reason)
        } else {
            write!(f, "{}: {}: {}", self.place, self.what, self.reason)
        }
    }
}

/// What to do about something bad.
pub const HINT: &str = "Give a .json or .jsonl file that `masstone measure --out` wrote, unchanged; or measure the photo again.";

/// Reads a `.json` or `.jsonl` record, by its extension.
///
/// # Errors
///
/// If the file can't be read. What is wrong within it is among [`Loaded::bad`].
pub fn load(path: &Path) -> std::io::Result<Loaded> {
    let bytes = std::fs::read(path)?;
    let name = path.display().to_string();
    let lines = path
        .extension()
        .is_some_and(|it| it.eq_ignore_ascii_case("jsonl"));
    let mut loaded = Loaded::default();
    if lines {
        for (number, line) in bytes.split(|it| *it == b'\n').enumerate() {
            if !line.trim_ascii().is_empty() {
                parse(line, &name, number, &mut loaded);
            }
        }
    } else {
        parse(&bytes, &name, 0, &mut loaded);
    }
    Ok(loaded)
}

/// The outer form; what is within stays text until each is read by itself.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Outer<'a> {
    #[serde(borrow)]
    schema: &'a RawValue,
    #[serde(borrow)]
    photos: Vec<&'a RawValue>,
    #[serde(borrow)]
    readings: Vec<&'a RawValue>,
}

/// The text of one object, and where it stands.
struct Text<'a> {
    text: &'a str,
    name: &'a str,
    lines_before: usize,
    /// Where the text has a number that is none.
    not_numbers: Vec<usize>,
}

impl Text<'_> {
    /// Place of a byte, from one.
    fn line_and_column(&self, offset: usize) -> (usize, usize) {
        let before = &self.text.as_bytes()[..offset.min(self.text.len())];
        let line = before.iter().filter(|it| **it == b'\n').count();
        let start = before
            .iter()
            .rposition(|it| *it == b'\n')
            .map_or(0, |it| it + 1);
        (self.lines_before + line + 1, before.len() - start + 1)
    }

    fn place(&self, offset: usize) -> String {
        let (line, column) = self.line_and_column(offset);
        format!("{}:{line}:{column}", self.name)
    }

    fn offset(&self, part: &RawValue) -> usize {
        // Both point into the same text.
        (part.get().as_ptr() as usize).saturating_sub(self.text.as_ptr() as usize)
    }

    /// Reads a part by itself; the place of what is wrong, and why.
    fn read<T: for<'de> Deserialize<'de>>(&self, part: &RawValue) -> Result<T, (String, String)> {
        let start = self.offset(part);
        let end = start + part.get().len();
        if let Some(at) = self.not_numbers.iter().find(|it| (start..end).contains(it)) {
            return Err((
                self.place(*at),
                "NaN and Infinity are no numbers".to_owned(),
            ));
        }
        serde_json::from_str(part.get()).map_err(|it| {
            let (line, column) = self.line_and_column(start);
            let place = match it.line() {
                0 => format!("{}:{line}:{column}", self.name),
                1 => format!("{}:{line}:{}", self.name, column + it.column() - 1),
                n => format!("{}:{}:{}", self.name, line + n - 1, it.column()),
            };
            (place, without_place(&it))
        })
    }
}

fn parse(bytes: &[u8], name: &str, lines_before: usize, loaded: &mut Loaded) {
    let mut wrong = |place: String, reason: String| {
        loaded.bad.push(Bad {
            place,
            what: String::new(),
            reason,
        });
    };
    let mut bytes = bytes.to_vec();
    let not_numbers = replace_not_numbers(&mut bytes);
    let text = match std::str::from_utf8(&bytes) {
        Ok(text) => text,
        Err(error) => {
            let line = bytes[..error.valid_up_to()]
                .iter()
                .filter(|it| **it == b'\n')
                .count();
            return wrong(
                format!("{name}:{}", lines_before + line + 1),
                "it is not UTF-8 text".to_owned(),
            );
        }
    };
    let without_mark = text.trim_start_matches('\u{feff}');
    let mark = text.len() - without_mark.len();
    let text = Text {
        text: without_mark,
        name,
        lines_before,
        not_numbers: not_numbers.into_iter().map(|it| it - mark).collect(),
    };
    let outer: Outer<'_> = match serde_json::from_str(text.text) {
        Ok(outer) => outer,
        Err(error) => {
            let place = match error.line() {
                0 => name.to_owned(),
                n => format!("{name}:{}:{}", lines_before + n, error.column()),
            };
            return wrong(place, without_place(&error));
        }
    };
    if let Err((place, reason)) = text.read::<SchemaNumber>(outer.schema) {
        return wrong(place, reason);
    }
    photos_and_readings(&text, &outer, loaded);
}

/// Only so much of a reading that it can be named.
#[derive(Deserialize)]
struct Named {
    photo: Option<String>,
    patch: Option<String>,
    half: Option<String>,
}

/// Only so much of a photo that it can be named.
#[derive(Deserialize)]
struct NamedPhoto {
    path: Option<String>,
}

/// Only so much of a photo that its patches can be found in the text.
#[derive(Deserialize)]
struct WithPatches<'a> {
    #[serde(borrow)]
    panel: Patches<'a>,
}

#[derive(Deserialize)]
struct Patches<'a> {
    #[serde(borrow)]
    patches: Vec<&'a RawValue>,
}

/// What the panel says of a patch and can't be, each with its place.
fn bad_patches(text: &Text<'_>, part: &RawValue, photo: &PhotoEntry) -> Vec<(String, Bad)> {
    let places: Vec<&RawValue> = serde_json::from_str(part.get())
        .map(|it: WithPatches<'_>| it.panel.patches)
        .unwrap_or_default();
    let patches = photo.panel.patches.iter().enumerate();
    patches
        .filter_map(|(index, patch)| {
            let reason = sound::facts::of_patch(patch).err()?;
            let bad = Bad {
                place: text.place(text.offset(places.get(index).copied().unwrap_or(part))),
                what: format!("photo {}, panel {}", photo.path, photo.panel.id),
                reason,
            };
            Some((patch.id.clone(), bad))
        })
        .collect()
}

fn photos_and_readings(text: &Text<'_>, outer: &Outer<'_>, loaded: &mut Loaded) {
    // By path: the photo, or nothing where it is among the bad.
    let mut by_path: HashMap<String, Option<usize>> = HashMap::new();
    // Patches whose facts are among the bad, by photo.
    let mut without: HashSet<(usize, String)> = HashSet::new();
    for part in &outer.photos {
        let name = serde_json::from_str(part.get())
            .ok()
            .and_then(|it: NamedPhoto| it.path);
        let what = name
            .clone()
            .map_or("a photo".to_owned(), |it| format!("photo {it}"));
        let read = text.read::<PhotoEntry>(part).and_then(|photo| {
            let here = |reason| (text.place(text.offset(part)), reason);
            sound::photo(&photo).map_err(here)?;
            if by_path.contains_key(&photo.path) {
                return Err(here(
                    "another photo of this file has the same path".to_owned(),
                ));
            }
            Ok(photo)
        });
        match read {
            Ok(photo) => {
                by_path.insert(photo.path.clone(), Some(loaded.photos.len()));
                for (patch, bad) in bad_patches(text, part, &photo) {
                    without.insert((loaded.photos.len(), patch));
                    loaded.bad.push(bad);
                }
                loaded.photos.push(PhotoRecord {
                    photo,
                    readings: Vec::new(),
                });
            }
            Err((place, reason)) => {
                if let Some(name) = name {
                    by_path.entry(name).or_insert(None);
                }
                loaded.bad.push(Bad {
                    place,
                    what,
                    reason,
                });
            }
        }
    }
    for part in &outer.readings {
        if let Err(bad) = reading(text, part, &by_path, &without, &mut loaded.photos) {
            loaded.bad.extend(bad);
        }
    }
}

/// Puts a reading to its photo; what is wrong with it, unless that was said of its photo or of its patch already.
fn reading(
    text: &Text<'_>,
    part: &RawValue,
    by_path: &HashMap<String, Option<usize>>,
    without: &HashSet<(usize, String)>,
    photos: &mut [PhotoRecord],
) -> Result<(), Option<Bad>> {
    let bad = |(place, reason): (String, String)| {
        let named = serde_json::from_str(part.get()).ok();
        let what = named.map_or("a reading".to_owned(), |it: Named| {
            let words = [it.photo, it.patch.map(|it| format!("patch {it}")), it.half];
            words.into_iter().flatten().collect::<Vec<_>>().join(", ")
        });
        Some(Bad {
            place,
            what,
            reason,
        })
    };
    let reading: Reading = text.read(part).map_err(bad)?;
    let here = |reason| bad((text.place(text.offset(part)), reason));
    let owner = match by_path.get(&reading.photo) {
        Some(Some(owner)) if without.contains(&(*owner, reading.patch.clone())) => {
            return Err(None);
        }
        Some(Some(owner)) => &mut photos[*owner],
        // Its photo is named among the bad.
        Some(None) => return Err(None),
        None => return Err(here("its photo is not in the file".to_owned())),
    };
    sound::reading(&reading, &owner.photo).map_err(here)?;
    let twice = |it: &&Reading| it.patch == reading.patch && it.half == reading.half;
    if owner.readings.iter().find(twice).is_some() {
        return Err(here(
            "the photo has another reading of the same patch and half".to_owned(),
        ));
    }
    owner.readings.push(reading);
    Ok(())
}

/// Other programs write NaN and Infinity, which JSON doesn't have: a number of the same length takes their place, so that the rest can
/// be read. Where they stood is given back.
fn replace_not_numbers(bytes: &mut [u8]) -> Vec<usize> {
    let mut found = Vec::new();
    let (mut at, mut in_text) = (0, false);
    while at < bytes.len() {
        match bytes[at] {
            b'\\' if in_text => at += 1,
            b'"' => in_text = !in_text,
            b'N' | b'I' if !in_text => {
                for (word, number) in [("NaN", "0.0"), ("Infinity", "0.000000")] {
                    if bytes[at..].starts_with(word.as_bytes()) {
                        bytes[at..at + word.len()].copy_from_slice(number.as_bytes());
                        found.push(at);
                    }
                }
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// The message without `serde_json`'s own " at line … column …".
fn without_place(error: &serde_json::Error) -> String {
    let text = error.to_string();
    match text.rfind(" at line ") {
        Some(end) => text[..end].to_owned(),
        None => text,
    }
}
