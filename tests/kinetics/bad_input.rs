//! Points that can't be: nothing panics, and what is said is finite.

use super::along_lightness;
use masstone::colour::{Lab, Matrix};
use masstone::fade::kinetics::{Course, Points, course};

fn four() -> Points {
    along_lightness(50.0, &[(1.0, 1.0), (2.0, 2.1), (3.0, 2.9), (4.0, 4.0)], 0.2)
}

fn with(change: impl Fn(&mut Points)) -> Option<Course> {
    let mut points = four();
    change(&mut points);
    let course = course(&points)?;
    // What isn't finite becomes null, which is not read back.
    let json = serde_json::to_string(&course).unwrap();
    assert_eq!(serde_json::from_str::<Course>(&json).unwrap(), course);
    Some(course)
}

#[test]
fn fewer_than_two_exposures_are_no_course() {
    assert!(with(|it| it.points.clear()).is_none());
    assert!(with(|it| it.points.truncate(1)).is_none());
    assert!(with(|it| it.points.truncate(2)).is_some());
    // The same dose over and over is one exposure.
    assert!(with(|it| it.points.iter_mut().for_each(|it| it.dose = 2.0)).is_none());
}

#[test]
fn points_that_cannot_be_are_left_out() {
    let three = with(|it| it.points.retain(|it| (it.dose - 2.0).abs() > 0.5)).unwrap();
    for dose in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(
            with(|it| it.points[1].dose = dose).unwrap(),
            three,
            "{dose}"
        );
    }
    for it in [f64::NAN, f64::NEG_INFINITY, 1e200] {
        assert_eq!(
            with(|points| points.points[1].change[2] = it).unwrap(),
            three,
            "{it}"
        );
        let spoilt = |points: &mut Points| points.points[1].covariance[(0, 1)] = it;
        assert_eq!(with(spoilt).unwrap(), three, "{it}");
        assert!(with(|points| points.shared[(2, 2)] = it).is_none());
        assert!(with(|points| points.start = Lab::new(it, 0.0, 0.0)).is_none());
    }
}

#[test]
fn equal_doses_are_two_points_of_one_exposure() {
    let course = with(|it| it.points[2].dose = 2.0).unwrap();
    assert!((course.limit_dose - 6.0).abs() < 1e-12);
    assert!(course.range_over_models);
}

#[test]
fn covariances_that_cannot_be() {
    // None at all: as if known to what rounding leaves.
    let none = with(|it| {
        it.points
            .iter_mut()
            .for_each(|it| it.covariance = Matrix::zeros())
    })
    .unwrap();
    assert!(none.models[0].chi_square > 100.0);
    // One direction only, and below nothing.
    let flat = Matrix::from_element(0.04);
    with(|it| it.points.iter_mut().for_each(|it| it.covariance = flat)).unwrap();
    with(|it| it.points.iter_mut().for_each(|it| it.covariance = -flat)).unwrap();
    with(|it| it.shared = flat).unwrap();
    with(|it| it.shared = -flat).unwrap();
    // Far more shared than of one's own.
    with(|it| it.shared = Matrix::identity() * 9e3).unwrap();
    // Far unlike each other.
    with(|it| it.points[0].covariance = Matrix::identity() * 9e3).unwrap();
}

#[test]
fn numbers_at_the_ends_of_what_can_be() {
    for factor in [1e-29, 1e-9, 1e9, 1e28] {
        with(|it| it.points.iter_mut().for_each(|it| it.dose *= factor)).unwrap();
    }
    for change in [9e3, -9e3] {
        with(|it| it.points.iter_mut().for_each(|it| it.change = [change; 3])).unwrap();
    }
    with(|it| it.points[0].dose = 1e-20).unwrap();
    with(|it| it.start = Lab::new(9e3, -9e3, 9e3)).unwrap();
    with(|it| it.points.iter_mut().for_each(|it| it.change = [0.0; 3])).unwrap();
}
