//! Arguments that say which swatches are meant, and how they are shown.

use super::super::columns::{Columns, Stand};
use super::super::failure::{Failure, say};
use super::super::table::Terminal;
use super::super::{measure, stdout};
use super::failure;
use masstone::colour::{Lab, lab};
use masstone::library::Library;
use masstone::library::catalog::Named;
use masstone::library::find::{Filter, Listed, NEAR_HOURS, Range};
use masstone::library::view::{self, Row};
use std::path::Path;

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
    #[arg(long, value_name = "FROM..TO", value_parser = angles)]
    hue: Option<Range>,
    /// Of which a specimen last cured so: cured, slow, soft, foamed, cracked, separated.
    #[arg(long, value_name = "WORD", value_parser = clap::builder::PossibleValuesParser::new(masstone::library::notes::CURES))]
    cure: Option<String>,
}

impl Filters {
    /// The filter, if the library has a swatch with each of the names: one that it lacks is a slip, and nothing would be found.
    pub(super) fn filter(&self, library: &Library, place: &Path) -> Result<Filter, Failure> {
        let named = [
            ("pigment", Named::Pigment, &self.pigment[..]),
            ("coating", Named::Coating, self.coating.as_slice()),
            ("substrate", Named::Substrate, self.substrate.as_slice()),
        ];
        for (what, of, asked) in named {
            for name in asked {
                let there = library.names(of).map_err(failure(place))?;
                if !there.contains(name) {
                    return Err(lacking(what, name, &there));
                }
            }
        }
        Ok(self.of_names())
    }

    /// Says that nothing was found, and, where an age was asked for, which there are.
    pub(super) fn nothing(&self, library: &Library, place: &Path) -> Result<(), Failure> {
        let mut text = "no swatch is like that".to_owned();
        if let Some(wanted) = self.hours {
            let ages = library.ages().map_err(failure(place))?;
            let near = |it: &f64| (it - wanted).abs() <= NEAR_HOURS * wanted;
            if !ages.iter().any(near) {
                let ages: Vec<String> = ages.iter().map(ToString::to_string).collect();
                text +=
                    &format!(": no colour was measured after {wanted} h or within a tenth of it");
                text += &if ages.is_empty() {
                    ", and none after hours that anybody stated".to_owned()
                } else {
                    format!(", but after {} h", ages.join(", "))
                };
            }
        }
        say(&text);
        Ok(())
    }

