//! How true the colours are against simulated truth, with the true geometry: `cargo bench --bench correction -- [photos] [long side]
//! [first seed]`.
//!
//! Prints mean ΔE00 of ours and of the plain method, their ratio, the share of truths inside U95 and the errors of the difference between a
//! patch's halves, by reference kind, kind of light, tone curve and kind of correction. `full` renders with the whole camera, `study`
//! takes the split that sets allowances, `whole` leaves out boards with halves, `board` states the board's colour of the others, `verbose` tells of each photo.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]

#[path = "../tests/correction/board.rs"]
mod board;
#[path = "rows/figures.rs"]
mod figures;
#[path = "../tests/correction/scene.rs"]
mod scene;

use board::stating_board;
use figures::Figures;
use masstone::colour::difference;
use masstone::correct::{Correction, CorrectionKind, Options, Tone, correct};
use masstone::reference::references;
use masstone::sample::{Region, sample};
use masstone_simulator as sim;
use rayon::prelude::*;
use scene::{Kind, Measured, kind, mean, measure, shoot};
use std::time::Instant;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let photos = u64::from(numbers.first().copied().unwrap_or(120));
    let long_side = numbers.get(1).copied().unwrap_or(1200);
    let first = u64::from(numbers.get(2).copied().unwrap_or(7_000_000));
    let full = std::env::args().any(|it| it == "full");
    let split = if std::env::args().any(|it| it == "study") {
        sim::Split::Study
    } else {
        sim::Split::Test
    };
    let whole = std::env::args().any(|it| it == "whole");
    let board = std::env::args().any(|it| it == "board");
    let verbose = std::env::args().any(|it| it == "verbose");
    speed(split);
    for (name, mixture) in [
        ("flawless", sim::Mixture::Flawless),
        ("ordinary", sim::Mixture::Ordinary),
    ] {
        let (count, tone) = if name == "flawless" {
            (photos / 4, Tone::None)
        } else {
            (photos, Tone::Auto)
        };
        let shot = |seed: u64| {
            let spec = sim::SceneSpec::draw(mixture, split, first + seed);
            let kind = kind(&spec)?;
            // Wood of which a part went outdoors has two colours.
            if (whole || board) && spec.layout.masked.is_some() {
                return None;
            }
            let mut shot = shoot(&spec, long_side, full)?;
            if board {
                shot = stating_board(shot);
            }
            if shot.truth.cards.len() != spec.layout.cards.len() {
                return None;
            }
            let measured = measure(&shot, tone).map(|(measured, _, outcome)| {
                let text = verbose.then(|| describe(&spec, &measured, &outcome.correction));
                (outcome.correction.kind, measured, text)
            });
            Some((seed, kind, spec, measured))
        };
        let done: Vec<_> = (0..count).into_par_iter().filter_map(shot).collect();
        let mut rows: Vec<Row> = Vec::new();
        for (seed, kind, spec, measured) in done {
            match measured {
                Ok((correction, measured, text)) => {
                    if let Some(text) = text {
                        println!("{seed} {kind:?} {text}");
                    }
                    rows.push(Row {
                        kind,
                        correction,
                        spec,
                        measured,
                    });
                }
                Err(error) => println!("{name} {seed}: {error}"),
            }
        }
        println!("== {name}: {} photos at {long_side} px", rows.len());
        for which in [Kind::Grey, Kind::Zones, Kind::Chart] {
            let of = |name: &str, wanted: &dyn Fn(&Row) -> bool| {
                let rows = rows.iter().filter(|it| it.kind == which && wanted(it));
                line(name, rows.map(|it| &it.measured));
            };
            of(&format!("{which:?}"), &|_| true);
            for light in [
                sim::LightKind::Daylight,
                sim::LightKind::Overcast,
                sim::LightKind::Incandescent,
                sim::LightKind::Fluorescent,
                sim::LightKind::Led,
            ] {
                of(&format!("  {light:?}"), &|it| it.spec.light_kind == light);
            }
            for tone in [
                sim::ToneStrength::None,
                sim::ToneStrength::Mild,
                sim::ToneStrength::Strong,
            ] {
                of(&format!("  tone {tone:?}"), &|it| {
                    it.spec.tone_strength == tone
                });
            }
        }
        for kind in [
            CorrectionKind::Neutral,
            CorrectionKind::NeutralTone,
            CorrectionKind::Linear,
            CorrectionKind::RootPolynomial,
        ] {
            let rows = rows.iter().filter(|it| it.correction == kind);
            line(&format!("{kind:?}"), rows.map(|it| &it.measured));
        }
    }
}

/// One photo.
struct Row {
    kind: Kind,
    correction: CorrectionKind,
    spec: sim::SceneSpec,
    measured: Vec<Measured>,
}

/// What was found in a photo, beside what was in it.
fn describe(spec: &sim::SceneSpec, measured: &[Measured], found: &Correction) -> String {
    let parts: Vec<difference::Parts> = measured
        .iter()
        .filter_map(|it| it.ours.map(|ours| difference::parts(it.truth, ours)))
        .collect();
    let part = |of: fn(&difference::Parts) -> f64| mean(parts.iter().map(of));
    format!(
        "{:?} {:?} ours {:.2} plain {:.2} ΔL {:+.1} ΔC {:+.1} |ΔH| {:.1}; contrast {:.2} shift {:.2}, light {} {} of {} stretches left {:.3}, left out {:?}; {:?} {:?} {:?}",
        found.kind,
        spec.light_kind,
        mean(measured.iter().filter_map(Measured::error)),
        mean(measured.iter().map(Measured::plain_error)),
        part(|it| it.lightness),
        part(|it| it.chroma),
        part(|it| it.hue.abs()),
        found.tone.contrast,
        found.tone.shift,
        found.light.order,
        found.light.colour_order,
        found.light.stretches,
        found.light.residual,
        found.leave_one_out,
        spec.camera.tone,
        spec.field.linear,
        spec.second.map(|it| it.1)
    )
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
    if let Some(it) = Figures::of(photos) {
        println!("{}", it.line(name));
    }
}
