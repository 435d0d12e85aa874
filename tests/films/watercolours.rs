//! Measured mixtures of two watercolour films: each predicted from three colours alone, those of the two films and of the paper.
//!
//! The two films hold known amounts of paint. That the mixture holds both amounts whole, not half of each, is what the spectra say: summed K/S miss its
//! reflectance by 0.034 (mean of root mean squares), their mean by 0.044. Data: NTU watercolour pigments spectral measurements, January
//! 2019, where this machine has them. Lab is that of D50/2°.

use super::figures::{Case, Kind};
use super::straight::plus;
use masstone::colour::reconstruction::reflectance;
use masstone::colour::spectrum::reflectance_to_xyz_d50;
use masstone::colour::{Lab, Matrix, lab};
use masstone::mix::film::{hiding, k_over_s};
use masstone::mix::{Coat, Load, Trial, fit};
use rayon::prelude::*;
use std::path::Path;

/// Bands, 380–780 nm every 10 nm, and columns of each: transmittances, reflectances of both films, the paper.
const BANDS: usize = 41;
const COLUMNS: usize = 5;

/// How a mixture is predicted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Way {
    /// By the model, fitted to the three colours.
    Model,
    /// The same, as if the mixture held half of each film's paint.
    Halved,
    /// As if every film hid: K/S of the three smoothest reflectances, both films' summed, the paper's counted once. No U95.
    Summed,
}

/// Every `step`th mixture of those in a folder; the table has each twice, its films in either order.
pub(crate) fn cases(folder: &Path, step: usize, way: Way) -> Vec<Case> {
    let folder = folder.join("watercolour-mixtures");
    let films = table(&folder.join("MQ_train_1956_X_ok.csv"));
    let mixtures = table(&folder.join("MQ_train_1956_Y_ok.csv"));
    assert_eq!(films.len(), mixtures.len());
    let rows: Vec<_> = films.iter().zip(&mixtures).step_by(step).collect();
    (rows.into_par_iter().enumerate())
        .map(|(number, (films, mixture))| case(number * step, films, mixture, way))
        .collect()
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

fn carried(loads: &[Load]) -> f64 {
    100.0 + loads.iter().map(|it| it.load).sum::<f64>()
}

fn lab_of(spectrum: &[f64]) -> Lab {
    let within: Vec<f64> = spectrum.iter().map(|it| it.clamp(0.0, 1.0)).collect();
    lab::from_xyz(reflectance_to_xyz_d50(380.0, 10.0, &within).expect("41 bands"))
}

fn case(number: usize, films: &[f64], mixture: &[f64], way: Way) -> Case {
    let column = |which: usize| -> Vec<f64> {
        (0..BANDS)
            .map(|band| films[COLUMNS * band + which])
            .collect()
    };
    let [one, other, paper] = [2, 3, 4].map(|it| lab_of(&column(it)));
    let quantities = [films[COLUMNS * BANDS], films[COLUMNS * BANDS + 1]];
    let (predicted, u95) = match way {
        Way::Model => modelled([one, other, paper], quantities, 1.0),
        Way::Halved => modelled([one, other, paper], quantities, 0.5),
        Way::Summed => (summed([one, other, paper]), f64::INFINITY),
    };
    let part = quantities[1] / (quantities[0] + quantities[1]);
    let mean = plus(plus(Lab::new(0.0, 0.0, 0.0), one, 1.0 - part), other, part);
    Case {
        name: format!("row {}", number + 2),
        predicted,
        u95,
        straight: Some(mean),
        truth: lab_of(mixture),
        laid: None,
        kind: Kind::default(),
    }
}

/// The model's word on the mixture of this part of both amounts, and its U95.
fn modelled([one, other, paper]: [Lab; 3], quantities: [f64; 2], part: f64) -> (Lab, f64) {
    // A film's load is its amount of paint; of what carries it there are always 100 g.
    let load = |which: usize, part: f64| Load {
        pigment: ["one", "other"][which].to_owned(),
        load: 100.0 * quantities[which] * part,
    };
    let trial = |name: &str, pigments: Vec<Load>, lab: Lab| Trial {
        swatch: None,
        name: name.to_owned(),
        g_per_m2: carried(&pigments),
        pigments,
        ground: "paper".to_owned(),
        lab,
        covariance: Matrix::identity() * 0.09,
        common: Matrix::zeros(),
    };
    let trials = [
        trial("paper", Vec::new(), paper),
        trial("one", vec![load(0, 1.0)], one),
        trial("other", vec![load(1, 1.0)], other),
    ];
    let both = vec![load(0, part), load(1, part)];
    let prediction = fit(&trials)
        .expect("sound trials")
        .predict(&Coat {
            g_per_m2: carried(&both),
            pigments: both,
            ground: "paper".to_owned(),
        })
        .expect("both films were tried");
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
