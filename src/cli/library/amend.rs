//! `library amend`: corrections, with the old value kept.

use super::super::failure::{Exit, Failure, say};
use super::super::progress::count;
use super::{add, failure, open};
use std::path::{Path, PathBuf};

/// Correct what the library has: put records in the place of others, or set the hours of a photo.
///
/// What was there before stays in the history.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Records that take the place of what is there under the same key.
    #[arg(
        value_name = "FILE",
        required_unless_present = "photo",
        conflicts_with = "photo"
    )]
    files: Vec<PathBuf>,
    /// The photo to correct: the beginning of its SHA-256, at least eight digits.
    #[arg(long, value_name = "SHA256", requires = "hours")]
    photo: Option<String>,
    /// Its hours of exposure; `unknown` if nobody knows.
    #[arg(long, value_name = "H", value_parser = hours, requires = "photo", allow_negative_numbers = true)]
    hours: Option<Hours>,
    /// Why, for those who look at the history.
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
}

/// Hours, or that they are unknown.
#[derive(Clone, Copy, Debug)]
struct Hours(Option<f64>);

fn hours(text: &str) -> Result<Hours, String> {
    if text == "unknown" {
        return Ok(Hours(None));
    }
    super::super::measure::hours(text).map(|it| Hours(Some(it)))
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let why = args.why.as_deref();
    if let (Some(photo), Some(hours)) = (&args.photo, args.hours) {
        let mut library = open(place)?;
        let changed = library
            .amend_hours(photo, hours.0, why)
            .map_err(failure(place))?;
        say(&format!(
            "{} changed; library {}",
            count(changed, "measurement"),
            place.display()
        ));
        return Ok(Exit::Done);
    }
    let (photos, bad) = add::read(&args.files)?;
    let mut library = open(place)?;
    let report = add::in_goes(&photos, |part| library.amend(part, why)).map_err(failure(place))?;
    Ok(add::tell(&report, bad, &library, "added or amended"))
}
