//! What the photos show of each half at each dose, for the page.

use super::page::Crop;
use crate::record::{Half, PhotoRecord};
use std::collections::BTreeMap;

/// The dose's kind of photos whose dose is stated in hours.
pub const HOURS: &str = "hours";

/// What is best of one half at one dose.
#[derive(Default)]
struct Best {
    hex: Option<(f64, String)>,
    picture: Option<(f64, Vec<u8>)>,
}

/// One crop for each half of each patch at each dose: the colour of the reading with the smallest U95, and of the pictures that `picture`
/// has (by photo's SHA-256, patch and half) that of the reading with the smallest U95. Photos whose dose nobody knows show nothing.
#[must_use]
pub fn crops(
    records: &[PhotoRecord],
    picture: impl Fn(&str, &str, Half) -> Option<Vec<u8>>,
) -> Vec<Crop> {
    // Doses are not negative, so their bits are in their order.
    let mut best: BTreeMap<(&str, &str, &str, u64, Half), Best> = BTreeMap::new();
    for record in records {
        let photo = &record.photo;
        let Some((kind, dose)) = dose(record) else {
            continue;
        };
        for reading in record.readings.iter().filter(|it| it.half != Half::Whole) {
            let key = (
                &*photo.panel.id,
                kind,
                &*reading.patch,
                dose.to_bits(),
                reading.half,
            );
            let known = best.entry(key).or_default();
            let u95 = reading.u95.unwrap_or(f64::INFINITY);
            if let Some(hex) = &reading.hex
                && known.hex.as_ref().is_none_or(|it| u95 < it.0)
            {
                known.hex = Some((u95, hex.clone()));
            }
            if known.picture.as_ref().is_none_or(|it| u95 < it.0)
                && let Some(bytes) = picture(&photo.sha256, &reading.patch, reading.half)
            {
                known.picture = Some((u95, bytes));
            }
        }
    }
    best.into_iter()
        .map(|((panel, kind, patch, dose, half), it)| Crop {
            panel: panel.to_owned(),
            patch: patch.to_owned(),
            half,
            dose_kind: kind.to_owned(),
            dose: f64::from_bits(dose),
            picture: it.picture.map(|it| it.1),
            hex: it.hex.map(|it| it.1),
        })
        .collect()
}

/// What counts a photo's dose, and the dose.
fn dose(record: &PhotoRecord) -> Option<(&str, f64)> {
    let photo = &record.photo;
    let stated = photo.dose_kind.as_deref().zip(photo.dose);
    let (kind, dose) = stated.or_else(|| Some((HOURS, photo.hours?)))?;
    // Minus zero has other bits than zero.
    (dose >= 0.0).then_some((kind, dose + 0.0))
}
