//! Prints how long scenes take to build and render, in milliseconds, on the threads that rayon has.

use masstone_simulator::{FileKind, Mixture, SceneSpec, Split};
use std::io::Write;
use std::time::Instant;

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout();
    for mixture in [Mixture::Flawless, Mixture::Ordinary, Mixture::Hard] {
        let specs: Vec<SceneSpec> = (0..8)
            .map(|seed| SceneSpec::draw(mixture, Split::Test, seed))
            .collect();
        let start = Instant::now();
        let scenes: Vec<_> = specs.iter().map(SceneSpec::build).collect();
        let built = start.elapsed().as_secs_f64() * 1e3 / 8.0;
        let start = Instant::now();
        for scene in &scenes {
            std::hint::black_box(scene.truth([4032, 3024]));
        }
        let truth = start.elapsed().as_secs_f64() * 1e3 / 8.0;
        let start = Instant::now();
        for scene in &scenes {
            std::hint::black_box(scene.render_small(700));
        }
        let small = start.elapsed().as_secs_f64() * 1e3 / 8.0;
        let start = Instant::now();
        let full: Vec<_> = scenes
            .iter()
            .take(2)
            .map(|it| it.stored_size(4032))
            .zip(&scenes)
            .map(|([w, h], it)| it.render(w, h))
            .collect();
        let rendered = start.elapsed().as_secs_f64() * 1e3 / 2.0;
        let start = Instant::now();
        for picture in &full {
            std::hint::black_box(picture.encode(FileKind::Jpeg)?);
        }
        let coded = start.elapsed().as_secs_f64() * 1e3 / 2.0;
        writeln!(
            out,
            "{mixture:?}: build {built:.1}, truth {truth:.1}, small (700 px) {small:.1}, 12 MP {rendered:.0}, JPEG {coded:.0}"
        )?;
    }
    Ok(())
}
