//! What no photo can tell, from simulated cameras, lights and curves: `cargo bench --bench allowances -- [photos] [long side] [parts]`.
//!
//! `parts`: `tone`, `camera`, `chart`, `light`, `stray`, `local`, `highlights`, `mixture` (of it only `grey`, `zones`,
//! `chart` or `half` of one, if these are named); all of them if none is named.
//!
//! Prints the figures that `src/correct/allowance.rs` and the priors of `src/correct/light.rs` hold, each under its constant's
//! name. One thing is varied at a time: every other flaw of the same scenes is switched off, or the same scene is shot with and without the
//! flaw. All scenes are of the simulator's study split, whose cameras and lights the tests never see. The last lines show how often
//! U95 holds over the whole mixture, still of the study split; on the other split `tests/correction.rs` and
//! `cargo bench --bench correction` judge it.

#![expect(clippy::print_stdout, reason = "a command that prints its figures")]

#[path = "../tests/correction/half.rs"]
mod half;
#[path = "allowances/highlights.rs"]
mod highlights;
#[path = "allowances/local_tone.rs"]
mod local_tone;
#[path = "../tests/correction/raw.rs"]
mod raw;
#[path = "../tests/correction/scene.rs"]
mod scene;

use half::half_known;
use masstone::colour::{Lab, difference, lab, srgb};
use masstone::correct::{ComponentName, Outcome, Tone, ToneCurve, ToneSource};
use masstone_simulator as sim;
use nalgebra::{Matrix2, Vector2};
use raw::shoot_raw;
use rayon::prelude::*;
use scene::{Kind, Measured, kind, mean, measure, of_halves, shoot};

/// Seeds of the study, apart from those of tests and benches.
const SEEDS: u64 = 3_000_000;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u32| numbers.get(i).copied().unwrap_or(default);
    let study = Study {
        photos: number(0, 200) as usize,
        long_side: number(1, 800),
    };
    let words: Vec<String> = std::env::args().collect();
    let parts = [
        "tone",
        "camera",
        "chart",
        "light",
        "stray",
        "local",
        "highlights",
        "mixture",
    ];
    let kinds = ["grey", "zones", "chart", "half"];
    let asked = |part: &str| {
        !words.iter().any(|it| parts.contains(&it.as_str())) || words.iter().any(|it| it == part)
    };
    let run = |part: &str, study: &dyn Fn()| {
        if asked(part) {
            study();
        }
    };
    run("tone", &tone);
    run("camera", &|| study.camera());
    run("chart", &|| study.chart());
    run("light", &|| study.light());
    run("stray", &|| study.stray_light());
    run("local", &|| study.local_tone());
    run("highlights", &|| study.highlights());
    run("mixture", &|| {
        for (name, which, half) in [
            ("grey", Kind::Grey, false),
            ("zones", Kind::Zones, false),
            ("chart", Kind::Chart, false),
            ("half", Kind::Chart, true),
        ] {
            let none = !words.iter().any(|it| kinds.contains(&it.as_str()));
            if none || words.iter().any(|it| it == name) {
                study.mixture(which, half);
            }
        }
    });
}

fn draw(seed: u64) -> sim::SceneSpec {
    sim::SceneSpec::draw(sim::Mixture::Ordinary, sim::Split::Study, SEEDS + seed)
}

/// Mean and standard deviation.
fn spread(values: &[f64]) -> [f64; 2] {
    let middle = mean(values.iter().copied());
    [
        middle,
        mean(values.iter().map(|it| (it - middle).powi(2))).sqrt(),
    ]
}

/// The value below which a share of the sizes lie.
fn quantile(values: impl Iterator<Item = f64>, share: f64) -> f64 {
    let mut sizes: Vec<f64> = values.map(f64::abs).collect();
    sizes.sort_by(f64::total_cmp);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an index below the length"
    )]
    let index = (sizes.len() as f64 * share) as usize;
    sizes[index.min(sizes.len() - 1)]
}

