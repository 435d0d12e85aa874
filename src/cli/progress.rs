//! What is said while a batch runs: a bar on a terminal, otherwise one line a photo.

use super::failure::{message, printable, say};
use indicatif::{ProgressBar, ProgressStyle};
use masstone::flag::Flag;
use masstone::measure::{ASSUMED_TONE, Refusal};
use masstone::record::csv::word;
use masstone::record::{PhotoEntry, PhotoRecord};
use std::io::IsTerminal;

/// Says on standard error how far a batch is.
pub(super) struct Progress {
    bar: Option<ProgressBar>,
}

impl Progress {
    /// For a batch of so many photos.
    pub(super) fn new(photos: usize) -> Self {
        let bar = std::io::stderr().is_terminal().then(|| {
            let bar = ProgressBar::new(photos.try_into().unwrap_or(u64::MAX));
            // A template that doesn't parse is a defect; the plain bar will do.
            if let Ok(style) =
                ProgressStyle::with_template("{bar:30} {pos}/{len} photos, {eta} to go")
            {
                bar.set_style(style);
            }
            bar.tick();
            bar
        });
        Self { bar }
    }

    /// A photo is done.
    pub(super) fn measured(&self, photo: &PhotoRecord) {
        match &self.bar {
            Some(bar) => bar.inc(1),
            None => say(&printable(&line(photo))),
        }
    }

    /// So many photos need no measuring.
    pub(super) fn skip(&self, photos: usize) {
        if let Some(bar) = &self.bar {
            bar.inc(photos.try_into().unwrap_or(u64::MAX));
        }
    }

    /// A photo is refused.
    pub(super) fn refused(&self, refusal: &Refusal) {
        self.say(&message("refused", &refusal.to_string(), &refusal.hint));
        if let Some(bar) = &self.bar {
            bar.inc(1);
        }
    }

    /// Something else that the user should know.
    pub(super) fn note(&self, text: &str) {
        self.say(&message("note", text, ""));
    }

    /// Something went wrong that ends nothing.
    pub(super) fn trouble(&self, text: &str, hint: &str) {
        self.say(&message("error", text, hint));
    }

    /// The batch is over.
    pub(super) fn finish(self) {
        if let Some(bar) = self.bar {
            bar.finish_and_clear();
        }
    }

    fn say(&self, text: &str) {
        match &self.bar {
            Some(bar) => bar.suspend(|| say(text)),
            None => say(text),
        }
    }
}

/// One photo on one line.
fn line(record: &PhotoRecord) -> String {
    let mut text = format!(
        "measured: {}: {}, correction {}",
        record.photo.path,
        count(record.readings.len(), "reading"),
        word(&record.photo.correction.kind)
    );
    if let Some(u95) = typical_u95(record) {
        text += &format!(", typical U95 {u95:.1}");
    }
    let flagged = record
        .readings
        .iter()
        .filter(|it| !it.flags.is_empty())
        .count();
    if flagged > 0 {
        text += &format!(", {flagged} flagged");
    }
    let unmeasurable = record
        .readings
        .iter()
        .filter(|it| it.has(Flag::Unmeasurable))
        .count();
    if unmeasurable > 0 {
        text += &format!(" ({unmeasurable} unmeasurable)");
    }
    let doubts: Vec<&str> = doubts(&record.photo).collect();
    if !doubts.is_empty() {
        text += &format!("; doubtful: {}", doubts.join("; "));
    }
    text
}

/// What is doubtful of this photo more than of others: what holds for a whole set-up is said once, by [`assumed_tone`].
pub(super) fn doubts(photo: &PhotoEntry) -> impl Iterator<Item = &str> {
    let all = photo.doubts.iter().map(String::as_str);
    all.filter(|it| *it != ASSUMED_TONE)
}

/// That the tone curve was assumed, for all photos where it was.
pub(super) fn assumed_tone(photos: &[PhotoEntry]) -> Option<String> {
    let assumed = photos
        .iter()
        .filter(|it| it.doubts.iter().any(|it| it == ASSUMED_TONE));
    let n = assumed.count();
    (n > 0).then(|| {
        let text = format!("in {} {ASSUMED_TONE}", count(n, "photo"));
        let hint = "U95 allows for it. A card with white, grey and black zones shows the curve.";
        message("note", &text, hint)
    })
}

/// The median of the stated U95.
fn typical_u95(record: &PhotoRecord) -> Option<f64> {
    let mut all: Vec<f64> = record.readings.iter().filter_map(|it| it.u95).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied()
}

/// A number of things.
pub(super) fn count(n: usize, thing: &str) -> String {
    match n {
        1 => format!("1 {thing}"),
        n => format!("{n} {thing}s"),
    }
}