    fn of_names(&self) -> Filter {
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

/// A name that no swatch has, with the nearest that there are.
fn lacking(what: &str, name: &str, there: &[String]) -> Failure {
    const MOST: usize = 12;
    let hint = if there.is_empty() {
        format!("No swatch in it has a {what}: panel files name them.")
    } else {
        let mut near: Vec<&String> = there.iter().collect();
        let off = |it: &str| strsim::osa_distance(&it.to_lowercase(), &name.to_lowercase());
        near.sort_by_cached_key(|it| off(it));
        near.truncate(MOST);
        let names: Vec<&str> = near.iter().map(|it| it.as_str()).collect();
        let more = there.len().saturating_sub(MOST);
        let more = if more > 0 {
            format!(", and {more} more")
        } else {
            String::new()
        };
        format!("There are: {}{more}.", names.join("; "))
    };
    Failure::usage(
        anyhow::anyhow!("the library has no swatch with the {what} {name}"),
        hint,
    )
}

/// `5..12`, `5..`, `..12`, or one number for exactly it.
pub(super) fn range(text: &str) -> Result<Range, String> {
    let range = ends(text)?;
    match (range.from, range.to) {
        (Some(from), Some(to)) if from > to => Err(format!(
            "from {from} to {to} there is nothing: say {to}..{from}"
        )),
        _ => Ok(range),
    }
}

/// The same in degrees, where from 350 to 20 is through 0.
fn angles(text: &str) -> Result<Range, String> {
    let range = ends(text)?;
    match [range.from, range.to]
        .into_iter()
        .flatten()
        .find(|it| !(0.0..=360.0).contains(it))
    {
        Some(it) => Err(format!("a hue of {it}: say 0 to 360 degrees")),
        None => Ok(range),
    }
}

fn ends(text: &str) -> Result<Range, String> {
    const HINT: &str = "say FROM..TO, such as 5..12, 5.. or ..12";
    let number = |text: &str| -> Result<Option<f64>, String> {
        match text.trim() {
            "" => Ok(None),
            it => match it.parse::<f64>() {
                Ok(it) if it.is_finite() => Ok(Some(it)),
                _ => Err(format!("{it} is no number; {HINT}")),
            },
        }
    };
    let range = match text.split_once("..") {
        Some((from, to)) => Range {
            from: number(from)?,
            to: number(to)?,
        },
        None => {
            let it = number(text)?;
            Range { from: it, to: it }
        }
    };
    if range == Range::default() {
        return Err(HINT.to_owned());
    }
    Ok(range)
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

/// Writes a list to standard output; for people with the colour that was asked for above it.
pub(super) fn print(
    list: &[Said<'_>],
    wanted: Option<Lab>,
    form: Form,
    library: &Library,
    place: &Path,
) -> Result<(), Failure> {
    let rows = || -> Result<Vec<Row>, Failure> {
        let listed: Vec<&Listed> = list.iter().map(|it| it.listed).collect();
        let mut rows = library.rows(&listed).map_err(failure(place))?;
        for (row, it) in rows.iter_mut().zip(list) {
            row.delta_e = it.near.map(|it| it.0);
            row.told_apart = it.near.map(|it| it.1);
        }
        Ok(rows)
    };
    match form {
        Form::Csv => {
            let rows = rows()?;
            stdout::write(|out| view::csv(&rows, out))
        }
        Form::Json => json(&rows()?),
        Form::Table => {
            let table = table(list, wanted);
            let alike = list.iter().any(|it| it.near.is_some_and(|it| !it.1));
            stdout::write(|out| {
                table.write(Terminal::of_stdout(), out)?;
                if alike {
                    writeln!(out, "{ALIKE_MEANS}")?;
                }
                Ok(())
            })
        }
    }
}

/// Writes JSON to standard output.
pub(in crate::cli) fn json(it: &impl serde::Serialize) -> Result<(), Failure> {
    stdout::write(|out| {
        serde_json::to_writer_pretty(&mut *out, it)?;
        writeln!(out)
    })
}

/// Beside a difference that is within the joint uncertainty.
pub(super) const ALIKE: &str = "≈";
/// What it says, below a table.
pub(super) const ALIKE_MEANS: &str = "≈ cannot be told apart: within the joint uncertainty";

fn table(list: &[Said<'_>], wanted: Option<Lab>) -> Columns {
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
        ("C*", Stand::Spare),
        ("h°", Stand::Spare),
        ("U95", Stand::Right),
        ("specimens", Stand::Spare),
        ("readings", Stand::Spare),
        ("cure", Stand::Gives),
        ("", Stand::Gives),
    ]);
    let two = |it: f64| format!("{it:.2}");
    let colour = |it: Lab| {
        [
            two(it.l),
            two(it.a),
            two(it.b),
            two(lab::chroma(it)),
            format!("{:.1}", lab::hue_degrees(it)),
        ]
    };
    if let Some(wanted) = wanted {
        let mut cells = vec![String::new(); 16];
        cells[3] = "(asked for)".to_owned();
        cells[6..11].clone_from_slice(&colour(wanted));
        table.row(Some(wanted), cells);
    }
    for Said { listed: it, near } in list {
        let alike = near.is_some_and(|it| !it.1);
        let name = &it.swatch.name;
        let [l, a, b, c, h] = colour(it.lab);
        table.row(
            Some(it.lab),
            vec![
                it.swatch.id.to_string(),
                near.map(|it| two(it.0)).unwrap_or_default(),
                if alike { ALIKE } else { "" }.to_owned(),
                name.clone().unwrap_or_default(),
                it.swatch.recipe.in_short(),
                age(it.exposure.masked, it.exposure.hours),
                l,
                a,
                b,
                c,
                h,
                it.u95.map(two).unwrap_or_default(),
                it.specimens.to_string(),
                it.readings.to_string(),
                it.cure.join(" "),
                match it.disagree {
                    0 => String::new(),
                    n => format!("{n} disagree"),
                },
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_from_more_to_less_are_refused_with_both_ends() {
        let of = |from, to| Range { from, to };
        assert_eq!(range("5..12"), Ok(of(Some(5.0), Some(12.0))));
        assert_eq!(range("5.."), Ok(of(Some(5.0), None)));
        assert_eq!(range("7"), Ok(of(Some(7.0), Some(7.0))));
        let wrong = range("12..5").unwrap_err();
        assert!(wrong.contains("from 12 to 5") && wrong.contains("say 5..12"));
        for bad in ["..", "", "a..b", "nan..", "5..inf"] {
            assert!(range(bad).is_err(), "{bad}");
        }
        assert_eq!(angles("350..20"), Ok(of(Some(350.0), Some(20.0))));
        assert!(angles("400..500").unwrap_err().contains("400"));
    }
}
