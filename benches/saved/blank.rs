//! What a photo of a blank is worth: ordinary photos with a grey card, alone, with a plain sheet, and with the bare board.

use super::carried::scene::Kind;
use super::carried::scene::{Measured, Shot, kind, measure_given, photo_of, shoot};
use super::line;
use masstone::correct::{Given, Tone};
use masstone::sample::sample;
use masstone_simulator as sim;

/// Prints the table.
pub(crate) fn print(split: sim::Split, photos: u64, long_side: u32) {
    let mut rows: [Vec<Vec<Measured>>; 3] = Default::default();
    let mut refused = [0; 3];
    for seed in 0..photos {
        let Some((spec, shot)) = drawn(split, 9_400_000 + 1000 * seed, long_side) else {
            continue;
        };
        let sheet = sim::SceneSpec {
            substrate: sim::Substrate::GreyBoard,
            grain: 0.0,
            ..bare(&spec)
        };
        let blanks = [None, Some(sheet), Some(bare(&spec))].map(|it| {
            let spec = it?;
            let rendered = spec.build().render_small(long_side);
            let photo = photo_of(&spec, [rendered.width, rendered.height], rendered.pixels);
            Some(sample(&photo, &shot.panel, &shot.located))
        });
        for (i, blank) in blanks.iter().enumerate() {
            let given = Given {
                blank: blank.as_ref(),
                ..Given::default()
            };
            match measure_given(&shot, Tone::Auto, &given) {
                Ok((read, _, _)) => rows[i].push(read),
                Err(_) => refused[i] += 1,
            }
        }
    }
    println!("== the light from a blank");
    for ((name, rows), refused) in ["without", "a plain sheet", "the bare board"]
        .iter()
        .zip(&rows)
        .zip(refused)
    {
        line(name, rows.iter());
        if refused > 0 {
            println!("  {refused} refused");
        }
    }
}

/// An ordinary photo of a board on which the grey card lies, so that a blank covers both.
fn drawn(split: sim::Split, seed: u64, long_side: u32) -> Option<(sim::SceneSpec, Shot)> {
    let mut spec = (seed..)
        .map(|seed| sim::SceneSpec::draw(sim::Mixture::Ordinary, split, seed))
        .find(|it| kind(it) == Some(Kind::Grey) && it.layout.cards.len() == 1)?;
    let layout = &mut spec.layout;
    let (mut low, mut high) = (
        layout.first.map(|it| -it),
        [0, 1].map(|i| layout.board[i] - layout.first[i]),
    );
    for axis in 0..2 {
        low[axis] = low[axis].min(layout.cards[0].centre[axis] - 85.0);
        high[axis] = high[axis].max(layout.cards[0].centre[axis] + 85.0);
    }
    layout.first = low.map(|it| -it);
    layout.board = [0, 1].map(|i| high[i] - low[i]);
    let shot = shoot(&spec, long_side, false)?;
    (shot.truth.cards.len() == 1).then_some((spec, shot))
}

/// The board without paint and card, shot in the same pose and light.
fn bare(spec: &sim::SceneSpec) -> sim::SceneSpec {
    let mut bare = spec.clone();
    bare.layout.recipes.fill(None);
    bare.layout.off.clear();
    bare.trouble = sim::Trouble::NoCard;
    bare.clutter.clear();
    bare.exposure = 0.0;
    bare.shot_seed ^= 1;
    bare
}
