//! Words that answers about mixtures have in common.

use super::super::columns::one_line;
use super::super::table::{Colour, Terminal};
use anstyle::{AnsiColor, Style};
use masstone::mix::answer::Shade;
use masstone::mix::shelf::Shelf;
use masstone::plan::steps::standing_text;
use masstone::plan::{Standing, Verdict};
use std::io::{self, Write};

/// `240 g/m² (3 coats)`; coats alone where nobody knows what one takes.
pub(super) fn amount(g_per_m2: f64, shelf: &Shelf) -> String {
    amount_of(
        g_per_m2,
        g_per_m2 / shelf.per_coat.g_per_m2,
        shelf.per_coat.is_nominal(),
    )
}

/// The same from its figures.
pub(super) fn amount_of(g_per_m2: f64, coats: f64, nominal: bool) -> String {
    let rounded = (coats * 10.0).round() / 10.0;
    let coats = if (rounded - 1.0).abs() < 1e-9 {
        "1 coat".to_owned()
    } else {
        format!("{rounded} coats")
    };
    if nominal {
        coats
    } else {
        format!("{g_per_m2:.0} g/m² ({coats})")
    }
}

/// Its hex, marked where the screen can't show the colour.
pub(super) fn hex(shade: &Shade) -> String {
    if shade.in_srgb {
        shade.hex.clone()
    } else {
        format!("{} (outside sRGB: near)", shade.hex)
    }
}

/// In red where the terminal has colours.
pub(super) fn red(text: &str, terminal: Terminal) -> String {
    if terminal.colour == Colour::None {
        return text.to_owned();
    }
    let style = Style::new().bold().fg_color(Some(AnsiColor::Red.into()));
    format!("{style}{text}{style:#}")
}

/// How loads stand to the tested limits, in red beyond them.
pub(super) fn standing(it: &Standing, terminal: Terminal) -> String {
    let text = one_line(&standing_text(it));
    match it.verdict {
        Verdict::Clear => "no pigment".to_owned(),
        Verdict::Beyond => red(&text, terminal),
        _ => text,
    }
}

/// A heading and its lines, if there are any.
pub(super) fn listed(title: &str, all: &[String], out: &mut dyn Write) -> io::Result<()> {
    if all.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{title}")?;
    for it in all {
        writeln!(out, "- {}", one_line(it))?;
    }
    Ok(())
}
