//! The font of drawings: glyph outlines and widths.

use ab_glyph::{Font, FontRef, OutlineCurve};
use std::sync::LazyLock;
use tiny_skia::PathBuilder;

/// Height of a capital letter as a share of the font's size: what centring text on a line needs.
pub const CAP_HEIGHT: f64 = 0.729;

static FONT: LazyLock<FontRef<'static>> = LazyLock::new(|| {
    FontRef::try_from_slice(include_bytes!("font/DejaVuSans-subset.ttf"))
        .expect("the font is part of the program")
});

/// Width of a line of text in the units of `size`, the height of the font.
#[must_use]
pub fn text_width(text: &str, size: f64) -> f64 {
    visible(text).map(advance).sum::<f64>() * size
}

/// The text, or as much of its beginning as fits into `width` with `…` after it; empty if not even that fits.
#[must_use]
pub fn shorten(text: &str, size: f64, width: f64) -> String {
    if text_width(text, size) <= width {
        return text.to_owned();
    }
    let mut left = width - text_width("…", size);
    let mut kept = String::new();
    for c in text.chars() {
        left -= text_width(c.encode_utf8(&mut [0; 4]), size);
        if left < 0.0 {
            break;
        }
        kept.push(c);
    }
    let kept = kept.trim_end();
    if kept.is_empty() {
        String::new()
    } else {
        format!("{kept}…")
    }
}

/// Breaks a text at its spaces into at most `lines` lines of `width`; what does not fit is shortened with `…`.
#[must_use]
pub fn wrap(text: &str, size: f64, width: f64, lines: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut words = text.split_whitespace().peekable();
    while let Some(word) = words.next() {
        if out.len() + 1 >= lines {
            // The last line takes all that is left.
            let rest: Vec<&str> = std::iter::once(word).chain(words).collect();
            out.push(shorten(&rest.join(" "), size, width));
            break;
        }
        let mut line = word.to_owned();
        while let Some(next) = words.peek() {
            let longer = format!("{line} {next}");
            if text_width(&longer, size) > width {
                break;
            }
            line = longer;
            words.next();
        }
        out.push(shorten(&line, size, width));
    }
    out.retain(|it| !it.is_empty());
    out.truncate(lines);
    out
}

/// The outlines of a line of text as one path, its baseline's left end at (0, 0), one unit for the height of the font, y down.
pub(super) fn outline(text: &str) -> Option<tiny_skia::Path> {
    let mut path = PathBuilder::new();
    let mut x = 0.0;
    for c in visible(text) {
        let glyph = FONT.glyph_id(c);
        if let Some(outline) = FONT.outline(glyph) {
            append(&mut path, &outline.curves, x);
        }
        x += advance(c);
    }
    path.finish()
}

/// Characters that take up a place. Marks that only direct the order of writing are not shown.
fn visible(text: &str) -> impl Iterator<Item = char> {
    text.chars().filter(|c| {
        !matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
    })
}

/// Width of a character in em.
fn advance(c: char) -> f64 {
    f64::from(FONT.h_advance_unscaled(FONT.glyph_id(c))) / units_per_em()
}

fn units_per_em() -> f64 {
    f64::from(FONT.units_per_em().unwrap_or(2048.0))
}

/// Adds one glyph's contours at `x` em.
fn append(path: &mut PathBuilder, curves: &[OutlineCurve], x: f64) {
    let place = |p: ab_glyph::Point| {
        let em = units_per_em();
        (
            single(x + f64::from(p.x) / em),
            single(-f64::from(p.y) / em),
        )
    };
    let mut end: Option<ab_glyph::Point> = None;
    for curve in curves {
        let (start, stop) = match curve {
            OutlineCurve::Line(a, b)
            | OutlineCurve::Quad(a, _, b)
            | OutlineCurve::Cubic(a, _, _, b) => (*a, *b),
        };
        if end != Some(start) {
            if end.is_some() {
                path.close();
            }
            let (x, y) = place(start);
            path.move_to(x, y);
        }
        let (x, y) = place(stop);
        match curve {
            OutlineCurve::Line(..) => path.line_to(x, y),
            OutlineCurve::Quad(_, c, _) => {
                let (cx, cy) = place(*c);
                path.quad_to(cx, cy, x, y);
            }
            OutlineCurve::Cubic(_, c, d, _) => {
                let ((cx, cy), (dx, dy)) = (place(*c), place(*d));
                path.cubic_to(cx, cy, dx, dy, x, y);
            }
        }
        end = Some(stop);
    }
    if end.is_some() {
        path.close();
    }
}

/// Pixels are single precision.
#[expect(
    clippy::cast_possible_truncation,
    reason = "places on a picture need no more digits; too large becomes infinite and is not drawn"
)]
pub(super) fn single(value: f64) -> f32 {
    value as f32
}

/// Whether the font has a glyph of its own for a character.
#[cfg(test)]
pub(super) fn has(c: char) -> bool {
    FONT.glyph_id(c).0 != 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_text_is_shortened_to_the_width_and_short_text_is_not() {
        let text = "blue-shade red iron oxide";
        let width = text_width(text, 10.0);
        assert_eq!(shorten(text, 10.0, width), text);
        for share in [0.9, 0.5, 0.2, 0.05] {
            let short = shorten(text, 10.0, share * width);
            assert!(text_width(&short, 10.0) <= share * width, "{short}");
            assert!(short.ends_with('…') || short.is_empty());
        }
        assert_eq!(shorten(text, 10.0, 1.0), "");
    }

    #[test]
    fn text_is_broken_at_spaces_and_loses_nothing_that_fits() {
        let text = "blue-shade red iron oxide";
        let lines = wrap(text, 10.0, text_width("blue-shade red", 10.0), 3);
        assert_eq!(lines, ["blue-shade red", "iron oxide"]);
        let lines = wrap(text, 10.0, text_width("blue-shade", 10.0), 2);
        assert_eq!(lines[0], "blue-shade");
        assert!(
            lines[1].starts_with("red") && lines[1].ends_with('…'),
            "{lines:?}"
        );
        assert!(wrap(text, 10.0, 0.0, 2).is_empty());
        assert!(wrap("", 10.0, 100.0, 2).is_empty());
    }
}
