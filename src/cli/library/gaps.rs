//! `library gaps`.

use super::super::columns::{Columns, Stand};
use super::super::failure::{Exit, Failure, say};
use super::super::stdout;
use super::super::table::Terminal;
use super::filter::{Filters, Form, json};
use super::overlaps::positive;
use super::{failure, open};
use masstone::colour::Lab;
use masstone::library::gaps::Gap;
use masstone::record::csv::text;
use std::io::{self, Write};
use std::path::Path;

/// Show which regions of colour the range lacks.
///
/// Of the colours that a screen can show, those that are farther than --within from every swatch.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    filters: Filters,
    /// A colour is there if a swatch is at most so many ΔE00 from it.
    #[arg(long, value_name = "DE00", default_value_t = 10.0, value_parser = positive)]
    within: f64,
    /// Colours up to this chroma: mineral pigments seldom go beyond 60.
    #[arg(long, value_name = "C", default_value_t = 60.0, value_parser = positive)]
    most_chroma: f64,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    let gaps = library
        .gaps(
            &args.filters.filter(&library, place)?,
            args.within,
            args.most_chroma,
        )
        .map_err(failure(place))?;
    match args.format {
        Form::Json => json(&gaps)?,
        Form::Csv => stdout::write(|out| csv(&gaps, out))?,
        Form::Table if gaps.is_empty() => say("the range lacks no region of colour"),
        Form::Table => {
            let mut table = Columns::new(&[
                ("region", Stand::Left),
                ("lacking", Stand::Right),
                ("L*", Stand::Right),
                ("a*", Stand::Right),
                ("b*", Stand::Right),
                ("nearest", Stand::Right),
                ("ΔE00", Stand::Right),
            ]);
            for it in &gaps {
                let [l, a, b] = it.lab;
                table.row(
                    Some(Lab::new(l, a, b)),
                    vec![
                        it.name.clone(),
                        format!("{:.0} %", 100.0 * it.share),
                        l.to_string(),
                        a.to_string(),
                        b.to_string(),
                        it.swatch.map(|it| it.to_string()).unwrap_or_default(),
                        it.nearest.map(|it| format!("{it:.1}")).unwrap_or_default(),
                    ],
                );
            }
            stdout::write(|out| {
                table.write(Terminal::of_stdout(), out)?;
                writeln!(
                    out,
                    "lacking: of the region's colours, those farther than {} ΔE00 from every swatch. L* a* b*: the farthest of \
                     them, with the swatch nearest to it.",
                    args.within
                )
            })?;
        }
    }
    Ok(Exit::Done)
}

fn csv(gaps: &[Gap], out: &mut dyn Write) -> io::Result<()> {
    let mut csv = csv::Writer::from_writer(out);
    csv.write_record(["region", "share", "L", "a", "b", "nearest", "swatch"])?;
    for it in gaps {
        csv.write_record([
            text(&it.name),
            format!("{:.3}", it.share),
            it.lab[0].to_string(),
            it.lab[1].to_string(),
            it.lab[2].to_string(),
            it.nearest.map(|it| format!("{it:.3}")).unwrap_or_default(),
            it.swatch.map(|it| it.to_string()).unwrap_or_default(),
        ])?;
    }
    csv.flush()
}
