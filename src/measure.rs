//! Strings the stages together, for one photo and for many.
//!
//! [`photo`](fn@photo) takes one photo through every stage and gives its record or a [`Refusal`]; it writes nothing.
//! [`batch`] does so for many at once, with no more photos in memory than there are threads. [`partial`] keeps each
//! finished photo on disk and finds it again after a stop, [`output`] puts a finished file in place.

pub mod batch;
mod doubts;
pub mod files;
pub mod output;
pub mod partial;

pub use doubts::ASSUMED_TONE;

use crate::correct::{self, correct};
use crate::locate::{self, locate};
use crate::panel::Panel;
use crate::photo::{self, Photo};
use crate::picture;
use crate::record::{Found, PhotoRecord, Settings, of_photo};
use crate::reference::references;
use crate::sample::sample;
use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// One photo to measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its file.
    pub path: PathBuf,
    /// Hours of exposure before it, if known.
    pub hours: Option<f64>,
    /// How it is to be measured.
    pub settings: Settings,
}

/// Why a photo has no readings.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}: {reason}", path.display())]
pub struct Refusal {
    /// Which photo.
    pub path: PathBuf,
    /// What is wrong with it.
    pub reason: String,
    /// What to do about it, as full sentences; empty where nothing is known.
    pub hint: String,
}

impl Refusal {
    /// From the error of a stage: its message with all of its causes.
    fn new(path: &Path, error: &dyn Error, hint: impl Into<String>) -> Self {
        let mut reason = error.to_string();
        let mut cause = error.source();
        while let Some(it) = cause {
            // Writing to a string can't fail.
            let _ = write!(reason, ": {it}");
            cause = it.source();
        }
        Self {
            path: path.to_owned(),
            reason,
            hint: hint.into(),
        }
    }
}

/// A measured photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Its record.
    pub record: PhotoRecord,
    /// The picture of what was measured, if asked for.
    pub proof: Option<image::RgbImage>,
}

/// Takes one photo through every stage.
///
/// # Errors
///
/// A refusal: the file can't be read, the panel can't be found in it beyond doubt, or no correction can be had.
pub fn photo(job: &Job, panel: &Panel, with_proof: bool) -> Result<Measured, Refusal> {
    let Job {
        path,
        hours,
        settings,
    } = job;
    let photo = Photo::open(
        path,
        &photo::Options {
            linear: settings.linear,
        },
    )
    // The problem alone: a refusal names the path itself.
    .map_err(|it| Refusal::new(path, &it.problem, it.hint()))?;
    let located = locate(
        &photo,
        panel,
        &locate::Options {
            upright: settings.upright,
            corners: settings.corners.map(|it| it.map(Into::into)),
        },
    )
    .map_err(|it| Refusal::new(path, &it, it.hint()))?;
    let samples = sample(&photo, panel, &located);
    let options = correct::Options {
        tone: settings.tone,
    };
    let outcome = correct(&samples, &references(panel, &samples), &options)
        .map_err(|it| Refusal::new(path, &it, it.hint()))?;
    let record = of_photo(&Found {
        photo: &photo,
        panel,
        located: &located,
        samples: &samples,
        correction: &outcome.correction,
        corrected: &outcome.readings,
        settings: settings.clone(),
        hours: *hours,
        doubts: doubts::of(&photo, panel, &located, &outcome.correction),
    });
    let proof = with_proof.then(|| {
        picture::proof(
            &photo,
            panel,
            &located,
            &samples,
            &outcome.correction,
            &outcome.readings,
        )
    });
    Ok(Measured { record, proof })
}
