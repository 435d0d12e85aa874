//! Broad highlights: whether any is claimed where there is none, and what is left of those that lie on patches.

use super::scene::{Measured, mean};
use super::{Read, Study, draw, kind};
use masstone::colour::{Lab, difference};
use masstone::correct::{ComponentName, Tone};
use masstone::flag::Flag;

/// ΔE00 by which highlights move what the plain method reads of a patch: bounds of the rows.
const ROWS: [f64; 6] = [0.0, 0.3, 1.0, 3.0, 10.0, f64::INFINITY];

/// One reading with highlights, beside the same one without.
struct Under {
    /// ΔE00 by which highlights moved the plain method's.
    plain: f64,
    /// The same of ours.
    ours: f64,
    flagged: bool,
    inside: bool,
}

impl Study {
    /// Highlights as drawn against none, everything else alike.
    pub(super) fn highlights(&self) {
        let scenes: Vec<_> = (0..)
            .map(draw)
            .filter(|it| kind(it).is_some() && !it.highlights.is_empty())
            .take(self.photos)
            .collect();
        let mut none = scenes.clone();
        for it in &mut none {
            it.highlights.clear();
        }
        let (without, with) = (self.all(&none, Tone::Auto), self.all(&scenes, Tone::Auto));
        let claimed = |it: &&Read| {
            let mut readings = it.1.readings.iter();
            readings.any(|it| {
                it.components
                    .iter()
                    .any(|it| it.name == ComponentName::Glare)
            })
        };
        println!(
            "== highlights: {} photos; broad ones claimed in {} of {} without any",
            scenes.len(),
            without.iter().flatten().filter(claimed).count(),
            without.iter().flatten().count(),
        );
        let pairs = without.iter().zip(&with);
        let all: Vec<Under> = pairs
            .filter_map(|(a, b)| a.as_ref().zip(b.as_ref()))
            .flat_map(|(a, b)| (a.0.iter().zip(&b.0)).filter_map(|(a, it)| under(a, it, b)))
            .collect();
        for bounds in ROWS.windows(2) {
            let row: Vec<&Under> = (all.iter())
                .filter(|it| (bounds[0]..bounds[1]).contains(&it.plain))
                .collect();
            let share = |is: fn(&Under) -> bool| {
                100.0 * mean(row.iter().map(|it| f64::from(u8::from(is(it)))))
            };
            println!(
                "plain readings moved by {:.1} to {:.1}: {} of mean {:.2}; ours by {:.2}; {:.0} % flagged, {:.1} % within U95",
                bounds[0],
                bounds[1],
                row.len(),
                mean(row.iter().map(|it| it.plain)),
                mean(row.iter().map(|it| it.ours)),
                share(|it| it.flagged),
                share(|it| it.inside),
            );
        }
    }
}

/// None where one of them could not be read.
fn under(without: &Measured, with: &Measured, read: &Read) -> Option<Under> {
    let ours: [Lab; 2] = [without.ours?, with.ours?];
    let reading = read.1.readings.iter().find(|it| it.lab == with.ours)?;
    (with.clipped < 0.05).then(|| Under {
        plain: difference::delta_e_2000(without.plain, with.plain),
        ours: difference::delta_e_2000(ours[0], ours[1]),
        flagged: reading.flags.contains(&Flag::Glare),
        inside: with.error().is_some_and(|it| it <= with.u95),
    })
}
