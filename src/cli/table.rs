//! Readings as a table for people.

use super::failure::printable;
use super::width::{cut, pad};
use anstyle::{Ansi256Color, Color, RgbColor, Style};
use masstone::colour::Lab;
use masstone::colour::srgb::to_rgb8;
use masstone::record::csv::word;
use masstone::record::{Half, PhotoEntry, Reading, Record};
use std::io::{self, Write};
use unicode_width::UnicodeWidthStr;

/// What the terminal can do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Terminal {
    /// Columns, at least 40; as many as it takes where there is no terminal.
    pub(super) width: usize,
    /// How colour can be shown.
    pub(super) colour: Colour,
}

/// How colour can be shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Colour {
    /// Not at all.
    None,
    /// The nearest of a palette of 256.
    Palette,
    /// As it is.
    True,
}

impl Terminal {
    /// The one that standard output goes to.
    pub(super) fn of_stdout() -> Self {
        let choice = anstream::AutoStream::choice(&io::stdout());
        let true_colour =
            std::env::var("COLORTERM").is_ok_and(|it| it == "truecolor" || it == "24bit");
        Self {
            width: terminal_size::terminal_size_of(io::stdout())
                .map_or(usize::MAX, |(width, _)| usize::from(width.0).max(40)),
            colour: match (choice, true_colour) {
                (anstream::ColorChoice::Never, _) => Colour::None,
                (_, false) => Colour::Palette,
                (_, true) => Colour::True,
            },
        }
    }
}

/// Writes a table for each photo.
pub(super) fn write(record: &Record, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    for (number, photo) in record.photos.iter().enumerate() {
        if number > 0 {
            writeln!(out)?;
        }
        let readings: Vec<&Reading> = record
            .readings
            .iter()
            .filter(|it| it.photo == photo.path)
            .collect();
        heading(photo, out)?;
        table(photo, &readings, terminal, out)?;
    }
    Ok(())
}

/// What holds for all readings of a photo.
fn heading(photo: &PhotoEntry, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{}", printable(&photo.path))?;
    write!(
        out,
        "panel {}, correction {} from {}",
        printable(&photo.panel.id),
        word(&photo.correction.kind),
        super::progress::count(photo.correction.references.len(), "reference")
    )?;
    if let Some(hours) = photo.hours {
        write!(out, ", after {hours} h")?;
    }
    writeln!(out)?;
    for doubt in super::progress::doubts(photo) {
        writeln!(out, "doubtful: {}", printable(doubt))?;
    }
    Ok(())
}

/// Columns of text that fit their content; the name gives way to a narrow terminal, then the flags go on a line below.
fn table(
    photo: &PhotoEntry,
    readings: &[&Reading],
    terminal: Terminal,
    out: &mut dyn Write,
) -> io::Result<()> {
    let halves = readings.iter().any(|it| it.half != Half::Whole);
    let names: Vec<String> = readings.iter().map(|it| name(photo, &it.patch)).collect();
    let flags: Vec<String> = readings
        .iter()
        .map(|it| it.flags.iter().map(word).collect::<Vec<_>>().join(" "))
        .collect();
    let patches: Vec<String> = readings.iter().map(|it| printable(&it.patch)).collect();
    let patch_width = widest(&patches).max("patch".len());
    let half_width = if halves { "exposed".len() + 2 } else { 0 };
    let colour_width = if terminal.colour == Colour::None {
        0
    } else {
        6
    };
    let fixed = patch_width + half_width + 2 + colour_width + 7 + 8 + 8 + 7;
    let room = terminal.width.saturating_sub(fixed + 2);
    let name_width = widest(&names).clamp(
        4,
        room.saturating_sub(widest(&flags)).max(room.min(16)).max(4),
    );

    let mut head = pad("patch", patch_width);
    if halves {
        head += &pad("  half", half_width);
    }
    head += &format!("  {}", pad("name", name_width));
    if colour_width > 0 {
        head += &pad("  ", colour_width);
    }
    head += &format!("{:>7}{:>8}{:>8}{:>7}  flags", "L*", "a*", "b*", "U95");
    writeln!(out, "{head}")?;

    for (index, reading) in readings.iter().enumerate() {
        let mut row = pad(&patches[index], patch_width);
        if halves {
            row += &pad(&format!("  {}", word(&reading.half)), half_width);
        }
        row += &format!("  {}", pad(&cut(&names[index], name_width), name_width));
        if colour_width > 0 {
            row += &format!("  {}", block(reading.lab(), terminal.colour));
        }
        let numbers = [
            (7, reading.l),
            (8, reading.a),
            (8, reading.b),
            (7, reading.u95),
        ];
        for (width, value) in numbers {
            row += &value.map_or_else(
                || format!("{:>width$}", "–"),
                |it| format!("{it:>width$.2}"),
            );
        }
        let used = fixed + name_width + 2;
        if used + flags[index].width() <= terminal.width {
            row += &format!("  {}", flags[index]);
            writeln!(out, "{}", row.trim_end())?;
        } else {
            writeln!(out, "{row}")?;
            for line in wrapped(&flags[index], terminal.width.saturating_sub(4)) {
                writeln!(out, "    {line}")?;
            }
        }
    }
    Ok(())
}

