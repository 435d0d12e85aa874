//! `mix predict`.

use super::super::columns::{Columns, Stand, one_line};
use super::super::failure::{Exit, Failure};
use super::super::library::json;
use super::super::stdout;
use super::super::table::Terminal;
use super::options::{Film, Format, Ready, after, hours, load, mixture, of_predict, ready};
use super::words;
use masstone::library::Library;
use masstone::mix::answer::{Answer, Shade, in_short};
use masstone::mix::forecast::{Aged, Forecast, forecast};
use masstone::mix::shelf::Shelf;
use masstone::mix::{Coat, Load, Model};
use masstone::plan::Verdict;
use masstone::plan::steps::standing_text;
use std::io::{self, Write};
use std::path::Path;

/// Say what a mixture will look like.
///
/// Gives its colour with U95, how far it lies from what was measured, how the loads stand to the tested limits, and, with --hours, the
/// colour after exposure where the pigments' fading was measured.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Pigments with their loads, grams per 100 g of mixed coating; or `clear`.
    #[arg(required = true, value_name = "PIGMENT=LOAD", value_parser = loads)]
    loads: Vec<Option<Load>>,

    #[command(flatten)]
    film: Film,

    /// Also the colour after so many hours of exposure.
    #[arg(long, value_name = "H", value_parser = hours)]
    hours: Option<f64>,

    /// Predict it although the loads are beyond the tested limits.
    #[arg(long)]
    allow_beyond: bool,

    /// How it is written.
    #[arg(long, value_name = "FORM", default_value = "table")]
    format: Format,
}

/// Runs the command.
pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let Ready {
        library,
        shelf,
        model,
    } = ready(place, args.film.coating.as_deref())?;
    let stated: Vec<Load> = args.loads.iter().flatten().cloned().collect();
    let pigments = mixture(&stated, &shelf)?;
    let meant = args.film.meant(&shelf)?;
    let standing = shelf.standing(&pigments);
    if standing.verdict == Verdict::Beyond && !args.allow_beyond {
        return Err(Failure::work(
            anyhow::anyhow!("these loads are {}", standing_text(&standing)),
            "Lower them, or test that very mixture and note how it cured; --allow-beyond predicts it all the same.",
        ));
    }
    let coat = Coat {
        pigments,
        g_per_m2: meant.g_per_m2,
        ground: meant.ground,
    };
    let mut forecast =
        forecast(&shelf, &model, &coat, meant.note.into_iter().collect()).map_err(of_predict)?;
    // What was asked for besides and can't be had doesn't take away the rest.
    let exit = match args
        .hours
        .map(|it| aged(&library, &shelf, &model, &coat, it))
    {
        None => Exit::Done,
        Some(Ok(aged)) => {
            forecast.aged = Some(aged);
            Exit::Done
        }
        Some(Err(failure)) => failure.report(),
    };
    match args.format {
        Format::Json => json(&Answer::Predict(Box::new(forecast)))?,
        Format::Table => {
            let terminal = Terminal::of_stdout();
            stdout::write(|out| write(&forecast, terminal, out))?;
        }
    }
    Ok(exit)
}

/// The colour after so many hours.
fn aged(
    library: &Library,
    shelf: &Shelf,
    model: &Model,
    coat: &Coat,
    hours: f64,
) -> Result<Aged, Failure> {
    let (film, notes) = after(library, shelf, model, hours)?;
    let made = model.predict(coat).map_err(of_predict)?;
    let predicted = film.predict(coat).map_err(|it| {
        let hint = it.hint();
        Failure::work(it, hint)
    })?;
    // What is said of the colour as made is said already.
    let mut all = notes;
    for it in &predicted.notes {
        if !made.notes.contains(it) && !all.contains(it) {
            all.push(it.clone());
        }
    }
    Ok(Aged::of(hours, made.lab, &predicted, all))
}

/// A pigment's load; none for the word `clear`.
fn loads(text: &str) -> Result<Option<Load>, String> {
    if text == "clear" {
        Ok(None)
    } else {
        load(text).map(Some)
    }
}

fn write(it: &Forecast, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let head = format!(
        "{} in {} on {}, {}",
        in_short(&it.loads),
        it.coating,
        it.substrate,
        words::amount_of(it.g_per_m2, it.coats, it.nominal)
    );
    writeln!(out, "{}\n", one_line(&head))?;
    let mut table = Columns::new(&[
        ("", Stand::Left),
        ("L*", Stand::Right),
        ("a*", Stand::Right),
        ("b*", Stand::Right),
        ("C*", Stand::Right),
        ("h°", Stand::Right),
        ("U95", Stand::Right),
        ("sRGB", Stand::Left),
        ("ΔE00", Stand::Right),
    ]);
    row(&mut table, "as made", &it.made, None);
    if let Some(aged) = &it.aged {
        row(
            &mut table,
            &format!("after {} h", aged.hours),
            &aged.colour,
            Some(aged.delta_e),
        );
    }
    table.write(terminal, out)?;
    writeln!(out, "\n{}", one_line(&it.distance.sentence()))?;
    match it.left_out {
        Some(left_out) => writeln!(
            out,
            "Swatches of these pigments, each predicted from the others: {left_out:.2} ΔE00 off on average."
        )?,
        None => writeln!(
            out,
            "No swatch of these pigments can be predicted from others, so that the error is not known from them."
        )?,
    }
    writeln!(
        out,
        "Tested limits, Σ(load ÷ limit): {}",
        words::standing(&it.standing, terminal)
    )?;
    let mut notes = it.notes.clone();
    notes.extend(it.aged.iter().flat_map(|it| it.notes.iter().cloned()));
    words::listed("Notes", &notes, out)?;
    words::listed("Cautions", &it.cautions, out)
}

fn row(table: &mut Columns, name: &str, it: &Shade, delta_e: Option<f64>) {
    let two = |it: f64| format!("{it:.2}");
    table.row(
        Some(it.lab()),
        vec![
            name.to_owned(),
            two(it.l),
            two(it.a),
            two(it.b),
            two(it.c),
            format!("{:.1}", it.h),
            it.u95.map(two).unwrap_or_default(),
            words::hex(it),
            delta_e.map(two).unwrap_or_default(),
        ],
    );
}
