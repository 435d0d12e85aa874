//! Drawings as SVG text.

use super::{Anchor, Colour, Drawing, Shape, Stroke, Text, Unit};
use std::fmt::Write as _;

/// The whole document.
pub(super) fn write(drawing: &Drawing) -> String {
    let unit = match drawing.unit {
        Unit::Millimetre => "mm",
        Unit::Pixel => "",
    };
    let (width, height) = (number(drawing.width), number(drawing.height));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" \
         width=\"{width}{unit}\" height=\"{height}{unit}\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"'DejaVu Sans', sans-serif\">\n"
    );
    if let Some(title) = &drawing.title {
        out += &format!("<title>{}</title>\n", escaped(title));
    }
    for shape in drawing.shapes.iter().filter(|it| it.is_drawable(1.0)) {
        match shape {
            Shape::Polygon {
                points,
                fill,
                stroke,
            } => {
                let style = fill_of(*fill) + &stroke_of(stroke.as_ref());
                out += &format!("<polygon points=\"{}\"{style}/>\n", list(points));
            }
            Shape::Line { points, stroke } => {
                let style = fill_of(None) + &stroke_of(Some(stroke));
                out += &format!("<polyline points=\"{}\"{style}/>\n", list(points));
            }
            Shape::Circle {
                centre,
                radius,
                fill,
                stroke,
            } => {
                let style = fill_of(*fill) + &stroke_of(stroke.as_ref());
                let ([x, y], r) = (centre.map(number), number(*radius));
                out += &format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"{style}/>\n");
            }
            Shape::Text(text) => out += &text_of(text),
        }
    }
    out + "</svg>\n"
}

fn text_of(text: &Text) -> String {
    let [x, y] = text.at.map(number);
    let anchor = match text.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let mut place = format!(
        " x=\"{x}\" y=\"{y}\" font-size=\"{}\" text-anchor=\"{anchor}\"",
        number(text.size)
    );
    if text.turned != 0.0 {
        place += &format!(" transform=\"rotate({} {x} {y})\"", number(text.turned));
    }
    let words = escaped(&text.text);
    let letters = fill_of(Some(text.colour));
    let mut out = String::new();
    if let Some(halo) = text.halo {
        // Below the letters as a text of its own: not every viewer knows `paint-order`, and would hide them.
        let rim = fill_of(None) + &stroke_of(Some(&Stroke::solid(halo.colour, 2.0 * halo.width)));
        out += &format!("<text{place}{rim} aria-hidden=\"true\">{words}</text>\n");
    }
    out + &format!("<text{place}{letters}>{words}</text>\n")
}

fn fill_of(fill: Option<Colour>) -> String {
    match fill {
        None => " fill=\"none\"".to_owned(),
        Some(colour) => format!(
            " fill=\"{}\"{}",
            hex(colour),
            opacity("fill-opacity", colour)
        ),
    }
}

fn stroke_of(stroke: Option<&Stroke>) -> String {
    let Some(stroke) = stroke else {
        return String::new();
    };
    let mut out = format!(
        " stroke=\"{}\"{} stroke-width=\"{}\" stroke-linejoin=\"round\"",
        hex(stroke.colour),
        opacity("stroke-opacity", stroke.colour),
        number(stroke.width)
    );
    if let Some([line, gap]) = stroke.drawable_dash() {
        out += &format!(" stroke-dasharray=\"{} {}\"", number(line), number(gap));
    }
    out
}

fn hex(colour: Colour) -> String {
    let [r, g, b] = colour.rgb;
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn opacity(name: &str, colour: Colour) -> String {
    if colour.alpha == u8::MAX {
        String::new()
    } else {
        format!(" {name}=\"{}\"", number(f64::from(colour.alpha) / 255.0))
    }
}

fn list(points: &[[f64; 2]]) -> String {
    let mut out = String::new();
    for (i, point) in points.iter().enumerate() {
        let gap = if i == 0 { "" } else { " " };
        let [x, y] = point.map(number);
        write!(out, "{gap}{x},{y}").expect("a string takes all that is written");
    }
    out
}

/// At most three decimals, no trailing zeros and no negative zero.
fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// Text as XML 1.0 allows it; a character that XML has no way to hold becomes U+FFFD.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out += "&amp;",
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '"' => out += "&quot;",
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::Halo;
    use super::*;

    #[test]
    fn every_kind_of_shape_is_written_as_it_should_be() {
        let red = Colour::rgb(255, 0, 16);
        let mut drawing = Drawing::new(100.0, 50.5, Unit::Millimetre);
        drawing.title = Some("Ochre & <umber>".to_owned());
        drawing.shapes.push(Shape::Polygon {
            points: vec![[0.0, 0.0], [10.12345, 0.0], [-0.0001, 5.0]],
            fill: Some(red.with_alpha(51)),
            stroke: Some(Stroke {
                dash: Some([2.0, 1.0]),
                ..Stroke::solid(Colour::BLACK, 0.25)
            }),
        });
        drawing.line([0.0, 0.0], [1.0, 1.0], Stroke::solid(red, 1.0));
        drawing.shapes.push(Shape::Circle {
            centre: [5.0, 6.0],
            radius: 2.0,
            fill: None,
            stroke: Some(Stroke::solid(red, 1.0)),
        });
        drawing.text(Text {
            turned: -90.0,
            halo: Some(Halo {
                colour: Colour::WHITE,
                width: 0.5,
            }),
            ..Text::new([1.0, 2.0], 3.0, Anchor::Middle, "\"A\u{1}\" < B", red)
        });
        // Not finite: left out.
        drawing.line([0.0, f64::NAN], [1.0, 1.0], Stroke::solid(red, 1.0));
        assert_eq!(
            drawing.to_svg(),
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
            <svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"50.5mm\" viewBox=\"0 0 100 50.5\" \
            font-family=\"'DejaVu Sans', sans-serif\">\n\
            <title>Ochre &amp; &lt;umber&gt;</title>\n\
            <polygon points=\"0,0 10.123,0 0,5\" fill=\"#ff0010\" fill-opacity=\"0.2\" stroke=\"#000000\" \
            stroke-width=\"0.25\" stroke-linejoin=\"round\" stroke-dasharray=\"2 1\"/>\n\
            <polyline points=\"0,0 1,1\" fill=\"none\" stroke=\"#ff0010\" stroke-width=\"1\" stroke-linejoin=\"round\"/>\n\
            <circle cx=\"5\" cy=\"6\" r=\"2\" fill=\"none\" stroke=\"#ff0010\" stroke-width=\"1\" stroke-linejoin=\"round\"/>\n\
            <text x=\"1\" y=\"2\" font-size=\"3\" text-anchor=\"middle\" transform=\"rotate(-90 1 2)\" fill=\"none\" \
            stroke=\"#ffffff\" stroke-width=\"1\" stroke-linejoin=\"round\" aria-hidden=\"true\">\
            &quot;A\u{fffd}&quot; &lt; B</text>\n\
            <text x=\"1\" y=\"2\" font-size=\"3\" text-anchor=\"middle\" transform=\"rotate(-90 1 2)\" fill=\"#ff0010\">\
            &quot;A\u{fffd}&quot; &lt; B</text>\n</svg>\n"
        );
    }
}
