//! How true the colours are against simulated truth, with the true geometry: `cargo bench --bench correction -- [photos] [long side]`.
//!
//! Prints mean ΔE00 of ours and of the plain method, their ratio, and the share of truths inside U95, by reference kind, kind of light
//! and tone curve.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]

#[path = "../tests/correction/scene.rs"]
mod scene;

use masstone::correct::{Options, Tone, correct};
use masstone::reference::references;
use masstone::sample::{Region, sample};
use masstone_simulator as sim;
use scene::{Kind, Measured, kind, mean, measure, shoot};
use std::time::Instant;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let photos = u64::from(numbers.first().copied().unwrap_or(120));
    let long_side = numbers.get(1).copied().unwrap_or(1200);
    let full = std::env::args().any(|it| it == "full");
    let split = if std::env::args().any(|it| it == "study") {
        sim::Split::Study
    } else {
        sim::Split::Test
    };
    let verbose = std::env::args().any(|it| it == "verbose");
    speed(split);
    for (name, mixture) in [
        ("flawless", sim::Mixture::Flawless),
        ("ordinary", sim::Mixture::Ordinary),
    ] {
        let mut rows: Vec<(Kind, sim::SceneSpec, Vec<Measured>)> = Vec::new();
        let count = if name == "flawless" {
            photos / 4
        } else {
            photos
        };
        for seed in 0..count {
            let spec = sim::SceneSpec::draw(mixture, split, 7_000_000 + seed);
            let Some(kind) = kind(&spec) else { continue };
            let Some(shot) = shoot(&spec, long_side, full) else {
                continue;
            };
            if shot.truth.cards.len() != spec.layout.cards.len() {
                continue;
            }
            let tone = if name == "flawless" {
                Tone::None
            } else {
                Tone::Auto
            };
            match measure(&shot, tone) {
                Ok((measured, _, outcome)) => {
                    if verbose {
                        let c = &outcome.correction;
                        let ours = mean(measured.iter().filter_map(Measured::error));
                        let plain = mean(measured.iter().map(Measured::plain_error));
                        let part = |f: fn(masstone::colour::difference::Parts) -> f64| {
                            mean(measured.iter().filter_map(|it| {
                                it.ours.map(|ours| {
                                    f(masstone::colour::difference::parts(it.truth, ours))
                                })
                            }))
                        };
                        print!(
                            "{} stretches dL {:+.1} |dL| {:.1} |dC| {:.1} dC {:+.1} |dH| {:.1} ",
                            c.light.stretches,
                            part(|p| p.lightness),
                            part(|p| p.lightness.abs()),
                            part(|p| p.chroma.abs()),
                            part(|p| p.chroma),
                            part(|p| p.hue.abs())
                        );
                        println!(
                            "{seed} {kind:?} {:?} ours {ours:.2} plain {plain:.2} {:?} contrast {:.2} shift {:.2} orders {} {} left {:.3} loo {:?} tone {:?} field {:?} second {:?}",
                            c.kind,
                            spec.light_kind,
                            c.tone.contrast,
                            c.tone.shift,
                            c.light.order,
                            c.light.colour_order,
                            c.light.residual,
                            c.leave_one_out,
                            spec.camera.tone,
                            spec.field.linear,
                            spec.second.map(|it| it.1)
                        );
                    }
                    rows.push((kind, spec, measured));
                }
                Err(error) => println!("{name} {seed}: {error}"),
            }
        }
        println!("== {name}: {} photos at {long_side} px", rows.len());
        for which in [Kind::Grey, Kind::Zones, Kind::Chart] {
            let of_kind = || rows.iter().filter(|it| it.0 == which);
            line(&format!("{which:?}"), of_kind().map(|it| &it.2));
            for light in [
                sim::LightKind::Daylight,
                sim::LightKind::Overcast,
                sim::LightKind::Incandescent,
                sim::LightKind::Fluorescent,
                sim::LightKind::Led,
            ] {
                line(
                    &format!("  {light:?}"),
                    of_kind()
                        .filter(|it| it.1.light_kind == light)
                        .map(|it| &it.2),
                );
            }
            for tone in [
                sim::ToneStrength::None,
                sim::ToneStrength::Mild,
                sim::ToneStrength::Strong,
            ] {
                line(
                    &format!("  tone {tone:?}"),
                    of_kind()
                        .filter(|it| it.1.tone_strength == tone)
                        .map(|it| &it.2),
                );
            }
        }
    }
}

/// The best of five runs of each stage on a 12 megapixel photo.
fn speed(split: sim::Split) {
    let spec = (0..)
        .map(|seed| sim::SceneSpec::draw(sim::Mixture::Ordinary, split, seed))
        .find(|it| kind(it) == Some(Kind::Chart));
    let Some(shot) = spec.and_then(|it| shoot(&it, 4032, false)) else {
        return;
    };
    let best = |run: &dyn Fn()| {
        (0..5)
            .map(|_| {
                let start = Instant::now();
                run();
                start.elapsed().as_secs_f64() * 1e3
            })
            .fold(f64::INFINITY, f64::min)
    };
    let samples = sample(&shot.photo, &shot.panel, &shot.located);
    let known = references(&shot.panel, &samples);
    let options = Options { tone: Tone::Auto };
    let sampling = best(&|| drop(sample(&shot.photo, &shot.panel, &shot.located)));
    let correcting = best(&|| drop(correct(&samples, &known, &options)));
    let blocks = |it: &[Region]| it.iter().map(|it| it.blocks.len()).sum::<usize>();
    println!(
        "{} x {}: sample {sampling:.1} ms, correct {correcting:.1} ms; blocks {} {} {}; {} patches",
        shot.photo.width,
        shot.photo.height,
        blocks(&samples.patches),
        blocks(&samples.cards),
        blocks(&samples.substrate),
        samples.patches.len()
    );
}

fn line<'a>(name: &str, photos: impl Iterator<Item = &'a Vec<Measured>>) {
    let all: Vec<&Measured> = photos.flatten().filter(|it| it.clipped < 0.25).collect();
    let read: Vec<&&Measured> = all.iter().filter(|it| it.ours.is_some()).collect();
    if read.is_empty() {
        return;
    }
    let errors: Vec<f64> = read.iter().filter_map(|it| it.error()).collect();
    let mut sorted = errors.clone();
    sorted.sort_by(f64::total_cmp);
    let ours = mean(errors.iter().copied());
    let plain = mean(read.iter().map(|it| it.plain_error()));
    let camera = mean(read.iter().map(|it| it.camera_error()));
    let inside = mean(
        read.iter()
            .zip(&errors)
            .map(|(it, e)| if *e <= it.u95 { 1.0 } else { 0.0 }),
    );
    let u95 = mean(read.iter().map(|it| it.u95));
    println!(
        "{name:<20} n {:>5}  ours {ours:5.2} (p95 {:5.2})  plain {plain:5.2}  ratio {:4.2}  camera {camera:4.2}  U95 {u95:5.2} holds {:5.1} %",
        read.len(),
        sorted[(sorted.len() * 95 / 100).min(sorted.len() - 1)],
        ours / plain,
        inside * 100.0
    );
}
