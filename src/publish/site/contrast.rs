//! Text that can be read: contrast by WCAG 2.2.

use crate::colour::Lab;
use crate::colour::srgb::{decode, to_rgb8};

/// What text needs at least, level AA (success criterion 1.4.3).
pub(super) const AA: f64 = 4.5;

/// Relative luminance of 8-bit sRGB, 0–1.
///
/// # Source
/// WCAG 2.2, "relative luminance"; linear light by IEC 61966-2-1.
pub(super) fn luminance(rgb: [u8; 3]) -> f64 {
    let [r, g, b] = rgb.map(|it| decode(f64::from(it) / 255.0));
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// Contrast ratio, 1–21.
///
/// # Source
/// WCAG 2.2, "contrast ratio".
pub(super) fn ratio(one: [u8; 3], other: [u8; 3]) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Black or white, whichever is seen better on a colour: one of them has at least √21 = 4.58.
pub(super) fn ink(on: [u8; 3]) -> &'static str {
    if ratio(on, [0; 3]) >= ratio(on, [255; 3]) {
        "#000"
    } else {
        "#fff"
    }
}

/// A colour of this hue that can be read as text on a ground: made darker or lighter until it has [`AA`].
pub(super) fn legible(colour: Lab, ground: [u8; 3]) -> [u8; 3] {
    let step = if luminance(ground) > 0.18 { -1.0 } else { 1.0 };
    let mut it = colour;
    loop {
        let rgb = to_rgb8(it);
        let end = !(0.0..=100.0).contains(&(it.l + step));
        if ratio(rgb, ground) >= AA || end {
            return rgb;
        }
        it = Lab::new(it.l + step, it.a, it.b);
    }
}

/// As `#rrggbb`.
pub(super) fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Ratios that the WCAG working group's own texts name: #767676 is the lightest grey that passes on white (4.54), #777 just fails (4.48).
    #[test]
    fn published_ratios() {
        let close = |a: f64, b: f64| (a - b).abs() < 0.005;
        assert!(close(ratio([0; 3], [255; 3]), 21.0));
        assert!(close(ratio([0x76; 3], [255; 3]), 4.54));
        assert!(close(ratio([0x77; 3], [255; 3]), 4.48));
    }

    proptest! {
        #[test]
        fn text_on_any_colour_can_be_read(rgb in any::<[u8; 3]>()) {
            let ink = if ink(rgb) == "#000" { [0; 3] } else { [255; 3] };
            prop_assert!(ratio(rgb, ink) >= AA);
        }

        #[test]
        fn any_accent_can_be_read(l in 0.0..100.0_f64, a in -100.0..100.0_f64, b in -100.0..100.0_f64, dark in any::<bool>()) {
            let ground = if dark { [0x17; 3] } else { [0xf3; 3] };
            prop_assert!(ratio(legible(Lab::new(l, a, b), ground), ground) >= AA);
        }
    }
}
