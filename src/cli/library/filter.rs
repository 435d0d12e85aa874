//! Arguments that say which swatches are meant, and how they are shown.

use super::super::columns::{Columns, Stand};
use super::super::failure::Failure;
use super::super::table::Terminal;
use super::super::{measure, stdout};
use masstone::library::find::{Filter, Listed, Range};
use masstone::library::view::{self, Row};

/// Which swatches.
#[derive(Debug, clap::Args)]
pub(super) struct Filters {
    /// With this pigment; several times for mixtures.
    #[arg(long, value_name = "NAME")]
    pigment: Vec<String>,
    /// With a load from … to …, of the (first) pigment: 5..12, 5.. or ..12.
    #[arg(long, value_name = "FROM..TO", value_parser = range)]
    load: Option<Range>,
    /// In this coating.
    #[arg(long, value_name = "NAME")]
    coating: Option<String>,
    /// On this substrate.
    #[arg(long, value_name = "NAME")]
    substrate: Option<String>,
    /// Colours after so many hours of exposure; as made if not given.
    #[arg(long, value_name = "H", value_parser = measure::hours)]
    hours: Option<f64>,
    /// With a lightness L* from … to ….
    #[arg(long, value_name = "FROM..TO", value_parser = range)]
    lightness: Option<Range>,
    /// With a chroma C* from … to ….
    #[arg(long, value_name = "FROM..TO", value_parser = range)]
    chroma: Option<Range>,
    /// With a hue angle from … to … degrees; 350..20 goes through 0.
    #[arg(long, value_name = "FROM..TO", value_parser = range)]
    hue: Option<Range>,
    /// Of which a specimen last cured so: cured, slow, soft, foamed, cracked, separated.
    #[arg(long, value_name = "WORD", value_parser = clap::builder::PossibleValuesParser::new(masstone::library::notes::CURES))]
    cure: Option<String>,
}

impl Filters {
    pub(super) fn filter(&self) -> Filter {
        Filter {
            pigments: self.pigment.clone(),
            load: self.load.unwrap_or_default(),
            coating: self.coating.clone(),
            substrate: self.substrate.clone(),
            hours: self.hours,
            lightness: self.lightness.unwrap_or_default(),
            chroma: self.chroma.unwrap_or_default(),
            hue: self.hue.unwrap_or_default(),
            cure: self.cure.clone(),
        }
    }
}

/// `5..12`, `5..`, `..12`, or one number for exactly it.
pub(super) fn range(text: &str) -> Result<Range, String> {
    let number = |text: &str| -> Result<Option<f64>, String> {
        match text.trim() {
            "" => Ok(None),
            it => match it.parse::<f64>() {
                Ok(it) if it.is_finite() => Ok(Some(it)),
                _ => Err(format!(
                    "{it} is no number; say FROM..TO, such as 5..12 or 5.."
                )),
            },
        }
    };
    match text.split_once("..") {
        Some((from, to)) => {
            let range = Range {
                from: number(from)?,
                to: number(to)?,
            };
            if range == Range::default() {
                return Err("say FROM..TO, such as 5..12 or 5..".to_owned());
            }
            Ok(range)
        }
        None => {
            let it = number(text)?;
            Ok(Range { from: it, to: it })
        }
    }
}

/// How a list is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Form {
    /// For people.
    Table,
    /// For spreadsheets.
    Csv,
    /// For programs.
    Json,
}

/// A row of a list with what is said of it beside.
pub(super) struct Said<'a> {
    pub(super) listed: &'a Listed,
    /// ΔE00 to what was asked for, and whether it is beyond the joint uncertainty.
    pub(super) near: Option<(f64, bool)>,
}

/// Writes a list to standard output.
pub(super) fn print(list: &[Said<'_>], form: Form) -> Result<(), Failure> {
    let rows = || -> Vec<Row> {
        list.iter()
            .map(|it| Row {
                delta_e: it.near.map(|it| it.0),
                told_apart: it.near.map(|it| it.1),
                ..Row::from(it.listed)
            })
            .collect()
    };
    match form {
        Form::Csv => stdout::write(|out| view::csv(&rows(), out)),
        Form::Json => stdout::write(|out| {
            serde_json::to_writer_pretty(&mut *out, &rows())?;
            writeln!(out)
        }),
        Form::Table => {
            let table = table(list);
            stdout::write(|out| table.write(Terminal::of_stdout(), out))
        }
    }
}

fn table(list: &[Said<'_>]) -> Columns {
    let mut table = Columns::new(&[
        ("swatch", Stand::Right),
        ("ΔE00", Stand::Right),
        ("", Stand::Left),
        ("name", Stand::Gives),
        ("pigments", Stand::Gives),
        ("hours", Stand::Right),
        ("L*", Stand::Right),
        ("a*", Stand::Right),
        ("b*", Stand::Right),
        ("C*", Stand::Right),
        ("h°", Stand::Right),
        ("U95", Stand::Right),
        ("specimens", Stand::Right),
        ("readings", Stand::Right),
        ("cure", Stand::Left),
        ("note", Stand::Left),
    ]);
    for it in list {
        let row = Row::from(it.listed);
        let two = |it: f64| format!("{it:.2}");
        let note = match row.disagree {
            0 => String::new(),
            n => format!("{n} disagree"),
        };
        table.row(
            Some(it.listed.lab),
            vec![
                row.swatch.to_string(),
                it.near.map(|it| two(it.0)).unwrap_or_default(),
                it.near
                    .filter(|it| !it.1)
                    .map(|_| "cannot be told apart".to_owned())
                    .unwrap_or_default(),
                row.name.clone().unwrap_or_default(),
                row.recipe.in_short(),
                age(row.masked, row.hours),
                two(row.l),
                two(row.a),
                two(row.b),
                two(row.c),
                format!("{:.1}", row.h),
                row.u95.map(two).unwrap_or_default(),
                row.specimens.to_string(),
                row.readings.to_string(),
                row.cure.join(" "),
                note,
            ],
        );
    }
    table
}

/// An exposure in short.
pub(super) fn age(masked: bool, hours: Option<f64>) -> String {
    match (masked, hours) {
        (false, None) => "?".to_owned(),
        (true, None) => "masked".to_owned(),
        (false, Some(hours)) => hours.to_string(),
        (true, Some(hours)) => format!("masked {hours}"),
    }
}
