//! Light across the board, read from the substrate between the patches: fall-off, shadow edges, mixed colour.
//!
//! The substrate is one material, so what varies slowly across it is taken for light. Planks of different colour side by
//! side look the same as a shadow edge; the advice says what to look for.

use super::{Finding, Item};
use crate::colour::{self, Lab, Xyz};
use crate::sample::{Region, Samples};
use nalgebra::{DMatrix, DVector, Vector3};
use std::collections::BTreeMap;

/// Blocks are pooled into cells of this size, which average the grain, mm.
const CELL_MM: f64 = 6.0;
/// A surface of second order needs this many cells.
const QUADRATIC_CELLS: usize = 16;
/// Fewer cells say nothing of the board.
const FEWEST_CELLS: usize = 6;
/// Planks and grain make steps of up to so many times the spread of the cells.
const GRAINS: f64 = 3.0;
/// A step beyond this is no grain, per cent.
const SURELY_LIGHT: f64 = 30.0;
/// Directions and offsets tried for a shadow edge.
const DIRECTIONS: u32 = 16;
const OFFSETS: u32 = 24;

/// A stretch of substrate.
struct Cell {
    mm: [f64; 2],
    rgb: [f64; 3],
}

/// Judged from the substrate samples.
pub(super) fn findings(samples: &Samples) -> Vec<Finding> {
    let cells = cells(samples);
    let why = || "too little substrate shows between the patches";
    if cells.len() < FEWEST_CELLS {
        return [Item::UnevenLight, Item::ShadowEdge, Item::MixedLight]
            .map(|it| Finding::not_judged(it, why()))
            .into();
    }
    let at: Vec<[f64; 2]> = cells.iter().map(|it| it.mm).collect();
    let luminance: Vec<f64> = cells
        .iter()
        .map(|it| (samples.to_xyz * Vector3::from(it.rgb)).y.max(1e-6).ln())
        .collect();
    let fitted = smooth(&at, &luminance);
    let fall = 100.0 * (1.0 - (min(&fitted) - max(&fitted)).exp());
    let darkest = position(&at, &fitted, f64::lt);
    let brightest = position(&at, &fitted, f64::gt);
    vec![
        Finding::new(
            Item::UnevenLight,
            fall,
            format!("brightest at {brightest}, darkest at {darkest}"),
        ),
        step(&at, &luminance),
        Finding::new(Item::MixedLight, mixed(samples, &at, &cells), ""),
    ]
}

/// Largest distance in a*b* between two places of a mid grey lit by the fitted colour of the light.
fn mixed(samples: &Samples, at: &[[f64; 2]], cells: &[Cell]) -> f64 {
    let ratio = |channel: usize| -> Vec<f64> {
        let logs: Vec<f64> = cells
            .iter()
            .map(|it| (it.rgb[channel].max(1e-6) / it.rgb[1].max(1e-6)).ln())
            .collect();
        let mean = logs.iter().sum::<f64>() / count(logs.len());
        smooth(at, &logs).iter().map(|it| it - mean).collect()
    };
    let grey: Vec<Lab> = ratio(0)
        .iter()
        .zip(ratio(2))
        .map(|(red, blue)| lab(samples, [0.2 * red.exp(), 0.2, 0.2 * blue.exp()]))
        .collect();
    // Among a few hundred places at most: the field is smooth.
    let few: Vec<&Lab> = grey.iter().step_by(grey.len().div_ceil(300)).collect();
    let distances = few
        .iter()
        .flat_map(|p| few.iter().map(|q| (p.a - q.a).hypot(p.b - q.b)));
    distances.fold(0.0, f64::max)
}

/// Substrate blocks pooled by place, in a fixed order.
fn cells(samples: &Samples) -> Vec<Cell> {
    let mut pools: BTreeMap<(i64, i64), ([f64; 2], [f64; 3], f64)> = BTreeMap::new();
    for block in samples.substrate.iter().flat_map(|it| &it.blocks) {
        let n = count(block.n);
        let pool = pools
            .entry((index(block.mm[0]), index(block.mm[1])))
            .or_insert(([0.0; 2], [0.0; 3], 0.0));
        for k in 0..2 {
            pool.0[k] += n * block.mm[k];
        }
        for k in 0..3 {
            pool.1[k] += n * block.rgb[k];
        }
        pool.2 += n;
    }
    pools
        .into_values()
        .filter(|(.., n)| *n > 0.0)
        .map(|(mm, rgb, n)| Cell {
            mm: mm.map(|it| it / n),
            rgb: rgb.map(|it| it / n),
        })
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "millimetres on a board; a saturated cast only pools far cells"
)]
fn index(mm: f64) -> i64 {
    (mm / CELL_MM).floor() as i64
}

