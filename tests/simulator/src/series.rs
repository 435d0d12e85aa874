//! An exposure series: one board with masked halves, photographed again and again while its exposed halves change.
//!
//! Every patch has a course of its own, or none, and what is true of it is known at any dose: [`Series::labs`] and
//! [`Series::change`] work it out from spectra, without rendering. Each exposure is shot in another light by another phone
//! ([`Series::shots`]). What goes wrong with boards and photos is to be had: a mask that leaks, a coating that yellows in
//! the dark ([`Fault`]), a board that lies the other way up ([`Series::turned`]), another board ([`Series::other_board`]).
//!
//! Simplified: each patch's coating yellows by an amount of its own, as if the pigment decided it; only the two controls share theirs.

mod draw;
mod slip;

use crate::ageing::{Ageing, Course, Wear};
use crate::coat::{Laid, laid};
use crate::colorimetry::{Lab, ciede2000};
use crate::spec::SceneSpec;
use crate::survey::{halves, true_lab, unevenness};
use crate::texture::Texture;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// What is wrong with a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fault {
    /// Nothing.
    None,
    /// The mask of one patch leaks.
    Leak,
    /// All halves yellow in the dark and in the light alike.
    Drift,
}

/// How one patch changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// Growth over the dose.
    pub course: Course,
    /// What the sun has done to the exposed half at the last dose, drift not counted.
    pub last: Wear,
    /// The ΔE00 of the change at the last dose that `last` was solved for; none where it is what others make it.
    pub target: Option<f64>,
}

/// A mask that leaks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Leak {
    /// Index of the patch.
    pub patch: usize,
    /// Share of the exposed half's wear that its masked half gets.
    pub share: f64,
}

/// A drift common to all halves, masked and exposed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// What it has done at the last dose.
    pub last: Wear,
    /// Growth over the dose.
    pub course: Course,
    /// Mean ΔE00 of the masked halves at the last dose that it was solved for.
    pub target: f64,
}

/// A board, its doses and its changes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Series {
    /// The board as made, in the set-up in which it was drawn.
    pub spec: SceneSpec,
    /// Seed of its draws.
    pub seed: u64,
    /// Hours of each exposure; the first is 0.
    pub doses: Vec<f64>,
    /// Photos of each exposure.
    pub photos: Vec<u64>,
    /// One a patch that is not empty, in panel order.
    pub changes: Vec<Change>,
    /// At most one mask leaks.
    pub leak: Option<Leak>,
    /// A drift of all halves.
    pub drift: Option<Drift>,
    /// How far the bare board has weathered at the last dose, under the mask and beside it, and how that grows.
    pub substrate: ([f64; 2], Course),
}

impl Series {
    /// Ids of the patches, in the order of `changes`.
    #[must_use]
    pub fn ids(&self) -> Vec<String> {
        laid(&self.spec).into_iter().map(|it| it.id).collect()
    }

    /// The last dose, hours.
    #[must_use]
    pub fn last(&self) -> f64 {
        self.doses.last().copied().unwrap_or(0.0)
    }

    /// What has happened to the board at a dose in hours.
    #[must_use]
    pub fn ageing(&self, dose: f64) -> Ageing {
        let patches = (0..self.changes.len())
            .map(|i| self.wear(i, dose))
            .collect();
        let (levels, course) = self.substrate;
        let share = course.share(self.relative(dose));
        Ageing {
            patches,
            substrate: levels.map(|it| it * share),
        }
    }

    /// Wear of the masked and the exposed half of a patch at a dose in hours.
    #[must_use]
    pub fn wear(&self, patch: usize, dose: f64) -> [Wear; 2] {
        let dose = self.relative(dose);
        let change = &self.changes[patch];
        let by_sun = change.last.scaled(change.course.share(dose));
        let drift = self
            .drift
            .map_or(Wear::default(), |it| it.last.scaled(it.course.share(dose)));
        let leaked = self
            .leak
            .filter(|it| it.patch == patch)
            .map_or(Wear::default(), |it| by_sun.scaled(it.share));
        [leaked.and(drift), by_sun.and(drift)]
    }

