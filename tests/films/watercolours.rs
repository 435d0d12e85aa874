//! Measured mixtures of two watercolour films: each predicted from three colours alone, those of the two films and of the paper.
//!
//! The two films hold known amounts of paint, and the mixture both amounts together. Data: NTU watercolour pigments spectral measurements, January
//! 2019, where this machine has them. Lab is that of D50/2°.

use super::figures::{Case, Kind};
use super::straight::plus;
use masstone::colour::spectrum::reflectance_to_xyz_d50;
use masstone::colour::{Lab, Matrix, lab};
use masstone::mix::{Coat, Load, Trial, fit};
use rayon::prelude::*;
use std::path::Path;

/// Bands, 380–780 nm every 10 nm, and columns of each: transmittances, reflectances of both films, the paper.
const BANDS: usize = 41;
const COLUMNS: usize = 5;

/// Every `step`th mixture of those in a folder; the table has each twice, its films in either order.
pub(crate) fn cases(folder: &Path, step: usize) -> Vec<Case> {
    let folder = folder.join("watercolour-mixtures");
    let films = table(&folder.join("MQ_train_1956_X_ok.csv"));
    let mixtures = table(&folder.join("MQ_train_1956_Y_ok.csv"));
    assert_eq!(films.len(), mixtures.len());
    let rows: Vec<_> = films.iter().zip(&mixtures).step_by(step).collect();
    (rows.into_par_iter().enumerate())
        .map(|(number, (films, mixture))| case(number * step, films, mixture))
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

fn lab_of(spectrum: &[f64]) -> Lab {
    let within: Vec<f64> = spectrum.iter().map(|it| it.clamp(0.0, 1.0)).collect();
    lab::from_xyz(reflectance_to_xyz_d50(380.0, 10.0, &within).expect("41 bands"))
}

fn case(number: usize, films: &[f64], mixture: &[f64]) -> Case {
    let column = |which: usize| -> Vec<f64> {
        (0..BANDS)
            .map(|band| films[COLUMNS * band + which])
            .collect()
    };
    let [one, other, paper] = [2, 3, 4].map(|it| lab_of(&column(it)));
    let quantities = [films[COLUMNS * BANDS], films[COLUMNS * BANDS + 1]];
    // A film's load is its amount of paint, in a layer of one amount throughout.
    let load = |which: usize| Load {
        pigment: ["one", "other"][which].to_owned(),
        load: 100.0 * quantities[which],
    };
    let trial = |name: &str, pigments: Vec<Load>, lab: Lab| Trial {
        swatch: None,
        name: name.to_owned(),
        pigments,
        ground: "paper".to_owned(),
        g_per_m2: 100.0,
        lab,
        covariance: Matrix::identity() * 0.09,
    };
    let trials = [
        trial("paper", Vec::new(), paper),
        trial("one", vec![load(0)], one),
        trial("other", vec![load(1)], other),
    ];
    let prediction = fit(&trials)
        .expect("sound trials")
        .predict(&Coat {
            pigments: vec![load(0), load(1)],
            g_per_m2: 100.0,
            ground: "paper".to_owned(),
        })
        .expect("both films were tried");
    let part = quantities[1] / (quantities[0] + quantities[1]);
    let mean = plus(plus(Lab::new(0.0, 0.0, 0.0), one, 1.0 - part), other, part);
    Case {
        name: format!("row {}", number + 2),
        predicted: prediction.lab,
        u95: prediction.u95,
        straight: Some(mean),
        truth: lab_of(mixture),
        laid: None,
        kind: Kind::default(),
    }
}
