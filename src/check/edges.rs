//! Blur, as the width of the edge at the patches' outlines.
//!
//! The edge spread function is built as in the slanted-edge method of ISO 12233: pixels near a stretch of outline are sorted
//! by their distance from it, in linear light, and the distance from 10 % to 90 % of the step is read off. For a Gaussian
//! blur of standard deviation σ that is 2·1.2816 σ = 2.563 σ.

use super::{Finding, Item};
use crate::geometry::{PlaneMap, Point};
use crate::locate::Located;
use crate::panel::{Panel, Patch};
use crate::photo::Photo;
use nalgebra::Vector2;

/// Half the length along the outline that one edge is averaged over, px.
const ALONG_PX: f64 = 12.0;
/// Bins a pixel.
const BINS: f64 = 2.0;
/// Half widths that are tried in turn, px: the narrowest that holds the edge keeps the grain out.
const REACHES_PX: [f64; 4] = [10.0, 20.0, 40.0, 80.0];
/// Where on each side of a patch edges are taken.
const PLACES: [f64; 3] = [0.25, 0.5, 0.75];
/// A coat's edge can be soft by itself: the sharper edges tell of the camera. This share of them is sharper still.
const SHARPER: f64 = 0.3;
/// Fewer edges say nothing.
const FEWEST_EDGES: usize = 8;

/// One measured edge.
struct Edge {
    /// From 10 % to 90 %, px.
    width_px: f64,
    /// The same on the board, mm.
    width_mm: f64,
    /// Whether the step runs more sideways than up and down in the stored picture.
    sideways: bool,
}

/// Judged along the outlines that the layout gives.
pub(super) fn finding(photo: &Photo, panel: &Panel, located: &Located) -> Finding {
    let edges: Vec<Edge> = panel
        .patches
        .iter()
        .filter(|it| !it.empty)
        .flat_map(|it| patch_edges(photo, panel, it, &located.panel))
        .collect();
    if edges.len() < FEWEST_EDGES {
        return Finding::not_judged(Item::Blur, "the patches' outlines stand out too little");
    }
    let of_direction = |sideways: bool| -> Option<(f64, f64)> {
        let mut widths: Vec<(f64, f64)> = edges
            .iter()
            .filter(|it| it.sideways == sideways)
            .map(|it| (it.width_mm, it.width_px))
            .collect();
        widths.sort_by(|a, b| a.0.total_cmp(&b.0));
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a share of a small count"
        )]
        let place = (SHARPER * widths.len() as f64) as usize;
        (widths.len() >= FEWEST_EDGES / 2).then(|| widths[place])
    };
    // A shaken photo is sharp along the shake: the worse direction counts.
    let worse = [of_direction(true), of_direction(false)]
        .into_iter()
        .flatten()
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match worse {
        Some((mm, px)) => Finding::new(
            Item::Blur,
            mm,
            format!("{px:.1} px from 10 % to 90 % of an edge"),
        ),
        None => Finding::not_judged(Item::Blur, "too few outlines stand out"),
    }
}

/// Edges on the four sides of one patch.
fn patch_edges(photo: &Photo, panel: &Panel, patch: &Patch, map: &PlaneMap) -> Vec<Edge> {
    let rect = patch.rect;
    let gap = |axis: usize| {
        panel
            .grid
            .filter(|_| patch.cell.is_some())
            .map_or(0.0, |it| it.pitch_mm[axis] - it.patch_mm[axis])
    };
    let corners = rect.corners();
    let mut edges = Vec::new();
    for side in 0..4 {
        let (from, to) = (corners[side], corners[(side + 1) % 4]);
        // Clockwise with y down, outwards lies to the left of the way.
        let along = (to - from).normalize();
        let outwards = Vector2::new(along.y, -along.x);
        let depth = if side % 2 == 0 {
            rect.height
        } else {
            rect.width
        };
        let gap = gap(usize::from(side % 2 == 0));
        // Half of the patch or of the gap belongs to this edge; without a gap the neighbour's half.
        let room_mm = if gap > 0.5 {
            (0.45 * depth).min(0.8 * gap)
        } else {
            0.35 * depth
        };
        for place in PLACES {
            let at = from + (to - from) * place;
            edges.extend(edge_at(photo, map, at, outwards, room_mm));
        }
    }
    edges
}

/// The edge at a place of an outline; none where the step is too small against its surroundings.
fn edge_at(
    photo: &Photo,
    map: &PlaneMap,
    at: Point,
    outwards: Vector2<f64>,
    room_mm: f64,
) -> Option<Edge> {
    let jacobian = map.jacobian(at);
    let tangent = (jacobian * Vector2::new(-outwards.y, outwards.x)).try_normalize(0.0)?;
    // Across the outline in the photo, at right angles to it there, pointing outwards.
    let mut normal = Vector2::new(tangent.y, -tangent.x);
    let scale = (jacobian * outwards).dot(&normal);
    if scale < 0.0 {
        normal = -normal;
    }
    let px_per_mm = scale.abs();
    let room = room_mm * px_per_mm;
    let centre = map.map(at);
    // A blur wider than the gaps has no flanks of its own: what the widest reach shows is then too little, not nothing.
    let mut found = None;
    for reach in REACHES_PX {
        if reach > room.max(REACHES_PX[0]) {
            break;
        }
        let Some(width_px) =
            profile(photo, centre, tangent, normal, reach).and_then(|it| width(&it))
        else {
            break;
        };
        found = Some(Edge {
            width_px,
            width_mm: width_px / px_per_mm,
            sideways: normal.x.abs() > normal.y.abs(),
        });
        if width_px <= 0.7 * reach {
            break;
        }
    }
    found
}

