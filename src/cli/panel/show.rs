//! `masstone panel show`: a panel as a table and as a drawing.

use super::super::failure::{Exit, Failure, printable};
use super::super::stdout;
use super::columns::lay_out;
use masstone::measure::output;
use masstone::panel::{self, Control, KnownColour, Panel, Patch, Place, PlacedCard, Side};
use std::io;
use std::path::PathBuf;

/// Show a panel as a table, and as a drawing to lay out the board from.
///
/// The drawing is true to scale in millimetres, with running dimensions from the board's edges.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The panel file, or a card file.
    #[arg(value_name = "PANEL.toml")]
    panel: PathBuf,

    /// Write the drawing as SVG: printed unscaled, it is as large as the board.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,

    /// Write the drawing as PNG.
    #[arg(long, value_name = "FILE")]
    png: Option<PathBuf>,
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    // The message of a panel holds its hints, each beside its place.
    let panel = panel::read(&args.panel).map_err(|it| Failure::usage(it, ""))?;
    let sheet = panel::sheet(&panel);
    if let Some(path) = &args.svg {
        let path = output::check(path)?;
        output::replace(&path, |out| {
            out.write_all(sheet.drawing.to_svg().as_bytes())
        })?;
    }
    if let Some(path) = &args.png {
        let path = output::check(path)?;
        let png = sheet.drawing.to_png(sheet.pixels_per_mm).map_err(|it| {
            Failure::work(
                it,
                "Write the drawing with --svg, which has no limit of size.",
            )
        })?;
        output::replace(&path, |out| out.write_all(&png))?;
    }
    let width = terminal_size::terminal_size_of(io::stdout())
        .map_or(usize::MAX, |(width, _)| usize::from(width.0).max(40));
    stdout::write(|out| out.write_all(table(&panel, width).as_bytes()))?;
    Ok(Exit::Done)
}

/// The panel for people.
fn table(panel: &Panel, width: usize) -> String {
    let mut out = heading(panel);
    let rows: Vec<Vec<String>> = panel.patches.iter().map(|it| row(panel, it)).collect();
    let columns = [
        "at",
        "id",
        "name",
        "pigments (g per 100 g)",
        "lot",
        "known L* a* b*",
        "masked",
        "notes",
    ];
    out.push('\n');
    out + &lay_out(&columns, &rows, 2, width)
}

fn heading(panel: &Panel) -> String {
    let mut lines = vec![match &panel.title {
        Some(title) => format!("{}: {title}", panel.id),
        None => panel.id.clone(),
    }];
    let facts = [
        ("edition", panel.edition.clone()),
        ("colours from", panel.source.clone()),
        ("substrate", panel.substrate.clone()),
        ("coating", panel.coating.clone()),
        ("coats", panel.coats.map(number)),
        ("board", panel.board.map(|it| {
            let colour = panel.board_colour.as_ref().map(|it| format!(", L* a* b* {}", lab(it)));
            format!(
                "{}; A1 is {} mm from its left and {} mm from its top edge{}",
                size([it.width, it.height]),
                number(-it.x),
                number(-it.y),
                colour.unwrap_or_default()
            )
        })),
        ("grid", panel.grid.map(|it| {
            let [across, down] = it.pitch_mm.map(number);
            format!(
                "{} × {} patches (rows × columns) of {}, {across} mm across and {down} mm down from patch to patch",
                it.rows, it.columns, size(it.patch_mm)
            )
        })),
        ("upright", panel.upright.then(|| "photos are always upright as displayed".to_owned())),
    ];
    for (name, fact) in facts {
        lines.extend(fact.map(|it| format!("{name}: {it}")));
    }
    lines.extend(panel.cards.iter().map(card));
    lines.iter().map(|it| one_line(it) + "\n").collect()
}

fn card(placed: &PlacedCard) -> String {
    let place = match placed.place {
        Place::Anywhere => "anywhere in the photo".to_owned(),
        Place::Beside(Side::Left) => "left of the grid".to_owned(),
        Place::Beside(Side::Right) => "right of the grid".to_owned(),
        Place::Beside(Side::Top) => "above the grid".to_owned(),
        Place::Beside(Side::Bottom) => "below the grid".to_owned(),
        Place::AtMm([x, y]) => {
            let across = if x < 0.0 { "left" } else { "right" };
            let down = if y < 0.0 { "up" } else { "down" };
            format!(
                "from A1 {} mm {across} and {} mm {down}",
                number(x.abs()),
                number(y.abs())
            )
        }
    };
    let turned = match placed.turned {
        None | Some(0) => String::new(),
        Some(it) => format!(", turned by {it}° clockwise"),
    };
    format!(
        "card: {}, {}, {place}{turned}",
        placed.card.id,
        size(placed.size())
    )
}

fn row(panel: &Panel, patch: &Patch) -> Vec<String> {
    let place = format!("{}, {} mm", number(patch.rect.x), number(patch.rect.y));
    let pigments = patch
        .pigments
        .iter()
        .map(|it| format!("{} {}", it.pigment, number(it.load)));
    let mut notes = Vec::new();
    if patch.empty {
        notes.push("empty".to_owned());
    }
    notes.extend(patch.control.map(|it| match it {
        Control::Clear => "clear control".to_owned(),
        Control::ClearOnWhite => "clear control on white".to_owned(),
    }));
    if patch.cell.is_none() {
        notes.push(size([patch.rect.width, patch.rect.height]));
    }
    notes.extend(
        patch
            .wet_g_per_m2
            .map(|it| format!("{} g/m² wet", number(it))),
    );
    notes.extend(patch.substrate.clone());
    notes.extend(patch.coating.clone());
    notes.extend(patch.coats.map(|it| format!("{} coats", number(it))));
    let masked = patch
        .masked
        .filter(|_| !patch.empty && panel.patches.iter().any(|it| it.masked.is_some()));
    [
        patch.position().unwrap_or(place),
        patch.id.clone(),
        patch.name.clone().unwrap_or_default(),
        pigments.collect::<Vec<_>>().join(" + "),
        patch.lot.clone().unwrap_or_default(),
        patch.known.as_ref().map(lab).unwrap_or_default(),
        masked.map(|it| it.name().to_owned()).unwrap_or_default(),
        notes.join(", "),
    ]
    .iter()
    .map(|it| one_line(it))
    .collect()
}

/// A known colour and its uncertainty, if stated.
fn lab(known: &KnownColour) -> String {
    // Adding 0 makes a rounded negative zero positive.
    let hundredth = |it: f64| format!("{:.2}", (100.0 * it).round() / 100.0 + 0.0);
    let values = [known.lab.l, known.lab.a, known.lab.b]
        .map(hundredth)
        .join(" ");
    match known.u95 {
        Some(u95) => format!("{values} (U95 {})", number(u95)),
        None => values,
    }
}

fn size([width, height]: [f64; 2]) -> String {
    format!("{} × {} mm", number(width), number(height))
}

/// As it was written, without noise in the last digits.
fn number(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Without line ends and control characters.
fn one_line(text: &str) -> String {
    printable(&text.split_whitespace().collect::<Vec<_>>().join(" "))
}