/// The standard deviation that gives 95 % of the sizes their bound: what a U95 is made for, where tails are longer than a normal
/// distribution's.
fn of_95(values: impl Iterator<Item = f64>) -> f64 {
    quantile(values, 0.95) / 1.96
}

/// The 95th percentile of χ² with three degrees of freedom.
const CHI_SQUARE_95: f64 = 7.815;

/// The contrast and shift that undo a camera's curve best from 1 to 85 % of the encoding's light, and what they leave of log light from 3 %
/// on.
fn undoing(curve: &sim::ToneCurve) -> ([f64; 2], Vec<f64>) {
    let lights: Vec<f64> = (0..60)
        .map(|i| 0.012 * (0.85_f64 / 0.012).powf(f64::from(i) / 59.0))
        .collect();
    let left = |at: Vector2<f64>| -> Vec<f64> {
        let undo = ToneCurve {
            contrast: at.x,
            shift: at.y,
            source: ToneSource::Fitted,
            covariance: Matrix2::zeros(),
        };
        let logs: Vec<f64> = lights
            .iter()
            .map(|it| (undo.undo(srgb::decode(curve.apply(*it))).max(1e-6) / it).ln())
            .collect();
        // The gain is free.
        let middle = mean(logs.iter().copied());
        // Less is asked of what is darker than 3 %.
        logs.iter()
            .zip(&lights)
            .map(|(log, light)| (log - middle) * (light / 0.03).powf(0.3).min(1.0))
            .collect()
    };
    // Gauss and Newton, damped.
    let mut at = Vector2::zeros();
    for _ in 0..40 {
        let here = left(at);
        let by = [Vector2::new(1e-4, 0.0), Vector2::new(0.0, 1e-4)].map(|it| left(at + it));
        let (mut normal, mut pull) = (Matrix2::identity() * 1e-6, Vector2::zeros());
        for (i, value) in here.iter().enumerate() {
            let slope = Vector2::new((by[0][i] - value) / 1e-4, (by[1][i] - value) / 1e-4);
            normal += slope * slope.transpose();
            pull += slope * *value;
        }
        let step = normal
            .try_inverse()
            .map_or_else(Vector2::zeros, |it| it * pull);
        at -= step * 0.7;
    }
    let lit = left(at).into_iter().zip(&lights).filter(|it| *it.1 > 0.03);
    (at.into(), lit.map(|it| it.0).collect())
}

fn tone() {
    let all: Vec<([f64; 2], Vec<f64>)> = (0..600_u64)
        .into_par_iter()
        .map(|seed| undoing(&draw(seed).camera.tone))
        .collect();
    let contrasts: Vec<f64> = all.iter().map(|it| it.0[0]).collect();
    let shifts: Vec<f64> = all.iter().map(|it| it.0[1]).collect();
    let ([contrast, x], [shift, y]) = (spread(&contrasts), spread(&shifts));
    let both = mean(
        contrasts
            .iter()
            .zip(&shifts)
            .map(|(a, b)| (a - contrast) * (b - shift)),
    );
    println!("== tone curves of {} cameras", all.len());
    println!(
        "PHONE_TONE: contrast {contrast:.3} shift {shift:.3} sd [{x:.3}, {y:.3}] correlation {:.2}",
        both / x / y
    );
    let left = || all.iter().flat_map(|it| it.1.iter().copied());
    println!(
        "TONE_LEFT: {:.4} of log light (root mean square {:.4})",
        of_95(left()),
        mean(left().map(|it| it * it)).sqrt()
    );
}

/// The same scene with even light, no stray light, no processing but the camera's colour.
fn colour_only(mut spec: sim::SceneSpec) -> sim::SceneSpec {
    spec.field = sim::Field::default();
    spec.second = None;
    spec.shadows.clear();
    spec.highlights.clear();
    let camera = &mut spec.camera;
    camera.vignetting = 0.0;
    camera.flare = 0.0;
    camera.local_tone = 0.0;
    camera.tone = sim::ToneCurve::None;
    camera.shot_noise = 0.003;
    camera.read_noise = 0.0003;
    camera.sharpening = None;
    spec
}

