//! The course of a change: against certified fits, another library's fits and real weathering; its laws; whether its intervals hold the
//! truth.

#![expect(clippy::unwrap_used, reason = "helpers of tests")]

mod bad_input;
mod certified;
mod laws;
mod library;
mod made;
#[path = "../real/mod.rs"]
mod real;
mod study;
#[path = "../table/mod.rs"]
mod table;
mod weathering;

use masstone::colour::{Lab, Matrix};
use masstone::fade::kinetics::{Course, Model, ModelName, Point, Points};

/// Points along L* from a mid grey, of equal variance, with nothing shared.
fn along_lightness(start: f64, course: &[(f64, f64)], sd: f64) -> Points {
    let points = course.iter().map(|(dose, change)| Point {
        dose: *dose,
        change: [*change, 0.0, 0.0],
        covariance: Matrix::identity() * sd.powi(2),
    });
    Points {
        start: Lab::new(start, 0.0, 0.0),
        points: points.collect(),
        shared: Matrix::zeros(),
        scale: [0.0; 3],
        leak: 0.0,
    }
}

fn model(course: &Course, name: ModelName) -> &Model {
    course.models.iter().find(|it| it.name == name).unwrap()
}

/// Value and standard uncertainty of a parameter.
fn parameter(model: &Model, name: &str) -> (f64, Option<f64>) {
    let it = model.parameters.iter().find(|it| it.name == name).unwrap();
    (it.value, it.sd)
}

/// Fails unless two numbers agree to so much of the second.
fn agrees(what: &str, computed: f64, printed: f64, within: f64) {
    assert!(
        (computed / printed - 1.0).abs() <= within,
        "{what}: {computed} is not {printed} within {within:e}"
    );
}

/// A change in proportion to the dose, with the same noise.
fn course_of_straight() -> Course {
    let straight = [(100.0, 1.0), (200.0, 2.0), (300.0, 3.0), (400.0, 4.0)];
    masstone::fade::kinetics::course(&along_lightness(48.0, &straight, 0.1)).unwrap()
}
