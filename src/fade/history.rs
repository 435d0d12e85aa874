//! Records put in order: boards, each with its exposures by dose, each with its photos.

use crate::flag::Flag;
use crate::record::{Half, PanelEntry, PhotoEntry, PhotoRecord, Reading};
use crate::reference::MASKED_HALF_OF;
use nalgebra::Vector3;
use std::collections::{BTreeMap, BTreeSet};

/// A board's photos of one kind of dose, in order.
#[derive(Clone, Debug)]
pub(super) struct Board<'a> {
    pub(super) panel: &'a PanelEntry,
    /// What the dose counts.
    pub(super) kind: String,
    /// By dose; one of dose 0 first, if there is one.
    pub(super) exposures: Vec<Exposure<'a>>,
}

/// The photos of one dose.
#[derive(Clone, Debug)]
pub(super) struct Exposure<'a> {
    pub(super) dose: f64,
    pub(super) hours: Option<f64>,
    pub(super) photos: Vec<&'a PhotoRecord>,
    /// Patches of which a half glares, is clipped at the top or lies across a shadow's edge, with the photo's hash.
    spoilt: BTreeSet<(&'a str, &'a str)>,
}

/// Both halves of a patch in one photo.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair<'a> {
    pub(super) masked: &'a Reading,
    pub(super) exposed: &'a Reading,
    /// A half is clipped at the bottom: a colour beyond what the file can hold, on both halves alike.
    pub(super) clipped: bool,
    /// What of both, L*, a*, b*, is no more than what the record takes of the masked half: by how much it was put right, and how much yellower it was
    /// taken to be than it was.
    pub(super) taken: Vector3<f64>,
}

/// What spoils a reading for a comparison.
const SPOILT: [Flag; 3] = [Flag::ClippedHigh, Flag::Glare, Flag::ShadowEdge];
/// Unevenness (ΔE00) beyond which a half is spoilt, by the half's own usual one: a highlight that covers all of it leaves no highlight to be
/// seen beside it.
const MUCH_MORE: f64 = 3.0;
/// Unevenness that spoils nothing.
const LITTLE: f64 = 1.0;

/// The word for a dose in hours.
pub(super) const HOURS: &str = "hours";

/// What a photo says of its dose: kind and value; none where nobody said, or said what can't be one.
fn dose(photo: &PhotoEntry) -> Option<(&str, f64)> {
    let stated = match (photo.dose, photo.hours) {
        (Some(dose), _) => Some((photo.dose_kind.as_deref().unwrap_or("dose"), dose)),
        (None, Some(hours)) => Some((HOURS, hours)),
        (None, None) => None,
    };
    // −0 is the same dose as 0.
    let counts = |it: &(&str, f64)| it.1.is_finite() && it.1 >= 0.0;
    stated.filter(counts).map(|it| (it.0, it.1 + 0.0))
}

/// What can't be placed, in words, with the panel's id.
pub(super) type Notes<'a> = Vec<(&'a str, String)>;

/// The boards of some records, by panel and kind of dose. No sun is none in every kind, so that photos of dose 0 begin each of them. What
/// can't be placed comes back as words. The order of the records changes nothing.
pub(super) fn boards(records: &[PhotoRecord]) -> (Vec<Board<'_>>, Notes<'_>) {
    let mut notes = Vec::new();
    let mut panels: Vec<(&PanelEntry, Vec<&PhotoRecord>)> = Vec::new();
    for record in once(records, &mut notes) {
        let panel = &record.photo.panel;
        match panels.iter_mut().find(|it| it.0.same_board(panel)) {
            Some((_, photos)) => photos.push(record),
            None => panels.push((panel, vec![record])),
        }
    }
    panels.sort_by_cached_key(|it| (&it.0.id, text(it.0)));
    for pair in panels.windows(2) {
        if pair[0].0.id == pair[1].0.id {
            notes.push((
                pair[0].0.id.as_str(),
                format!(
                    "the panel file of `{}` was changed between photos: what was measured before and after is not compared. Measure all photos with one panel file.",
                    pair[0].0.id
                ),
            ));
        }
    }
    notes.dedup();
    let mut boards = Vec::new();
    for (panel, photos) in panels {
        let unknown = photos.iter().filter(|it| dose(&it.photo).is_none()).count();
        if unknown > 0 {
            notes.push((
                panel.id.as_str(),
                format!(
                    "{unknown} of {} photos of `{}` state no dose of 0 or more and are left out: measure them with --hours or a series file.",
                    photos.len(),
                    panel.id
                ),
            ));
        }
        boards.extend(of_panel(panel, &photos));
    }
    (boards, notes)
}

/// Each photo once: the same one twice, as from two files of records, says nothing more. One that is said to be of two doses is left out.
fn once<'a>(records: &'a [PhotoRecord], notes: &mut Notes<'a>) -> Vec<&'a PhotoRecord> {
    let mut photos: BTreeMap<&str, Vec<&PhotoRecord>> = BTreeMap::new();
    for it in records {
        photos.entry(&it.photo.sha256).or_default().push(it);
    }
    let mut kept = Vec::new();
    for mut same in photos.into_values() {
        // Masked halves as references say more than none.
        same.sort_by_cached_key(|it| {
            let photo = &it.photo;
            let alone = photo.settings.masked.is_none();
            (text(&photo.panel), alone, text(&(photo, &it.readings)))
        });
        let Some(first) = same.first() else {
            continue;
        };
        let panel = &first.photo.panel;
        let mut note = |words: &str| {
            let text = format!("{} was measured more than once, {words}", first.photo.path);
            notes.push((panel.id.as_str(), text));
        };
        if same.iter().any(|it| dose(&it.photo) != dose(&first.photo)) {
            note(
                "with different doses, and is left out: give only the record whose dose is right.",
            );
            continue;
        }
        if !same.iter().all(|it| it.photo.panel.same_board(panel)) {
            note(
                "with different panel files, of which one is taken: give only the records of the right one.",
            );
        }
        kept.push(*first);
    }
    kept
}

