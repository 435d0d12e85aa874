//! XYZ to the bytes of a screen, for pictures: clipped channel by channel, fast enough for a million pixels.

use crate::colour::Matrix;
use crate::colour::srgb::{RgbSpace, encode};
use std::sync::LazyLock;

/// Entries of the table from linear light to bytes: near black, where sRGB is steepest, a step is a fifth of a code.
const ENTRIES: u16 = 1 << 14;

static CODES: LazyLock<Vec<u8>> = LazyLock::new(|| {
    (0..=ENTRIES)
        .map(|it| byte(255.0 * encode(f64::from(it) / f64::from(ENTRIES))))
        .collect()
});

/// XYZ relative to D50 to linear sRGB.
pub(super) fn from_xyz() -> Matrix {
    RgbSpace::Srgb
        .linear_to_xyz_d50()
        .try_inverse()
        .expect("the primaries are independent")
}

/// Linear sRGB, any value, to bytes; clipped.
pub(super) fn bytes(linear: [f64; 3]) -> [u8; 3] {
    let codes = &*CODES;
    linear.map(|it| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to the table; NaN becomes 0"
        )]
        let entry = (it.clamp(0.0, 1.0) * f64::from(ENTRIES) + 0.5) as usize;
        codes.get(entry).copied().unwrap_or(u8::MAX)
    })
}

/// The nearest byte.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped; NaN becomes 0"
)]
pub(super) fn byte(value: f64) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::srgb::decode;

    #[test]
    fn every_code_comes_back() {
        for code in 0..=u8::MAX {
            let linear = decode(f64::from(code) / 255.0);
            assert_eq!(bytes([linear; 3]), [code; 3]);
        }
        assert_eq!(bytes([-0.5, 7.0, f64::NAN]), [0, 255, 0]);
    }
}