#[expect(clippy::cast_precision_loss, reason = "counts lie far below 2^52")]
fn count(n: usize) -> f64 {
    n as f64
}

/// Columns of a plane, or of a second-order surface where there are cells enough, in coordinates of about ±1.
fn design(at: &[[f64; 2]]) -> DMatrix<f64> {
    let middle = [0, 1].map(|k| at.iter().map(|it| it[k]).sum::<f64>() / count(at.len()));
    let reach = at
        .iter()
        .flat_map(|it| [(it[0] - middle[0]).abs(), (it[1] - middle[1]).abs()])
        .fold(1e-9, f64::max);
    let columns = if at.len() >= QUADRATIC_CELLS { 6 } else { 3 };
    DMatrix::from_fn(at.len(), columns, |row, column| {
        let x = (at[row][0] - middle[0]) / reach;
        let y = (at[row][1] - middle[1]) / reach;
        [1.0, x, y, x * x, x * y, y * y][column]
    })
}

/// Values of a smooth surface at the places, fitted so that knots, dirt and cards count little (Tukey's biweight).
pub(super) fn smooth(at: &[[f64; 2]], values: &[f64]) -> Vec<f64> {
    let design = design(at);
    let values = DVector::from_row_slice(values);
    let mut weights = DVector::repeat(values.len(), 1.0);
    let mut fitted = values.clone();
    for _ in 0..8 {
        let mut weighted = design.clone();
        for (mut row, w) in weighted.row_iter_mut().zip(weights.iter()) {
            row *= *w;
        }
        // A direction that nothing supports (one row of patches: no y²) is left at nothing by the pseudo-inverse.
        let normal = weighted.tr_mul(&design);
        let cut = 1e-9 * normal.trace();
        let Ok(inverse) = normal.pseudo_inverse(cut) else {
            break;
        };
        fitted = &design * (inverse * weighted.tr_mul(&values));
        let residuals = &values - &fitted;
        let mut sizes: Vec<f64> = residuals.iter().map(|it| it.abs()).collect();
        let scale = 4.685 * 1.4826 * median(&mut sizes).unwrap_or(0.0);
        if scale < 1e-9 {
            break;
        }
        weights = residuals.map(|it| {
            let u = (it / scale).powi(2);
            if u < 1.0 { (1.0 - u).powi(2) } else { 0.0 }
        });
    }
    fitted.iter().copied().collect()
}

/// A step in the light, as far as it can be told from the grain.
fn step(at: &[[f64; 2]], values: &[f64]) -> Finding {
    let item = Item::ShadowEdge;
    match shadow_edge(at, values) {
        None => Finding::not_judged(item, "too little substrate shows between the patches"),
        Some(Step { step, grain, line })
            if step <= item.rule().good || step > grain.min(SURELY_LIGHT) =>
        {
            Finding::new(item, step, line)
        }
        Some(Step { step, grain, line }) => Finding::not_judged(
            item,
            format!(
                "a step of {step:.0} % {line} is within what the substrate's own grain can make ({grain:.0} %)"
            ),
        ),
    }
}

/// A step and what it is to be held against, per cent.
struct Step {
    step: f64,
    /// A step that the grain alone could make.
    grain: f64,
    /// Where it runs.
    line: String,
}

