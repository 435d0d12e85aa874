//! What is allowed in a series file, and costs something or is likely a slip.

use super::Shot;
use super::conditions;
use super::dose::Part;
use super::shots::Counted;
use crate::panel::source::words;
use crate::panel::table::Table;
use crate::record::ExposureKind;

/// Strongest sunlight that is believed, W/m²: total, above what comes from the sun outside of the air (1361, the solar constant), since
/// clouds at the side of the sun throw more down for minutes.
const MOST_TOTAL: f64 = 1500.0;
/// The same for ultraviolet: twice the 46 W/m² from 300 to 400 nm of ASTM G173's reference spectrum.
const MOST_UV: f64 = 92.0;

/// As full sentences.
pub(super) fn warnings(
    top: &Table<'_>,
    kind: ExposureKind,
    counted: &Counted,
    shots: &[Shot],
) -> Vec<String> {
    let mut warnings = Vec::new();
    if let Some(first) = shots.first()
        && !first.dose.is_start()
    {
        warnings.push(format!(
            "No shot has dose 0; the least is {}. What the halves differed by before any exposure is then unknown and widens the \
             uncertainty of every change, and masked halves can't serve as references in later photos.",
            first.dose
        ));
    }
    if shots.len() == 1 {
        warnings.push(
            "The series has one shot: no change can be told before there is another dose."
                .to_owned(),
        );
    }
    warnings.extend(shots.iter().filter_map(|it| too_bright(it, kind, counted)));
    let unstated = conditions::unstated(top, kind, counted.dose_kind.is_some());
    if !unstated.is_empty() {
        warnings.push(format!(
            "Who repeats or compares this exposure will ask for what the file doesn't state: {}.",
            words(&unstated)
        ));
    }
    warnings
}

/// More sunlight than there is, which a wrong unit makes.
fn too_bright(shot: &Shot, kind: ExposureKind, counted: &Counted) -> Option<String> {
    let part = counted.dose_kind.as_ref()?.part?;
    let most = match part {
        Part::Total => MOST_TOTAL,
        Part::Ultraviolet => MOST_UV,
    };
    let hours = shot.dose.hours.filter(|it| *it > 0.0)?;
    // MJ/m² in so many hours of 3600 seconds.
    let mean = shot.dose.dose? * 1e6 / (hours * 3600.0);
    (kind == ExposureKind::Sun && mean > most).then(|| {
        format!(
            "{} in {hours} hours is {mean:.0} W/m2, more than the sun gives ({most} at most); check unit and band.",
            shot.dose
        )
    })
}
