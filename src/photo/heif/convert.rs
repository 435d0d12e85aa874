//! From rows of luma and chroma to red, green and blue, without a step of rounding in between.

use super::colour::Conversion;
use super::tiles::{Plane, Rows};
use std::ops::Range;

/// A code value of the stored picture.
pub(super) trait Code: Copy + Default + Send + Sync {
    /// The largest code.
    const TOP: f32;
    /// The nearest code; what lies outside of the range becomes its end.
    fn nearest(value: f32) -> Self;
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, on purpose"
)]
impl Code for u8 {
    const TOP: f32 = 255.0;
    fn nearest(value: f32) -> Self {
        (value + 0.5) as Self
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, on purpose"
)]
impl Code for u16 {
    const TOP: f32 = 65_535.0;
    fn nearest(value: f32) -> Self {
        (value + 0.5) as Self
    }
}

/// How a picture's values become its pixels.
#[derive(Clone, Debug)]
pub(super) struct Converter {
    pub(super) conversion: Conversion,
    /// Width and height of the whole picture.
    pub(super) size: (usize, usize),
    /// Columns that are kept.
    pub(super) columns: Range<usize>,
}

impl Converter {
    /// A row of pixels into `out`, RGB interleaved, as long as the kept columns.
    pub(super) fn row<T: Code>(&self, rows: &Rows<'_>, y: usize, out: &mut [T]) {
        let mut luma = vec![0; self.size.0];
        rows.luma(y, &mut luma);
        let [cb, cr] = [Plane::Cb, Plane::Cr].map(|it| self.chroma(rows, it, y));
        let factors = self.conversion.factors.map(|row| row.map(|it| it * T::TOP));
        let offsets = self.conversion.offsets.map(|it| it * T::TOP);
        let columns = self.columns.clone();
        let values = (luma[columns.clone()].iter())
            .zip(&cb[columns.clone()])
            .zip(&cr[columns]);
        for (pixel, ((luma, cb), cr)) in out.chunks_exact_mut(3).zip(values) {
            let luma = f32::from(*luma);
            for channel in 0..3 {
                let [y, b, r] = factors[channel];
                pixel[channel] = T::nearest(y * luma + b * cb + r * cr + offsets[channel]);
            }
        }
    }

    /// A row of chroma for each column: straight lines between the samples.
    ///
    /// They lie on the even columns and between two rows, as H.265 has it where nothing else is said
    /// (`chroma_sample_loc_type` 0, annex E).
    fn chroma(&self, rows: &Rows<'_>, plane: Plane, y: usize) -> Vec<f32> {
        let (width, height) = (self.size.0.div_ceil(2), self.size.1.div_ceil(2));
        let read = |y: usize| {
            let mut row = vec![0; width];
            rows.chroma(plane, y, &mut row);
            row
        };
        let near = y / 2;
        let far = if y.is_multiple_of(2) {
            near.saturating_sub(1)
        } else {
            (near + 1).min(height - 1)
        };
        let (near, far) = (read(near), read(far));
        let both = near.iter().zip(&far);
        let line: Vec<f32> = both
            .map(|(near, far)| 0.75 * f32::from(*near) + 0.25 * f32::from(*far))
            .collect();
        let mut full = Vec::with_capacity(2 * width);
        for (index, it) in line.iter().enumerate() {
            let next = line.get(index + 1).unwrap_or(it);
            full.extend([*it, 0.5 * (it + next)]);
        }
        full
    }
}
