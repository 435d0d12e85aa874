//! `masstone fade`: how the colours of masked and exposed halves changed.

mod outputs;
mod sources;
mod table;

use super::failure::{Exit, Failure, say};
use super::progress::count;
use super::stdout;
use super::table::Terminal;
use masstone::fade::{self, Report};
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
    let report = assessed(&sources)?;
    let report = only(report, &args.patch)?;
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

/// The report of all records.
fn assessed(sources: &Sources) -> Result<Report, Failure> {
    fade::assess(&sources.photos, &fade::Options::default()).map_err(|it| {
        let hint = it.hint();
        Failure::work(it, hint)
    })
}

/// The report with these patches only; with all of them where none is named.
fn only(mut report: Report, patches: &[String]) -> Result<Report, Failure> {
    if patches.is_empty() {
        return Ok(report);
    }
    let there: Vec<&str> = (report.boards.iter())
        .flat_map(|it| &it.patches)
        .map(|it| it.patch.as_str())
        .collect();
    if let Some(unknown) = patches.iter().find(|it| !there.contains(&it.as_str())) {
        let mut there: Vec<&str> = there;
        there.sort_unstable();
        there.dedup();
        return Err(Failure::usage(
            anyhow::anyhow!(
                "--patch {unknown}: no board has a patch of that id with a masked half"
            ),
            format!("There are: {}.", there.join(", ")),
        ));
    }
    for it in &mut report.boards {
        it.patches.retain(|it| patches.contains(&it.patch));
    }
    report.boards.retain(|it| !it.patches.is_empty());
    let kept: Vec<String> = (report.boards.iter())
        .flat_map(|board| {
            let patches = board.patches.iter();
            patches.map(|it| format!("{} {}", board.panel, it.patch))
        })
        .collect();
    report
        .swatches
        .retain(|it| it.specimens.iter().any(|it| kept.contains(it)));
    Ok(report)
}

#[cfg(test)]
#[allow(dead_code, reason = "the page's tests use the rest")]
#[path = "../../tests/fade_page/example.rs"]
mod example;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_named_is_shown() {
        let patches =
            |it: &[&str]| -> Vec<String> { it.iter().map(|it| (*it).to_owned()).collect() };
        let all = example::report();
        assert_eq!(only(all.clone(), &[]).unwrap(), all);
        let one = only(all.clone(), &patches(&["PY74-4"])).unwrap();
        assert_eq!((one.boards[0].patches.len(), one.swatches.len()), (1, 1));
        assert_eq!(one.boards[0].patches[0], all.boards[0].patches[3]);
        let other = only(all.clone(), &patches(&["white", "clear"])).unwrap();
        assert_eq!(
            (other.boards[0].patches.len(), other.swatches.len()),
            (2, 0)
        );
        assert!(only(all, &patches(&["white", "Z9"])).is_err());
    }
}
