//! What both kinds of plan can be told.

use super::super::failure::Failure;
use super::super::library;
use masstone::library::{Library, LibraryError};
use masstone::measure::output;
use masstone::plan::facts::{FactsError, Given, Said};
use masstone::plan::page::Paper;
use masstone::plan::{Balance, PlanError, Settings};
use std::path::{Path, PathBuf};

/// What both kinds of plan can be told.
#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The library that holds coatings, pigments, prices and tested limits. Not given: what `MASSTONE_LIBRARY` names, or
    /// `swatches.sqlite` here, if it is there.
    #[arg(long, value_name = "FILE")]
    library: Option<PathBuf>,

    /// The mixing ratio of the coating's parts by mass, as 4:1; 1 for a coating of one part.
    #[arg(long, value_name = "[COATING=]RATIO", value_parser = ratio, help_heading = "Materials")]
    parts: Vec<Said<Vec<f64>>>,

    /// --parts is by volume; needs --part-density.
    #[arg(
        long,
        requires = "parts",
        requires = "part_density",
        help_heading = "Materials"
    )]
    by_volume: bool,

    /// The density of each part in g/ml, in the same order, as 1.05:1.12.
    #[arg(long, value_name = "[COATING=]DENSITIES", value_parser = ratio, help_heading = "Materials")]
    part_density: Vec<Said<Vec<f64>>>,

    /// Wet coating that one coat takes, g/m², pigment included.
    #[arg(long, value_name = "[COATING=]G", value_parser = said, help_heading = "Materials")]
    per_coat: Vec<Said<f64>>,

    /// From mixing until the coating can't be used any more, minutes.
    #[arg(long, value_name = "[COATING=]MINUTES", value_parser = said, help_heading = "Materials")]
    pot_life: Vec<Said<f64>>,

    /// Price per kilogram of a pigment, of a coating as mixed, or of each of its parts ("part A"). May be repeated.
    #[arg(long, value_name = "NAME=PRICE", value_parser = named, help_heading = "Materials")]
    price: Vec<(String, f64)>,

    /// The currency of prices, for the sheet.
    #[arg(long, value_name = "TEXT", help_heading = "Materials")]
    pub(super) currency: Option<String>,

    /// Density of a pigment or a mixed coating, g/ml. May be repeated.
    #[arg(long, value_name = "NAME=G_PER_ML", value_parser = named, help_heading = "Materials")]
    density: Vec<(String, f64)>,

    /// The highest load of a pigment that was tested and cured. May be repeated.
    #[arg(long, value_name = "PIGMENT=LOAD", value_parser = named, help_heading = "Materials")]
    limit: Vec<(String, f64)>,

    /// The step of the balance's display, g.
    #[arg(
        long,
        value_name = "G",
        default_value = "0.01",
        help_heading = "Workshop"
    )]
    balance: f64,

    /// The least amount that the balance is trusted with, g. Not given: 20 of its steps.
    #[arg(long, value_name = "G", help_heading = "Workshop")]
    least: Option<f64>,

    /// What brushes, cups and hands keep, in percent of what lies on the surface.
    #[arg(
        long,
        value_name = "PERCENT",
        default_value = "20",
        help_heading = "Workshop"
    )]
    overage: f64,

    /// The share of the pot life that is worked in, in percent; the rest is a reserve.
    #[arg(
        long,
        value_name = "PERCENT",
        default_value = "75",
        help_heading = "Workshop"
    )]
    pot_life_used: f64,

    /// How the plan is printed here.
    #[arg(
        long,
        value_name = "FORM",
        default_value = "table",
        help_heading = "Output"
    )]
    pub(super) format: Format,

    /// Write a sheet to print, as HTML.
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    sheet: Option<PathBuf>,

    /// What the sheet is printed on. Not given: it fits A4 and Letter.
    #[arg(
        long,
        value_name = "PAPER",
        requires = "sheet",
        help_heading = "Output"
    )]
    paper: Option<PaperArg>,
}

/// Values of `--format`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Format {
    /// For people.
    Table,
    /// For programs.
    Json,
}

/// Values of `--paper`.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum PaperArg {
    A4,
    Letter,
}

