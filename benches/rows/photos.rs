//! Rows from whole photos, measured from the file to the record, and from location alone; judged by place.

use super::Table;
use super::endtoend::{Shot, errors, judge, mean, measure, repeatability, shoot};
use super::scenes::{self, Outcome};
use masstone::correct::Tone;
use masstone::locate::{self, locate};
use masstone::measure::Refusal;
use masstone::photo::{self, Photo};
use masstone::record::PhotoRecord;
use masstone_simulator::{Mixture, SceneSpec, Split};
use rayon::prelude::*;
use std::path::Path;

/// Shots of one set-up.
const SHOTS: u64 = 20;

/// Which scenes, and what is to be reached with them.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scenes {
    pub(crate) mixture: Mixture,
    /// Seed of the first.
    pub(crate) first: u64,
    pub(crate) count: u32,
    /// Least share that must be found and rightly named; none may be wrongly.
    pub(crate) found: f64,
    /// Fewer prove nothing.
    pub(crate) enough: u32,
}

impl Scenes {
    fn spec(&self, i: u64) -> SceneSpec {
        SceneSpec::draw(self.mixture, Split::Test, self.first + i)
    }

    fn name(&self) -> &'static str {
        match self.mixture {
            Mixture::Hard => "hard",
            _ => "ordinary",
        }
    }

    fn goal(&self) -> String {
        format!("{:.0} % right, none wrongly named", 100.0 * self.found)
    }
}

/// Photos as files in a folder each, and what measuring them gives.
fn taken(
    folder: &Path,
    specs: impl Iterator<Item = SceneSpec>,
    long_side: u32,
    tone: Tone,
) -> Vec<(Shot, Result<PhotoRecord, Refusal>)> {
    let specs: Vec<SceneSpec> = specs.collect();
    specs
        .par_iter()
        .enumerate()
        .map(|(i, spec)| {
            let shot = shoot(spec, long_side, &folder.join(i.to_string()));
            let result = measure(&shot, tone);
            (shot, result)
        })
        .collect()
}

/// What became of a photo without a record.
enum Lost {
    /// Its patches were found and rightly named; what is known of its colours can't serve, as where a shadow's edge crosses a chart.
    Found,
    /// They weren't found.
    Refused,
    /// They were taken for what they aren't.
    Wrong(String),
}

/// Looks at a refused photo again: was it refused for its place, or for its light?
fn lost(shot: &Shot) -> Lost {
    let options = photo::Options::default();
    let Ok(photo) = Photo::open(&shot.path, &options) else {
        return Lost::Refused;
    };
    let located = locate(&photo, &shot.panel, &locate::Options::default());
    match scenes::judge(located, &shot.panel, &shot.truth) {
        Outcome::Right(_) => Lost::Found,
        Outcome::Refused(_) => Lost::Refused,
        Outcome::Amiss(why) | Outcome::Wrong(why) => Lost::Wrong(why),
    }
}

/// Photos from the file to the record, by place.
pub(crate) fn whole(table: &mut Table, folder: &Path, which: &Scenes, long_side: u32) -> Vec<Shot> {
    let (photos, name) = (which.count, which.name());
    // A card drawn onto a patch makes a panel file that contradicts itself, and is rightly refused: the next scene stands in.
    let sound = (0..)
        .map(|i| (which.first + i, which.spec(i)))
        .filter(|it| scenes::panel_of(&it.1.build()).is_some());
    let (seeds, specs): (Vec<u64>, Vec<SceneSpec>) = sound
        .take(usize::try_from(photos).unwrap_or(usize::MAX))
        .unzip();
    let folder = folder.join(name);
    let done = taken(&folder, specs.into_iter(), long_side, Tone::Auto);
    let (mut right, mut found, mut refused, mut wrong, mut patches) = (0, 0, 0, 0, 0);
    for (seed, (shot, result)) in seeds.iter().zip(&done) {
        match result {
            Err(refusal) => {
                let (count, what) = match lost(shot) {
                    Lost::Found => (&mut found, "found, and refused".to_owned()),
                    Lost::Refused => (&mut refused, "refused".to_owned()),
                    Lost::Wrong(why) => (&mut wrong, format!("WRONG ({why}), and refused")),
                };
                *count += 1;
                println!("  {name} {seed} {what}: {}", refusal.reason);
            }
            Ok(record) => {
                table.count(record);
                match judge(record, &shot.truth) {
                    Ok(count) => {
                        right += 1;
                        patches += count;
                    }
                    Err(why) => {
                        wrong += 1;
                        println!("  {name} {seed} WRONG: {why}");
                    }
                }
            }
        }
    }
    table.row_of(
        &format!("{name} simulated photos: patches found and rightly named, by place"),
        &which.goal(),
        format!(
            "{} of {photos} photos: {right} read ({patches} readings), {found} refused for the light on what is known; {refused} not found, {wrong} wrong",
            right + found
        ),
        f64::from(right + found) >= which.found * f64::from(photos) && wrong == 0,
        photos >= which.enough,
    );
    done.into_iter().map(|it| it.0).collect()
}

