//! Ten historical oil paints: films worked out by Kubelka and Munk from their measured absorption and scattering, predicted from colour alone.
//!
//! The data set's scattering is relative to titanium white's, so amounts are chosen: at 10 g per 100 g the white has a scattering power of 4. Grounds and
//! surface are the simulator's. What is tried is what colours alone lose of real spectra, not the film's law. Where this machine has the data.

use super::figures::{Case, Kind};
use super::of_truth;
use super::straight::plus;
use masstone::colour::difference::delta_e_2000;
use masstone::colour::{Lab, Matrix};
use masstone::mix::{Coat, Load, Model, Trial, fit, leave_one_out};
use masstone_simulator::{Spectrum, Substrate, lab_of, layer};
use std::path::Path;

/// Grams per 100 g.
const LOADS: [f64; 4] = [1.5, 4.0, 8.0, 16.0];
const WHITE_AT_TEN: f64 = 4.0;
/// Of a pair that is told, so much of each.
const TOLD: f64 = 4.0;

/// One paint.
struct Paint {
    name: String,
    k: Spectrum,
    s: Spectrum,
}

/// Loads left out one by one, and mixtures of two.
pub(crate) struct Oils {
    pub(crate) loads: Vec<Case>,
    /// Among the first [`LOOKED_AT`] paints, on which the width of intervals was set.
    pub(crate) set_on: Vec<Case>,
    /// One of these with one of the others.
    pub(crate) across: Vec<Case>,
    /// Among the others, of which nothing was set.
    pub(crate) apart: Vec<Case>,
    /// Of all pairs but ten, after one mixture of each of these ten was measured. Which ten is taken in two ways: around a ring each paint meets
    /// the next, or the third next.
    pub(crate) after: Vec<Case>,
}

/// Pairs among so many paints, the first ones, had their say in constants.
const LOOKED_AT: usize = 5;

/// Works all of it out.
pub(crate) fn cases(folder: &Path) -> Oils {
    let paints = read(&folder.join("oilpaint_K_S.csv"));
    assert_eq!(paints.len(), 10);
    let ladder = paints
        .iter()
        .flat_map(|it| LOADS.map(|load| vec![(it, load)]));
    let films: Vec<Vec<(&Paint, f64)>> = std::iter::once(Vec::new()).chain(ladder).collect();
    let trials: Vec<Trial> = films.iter().map(|it| trial(it)).collect();
    let left = leave_one_out(&trials).expect("sound trials");
    let loads = left
        .into_iter()
        .filter(|it| films[it.trial][0].1 < LOADS[3])
        .map(|it| {
            let [(paint, load)] = films[it.trial][..] else {
                unreachable!("only films of one paint are left out");
            };
            let at = 1 + LOADS.iter().take_while(|it| **it < load).count();
            let ends = [0.0].into_iter().chain(LOADS).collect::<Vec<f64>>();
            let (low, high) = (ends[at - 1], ends[at + 1]);
            let part = (load - low) / (high - low);
            let mean = between(colour(&[(paint, low)]), colour(&[(paint, high)]), part);
            case(&films[it.trial], it.prediction.lab, it.prediction.u95, mean)
        })
        .collect();
    let model = fit(&trials).expect("sound trials");
    let (mut set_on, mut across, mut apart) = (Vec::new(), Vec::new(), Vec::new());
    for (i, one) in paints.iter().enumerate() {
        for (j, other) in paints.iter().enumerate().skip(i + 1) {
            let pairs = match (i < LOOKED_AT, j < LOOKED_AT) {
                (_, true) => &mut set_on,
                (true, false) => &mut across,
                (false, false) => &mut apart,
            };
            pairs.extend(mixtures(&model, one, other));
        }
    }
    let mut after = Vec::new();
    for step in [1, 3] {
        let ring: Vec<[usize; 2]> = (0..paints.len())
            .map(|turn| [turn, turn + 1].map(|it| it * step % paints.len()))
            .collect();
        let mut more = trials.clone();
        more.extend((ring.iter()).map(|pair| trial(&pair.map(|it| (&paints[it], TOLD)))));
        let model = fit(&more).expect("sound trials");
        for (i, one) in paints.iter().enumerate() {
            for (j, other) in paints.iter().enumerate().skip(i + 1) {
                if !(ring.contains(&[i, j]) || ring.contains(&[j, i])) {
                    after.extend(mixtures(&model, one, other));
                }
            }
        }
    }
    Oils {
        loads,
        set_on,
        across,
        apart,
        after,
    }
}

