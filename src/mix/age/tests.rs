//! What only the module itself can ask.

use super::*;
use crate::mix::bands::BANDS;
use crate::mix::{Ground, Known, Load, Optics, Pigment};

fn coat(load: f64) -> Coat {
    Coat {
        pigments: vec![Load {
            pigment: "blue".to_owned(),
            load,
        }],
        g_per_m2: 150.0,
        ground: "larch".to_owned(),
    }
}

/// A grey film is enough: what it shows is by how much it darkens the ground.
#[test]
fn what_the_film_missed_goes_with_what_the_pigment_shows() {
    let optics = |k: f64, s: f64| Optics {
        k: [k; BANDS],
        s: [s; BANDS],
    };
    let model = Model::of_optics(
        optics(0.0, 0.0),
        vec![Pigment {
            id: "blue".to_owned(),
            optics: optics(0.3, 0.05),
            known: Known::Both,
            loads: Vec::new(),
        }],
        vec![Ground {
            name: "larch".to_owned(),
            reflectance: [0.6; BANDS],
        }],
    );
    let changed = Aged {
        name: "blue".to_owned(),
        coat: coat(6.0),
        inert: false,
        change: Vector3::new(1.0, 0.0, 0.0),
        covariance: Matrix::identity() * 0.04,
    };
    let mut aged = age(&model, &[changed]);
    let spread = |aged: &AgedModel, load: f64| aged.colour(&coat(load)).unwrap().covariance;
    let loads = [6.0, 2.0, 0.001];
    aged.factors.get_mut("blue").unwrap().missed = Matrix::zeros();
    let without = loads.map(|it| spread(&aged, it));
    aged.factors.get_mut("blue").unwrap().missed = Matrix::identity();
    let with = loads.map(|it| spread(&aged, it));
    let added: Vec<f64> = with
        .iter()
        .zip(without)
        .map(|(a, b)| (a - b).trace())
        .collect();
    assert!((added[0] - 3.0).abs() < 1e-9, "{added:?}");
    assert!(added[1] < 2.9 && added[1] > 0.1, "{added:?}");
    assert!(added[2] < 1e-4, "{added:?}");
}
