//! Strings the stages together, for one photo and for many.
//!
//! [`photo`](fn@photo) takes one photo through every stage and gives its record or a [`Refusal`]; it writes nothing.
//! [`batch`] does so for many at once, with no more photos in memory than there are threads. [`partial`] keeps each
//! finished photo on disk and finds it again after a stop, [`output`] puts a finished file in place.

pub mod batch;
pub mod files;
pub mod output;
pub mod partial;

use crate::record::Settings;
use std::path::PathBuf;

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
