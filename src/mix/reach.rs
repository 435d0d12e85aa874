//! How far a coat lies from those that were measured.

use super::model::{Coat, Model, Reach};
use super::trial::{Load, Trial};

/// Loads and amounts that differ by less are the same.
const SAME: f64 = 1e-6;
/// Amounts this far outside those that were laid, as a share, are beyond them.
const LAID: f64 = 0.1;

/// `coat` has each pigment once, by id, as the trials have.
pub(super) fn of(model: &Model, coat: &Coat) -> Reach {
    if distance(model, coat) < SAME {
        return Reach::Measured;
    }
    let mut beyond = Vec::new();
    for it in &coat.pigments {
        beyond.extend(loads(model, it));
    }
    beyond.extend(together(model, coat));
    beyond.extend(amount(model, coat));
    if beyond.is_empty() {
        Reach::Between
    } else {
        Reach::Beyond(beyond)
    }
}

/// The largest difference of a load or of the amount from the nearest trial of the same pigments on the same ground, as a share of the trial's.
pub(super) fn distance(model: &Model, coat: &Coat) -> f64 {
    let same = |it: &&Trial| {
        it.ground == coat.ground
            && it.pigments.len() == coat.pigments.len()
            && it
                .pigments
                .iter()
                .zip(&coat.pigments)
                .all(|(a, b)| a.pigment == b.pigment)
    };
    (model.evidence.trials.iter().filter(same))
        .map(|it| {
            let loads = it.pigments.iter().zip(&coat.pigments);
            let loads = loads.map(|(a, b)| (b.load / a.load - 1.0).abs());
            loads.fold((coat.g_per_m2 / it.g_per_m2 - 1.0).abs(), f64::max)
        })
        .fold(f64::INFINITY, f64::min)
}

fn loads(model: &Model, it: &Load) -> Option<String> {
    let highest = *model.pigment(&it.pigment)?.loads.last()?;
    (it.load > highest * (1.0 + SAME)).then(|| {
        format!(
            "{} at {} is above the highest load measured, {}",
            it.pigment,
            short(it.load),
            short(highest)
        )
    })
}

/// Several pigments, each within its own loads, may be more together than any film that was measured.
fn together(model: &Model, coat: &Coat) -> Option<String> {
    if coat.pigments.len() < 2 {
        return None;
    }
    let share: f64 = (coat.pigments.iter())
        .filter_map(|it| Some(it.load / model.pigment(&it.pigment)?.loads.last()?))
        .sum();
    let tested = model.evidence.trials.iter().any(|trial| {
        coat.pigments.iter().all(|it| {
            let there = trial
                .pigments
                .iter()
                .find(|other| other.pigment == it.pigment);
            there.is_some_and(|other| other.load >= it.load * (1.0 - SAME))
        })
    });
    (share > 1.0 + SAME && !tested).then(|| {
        let names: Vec<&str> = coat.pigments.iter().map(|it| &*it.pigment).collect();
        format!(
            "{} together are above what was measured: their shares of the highest loads add up to {share:.2}",
            names.join(" and ")
        )
    })
}

fn amount(model: &Model, coat: &Coat) -> Option<String> {
    let with = |it: &&Trial| {
        let has = |id: &str| it.pigments.iter().any(|other| other.pigment == id);
        if coat.pigments.is_empty() {
            it.pigments.is_empty() && it.ground == coat.ground
        } else {
            coat.pigments.iter().any(|other| has(&other.pigment))
        }
    };
    let laid: Vec<f64> = (model.evidence.trials.iter().filter(with))
        .map(|it| it.g_per_m2)
        .collect();
    let most = laid.iter().copied().reduce(f64::max)?;
    let least = laid.iter().copied().reduce(f64::min)?;
    let asked = short(coat.g_per_m2);
    if coat.g_per_m2 > most * (1.0 + LAID) {
        let most = short(most);
        Some(format!(
            "{asked} g/m² is above the most that was laid, {most} g/m²"
        ))
    } else if coat.g_per_m2 < least * (1.0 - LAID) {
        let least = short(least);
        Some(format!(
            "{asked} g/m² is below the least that was laid, {least} g/m²"
        ))
    } else {
        None
    }
}

/// Three decimals at most.
pub(super) fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
