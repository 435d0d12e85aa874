//! Reading one rectangle of a photo into block means, with clipping and highlights judged pixel by pixel.

use super::blocks::{Budget, Grid, Sum, grid, whole, whole_down};
use super::judge::{Fate, Seen, Verdict};
use super::layout::Spot;
use super::{LeftOut, LeftOutPixel, Reason, Region, float};
use crate::geometry::{PlaneMap, Point};
use crate::photo::{EncodingSource, Photo};

/// A code value of a stored picture.
pub(super) trait Code: Copy {
    /// The largest code.
    const MAX: usize;
    /// As an index into a table of linear values.
    fn index(self) -> usize;
}

impl Code for u8 {
    const MAX: usize = 255;
    fn index(self) -> usize {
        usize::from(self)
    }
}

impl Code for u16 {
    const MAX: usize = 65535;
    fn index(self) -> usize {
        usize::from(self)
    }
}

/// The stored picture and what its codes mean.
#[derive(Debug)]
pub(super) struct Raster<'a, T> {
    width: usize,
    height: usize,
    codes: &'a [T],
    tables: &'a [Vec<f32>; 3],
    /// Codes from here upwards count as clipped.
    high: usize,
    /// Codes up to here count as clipped.
    low: usize,
    /// Stored codes from one code of the file to the next.
    step: usize,
}

impl<'a, T: Code> Raster<'a, T> {
    pub(super) fn new(photo: &'a Photo, codes: &'a [T]) -> Self {
        // 250 and 3 of 255 are common practice for encoded values. Linear values are spread differently: the same
        // low limit is 0.0009 of the range there, and only the last 2 % of the range are near the end.
        let (high, low) = match photo.encoding.source {
            EncodingSource::Linear => (T::MAX * 98 / 100, T::MAX * 9 / 10000),
            // A sensor's ends were judged where its values were read, and have codes of their own.
            EncodingSource::Sensor => (T::MAX, 0),
            _ => (T::MAX * 250 / 255, T::MAX * 3 / 255),
        };
        Self {
            width: photo.width,
            height: photo.height,
            codes,
            tables: &photo.encoding.tables,
            high,
            low,
            step: T::MAX / ((1 << photo.bits) - 1),
        }
    }

    /// The linear step from code 1 to 2 of green in the file: what quantisation hides near the bottom.
    pub(super) fn code_step(&self) -> f64 {
        self.linear(1, 2 * self.step) - self.linear(1, self.step)
    }

    /// Linear values of the pixel at a place; none outside.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "rounded down on purpose; what is negative or too large is outside"
    )]
    pub(super) fn at(&self, x: f64, y: f64) -> Option<[f64; 3]> {
        if x < 0.0 || y < 0.0 {
            return None;
        }
        let (x, y) = (x as usize, y as usize);
        if x >= self.width || y >= self.height {
            return None;
        }
        let pixel = self.codes.get(3 * (y * self.width + x)..)?.get(..3)?;
        Some([0, 1, 2].map(|c| self.linear(c, pixel[c].index())))
    }

    fn linear(&self, channel: usize, code: usize) -> f64 {
        self.tables[channel]
            .get(code)
            .map_or(0.0, |it| f64::from(*it))
    }
}

/// Reads one rectangle. `panel` is the panel's own map, `light` the balance of channels of the light (green = 1).
pub(super) fn gather<T: Code>(
    raster: &Raster<'_, T>,
    spot: &Spot,
    panel: &PlaneMap,
    budget: Budget,
    light: [f64; 3],
) -> Region {
    let mut region = Region {
        kind: spot.kind,
        rect: spot.rect,
        outline: spot.map.outline(&spot.rect).map(|p| [p.x, p.y]),
        blocks: Vec::new(),
        pixels: 0,
        left_out: LeftOut::default(),
        at_top: 0,
        at_bottom: 0,
    };
    let Some(grid) = grid(spot, budget) else {
        region.left_out.outside = 1;
        return region;
    };
    let seen = look(raster, &grid);
    let expected = whole(grid.area / float(grid.stride * grid.stride));
    // A rim's pixels may be counted one way or the other; only what is plainly missing lies outside the photo.
    let missing = expected.saturating_sub(seen.len());
    region.left_out.outside = if float(missing) > 0.05 * float(expected) {
        missing
    } else {
        0
    };
    let verdict = Verdict::of(&seen, light);
    let mut sums = vec![Sum::default(); grid.columns * grid.rows];
    for pixel in &seen {
        region.at_top += usize::from(pixel.top);
        region.at_bottom += usize::from(pixel.bottom);
        let sum = &mut sums[pixel.block as usize];
        match verdict.on(pixel) {
            Fate::Kept => sum.add(pixel.rgb),
            Fate::ClippedHigh => region.left_out.clipped_high += 1,
            Fate::ClippedLow => region.left_out.clipped_low += 1,
            Fate::Glare => {
                region.left_out.glare += 1;
                sum.glare += 1;
            }
        }
    }
    let place = |index: usize| {
        let (column, row) = (index % grid.columns, index / grid.columns);
        let x = (float(column) + 0.5) / float(grid.columns);
        let y = (float(row) + 0.5) / float(grid.rows);
        Point::new(
            spot.rect.x + x * spot.rect.width,
            spot.rect.y + y * spot.rect.height,
        )
    };
    for (index, sum) in sums.iter().enumerate() {
        // A block that is half highlight is brightened all over; one of a few pixels at the rim is mostly noise.
        if sum.n < 4 || sum.glare > sum.n {
            region.left_out.glare += if sum.glare > 0 { sum.n } else { 0 };
            continue;
        }
        let px = spot.map.map(place(index));
        let Some(mm) = panel.unmap(px) else { continue };
        region.pixels += sum.n;
        region.blocks.push(sum.block([mm.x, mm.y], [px.x, px.y]));
    }
    region
}

