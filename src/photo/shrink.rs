//! A photo made smaller: the mean of boxes of pixels in linear light, in one pass over the pixels.

use super::{Photo, Pixels};

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
    ///
    /// # Panics
    ///
    /// If the encoding's tables don't have an entry for each code value.
    #[must_use]
    pub fn shrink(&self, factor: usize) -> LinearImage {
        self.means(factor, 1)
    }

    /// As [`Photo::shrink`], but of every second row only where boxes are three rows high or more: enough to find things by, in
    /// half the time.
    ///
    /// # Panics
    ///
    /// As [`Photo::shrink`].
    #[must_use]
    pub fn glance(&self, factor: usize) -> LinearImage {
        self.means(factor, if factor < 3 { 1 } else { 2 })
    }

    /// The means of boxes, of one row in `every`.
    fn means(&self, factor: usize, every: usize) -> LinearImage {
        let factor = factor.clamp(1, self.width.max(self.height));
        let tables = &self.encoding.tables;
        LinearImage {
            width: self.width.div_ceil(factor),
            height: self.height.div_ceil(factor),
            factor,
            pixels: match &self.pixels {
                Pixels::U8(codes) => means(codes, self.width, factor, every, tables),
                Pixels::U16(codes) => means(codes, self.width, factor, every, tables),
            },
        }
    }
}

/// A code value that needs no check of bounds in a table of its own length: the hot path of every photo.
trait Code: Copy {
    type Table;
    fn table(values: &[f32]) -> Option<&Self::Table>;
    fn linear(self, table: &Self::Table) -> f32;
}

impl Code for u8 {
    type Table = [f32; 256];

    fn table(values: &[f32]) -> Option<&Self::Table> {
        values.try_into().ok()
    }

    #[inline(always)]
    fn linear(self, table: &Self::Table) -> f32 {
        table[usize::from(self)]
    }
}

impl Code for u16 {
    type Table = [f32; 65_536];

    fn table(values: &[f32]) -> Option<&Self::Table> {
        values.try_into().ok()
    }

    #[inline(always)]
    fn linear(self, table: &Self::Table) -> f32 {
        table[usize::from(self)]
    }
}

/// The means of all boxes, row by row, of one row of pixels in `every`.
fn means<T: Code>(
    codes: &[T],
    width: usize,
    factor: usize,
    every: usize,
    tables: &[Vec<f32>; 3],
) -> Vec<[f32; 3]> {
    let tables = tables
        .each_ref()
        .map(|it| T::table(it).expect("a table has an entry for each code value"));
    let columns = width.div_ceil(factor);
    let mut pixels = Vec::with_capacity(columns * (codes.len() / (3 * width)).div_ceil(factor));
    let mut sums = vec![[0.0_f32; 3]; columns];
    for band in codes.chunks(3 * width * factor) {
        sums.fill([0.0; 3]);
        let all = band.len() / (3 * width);
        // Not the first of several: the middle of the box counts.
        let first = usize::from(every > 1 && all > 1);
        for row in band.chunks_exact(3 * width).skip(first).step_by(every) {
            add_row(row, factor, tables, &mut sums);
        }
        let rows = (all - first).div_ceil(every);
        pixels.extend(sums.iter().enumerate().map(|(index, sum)| {
            let columns = factor.min(width - index * factor);
            #[expect(
                clippy::cast_precision_loss,
                reason = "boxes of fewer than 2^24 pixels, else rounded"
            )]
            let share = 1.0 / (rows * columns) as f32;
            sum.map(|it| it * share)
        }));
    }
    pixels
}

/// Adds one row of codes to the sums of its boxes; sums of one run each keep the rounding of `f32` small.
fn add_row<T: Code>(row: &[T], factor: usize, tables: [&T::Table; 3], sums: &mut [[f32; 3]]) {
    // A known length lets the compiler unroll; these are the factors of 9 to 50 megapixels.
    match factor {
        3 => add_runs(row.as_chunks::<9>(), tables, sums),
        4 => add_runs(row.as_chunks::<12>(), tables, sums),
        5 => add_runs(row.as_chunks::<15>(), tables, sums),
        6 => add_runs(row.as_chunks::<18>(), tables, sums),
        7 => add_runs(row.as_chunks::<21>(), tables, sums),
        _ => {
            for (run, sum) in row.chunks(3 * factor).zip(sums) {
                add_run(run, tables, sum);
            }
        }
    }
}

#[inline(always)]
fn add_runs<T: Code, const N: usize>(
    (runs, rest): (&[[T; N]], &[T]),
    tables: [&T::Table; 3],
    sums: &mut [[f32; 3]],
) {
    for (run, sum) in runs.iter().zip(&mut *sums) {
        add_run(run, tables, sum);
    }
    if let (false, Some(sum)) = (rest.is_empty(), sums.last_mut()) {
        add_run(rest, tables, sum);
    }
}

#[inline(always)]
fn add_run<T: Code>(run: &[T], [red, green, blue]: [&T::Table; 3], sum: &mut [f32; 3]) {
    let mut of_run = [0.0_f32; 3];
    for code in run.as_chunks::<3>().0 {
        of_run[0] += code[0].linear(red);
        of_run[1] += code[1].linear(green);
        of_run[2] += code[2].linear(blue);
    }
    for (sum, part) in sum.iter_mut().zip(of_run) {
        *sum += part;
    }
}