/// Location alone on small renders.
pub(crate) fn location(table: &mut Table, which: &Scenes) {
    let renders = which.count;
    let outcomes: Vec<(u64, Outcome)> = (0..u64::from(renders))
        .into_par_iter()
        .filter_map(|i| {
            let scene = which.spec(i).build();
            let picture = scene.render_small(800);
            let panel = scenes::panel_of(&scene)?;
            let outcome = scenes::judge(
                scenes::locate_linear(
                    &scenes::linear(&picture),
                    picture.truth.spec.tag.unwrap_or(1),
                    &panel,
                ),
                &panel,
                &picture.truth,
            );
            Some((which.first + i, outcome))
        })
        .collect();
    let count = |which: fn(&Outcome) -> bool| outcomes.iter().filter(|it| which(&it.1)).count();
    let wrong = count(|it| matches!(it, Outcome::Wrong(_)));
    let amiss = count(|it| matches!(it, Outcome::Amiss(_)));
    let refused = count(|it| matches!(it, Outcome::Refused(_)));
    for (seed, it) in &outcomes {
        match it {
            Outcome::Right(_) => {}
            Outcome::Refused(why) => println!("  render of seed {seed} refused: {why}"),
            Outcome::Amiss(why) => println!("  render of seed {seed} amiss: {why}"),
            Outcome::Wrong(why) => println!("  render of seed {seed} WRONG: {why}"),
        }
    }
    table.row_of(
        &format!("location alone, small {} renders", which.name()),
        &format!(
            "0 wrongly named in at least {}; refusals counted",
            which.enough
        ),
        format!("{wrong} wrongly named, {amiss} laid 0.15 to 0.5 of a side amiss, {refused} refused of {renders}"),
        wrong == 0,
        renders >= which.enough,
    );
}

/// No flaws: what the program itself adds.
pub(crate) fn flawless(table: &mut Table, folder: &Path, first: u64, photos: u32, long_side: u32) {
    let spec = |i| SceneSpec::draw(Mixture::Flawless, Split::Test, first + i);
    let specs = (0..u64::from(photos)).map(spec);
    let done = taken(&folder.join("flawless"), specs, long_side, Tone::None);
    let (mut all, mut refused) = (Vec::new(), 0);
    for (seed, (shot, result)) in (first..).zip(&done) {
        match result {
            Ok(record) => {
                table.count(record);
                all.extend(errors(record, &shot.truth));
            }
            Err(refusal) => {
                refused += 1;
                println!("  flawless {seed} refused: {}", refusal.reason);
            }
        }
    }
    let part = |f: fn(&(f64, f64)) -> f64| mean(&all.iter().map(f).collect::<Vec<_>>());
    let beyond = part(|it| it.0 - it.1);
    table.row(
        "no flaws, `--tone none`: mean over readings of ΔE00(reading, truth) − ΔE00(what the camera itself would give with its grey, truth)",
        "≤ 0.2",
        format!(
            "{beyond:.3} (to truth {:.3}, the camera's own {:.3}; {} readings of {photos} photos, {refused} refused)",
            part(|it| it.0),
            part(|it| it.1),
            all.len()
        ),
        beyond <= 0.2,
    );
}

/// Panels, each again and again in one set-up.
pub(crate) fn again(table: &mut Table, folder: &Path, first: u64, panels: u64, long_side: u32) {
    let (mut found, mut measured) = (Vec::new(), 0);
    for seed in first..first + panels {
        let panel = SceneSpec::draw(Mixture::Ordinary, Split::Test, seed);
        let specs = (0..SHOTS).map(|i| panel.reshoot(i));
        let done = taken(&folder.join("again"), specs, long_side, Tone::Auto);
        let records: Vec<_> = done
            .iter()
            .filter_map(|it| it.1.as_ref().ok().cloned())
            .collect();
        for it in &records {
            table.count(it);
        }
        found.push(repeatability(&records, &done[0].0.truth));
        measured += records.len() as u64;
    }
    let each: Vec<String> = found.iter().map(|it| format!("{it:.3}")).collect();
    let all = mean(&found);
    table.row(
        &format!("the same panel shot {SHOTS} times in one set-up: mean ΔE00 from the mean"),
        "≤ 0.25",
        format!(
            "{all:.3} ({}; {measured} of {} shots)",
            each.join(", "),
            SHOTS * panels
        ),
        all <= 0.25 && measured == SHOTS * panels,
    );
}
