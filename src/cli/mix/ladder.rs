//! `mix ladder`.

use super::super::columns::{Columns, Stand, one_line};
use super::super::failure::{Exit, Failure};
use super::super::library::json;
use super::super::stdout;
use super::super::table::{Colour, Terminal, cells};
use super::options::{Film, Format, Ready, of_predict, of_shelf, ready};
use super::words;
use masstone::measure::output;
use masstone::mix::HIDES;
use masstone::mix::answer::{Answer, ReachWord};
use masstone::mix::ladder::{Asked, Hiding, Ladder, Step, Strength, ladder, strip};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Show a pigment's colours from nothing to its full load.
///
/// With the swatches that were measured on the way, the load from which the film hides what lies below, and, with --reference, how
/// strongly it tints against another pigment.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The pigment.
    pigment: String,

    #[command(flatten)]
    film: Film,

    /// Compare its tinting strength with this pigment's.
    #[arg(long, value_name = "PIGMENT")]
    reference: Option<String>,

    /// Draw the ladder as SVG.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,

    /// Draw the ladder as PNG.
    #[arg(long, value_name = "FILE")]
    png: Option<PathBuf>,

    /// How it is written.
    #[arg(long, value_name = "FORM", default_value = "table")]
    format: Format,
}

/// Pixels of the PNG for one CSS pixel: sharp on paper and on dense screens.
const SCALE: f64 = 2.0;

/// Runs the command.
pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let svg = args.svg.as_deref().map(output::check).transpose()?;
    let png = args.png.as_deref().map(output::check).transpose()?;
    let Ready {
        library: _,
        shelf,
        model,
    } = ready(place, args.film.coating.as_deref())?;
    for it in std::iter::once(&args.pigment).chain(&args.reference) {
        shelf.has_pigment(it).map_err(of_shelf)?;
    }
    let meant = args.film.meant(&shelf)?;
    let asked = Asked {
        pigment: args.pigment.clone(),
        ground: meant.ground,
        g_per_m2: meant.g_per_m2,
        reference: args.reference.clone(),
    };
    let ladder =
        ladder(&shelf, &model, &asked, meant.note.into_iter().collect()).map_err(of_predict)?;
    if svg.is_some() || png.is_some() {
        let drawing = strip(&ladder);
        if let Some(path) = svg {
            output::replace(&path, |out| out.write_all(drawing.to_svg().as_bytes()))?;
        }
        if let Some(path) = png {
            let picture = drawing
                .to_png(SCALE)
                .map_err(|it| Failure::work(it, "Write the SVG instead."))?;
            output::replace(&path, |out| out.write_all(&picture))?;
        }
    }
    match args.format {
        Format::Json => json(&Answer::Ladder(Box::new(ladder)))?,
        Format::Table => {
            let terminal = Terminal::of_stdout();
            stdout::write(|out| write(&ladder, terminal, out))?;
        }
    }
    Ok(Exit::Done)
}

fn write(it: &Ladder, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let head = format!(
        "{} in {} on {}, {}",
        it.pigment,
        it.coating,
        it.substrate,
        words::amount_of(it.g_per_m2, it.coats, it.nominal)
    );
    writeln!(out, "{}\n", one_line(&head))?;
    band(it, terminal, out)?;
    rungs(it, terminal, out)?;
    writeln!(out, "\n{}", one_line(&hiding(&it.hiding, it.full)))?;
    if let Some(strength) = &it.strength {
        writeln!(out, "{}", one_line(&strength_in_words(it, strength)))?;
    }
    words::listed("Notes", &it.notes, out)?;
    words::listed("Cautions", &it.cautions, out)
}

