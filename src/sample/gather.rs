//! Reading one rectangle of a photo into block means, with clipping and highlights judged pixel by pixel.

use super::{Block, LeftOut, LeftOutPixel, Reason, Region, float};
use crate::geometry::{PlaneMap, Point};
use crate::photo::{EncodingSource, Photo};
use crate::sample::layout::Spot;
use nalgebra::Matrix3;

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
}

impl<'a, T: Code> Raster<'a, T> {
    pub(super) fn new(photo: &'a Photo, codes: &'a [T]) -> Self {
        // 250 and 3 of 255 are common practice for encoded values. Linear values are spread differently: the same
        // low limit is 0.0009 of the range there, and only the last 2 % of the range are near the end.
        let (high, low) = match photo.encoding.source {
            EncodingSource::Linear => (T::MAX * 98 / 100, T::MAX * 9 / 10000),
            _ => (T::MAX * 250 / 255, T::MAX * 3 / 255),
        };
        Self {
            width: photo.width,
            height: photo.height,
            codes,
            tables: &photo.encoding.tables,
            high,
            low,
        }
    }

    /// The linear step from code 1 to 2 of green: what quantisation hides near the bottom.
    pub(super) fn code_step(&self) -> f64 {
        self.linear(1, 2) - self.linear(1, 1)
    }

    fn linear(&self, channel: usize, code: usize) -> f64 {
        self.tables[channel]
            .get(code)
            .map_or(0.0, |it| f64::from(*it))
    }
}

/// How finely a region is read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Budget {
    /// Most blocks in a region.
    blocks: usize,
}

impl Budget {
    /// `total` blocks shared among `regions`, each within `least..=most`.
    pub(super) fn shared(total: usize, regions: usize, least: usize, most: usize) -> Self {
        Self {
            blocks: (total / regions.max(1)).clamp(least, most),
        }
    }
}

/// Smallest edge of a block, mm.
const BLOCK_MM: f64 = 1.0;
/// Fewest pixels that a block should have for its noise to matter little.
const BLOCK_PIXELS: f64 = 16.0;
/// Pixels of a block that are about enough: with more, only every second, third … row and column is read.
const ENOUGH_PIXELS: f64 = 100.0;

/// A rectangle cut into blocks, and the way from pixels to them.
struct Grid {
    columns: usize,
    rows: usize,
    /// Stored pixels to (column, row) of the block, homogeneous.
    to_block: Matrix3<f64>,
    outline: [Point; 4],
    stride: usize,
    /// Area in pixels.
    area: f64,
}

fn grid(spot: &Spot, budget: Budget) -> Option<Grid> {
    let rect = &spot.rect;
    let outline = spot.map.outline(rect);
    let area = polygon_area(&outline);
    let sane = outline.iter().all(|p| p.x.abs() < 1e6 && p.y.abs() < 1e6);
    if !(sane && area >= 4.0 && rect.width > 0.0 && rect.height > 0.0) {
        return None;
    }
    let density = area / (rect.width * rect.height);
    let mut edge = BLOCK_MM.max((BLOCK_PIXELS / density).sqrt());
    let cut = |edge: f64| {
        (
            whole(rect.width / edge).max(1),
            whole(rect.height / edge).max(1),
        )
    };
    while cut(edge).0 * cut(edge).1 > budget.blocks {
        edge *= 1.05;
    }
    let (columns, rows) = cut(edge);
    let stride = whole((area / float(columns * rows) / ENOUGH_PIXELS).sqrt()).max(1);
    // The lens bends straight lines by far less than a block over one region: nine points make a local homography.
    let mut pixels = Vec::with_capacity(9);
    let mut places = Vec::with_capacity(9);
    for (i, j) in (0..9_u8).map(|k| (f64::from(k % 3) / 2.0, f64::from(k / 3) / 2.0)) {
        places.push(Point::new(i * float(columns), j * float(rows)));
        pixels.push(spot.map.map(Point::new(
            rect.x + i * rect.width,
            rect.y + j * rect.height,
        )));
    }
    let to_block = PlaneMap::fit(&pixels, &places)?.homography;
    Some(Grid {
        columns,
        rows,
        to_block,
        outline,
        stride,
        area,
    })
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is meant"
)]
fn whole(x: f64) -> usize {
    x.round().max(0.0) as usize
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, which is meant"
)]
fn whole_down(x: f64) -> usize {
    x.floor().max(0.0) as usize
}

fn polygon_area(corners: &[Point; 4]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    let twice: f64 = corners
        .iter()
        .zip(next)
        .map(|(p, q)| p.x * q.y - q.x * p.y)
        .sum();
    twice.abs() / 2.0
}

