//! How the colour varies within a patch: a coat's unevenness, the edge of a shadow.

use super::{Seen, mean_lab};
use crate::colour::{Lab, Matrix, difference};
use crate::sample::{Region, float};

/// Two parts of a patch, each even, whose light differs by a step that the field doesn't hold.
pub(super) fn has_shadow_edge(seen: &[Seen]) -> bool {
    let logs: Vec<f64> = seen.iter().map(|it| it.rgb[1].max(1e-6).ln()).collect();
    if logs.len() < 16 {
        return false;
    }
    let mean = logs.iter().sum::<f64>() / float(logs.len());
    let (low, high): (Vec<f64>, Vec<f64>) = logs.iter().partition(|it| **it < mean);
    let average = |part: &[f64]| part.iter().sum::<f64>() / float(part.len().max(1));
    let (below, above) = (average(&low), average(&high));
    let within = |part: &[f64], at: f64| {
        (part.iter().map(|it| (it - at).powi(2)).sum::<f64>() / float(part.len().max(1))).sqrt()
    };
    let spread = within(&low, below).max(within(&high, above)).max(0.01);
    let smaller = float(low.len().min(high.len())) / float(logs.len());
    // The two halves of a normal distribution lie 2.6 of their own spreads apart; two even parts much more.
    above - below > 0.2 && above - below > 6.0 * spread && smaller > 0.1
}

/// Edge of the areas that unevenness compares, mm.
const UNEVEN_MM: f64 = 3.0;

/// Mean ΔE00 of 3 mm areas to their mean, camera noise taken off in quadrature.
pub(super) fn unevenness(region: &Region, seen: &[Seen], noise: &Matrix) -> f64 {
    let areas: Vec<(Lab, usize)> = (region.squares(UNEVEN_MM).iter())
        .map(|square| {
            let labs = square.iter().map(|i| &seen[*i].lab);
            (mean_lab(labs), square.len())
        })
        .collect();
    let centre = mean_lab(areas.iter().map(|it| &it.0));
    let differences: Vec<f64> = areas
        .iter()
        .map(|it| difference::delta_e_2000(it.0, centre))
        .collect();
    let n = float(areas.len());
    let mean = differences.iter().sum::<f64>() / n;
    let square = differences.iter().map(|it| it * it).sum::<f64>() / n;
    let blocks_an_area = float(seen.len()) / n;
    let noise_square = (difference::local_metric(centre) * noise).trace() / blocks_an_area;
    if square <= 0.0 {
        0.0
    } else {
        mean * (1.0 - noise_square / square).max(0.0).sqrt()
    }
}
