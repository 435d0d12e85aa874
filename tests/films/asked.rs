//! What a model is asked for: films that its trials don't have.

use super::figures::{Case, Kind};
use super::{Stand, coat, of_truth};
use masstone::colour::difference::delta_e_2000;
use masstone::mix::{Model, Prediction, leave_one_out};
use masstone_simulator::{Film, FilmGround};
use rayon::prelude::*;

/// Trials left out one at a time.
#[derive(Clone, Debug, Default)]
pub(crate) struct LeftOut {
    /// Loads below a pigment's highest: the clear coating is the lower end.
    pub(crate) between: Vec<Case>,
    /// Highest loads.
    pub(crate) above: Vec<Case>,
}

/// Every load of every pigment, predicted from the others; nothing where a pigment has one load.
pub(crate) fn left_out(stand: &Stand) -> LeftOut {
    let all = leave_one_out(&stand.trials).expect("a shelf's trials are sound");
    let cases: Vec<(bool, Case)> = (all.into_par_iter())
        .filter_map(|it| {
            let patch = &stand.patches[it.trial];
            let [(pigment, load)] = patch.film.pigments[..] else {
                return None;
            };
            let highest = *stand.shelf.loads(pigment).last()?;
            let mut case = case(stand, &patch.film, &it.prediction);
            case.straight = stand.straight.without(&patch.film).at(&patch.film);
            case.laid = Some(of_truth(patch.laid));
            Some((load < highest, case))
        })
        .collect();
    let of = |below: bool| {
        let kept = cases.iter().filter(|it| it.0 == below);
        kept.map(|it| it.1.clone()).collect()
    };
    LeftOut {
        between: of(true),
        above: of(false),
    }
}

/// Films that were never laid.
pub(crate) fn predicted(stand: &Stand, model: &Model, films: &[Film]) -> Vec<Case> {
    (films.par_iter())
        .map(|film| {
            let prediction = model.predict(&coat(&stand.shelf, film));
            case(stand, film, &prediction.expect("all of it was tried"))
        })
        .collect()
}

fn case(stand: &Stand, film: &Film, prediction: &Prediction) -> Case {
    let truth = of_truth(stand.shelf.lab(film));
    let contrast = stand.shelf.contrast_ratio(film);
    let names: Vec<String> = (film.pigments.iter())
        .map(|(i, load)| format!("{:?} {load:.2}", stand.shelf.pigments[*i].kind))
        .collect();
    Case {
        name: format!(
            "shelf {}: {} at {:.0} g/m² on {}",
            stand.shelf.seed,
            names.join(" + "),
            film.g_per_m2,
            film.ground.words()
        ),
        predicted: prediction.lab,
        u95: prediction.u95,
        straight: stand.straight.at(film),
        truth,
        laid: None,
        kind: Kind {
            pale: film.ground == FilmGround::Larch && delta_e_2000(truth, stand.clear) < 10.0,
            near_black: truth.l < 20.0,
            translucent: contrast < 0.5,
            hiding: contrast >= 0.98,
        },
    }
}

/// Half of each pigment's lowest load.
pub(crate) fn pale(stand: &Stand) -> Vec<Film> {
    (0..stand.shelf.pigments.len())
        .map(|it| {
            let load = stand.shelf.loads(it)[0] / 2.0;
            stand.shelf.film(vec![(it, load)], FilmGround::Larch)
        })
        .collect()
}

/// Twice each pigment's highest load.
pub(crate) fn above(stand: &Stand) -> Vec<Film> {
    (0..stand.shelf.pigments.len())
        .filter_map(|it| {
            let load = 2.0 * stand.shelf.loads(it).last()?;
            Some(stand.shelf.film(vec![(it, load)], FilmGround::Larch))
        })
        .collect()
}

/// A third of each pigment's lowest load.
pub(crate) fn below(stand: &Stand) -> Vec<Film> {
    (0..stand.shelf.pigments.len())
        .map(|it| {
            let load = stand.shelf.loads(it)[0] / 3.0;
            stand.shelf.film(vec![(it, load)], FilmGround::Larch)
        })
        .collect()
}

/// All pairs, in three proportions of their limits, strong and weak.
pub(crate) fn pairs(stand: &Stand, ground: FilmGround) -> Vec<Film> {
    let mut out = Vec::new();
    let n = stand.shelf.pigments.len();
    for one in 0..n {
        for other in one + 1..n {
            for strength in [1.0, 0.3] {
                for part in [0.25, 0.5, 0.75] {
                    let parts = [(one, part * strength), (other, (1.0 - part) * strength)];
                    out.push(of_limits(stand, &parts, ground));
                }
            }
        }
    }
    out
}

/// Those without the films of these pairs.
pub(crate) fn but(films: Vec<Film>, pairs: &[[usize; 2]]) -> Vec<Film> {
    let is_one = |film: &Film| {
        let ids: Vec<usize> = film.pigments.iter().map(|it| it.0).collect();
        pairs.iter().any(|it| ids == it[..])
    };
    films.into_iter().filter(|it| !is_one(it)).collect()
}

/// All sets of three, a third of its limit of each, strong and weak.
pub(crate) fn triples(stand: &Stand) -> Vec<Film> {
    let mut out = Vec::new();
    let n = stand.shelf.pigments.len();
    for one in 0..n {
        for other in one + 1..n {
            for third in other + 1..n {
                for strength in [1.0, 0.3] {
                    let parts = [one, other, third].map(|it| (it, strength / 3.0));
                    out.push(of_limits(stand, &parts, FilmGround::Larch));
                }
            }
        }
    }
    out
}

fn of_limits(stand: &Stand, parts: &[(usize, f64)], ground: FilmGround) -> Film {
    let loads = parts.iter();
    let loads = loads.map(|(it, part)| (*it, part * stand.shelf.pigments[*it].limit));
    stand.shelf.film(loads.collect(), ground)
}

/// Each pigment's loads in half and twice the usual amount.
pub(crate) fn other_amounts(stand: &Stand, ground: FilmGround) -> Vec<Film> {
    let mut out = Vec::new();
    for it in 0..stand.shelf.pigments.len() {
        for load in stand.shelf.loads(it) {
            for factor in [0.5, 2.0] {
                let film = stand.shelf.film(vec![(it, load)], ground);
                out.push(Film {
                    g_per_m2: factor * film.g_per_m2,
                    ..film
                });
            }
        }
    }
    out
}

/// Each pigment's loads other than the one that was laid.
pub(crate) fn other_loads(stand: &Stand) -> Vec<Film> {
    let laid = |film: &Film| stand.patches.iter().any(|it| it.film == *film);
    (0..stand.shelf.pigments.len())
        .flat_map(|it| {
            let loads = stand.shelf.loads(it).into_iter();
            loads.map(move |load| vec![(it, load)])
        })
        .map(|it| stand.shelf.film(it, FilmGround::Larch))
        .filter(|it| !laid(it))
        .collect()
}
