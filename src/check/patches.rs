//! The patches themselves: clipping at either end, glare, and how many pixels there are.

use super::{Finding, Item};
use crate::panel::Panel;
use crate::sample::{Region, RegionKind, Samples, float};

/// Linear light above which a surface isn't black: about L* 16.
const BLACK: f64 = 0.02;

/// Judged over every sampled patch; each finding names the worst.
/// A pixel of the photo counts as `pixels` of the camera's.
pub(super) fn findings(panel: &Panel, samples: &Samples, pixels: f64) -> Vec<Finding> {
    let mut findings = vec![
        worst_share(panel, samples, Item::PatchClipped, |it| it.at_top),
        worst_share(panel, samples, Item::PatchDark, |it| {
            if is_saturated(it) { 0 } else { it.at_bottom }
        }),
        outside_encoding(panel, samples),
        worst_share(panel, samples, Item::Glare, |it| it.left_out.glare),
    ];
    let smallest = samples
        .patches
        .iter()
        .min_by(|a, b| area_px(a).total_cmp(&area_px(b)));
    findings.extend(
        smallest.map(|it| Finding::new(Item::PatchPixels, pixels * area_px(it), name(panel, it))),
    );
    findings
}

/// Whether the brightest channel is well above black: then a channel at the bottom tells of a colour that the file's space
/// can't hold, not of too little light.
fn is_saturated(region: &Region) -> bool {
    let brightest = |rgb: [f64; 3]| rgb.into_iter().fold(0.0, f64::max);
    region.mean_rgb().is_some_and(|it| brightest(it) > BLACK)
}

/// Share of the regions that a channel at the bottom puts outside the colour space.
fn outside_encoding(panel: &Panel, samples: &Samples) -> Finding {
    let limit = Item::PatchDark.rule().good;
    let outside: Vec<String> = samples
        .patches
        .iter()
        .filter(|it| is_saturated(it) && 100.0 * it.share(it.at_bottom) > limit)
        .map(|it| name(panel, it))
        .collect();
    let (some, all) = (float(outside.len()), float(samples.patches.len()).max(1.0));
    let more = match outside.len() {
        0..=3 => "",
        _ => " …",
    };
    let named = outside.into_iter().take(3).collect::<Vec<_>>().join(", ");
    Finding::new(Item::OutsideEncoding, 100.0 * some / all, named + more)
}

/// Pixels inside a region's outline: its own counts may be of every second or third row and column.
fn area_px(region: &Region) -> f64 {
    let corners = region.outline;
    let doubled: f64 = (0..4)
        .map(|k| {
            let (p, q) = (corners[k], corners[(k + 1) % 4]);
            p[0] * q[1] - q[0] * p[1]
        })
        .sum();
    doubled.abs() / 2.0
}

/// The region with the largest share, and how many are beyond the good limit.
fn worst_share(
    panel: &Panel,
    samples: &Samples,
    item: Item,
    part: impl Fn(&Region) -> usize,
) -> Finding {
    let share = |it: &Region| 100.0 * it.share(part(it));
    let worst = samples
        .patches
        .iter()
        .max_by(|a, b| share(a).total_cmp(&share(b)));
    let Some(worst) = worst else {
        return Finding::not_judged(item, "no patch was sampled");
    };
    let value = share(worst);
    let limit = item.rule().good;
    let beyond = samples
        .patches
        .iter()
        .filter(|it| share(it) > limit)
        .count();
    let detail = match beyond {
        _ if value <= 0.0 => String::new(),
        0 | 1 => name(panel, worst),
        n => format!("{}; {n} beyond {limit} %", name(panel, worst)),
    };
    Finding::new(item, value, detail)
}

/// `patch A1`, `patch A1 masked`.
fn name(panel: &Panel, region: &Region) -> String {
    let id = |patch: usize| panel.patches.get(patch).map_or("?", |it| it.id.as_str());
    match region.kind {
        RegionKind::Masked { patch } => format!("patch {} masked", id(patch)),
        RegionKind::Exposed { patch } => format!("patch {} exposed", id(patch)),
        RegionKind::Whole { patch }
        | RegionKind::Substrate { patch }
        | RegionKind::Sheltered { patch } => {
            format!("patch {}", id(patch))
        }
        RegionKind::Card { card, zone } => super::card::zone_name(panel, card, zone),
    }
}
