//! What luma and chroma mean: from code values to encoded red, green and blue.
//!
//! The decoder's own conversion takes what is not said as BT.709 in limited range and doesn't look into the bit stream; phones
//! write BT.601 in full range and say so there only, or nowhere. It would be wrong by about 8 codes of 255.

use super::stream::{Signal, UNSPECIFIED};
use crate::photo::error::Problem;

/// From luma and chroma codes to red, green and blue, 0–1: a row of factors a channel, and what is added.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Conversion {
    pub(super) factors: [[f32; 3]; 3],
    pub(super) offsets: [f32; 3],
}

/// What the values mean: the colour box first, then the bit stream for what that leaves open.
///
/// What neither says is BT.601 in full range, the default of ISO/IEC 23000-22, 7.3.6.4 (from memory), and what phones that do say
/// it write. libheif 1.15 and 1.23 go by H.265 alone, where a silent stream is in limited range. Such a photo is flagged, as
/// its colour space is assumed, too.
pub(super) fn signal(boxed: Option<Signal>, streamed: Option<Signal>) -> Signal {
    let nothing = Signal {
        primaries: UNSPECIFIED,
        transfer: UNSPECIFIED,
        matrix: UNSPECIFIED,
        full_range: true,
    };
    let (Some(first), second) = (boxed.or(streamed), streamed.unwrap_or(nothing)) else {
        return nothing;
    };
    let or = |one, other| if one == UNSPECIFIED { other } else { one };
    Signal {
        primaries: or(first.primaries, second.primaries),
        transfer: or(first.transfer, second.transfer),
        matrix: or(first.matrix, second.matrix),
        full_range: first.full_range,
    }
}

/// The conversion for values of `depth` bits.
///
/// # Errors
///
/// If the matrix is one that isn't read.
///
/// # Source
///
/// ITU-T H.273 (07/2021), 8.3: equations 20–31 (ranges), 38–43 (matrices), table 4 (weights).
pub(super) fn conversion(signal: Signal, depth: u32) -> Result<Conversion, Problem> {
    let step = f64::from(1_u32 << (depth - 8));
    let top = f64::from((1_u32 << depth) - 1);
    // Black, white less black, half of chroma, chroma's span.
    let (black, luma, middle, chroma) = if signal.full_range {
        (0.0, top, 128.0 * step, top)
    } else {
        (16.0 * step, 219.0 * step, 128.0 * step, 224.0 * step)
    };
    let (red, blue) = match signal.matrix {
        1 => (0.2126, 0.0722),
        4 => (0.30, 0.11),
        UNSPECIFIED | 5 | 6 => (0.299, 0.114),
        7 => (0.212, 0.087),
        9 => (0.2627, 0.0593),
        other => {
            return Err(Problem::ColourStatement(format!(
                "code point {other} for the matrix of luma and chroma"
            )));
        }
    };
    let green = 1.0 - red - blue;
    let [to_red, to_blue] = [red, blue].map(|it| 2.0 * (1.0 - it) / chroma);
    let y = 1.0 / luma;
    let factors = [
        [y, 0.0, to_red],
        [y, -to_blue * blue / green, -to_red * red / green],
        [y, to_blue, 0.0],
    ];
    let offsets = factors.map(|[y, cb, cr]| -y * black - (cb + cr) * middle);
    Ok(rounded(factors, offsets))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "24 bits are enough for values of at most 16"
)]
fn rounded(factors: [[f64; 3]; 3], offsets: [f64; 3]) -> Conversion {
    Conversion {
        factors: factors.map(|row| row.map(|it| it as f32)),
        offsets: offsets.map(|it| it as f32),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SAID: Signal = Signal {
        primaries: 1,
        transfer: 13,
        matrix: 6,
        full_range: true,
    };

    fn rgb(signal: Signal, depth: u32, codes: [f32; 3]) -> [f32; 3] {
        let it = conversion(signal, depth).unwrap();
        [0, 1, 2].map(|channel| {
            let of = it.factors[channel].iter().zip(codes).map(|(a, b)| a * b);
            of.sum::<f32>() + it.offsets[channel]
        })
    }

    fn near(found: [f32; 3], known: [f32; 3]) {
        assert!(
            found.iter().zip(known).all(|(a, b)| (a - b).abs() < 5e-6),
            "{found:?} is not {known:?}"
        );
    }

    /// By hand from H.273: white, black, and the primaries' own luma and chroma, in both ranges and depths.
    #[test]
    fn codes_have_the_colours_of_the_standard() {
        near(rgb(SAID, 8, [255.0, 128.0, 128.0]), [1.0; 3]);
        near(rgb(SAID, 10, [1023.0, 512.0, 512.0]), [1.0; 3]);
        // Red in BT.601: 0.299, −0.299 / 1.772, 0.5.
        let red = [0.299 * 255.0, 128.0 - 255.0 * 0.299 / 1.772, 128.0 + 127.5];
        near(rgb(SAID, 8, red), [1.0, 0.0, 0.0]);
        let limited = Signal {
            matrix: 1,
            full_range: false,
            ..SAID
        };
        near(rgb(limited, 8, [16.0, 128.0, 128.0]), [0.0; 3]);
        near(rgb(limited, 10, [940.0, 512.0, 512.0]), [1.0; 3]);
        // Blue in BT.709: 0.0722, 0.5, −0.0722 / 1.5748.
        let blue = [
            16.0 + 219.0 * 0.0722,
            128.0 + 112.0,
            128.0 - 224.0 * 0.0722 / 1.5748,
        ];
        near(rgb(limited, 8, blue), [0.0, 0.0, 1.0]);
    }

    #[test]
    fn the_box_comes_first_and_the_stream_fills_in() {
        let boxed = Signal {
            matrix: UNSPECIFIED,
            full_range: false,
            ..SAID
        };
        let streamed = Signal {
            primaries: 9,
            matrix: 9,
            ..SAID
        };
        let both = signal(Some(boxed), Some(streamed));
        assert_eq!(
            (both.primaries, both.matrix, both.full_range),
            (1, 9, false)
        );
        assert_eq!(signal(None, Some(streamed)), streamed);
        let nothing = signal(None, None);
        assert!(nothing.full_range && nothing.primaries == UNSPECIFIED);
        let other = Signal { matrix: 8, ..SAID };
        assert!(conversion(other, 8).unwrap_err().to_string().contains('8'));
    }
}