/// Three proportions, weak and strong.
fn mixtures(model: &Model, one: &Paint, other: &Paint) -> Vec<Case> {
    let mut out = Vec::new();
    for part in [0.25, 0.5, 0.75] {
        for total in [4.0, 16.0] {
            let film = [(one, (1.0 - part) * total), (other, part * total)];
            let asked = trial(&film);
            let prediction = model.predict(&Coat {
                pigments: asked.pigments,
                g_per_m2: asked.g_per_m2,
                ground: asked.ground,
            });
            let prediction = prediction.expect("all of it was tried");
            let mean = between(colour(&[(one, total)]), colour(&[(other, total)]), part);
            out.push(case(&film, prediction.lab, prediction.u95, mean));
        }
    }
    out
}

/// The paints by name, on the simulator's bands; at the ends and below nothing, where noise has it, the nearest value that can be.
fn read(path: &Path) -> Vec<Paint> {
    let mut reader = csv::Reader::from_path(path).expect("the data set's own file");
    let number = |it: &str| it.parse::<f64>().expect("the data set's numbers");
    let header = reader.headers().expect("the data set's own file").clone();
    let nm: Vec<f64> = header.iter().skip(2).map(number).collect();
    let mut spectra = Vec::new();
    for row in reader.records() {
        let row = row.expect("the data set's own file");
        let values: Vec<f64> = row.iter().skip(2).map(number).collect();
        let at = |wanted: f64| {
            let above = nm
                .iter()
                .position(|it| *it >= wanted)
                .unwrap_or(nm.len() - 1);
            let below = above.saturating_sub(1);
            let width = nm[above] - nm[below];
            let share = if width > 0.0 {
                (wanted - nm[below]) / width
            } else {
                0.0
            };
            (values[below] + (values[above] - values[below]) * share.clamp(0.0, 1.0)).max(1e-3)
        };
        spectra.push((row[0].to_owned(), Spectrum::from_nm(at)));
    }
    spectra
        .chunks(2)
        .map(|pair| Paint {
            name: pair[0].0.clone(),
            k: pair[0].1,
            s: pair[1].1,
        })
        .collect()
}

/// The colour of a film on wood, as it is.
fn colour(film: &[(&Paint, f64)]) -> Lab {
    let sum = |of: fn(&Paint) -> &Spectrum| {
        let none = Spectrum::flat(1e-6);
        film.iter().fold(none, |sum, (paint, load)| {
            sum.zip(of(paint), |sum, it| sum + it * load / 10.0 * WHITE_AT_TEN)
        })
    };
    let (k, s) = (sum(|it| &it.k), sum(|it| &it.s));
    let (ground, _) = Substrate::Larch.surface();
    // A surface of index 1.5, without gloss (Saunderson).
    of_truth(lab_of(&Spectrum(std::array::from_fn(|band| {
        let within = layer(k.0[band], s.0[band], ground.0[band]);
        0.96 * 0.4037 * within / (1.0 - 0.5963 * within)
    }))))
}

fn trial(film: &[(&Paint, f64)]) -> Trial {
    let total: f64 = film.iter().map(|it| it.1).sum();
    Trial {
        swatch: None,
        name: format!("{total} of all"),
        pigments: (film.iter())
            .map(|(paint, load)| Load {
                pigment: paint.name.clone(),
                load: *load,
            })
            .collect(),
        ground: "larch".to_owned(),
        // Of mixed coating without pigment there are always 200 g.
        g_per_m2: 200.0 * (1.0 + total / 100.0),
        lab: colour(film),
        covariance: Matrix::identity() * 0.09,
        common: Matrix::zeros(),
    }
}

fn between(one: Lab, other: Lab, part: f64) -> Lab {
    plus(plus(Lab::new(0.0, 0.0, 0.0), one, 1.0 - part), other, part)
}

fn case(film: &[(&Paint, f64)], predicted: Lab, u95: f64, straight: Lab) -> Case {
    let names: Vec<String> = film
        .iter()
        .map(|(it, load)| format!("{} {load}", it.name))
        .collect();
    let truth = colour(film);
    Case {
        name: names.join(" + "),
        predicted,
        u95,
        straight: Some(straight),
        truth,
        laid: None,
        kind: Kind {
            near_black: truth.l < 20.0,
            pale: delta_e_2000(truth, colour(&[])) < 10.0,
            ..Kind::default()
        },
    }
}