/// The step across the straight line that, added to a smooth surface, explains most; in per cent, with where it runs.
fn shadow_edge(at: &[[f64; 2]], values: &[f64]) -> Option<Step> {
    let values = DVector::from_row_slice(values);
    let svd = design(at).svd(true, false);
    let cut = 1e-6 * svd.singular_values.max();
    let u = svd.u?;
    let kept: Vec<usize> = (0..svd.singular_values.len())
        .filter(|it| svd.singular_values[*it] > cut)
        .collect();
    let basis = u.select_columns(&kept);
    let without = |v: &DVector<f64>| v - &basis * basis.tr_mul(v);
    let rest = without(&values);
    // A single cell (a knot, dirt) must not make a step: clipped at three robust spreads.
    let mut sizes: Vec<f64> = rest.iter().map(|it| it.abs()).collect();
    let limit = 3.0 * 1.4826 * median(&mut sizes).unwrap_or(0.0);
    let rest = rest.map(|it| it.clamp(-limit, limit));

    let mut best = (0.0, 0.0, String::new());
    for direction in 0..DIRECTIONS {
        let angle = std::f64::consts::PI * f64::from(direction) / f64::from(DIRECTIONS);
        let across: Vec<f64> = at
            .iter()
            .map(|it| it[0] * angle.cos() + it[1] * angle.sin())
            .collect();
        let (low, high) = (min(&across), max(&across));
        for offset in 1..OFFSETS {
            let line = low + (high - low) * f64::from(offset) / f64::from(OFFSETS);
            let side = DVector::from_iterator(
                across.len(),
                across.iter().map(|it| f64::from(u8::from(*it > line))),
            );
            let beyond = side.sum() / count(across.len());
            if !(0.06..=0.94).contains(&beyond) {
                continue;
            }
            let side = without(&side);
            let size = side.norm_squared();
            let dot = side.dot(&rest);
            let gain = dot * dot / size.max(1e-12);
            if gain > best.0 {
                best = (gain, dot / size, describe(at, angle, line, &across));
            }
        }
    }
    let per_cent = |log: f64| 100.0 * (1.0 - (-log.abs()).exp());
    let spread = ((rest.norm_squared() - best.0).max(0.0) / count(at.len())).sqrt();
    Some(Step {
        step: per_cent(best.1),
        grain: per_cent(GRAINS * spread),
        line: best.2,
    })
}

/// A line across the board in words: its direction and the middle of the cells that it passes.
fn describe(at: &[[f64; 2]], angle: f64, line: f64, across: &[f64]) -> String {
    let near: Vec<&[f64; 2]> = at
        .iter()
        .zip(across)
        .filter(|(_, it)| (*it - line).abs() <= 2.0 * CELL_MM)
        .map(|(it, _)| it)
        .collect();
    let middle =
        [0, 1].map(|k| near.iter().map(|it| it[k]).sum::<f64>() / count(near.len().max(1)));
    let way = match angle.to_degrees() {
        it if !(22.5..157.5).contains(&it) => "top to bottom",
        it if (67.5..112.5).contains(&it) => "left to right",
        _ => "slantwise",
    };
    format!(
        "running {way} through {:.0}, {:.0} mm",
        middle[0], middle[1]
    )
}

/// The place whose value beats all others, as `120, 80 mm`.
fn position(at: &[[f64; 2]], values: &[f64], beats: impl Fn(&f64, &f64) -> bool) -> String {
    let mut best = 0;
    for (k, value) in values.iter().enumerate() {
        if beats(value, &values[best]) {
            best = k;
        }
    }
    format!("{:.0}, {:.0} mm", at[best][0], at[best][1])
}

/// Fall-off of a plane fitted to the log luminance of one even surface, per cent from brightest to darkest block.
pub(super) fn fall_across(region: &Region, samples: &Samples) -> Option<f64> {
    if region.blocks.len() < QUADRATIC_CELLS {
        return None;
    }
    let at: Vec<[f64; 2]> = region.blocks.iter().map(|it| it.mm).collect();
    let logs: Vec<f64> = region
        .blocks
        .iter()
        .map(|it| (samples.to_xyz * Vector3::from(it.rgb)).y.max(1e-6).ln())
        .collect();
    let fitted = smooth(&at, &logs);
    Some(100.0 * (1.0 - (min(&fitted) - max(&fitted)).exp()))
}

/// CIELAB of linear RGB as the photo renders it, without any correction.
pub(super) fn lab(samples: &Samples, rgb: [f64; 3]) -> Lab {
    let xyz = samples.to_xyz * Vector3::from(rgb);
    colour::lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z))
}

/// The median; sorts in place. None of nothing.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

fn min(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::INFINITY, f64::min)
}

fn max(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}
