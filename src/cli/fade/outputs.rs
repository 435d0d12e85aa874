//! Where the report goes, checked before any work.

use super::super::failure::Failure;
use super::super::stdout;
use masstone::fade::page::Crop;
use masstone::fade::{Report, csv, json, page};
use masstone::measure::output;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// The forms of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Format {
    Csv,
    Json,
    Page,
}

/// Where the report goes.
#[derive(Debug)]
pub(super) struct Outputs {
    files: Vec<(PathBuf, Format)>,
    /// CSV on standard output.
    printed: bool,
    table: bool,
}

impl Outputs {
    /// From the arguments; not onto anything that the report is made from.
    pub(super) fn new(
        out: Option<&Path>,
        page: Option<&Path>,
        inputs: &[&Path],
    ) -> Result<Self, Failure> {
        let printed = out == Some(Path::new("-"));
        let mut files = Vec::new();
        if let Some(path) = out.filter(|_| !printed) {
            files.push(("--out", path, format(path)?));
        }
        if let Some(path) = page {
            files.push(("--page", path, Format::Page));
        }
        let mut checked: Vec<(PathBuf, Format)> = Vec::new();
        for (option, path, format) in files {
            let path = output::check(path)?;
            let place = place(&path);
            let input = inputs.iter().find(|it| self::place(it) == place);
            if let Some(input) = input.filter(|_| place.is_some()) {
                return Err(Failure::usage(
                    anyhow::anyhow!(
                        "{option} {} would take the place of {}, which the report is made from",
                        path.display(),
                        input.display()
                    ),
                    format!("Name another file with {option}."),
                ));
            }
            if checked.iter().any(|it| it.0 == path) {
                return Err(Failure::usage(
                    anyhow::anyhow!("--out and --page are one file, {}", path.display()),
                    "Name another file with --page, or leave it out.",
                ));
            }
            checked.push((path, format));
        }
        Ok(Self {
            files: checked,
            printed,
            table: out.is_none(),
        })
    }

    /// Whether a table is to be printed.
    pub(super) fn wants_table(&self) -> bool {
        self.table
    }

    /// Writes them all; what to add to the closing line. Crops are asked for only where they are shown.
    pub(super) fn write(
        &self,
        report: &Report,
        crops: impl Fn() -> Vec<Crop>,
    ) -> Result<String, Failure> {
        let mut said = String::new();
        for (path, format) in &self.files {
            let kept = output::replace_and_keep(path, |out| match format {
                Format::Csv => csv::write(report, out),
                Format::Json => json::write(report, out),
                Format::Page => write_page(report, &crops(), out),
            })?;
            said += &format!("; written to {}", path.display());
            if let Some(kept) = kept {
                said += &format!(" (what was there is kept as {})", kept.display());
            }
        }
        if self.printed {
            stdout::write(|out| csv::write(report, out))?;
        }
        Ok(said)
    }
}

fn write_page(report: &Report, crops: &[Crop], out: &mut dyn Write) -> io::Result<()> {
    out.write_all(page::of(report, crops).as_bytes())
}

/// Where a file lies, if it is there.
fn place(path: &Path) -> Option<PathBuf> {
    path.canonicalize().ok()
}

/// By the ending.
fn format(path: &Path) -> Result<Format, Failure> {
    let ending = path
        .extension()
        .map(|it| it.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("csv") => Ok(Format::Csv),
        Some("json") => Ok(Format::Json),
        Some("html" | "htm") => Ok(Format::Page),
        _ => Err(Failure::usage(
            anyhow::anyhow!("--out {}: the ending says no known form", path.display()),
            "Use .csv (for spreadsheets), .json (everything), .html (a page), or - for CSV on standard output.",
        )),
    }
}
