//! The patches themselves: clipping at either end, glare, noise, and how many pixels there are.

use super::{Finding, Item, light};
use crate::panel::Panel;
use crate::sample::{Region, RegionKind, Samples};

/// Judged over every sampled patch; each finding names the worst.
pub(super) fn findings(panel: &Panel, samples: &Samples) -> Vec<Finding> {
    let mut findings = vec![
        worst_share(panel, samples, Item::PatchClipped, |it| {
            it.left_out.clipped_high
        }),
        worst_share(panel, samples, Item::PatchDark, |it| {
            it.left_out.clipped_low
        }),
        worst_share(panel, samples, Item::Glare, |it| it.left_out.glare),
        noise(samples),
    ];
    let smallest = samples.patches.iter().min_by_key(|it| seen(it));
    findings.extend(smallest.map(|it| {
        #[expect(clippy::cast_precision_loss, reason = "pixel counts lie far below 2^52")]
        let pixels = seen(it) as f64;
        Finding::new(Item::PatchPixels, pixels, name(panel, it))
    }));
    findings
}

/// Pixels of a region that lie in the photo, averaged or left out.
fn seen(region: &Region) -> usize {
    region.pixels + region.left_out.clipped_high + region.left_out.clipped_low + region.left_out.glare
}

/// Share in per cent of a region's pixels.
#[expect(clippy::cast_precision_loss, reason = "pixel counts lie far below 2^52")]
pub(super) fn per_cent(part: usize, region: &Region) -> f64 {
    match seen(region) {
        0 => 0.0,
        all => 100.0 * part as f64 / all as f64,
    }
}

/// The region with the largest share, and how many are beyond the good limit.
fn worst_share(
    panel: &Panel,
    samples: &Samples,
    item: Item,
    part: impl Fn(&Region) -> usize,
) -> Finding {
    let share = |it: &Region| per_cent(part(it), it);
    let worst = samples
        .patches
        .iter()
        .max_by(|a, b| share(a).total_cmp(&share(b)));
    let Some(worst) = worst else {
        return Finding::not_judged(item, "no patch was sampled");
    };
    let value = share(worst);
    let limit = item.rule().good;
    let beyond = samples.patches.iter().filter(|it| share(it) > limit).count();
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
        RegionKind::Whole { patch } | RegionKind::Substrate { patch } => format!("patch {}", id(patch)),
        RegionKind::Card { card, zone } => super::card::zone_name(panel, card, zone),
    }
}

/// Spread of L* over 1 mm blocks of one even surface, slow changes taken off: the median over the card's zones, which are
/// evenly coloured; over patches where there is none.
fn noise(samples: &Samples) -> Finding {
    let spreads = |regions: &[Region]| -> Vec<f64> {
        regions
            .iter()
            .filter_map(|it| light::block_spread(it, samples))
            .collect()
    };
    let (mut spread, of) = match spreads(&samples.cards) {
        on_cards if on_cards.is_empty() => (spreads(&samples.patches), "on the patches, their grain included"),
        on_cards => (on_cards, "on the card"),
    };
    match light::median(&mut spread) {
        Some(sd) => Finding::new(Item::Noise, sd, of),
        None => Finding::not_judged(Item::Noise, "no region is large enough"),
    }
}