/// Where a bin's pixels lie across the edge on average, px outwards from the layout's outline, and their mean linear green.
#[derive(Clone, Copy, Debug)]
struct Bin {
    at: f64,
    level: f64,
}

/// From `-reach` to `reach`, [`BINS`] a pixel, in order; none at the photo's rim.
///
/// An outline along the pixel rows leaves every other bin empty, and what fills the rest lies anywhere within: hence the place of
/// each. Empty bins are left out.
fn profile(
    photo: &Photo,
    centre: Point,
    tangent: Vector2<f64>,
    normal: Vector2<f64>,
    reach: f64,
) -> Option<Vec<Bin>> {
    let half = Vector2::new(
        tangent.x.abs() * ALONG_PX + normal.x.abs() * reach,
        tangent.y.abs() * ALONG_PX + normal.y.abs() * reach,
    );
    let (left, top) = (pixel(centre.x - half.x)?, pixel(centre.y - half.y)?);
    let (right, bottom) = (pixel(centre.x + half.x)?, pixel(centre.y + half.y)?);
    if right >= photo.width || bottom >= photo.height {
        return None;
    }
    let bins = bin(2.0 * reach * BINS)?;
    let mut sums = vec![(0.0, 0.0, 0.0); bins];
    for y in top..=bottom {
        for x in left..=right {
            #[expect(
                clippy::cast_precision_loss,
                reason = "pixel coordinates lie far below 2^52"
            )]
            let from = Point::new(x as f64 + 0.5, y as f64 + 0.5) - centre;
            if from.dot(&tangent).abs() > ALONG_PX {
                continue;
            }
            let across = from.dot(&normal);
            if let Some(sum) = bin((across + reach) * BINS).and_then(|it| sums.get_mut(it)) {
                sum.0 += 1.0;
                sum.1 += across;
                sum.2 += f64::from(photo.linear(x, y)[1]);
            }
        }
    }
    let filled = sums.into_iter().filter(|it| it.0 > 0.0);
    let means = filled.map(|(count, across, green)| Bin {
        at: across / count,
        level: green / count,
    });
    Some(means.collect())
}

fn pixel(at: f64) -> Option<usize> {
    bin(at)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to be small and not negative"
)]
fn bin(at: f64) -> Option<usize> {
    (0.0..1e9).contains(&at).then_some(at as usize)
}

/// From 10 % to 90 % of the step, px; none where the step is small against what lies beside it.
fn width(profile: &[Bin]) -> Option<f64> {
    let n = profile.len();
    let flank = n / 5;
    let (inner, inner_spread) = level(&profile[..flank])?;
    let (outer, outer_spread) = level(&profile[n - flank..])?;
    let step = outer - inner;
    if step.abs() < 0.03 || step.abs() < 8.0 * inner_spread.max(outer_spread) {
        return None;
    }
    let share: Vec<f64> = profile.iter().map(|it| (it.level - inner) / step).collect();
    // The crossing of half the step that lies nearest to the layout's outline.
    let middle = (1..n)
        .filter(|k| share[k - 1] < 0.5 && share[*k] >= 0.5)
        .min_by(|a, b| {
            let off = |k: &usize| profile[*k].at.abs();
            off(a).total_cmp(&off(b))
        })?;
    let low = (1..=middle).rev().find(|k| share[k - 1] <= 0.1)?;
    let high = (middle..n).find(|k| share[*k] >= 0.9)?;
    let crossing = |k: usize, at: f64| {
        let (from, to) = (quantile(share[k - 1]), quantile(share[k]));
        let part = (quantile(at) - from) / (to - from);
        profile[k - 1].at + part * (profile[k].at - profile[k - 1].at)
    };
    Some(crossing(high, 0.9) - crossing(low, 0.1))
}

/// Standard normal quantile of a share, within 0.03 from 0.001 to 0.999; shares beyond count as these.
///
/// The profile of a Gaussian edge is straight in these terms. A sharp edge has few pixels on its flanks: between them a
/// straight line in the shares themselves would cut the curve's corners and read up to a tenth too wide.
///
/// Tukey's lambda distribution with the shape that is nearest to the normal (from memory).
fn quantile(share: f64) -> f64 {
    let p = share.clamp(0.001, 0.999);
    5.05 * (p.powf(0.135) - (1.0 - p).powf(0.135))
}

/// Mean and standard deviation.
#[expect(clippy::cast_precision_loss, reason = "a handful of bins")]
fn level(bins: &[Bin]) -> Option<(f64, f64)> {
    let n = bins.len() as f64;
    if bins.len() < 2 {
        return None;
    }
    let mean = bins.iter().map(|it| it.level).sum::<f64>() / n;
    let squares: f64 = bins.iter().map(|it| (it.level - mean).powi(2)).sum();
    Some((mean, (squares / (n - 1.0)).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_normal_tables() {
        // NIST/SEMATECH e-Handbook, table of the standard normal distribution (1.3.6.7.1), read backwards.
        for (share, z) in [
            (0.5, 0.0),
            (0.9, 1.2816),
            (0.95, 1.6449),
            (0.99, 2.3263),
            (0.999, 3.0902),
        ] {
            assert!((quantile(share) - z).abs() < 0.03, "{share}");
            assert!((quantile(1.0 - share) + z).abs() < 0.03, "{share}");
        }
    }
}