/// Visits the pixels of one rectangle that [`gather`] leaves out, by the same judgement.
pub(super) fn visit_left_out<T: Code>(
    raster: &Raster<'_, T>,
    spot: &Spot,
    budget: Budget,
    light: [f64; 3],
    visit: &mut dyn FnMut(LeftOutPixel),
) {
    let Some(grid) = grid(spot, budget) else {
        return;
    };
    let seen = look(raster, &grid);
    let verdict = Verdict::of(&seen, light);
    let reason = |pixel: &Seen| match verdict.on(pixel) {
        Fate::Kept => None,
        Fate::ClippedHigh => Some(Reason::ClippedHigh),
        Fate::ClippedLow => Some(Reason::ClippedLow),
        Fate::Glare => Some(Reason::Glare),
    };
    // A block that is more highlight than not goes as a whole.
    let mut balance = vec![(0_usize, 0_usize); grid.columns * grid.rows];
    for pixel in &seen {
        let (kept, glare) = &mut balance[pixel.block as usize];
        match reason(pixel) {
            None => *kept += 1,
            Some(Reason::Glare) => *glare += 1,
            Some(_) => {}
        }
    }
    for pixel in &seen {
        let (kept, glare) = balance[pixel.block as usize];
        let with_block = (glare > kept).then_some(Reason::Glare);
        if let Some(reason) = reason(pixel).or(with_block) {
            visit(LeftOutPixel {
                at: pixel.at.map(|it| it as usize),
                side: grid.stride,
                reason,
            });
        }
    }
}

/// Collects the pixels of the rectangle, row by row, every `stride`-th each way.
fn look<T: Code>(raster: &Raster<'_, T>, grid: &Grid) -> Vec<Seen> {
    let bounds = |axis: fn(&Point) -> f64| {
        let values = grid.outline.iter().map(axis);
        (
            values.clone().fold(f64::INFINITY, f64::min),
            values.fold(f64::NEG_INFINITY, f64::max),
        )
    };
    let (top, bottom) = bounds(|p| p.y);
    let first = whole_down(top);
    let last = whole(bottom.ceil()).min(raster.height);
    let mut seen = Vec::with_capacity(whole(grid.area / float(grid.stride * grid.stride)) + 64);
    let h = &grid.to_block;
    for y in (first..last).step_by(grid.stride) {
        let centre_y = float(y) + 0.5;
        let Some((left, right)) = crossing(&grid.outline, centre_y) else {
            continue;
        };
        let line = Line {
            across: [0, 1, 2].map(|i| h[(i, 0)]),
            rest: [0, 1, 2].map(|i| h[(i, 1)] * centre_y + h[(i, 2)]),
            counts: [grid.columns, grid.rows].map(float),
        };
        let mut x = whole((left - 0.5).ceil());
        let end = whole_down(right + 0.5).min(raster.width);
        while x < end {
            let Some(([column, row], until)) = line.block(float(x) + 0.5) else {
                x += grid.stride;
                continue;
            };
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a region has some hundred blocks, and no picture 2^32 columns or rows"
            )]
            let (block, line_of_it) = ((row * grid.columns + column) as u32, y as u32);
            // This pixel at least, though rounding may have it at the block's end.
            let until = whole((until - 0.5).ceil()).clamp(x + 1, end);
            for x in (x..until).step_by(grid.stride) {
                let at = 3 * (y * raster.width + x);
                let Some(codes) = raster.codes.get(at..at + 3) else {
                    continue;
                };
                let codes = [codes[0].index(), codes[1].index(), codes[2].index()];
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "no picture has 2^32 columns"
                )]
                let at_column = x as u32;
                seen.push(Seen {
                    at: [at_column, line_of_it],
                    block,
                    rgb: [
                        raster.tables[0][codes[0]],
                        raster.tables[1][codes[1]],
                        raster.tables[2][codes[2]],
                    ],
                    top: codes.iter().any(|it| *it >= raster.high),
                    bottom: codes.iter().any(|it| *it <= raster.low),
                });
            }
            x += (until - x).next_multiple_of(grid.stride);
        }
    }
    seen
}

