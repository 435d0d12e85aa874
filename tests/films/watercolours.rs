//! Measured mixtures of two watercolours on paper, predicted from colours alone.
//!
//! Data: NTU watercolour pigments spectral measurements, January 2019, where this machine has them. Each row has two films, the paper and a third
//! film that holds the quantities of both. Its readme says neither in what unit quantities are nor how films were laid. What the table itself
//! shows (`the_data_are_what_is_said_of_them` holds it):
//!
//! - 708 of its 1,956 rows are no mixtures: both films are of one paint, and the third is that paint's film of the summed quantity. So
//!   quantities add up, none is halved. By them the films fall into 13 paints of ten or eleven quantities each; the other rows are 624
//!   mixtures of two paints, each in both orders.
//! - Sums of K/S over whole spectra miss the mixtures by 0.039 of reflectance, whether or not a coating's surface is taken off.
//! - With more paint no band of any paint ever becomes lighter, and three in ten stay equal to the last digit: these films were not measured one by one
//!   without being evened out.
//!
//! Lab is that of D50/2°.

use super::figures::{Case, Kind};
use super::straight::{along, plus};
use masstone::colour::reconstruction::reflectance;
use masstone::colour::spectrum::reflectance_to_xyz_d50;
use masstone::colour::{Lab, Matrix, lab};
use masstone::mix::film::{hiding, k_over_s};
use masstone::mix::{Coat, Load, Model, Trial, fit, leave_one_out};
use rayon::prelude::*;
use std::path::Path;

/// Bands, 380–780 nm every 10 nm, and columns of each: transmittances, reflectances of both films, the paper.
const BANDS: usize = 41;
const COLUMNS: usize = 5;

/// A film of one paint.
#[derive(Clone, Debug)]
pub(crate) struct Film {
    pub(crate) paint: usize,
    pub(crate) quantity: f64,
    /// Reflectance, band by band.
    pub(crate) reflectance: Vec<f64>,
    lab: Lab,
}

/// A film of two paints: of each as much as in a film of it alone, by index.
#[derive(Clone, Debug)]
pub(crate) struct Mixture {
    name: String,
    pub(crate) films: [usize; 2],
    reflectance: Vec<f64>,
    lab: Lab,
}

/// The data set.
#[derive(Clone, Debug)]
pub(crate) struct Watercolours {
    pub(crate) films: Vec<Film>,
    /// Each once.
    pub(crate) mixtures: Vec<Mixture>,
    /// Rows of which both films are of one paint: by index, with that of the film that holds both where it is among the films.
    pub(crate) sums: Vec<([usize; 2], Option<usize>)>,
    paper: Lab,
    /// Reflectance, band by band.
    bare: Vec<f64>,
}

/// How a mixture is predicted from the colours of its two films and the paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Way {
    /// By the model, fitted to the three colours.
    Model,
    /// The same, as if the mixture held half of each film's paint.
    Halved,
    /// As if every film hid: K/S of the three smoothest reflectances, both films' summed, the paper's counted once. No U95.
    Summed,
}

/// How many mixtures a model was told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Told {
    None,
    Seven,
    Thirteen,
}

/// Quantities that mixtures are made of: each paint's ladder.
const LADDER: [f64; 4] = [0.01, 0.02, 0.04, HIGHEST];
const HIGHEST: f64 = 0.08;
/// Of a pair that is told, the mixture nearest to so much of each.
const TOLD: f64 = 0.04;

