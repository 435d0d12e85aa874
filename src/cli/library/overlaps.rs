//! `library overlaps`.

use super::super::columns::{Columns, Stand};
use super::super::failure::{Exit, Failure, say};
use super::super::stdout;
use super::super::table::Terminal;
use super::filter::{ALIKE, ALIKE_MEANS, Filters, Form, age, json};
use super::{failure, open};
use masstone::library::near::Pair;
use masstone::record::csv::text;
use std::path::Path;

/// Find pairs of swatches that look too alike to keep both.
///
/// Swatches of the same pigments at other loads are left out unless --all.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    filters: Filters,
    /// Pairs that differ by at most so much ΔE00.
    #[arg(long, value_name = "DE00", default_value_t = 2.0, value_parser = positive)]
    within: f64,
    /// Loads of the same pigments, too.
    #[arg(long)]
    all: bool,
    /// At most so many.
    #[arg(long, value_name = "N", default_value_t = 50)]
    count: usize,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

/// A number above zero.
pub(super) fn positive(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(it) if it.is_finite() && it > 0.0 => Ok(it),
        _ => Err("give a number above zero, with a point for decimals".to_owned()),
    }
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    let pairs = library
        .overlaps(
            &args.filters.filter(&library, place)?,
            args.within,
            args.all,
            args.count,
        )
        .map_err(failure(place))?;
    match args.format {
        Form::Json => {
            let both = |it: &Pair| {
                let rows = library.rows(&[&it.one, &it.other])?;
                Ok(serde_json::json!({
                    "one": rows[0], "other": rows[1], "delta_e": it.delta_e, "told_apart": it.told_apart,
                }))
            };
            let rows = pairs.iter().map(both).collect::<Result<Vec<_>, _>>();
            json(&rows.map_err(failure(place))?)?;
        }
        Form::Csv => stdout::write(|out| csv(&pairs, out))?,
        Form::Table if pairs.is_empty() => {
            say(&format!("no two swatches are within {} ΔE00", args.within));
        }
        Form::Table => {
            let table = table(&pairs);
            let alike = pairs.iter().any(|it| !it.told_apart);
            stdout::write(|out| {
                table.write(Terminal::of_stdout(), out)?;
                if alike {
                    writeln!(out, "{ALIKE_MEANS}")?;
                }
                Ok(())
            })?;
        }
    }
    Ok(Exit::Done)
}

fn csv(pairs: &[Pair], out: &mut dyn std::io::Write) -> std::io::Result<()> {
    let mut csv = csv::Writer::from_writer(out);
    csv.write_record([
        "swatch",
        "name",
        "other",
        "other_name",
        "delta_e",
        "told_apart",
    ])?;
    for it in pairs {
        let name = |it: &Option<String>| text(it.as_deref().unwrap_or_default());
        csv.write_record([
            it.one.swatch.id.to_string(),
            name(&it.one.swatch.name),
            it.other.swatch.id.to_string(),
            name(&it.other.swatch.name),
            format!("{:.3}", it.delta_e),
            it.told_apart.to_string(),
        ])?;
    }
    csv.flush()
}

fn table(pairs: &[Pair]) -> Columns {
    let mut table = Columns::new(&[
        ("pair", Stand::Right),
        ("swatch", Stand::Right),
        ("name", Stand::Gives),
        ("pigments", Stand::Gives),
        ("hours", Stand::Right),
        ("L*", Stand::Right),
        ("a*", Stand::Right),
        ("b*", Stand::Right),
        ("ΔE00", Stand::Right),
        ("", Stand::Left),
    ]);
    for (index, pair) in pairs.iter().enumerate() {
        for (first, it) in [(true, &pair.one), (false, &pair.other)] {
            let said = |text: String| if first { text } else { String::new() };
            table.row(
                Some(it.lab),
                vec![
                    said((index + 1).to_string()),
                    it.swatch.id.to_string(),
                    it.swatch.name.clone().unwrap_or_default(),
                    it.swatch.recipe.in_short(),
                    age(it.exposure.masked, it.exposure.hours),
                    format!("{:.2}", it.lab.l),
                    format!("{:.2}", it.lab.a),
                    format!("{:.2}", it.lab.b),
                    said(format!("{:.2}", pair.delta_e)),
                    if first && !pair.told_apart { ALIKE } else { "" }.to_owned(),
                ],
            );
        }
    }
    table
}
