//! The row on absolute colours: Lab relative to hour 0 in later photos, with masked halves as references and with the grey card alone.

use super::board::{Run, Seen};
use super::compared::READABLE;
use super::endtoend::reading;
use super::table::Table;
use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;
use masstone::record::PhotoRecord;
use masstone_simulator::{Half, PatchTruth};
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// Errors of one half's Lab relative to hour 0, as lengths of vectors in Lab: with masked halves, and with the card alone.
#[derive(Default)]
pub(crate) struct Errors {
    masked: [Vec<f64>; 2],
    exposed: [Vec<f64>; 2],
    /// Later photos' readings with masked halves whose true colour lies within U95, and all of them.
    inside: [usize; 2],
}

impl Errors {
    /// Adds every later photo of a board.
    pub(crate) fn add(&mut self, run: &Run) {
        let mut start: BTreeMap<(&str, bool), Vec<Vector3<f64>>> = BTreeMap::new();
        for seen in run.seen.iter().filter(|it| it.exposure == 0) {
            for (is, off) in off(seen, &seen.alone) {
                start.entry(key(is)).or_default().push(off);
            }
        }
        for seen in run.seen.iter().filter(|it| it.exposure > 0) {
            for is_inside in inside(seen) {
                self.inside[0] += usize::from(is_inside);
                self.inside[1] += 1;
            }
            let given = off(seen, &seen.given);
            let alone = off(seen, &seen.alone);
            for (is, given) in &given {
                let same = |it: &&(&PatchTruth, Vector3<f64>)| key(it.0) == key(is);
                let (Some(alone), Some(at_start)) = (alone.iter().find(same), start.get(&key(is)))
                else {
                    continue;
                };
                let zero = at_start.iter().sum::<Vector3<f64>>() / at_start.len() as f64;
                let half = match is.half {
                    Half::Exposed => &mut self.exposed,
                    _ => &mut self.masked,
                };
                half[0].push((given - zero).norm());
                half[1].push((alone.1 - zero).norm());
            }
        }
    }

    /// The row, and whether the boards are enough to tell.
    pub(crate) fn row(&self, table: &mut Table, enough: bool) {
        let mean = |it: &[f64]| it.iter().sum::<f64>() / it.len() as f64;
        let both = [0, 1].map(|k| {
            let all: Vec<f64> = self.masked[k]
                .iter()
                .chain(&self.exposed[k])
                .copied()
                .collect();
            mean(&all)
        });
        let ratio = |[given, alone]: [f64; 2]| given / alone;
        let (masked, exposed) = (
            self.masked.each_ref().map(|it| mean(it)),
            self.exposed.each_ref().map(|it| mean(it)),
        );
        table.row_of(
            "error of Lab relative to hour 0 in later photos, masked halves as references ÷ grey card alone",
            "≤ 0.4",
            format!(
                "{:.2} (exposed halves {:.2}: {:.2} of {:.2}; masked {:.2}: {:.2} of {:.2}; {} readings)",
                ratio(both),
                ratio(exposed),
                exposed[0],
                exposed[1],
                ratio(masked),
                masked[0],
                masked[1],
                self.masked[0].len() + self.exposed[0].len()
            ),
            ratio(both) <= 0.4,
            enough,
        );
        let share = self.inside[0] as f64 / self.inside[1] as f64;
        table.row_of(
            "true Lab within U95 of the same readings, hour 0's own errors with them",
            "≥ 92 %",
            format!("{:.1} % ({} readings)", 100.0 * share, self.inside[1]),
            share >= 0.92,
            enough,
        );
    }
}

/// Whether the true colour of each readable half lies within what is stated, with masked halves as references.
fn inside(seen: &Seen) -> Vec<bool> {
    let Ok(record) = &seen.given else {
        return Vec::new();
    };
    let readable = seen.truth.iter().filter(|it| it.clipped < READABLE);
    readable
        .filter_map(|is| {
            let it = reading(record, is)?;
            let [l, a, b] = is.lab;
            Some(delta_e_2000(it.lab()?, Lab::new(l, a, b)) <= it.u95?)
        })
        .collect()
}

/// Patch, and whether its exposed half.
pub(crate) fn key(it: &PatchTruth) -> (&str, bool) {
    (&it.id, it.half == Half::Exposed)
}

/// Measured less true Lab of every readable half.
pub(crate) fn off<'a>(
    seen: &'a Seen,
    record: &Result<PhotoRecord, String>,
) -> Vec<(&'a PatchTruth, Vector3<f64>)> {
    let Ok(record) = record else {
        return Vec::new();
    };
    let readable = seen.truth.iter().filter(|it| it.clipped < READABLE);
    readable
        .filter_map(|is| {
            let lab = reading(record, is)?.lab()?;
            Some((
                is,
                Vector3::new(lab.l, lab.a, lab.b) - Vector3::from(is.lab),
            ))
        })
        .collect()
}