impl Watercolours {
    pub(crate) fn read(folder: &Path) -> Self {
        let folder = folder.join("watercolour-mixtures");
        let rows = table(&folder.join("MQ_train_1956_X_ok.csv"));
        let thirds = table(&folder.join("MQ_train_1956_Y_ok.csv"));
        assert_eq!(rows.len(), thirds.len());
        let mut films: Vec<Film> = Vec::new();
        let mut both = Vec::new();
        for row in &rows {
            both.push([0, 1].map(|which| {
                let quantity = row[COLUMNS * BANDS + which];
                let seen = column(row, 2 + which);
                position(&films, &seen).unwrap_or_else(|| {
                    films.push(Film {
                        paint: films.len(),
                        quantity,
                        lab: lab_of(&seen),
                        reflectance: seen,
                    });
                    films.len() - 1
                })
            }));
        }
        let third: Vec<Option<usize>> = thirds.iter().map(|it| position(&films, it)).collect();
        // Two films that make up a third film of the table are of its paint.
        for (two, third) in both.iter().zip(&third) {
            for it in third.iter().flat_map(|third| two.map(|one| (one, *third))) {
                let (from, to) = (films[it.0].paint, films[it.1].paint);
                for film in films.iter_mut().filter(|film| film.paint == from) {
                    film.paint = to;
                }
            }
        }
        let mut paints: Vec<usize> = films.iter().map(|it| it.paint).collect();
        paints.sort_unstable();
        paints.dedup();
        for it in &mut films {
            it.paint = paints.binary_search(&it.paint).expect("from there");
        }
        let (mut mixtures, mut sums) = (Vec::<Mixture>::new(), Vec::new());
        for (number, two) in both.into_iter().enumerate() {
            let [one, other] = two.map(|it| films[it].paint);
            let turned = [two[1], two[0]];
            if one == other {
                sums.push((two, third[number]));
            } else if !mixtures.iter().any(|it| it.films == turned) {
                mixtures.push(Mixture {
                    name: format!("row {}", number + 2),
                    films: two,
                    lab: lab_of(&thirds[number]),
                    reflectance: thirds[number].clone(),
                });
            }
        }
        Self {
            paper: lab_of(&column(&rows[0], 4)),
            bare: column(&rows[0], 4),
            films,
            mixtures,
            sums,
        }
    }

    /// Every `step`th mixture, each from three colours.
    pub(crate) fn by_three_colours(&self, step: usize, way: Way) -> Vec<Case> {
        (self.mixtures.par_iter().step_by(step))
            .map(|it| {
                let [one, other] = it.films.map(|film| &self.films[film]);
                let colours = [one.lab, other.lab, self.paper];
                let (predicted, u95) = match way {
                    Way::Summed => (summed(colours), f64::INFINITY),
                    Way::Model | Way::Halved => {
                        let mut trials = vec![self.control()];
                        trials.extend([one, other].map(trial));
                        let part = if way == Way::Halved { 0.5 } else { 1.0 };
                        let model = fit(&trials).expect("sound trials");
                        said(&model, [one, other].map(|it| load(it, part)).to_vec())
                    }
                };
                self.case(it, predicted, u95)
            })
            .collect()
    }

    /// By how much summed K/S miss the mixtures' reflectances: mean of root mean squares over the bands. `within` takes a surface off, `seen`
    /// puts it on.
    pub(crate) fn missed_by_sums(
        &self,
        within: impl Fn(f64) -> f64,
        seen: impl Fn(f64) -> f64,
    ) -> f64 {
        let of = |r: f64| k_over_s(within(r).clamp(1e-4, 1.0));
        let missed = self.mixtures.iter().map(|it| {
            let [one, other] = it.films.map(|film| &self.films[film].reflectance);
            let squares = (0..BANDS).map(|band| {
                let sum = of(one[band]) + of(other[band]) - of(self.bare[band]);
                (seen(hiding(sum.max(0.0))) - it.reflectance[band]).powi(2)
            });
            (squares.sum::<f64>() / BANDS as f64).sqrt()
        });
        missed.sum::<f64>() / self.mixtures.len() as f64
    }

    /// Quantities of every paint's ladder below its highest, each left out and predicted from the others.
    pub(crate) fn loads_left_out(&self) -> Vec<Case> {
        let films: Vec<&Film> = self.ladders().collect();
        let mut trials: Vec<Trial> = films.iter().map(|it| trial(it)).collect();
        trials.push(self.control());
        let left = leave_one_out(&trials).expect("sound trials");
        (left.into_iter())
            .filter(|it| films[it.trial].quantity < HIGHEST)
            .map(|it| {
                let film = films[it.trial];
                let others = films
                    .iter()
                    .copied()
                    .filter(|other| !std::ptr::eq(*other, film));
                self.of_load(film, others, it.prediction.lab, it.prediction.u95)
            })
            .collect()
    }

