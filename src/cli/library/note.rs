//! `library note`.

use super::super::failure::{Exit, Failure, say};
use super::super::measure;
use super::{begin, failure, open};
use masstone::library::Library;
use masstone::library::notes::{CURES, EVENTS, Note};
use masstone::panel;
use masstone::record::PanelEntry;
use std::path::Path;

/// Note how a specimen cured, or how it fared outdoors.
///
/// What cured sets the tested limit of a pigment in a coating: cured and slow count as cured; soft, foamed, cracked and separated don't.
/// A patch that was never photographed (it foamed, and was scraped off) is noted with its panel file in place of the panel's id.
/// A note that was wrong is withdrawn: the same words with --withdraw. To correct it, withdraw it and note what is right.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The panel's id; or the panel file, for a patch that was never photographed.
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
    /// Take this note back: limits no longer rest on it, and it stays in the history.
    #[arg(long)]
    withdraw: bool,
    /// Why it is withdrawn, for those who look at the history.
    #[arg(long, value_name = "TEXT", requires = "withdraw")]
    why: Option<String>,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let panel = panel_file(&args.panel)?;
    let note = Note {
        panel: (panel.as_ref()).map_or_else(|| args.panel.clone(), |it| it.id.clone()),
        patch: args.patch.clone(),
        word: args.word.clone(),
        date: args.date.clone(),
        text: args.text.clone(),
        temperature_c: args.temperature,
        humidity_percent: args.humidity,
        hours: args.hours,
        grade: args.grade,
    };
    let (library, swatch, done) = if args.withdraw {
        let mut library = open(place)?;
        let swatch = library.withdraw(&note, args.why.as_deref());
        (library, swatch, "withdrawn")
    } else if let Some(panel) = &panel {
        let mut library = begin(place)?;
        let swatch = library.note_on(panel, &note);
        (library, swatch, "noted")
    } else {
        let mut library = open(place)?;
        let swatch = library.note(&note);
        (library, swatch, "noted")
    };
    let swatch = swatch.map_err(failure(place))?;
    say(&format!(
        "{done}: {}/{} {}, {}",
        note.panel, note.patch, note.word, note.date
    ));
    if CURES.contains(&note.word.as_str()) {
        limits(&library, swatch).map_err(failure(place))?;
    }
    Ok(Exit::Done)
}

/// What a panel file says; nothing where the word is a panel's id.
fn panel_file(word: &str) -> Result<Option<PanelEntry>, Failure> {
    let path = Path::new(word);
    let is_file = path
        .extension()
        .is_some_and(|it| it.eq_ignore_ascii_case("toml"));
    if !is_file {
        return Ok(None);
    }
    // The message of a panel holds its hints, each beside its place.
    let panel = panel::read(path).map_err(|it| Failure::usage(it, ""))?;
    Ok(Some(PanelEntry::from(&panel)))
}

/// Says the tested limits as they are now.
fn limits(library: &Library, swatch: i64) -> Result<(), masstone::library::LibraryError> {
    let shown = library.show(swatch)?;
    let recipe = &shown.swatch.recipe;
    if recipe.pigments.is_empty() {
        say("it counts for no limit: the panel file states no pigment of this patch");
    } else if recipe.coating.is_none() {
        say("it counts for no limit: the panel file states no coating");
    } else if recipe.pigments.len() > 1 {
        say(&format!(
            "{} is a mixture: it counts as tested itself, and for no limit of one pigment",
            recipe.in_short()
        ));
    }
    for limit in &shown.limits {
        say(&super::show::limit_in_words(limit));
    }
    Ok(())
}
