//! `library add`: records in.

use super::super::failure::{Exit, Failure, message, say};
use super::super::progress::count;
use super::{begin, failure};
use masstone::library::load::{self, HINT};
use masstone::library::{Library, Report};
use masstone::record::PhotoRecord;
use std::path::{Path, PathBuf};

/// Photos that are written in one go: each go waits for the disk.
const TOGETHER: usize = 32;

/// Add the readings of records to the library.
///
/// The same again changes nothing. Where the library has other hours, panel facts or numbers for the same reading, that photo is left
/// as it is and both are shown; `library amend` corrects it.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Records that `masstone measure --out` wrote: .json or .jsonl.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Add nothing at all if a reading can't be read or makes no sense.
    #[arg(long)]
    strict: bool,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let (photos, bad) = read(&args.files)?;
    if args.strict && bad > 0 {
        return Err(Failure::work(
            anyhow::anyhow!("nothing is added: {} can't be taken", count(bad, "thing")),
            "Without --strict the rest is added.",
        ));
    }
    if photos.is_empty() {
        return Err(Failure::work(
            anyhow::anyhow!("there is nothing to add"),
            HINT,
        ));
    }
    let mut library = begin(place)?;
    let report = in_goes(&photos, |part| library.add(part)).map_err(failure(place))?;
    Ok(tell(&report, bad, &library, "added"))
}

/// All photos of the files, and how much in them is bad, which is said.
pub(in crate::cli) fn read(files: &[PathBuf]) -> Result<(Vec<PhotoRecord>, usize), Failure> {
    let (mut photos, mut bad) = (Vec::new(), 0);
    for file in files {
        let ending = file
            .extension()
            .map(|it| it.to_string_lossy().to_lowercase());
        if !matches!(ending.as_deref(), Some("json" | "jsonl")) {
            return Err(Failure::usage(
                anyhow::anyhow!("{} is no record", file.display()),
                "Give the .json or .jsonl file: a CSV is a view for people and lacks what the library needs.",
            ));
        }
        match load::load(file) {
            Ok(loaded) => {
                for it in &loaded.bad {
                    say(&message("bad", &it.to_string(), ""));
                }
                bad += loaded.bad.len();
                photos.extend(loaded.photos);
            }
            Err(error) => {
                bad += 1;
                let error = format!("can't read {}: {error}", file.display());
                say(&message(
                    "bad",
                    &error,
                    "Check the name, and that you may read the file.",
                ));
            }
        }
    }
    if bad > 0 {
        say(&message("note", HINT, ""));
    }
    Ok((photos, bad))
}

/// Works through the photos in goes; each is in the library whole, or not at all.
pub(super) fn in_goes<E>(
    photos: &[PhotoRecord],
    mut work: impl FnMut(&[PhotoRecord]) -> Result<Report, E>,
) -> Result<Report, E> {
    let mut report = Report::default();
    for part in photos.chunks(TOGETHER) {
        report.merge(work(part)?);
    }
    Ok(report)
}

/// Says what became of it all; the exit status.
pub(in crate::cli) fn tell(report: &Report, bad: usize, library: &Library, done: &str) -> Exit {
    for it in &report.notes {
        say(&message("note", it, ""));
    }
    for it in &report.conflicts {
        say(&message(
            "conflict",
            &format!(
                "{} on panel {}: the library has something else",
                it.photo, it.panel
            ),
            "",
        ));
        for difference in &it.differences {
            say(&super::super::failure::printable(&format!(
                "  {difference}"
            )));
        }
    }
    if !report.conflicts.is_empty() {
        say(&message(
            "note",
            "nothing was changed for photos in conflict. If the new ones are right, `masstone library amend FILE…` puts them in place; the old ones stay in the history",
            "",
        ));
    }
    let mut line = format!(
        "{} {done} ({}), {} there already",
        count(report.photos, "photo"),
        count(report.readings, "reading"),
        report.same
    );
    if !report.conflicts.is_empty() {
        line += &format!(", {} in conflict", report.conflicts.len());
    }
    if bad > 0 {
        line += &format!(", {bad} bad");
    }
    say(&format!("{line}; library {}", library.path().display()));
    if report.conflicts.is_empty() && bad == 0 {
        Exit::Done
    } else {
        Exit::Short
    }
}