/// ΔL*, ΔC and ΔH (signed, in Lab) of a reading against its truth, over the chroma of the truth.
fn along_chroma(it: &Measured) -> Option<[f64; 3]> {
    let (ours, truth) = (it.ours?, it.truth);
    let chroma = lab::chroma(truth);
    let (cos, sin) = (truth.a / chroma, truth.b / chroma);
    let (a, b) = (ours.a - truth.a, ours.b - truth.b);
    (chroma > 8.0)
        .then(|| [ours.l - truth.l, a * cos + b * sin, b * cos - a * sin].map(|it| it / chroma))
}

/// Log of the luminance of a reading.
fn log_luminance(lab: Lab) -> f64 {
    lab::luminance(lab.l).max(1e-4).ln()
}

/// What is stated of a part of a reading's uncertainty, as log light.
fn log_sd(outcome: &Outcome, of: &Measured, name: ComponentName) -> Option<f64> {
    let reading = outcome.readings.iter().find(|it| it.lab == of.ours)?;
    let part = reading.components.iter().find(|it| it.name == name)?;
    // dL*/d ln Y = (L* + 16) / 3.
    Some(part.sd_lab[0] * 3.0 / (of.ours?.l + 16.0))
}

/// Prints how far readings lie from the truth, over what leaving the references out shows.
fn like_the_colours<'a>(name: &str, read: impl Iterator<Item = &'a Read>) {
    let mut ratios = Vec::new();
    for (measured, outcome) in read {
        let left_out: Vec<f64> = outcome
            .correction
            .references
            .iter()
            .filter(|it| it.weight > 0.0)
            .filter_map(|it| it.left_out)
            .collect();
        let scale = mean(left_out.iter().map(|it| it * it));
        for error in measured
            .iter()
            .filter(|it| it.clipped < 0.05)
            .filter_map(Measured::error)
        {
            ratios.push(error * error / scale);
        }
    }
    println!("== chart, even light, no curve: {} readings", ratios.len());
    // Of an error that is equal in three coordinates, whose squares add up to the mean.
    let tail = 3.0 * quantile(ratios.iter().copied(), 0.95) / CHI_SQUARE_95;
    println!(
        "{name}: between {:.2} (mean) and {tail:.2} (95 %)",
        mean(ratios)
    );
}

/// One photo's readings with what was fitted.
type Read = (Vec<Measured>, Outcome);

struct Study {
    photos: usize,
    long_side: u32,
}

impl Study {
    /// The first scenes that hold such references.
    fn scenes(&self, which: Option<Kind>) -> Vec<sim::SceneSpec> {
        (0..)
            .map(draw)
            .filter(|it| which.is_none_or(|which| kind(it) == Some(which)))
            .take(self.photos)
            .collect()
    }

    fn read(&self, spec: &sim::SceneSpec, tone: Tone, half: bool) -> Option<Read> {
        let mut shot = shoot(spec, self.long_side, false)?;
        if half {
            shot = half_known(shot);
        }
        if shot.truth.cards.len() != spec.layout.cards.len() {
            return None;
        }
        let (measured, _, outcome) = measure(&shot, tone).ok()?;
        Some((measured, outcome))
    }

    fn all(&self, specs: &[sim::SceneSpec], tone: Tone) -> Vec<Option<Read>> {
        let read = specs.par_iter().map(|it| self.read(it, tone, false));
        read.collect()
    }

    /// The same with half a chart.
    fn halved(&self, specs: &[sim::SceneSpec], tone: Tone) -> Vec<Option<Read>> {
        let read = specs.par_iter().map(|it| self.read(it, tone, true));
        read.collect()
    }