/// A continuous strip as wide as the terminal, up to a sheet's width, with the ends of its axis below.
fn band(it: &Ladder, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    const WIDEST: usize = 72;
    if terminal.colour == Colour::None {
        return Ok(());
    }
    let width = terminal.width.min(WIDEST);
    for _ in 0..2 {
        let mut line = String::new();
        for cell in 0..width {
            let index = cell * (it.steps.len() - 1) / (width - 1).max(1);
            line += &cells(it.steps[index].colour.lab(), terminal.colour, 1);
        }
        writeln!(out, "{line}")?;
    }
    let (middle, end) = ((it.full / 2.0).to_string(), it.full.to_string());
    let half = width / 2;
    let left = format!(
        "0{}{middle}",
        " ".repeat(half.saturating_sub(1 + middle.len() / 2))
    );
    let gap = width.saturating_sub(left.len() + end.len());
    writeln!(out, "{left}{}{end}\n", " ".repeat(gap))
}

/// Every twelfth step, and what was measured, by load.
fn rungs(it: &Ladder, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let mut table = Columns::new(&[
        ("load", Stand::Right),
        ("", Stand::Left),
        ("L*", Stand::Right),
        ("a*", Stand::Right),
        ("b*", Stand::Right),
        ("C*", Stand::Spare),
        ("h°", Stand::Spare),
        ("U95", Stand::Right),
        ("sRGB", Stand::Left),
        ("off by ΔE00", Stand::Right),
        ("", Stand::Gives),
    ]);
    let mut rows: Vec<(f64, u8, &masstone::mix::answer::Shade, Vec<String>)> = Vec::new();
    for Step {
        load,
        colour,
        reach,
    } in it.steps.iter().step_by(12)
    {
        let what = match reach {
            ReachWord::Beyond => "beyond what was measured",
            _ => "",
        };
        let cells = vec![String::new(), String::new(), what.to_owned()];
        rows.push((*load, 0, colour, cells));
    }
    for point in &it.measured {
        let number = point
            .swatch
            .map_or_else(String::new, |it| format!("swatch {it}: "));
        let cells = vec![
            "measured".to_owned(),
            format!("{:.2}", point.delta_e),
            format!("{number}{}", point.name),
        ];
        rows.push((point.load, 1, &point.colour, cells));
    }
    rows.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let two = |it: f64| format!("{it:.2}");
    for (load, _, colour, [what, off, name]) in
        rows.into_iter().filter_map(|(load, order, colour, cells)| {
            Some((load, order, colour, <[String; 3]>::try_from(cells).ok()?))
        })
    {
        table.row(
            Some(colour.lab()),
            vec![
                two(load),
                what,
                two(colour.l),
                two(colour.a),
                two(colour.b),
                two(colour.c),
                format!("{:.1}", colour.h),
                colour.u95.map(two).unwrap_or_default(),
                words::hex(colour),
                off,
                name,
            ],
        );
    }
    table.write(terminal, out)
}

fn hiding(it: &Hiding, full: f64) -> String {
    match it {
        Hiding::From { load } => format!(
            "It hides what lies below from about {load:.2} g per 100 g on (contrast ratio {HIDES} between a black and a white ground)."
        ),
        Hiding::Not { contrast } => format!(
            "It doesn't hide what lies below: at {full} g per 100 g the contrast ratio between a black and a white ground is {contrast:.2}, and {HIDES} counts as hiding."
        ),
        Hiding::NotIdentified { why } => format!("From which load on it hides is not known. {why}"),
    }
}

fn strength_in_words(of: &Ladder, it: &Strength) -> String {
    let guess = if it.known {
        ""
    } else {
        "; a guess is in it, since the swatches of one of them don't tell what it absorbs"
    };
    let strength = format!(
        "Tinting strength: a gram absorbs {:.2} times as much as one of {} ({:.2} at {:.0} nm){guess}.",
        it.over_all, it.reference, it.at_maximum, it.nm
    );
    let deep = it.as_deep.as_ref().map_or_else(
        || format!("{} and {} don't both make this film darker, or both lighter.", of.pigment, it.reference),
        |deep| {
            format!(
                "In this film {} at {:.2} is as light or dark as {} at {:.2} (L* {:.1}): {:.2} times, {:.2} to {:.2} in 95 % of cases.",
                of.pigment, deep.load, it.reference, deep.reference_load, deep.l, deep.times, deep.from, deep.to
            )
        },
    );
    format!("{strength} {deep}")
}
