//! A photo made smaller: the mean of boxes of pixels in linear light, in one pass over the pixels.

use super::{Encoding, Photo, Pixels};

/// A shrunk photo in linear light, stored orientation.
#[derive(Clone, Debug)]
pub struct LinearImage {
    /// Width in its own pixels.
    pub width: usize,
    /// Height in its own pixels.
    pub height: usize,
    /// Stored pixels per pixel of this image (a whole number, at least 1).
    pub factor: usize,
    /// Linear RGB, row by row.
    pub pixels: Vec<[f32; 3]>,
}

impl Photo {
    /// The photo with each side divided by `factor` (rounded up): pixel (x, y) is the mean, in linear light, of the
    /// stored pixels from (`factor` x, `factor` y) on, up to the photo's edge. A `factor` of 0 counts as 1.
    #[must_use]
    pub fn shrink(&self, factor: usize) -> LinearImage {
        let factor = factor.clamp(1, self.width.max(self.height));
        let (width, height) = (self.width.div_ceil(factor), self.height.div_ceil(factor));
        let mut pixels = Vec::with_capacity(width * height);
        let rows = 3 * self.width * factor;
        match &self.pixels {
            Pixels::U8(codes) => {
                for band in codes.chunks(rows) {
                    self.shrink_band(band, factor, &mut pixels, &self.encoding);
                }
            }
            Pixels::U16(codes) => {
                for band in codes.chunks(rows) {
                    self.shrink_band(band, factor, &mut pixels, &self.encoding);
                }
            }
        }
        LinearImage {
            width,
            height,
            factor,
            pixels,
        }
    }

    /// One row of the shrunk picture from up to `factor` rows of codes.
    fn shrink_band<T: Copy + Into<usize>>(
        &self,
        band: &[T],
        factor: usize,
        out: &mut Vec<[f32; 3]>,
        encoding: &Encoding,
    ) {
        let [red, green, blue] = &encoding.tables;
        let start = out.len();
        out.resize(start + self.width.div_ceil(factor), [0.0; 3]);
        let sums = &mut out[start..];
        let rows = band.len() / (3 * self.width);
        for row in band.chunks_exact(3 * self.width) {
            for (run, sum) in row.chunks(3 * factor).zip(sums.iter_mut()) {
                // Sums of one run each keep the rounding of f32 far below a code value.
                let mut of_run = [0.0_f32; 3];
                for code in run.chunks_exact(3) {
                    of_run[0] += red[code[0].into()];
                    of_run[1] += green[code[1].into()];
                    of_run[2] += blue[code[2].into()];
                }
                for (sum, part) in sum.iter_mut().zip(of_run) {
                    *sum += part;
                }
            }
        }
        for (index, sum) in sums.iter_mut().enumerate() {
            let columns = factor.min(self.width - index * factor);
            #[expect(
                clippy::cast_precision_loss,
                reason = "boxes of fewer than 2^24 pixels, else rounded"
            )]
            let share = 1.0 / (rows * columns) as f32;
            *sum = sum.map(|it| it * share);
        }
    }
}
