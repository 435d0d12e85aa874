//! A swatch over its specimens: the same pigments, load, coating, substrate and coats on several patches, at the same dose.

use super::change::{Changed, Course};
use super::entry::{Specimen, change_entry, course};
use super::report::{FadeFlag, Swatch};
use crate::colour::Matrix;
use crate::sample::float;
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// Those with more than one specimen. Where the panel file leaves open what a patch is, it is pooled with none. `notes` gets those without a
/// common dose.
pub(super) fn of(specimens: &[Specimen], notes: &mut Vec<String>) -> Vec<Swatch> {
    let mut groups: BTreeMap<(String, String), Vec<&Specimen>> = BTreeMap::new();
    for it in specimens {
        if let Some(recipe) = &it.recipe
            && it.course.start.is_some()
            && let Ok(key) = serde_json::to_string(recipe)
        {
            groups.entry((key, it.kind.clone())).or_default().push(it);
        }
    }
    groups
        .into_values()
        .filter(|it| it.len() > 1 && it.iter().any(|it| it.asked))
        .filter_map(|it| {
            let swatch = pooled(&it)?;
            if swatch.changes.is_empty() {
                notes.push(format!(
                    "{}: its specimens ({}) share no dose, so that they are not pooled. Photograph all boards at the same doses.",
                    swatch.swatch,
                    swatch.specimens.join(", ")
                ));
                return None;
            }
            Some(swatch)
        })
        .collect()
}

fn pooled(specimens: &[&Specimen]) -> Option<Swatch> {
    let first = specimens.first()?;
    let n = float(specimens.len());
    let starts = specimens.iter().filter_map(|it| it.course.start);
    let start = starts.sum::<Vector3<f64>>() / n;
    let mut doses: Vec<f64> = first.course.changes.iter().map(|it| it.dose).collect();
    // A dose that one specimen lacks would compare different boards.
    doses.retain(|dose| specimens.iter().all(|it| at(it, *dose).is_some()));
    let changes: Vec<Changed> = doses
        .iter()
        .filter_map(|dose| {
            mean(
                &specimens
                    .iter()
                    .filter_map(|it| at(it, *dose))
                    .collect::<Vec<_>>(),
            )
        })
        .collect();
    let shared = specimens.iter().map(|it| it.course.shared).sum::<Matrix>() / (n * n);
    let pooled = Course {
        start: Some(start),
        changes,
        shared,
        // What one pigment hides it hides on all boards.
        scale: first.course.scale,
        // Masks leak each on its own.
        leak: (specimens.iter().map(|it| it.course.leak.powi(2)))
            .sum::<f64>()
            .sqrt()
            / n,
    };
    let recipe = first.recipe.as_ref()?;
    Some(Swatch {
        swatch: recipe.in_short(),
        dose_kind: first.kind.clone(),
        specimens: specimens.iter().map(|it| it.name.clone()).collect(),
        changes: (pooled.changes.iter())
            .filter_map(|it| change_entry(&start, it, &shared, first.control, &Vec::new()))
            .collect(),
        course: course(&pooled),
    })
}

fn at(specimen: &Specimen, dose: f64) -> Option<&Changed> {
    let mut changes = specimen.course.changes.iter();
    changes.find(|it| it.dose.total_cmp(&dose).is_eq())
}

/// Mean over specimens. Its covariance holds what each has to itself and how they spread, so that specimens that differ by more than their own noise
/// widen it.
fn mean(all: &[&Changed]) -> Option<Changed> {
    let first = all.first()?;
    let n = float(all.len());
    let lab = all.iter().map(|it| it.lab).sum::<Vector3<f64>>() / n;
    let own = all.iter().map(|it| it.own).sum::<Matrix>() / n;
    let spread: Matrix = all
        .iter()
        .map(|it| (it.lab - lab) * (it.lab - lab).transpose())
        .sum::<Matrix>()
        / (n - 1.0);
    let unevenness = all.iter().map(|it| it.unevenness).sum::<Option<f64>>();
    let mut flags: Vec<FadeFlag> = all.iter().flat_map(|it| it.flags.iter().copied()).collect();
    flags.sort_unstable();
    flags.dedup();
    Some(Changed {
        dose: first.dose,
        hours: first.hours,
        photos: all.iter().map(|it| it.photos).sum(),
        lab,
        own: (own + spread) / n,
        leak: all.iter().map(|it| it.leak).sum::<Matrix>() / (n * n),
        scale: all.iter().map(|it| it.scale).sum::<Matrix>() / n,
        unevenness: unevenness.map(|it| it / n),
        flags,
    })
}