impl Options {
    /// How the workshop mixes, with what is usual for what is not said here.
    pub(super) fn settings(&self) -> Result<Settings, PlanError> {
        let usual = Settings::usual(Balance::new(self.balance, self.least)?);
        Ok(Settings {
            overage: self.overage / 100.0,
            worked_share: self.pot_life_used / 100.0,
            ..usual
        })
    }

    /// What is said of materials.
    pub(super) fn given(&self) -> Given {
        Given {
            ratios: self.parts.clone(),
            by_volume: self.by_volume,
            densities_of_parts: self.part_density.clone(),
            pot_lives: self.pot_life.clone(),
            per_coat: self.per_coat.clone(),
            prices: self.price.clone(),
            densities: self.density.clone(),
            limits: self.limit.clone(),
        }
    }

    /// Whether it is said what a coat takes.
    pub(super) fn states_coats(&self) -> bool {
        !self.per_coat.is_empty()
    }

    /// The library, if one is named or there.
    pub(super) fn library(&self) -> Result<Option<Library>, Failure> {
        let place = library::place(self.library.as_deref());
        let is_default = self.library.is_none() && place == library::place_by_default();
        if is_default && !place.exists() {
            return Ok(None);
        }
        library::open(&place).map(Some)
    }

    /// Where the sheet goes, checked before any work; not onto anything that the plan is made from.
    pub(super) fn sheet(&self, inputs: &[&Path]) -> Result<Option<PathBuf>, Failure> {
        let Some(path) = self.sheet.as_deref().map(output::check).transpose()? else {
            return Ok(None);
        };
        let place = path.canonicalize().ok();
        let is_input = |it: &&&Path| place.is_some() && it.canonicalize().ok() == place;
        match inputs.iter().find(is_input) {
            None => Ok(Some(path)),
            Some(input) => Err(Failure::usage(
                anyhow::anyhow!(
                    "the sheet {} would take the place of {}, which the plan is made from",
                    path.display(),
                    input.display()
                ),
                "Name another file with --sheet.",
            )),
        }
    }

    pub(super) fn paper(&self) -> Paper {
        match self.paper {
            None => Paper::Any,
            Some(PaperArg::A4) => Paper::A4,
            Some(PaperArg::Letter) => Paper::Letter,
        }
    }
}

/// No library is there, though one is needed.
pub(super) fn no_library() -> Failure {
    let place = library::place_by_default();
    library::failure(&place)(LibraryError::Missing {
        path: place.clone(),
    })
    .and("Or take the recipe from a panel file with --panel PANEL.toml.")
}

/// What a plan can't be made for is wrong usage, and so is a swatch that is not there; a library that can't be read is not.
pub(super) fn of_facts(error: FactsError) -> Failure {
    let hint = error.hint();
    match error {
        FactsError::Library(LibraryError::Unknown(..)) => Failure::usage(error, hint),
        FactsError::Library(_) => Failure::work(error, hint),
        _ => Failure::usage(error, hint),
    }
}

pub(super) fn of_plan(error: PlanError) -> Failure {
    let hint = error.hint();
    Failure::usage(error, hint)
}

/// Parses `VALUE` or `NAME=VALUE`; the name may hold `=`.
fn said(text: &str) -> Result<Said<f64>, String> {
    let (of, value) = split(text);
    Ok(Said {
        of,
        value: number(value)?,
    })
}

/// Parses `4:1` or `NAME=4:1`.
fn ratio(text: &str) -> Result<Said<Vec<f64>>, String> {
    let (of, value) = split(text);
    let value = value.split(':').map(number).collect::<Result<_, _>>()?;
    Ok(Said { of, value })
}

/// Parses `NAME=VALUE`.
pub(super) fn named(text: &str) -> Result<(String, f64), String> {
    match split(text) {
        (Some(name), value) if !name.is_empty() => Ok((name, number(value)?)),
        _ => Err("a name, =, and a number are needed, as PR101=12".to_owned()),
    }
}

fn split(text: &str) -> (Option<String>, &str) {
    text.rsplit_once('=')
        .map_or((None, text), |(name, value)| (Some(name.to_owned()), value))
}

fn number(text: &str) -> Result<f64, String> {
    let value = text.trim().parse().ok();
    let value = value.filter(|it: &f64| it.is_finite() && *it > 0.0);
    value.ok_or_else(|| format!("\"{text}\" is not a number above 0"))
}
