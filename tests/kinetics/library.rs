//! Against fits of a library that is not ours, with whole covariances: `tests/oracle/kinetics.py`.

use super::{agrees, model, parameter};
use masstone::colour::{Lab, Matrix};
use masstone::fade::kinetics::{ModelName, Point, Points, course};
use serde_json::Value;

fn fits() -> Value {
    serde_json::from_str(include_str!("../data/kinetics-fits.json")).unwrap()
}

/// The worked set's dose at a change of 5, and its 95 % profile likelihood interval with the standard deviation that is used here.
pub(crate) fn dose_at_5() -> [f64; 3] {
    let it = &fits()["dose_at_5"];
    ["value", "low", "high"].map(|key| it[key].as_f64().unwrap())
}

fn numbers(it: &Value) -> Vec<f64> {
    let all = it.as_array().unwrap().iter();
    all.map(|it| it.as_f64().unwrap()).collect()
}

fn matrix(it: &Value) -> Matrix {
    let rows = it.as_array().unwrap().iter();
    Matrix::from_row_iterator(rows.flat_map(numbers))
}

/// Both minimise χ² with the same covariances; twelve digits are written. Shapes are sought to about ten.
#[test]
fn the_same_minimum_is_found_with_whole_covariances() {
    let mut compared = 0;
    for case in fits()["cases"].as_array().unwrap() {
        let changes = case["changes"].as_array().unwrap();
        let own = case["own"].as_array().unwrap();
        let points = numbers(&case["doses"])
            .into_iter()
            .zip(changes.iter().zip(own));
        let points = Points {
            start: Lab::new(50.0, 10.0, 10.0),
            points: points
                .map(|(dose, (change, own))| Point {
                    dose,
                    change: numbers(change).try_into().unwrap(),
                    covariance: matrix(own),
                })
                .collect(),
            shared: matrix(&case["shared"]),
            scale: [0.0; 3],
            leak: 0.0,
        };
        let course = course(&points).unwrap();
        for (name, theirs) in case["fits"].as_object().unwrap() {
            let name: ModelName = serde_json::from_value(Value::String(name.clone())).unwrap();
            let ours = model(&course, name);
            let chi_square = theirs["chi_square"].as_f64().unwrap();
            agrees("χ²", ours.chi_square, chi_square, 1e-9);
            for it in theirs["parameters"].as_array().unwrap() {
                let what = it["name"].as_str().unwrap();
                let (value, sd) = parameter(ours, what);
                agrees(what, value, it["value"].as_f64().unwrap(), 1e-8);
                agrees(
                    &format!("sd of {what}"),
                    sd.unwrap(),
                    it["sd"].as_f64().unwrap(),
                    1e-8,
                );
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 6 * 3 + 5 * 4, "six straight fits and five others");
}
