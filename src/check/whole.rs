//! A photo alone, without a panel: its sharpest edges, its smoothest places, and what is clipped anywhere.
//!
//! These figures mix the board with whatever else is in view; with a panel the board's own are taken instead.

use super::light::median;
use super::{Finding, Item};
use crate::colour::srgb;
use crate::photo::Photo;

/// Every so many rows and columns are looked at: the whole photo is covered, at a fraction of its pixels.
const STRIDE: usize = 8;
/// An edge counts from this step of the encoding upwards.
const SMALLEST_STEP: f64 = 0.15;
/// Fewer edges or places say nothing.
const FEWEST: usize = 50;
/// Side of a place where noise is read, px.
const PLACE: usize = 12;

/// Judged from pixels alone.
pub(super) fn findings(photo: &Photo) -> Vec<Finding> {
    vec![blur(photo), noise(photo), clipped(photo)]
}

/// Encoded green, 0–1.
fn green(photo: &Photo, x: usize, y: usize) -> f64 {
    if photo.encoding.source.is_linear() {
        return srgb::encode(f64::from(photo.linear(x, y)[1]).clamp(0.0, 1.0));
    }
    f64::from(photo.code(x, y)[1]) / f64::from(photo.max_code())
}

/// The fifth part of edges that is sharpest, along rows and columns: the width of a monotonic run from 10 % to 90 % of its step.
///
/// After P. Marziliano and others, *Proc. ICIP* 2002, III-57, with the width read at 10 % and 90 % (from memory).
fn blur(photo: &Photo) -> Finding {
    let mut widths = Vec::new();
    for y in (0..photo.height).step_by(STRIDE) {
        let row: Vec<f64> = (0..photo.width).map(|x| green(photo, x, y)).collect();
        run_widths(&row, &mut widths);
    }
    for x in (0..photo.width).step_by(STRIDE) {
        let column: Vec<f64> = (0..photo.height).map(|y| green(photo, x, y)).collect();
        run_widths(&column, &mut widths);
    }
    if widths.len() < FEWEST {
        return Finding::not_judged(Item::PhotoBlur, "too few edges in the photo");
    }
    widths.sort_by(f64::total_cmp);
    Finding::new(Item::PhotoBlur, widths[widths.len() / 5], "")
}

/// Widths of the rising and falling runs of one line of pixels.
fn run_widths(line: &[f64], widths: &mut Vec<f64>) {
    let mut start = 0;
    while start + 1 < line.len() {
        let rising = line[start + 1] > line[start];
        let mut end = start + 1;
        while end + 1 < line.len() && goes_on(line[end], line[end + 1], rising) {
            end += 1;
        }
        if (line[end] - line[start]).abs() >= SMALLEST_STEP {
            widths.push(run_width(&line[start..=end]));
        }
        start = end;
    }
}

/// Whether a run that rises or falls still does so from one value to the next; a standstill ends it.
fn goes_on(value: f64, next: f64, rising: bool) -> bool {
    if rising { next > value } else { next < value }
}

/// From 10 % to 90 % of a monotonic run, px.
fn run_width(run: &[f64]) -> f64 {
    let (first, last) = (run[0], run[run.len() - 1]);
    let crossing = |level: f64| {
        let mut before = 0.0;
        let mut place = 0.0;
        for value in &run[1..] {
            let share = (value - first) / (last - first);
            if share >= level {
                return place + (level - before) / (share - before);
            }
            before = share;
            place += 1.0;
        }
        place
    };
    crossing(0.9) - crossing(0.1)
}

/// Median over the fifth of places that is smoothest, in L*, of the noise by a difference that is blind to slopes.
///
/// J. Immerkær, *Computer Vision and Image Understanding* 64 (1996) 300–302.
fn noise(photo: &Photo) -> Finding {
    let mut spreads = Vec::new();
    for top in (0..photo.height.saturating_sub(PLACE)).step_by(4 * PLACE) {
        for left in (0..photo.width.saturating_sub(PLACE)).step_by(4 * PLACE) {
            spreads.extend(place_noise(photo, left, top));
        }
    }
    if spreads.len() < FEWEST {
        return Finding::not_judged(Item::PhotoNoise, "too few places of middle tone");
    }
    spreads.sort_by(f64::total_cmp);
    let fifth = spreads.len() / 5;
    match median(&mut spreads[..fifth]) {
        Some(sd) => Finding::new(Item::PhotoNoise, sd, "of single pixels"),
        None => Finding::not_judged(Item::PhotoNoise, "too few places of middle tone"),
    }
}

/// Noise of L* in one place; none where it is too dark or too pale to tell.
fn place_noise(photo: &Photo, left: usize, top: usize) -> Option<f64> {
    let lightness = |x: usize, y: usize| {
        let linear = f64::from(photo.linear(left + x, top + y)[1]);
        116.0 * linear.max(0.008856).cbrt() - 16.0
    };
    let mut values = [[0.0; PLACE]; PLACE];
    let mut sum = 0.0;
    for (y, row) in values.iter_mut().enumerate() {
        for (x, value) in row.iter_mut().enumerate() {
            *value = lightness(x, y);
            sum += *value;
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "a small constant")]
    let n = (PLACE * PLACE) as f64;
    if !(25.0..=90.0).contains(&(sum / n)) {
        return None;
    }
    let mut differences = 0.0;
    let mut count = 0.0;
    for y in 1..PLACE - 1 {
        for x in 1..PLACE - 1 {
            let at = |dx: usize, dy: usize| values[y + dy - 1][x + dx - 1];
            let corners = at(0, 0) + at(2, 0) + at(0, 2) + at(2, 2);
            let sides = at(1, 0) + at(0, 1) + at(2, 1) + at(1, 2);
            let difference: f64 = corners - 2.0 * sides + 4.0 * at(1, 1);
            differences += difference.abs();
            count += 1.0;
        }
    }
    Some((std::f64::consts::PI / 2.0).sqrt() * differences / (6.0 * count))
}

/// Share of pixels with a channel at the top.
fn clipped(photo: &Photo) -> Finding {
    let (mut beyond, mut all) = (0.0, 0.0);
    // A sensor's end has a code of its own.
    let top = match photo.encoding.camera {
        Some(_) => photo.max_code(),
        None => photo.max_code() / 51 * 50,
    };
    for y in (0..photo.height).step_by(4) {
        for x in (0..photo.width).step_by(4) {
            all += 1.0;
            if photo.code(x, y).iter().any(|it| *it >= top) {
                beyond += 1.0;
            }
        }
    }
    Finding::new(Item::PhotoClipped, 100.0 * beyond / all, "")
}