    /// All quantities between those of the ladders.
    pub(crate) fn loads_between(&self) -> Vec<Case> {
        let films: Vec<&Film> = self.ladders().collect();
        let mut trials: Vec<Trial> = films.iter().map(|it| trial(it)).collect();
        trials.push(self.control());
        let model = fit(&trials).expect("sound trials");
        (self.films.iter())
            .filter(|it| it.quantity < HIGHEST && !is_of_ladder(it))
            .map(|film| {
                let (predicted, u95) = said(&model, vec![load(film, 1.0)]);
                self.of_load(film, films.iter().copied(), predicted, u95)
            })
            .collect()
    }

    /// Beside straight lines between the nearest of others of its paint, and the paper.
    fn of_load<'a>(
        &'a self,
        film: &Film,
        others: impl Iterator<Item = &'a Film>,
        predicted: Lab,
        u95: f64,
    ) -> Case {
        let mut points = vec![(0.0, self.paper)];
        let own = others.filter(|it| it.paint == film.paint);
        points.extend(own.map(|it| (it.quantity, it.lab)));
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        Case {
            name: format!("{} of paint {}", film.quantity, film.paint),
            predicted,
            u95,
            straight: Some(along(&points, film.quantity)),
            truth: film.lab,
            laid: None,
            kind: Kind::default(),
        }
    }

    /// Mixtures from all paints' ladders, of pairs of which none is told: as if nobody had seen a mixture, and after mixtures of other pairs. Which
    /// those are is taken in six ways: around a ring each paint meets the next, or the second next …, so that every pair is told once and asked
    /// for in the other five. Seven of a ring have each paint once (one of them twice), thirteen each twice.
    pub(crate) fn by_ladders(&self, told: Told) -> Vec<Case> {
        let paints = 1 + self.films.iter().map(|it| it.paint).max().unwrap_or(0);
        (1..=paints / 2)
            .flat_map(|step| {
                let ring: Vec<[usize; 2]> = (0..paints)
                    .map(|turn| [turn * step % paints, (turn + 1) * step % paints])
                    .collect();
                self.after(&ring, told)
            })
            .collect()
    }

    fn after(&self, ring: &[[usize; 2]], told: Told) -> Vec<Case> {
        let measured: Vec<[usize; 2]> = match told {
            Told::None => Vec::new(),
            Told::Seven => ring.iter().step_by(2).copied().collect(),
            Told::Thirteen => ring.to_vec(),
        };
        let mut trials = vec![self.control()];
        trials.extend(self.ladders().map(trial));
        trials.extend(measured.into_iter().map(|it| self.mixed(self.nearest(it))));
        let model = fit(&trials).expect("sound trials");
        (self.mixtures.par_iter())
            .filter(|it| !ring.iter().any(|pair| self.is_of(it, *pair)))
            .map(|it| {
                let films = it.films.map(|film| load(&self.films[film], 1.0));
                let (predicted, u95) = said(&model, films.to_vec());
                self.case(it, predicted, u95)
            })
            .collect()
    }

    fn ladders(&self) -> impl Iterator<Item = &Film> {
        self.films.iter().filter(|it| is_of_ladder(it))
    }

    fn is_of(&self, it: &Mixture, mut pair: [usize; 2]) -> bool {
        let mut paints = it.films.map(|film| self.films[film].paint);
        paints.sort_unstable();
        pair.sort_unstable();
        paints == pair
    }

    /// A pair's mixture that is nearest to [`TOLD`] of each, by ratios; the first of equals.
    fn nearest(&self, pair: [usize; 2]) -> &Mixture {
        let off = |it: &&Mixture| -> f64 {
            let by = it
                .films
                .map(|film| (self.films[film].quantity / TOLD).ln().abs());
            by.iter().sum()
        };
        (self.mixtures.iter())
            .filter(|it| self.is_of(it, pair))
            .min_by(|a, b| off(a).total_cmp(&off(b)))
            .expect("every pair was mixed")
    }

    fn case(&self, it: &Mixture, predicted: Lab, u95: f64) -> Case {
        let [one, other] = it.films.map(|film| &self.films[film]);
        let part = other.quantity / (one.quantity + other.quantity);
        let none = Lab::new(0.0, 0.0, 0.0);
        let mean = plus(plus(none, one.lab, 1.0 - part), other.lab, part);
        let [a, b] = [one, other].map(|it| format!("{} {}", it.paint, it.quantity));
        Case {
            name: format!("{}: {a} + {b}", it.name),
            predicted,
            u95,
            straight: Some(mean),
            truth: it.lab,
            laid: None,
            kind: Kind::default(),
        }
    }

    fn control(&self) -> Trial {
        of_loads("paper".to_owned(), Vec::new(), self.paper)
    }

    fn mixed(&self, it: &Mixture) -> Trial {
        let loads = it.films.map(|film| load(&self.films[film], 1.0));
        of_loads(it.name.clone(), loads.to_vec(), it.lab)
    }
}