/// One looked-at pixel.
#[derive(Clone, Copy)]
struct Seen {
    /// Stored column and row.
    at: [usize; 2],
    block: u32,
    rgb: [f32; 3],
    top: bool,
    bottom: bool,
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
                at: pixel.at,
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
    let (columns, rows) = (float(grid.columns), float(grid.rows));
    for y in (first..last).step_by(grid.stride) {
        let centre_y = float(y) + 0.5;
        let Some((left, right)) = crossing(&grid.outline, centre_y) else {
            continue;
        };
        let rest = [0, 1, 2].map(|i| h[(i, 1)] * centre_y + h[(i, 2)]);
        let start = whole((left - 0.5).ceil());
        let end = whole_down(right + 0.5).min(raster.width);
        for x in (start..end).step_by(grid.stride) {
            let centre_x = float(x) + 0.5;
            let one_over_w = 1.0 / (h[(2, 0)] * centre_x + rest[2]);
            let column = (h[(0, 0)] * centre_x + rest[0]) * one_over_w;
            let row = (h[(1, 0)] * centre_x + rest[1]) * one_over_w;
            if !(column >= 0.0 && column < columns && row >= 0.0 && row < rows) {
                continue;
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "between zero and a count of blocks; `floor` would be a call for each pixel"
            )]
            let (column, row) = (column as usize, row as usize);
            let at = 3 * (y * raster.width + x);
            let Some(codes) = raster.codes.get(at..at + 3) else {
                continue;
            };
            let codes = [codes[0].index(), codes[1].index(), codes[2].index()];
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a region has some hundred blocks"
            )]
            let block = (row * grid.columns + column) as u32;
            seen.push(Seen {
                at: [x, y],
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
    }
    seen
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

/// What happens to a pixel.
enum Fate {
    Kept,
    ClippedHigh,
    ClippedLow,
    Glare,
}

/// What is usual in a region, and so what is not.
struct Verdict {
    /// The surface itself is at the top of the encoding.
    body_at_top: bool,
    /// The surface itself is at the bottom.
    body_at_bottom: bool,
    /// Luminance above which a pixel may be a highlight.
    bright: f32,
    /// Saturation below which it is one.
    pale: f32,
    /// One over the balance of channels of the light.
    balance: [f32; 3],
}

/// A share of end-of-range pixels beyond which the surface itself lies there.
const BODY_AT_END: f64 = 0.25;
/// Robust standard deviations above the median from which a pixel may be a highlight. Published practice is
/// median + 3 MAD (about 2 σ); that cuts 2 % off the top of plain noise and shifts the mean, which 3.5 σ doesn't.
const BRIGHT_SIGMAS: f64 = 3.5;
/// The same for a surface near neutral, where paleness tells nothing.
const BRIGHT_SIGMAS_NEUTRAL: f64 = 5.0;
/// Saturation (1 − least channel / greatest) under which a surface counts as near neutral.
const NEUTRAL_SATURATION: f32 = 0.08;

impl Verdict {
    fn of(seen: &[Seen], light: [f64; 3]) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a ratio of channels")]
        let balance = light.map(|it| (1.0 / it) as f32);
        let share = |count: usize| float(count) / float(seen.len().max(1));
        let body_at_top = share(seen.iter().filter(|it| it.top).count()) > BODY_AT_END;
        let body_at_bottom = share(seen.iter().filter(|it| it.bottom).count()) > BODY_AT_END;
        // Two thousand pixels pin a median down far enough.
        let step = seen.len() / 2000 + 1;
        let some = || {
            seen.iter()
                .step_by(step)
                .filter(|it| !it.top || body_at_top)
        };
        let mut light: Vec<f32> = some().map(|it| luminance(it.rgb, balance)).collect();
        let mut saturations: Vec<f32> = some().map(|it| saturation(it.rgb, balance)).collect();
        let middle = median(&mut light);
        let usual_saturation = median(&mut saturations);
        let mut deviations: Vec<f32> = light.iter().map(|it| (it - middle).abs()).collect();
        let sigma = 1.4826 * f64::from(median(&mut deviations));
        let near_neutral = usual_saturation < NEUTRAL_SATURATION;
        let sigmas = if near_neutral {
            BRIGHT_SIGMAS_NEUTRAL
        } else {
            BRIGHT_SIGMAS
        };
        // A surface without any spread (a rendered or quantised one) has no highlights within two per cent.
        let above = (sigmas * sigma).max(0.02 * f64::from(middle));
        #[expect(clippy::cast_possible_truncation, reason = "a luminance")]
        let bright = (f64::from(middle) + above) as f32;
        Self {
            body_at_top,
            body_at_bottom,
            bright,
            pale: if near_neutral {
                f32::INFINITY
            } else {
                usual_saturation
            },
            balance,
        }
    }

    fn on(&self, pixel: &Seen) -> Fate {
        if pixel.top && !self.body_at_top {
            return Fate::ClippedHigh;
        }
        if pixel.bottom && !self.body_at_bottom {
            return Fate::ClippedLow;
        }
        let highlight = luminance(pixel.rgb, self.balance) > self.bright
            && saturation(pixel.rgb, self.balance) < self.pale;
        if highlight && !self.body_at_top {
            Fate::Glare
        } else {
            Fate::Kept
        }
    }
}

fn luminance(rgb: [f32; 3], balance: [f32; 3]) -> f32 {
    rgb[0] * balance[0] + rgb[1] * balance[1] + rgb[2] * balance[2]
}

fn saturation(rgb: [f32; 3], balance: [f32; 3]) -> f32 {
    let [r, g, b] = [
        rgb[0] * balance[0],
        rgb[1] * balance[1],
        rgb[2] * balance[2],
    ];
    let greatest = r.max(g).max(b);
    if greatest > 0.0 {
        1.0 - r.min(g).min(b) / greatest
    } else {
        0.0
    }
}

/// The upper median; 0 of nothing. Reorders its input.
fn median(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// Running sums of a block.
#[derive(Clone, Copy, Default)]
struct Sum {
    n: usize,
    glare: usize,
    sum: [f64; 3],
    squares: [f64; 3],
}

impl Sum {
    fn add(&mut self, rgb: [f32; 3]) {
        self.n += 1;
        for (c, value) in rgb.into_iter().enumerate() {
            let value = f64::from(value);
            self.sum[c] += value;
            self.squares[c] += value * value;
        }
    }

    fn block(&self, mm: [f64; 2], px: [f64; 2]) -> Block {
        let n = float(self.n);
        let rgb = self.sum.map(|it| it / n);
        let variance = [0, 1, 2].map(|c| {
            let spread = (self.squares[c] - n * rgb[c] * rgb[c]) / (n - 1.0).max(1.0);
            spread.max(0.0)
        });
        Block {
            mm,
            px,
            rgb,
            variance,
            n: self.n,
        }
    }
}
