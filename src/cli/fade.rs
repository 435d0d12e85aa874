//! `masstone fade`: how the colours of masked and exposed halves changed.

mod outputs;
mod sources;
mod table;

use super::failure::{Exit, Failure, say};
use super::progress::count;
use super::stdout;
use super::table::Terminal;
use masstone::fade::{self, FadeError, Report};
use outputs::Outputs;
use sources::Sources;
use std::path::{Path, PathBuf};

/// Say how each colour changed over an exposure series, from the masked and exposed halves of its patches.
///
/// Each change is how the exposed half moved against the masked one since the first photos, with its uncertainty, and whether it is told from none
/// at all. The table shows the last exposure of each patch; --out and --page write everything.
///
/// Exit status: 0 if all was assessed and written, 1 if a reading could not be taken or an output failed, 2 for wrong usage.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Records of the board's photos, as `masstone measure --out` wrote them: .json or .jsonl.
    #[arg(value_name = "RECORD")]
    records: Vec<PathBuf>,

    /// Take the photos from this library of swatches. Not given, and without records: what `MASSTONE_LIBRARY` names, or
    /// `swatches.sqlite` here.
    #[arg(long, value_name = "FILE", conflicts_with = "records")]
    library: Option<PathBuf>,

    /// Only this panel. May be repeated. Not given: every panel that has masked halves.
    #[arg(long, value_name = "ID")]
    panel: Vec<String>,

    /// Show only this patch; the others carry the scale all the same. May be repeated.
    #[arg(long, value_name = "ID")]
    patch: Vec<String>,

    /// Write the report to a file: .csv (for spreadsheets), .json (everything) or .html (a page); or '-' for CSV on standard output.
    ///
    /// A FILE that is there already is kept as FILE.bak. Without --out a table is printed.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// Write a page for phone and paper, as HTML.
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,

    /// Print every exposure, not only the last.
    #[arg(long)]
    all: bool,
}

/// Runs the command: the places for the output, then the records, the report, and what was asked for of it.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let mut inputs: Vec<&Path> = args.records.iter().map(PathBuf::as_path).collect();
    inputs.extend(args.library.as_deref());
    let outputs = Outputs::new(args.out.as_deref(), args.page.as_deref(), &inputs)?;
    let sources = Sources::read(&args.records, args.library.as_deref(), &args.panel)?;
    let report = assessed(&sources, &args.patch)?;
    let crops = || fade::shown::crops(&sources.photos, |a, b, c| sources.picture(a, b, c));
    let written = outputs.write(&report, crops)?;
    if outputs.wants_table() {
        let terminal = Terminal::of_stdout();
        stdout::write(|out| table::write(&report, args.all, terminal, out))?;
    }
    let patches = report.boards.iter().map(|it| it.patches.len()).sum();
    say(&format!(
        "{} of {}{written}",
        match patches {
            1 => "1 patch".to_owned(),
            n => format!("{n} patches"),
        },
        count(report.boards.len(), "board")
    ));
    Ok(if sources.bad == 0 {
        Exit::Done
    } else {
        Exit::Short
    })
}

/// The report of all records, or of these patches in them.
fn assessed(sources: &Sources, patches: &[String]) -> Result<Report, Failure> {
    let options = fade::Options {
        panel: None,
        patches: patches.to_vec(),
    };
    fade::assess(&sources.photos, &options).map_err(|it| {
        let hint = it.hint();
        match it {
            FadeError::NoPatch { .. } => Failure::usage(it, hint),
            _ => Failure::work(it, hint),
        }
    })
}

#[cfg(test)]
#[allow(dead_code, reason = "the page's tests use the rest")]
#[path = "../../tests/fade_page/example.rs"]
mod example;