/// The name of the patch for people; what it holds where it has none.
fn name(photo: &PhotoEntry, patch: &str) -> String {
    let Some(entry) = photo.panel.patches.iter().find(|it| it.id == patch) else {
        return String::new();
    };
    let pigments = || {
        let pigments = entry.pigments.iter();
        let pigments: Vec<String> = pigments
            .map(|it| format!("{} {}", it.pigment, it.load))
            .collect();
        pigments.join(" + ")
    };
    printable(&entry.name.clone().unwrap_or_else(pigments))
}

/// Four columns of the colour.
pub(super) fn block(lab: Option<Lab>, colour: Colour) -> String {
    match lab {
        Some(lab) => cells(lab, colour, 4),
        None => " ".repeat(4),
    }
}

/// So many columns of a colour; none where the terminal has no colours.
pub(super) fn cells(lab: Lab, colour: Colour, count: usize) -> String {
    let [r, g, b] = to_rgb8(lab);
    let background = match colour {
        Colour::None => return String::new(),
        Colour::True => Color::Rgb(RgbColor(r, g, b)),
        Colour::Palette => Color::Ansi256(nearest_of_256([r, g, b])),
    };
    let style = Style::new().bg_color(Some(background));
    format!("{style}{}{style:#}", " ".repeat(count))
}

/// The nearest of the palette's colour cube and grey ramp (as xterm defines them: common practice, no source).
fn nearest_of_256(rgb: [u8; 3]) -> Ansi256Color {
    let cube = |level: u8| {
        if level == 0 {
            0
        } else {
            55 + 40 * u16::from(level)
        }
    };
    let level_of = |value: u8| {
        (0..6)
            .min_by_key(|it| cube(*it).abs_diff(value.into()))
            .unwrap_or(0)
    };
    let levels = rgb.map(level_of);
    let distance = |candidate: [u16; 3]| -> u32 {
        let parts = candidate.iter().zip(rgb);
        parts
            .map(|(a, b)| u32::from(a.abs_diff(b.into())).pow(2))
            .sum()
    };
    let grey = |step: u8| 8 + 10 * u16::from(step);
    let step = (0..24)
        .min_by_key(|it| distance([grey(*it); 3]))
        .unwrap_or(0);
    if distance([grey(step); 3]) < distance(levels.map(cube)) {
        Ansi256Color(232 + step)
    } else {
        Ansi256Color(16 + 36 * levels[0] + 6 * levels[1] + levels[2])
    }
}

/// Words in lines of at most `width`.
fn wrapped(words: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn widest(texts: &[String]) -> usize {
    texts.iter().map(|it| it.width()).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_hold_as_many_words_as_fit() {
        assert_eq!(wrapped("a bb ccc", 4), ["a bb", "ccc"]);
    }

    #[test]
    fn the_palette_has_its_own_colours_exactly() {
        assert_eq!(nearest_of_256([0, 0, 0]), Ansi256Color(16));
        assert_eq!(nearest_of_256([255, 255, 255]), Ansi256Color(231));
        assert_eq!(nearest_of_256([255, 0, 0]), Ansi256Color(196));
        assert_eq!(nearest_of_256([128, 128, 128]), Ansi256Color(244));
    }
}
