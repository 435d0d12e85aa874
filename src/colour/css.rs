//! Colours as CSS writes them.
//!
//! Hexadecimal and named colours, `rgb()`, `lab()`, `lch()`, `oklab()` and `oklch()` of CSS Color Module Level 4, without alpha (an
//! opaque 1 may stand there) and without `none`, `calc()` and relative colours.

use super::{Lab, srgb};
use palette::Oklab;

/// The colour, D50; `None` if the text is none of these, or not opaque.
#[must_use]
pub fn parse(text: &str) -> Option<Lab> {
    let text = text.trim().to_lowercase();
    if let Some(digits) = text.strip_prefix('#') {
        return hexadecimal(digits).map(srgb::from_rgb8);
    }
    let Some((function, rest)) = text.split_once('(') else {
        let named = palette::named::from_str(&text)?;
        return Some(srgb::from_rgb8([named.red, named.green, named.blue]));
    };
    let arguments = rest.strip_suffix(')')?;
    let [x, y, z] = three(arguments)?;
    match function.trim() {
        "rgb" | "rgba" => {
            let linear = [x, y, z].map(|it| Some(srgb::decode(number(it, 255.0)? / 255.0)));
            let [Some(r), Some(g), Some(b)] = linear else {
                return None;
            };
            Some(srgb::RgbSpace::Srgb.lab([r, g, b]))
        }
        "lab" => Some(Lab::new(
            number(x, 100.0)?,
            number(y, 125.0)?,
            number(z, 125.0)?,
        )),
        "lch" => {
            let (a, b) = polar(number(y, 150.0)?, angle(z)?);
            Some(Lab::new(number(x, 100.0)?, a, b))
        }
        "oklab" => Some(srgb::from_oklab(Oklab::new(
            number(x, 1.0)?,
            number(y, 0.4)?,
            number(z, 0.4)?,
        ))),
        "oklch" => {
            let (a, b) = polar(number(y, 0.4)?, angle(z)?);
            Some(srgb::from_oklab(Oklab::new(number(x, 1.0)?, a, b)))
        }
        _ => None,
    }
}

fn hexadecimal(digits: &str) -> Option<[u8; 3]> {
    if !digits.bytes().all(|it| it.is_ascii_hexdigit()) {
        return None;
    }
    let digit = |at: usize| u8::from_str_radix(digits.get(at..=at)?, 16).ok();
    let pair = |at: usize| u8::from_str_radix(digits.get(at..at + 2)?, 16).ok();
    match digits.len() {
        3 => Some([17 * digit(0)?, 17 * digit(1)?, 17 * digit(2)?]),
        4 if digit(3)? == 15 => Some([17 * digit(0)?, 17 * digit(1)?, 17 * digit(2)?]),
        6 => Some([pair(0)?, pair(2)?, pair(4)?]),
        8 if pair(6)? == 255 => Some([pair(0)?, pair(2)?, pair(4)?]),
        _ => None,
    }
}

/// Three arguments, and an alpha of 1 if any.
fn three(arguments: &str) -> Option<[&str; 3]> {
    let (arguments, alpha) = match arguments.split_once('/') {
        Some((arguments, alpha)) => (arguments, Some(alpha.trim())),
        None => (arguments, None),
    };
    let mut words: Vec<&str> = arguments
        .split(|it: char| it == ',' || it.is_whitespace())
        .filter(|it| !it.is_empty())
        .collect();
    let alpha = if words.len() == 4 { words.pop() } else { alpha };
    let opaque = |it: &str| number(it, 1.0).is_some_and(|it| it >= 1.0);
    match (words[..].try_into().ok(), alpha) {
        (Some(words), None) => Some(words),
        (Some(words), Some(alpha)) if opaque(alpha) => Some(words),
        _ => None,
    }
}

/// A number, or a percentage of `whole`.
fn number(text: &str, whole: f64) -> Option<f64> {
    let it = match text.strip_suffix('%') {
        Some(percent) => percent.parse::<f64>().ok()? * whole / 100.0,
        None => text.parse().ok()?,
    };
    it.is_finite().then_some(it)
}

/// Degrees.
fn angle(text: &str) -> Option<f64> {
    let (number, degrees) = [
        ("deg", 1.0),
        ("grad", 0.9),
        ("rad", 180.0 / std::f64::consts::PI),
        ("turn", 360.0),
    ]
    .into_iter()
    .find_map(|(unit, degrees)| Some((text.strip_suffix(unit)?, degrees)))
    .unwrap_or((text, 1.0));
    let it = number.parse::<f64>().ok()? * degrees;
    it.is_finite().then_some(it)
}

fn polar(chroma: f64, degrees: f64) -> (f64, f64) {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (chroma * cos, chroma * sin)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::difference::delta_e_76;

    fn same(one: &str, other: &str, within: f64) {
        let (a, b) = (parse(one).unwrap(), parse(other).unwrap());
        assert!(delta_e_76(a, b) <= within, "{one} {a:?}, {other} {b:?}");
    }

    #[test]
    fn one_colour_in_every_form() {
        // #c65d06 is L* 52.312, a* 40.031, b* 60.101 after Bradford to D50 by colour-science 0.4.7, whose sRGB matrix has the four decimals of
        // IEC 61966-2-1: Lab differs by up to 0.02 from that of the exact primaries.
        same("#c65d06", "lab(52.312 40.031 60.101)", 2e-2);
        same("#C65D06FF", "rgb(198 93 6)", 1e-9);
        same(
            "rgb(198, 93, 6)",
            "rgb(77.6470588% 36.4705882% 2.3529412% / 100%)",
            1e-6,
        );
        same(
            "lch(52.312 72.2112 56.334deg)",
            "lab(52.312% 40.031 60.101)",
            1e-2,
        );
        same("#F00", "red", 1e-9);
        // Pairs of the public test suites of CSS Color 4, to the digits that they have.
        same(
            "oklab(40.101% 0.1147 0.0453)",
            "lab(29.2345% 39.3825 20.0664)",
            0.05,
        );
        for (text, hex) in [
            ("lab(29.2345% 39.3825 20.0664)", "#7d2329"),
            ("lch(29.2345% 44.2 27)", "#7d2329"),
            ("lab(52.2345% 40.1645 59.9971)", "#c65d06"),
        ] {
            assert_eq!(srgb::to_hex(parse(text).unwrap()), hex, "{text}");
        }
        same(
            "oklch(40.101% 0.12332 21.555)",
            "oklab(40.101% 0.1147 0.0453)",
            0.05,
        );
    }

    #[test]
    fn what_is_no_colour() {
        for bad in [
            "",
            "#12",
            "#12345g",
            "#ffffff80",
            "rgb(1 2)",
            "rgb(1 2 3",
            "lab(nan 0 0)",
            "hsl(0 0 0)",
            "no colour",
            "#é23",
            "lab(50 0 0 / 0.5)",
        ] {
            assert!(parse(bad).is_none(), "{bad}");
        }
    }
}
