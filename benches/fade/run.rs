//! The calls into the library that the fade figures rest on, and nothing else.
//!
//! STAND-INS until `masstone::measure::Masked` and `masstone::fade::assess` exist: masked halves are not used as references, and
//! `assess` works out plain double differences with the readings' own covariances. Each place says what takes its stead.

use masstone::colour::{Lab, Matrix, difference, uncertainty};
use masstone::correct::Tone;
use masstone::fade::Report;
use masstone::fade::report::{Board, Change, Exposure, Patch, SCHEMA};
use masstone::measure::{Aids, Job, Pictures, photo_with};
use masstone::panel::Panel;
use masstone::record::{Half, PhotoRecord, Program, Settings};
use nalgebra::Vector3;
use std::path::Path;

/// Masked halves as references. Final: `use masstone::measure::Masked`.
#[derive(Clone, Debug)]
pub(crate) struct Masked;

/// What the photos of hour 0 say of the masked halves. Final: `Masked::from_records(records)`.
pub(crate) fn masked_of(records: &[PhotoRecord]) -> Option<Masked> {
    (!records.is_empty()).then_some(Masked)
}

/// Measures one photo. Final: `Aids { masked: masked.cloned(), ..Aids::default() }`.
pub(crate) fn measure(
    path: &Path,
    hours: f64,
    panel: &Panel,
    _masked: Option<&Masked>,
) -> Result<PhotoRecord, String> {
    let job = Job {
        path: path.to_owned(),
        hours: Some(hours),
        settings: Settings {
            upright: false,
            linear: false,
            tone: Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
        },
    };
    photo_with(&job, panel, &Aids::default(), Pictures::default())
        .map(|it| it.record)
        .map_err(|it| it.reason)
}

/// What the records of one board come to. Final: `masstone::fade::assess(records, &Options::default())`, its error as text.
pub(crate) fn assess(records: &[PhotoRecord]) -> Result<Report, String> {
    let first = records.first().ok_or("no records")?;
    let mut doses: Vec<f64> = records.iter().filter_map(|it| it.photo.hours).collect();
    doses.sort_by(f64::total_cmp);
    doses.dedup();
    let mut ids: Vec<&str> = Vec::new();
    for reading in &first.readings {
        if ids.last() != Some(&reading.patch.as_str()) {
            ids.push(&reading.patch);
        }
    }
    let photos = |dose: f64| -> Vec<&PhotoRecord> {
        let at = |it: &&PhotoRecord| it.photo.hours.is_some_and(|it| (it - dose).abs() < 1e-9);
        records.iter().filter(at).collect()
    };
    let exposures = doses.iter().map(|dose| Exposure {
        dose: *dose,
        hours: Some(*dose),
        photos: photos(*dose)
            .iter()
            .map(|it| it.photo.path.clone())
            .collect(),
    });
    let patches = ids.iter().map(|id| {
        let start = halves_apart(&photos(0.0), id);
        let change = |dose: &f64| {
            let before = start.as_ref()?;
            let after = halves_apart(&photos(*dose), id)?;
            Some(changed(*dose, before, &after))
        };
        Patch {
            patch: (*id).to_owned(),
            name: None,
            made_of: String::new(),
            start: start.as_ref().map(|it| it.masked.into()),
            start_hex: None,
            changes: (doses.iter().filter(|it| **it > 0.0))
                .filter_map(change)
                .collect(),
            course: None,
        }
    });
    Ok(Report {
        schema: SCHEMA,
        program: Program::this(),
        boards: vec![Board {
            panel: first.photo.panel.id.clone(),
            title: None,
            dose_kind: "hours".to_owned(),
            conditions: Vec::new(),
            exposures: exposures.collect(),
            patches: patches.collect(),
            notes: Vec::new(),
        }],
        swatches: Vec::new(),
        notes: Vec::new(),
    })
}

/// Exposed less masked half over the photos of a dose.
struct Apart {
    masked: Vector3<f64>,
    difference: Vector3<f64>,
    covariance: Matrix,
    photos: usize,
}

fn halves_apart(photos: &[&PhotoRecord], id: &str) -> Option<Apart> {
    let half = |photo: &PhotoRecord, half: Half| {
        let found = |it: &&masstone::record::Reading| it.patch == id && it.half == half;
        let it = photo.readings.iter().find(found)?;
        let own = it.cov_own?;
        let covariance = Matrix::from_fn(|r, c| own[r][c]);
        Some((Vector3::new(it.l?, it.a?, it.b?), covariance))
    };
    let mut sum = Apart {
        masked: Vector3::zeros(),
        difference: Vector3::zeros(),
        covariance: Matrix::zeros(),
        photos: 0,
    };
    for photo in photos {
        let (Some(masked), Some(exposed)) = (half(photo, Half::Masked), half(photo, Half::Exposed))
        else {
            continue;
        };
        sum.masked += masked.0;
        sum.difference += exposed.0 - masked.0;
        sum.covariance += masked.1 + exposed.1;
        sum.photos += 1;
    }
    let count = sum.photos as f64;
    (sum.photos > 0).then(|| Apart {
        masked: sum.masked / count,
        difference: sum.difference / count,
        covariance: sum.covariance / (count * count),
        ..sum
    })
}

/// 95 % point of χ² with three degrees of freedom.
const BEYOND: f64 = 7.815;

fn changed(dose: f64, before: &Apart, after: &Apart) -> Change {
    let change = after.difference - before.difference;
    let covariance = before.covariance + after.covariance;
    let lab = |it: Vector3<f64>| Lab::new(it.x, it.y, it.z);
    let (start, end) = (lab(before.masked), lab(before.masked + change));
    let chi = covariance
        .try_inverse()
        .map_or(0.0, |it| change.dot(&(it * change)));
    Change {
        dose,
        hours: Some(dose),
        photos: after.photos,
        dl: change.x,
        da: change.y,
        db: change.z,
        dc: end.a.hypot(end.b) - start.a.hypot(start.b),
        dh: 0.0,
        de_ab: change.norm(),
        de_00: difference::delta_e_2000(start, end),
        u95_de_00: uncertainty::u95(start, &covariance).unwrap_or(f64::INFINITY),
        detection_limit: 0.0,
        significant: chi > BEYOND,
        p: f64::NAN,
        covariance: [0, 1, 2].map(|r| [0, 1, 2].map(|c| covariance[(r, c)])),
        words: Vec::new(),
        grade: String::new(),
        band: String::new(),
        yellowness: None,
        why_no_yellowness: String::new(),
        unevenness: None,
        parts: None,
        flags: Vec::new(),
    }
}