/// The blocks along a row of pixels: their column, and their row, is a ratio of straight lines in x.
struct Line {
    /// What column, row and their common divisor grow by from pixel to pixel, and what they are at x = 0.
    across: [f64; 3],
    rest: [f64; 3],
    /// Columns and rows of blocks.
    counts: [f64; 2],
}

impl Line {
    /// Column and row of the block at `x`, and where the line leaves that block; none outside of all.
    fn block(&self, x: f64) -> Option<([usize; 2], f64)> {
        let w = self.across[2] * x + self.rest[2];
        let mut found = [0; 2];
        let mut until = f64::INFINITY;
        for (i, block) in found.iter_mut().enumerate() {
            let (across, rest) = (self.across[i], self.rest[i]);
            let at = (across * x + rest) / w;
            if !(at >= 0.0 && at < self.counts[i]) {
                return None;
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "between zero and a count of blocks; `floor` would be a call for each block"
            )]
            let whole = at as usize;
            *block = whole;
            // Such a ratio rises all along the line, or falls: it leaves the block on one side.
            let rises = across * self.rest[2] > rest * self.across[2];
            let side = float(whole) + if rises { 1.0 } else { 0.0 };
            let leaves = (side * self.rest[2] - rest) / (across - side * self.across[2]);
            // A place on a block's very edge leaves it here, or by rounding a little before.
            if leaves > x - 1.0 {
                until = until.min(leaves);
            }
        }
        Some((found, until))
    }
}

/// Where a horizontal line enters and leaves a convex outline.
fn crossing(outline: &[Point; 4], y: f64) -> Option<(f64, f64)> {
    let mut range: Option<(f64, f64)> = None;
    for i in 0..4 {
        let (p, q) = (outline[i], outline[(i + 1) % 4]);
        let (low, high) = if p.y <= q.y { (p, q) } else { (q, p) };
        if y < low.y || y > high.y || high.y - low.y < 1e-9 {
            continue;
        }
        let x = low.x + (high.x - low.x) * (y - low.y) / (high.y - low.y);
        range = Some(range.map_or((x, x), |(a, b)| (a.min(x), b.max(x))));
    }
    range
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each pixel of a line by a division of its own, and by stretches as `look` goes along them.
    #[test]
    fn stretches_of_a_line_are_the_blocks_of_its_pixels() {
        let lines = [
            // Falling and rising with edges on pixels' middles, slanted, constant, and with a divisor below zero.
            ([-0.25, 0.0, 0.0], [25.125, 0.5, 1.0]),
            ([0.25, 0.0, 0.0], [-0.125, 0.5, 1.0]),
            ([0.21, -0.03, 1e-3], [0.4, 5.2, 1.0]),
            ([0.0, 0.17, 0.0], [3.0, 0.1, 1.0]),
            ([-0.21, -0.07, -1e-3], [-0.4, -0.3, -1.0]),
        ];
        for (across, rest) in lines {
            for stride in 1..6 {
                let line = Line {
                    across,
                    rest,
                    counts: [20.0, 8.0],
                };
                let mut seen = 0;
                let mut x = 0;
                while x < 120 {
                    let Some((block, until)) = line.block(float(x) + 0.5) else {
                        x += stride;
                        continue;
                    };
                    let until = whole((until - 0.5).ceil()).clamp(x + 1, 120);
                    for x in (x..until).step_by(stride) {
                        let (alone, _) = line.block(float(x) + 0.5).expect("within");
                        assert_eq!(alone, block, "{across:?} {x} by {stride}");
                        seen += 1;
                    }
                    x += (until - x).next_multiple_of(stride);
                }
                let within = (0..120).step_by(stride);
                let within = within.filter(|x| line.block(float(*x) + 0.5).is_some());
                assert_eq!(seen, within.count(), "{across:?} by {stride}");
                assert!(seen > 3);
            }
        }
    }
}