fn table(path: &Path) -> Vec<Vec<f64>> {
    let mut reader = csv::Reader::from_path(path).expect("the data set's own file");
    reader
        .records()
        .map(|row| {
            let row = row.expect("the data set's own file");
            row.iter()
                .map(|it| it.parse().expect("the data set's numbers"))
                .collect()
        })
        .collect()
}

fn column(row: &[f64], which: usize) -> Vec<f64> {
    (0..BANDS).map(|band| row[COLUMNS * band + which]).collect()
}

/// The film that has the same reflectance to the last digit.
fn position(films: &[Film], seen: &[f64]) -> Option<usize> {
    films.iter().position(|it| {
        let both = it.reflectance.iter().zip(seen);
        both.into_iter().all(|(a, b)| (a - b).abs() < 1e-12)
    })
}

fn lab_of(spectrum: &[f64]) -> Lab {
    let within: Vec<f64> = spectrum.iter().map(|it| it.clamp(0.0, 1.0)).collect();
    lab::from_xyz(reflectance_to_xyz_d50(380.0, 10.0, &within).expect("41 bands"))
}

/// A film's load is its quantity of paint; of what carries it there are always 100 g.
fn load(film: &Film, part: f64) -> Load {
    Load {
        pigment: format!("paint {}", film.paint),
        load: 100.0 * film.quantity * part,
    }
}

fn carried(loads: &[Load]) -> f64 {
    100.0 + loads.iter().map(|it| it.load).sum::<f64>()
}

fn trial(film: &Film) -> Trial {
    let name = format!("{} of paint {}", film.quantity, film.paint);
    of_loads(name, vec![load(film, 1.0)], film.lab)
}

fn of_loads(name: String, pigments: Vec<Load>, lab: Lab) -> Trial {
    Trial {
        swatch: None,
        name,
        g_per_m2: carried(&pigments),
        pigments,
        ground: "paper".to_owned(),
        lab,
        covariance: Matrix::identity() * 0.09,
        common: Matrix::zeros(),
    }
}

fn is_of_ladder(film: &Film) -> bool {
    LADDER.iter().any(|it| (it - film.quantity).abs() < 1e-9)
}

/// The model's word on a film, and its U95.
fn said(model: &Model, pigments: Vec<Load>) -> (Lab, f64) {
    let prediction = model
        .predict(&Coat {
            g_per_m2: carried(&pigments),
            pigments,
            ground: "paper".to_owned(),
        })
        .expect("all of it was tried");
    (prediction.lab, prediction.u95)
}

fn summed(colours: [Lab; 3]) -> Lab {
    let smoothest = |it| reflectance(lab::to_xyz(it)).expect("a surface's own colour");
    let [one, other, paper] = colours.map(smoothest);
    let mixed: Vec<f64> = (one.iter().zip(&other).zip(&paper))
        .map(|((a, b), paper)| hiding((k_over_s(*a) + k_over_s(*b) - k_over_s(*paper)).max(0.0)))
        .collect();
    lab::from_xyz(reflectance_to_xyz_d50(380.0, 5.0, &mixed).expect("81 bands"))
}
