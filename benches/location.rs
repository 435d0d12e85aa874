//! Location alone on many small renders: found, refused and wrong by mixture, and the time.
//!
//! `cargo bench --bench location -- [COUNT] [FIRST] [SIDE] [FOLDER] [KIND] [whole]`: `COUNT` scenes of each mixture (default 500), from
//! seed `FIRST`, `SIDE` pixels on the long side; pictures and panel files of what came out otherwise than it should go to `FOLDER`. `whole`: with
//! the sensor's mosaic, as photos are, and slower.

#[path = "../tests/scenes/mod.rs"]
mod scenes;

use masstone_simulator::{Mixture, SceneSpec, Split, Trouble};
use scenes::Outcome;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A name and how its scenes are drawn.
type Kind = (&'static str, fn(u64) -> SceneSpec);

const KINDS: [Kind; 7] = [
    ("ordinary", |seed| {
        SceneSpec::draw(Mixture::Ordinary, Split::Test, seed)
    }),
    ("hard", |seed| {
        SceneSpec::draw(Mixture::Hard, Split::Test, seed)
    }),
    ("no witness", |seed| {
        SceneSpec::troubled(Trouble::NoWitness, Split::Test, seed)
    }),
    ("wrong panel", |seed| {
        SceneSpec::troubled(Trouble::WrongPanel, Split::Test, seed)
    }),
    ("no card", |seed| {
        SceneSpec::troubled(Trouble::NoCard, Split::Test, seed)
    }),
    ("two panels", |seed| {
        SceneSpec::troubled(Trouble::TwoPanels, Split::Test, seed)
    }),
    ("no panel", |seed| {
        SceneSpec::troubled(Trouble::NoPanel, Split::Test, seed)
    }),
];

fn main() -> std::io::Result<()> {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|it| it != "--bench")
        .collect();
    let number = |i: usize, default: u64| {
        arguments
            .get(i)
            .and_then(|it| it.parse().ok())
            .unwrap_or(default)
    };
    let (count, first, side) = (number(0, 500), number(1, 1_000_000), number(2, 800));
    let folder = arguments.get(3).map(PathBuf::from);
    let whole = arguments.iter().any(|it| it == "whole");
    let only = arguments.get(4).filter(|it| *it != "whole");
    if let Some(it) = &folder {
        std::fs::create_dir_all(it)?;
    }
    let mut out = std::io::stdout().lock();
    for (name, draw) in KINDS {
        if only.is_some_and(|it| it != name) {
            continue;
        }
        let troubled = !matches!(name, "ordinary" | "hard");
        let count = if troubled { count.div_ceil(5) } else { count };
        let mut right = 0_u32;
        let mut worst = 0.0_f64;
        let mut refused: BTreeMap<String, Vec<u64>> = BTreeMap::new();
        let mut wrong: Vec<(u64, String)> = Vec::new();
        let mut times: Vec<Duration> = Vec::new();
        for seed in first..first + count {
            let spec = draw(seed);
            let scene = spec.build();
            let side = u32::try_from(side).unwrap_or(800);
            let Some(panel) = scenes::panel_of(&scene) else {
                writeln!(
                    out,
                    "  {name} {seed}: its panel file contradicts itself, left out"
                )?;
                continue;
            };
            let picture = if whole {
                {
                    let [width, height] = scene.stored_size(side);
                    scene.render(width, height)
                }
            } else {
                scene.render_small(side)
            };
            let image = scenes::linear(&picture);
            let start = Instant::now();
            let found = scenes::locate_linear(&image, spec.tag.unwrap_or(1), &panel);
            times.push(start.elapsed());
            let outcome = scenes::judge(found, &panel, &picture.truth);
            if let Some(folder) = &folder
                && match outcome {
                    Outcome::Right(_) => troubled,
                    Outcome::Refused(_) => !troubled,
                    Outcome::Wrong(_) | Outcome::Amiss(_) => true,
                }
            {
                save(&picture, &folder.join(format!("{name}-{seed}.png")))?;
                std::fs::write(
                    folder.join(format!("{name}-{seed}.toml")),
                    scene.panel_toml(),
                )?;
            }
            match outcome {
                Outcome::Right(off) => {
                    right += 1;
                    worst = worst.max(off);
                }
                Outcome::Refused(why) => {
                    let text = why.to_string();
                    let key = text.split([':', '(']).next().unwrap_or_default().to_owned();
                    if !troubled {
                        writeln!(out, "  {name} {seed} refused: {text}")?;
                    }
                    refused.entry(key).or_default().push(seed);
                }
                Outcome::Wrong(why) | Outcome::Amiss(why) => wrong.push((seed, why)),
            }
        }
        times.sort();
        let median = times.get(times.len() / 2).copied().unwrap_or_default();
        let slow = times
            .get(times.len().saturating_mul(19) / 20)
            .copied()
            .unwrap_or_default();
        let refusals: usize = refused.values().map(Vec::len).sum();
        writeln!(
            out,
            "{name}: {count} scenes, {right} right (worst corner {worst:.3} of a patch), {refusals} refused, {} wrong; median {:.1} ms, 95 % {:.1} ms",
            wrong.len(),
            median.as_secs_f64() * 1e3,
            slow.as_secs_f64() * 1e3,
        )?;
        for (why, seeds) in &refused {
            let some: Vec<String> = seeds.iter().take(6).map(u64::to_string).collect();
            writeln!(out, "    {} × {why}: {} …", seeds.len(), some.join(" "))?;
        }
        for (seed, why) in &wrong {
            writeln!(out, "    WRONG {seed}: {why}")?;
        }
        out.flush()?;
    }
    Ok(())
}

/// Writes a picture to look at.
fn save(picture: &masstone_simulator::Rendered, path: &Path) -> std::io::Result<()> {
    let masstone_simulator::Pixels::U8(codes) = &picture.pixels else {
        return Ok(());
    };
    image::save_buffer(
        path,
        codes,
        picture.width,
        picture.height,
        image::ExtendedColorType::Rgb8,
    )
    .map_err(std::io::Error::other)
}
