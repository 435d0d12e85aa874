//! `library note`.

use super::super::failure::{Exit, Failure, say};
use super::super::measure;
use super::{failure, open};
use masstone::library::notes::{CURES, EVENTS, Note};
use std::path::Path;

/// Note how a specimen cured, or how it fared outdoors.
///
/// What cured sets the tested limit of a pigment in a coating: cured and slow count as cured; soft, foamed, cracked and separated don't.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The panel's id.
    panel: String,
    /// The patch's id.
    patch: String,
    /// What was seen.
    #[arg(value_name = "WORD", value_parser = clap::builder::PossibleValuesParser::new(CURES.iter().chain(&EVENTS)))]
    word: String,
    /// When: year-month-day.
    #[arg(long, value_name = "DATE")]
    date: String,
    /// More in words.
    #[arg(long, value_name = "TEXT")]
    text: Option<String>,
    /// Air temperature when it was mixed, °C.
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    temperature: Option<f64>,
    /// Air humidity when it was mixed, %.
    #[arg(long, value_name = "PERCENT")]
    humidity: Option<f64>,
    /// Hours of exposure so far.
    #[arg(long, value_name = "H", value_parser = measure::hours)]
    hours: Option<f64>,
    /// How much dirt, chalking or loss of gloss: 0 (none) to 5.
    #[arg(long, value_name = "0..5")]
    grade: Option<f64>,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let mut library = open(place)?;
    let note = Note {
        panel: args.panel.clone(),
        patch: args.patch.clone(),
        word: args.word.clone(),
        date: args.date.clone(),
        text: args.text.clone(),
        temperature_c: args.temperature,
        humidity_percent: args.humidity,
        hours: args.hours,
        grade: args.grade,
    };
    library.note(&note).map_err(failure(place))?;
    say(&format!(
        "noted: {}/{} {}, {}",
        note.panel, note.patch, note.word, note.date
    ));
    let shown = library
        .find_swatch(&format!("{}/{}", note.panel, note.patch))
        .and_then(|it| library.show(it.id));
    // Several swatches may be meant where the panel file changed; the note is kept all the same.
    if let Ok(shown) = shown {
        for limit in &shown.limits {
            say(&super::show::limit_in_words(limit));
        }
    }
    Ok(Exit::Done)
}
