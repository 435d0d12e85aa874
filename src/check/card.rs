//! The cards: whether they are there, clipped, evenly lit, and how the camera rendered their grey.

use super::light::{self, lab as rendered_lab};
use super::{Finding, Item};
use crate::colour::{Lab, lab};
use crate::panel::Panel;
use crate::sample::{Region, RegionKind, Samples};

/// A zone counts as grey up to this stated chroma.
const GREY_CHROMA: f64 = 5.0;
/// A smaller zone is too small to show how the light falls across the card, mm.
const SMALLEST_ZONE_MM: f64 = 25.0;

/// Judged over the cards that the panel file names. A panel without cards (its references are patches) has none to judge.
pub(super) fn findings(panel: &Panel, samples: &Samples) -> Vec<Finding> {
    if panel.cards.is_empty() {
        return Vec::new();
    }
    let mut findings = vec![missing(panel, samples)];
    if samples.cards.is_empty() {
        return findings;
    }
    findings.push(clipped(panel, samples));
    findings.extend(uneven(panel, samples));
    findings.extend(grey(panel, samples));
    findings
}

/// `grey-18`, or `grey-18 A2` of a card with several zones.
pub(super) fn zone_name(panel: &Panel, card: usize, zone: usize) -> String {
    let Some(card) = panel.cards.get(card).map(|it| &it.card) else {
        return "card".into();
    };
    match card.patches.get(zone) {
        Some(patch) if card.patches.len() > 1 => format!("{} {}", card.id, patch.id),
        _ => card.id.clone(),
    }
}

fn name(panel: &Panel, region: &Region) -> String {
    match region.kind {
        RegionKind::Card { card, zone } => zone_name(panel, card, zone),
        _ => "card".into(),
    }
}

fn missing(panel: &Panel, samples: &Samples) -> Finding {
    let seen = |index: usize| {
        let of_card =
            |it: &Region| matches!(it.kind, RegionKind::Card { card, .. } if card == index);
        samples.cards.iter().any(of_card)
    };
    let missing: Vec<&str> = panel
        .cards
        .iter()
        .enumerate()
        .filter(|(index, _)| !seen(*index))
        .map(|(_, it)| it.card.id.as_str())
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "a handful of cards")]
    let count = missing.len() as f64;
    Finding::new(Item::CardMissing, count, missing.join(", "))
}

fn clipped(panel: &Panel, samples: &Samples) -> Finding {
    let share = |it: &Region| 100.0 * it.share(it.at_top);
    let worst = samples
        .cards
        .iter()
        .max_by(|a, b| share(a).total_cmp(&share(b)));
    match worst {
        Some(worst) => Finding::new(
            Item::CardClipped,
            share(worst),
            if share(worst) > 0.0 {
                name(panel, worst)
            } else {
                String::new()
            },
        ),
        None => Finding::not_judged(Item::CardClipped, "no card was sampled"),
    }
}

/// Fall-off across the worst zone that is large enough to show it.
fn uneven(panel: &Panel, samples: &Samples) -> Option<Finding> {
    let large = |it: &&Region| it.rect.width.max(it.rect.height) >= SMALLEST_ZONE_MM;
    let falls = samples
        .cards
        .iter()
        .filter(large)
        .filter_map(|it| Some((it, light::fall_across(it, samples)?)));
    let (worst, fall) = falls.max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(Finding::new(Item::UnevenCard, fall, name(panel, worst)))
}

/// Exposure and white balance, from the grey zone nearest to L* 50 that has usable blocks.
fn grey(panel: &Panel, samples: &Samples) -> Vec<Finding> {
    let stated = |it: &Region| -> Option<Lab> {
        let RegionKind::Card { card, zone } = it.kind else {
            return None;
        };
        let known = panel
            .cards
            .get(card)?
            .card
            .patches
            .get(zone)?
            .known
            .as_ref()?;
        (known.lab.a.hypot(known.lab.b) <= GREY_CHROMA).then_some(known.lab)
    };
    let greys = samples
        .cards
        .iter()
        .filter_map(|it| Some((it, stated(it)?, it.mean_rgb()?)));
    let middle = greys.min_by(|a, b| (a.1.l - 50.0).abs().total_cmp(&(b.1.l - 50.0).abs()));
    let Some((region, stated, rgb)) = middle else {
        let why = "no card in the photo has a grey zone of stated colour";
        return vec![
            Finding::not_judged(Item::Exposure, why),
            Finding::not_judged(Item::WhiteBalance, why),
        ];
    };
    if samples.camera.is_some() {
        // How light a developer would make it is left open, and white is what the card says.
        let why = "a raw file has neither: look at clipping and noise";
        return vec![
            Finding::not_judged(Item::Exposure, why),
            Finding::not_judged(Item::WhiteBalance, why),
        ];
    }
    let y = (samples.to_xyz * nalgebra::Vector3::from(rgb)).y;
    let stated_y = lab::luminance(stated.l);
    let stops = (y / stated_y).log2();
    // White balance is judged at the stated lightness: chroma grows with exposure.
    let rendered = rendered_lab(samples, rgb.map(|it| it * stated_y / y));
    let (da, db) = (rendered.a - stated.a, rendered.b - stated.b);
    let rendered_l = rendered_lab(samples, rgb).l;
    vec![
        Finding::new(
            Item::Exposure,
            stops,
            format!(
                "{}: L* {rendered_l:.0} in the photo, {:.0} on the card",
                name(panel, region),
                stated.l
            ),
        ),
        Finding::new(
            Item::WhiteBalance,
            da.hypot(db),
            format!("{}: {}", name(panel, region), cast(da, db)),
        ),
    ]
}

/// The direction of a colour cast in words with its two figures.
fn cast(da: f64, db: f64) -> String {
    let word = if da.abs() > db.abs() {
        if da > 0.0 { "reddish" } else { "greenish" }
    } else if db > 0.0 {
        "yellowish"
    } else {
        "bluish"
    };
    format!("{word}, Δa* {da:+.1}, Δb* {db:+.1}")
}
