//! `masstone publish`: the range for those who choose a colour.

use super::failure::{Exit, Failure, say};
use super::library;
use super::progress::count;
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

    /// The folder of the site: one that isn't there yet, an empty one, or one that this command made.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let place = library::place(args.library.as_deref());
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
