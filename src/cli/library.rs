//! `masstone library`: the swatches and their history.

mod add;
mod amend;
mod filter;
mod gaps;
mod list;
mod materials;
mod near;
mod note;
mod overlaps;
mod show;
mod whole;

pub(super) use add::{read, tell};
pub(super) use filter::json;
pub(super) use near::target;

use super::failure::{Exit, Failure};
use masstone::library::{Library, LibraryError};
use std::path::{Path, PathBuf};

/// Keep readings as swatches, and find them again.
///
/// The library is one file. It is named by --library, else by `MASSTONE_LIBRARY`, else it is `swatches.sqlite` in the current
/// folder; the first `add` begins it.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The library's file.
    #[arg(long, global = true, value_name = "FILE")]
    library: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

/// One variant a command, one file a command below `cli/library/`.
#[derive(Debug, clap::Subcommand)]
enum Command {
    Add(add::Args),
    Amend(amend::Args),
    List(list::Args),
    Near(near::Args),
    Overlaps(overlaps::Args),
    Show(show::Args),
    Note(note::Args),
    Gaps(gaps::Args),
    Pigments(materials::PigmentArgs),
    Coatings(materials::CoatingArgs),
    Export(whole::ExportArgs),
    Import(whole::ImportArgs),
    Check(whole::CheckArgs),
    Backup(whole::BackupArgs),
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let place = place(args.library.as_deref());
    match &args.command {
        Command::Add(it) => add::run(it, &place),
        Command::Amend(it) => amend::run(it, &place),
        Command::List(it) => list::run(it, &place),
        Command::Near(it) => near::run(it, &place),
        Command::Overlaps(it) => overlaps::run(it, &place),
        Command::Show(it) => show::run(it, &place),
        Command::Note(it) => note::run(it, &place),
        Command::Gaps(it) => gaps::run(it, &place),
        Command::Pigments(it) => materials::pigments(it, &place),
        Command::Coatings(it) => materials::coatings(it, &place),
        Command::Export(it) => whole::export(it, &place),
        Command::Import(it) => whole::import(it, &place),
        Command::Check(it) => whole::check(it, &place),
        Command::Backup(it) => whole::backup(it, &place),
    }
}

/// Where the library is.
pub(super) fn place(given: Option<&Path>) -> PathBuf {
    given
        .map(Path::to_owned)
        .or_else(|| {
            std::env::var_os("MASSTONE_LIBRARY")
                .filter(|it| !it.is_empty())
                .map(PathBuf::from)
        })
        .unwrap_or_else(place_by_default)
}

/// Where the library is when nobody names it.
pub(super) fn place_by_default() -> PathBuf {
    PathBuf::from("swatches.sqlite")
}

/// Opens the library, and begins one if there is none.
pub(super) fn begin(place: &Path) -> Result<Library, Failure> {
    Library::open_or_begin(place).map_err(failure(place))
}

/// Opens a library that must be there.
pub(super) fn open(place: &Path) -> Result<Library, Failure> {
    Library::open(place).map_err(failure(place))
}

/// The failure with the library's name, for `map_err`.
pub(super) fn failure(place: &Path) -> impl Fn(LibraryError) -> Failure {
    let place = place.display().to_string();
    move |error| {
        let hint = error.hint();
        match error {
            LibraryError::Unknown(..) | LibraryError::Senseless(..) => Failure::usage(error, hint),
            LibraryError::Sql(_) | LibraryError::Damaged { .. } => {
                Failure::work(anyhow::Error::new(error).context(place.clone()), hint)
            }
            _ => Failure::work(error, hint),
        }
    }
}