    fn camera(&self) {
        let specs: Vec<_> = self
            .scenes(Some(Kind::Grey))
            .into_iter()
            .map(colour_only)
            .collect();
        let read = self.all(&specs, Tone::None);
        let shares: Vec<[f64; 3]> = read
            .iter()
            .flatten()
            .flat_map(|it| &it.0)
            .filter(|it| it.clipped < 0.05)
            .filter_map(along_chroma)
            .collect();
        let middle = [0, 1, 2].map(|i| mean(shares.iter().map(|it| it[i])));
        let part = |i: usize| of_95(shares.iter().map(|it| it[i] - middle[i]));
        println!(
            "== camera colour, even light, no curve: {} readings",
            shares.len()
        );
        println!("PHONE_SATURATION: {:.3}", 1.0 / (1.0 + middle[1]));
        println!(
            "CAMERA_NEUTRAL: [{:.3}, {:.3}, {:.3}]",
            part(0),
            part(1) / (1.0 + middle[1]),
            part(2)
        );
        self.sensor(&specs);
    }

    /// The same of raw files, whose matrices were made for another unit of the same make.
    fn sensor(&self, specs: &[sim::SceneSpec]) {
        let read = specs.par_iter().enumerate().filter_map(|(unit, spec)| {
            let written = sim::DngSpec {
                unit: Some(unit as u64),
                ..sim::DngSpec::phone()
            };
            let shot = shoot_raw(spec, 2 * self.long_side, &written)?;
            measure(&shot, Tone::None).ok().map(|it| it.0)
        });
        let shares: Vec<[f64; 3]> = read
            .flatten_iter()
            .filter(|it| it.clipped < 0.05)
            .filter_map(|it| along_chroma(&it))
            .collect();
        println!(
            "== sensor's colour, even light: {} readings, mean {:.3?} of chroma",
            shares.len(),
            [0, 1, 2].map(|i| mean(shares.iter().map(|it| it[i])))
        );
        let part = |i: usize| of_95(shares.iter().map(|it| it[i]));
        println!(
            "CAMERA_SENSOR: [{:.3}, {:.3}, {:.3}]",
            part(0),
            part(1),
            part(2)
        );
    }

    /// How far readings lie from the truth under a chart's fit, over what leaving the chart's patches out shows.
    fn chart(&self) {
        let specs: Vec<_> = self
            .scenes(Some(Kind::Chart))
            .into_iter()
            .map(colour_only)
            .collect();
        let (whole, half) = (
            self.all(&specs, Tone::None),
            self.halved(&specs, Tone::None),
        );
        like_the_colours("LIKE_THE_COLOURS", whole.iter().flatten());
        like_the_colours("LIKE_FEW_COLOURS", half.iter().flatten());
    }

    fn pairs(
        &self,
        which: Option<Kind>,
        with: impl Fn(&sim::SceneSpec, sim::SceneSpec) -> sim::SceneSpec,
    ) -> Vec<(Read, Read)> {
        let scenes = self.scenes(which);
        let plain: Vec<_> = scenes.iter().cloned().map(colour_only).collect();
        let flawed: Vec<_> = scenes
            .iter()
            .zip(&plain)
            .map(|(it, plain)| with(it, plain.clone()))
            .collect();
        let (plain, flawed) = (self.all(&plain, Tone::None), self.all(&flawed, Tone::None));
        plain
            .into_iter()
            .zip(flawed)
            .filter_map(|(a, b)| a.zip(b))
            .collect()
    }

