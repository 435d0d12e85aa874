//! The model of a coating: fitted to trials, and asked for coats.

use masstone::colour::difference::delta_e_2000;
use masstone::colour::{Lab, Matrix};
use masstone::mix::{Coat, Load, Trial, fit};

fn trial(name: &str, load: f64, lab: [f64; 3]) -> Trial {
    Trial {
        swatch: None,
        name: name.to_owned(),
        pigments: vec![Load {
            pigment: "PR101".to_owned(),
            load,
        }],
        ground: "larch".to_owned(),
        g_per_m2: 200.0,
        lab: Lab::new(lab[0], lab[1], lab[2]),
        covariance: Matrix::identity() * 0.09,
    }
}

#[test]
fn a_ladder_is_met() {
    let trials = [
        trial("control", 0.0, [68.0, 14.0, 34.0]),
        trial("2", 2.0, [48.0, 28.0, 30.0]),
        trial("4", 4.0, [40.0, 30.0, 27.0]),
        trial("8", 8.0, [36.0, 29.0, 23.0]),
    ];
    let model = fit(&trials).unwrap();
    for it in &trials {
        let coat = Coat {
            pigments: it.pigments.clone(),
            g_per_m2: it.g_per_m2,
            ground: it.ground.clone(),
        };
        let prediction = model.predict(&coat).unwrap();
        assert!(
            delta_e_2000(it.lab, prediction.lab) < 1.0,
            "{it:?} {prediction:?}"
        );
    }
}
