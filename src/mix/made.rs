//! Materials made up for tests within the model.

use super::bands::BANDS;
use super::model::{Coat, Ground, Known, Model, Optics, Pigment};
use super::trial::{Load, Trial};
use crate::colour::Matrix;

/// A red that hides, a blue that hardly scatters, larch and a card.
pub(super) fn materials() -> Model {
    let nm = |band: usize| 380.0 + 10.0 * band as f64;
    let pigment = |id: &str, k: &dyn Fn(f64) -> f64, s: f64| Pigment {
        id: id.to_owned(),
        optics: Optics {
            k: std::array::from_fn(|band| k(nm(band))),
            s: [s; BANDS],
        },
        known: Known::Both,
        loads: Vec::new(),
    };
    let red = |nm: f64| 0.02 + 0.4 / (1.0 + ((nm - 580.0) / 14.0).exp());
    let blue = |nm: f64| 0.01 + 0.3 * (-((nm - 595.0) / 50.0).powi(2) / 2.0).exp();
    let larch = |band: usize| 0.35 + 0.4 / (1.0 + ((560.0 - nm(band)) / 60.0).exp());
    Model::of_optics(
        Optics {
            k: [0.0; BANDS],
            s: [0.0; BANDS],
        },
        vec![pigment("red", &red, 0.1), pigment("blue", &blue, 0.01)],
        vec![
            Ground {
                name: "larch".to_owned(),
                reflectance: std::array::from_fn(larch),
            },
            Ground {
                name: "white card".to_owned(),
                reflectance: [0.9; BANDS],
            },
        ],
    )
}

pub(super) fn coat(loads: &[(&str, f64)]) -> Coat {
    Coat {
        pigments: (loads.iter())
            .map(|(id, load)| Load {
                pigment: (*id).to_owned(),
                load: *load,
            })
            .collect(),
        g_per_m2: 200.0,
        ground: "larch".to_owned(),
    }
}

/// A coat as these materials have it, to 0.3 in each coordinate.
pub(super) fn trial_of(truth: &Model, coat: &Coat) -> Trial {
    Trial {
        swatch: None,
        name: format!("{:?}", coat.pigments),
        lab: truth.colour(coat).expect("of its materials"),
        pigments: coat.pigments.clone(),
        ground: coat.ground.clone(),
        g_per_m2: coat.g_per_m2,
        covariance: Matrix::identity() * 0.09,
        common: Matrix::zeros(),
    }
}

/// A control, and each pigment at these loads.
pub(super) fn shelf(truth: &Model, loads: &[f64]) -> Vec<Trial> {
    let single =
        (loads.iter()).flat_map(|load| [coat(&[("red", *load)]), coat(&[("blue", *load)])]);
    (std::iter::once(coat(&[])).chain(single))
        .map(|it| trial_of(truth, &it))
        .collect()
}
