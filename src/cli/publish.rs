//! `masstone publish`: the range for those who choose a colour.

use super::failure::{Exit, Failure, say};
use super::library;
use super::progress::count;
use masstone::measure::output;
use masstone::publish::exchange::{self, Format};
use masstone::publish::folder::LIST;
use masstone::publish::{self, Outcome, PublishError, Range};
use std::path::{Path, PathBuf};

/// Publish the range: a web site, a sheet to print, and files for other programs.
///
/// The site opens from a disk and can be copied to any host: it loads nothing from elsewhere and follows nobody. It is built beside what was
/// published before and put in its place in one step; the same library and settings give the same bytes.
///
/// Exit status: 0 if it is there, 1 if it could not be written, 2 for wrong usage.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The library. Not given: what `MASSTONE_LIBRARY` names, or `swatches.sqlite` here.
    #[arg(long, value_name = "FILE")]
    library: Option<PathBuf>,

    /// Title, text, order, what to show, packs and an accent colour: a TOML file.
    #[arg(long, value_name = "FILE")]
    settings: Option<PathBuf>,

    /// The folder of the site: one that isn't there yet, an empty one, or one that this command made. With --only, any folder but a site's.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,

    /// Write only the files of this format: csv, json, cgats (ISO 28178), css or tokens. What was there by their names is kept as NAME.bak.
    #[arg(long, value_name = "FORMAT", value_parser = format)]
    only: Option<Format>,
}

fn format(word: &str) -> Result<Format, String> {
    Format::from_word(word).ok_or_else(|| {
        let words: Vec<&str> = Format::ALL.iter().map(|it| it.word()).collect();
        format!("known: {}", words.join(", "))
    })
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let place = library::place(args.library.as_deref());
    if let Some(format) = args.only {
        return only(args, format, &place);
    }
    let outcome = publish::build(&place, args.settings.as_deref(), &args.out);
    match outcome.map_err(|it| failure(it, &place))? {
        Outcome::Unchanged(files) => say(&format!(
            "{}: nothing changed, {} as before",
            args.out.display(),
            count(files, "file")
        )),
        Outcome::Built(built, range) => {
            left_out(&range);
            say(&format!(
                "{}: {} on {}; {}, {} written, {} removed",
                args.out.join("index.html").display(),
                count(range.swatches.len(), "colour"),
                count(range.boards.len(), "board"),
                count(built.files, "file"),
                built.written,
                built.removed
            ));
        }
    }
    Ok(Exit::Done)
}

/// Writes the files of one format.
fn only(args: &Args, format: Format, place: &Path) -> Result<Exit, Failure> {
    let failed = |it| failure(it, place);
    let settings = publish::read(args.settings.as_deref()).map_err(failed)?;
    let full = std::path::absolute(&args.out).unwrap_or_else(|_| args.out.clone());
    if full.ancestors().any(|it| it.join(LIST).exists()) {
        return Err(Failure::usage(
            anyhow::anyhow!("{} is in a site's folder", args.out.display()),
            "Name another folder: a site holds these files already, in data.",
        ));
    }
    let range = Range::gather(&library::open(place)?, &settings).map_err(failed)?;
    std::fs::create_dir_all(&args.out).map_err(|it| {
        let error = anyhow::Error::new(it).context(format!("can't make {}", args.out.display()));
        Failure::work(error, "Name a folder where you may write.")
    })?;
    left_out(&range);
    for (name, bytes) in exchange::files(&range, format) {
        let path = output::check(&args.out.join(name))?;
        // The same again changes nothing, and leaves nothing to keep.
        if std::fs::read(&path).is_ok_and(|it| it == bytes) {
            say(&format!("{}: as before", path.display()));
            continue;
        }
        let kept = output::replace_and_keep(&path, |out| out.write_all(&bytes))?;
        let kept = kept.map(|it| format!("; the one before is {}", it.display()));
        say(&format!(
            "{}: {}{}",
            path.display(),
            count(range.swatches.len(), "colour"),
            kept.unwrap_or_default()
        ));
    }
    Ok(Exit::Done)
}

/// What is not published, and why: a few by name.
fn left_out(range: &Range) {
    const TOLD: usize = 12;
    for it in range.left_out.iter().take(TOLD) {
        say(&super::columns::one_line(&format!(
            "left out: {} (swatch {}): {}",
            it.name, it.id, it.why
        )));
    }
    if range.left_out.len() > TOLD {
        say(&format!("left out: {} more", range.left_out.len() - TOLD));
    }
}

fn failure(error: PublishError, library: &Path) -> Failure {
    let hint = error.hint();
    match error {
        PublishError::Library(it) => library::failure(library)(it),
        PublishError::Io { .. } | PublishError::Busy(_) => Failure::work(error, hint),
        _ => Failure::usage(error, hint),
    }
}