/// What tells two records apart, whatever their order.
fn text(it: &impl serde::Serialize) -> String {
    serde_json::to_string(it).unwrap_or_default()
}

/// One board a kind of dose.
fn of_panel<'a>(panel: &'a PanelEntry, photos: &[&'a PhotoRecord]) -> Vec<Board<'a>> {
    let mut kinds: Vec<&str> = (photos.iter())
        .filter_map(|it| dose(&it.photo))
        .filter(|it| it.1 > 0.0)
        .map(|it| it.0)
        .collect();
    kinds.sort_unstable();
    kinds.dedup();
    if kinds.is_empty() && photos.iter().any(|it| dose(&it.photo).is_some()) {
        kinds.push(HOURS);
    }
    let spoilt = spoilt(photos);
    kinds
        .into_iter()
        .map(|kind| Board {
            panel,
            kind: kind.to_owned(),
            exposures: exposures(kind, photos, &spoilt),
        })
        .collect()
}

/// Patches whose halves can't be compared in a photo, with the photo's hash.
fn spoilt<'a>(photos: &[&'a PhotoRecord]) -> BTreeSet<(&'a str, &'a str)> {
    let mut all: BTreeMap<(&str, Half), Vec<f64>> = BTreeMap::new();
    for it in photos.iter().flat_map(|it| &it.readings) {
        if let Some(unevenness) = it.unevenness {
            all.entry((&it.patch, it.half))
                .or_default()
                .push(unevenness);
        }
    }
    let usual = |it: &Reading| {
        let mut all = all.get(&(it.patch.as_str(), it.half))?.clone();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied()
    };
    let is_spoilt = |it: &Reading| {
        let uneven = it.unevenness.zip(usual(it));
        SPOILT.iter().any(|flag| it.has(*flag))
            || uneven.is_some_and(|(here, usual)| here > (MUCH_MORE * usual).max(LITTLE))
    };
    (photos.iter())
        .flat_map(|record| record.readings.iter().map(move |it| (record, it)))
        .filter(|(_, it)| it.half != Half::Whole && is_spoilt(it))
        .map(|(record, it)| (record.photo.sha256.as_str(), it.patch.as_str()))
        .collect()
}

fn exposures<'a>(
    kind: &str,
    photos: &[&'a PhotoRecord],
    spoilt: &BTreeSet<(&'a str, &'a str)>,
) -> Vec<Exposure<'a>> {
    let mut exposures: Vec<Exposure<'a>> = Vec::new();
    for record in photos {
        let Some((_, value)) = dose(&record.photo).filter(|it| it.0 == kind || it.1 <= 0.0) else {
            continue;
        };
        match exposures
            .iter_mut()
            .find(|it| it.dose.total_cmp(&value).is_eq())
        {
            Some(it) => {
                it.hours = it.hours.or(record.photo.hours);
                it.photos.push(record);
            }
            None => exposures.push(Exposure {
                dose: value,
                hours: record.photo.hours,
                photos: vec![record],
                spoilt: spoilt.clone(),
            }),
        }
    }
    for it in &mut exposures {
        it.photos
            .sort_by_key(|it| (&it.photo.path, &it.photo.sha256));
    }
    exposures.sort_by(|a, b| a.dose.total_cmp(&b.dose));
    exposures
}

impl<'a> Board<'a> {
    /// The photos before any sun.
    pub(super) fn start(&self) -> Option<&Exposure<'a>> {
        self.exposures.first().filter(|it| it.dose <= 0.0)
    }

    /// Those after.
    pub(super) fn later(&self) -> impl Iterator<Item = &Exposure<'a>> {
        self.exposures.iter().filter(|it| it.dose > 0.0)
    }
}

/// What the readings of a patch's halves have of what was taken of its masked half.
fn taken(record: &PhotoRecord, patch: &str) -> Vector3<f64> {
    let mut references = record.photo.correction.references.iter();
    let Some(masked) = references.find(|it| it.name.strip_prefix(MASKED_HALF_OF) == Some(patch))
    else {
        return Vector3::zeros();
    };
    let yellower = masked.taken_as.unwrap_or(masked.lab);
    let put_right = masked.put_right.unwrap_or_default();
    Vector3::from(put_right) + Vector3::from(yellower) - Vector3::from(masked.lab)
}

impl<'a> Exposure<'a> {
    /// A patch's halves in each photo in which both could be read and nothing spoils the comparison.
    pub(super) fn pairs(&self, patch: &str) -> Vec<Pair<'a>> {
        (self.photos.iter())
            .filter_map(|it| self.pair(it, patch))
            .collect()
    }

    /// The same in one of its photos.
    pub(super) fn pair(&self, record: &'a PhotoRecord, patch: &str) -> Option<Pair<'a>> {
        if self.spoilt.contains(&(record.photo.sha256.as_str(), patch)) {
            return None;
        }
        let half = |half: Half| {
            let mut readings = record.readings.iter();
            let finite = |it: &Reading| {
                let numbers = [it.l, it.a, it.b];
                numbers.iter().all(|it| it.is_some_and(f64::is_finite))
            };
            readings.find(|it| it.patch == patch && it.half == half && finite(it))
        };
        let (masked, exposed) = (half(Half::Masked)?, half(Half::Exposed)?);
        Some(Pair {
            masked,
            exposed,
            clipped: masked.has(Flag::ClippedLow) || exposed.has(Flag::ClippedLow),
            taken: taken(record, patch),
        })
    }
}
