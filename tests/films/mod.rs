//! Shelves of simulated films as trials, and what predictions of them come to.

pub(crate) mod asked;
pub(crate) mod figures;
pub(crate) mod oils;
pub(crate) mod straight;
pub(crate) mod watercolours;

use masstone::colour::{Lab, Matrix};
use masstone::mix::{Coat, Load, Trial};
use masstone_simulator::{Film, FilmGround, FilmPatch, Shelf, ShelfPlan, Split};
use straight::Straight;

/// A shelf whose trials were laid and measured.
#[derive(Clone, Debug)]
pub(crate) struct Stand {
    pub(crate) shelf: Shelf,
    pub(crate) patches: Vec<FilmPatch>,
    /// One a patch.
    pub(crate) trials: Vec<Trial>,
    pub(crate) straight: Straight,
    /// The clear coating on the wood, as it truly is.
    pub(crate) clear: Lab,
}

impl Stand {
    /// Draws it, lays everything and measures it.
    pub(crate) fn draw(split: Split, seed: u64, plan: ShelfPlan) -> Self {
        let shelf = Shelf::draw(split, seed, plan);
        let patches = shelf.patches();
        let clear = of_truth(shelf.lab(&shelf.film(Vec::new(), FilmGround::Larch)));
        Self {
            trials: trials(&shelf, &patches),
            straight: Straight::of(&patches),
            shelf,
            patches,
            clear,
        }
    }

    /// Counts all errors as each trial's own.
    pub(crate) fn take_apart(&mut self) {
        for it in &mut self.trials {
            it.common = Matrix::zeros();
        }
    }

    /// The same, of which only one load of each pigment was laid: its second highest.
    pub(crate) fn with_one_load(&self) -> Self {
        let kept = |it: &FilmPatch| {
            it.film.pigments.iter().all(|(pigment, load)| {
                let loads = self.shelf.loads(*pigment);
                (load - loads[loads.len().saturating_sub(2)]).abs() < 1e-9
            })
        };
        let patches: Vec<FilmPatch> = self.patches.iter().filter(|it| kept(it)).cloned().collect();
        Self {
            trials: trials(&self.shelf, &patches),
            straight: Straight::of(&patches),
            patches,
            ..self.clone()
        }
    }

    /// The same, with mixtures of these pairs laid on a board of their own and measured: of each pigment so much of its limit as `share` says.
    pub(crate) fn with_mixtures(&self, pairs: &[[usize; 2]], share: f64) -> Self {
        let films: Vec<Film> = (pairs.iter())
            .map(|pair| {
                let loads = pair.map(|it| (it, share * self.shelf.pigments[it].limit));
                self.shelf.film(loads.to_vec(), FilmGround::Larch)
            })
            .collect();
        let mut patches = self.patches.clone();
        patches.extend(self.shelf.board(MIXTURES, &films));
        Self {
            trials: trials(&self.shelf, &patches),
            patches,
            ..self.clone()
        }
    }
}

/// The board of mixtures.
const MIXTURES: usize = 100;

/// A patch's measured colour.
pub(crate) fn measured(patch: &FilmPatch) -> Lab {
    of_truth(patch.measured)
}

/// The simulator's colour as the program's.
pub(crate) fn of_truth([l, a, b]: [f64; 3]) -> Lab {
    Lab::new(l, a, b)
}

fn trials(shelf: &Shelf, patches: &[FilmPatch]) -> Vec<Trial> {
    (patches.iter().zip(1..))
        .map(|(patch, number)| {
            let coat = coat(shelf, &patch.film);
            Trial {
                swatch: Some(number),
                name: format!("patch {number}"),
                pigments: coat.pigments,
                ground: coat.ground,
                g_per_m2: coat.g_per_m2,
                lab: measured(patch),
                covariance: Matrix::from(patch.covariance),
                common: Matrix::from(patch.common),
            }
        })
        .collect()
}

/// A film as the program is asked for it.
pub(crate) fn coat(shelf: &Shelf, film: &Film) -> Coat {
    Coat {
        pigments: (film.pigments.iter())
            .map(|(index, load)| Load {
                pigment: format!("{index} {:?}", shelf.pigments[*index].kind),
                load: *load,
            })
            .collect(),
        g_per_m2: film.g_per_m2,
        ground: film.ground.words().to_owned(),
    }
}
