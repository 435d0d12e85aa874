//! What a correction that was fitted to another photo is worth: `cargo bench --bench saved -- [pairs] [long side] [study]`.
//!
//! For each pair a photo of a chart and one of a board with a grey card, the same camera and light. Prints mean ΔE00 of the second with
//! the grey card alone and with the first one's correction, and the share of truths inside U95. Then how the map's error grows with
//! the distance of the light, which the limit and the allowance rest on.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]

#[path = "saved/blank.rs"]
mod blank;
#[path = "../tests/carried/mod.rs"]
mod carried;
#[path = "saved/light.rs"]
mod light;

use carried::scene::{Measured, mean, measure, of_halves};
use carried::{fitted, pair, shot};
use masstone::colour::difference;
use masstone::correct::{Saved, Tone};
use masstone_simulator as sim;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let pairs = u64::from(numbers.first().copied().unwrap_or(60));
    let long_side = numbers.get(1).copied().unwrap_or(1000);
    let study = std::env::args().any(|it| it == "study");
    let (split, first) = if study {
        (sim::Split::Study, 9_200_000)
    } else {
        (sim::Split::Test, 9_300_000)
    };
    let even = std::env::args().any(|it| it == "even");
    let verbose = std::env::args().any(|it| it == "verbose");
    let mut rows: Vec<(sim::SceneSpec, Vec<Measured>, Vec<Measured>, Saved)> = Vec::new();
    for seed in 0..pairs {
        let (chart, mut grey) = pair(split, first + seed * 1000);
        if even {
            grey.field = sim::Field::default();
            grey.second = grey
                .second
                .map(|(light, share, _)| (light, share, grey.field));
            grey.camera.local_tone = 0.0;
            grey.highlights.clear();
        }
        let (Some(chart_shot), Some(grey_shot)) = (shot(&chart, long_side), shot(&grey, long_side))
        else {
            continue;
        };
        let measured = fitted(&chart_shot).and_then(|saved| {
            let alone = measure(&grey_shot, Tone::Auto)?.0;
            let with = carried::carried(&grey_shot, &saved, false)?;
            Ok((alone, with, saved))
        });
        match measured {
            Ok((alone, with, saved)) => {
                if verbose {
                    let part = |f: fn(difference::Parts) -> f64| {
                        mean(with.iter().filter_map(|it| {
                            it.ours.map(|ours| f(difference::parts(it.truth, ours)))
                        }))
                    };
                    println!(
                        "dL {:+.1} |dL| {:.1} |dC| {:.1} dC {:+.1} |dH| {:.1} inside {:.2}",
                        part(|p| p.lightness),
                        part(|p| p.lightness.abs()),
                        part(|p| p.chroma.abs()),
                        part(|p| p.chroma),
                        part(|p| p.hue.abs()),
                        mean(
                            with.iter().filter_map(|it| it
                                .error()
                                .map(|e| f64::from(u8::from(e <= it.u95))))
                        )
                    );
                    println!(
                        "{seed} {:?} alone {:.2} saved {:.2} loo {:.2} rms {:.2} local {:.2}",
                        grey.light_kind,
                        mean(alone.iter().filter_map(Measured::error)),
                        mean(with.iter().filter_map(Measured::error)),
                        saved.fit.leave_one_out,
                        saved.fit.left_out_square.sqrt(),
                        grey.camera.local_tone
                    );
                }
                rows.push((grey, alone, with, saved));
            }
            Err(error) => println!("pair {seed}: {error}"),
        }
    }
    println!("{} pairs at {long_side} px", rows.len());
    let table = |name: &str, which: &dyn Fn(&sim::SceneSpec) -> bool| {
        let some = || rows.iter().filter(|it| which(&it.0));
        line(&format!("{name}: alone"), some().map(|it| &it.1));
        line(&format!("{name}: saved"), some().map(|it| &it.2));
    };
    table("all", &|_| true);
    table("daylight", &|it| it.light_kind == sim::LightKind::Daylight);
    table("overcast", &|it| it.light_kind == sim::LightKind::Overcast);
    table("lamps", &|it| {
        !matches!(
            it.light_kind,
            sim::LightKind::Daylight | sim::LightKind::Overcast
        )
    });
    let mut offsets: Vec<f64> = (rows.iter().map(|it| offset(&it.2).abs()))
        .filter(|it| it.is_finite())
        .collect();
    offsets.sort_by(f64::total_cmp);
    if let Some(middle) = offsets.get(offsets.len() / 2) {
        println!(
            "log light that a board has in common with the saved correction: sd {:.4} (robust), {:.4}",
            1.4826 * middle,
            mean(offsets.iter().map(|it| it * it)).sqrt()
        );
    }
    blank::print(split, pairs, long_side);
    light::print(split);
}

/// By how much all patches of a board are too light, in log light.
fn offset(board: &[Measured]) -> f64 {
    // L* + 16 grows with the cube root of light.
    let of = |it: &Measured| {
        it.ours
            .map(|ours| 3.0 * (ours.l - it.truth.l) / (it.truth.l + 16.0))
    };
    mean(board.iter().filter(|it| it.clipped < 0.25).filter_map(of))
}

fn line<'a>(name: &str, photos: impl Iterator<Item = &'a Vec<Measured>>) {
    let photos: Vec<&[Measured]> = photos.map(Vec::as_slice).collect();
    let halves = of_halves(&photos).map_or(f64::NAN, |[ours, plain]| ours / plain);
    let all: Vec<&Measured> = (photos.iter().copied().flatten())
        .filter(|it| it.clipped < 0.25)
        .collect();
    let errors: Vec<(f64, f64)> = all
        .iter()
        .filter_map(|it| it.error().map(|e| (e, it.u95)))
        .collect();
    if errors.is_empty() {
        return;
    }
    let mut sorted: Vec<f64> = errors.iter().map(|it| it.0).collect();
    sorted.sort_by(f64::total_cmp);
    let plain = mean(all.iter().map(|it| it.plain_error()));
    let camera = mean(all.iter().map(|it| it.camera_error()));
    println!(
        "{name:<18} plain {plain:5.2}  camera {camera:4.2}  n {:>5}  mean {:5.2}  p95 {:5.2}  U95 {:5.2} holds {:5.1} %  halves ÷ plain {halves:.2}",
        errors.len(),
        mean(sorted.iter().copied()),
        sorted[(sorted.len() * 95 / 100).min(sorted.len() - 1)],
        mean(errors.iter().map(|it| it.1)),
        100.0 * mean(errors.iter().map(|it| f64::from(u8::from(it.0 <= it.1))))
    );
}
