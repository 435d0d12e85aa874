//! What a raw photo (DNG) is worth beside the camera's own JPEG of the same scene: `cargo bench --bench raw -- [PHOTOS] [LONG_SIDE] [FIRST SEED]
//! [study]`.
//!
//! `PHOTOS` (default 60) scenes of the ordinary mixture for each kind of reference, `LONG_SIDE` (default 4032) pixels of the sensor, with the
//! true geometry; as many flawless ones in daylight; each as a JPEG and as a raw file as phones write it. `study` takes the split that sets
//! allowances. Judged against the simulator's truth; rows that miss what is to be reached say so.

#![expect(clippy::print_stdout, reason = "a command that prints its table")]

#[path = "rows/figures.rs"]
mod figures;
#[path = "../tests/correction/raw.rs"]
mod raw;
#[path = "../tests/correction/scene.rs"]
mod scene;

use figures::Figures;
use masstone::correct::Tone;
use masstone_simulator as sim;
use raw::shoot_raw;
use rayon::prelude::*;
use scene::{Kind, Measured, Shot, kind, measure, shoot};
use std::ops::Range;

fn main() {
    let numbers: Vec<u32> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let number = |i: usize, default: u32| numbers.get(i).copied().unwrap_or(default);
    let study = std::env::args().any(|it| it == "study");
    let bench = Bench {
        photos: number(0, 60) as usize,
        long_side: number(1, 4032),
        first: u64::from(number(2, 85_000_000)),
        split: if study {
            sim::Split::Study
        } else {
            sim::Split::Test
        },
    };
    bench.ordinary();
    bench.daylight(5000.0..6600.0, true);
    bench.daylight(4000.0..10_000.0, false);
}

struct Bench {
    photos: usize,
    long_side: u32,
    first: u64,
    split: sim::Split,
}

/// A photo's readings, and the same from a raw file.
type Pair = (Vec<Measured>, Vec<Measured>);

impl Bench {
    fn scenes(
        &self,
        mixture: sim::Mixture,
        which: impl Fn(&sim::SceneSpec) -> bool,
    ) -> Vec<sim::SceneSpec> {
        (self.first..)
            .map(|seed| sim::SceneSpec::draw(mixture, self.split, seed))
            .filter(which)
            .take(self.photos)
            .collect()
    }

    fn pairs(&self, specs: &[sim::SceneSpec], tone: Tone, written: &sim::DngSpec) -> Vec<Pair> {
        let read = |shot: Option<Shot>, spec: &sim::SceneSpec| {
            let shot = shot.filter(|it| it.truth.cards.len() == spec.layout.cards.len())?;
            measure(&shot, tone).ok().map(|it| it.0)
        };
        specs
            .par_iter()
            .filter_map(|spec| {
                let jpeg = read(shoot(spec, self.long_side, true), spec)?;
                let raw = read(shoot_raw(spec, self.long_side, written), spec)?;
                // What either has clipped is left out of both.
                let sound = |(a, b): &(Measured, Measured)| {
                    [a, b]
                        .iter()
                        .all(|it| it.ours.is_some() && it.clipped < 0.05)
                };
                Some(jpeg.into_iter().zip(raw).filter(sound).unzip())
            })
            .collect()
    }

    fn ordinary(&self) {
        println!("ordinary mixture, {} pixels:", self.long_side);
        for (name, which) in [
            ("grey card", Kind::Grey),
            ("three zones", Kind::Zones),
            ("chart", Kind::Chart),
        ] {
            let specs = self.scenes(sim::Mixture::Ordinary, |it| kind(it) == Some(which));
            let exact = sim::DngSpec::phone();
            let other = sim::DngSpec {
                unit: Some(5),
                ..exact.clone()
            };
            for (of, written) in [("this unit", &exact), ("another unit", &other)] {
                let pairs = self.pairs(&specs, Tone::Auto, written);
                let Some([jpeg, raw]) = figures(&pairs) else {
                    continue;
                };
                println!("{name}, matrices of {of}");
                println!("  {}\n  {}", raw.line("raw"), jpeg.line("developed"));
                let ratio = raw.ours / jpeg.ours;
                let missed = which == Kind::Grey && ratio > 0.6;
                println!(
                    "  raw ÷ developed: {ratio:.2}{}",
                    if missed { "  MISSED: at most 0.6" } else { "" }
                );
            }
        }
    }

    /// Phases of these temperatures, K. The matrices are for A and D65: the goal is for daylight between D50 and D65.
    fn daylight(&self, phases: Range<f64>, is_goal: bool) {
        let in_daylight = |it: &sim::SceneSpec| {
            let phase = match it.light.light {
                sim::Light::Daylight(kelvin) => phases.contains(&kelvin),
                _ => false,
            };
            phase && it.second.is_none() && kind(it) == Some(Kind::Grey)
        };
        let specs = self.scenes(sim::Mixture::Flawless, in_daylight);
        let pairs = self.pairs(&specs, Tone::None, &sim::DngSpec::phone());
        if let Some([developed, raw]) = figures(&pairs) {
            let ratio = raw.ours / raw.camera;
            println!("flawless, in daylight of {phases:.0?} K, grey card");
            println!("  {}\n  {}", raw.line("raw"), developed.line("developed"));
            println!(
                "  raw ÷ the camera's own: {ratio:.2}{}",
                if is_goal && ratio > 1.1 {
                    "  MISSED: at most 1.1"
                } else {
                    ""
                }
            );
        }
    }
}

fn figures(pairs: &[Pair]) -> Option<[Figures; 2]> {
    Some([
        Figures::of(pairs.iter().map(|it| &it.0))?,
        Figures::of(pairs.iter().map(|it| &it.1))?,
    ])
}
