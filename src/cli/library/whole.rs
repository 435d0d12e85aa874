//! `library export`, `import`, `check` and `backup`: the library as a whole.

use super::super::failure::{Exit, Failure, message, say};
use super::super::progress::count;
use super::super::stdout;
use super::{add, begin, failure, open};
use masstone::library::document::Document;
use masstone::library::{ExportError, LibraryError};
use masstone::measure::output;
use std::io;
use std::path::{Path, PathBuf};

/// Write the whole library as one JSON document.
#[derive(Debug, clap::Args)]
pub(super) struct ExportArgs {
    /// The document; standard output if not given.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Put a document that `export` wrote into the library, all of it or nothing.
#[derive(Debug, clap::Args)]
pub(super) struct ImportArgs {
    /// The document.
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Check that the library is whole, and that what is derived follows from what was measured.
#[derive(Debug, clap::Args)]
pub(super) struct CheckArgs {
    /// Make anew what is derived. What was measured is never touched.
    #[arg(long)]
    repair: bool,
}

/// Copy the library while others may use it.
#[derive(Debug, clap::Args)]
pub(super) struct BackupArgs {
    /// The copy; one that is there is kept as FILE.bak.
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

pub(super) fn export(args: &ExportArgs, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    // An error of the library, which a writer can't pass on.
    let mut trouble: Option<LibraryError> = None;
    let mut write = |out: &mut dyn io::Write| match library.export(out) {
        Ok(()) => Ok(()),
        Err(ExportError::Output(error)) => Err(error),
        Err(ExportError::Library(error)) => {
            trouble = Some(error);
            Err(io::Error::other("the library can't be read"))
        }
        Err(other) => Err(io::Error::other(other)),
    };
    let done = match &args.out {
        None => stdout::write(&mut write),
        Some(path) => output::check(path)
            .and_then(|path| output::replace_and_keep(&path, &mut write))
            .map(|_| ())
            .map_err(Failure::from),
    };
    match trouble {
        Some(error) => Err(failure(place)(error)),
        None => done.map(|()| Exit::Done),
    }
}

pub(super) fn import(args: &ImportArgs, place: &Path) -> Result<Exit, Failure> {
    let file = args.file.display();
    let bytes = std::fs::read(&args.file).map_err(|it| {
        Failure::work(
            anyhow::Error::new(it).context(format!("can't read {file}")),
            "Check the name, and that you may read the file.",
        )
    })?;
    let document: Document = serde_json::from_slice(&bytes).map_err(|it| {
        Failure::work(
            anyhow::anyhow!("{file}: {it}"),
            "Give a document that `masstone library export` wrote, unchanged.",
        )
    })?;
    let mut library = begin(place)?;
    let report = library.import(&document).map_err(failure(place))?;
    Ok(add::tell(&report, 0, &library, "imported"))
}

pub(super) fn check(args: &CheckArgs, place: &Path) -> Result<Exit, Failure> {
    let mut library = open(place)?;
    let mut found = library.check().map_err(failure(place))?;
    if args.repair && found.faults.iter().any(|it| it.derived) {
        library.derive_anew().map_err(failure(place))?;
        say("what is derived was made anew");
        found = library.check().map_err(failure(place))?;
    }
    for it in &found.faults {
        let hint = if it.derived {
            "`masstone library check --repair` makes it anew."
        } else {
            "Keep the file, put a backup in its place, and add the records since then again."
        };
        say(&message("wrong", &it.what, hint));
    }
    say(&format!(
        "{} with their readings, {} with their colours checked; {}",
        count(found.measurements, "photo"),
        match found.swatches {
            1 => "1 swatch".to_owned(),
            n => format!("{n} swatches"),
        },
        if found.faults.is_empty() {
            "all is well".to_owned()
        } else {
            format!("{} wrong", count(found.faults.len(), "thing"))
        }
    ));
    Ok(if found.faults.is_empty() {
        Exit::Done
    } else {
        Exit::Short
    })
}

pub(super) fn backup(args: &BackupArgs, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    let kept = library.copy_to(&args.file).map_err(failure(place))?;
    say(&match kept {
        None => format!("copied to {}", args.file.display()),
        Some(kept) => format!(
            "copied to {}; the one that was there is now {}",
            args.file.display(),
            kept.display()
        ),
    });
    Ok(Exit::Done)
}