    /// Uneven light and a lens that darkens corners, against even light.
    fn light(&self) {
        let pairs = self.pairs(None, |drawn, mut spec| {
            spec.field = drawn.field;
            spec.second = drawn.second;
            spec.camera.vignetting = drawn.camera.vignetting;
            spec
        });
        let (mut left, mut normal, mut colour) = (Vec::new(), Vec::new(), Vec::new());
        let mut coefficients: [Vec<f64>; 5] = Default::default();
        for ((even, _), (uneven, outcome)) in &pairs {
            let light = &outcome.correction.light;
            for (into, value) in coefficients.iter_mut().zip(light.coefficients[1]) {
                into.push(value);
            }
            for (a, b) in even.iter().zip(uneven).filter(|it| it.1.clipped < 0.05) {
                let (Some(even), Some(uneven)) = (a.ours, b.ours) else {
                    continue;
                };
                let off = log_luminance(uneven) - log_luminance(even);
                let Some(sd) = log_sd(outcome, b, ComponentName::Illumination) else {
                    continue;
                };
                left.push(off);
                normal.push(off / sd);
                colour.push((uneven.a - even.a).hypot(uneven.b - even.b));
            }
        }
        println!("== uneven light: {} readings", left.len());
        let [x, y, xx, xy, yy] = coefficients.map(|it| mean(it.iter().map(|v| v * v)).sqrt());
        println!(
            "FALL_OFF (with the lens): [{:.3}, {:.3}]",
            x.hypot(y) / 2.0_f64.sqrt(),
            (xx * xx + xy * xy + yy * yy).sqrt() / 3.0_f64.sqrt()
        );
        println!(
            "left of log light: rms {:.4}, 95 % within {:.4}; over the stated: rms {:.2}, 95 % within {:.2}; a*b* moved by {:.2} on average",
            spread(&left)[1],
            quantile(left.iter().copied(), 0.95),
            mean(normal.iter().map(|it| it * it)).sqrt(),
            quantile(normal.iter().copied(), 0.95),
            mean(colour)
        );
    }

    /// Stray light against none.
    fn stray_light(&self) {
        let pairs = self.pairs(Some(Kind::Chart), |drawn, mut spec| {
            spec.camera.flare = drawn.camera.flare;
            spec
        });
        let mut moved = Vec::new();
        for ((without, _), (with, _)) in &pairs {
            for (a, b) in without.iter().zip(with).filter(|it| it.1.clipped < 0.05) {
                if let (Some(a), Some(b)) = (a.ours, b.ours) {
                    moved.push(log_luminance(b) - log_luminance(a));
                }
            }
        }
        println!("== stray light: {} readings", moved.len());
        println!(
            "LOCAL_TONE_LEFT: {:.4} (rms {:.4})",
            of_95(moved.iter().copied()),
            mean(moved.iter().map(|it| it * it)).sqrt()
        );
    }

    /// How often U95 holds over the whole mixture.
    fn mixture(&self, which: Kind, half: bool) {
        let scenes = self.scenes(Some(which));
        let read = if half {
            self.halved(&scenes, Tone::Auto)
        } else {
            self.all(&scenes, Tone::Auto)
        };
        let all: Vec<&Measured> = read
            .iter()
            .flatten()
            .flat_map(|it| &it.0)
            .filter(|it| it.clipped < 0.25 && it.ours.is_some())
            .collect();
        let errors: Vec<f64> = all.iter().filter_map(|it| it.error()).collect();
        let inside = all
            .iter()
            .zip(&errors)
            .filter(|(it, e)| **e <= it.u95)
            .count();
        println!(
            "{which:?}: {} readings of {} photos, mean error {:.2} (plain method {:.2}, camera alone {:.2}), mean U95 {:.2}, holds {:.1} %",
            all.len(),
            read.iter().flatten().count(),
            mean(errors.iter().copied()),
            mean(all.iter().map(|it| it.plain_error())),
            mean(all.iter().map(|it| it.camera_error())),
            mean(all.iter().map(|it| it.u95)),
            100.0 * inside as f64 / all.len() as f64
        );
        let photos: Vec<&[Measured]> = read.iter().flatten().map(|it| it.0.as_slice()).collect();
        if let Some([ours, plain]) = of_halves(&photos) {
            println!("  difference of halves, mean error: {ours:.2} (plain method {plain:.2})");
        }
        let part = |share: &dyn Fn(difference::Parts) -> f64| {
            let parts = all
                .iter()
                .filter_map(|it| it.ours.map(|ours| difference::parts(it.truth, ours)));
            mean(parts.map(|it| share(it).powi(2))).sqrt()
        };
        println!(
            "  parts of ΔE00, rms: lightness {:.2}, chroma {:.2}, hue {:.2}",
            part(&|it| it.lightness),
            part(&|it| it.chroma),
            part(&|it| it.hue)
        );
    }
}
