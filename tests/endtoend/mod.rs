//! Simulated photos as JPEG files, measured from the file to the record, and judged by place.

use masstone::colour::{Lab, difference};
use masstone::correct::Tone;
use masstone::flag::Flag;
use masstone::measure::{self, Job, Refusal};
use masstone::panel::{self, Panel};
use masstone::record::{Dose, Half, PhotoRecord, Reading, Settings};
use masstone_simulator as sim;
use std::path::{Path, PathBuf};

/// A photo on disk with its panel and what is true of it.
#[derive(Debug)]
pub(crate) struct Shot {
    pub(crate) path: PathBuf,
    pub(crate) panel: Panel,
    pub(crate) truth: sim::Truth,
}

/// Renders a scene with the whole camera and writes it, `long_side` pixels long, into a folder of its own.
pub(crate) fn shoot(spec: &sim::SceneSpec, long_side: u32, folder: &Path) -> Shot {
    std::fs::create_dir_all(folder).expect("the simulator's own scene");
    let scene = spec.build();
    let path = folder.join("photo.jpg");
    let rendered = scene
        .write(&path, sim::FileKind::Jpeg, scene.stored_size(long_side))
        .expect("the simulator's own scene");
    scene
        .write_panel(folder)
        .expect("the simulator's own scene");
    Shot {
        path,
        panel: panel::read(&folder.join("panel.toml")).expect("the simulator's own scene"),
        truth: rendered.truth,
    }
}

/// A job without anything known beforehand.
pub(crate) fn job(path: &Path, tone: Tone) -> Job {
    Job {
        path: path.to_owned(),
        dose: Dose::default(),
        exposure: None,
        settings: Settings {
            upright: false,
            linear: false,
            tone,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
    }
}

/// Measures it as the program does, without a proof.
pub(crate) fn measure(shot: &Shot, tone: Tone) -> Result<PhotoRecord, Refusal> {
    measure::photo(&job(&shot.path, tone), &shot.panel, false).map(|it| it.record)
}

/// Largest distance of a corner from the true one, over the shorter side of the true quad: so near, the inside that is read is
/// that patch's own.
const NEAR: f64 = 0.15;

/// Judges every reading by place: each true patch or half is read exactly once, under its own name, where it lies.
///
/// Gives how many were right, or what is wrong. Colours are not looked at.
pub(crate) fn judge(record: &PhotoRecord, truth: &sim::Truth) -> Result<usize, String> {
    if record.readings.len() != truth.patches.len() {
        return Err(format!(
            "{} readings of {} patches and halves",
            record.readings.len(),
            truth.patches.len()
        ));
    }
    for is in &truth.patches {
        let found = reading(record, is).ok_or(format!("no reading of {} {:?}", is.id, is.half))?;
        let side = (0..4)
            .map(|i| distance(is.quad[i], is.quad[(i + 1) % 4]))
            .fold(f64::INFINITY, f64::min);
        for (seen, corner) in found.outline.iter().zip(&is.quad) {
            let off = distance(*seen, *corner) / side;
            // A corner that is not a number is not near.
            if off > NEAR || off.is_nan() {
                return Err(format!(
                    "{} {:?} is {off:.2} of its side off",
                    is.id, is.half
                ));
            }
        }
    }
    Ok(truth.patches.len())
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The reading of a true patch or half.
pub(crate) fn reading<'a>(record: &'a PhotoRecord, of: &sim::PatchTruth) -> Option<&'a Reading> {
    let half = match of.half {
        sim::Half::Whole => Half::Whole,
        sim::Half::Masked => Half::Masked,
        sim::Half::Exposed => Half::Exposed,
    };
    record
        .readings
        .iter()
        .find(|it| it.patch == of.id && it.half == half)
}

/// Readings with a colour but without a U95 that is a positive number.
pub(crate) fn without_u95(record: &PhotoRecord) -> usize {
    let bare =
        |it: &&Reading| it.lab().is_some() && !it.u95.is_some_and(|u| u.is_finite() && u > 0.0);
    record.readings.iter().filter(bare).count()
}

/// ΔE00 to truth, and that of the camera itself, of each reading that isn't clipped.
///
/// The camera's own is that of a perfect pipeline behind this camera with the grey alone: its metameric error.
pub(crate) fn errors(record: &PhotoRecord, truth: &sim::Truth) -> Vec<(f64, f64)> {
    let lab = |it: [f64; 3]| Lab::new(it[0], it[1], it[2]);
    truth
        .patches
        .iter()
        .filter_map(|is| {
            let found = reading(record, is)?;
            let clipped = [Flag::ClippedHigh, Flag::ClippedLow].map(|flag| found.has(flag));
            let ours = found.lab().filter(|_| !clipped.contains(&true))?;
            Some((
                difference::delta_e_2000(ours, lab(is.lab)),
                difference::delta_e_2000(lab(is.camera_lab), lab(is.lab)),
            ))
        })
        .collect()
}

/// Mean ΔE00 of each patch or half from its mean in Lab over photos of the same panel, over all of them.
pub(crate) fn repeatability(records: &[PhotoRecord], truth: &sim::Truth) -> f64 {
    let mut all = Vec::new();
    for is in &truth.patches {
        let labs: Vec<Lab> = records
            .iter()
            .filter_map(|it| reading(it, is)?.lab())
            .collect();
        let n = labs.len() as f64;
        let mean = |f: fn(&Lab) -> f64| labs.iter().map(f).sum::<f64>() / n;
        let centre = Lab::new(mean(|it| it.l), mean(|it| it.a), mean(|it| it.b));
        all.extend(labs.iter().map(|it| difference::delta_e_2000(*it, centre)));
    }
    mean(&all)
}

/// Of nothing: not a number, which no bound holds for.
pub(crate) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}
