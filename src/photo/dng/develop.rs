//! From bands of stored values to linear pixels: one a cell, each colour the mean of its values.

use super::cell::{Cell, Place, Window};
use super::levels::Levels;
use super::opcodes::{Gains, Line};
use super::raw::Raw;
use crate::photo::error::Problem;
use rayon::prelude::*;

/// Pixels in codes of 16 bits, and what the codes mean.
#[derive(Debug)]
pub(super) struct Developed {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Interleaved red, green and blue.
    pub(super) codes: Vec<u16>,
    /// Linear light of each code; white is where the sensor ends.
    pub(super) table: Vec<f32>,
}

/// Code of no light. What is darker, by its noise, must be held as well, or dark surfaces would seem lighter.
const DARK: u16 = 2048;
/// Code of a value at the sensor's end, which says nothing but that.
const TOP: u16 = u16::MAX;
/// The largest other code.
const HIGHEST: u16 = TOP - 1;
/// Part of the range from which on the sensor may have ended: it does not end sharply. Common practice, no source.
const ENDS: f32 = 0.98;

/// # Errors
///
/// If a part of the picture can't be decoded.
pub(super) fn develop(
    raw: &Raw<'_>,
    cell: &Cell,
    window: &Window,
    levels: &Levels,
    gains: &Gains,
) -> Result<Developed, Problem> {
    let (width, height) = (window.cells.width, window.cells.height);
    let span = f32::from(HIGHEST - DARK) / gains.largest(cell);
    let job = Job {
        raw,
        cell,
        window,
        levels,
        gains,
        span,
        counts: cell.counts().map(f32::from),
    };
    let mut codes = vec![0_u16; 3 * width * height];
    let row = raw.width * raw.samples;
    // Rows that wait for the rest of their cell.
    let mut held: Vec<u16> = Vec::new();
    let first = window.active.top + window.cells.top * cell.height;
    let mut done = 0;
    raw.visit(|top, band| {
        if done == height {
            // What lies below the picture is nothing to wait for.
            return;
        }
        let end = top + band.len() / row;
        let waited = !held.is_empty();
        if waited {
            held.extend_from_slice(band);
        }
        let rows = if waited { held.as_slice() } else { band };
        let begin = end - rows.len() / row;
        let full = (end.saturating_sub(first) / cell.height).min(height);
        if full > done {
            let lines = &rows[(first + done * cell.height - begin) * row..];
            let out = &mut codes[3 * width * done..3 * width * full];
            out.par_chunks_mut(3 * width)
                .zip(lines.par_chunks(row * cell.height))
                .enumerate()
                .for_each(|(i, (out, lines))| job.row(window.cells.top + done + i, lines, out));
            done = full;
        }
        // What is before the next cell is not needed again.
        let needed = first + done * cell.height;
        let spent = needed.min(end).saturating_sub(begin) * row;
        if waited {
            held.drain(..spent);
        } else {
            held.extend_from_slice(&band[spent..]);
        }
    })?;
    Ok(Developed {
        width,
        height,
        codes,
        table: table(span),
    })
}

fn table(span: f32) -> Vec<f32> {
    let linear = |code: u16| match code {
        0 => 0.0,
        code => (f32::from(code) - f32::from(DARK)) / span,
    };
    (0..=TOP).map(linear).collect()
}

struct Job<'a> {
    raw: &'a Raw<'a>,
    cell: &'a Cell,
    window: &'a Window,
    levels: &'a Levels,
    gains: &'a Gains,
    /// Codes a unit of linear light.
    span: f32,
    counts: [f32; 3],
}

impl Job<'_> {
    /// One row of cells, from the rows of the stored picture that it lies in.
    fn row(&self, index: usize, lines: &[u16], out: &mut [u16]) {
        let count = self.window.cells.width;
        let mut sums = vec![[0.0_f32; 3]; count];
        let mut ended = vec![[false; 3]; count];
        let mut black = Vec::new();
        let mut black_of = None;
        let mut darkest = f32::INFINITY;
        for place in &self.cell.places {
            let y = index * self.cell.height + place.y;
            if black_of != Some(y) {
                black = self.levels.black_row(y, self.window.active.width);
                black_of = Some(y);
                darkest = black.iter().copied().fold(darkest, f32::min);
            }
            self.add(place, y, lines, &black, &mut sums, &mut ended);
        }
        let pixels = out.chunks_exact_mut(3).zip(sums.iter().zip(&ended));
        for (pixel, (sum, ended)) in pixels {
            for c in 0..3 {
                pixel[c] = if ended[c] {
                    TOP
                } else if sum[c] <= 0.0 && darkest <= 0.0 {
                    // Without a level of its own in the dark a sensor's values end there.
                    0
                } else {
                    code(sum[c] / self.counts[c] * self.span)
                };
            }
        }
    }

    /// Adds the values at one place of each cell.
    fn add(
        &self,
        place: &Place,
        y: usize,
        lines: &[u16],
        black: &[f32],
        sums: &mut [[f32; 3]],
        ended: &mut [[bool; 3]],
    ) {
        let Self {
            raw,
            cell,
            window,
            levels,
            ..
        } = self;
        let Place { sample, colour, .. } = *place;
        let first = window.cells.left * cell.width + place.x;
        let line = Line {
            row: y,
            first,
            step: cell.width,
            count: sums.len(),
            sample,
            colour,
        };
        let gains = self.gains.along(&line, window.active);
        let scale = levels.scale[sample];
        let top = levels.white[sample] - (1.0 - ENDS) / scale;
        let stored = &lines[place.y * raw.width * raw.samples..];
        let stored = &stored[(window.active.left + first) * raw.samples + sample..];
        let black = &black[first * raw.samples + sample..];
        let step = cell.width * raw.samples;
        let sum = Sum { colour, top, scale };
        let values = stored.iter().step_by(step).zip(black.iter().step_by(step));
        let values = values.map(|(stored, black)| (*stored, *black));
        // The common cases have loops of their own: this is where the time goes.
        match (levels.has_table(), gains) {
            (false, None) => sum.add(values, sums, ended, f32::from, |_| 1.0),
            (false, Some(gains)) => sum.add(values, sums, ended, f32::from, |i| gains[i]),
            (true, gains) => {
                let gain = |i: usize| gains.as_ref().map_or(1.0, |it| it[i]);
                sum.add(values, sums, ended, |it| levels.linear(it), gain);
            }
        }
    }
}

/// What is added to the cells of a row from one place in each.
struct Sum {
    colour: usize,
    /// From here on the sensor may have ended.
    top: f32,
    scale: f32,
}

impl Sum {
    #[inline]
    fn add(
        &self,
        values: impl Iterator<Item = (u16, f32)>,
        sums: &mut [[f32; 3]],
        ended: &mut [[bool; 3]],
        linear: impl Fn(u16) -> f32,
        gain: impl Fn(usize) -> f32,
    ) {
        let cells = sums.iter_mut().zip(ended.iter_mut());
        for (i, ((stored, black), (sum, ended))) in values.zip(cells).enumerate() {
            let value = linear(stored);
            ended[self.colour] |= value >= self.top;
            sum[self.colour] += (value - black) * self.scale * gain(i);
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "limited to the codes' range"
)]
fn code(value: f32) -> u16 {
    // Half a code more is rounding, since nothing is negative then.
    (value + f32::from(DARK) + 0.5).clamp(1.0, f32::from(HIGHEST)) as u16
}