    /// True CIELAB of masked and exposed half of each patch at a dose in hours.
    #[must_use]
    pub fn labs(&self, dose: f64) -> Vec<[Lab; 2]> {
        let truths = Truths::new(&self.spec);
        (0..self.changes.len())
            .into_par_iter()
            .map(|i| truths.both(i, self.wear(i, dose)))
            .collect()
    }

    /// True change of each patch by the sun at each of these doses in hours, in L*, a*, b*, and its ΔE00 from the patch's masked half
    /// at dose 0: patch by patch, dose by dose.
    ///
    /// The change is that of the exposed half less what the masked half would have changed under a sound mask: unlike the
    /// difference that can be photographed it does not shrink where the mask leaks.
    #[must_use]
    pub fn courses(&self, doses: &[f64]) -> Vec<Vec<(Lab, f64)>> {
        let sound = Self {
            leak: None,
            ..self.clone()
        };
        let truths = Truths::new(&self.spec);
        let of = |i: usize| {
            let before = truths.both(i, [Wear::default(); 2]);
            let at = |dose: &f64| {
                let after = truths.both(i, sound.wear(i, *dose));
                let change = double_difference(&before, &after);
                (change, from_start(before[0], change))
            };
            doses.iter().map(at).collect()
        };
        (0..self.changes.len()).into_par_iter().map(of).collect()
    }

    /// [`Series::courses`] at one dose: the changes.
    #[must_use]
    pub fn change(&self, dose: f64) -> Vec<Lab> {
        self.courses(&[dose]).iter().map(|it| it[0].0).collect()
    }

    /// [`Series::courses`] at one dose: their ΔE00.
    #[must_use]
    pub fn delta_e(&self, dose: f64) -> Vec<f64> {
        self.courses(&[dose]).iter().map(|it| it[0].1).collect()
    }

    fn relative(&self, dose: f64) -> f64 {
        dose / self.last().max(f64::MIN_POSITIVE)
    }
}

/// [exposed − masked] after, less [exposed − masked] before.
fn double_difference(before: &[Lab; 2], after: &[Lab; 2]) -> Lab {
    let apart = |it: &[Lab; 2], k: usize| it[1][k] - it[0][k];
    std::array::from_fn(|k| apart(after, k) - apart(before, k))
}

/// ΔE00 of a change.
fn from_start(start: Lab, change: Lab) -> f64 {
    ciede2000(start, std::array::from_fn(|k| start[k] + change[k]))
}

/// True colours of the halves of a board, worn in any way.
struct Truths<'a> {
    spec: &'a SceneSpec,
    laid: Vec<Laid<'a>>,
    /// Values of mottle and grain over both halves of each patch.
    uneven: Vec<[Vec<(f64, f64)>; 2]>,
}

impl<'a> Truths<'a> {
    fn new(spec: &'a SceneSpec) -> Self {
        let texture = Texture::new(spec);
        let laid = laid(spec);
        let uneven = laid
            .iter()
            .map(|it| {
                let mut both = [Vec::new(), Vec::new()];
                for (_, half, at, size) in halves(spec.layout.masked, it.at, it.size) {
                    both[half] = unevenness(&texture, at, size).collect();
                }
                both
            })
            .collect();
        Self { spec, laid, uneven }
    }

    /// Masked (0) or exposed half (1).
    fn half(&self, patch: usize, half: usize, wear: Wear) -> Lab {
        let material = self.laid[patch].material(self.spec, half, wear);
        true_lab(&material, &self.uneven[patch][half])
    }

    fn both(&self, patch: usize, wear: [Wear; 2]) -> [Lab; 2] {
        [0, 1].map(|half| self.half(patch, half, wear[half]))
    }
}
