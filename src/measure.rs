//! Strings the stages together, for one photo and for many.
//!
//! [`photo`](fn@photo) takes one photo through every stage and gives its record or a [`Refusal`]; it writes nothing.
//! [`batch`] does so for many at once, with no more photos in memory than there are threads. [`partial`] keeps each
//! finished photo on disk and finds it again after a stop, [`output`] puts a finished file in place. [`spot`](mod@spot) measures one place beside a card,
//! without a panel.

pub mod batch;
mod blank;
mod board;
mod doubts;
pub mod files;
mod later;
mod masked;
pub mod output;
pub mod partial;
pub mod photos;
pub mod spot;

pub use blank::Blank;
pub use doubts::ASSUMED_TONE;
pub use later::later;
pub use masked::Masked;

use crate::correct::{self, Carried, Given, Outcome, Saved, correct_given};
use crate::locate::{self, Located, locate};
use crate::panel::Panel;
use crate::photo::{self, Photo, Spare};
use crate::picture;
use crate::record::{Dose, ExposureEntry, Found, PhotoRecord, Program, Settings, of_photo};
use crate::reference::references;
use crate::sample::{Samples, sample};
use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// One photo to measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its file.
    pub path: PathBuf,
    /// How much exposure came before it.
    pub dose: Dose,
    /// How it was exposed, if that is stated.
    pub exposure: Option<ExposureEntry>,
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
        Self {
            path: path.to_owned(),
            reason: chain(error),
            hint: hint.into(),
        }
    }
}

/// An error and all of its causes, on one line.
fn chain(error: &dyn Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(it) = cause {
        // Writing to a string can't fail.
        let _ = write!(text, ": {it}");
        cause = it.source();
    }
    text
}

/// A measured photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Its record.
    pub record: PhotoRecord,
    /// The picture of what was measured, if asked for.
    pub proof: Option<image::RgbImage>,
    /// Small pictures of the patches, if asked for.
    pub crops: Vec<picture::Crop>,
}

/// What else is wanted of a photo besides its record. The default is nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pictures {
    /// The picture of what was measured.
    pub proof: bool,
    /// Small pictures of the patches.
    pub crops: bool,
}

/// What helps to measure photos beside the panel. The default is nothing.
#[derive(Debug, Default)]
pub struct Aids {
    /// Room for pixels, which passes from photo to photo.
    pub spare: Spare,
    /// A correction that was fitted to another photo.
    pub saved: Option<Saved>,
    /// A blank that shows the light.
    pub blank: Option<Blank>,
    /// What the masked halves of the board were before any sun.
    pub masked: Option<Masked>,
}

/// Takes one photo through every stage.
///
/// # Errors
///
/// A refusal: the file can't be read, the panel can't be found in it beyond doubt, or no correction can be had.
pub fn photo(job: &Job, panel: &Panel, with_proof: bool) -> Result<Measured, Refusal> {
    let pictures = Pictures {
        proof: with_proof,
        crops: false,
    };
    photo_with(job, panel, &Aids::default(), pictures)
}

/// As [`photo`](fn@photo), with what helps beside the panel.
///
/// # Errors
///
/// As [`photo`](fn@photo), and if the blank or the saved correction doesn't fit the photo.
pub fn photo_with(
    job: &Job,
    panel: &Panel,
    aids: &Aids,
    pictures: Pictures,
) -> Result<Measured, Refusal> {
    let with_before = aids.masked.as_ref().map(|it| it.onto(panel));
    let panel = with_before.as_ref().unwrap_or(panel);
    let Corrected {
        photo,
        located,
        samples,
        outcome,
    } = corrected(job, panel, aids)?;
    let record = of_photo(&Found {
        photo: &photo,
        panel,
        located: &located,
        samples: &samples,
        correction: &outcome.correction,
        corrected: &outcome.readings,
        settings: job.settings.clone(),
        dose: job.dose.clone(),
        exposure: job.exposure.clone(),
        doubts: doubts::of(&photo, panel, &located, &outcome.correction),
    });
    let crops = if pictures.crops {
        picture::crops(&photo, panel, &located, &samples, &outcome.correction)
    } else {
        Vec::new()
    };
    let proof = pictures.proof.then(|| {
        picture::proof(
            &photo,
            panel,
            &located,
            &samples,
            &outcome.correction,
            &outcome.readings,
        )
    });
    aids.spare.keep(photo);
    Ok(Measured {
        record,
        proof,
        crops,
    })
}

/// Fits a correction to a photo with many references, to be used on others; with what is doubtful about it, in words.
///
/// # Errors
///
/// As [`photo`](fn@photo), and if the photo holds too few references.
pub fn calibrate(job: &Job, panel: &Panel, aids: &Aids) -> Result<(Saved, Vec<String>), Refusal> {
    let Corrected {
        photo,
        located,
        outcome,
        ..
    } = corrected(job, panel, aids)?;
    let doubts = doubts::of_fit(&photo, panel, &located, &outcome.correction);
    let seen = outcome.correction.references.len();
    let fit = outcome.portable.ok_or_else(|| Refusal {
        path: job.path.clone(),
        reason: format!(
            "a correction for other photos wants at least {} known colours, and {seen} can be used here",
            correct::LEAST_LINEAR
        ),
        hint: "Photograph a chart of many colours, or state the measured colours of patches in the panel file (lab)."
            .to_owned(),
    })?;
    let Program { name, version } = Program::this();
    let shot = photo.metadata;
    let saved = Saved {
        origin: correct::Origin {
            program: format!("{name} {version}"),
            photo: (job.path.file_name().unwrap_or_default())
                .to_string_lossy()
                .into_owned(),
            sha256: photo.sha256,
            panel: panel.id.clone(),
            camera: shot.camera,
            lens: shot.lens,
            manual_white_balance: shot.manual_white_balance,
            taken: shot.taken,
        },
        fit,
    };
    Ok((saved, doubts))
}

/// A photo with what every stage up to its colours has made of it.
struct Corrected {
    photo: Photo,
    located: Located,
    samples: Samples,
    outcome: Outcome,
}

fn corrected(job: &Job, panel: &Panel, aids: &Aids) -> Result<Corrected, Refusal> {
    let Job { path, settings, .. } = job;
    let how = photo::Options {
        linear: settings.linear,
    };
    let photo = Photo::open_into(path, &how, &aids.spare)
        // The problem alone: a refusal names the path itself.
        .map_err(|it| Refusal::new(path, &it.problem, it.hint()))?;
    if let Some(blank) = &aids.blank {
        blank
            .goes_with(&photo)
            .map_err(|it| Refusal::new(path, &it, it.hint()))?;
    }
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
    // Before its colours serve as references: which board it is, and how it lies.
    board::check(panel, &samples).map_err(|it| Refusal::new(path, &it, it.hint()))?;
    let options = correct::Options {
        tone: settings.tone,
    };
    // The blank where this photo's board lies.
    let blank = (aids.blank.as_ref()).map(|it| sample(&it.photo, panel, &located));
    let given = Given {
        saved: aids.saved.as_ref().map(|saved| Carried {
            saved,
            metadata: &photo.metadata,
            force: settings.force_correction,
        }),
        blank: blank.as_ref(),
    };
    let outcome = correct_given(&samples, &references(panel, &samples), &options, &given)
        .map_err(|it| Refusal::new(path, &it, it.hint()))?;
    Ok(Corrected {
        photo,
        located,
        samples,
        outcome,
    })
}
