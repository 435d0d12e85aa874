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
