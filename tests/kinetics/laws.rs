//! What holds of any course.

use super::made::{KINDS, Kind, Patch, Random};
use super::{agrees, along_lightness, model, parameter};
use masstone::colour::{Lab, Matrix, difference};
use masstone::fade::kinetics::{Course, ModelName, Point, Points, course};

const DOSES: [f64; 6] = [20.0, 50.0, 100.0, 180.0, 300.0, 420.0];

/// Points exactly on a course.
fn exact(along: impl Fn(f64) -> f64) -> Points {
    let point = |dose: f64| Point {
        dose,
        change: [2.0, -3.0, 5.0].map(|it| it * along(dose)),
        covariance: Matrix::identity() * 0.01,
    };
    Points {
        start: Lab::new(50.0, 20.0, 10.0),
        points: DOSES.map(point).to_vec(),
        shared: Matrix::identity() * 0.02,
        scale: [0.0; 3],
        leak: 0.0,
    }
}

#[test]
fn exact_points_give_back_what_they_are_from() {
    type Case<'a> = (ModelName, &'a dyn Fn(f64) -> f64, Option<(&'a str, f64)>);
    let cases: [Case<'_>; 4] = [
        (ModelName::Linear, &|h| 0.01 * h, None),
        (
            ModelName::Plateau,
            &|h| 1.0 - (-0.008 * h).exp(),
            Some(("rate", 0.008)),
        ),
        (
            ModelName::Power,
            &|h| 0.04 * h.powf(0.6),
            Some(("exponent", 0.6)),
        ),
        (
            ModelName::Power,
            &|h| 1e-4 * h.powf(1.7),
            Some(("exponent", 1.7)),
        ),
    ];
    for (name, along, shape) in cases {
        let course = course(&exact(along)).unwrap();
        let found = model(&course, name);
        assert!(found.chi_square < 1e-12, "{name:?} {}", found.chi_square);
        assert_eq!(course.models[0].name, name);
        let unit = match name {
            ModelName::Linear => 0.01,
            ModelName::Plateau => 1.0,
            _ => along(1.0),
        };
        for (parameter_name, value) in [("dL", 2.0), ("da", -3.0), ("db", 5.0)] {
            let (ours, sd) = parameter(found, parameter_name);
            agrees(parameter_name, ours, value * unit, 1e-8);
            assert!(sd.unwrap() > 0.0);
        }
        if let Some((parameter_name, value)) = shape {
            agrees(
                parameter_name,
                parameter(found, parameter_name).0,
                value,
                1e-8,
            );
        }
    }
}

/// What came through a mask is missing of all coordinates alike: ΔE00 is as unsure as it, relatively, and no fit changes.
#[test]
fn a_leak_makes_all_coordinates_unsure_alike() {
    let mut points = exact(|h| 0.001 * h);
    points.shared = Matrix::zeros();
    for it in &mut points.points {
        it.covariance = Matrix::identity() * 1e-4;
    }
    let told = |leak: f64| {
        let course = course(&Points {
            leak,
            ..points.clone()
        });
        let course = course.unwrap();
        let last = course.curve.iter().rfind(|it| it.dose <= DOSES[5]);
        let last = *last.unwrap();
        (course.models, last)
    };
    let ((sound, before), (leaking, after)) = (told(0.0), told(0.2));
    assert_eq!(sound, leaking);
    assert!((before.high / before.low).ln() < 0.04, "{before:?}");
    // 95 % of a normal variable lie within 1.96 standard deviations, on both sides of it.
    let sd = (after.high / after.low).ln() / (2.0 * 1.96);
    agrees("relative standard deviation", sd, 0.2, 0.1);
}

/// In other units of dose only what has a unit of dose changes.
#[test]
fn scaling_doses_scales_rates() {
    let mut random = Random::new(31);
    for exposures in [3, 7] {
        let patch = Patch::new(Kind::Plateau, &mut random);
        let points = patch.measured(exposures, 0.2, &mut random);
        let mut scaled = points.clone();
        for it in &mut scaled.points {
            it.dose *= 3.6;
        }
        let (before, after) = (course(&points).unwrap(), course(&scaled).unwrap());
        agrees("limit", after.limit_dose, before.limit_dose * 3.6, 1e-12);
        for one in &before.models {
            let other = model(&after, one.name);
            assert!((one.chi_square - other.chi_square).abs() < 1e-7);
            assert!((one.weight - other.weight).abs() < 1e-7);
        }
        let of = |it: &Course, name, parameter_name| parameter(model(it, name), parameter_name).0;
        let pairs = [
            (ModelName::Linear, "db", 1.0 / 3.6),
            (ModelName::Plateau, "db", 1.0),
            (ModelName::Plateau, "rate", 1.0 / 3.6),
            (ModelName::Power, "exponent", 1.0),
        ];
        for (name, parameter_name, factor) in pairs {
            let expected = of(&before, name, parameter_name) * factor;
            agrees(
                parameter_name,
                of(&after, name, parameter_name),
                expected,
                1e-6,
            );
        }
        for (one, other) in before.thresholds.iter().zip(&after.thresholds) {
            for (one, other) in [
                (one.dose, other.dose),
                (one.low, other.low),
                (one.high, other.high),
            ] {
                assert_eq!(one.is_some(), other.is_some());
                if let Some((one, other)) = one.zip(other) {
                    agrees("dose", other, one * 3.6, 1e-4);
                }
            }
        }
    }
}

#[test]
fn the_order_of_points_does_not_matter_and_every_run_is_the_same() {
    let mut random = Random::new(32);
    let points = Patch::new(Kind::Power, &mut random).measured(6, 0.3, &mut random);
    let mut turned = points.clone();
    turned.points.reverse();
    let course_of = |it: &Points| course(it).unwrap();
    assert_eq!(course_of(&points), course_of(&points));
    assert_eq!(course_of(&points), course_of(&turned));
}

#[test]
fn what_is_said_hangs_together() {
    let mut random = Random::new(33);
    for kind in KINDS {
        for exposures in [2, 4, 6] {
            let patch = Patch::new(kind, &mut random);
            let course = course(&patch.measured(exposures, 0.3, &mut random)).unwrap();
            assert_eq!(course.range_over_models, exposures < 6);
            agrees("limit", course.limit_dose, 1.5 * patch.last, 1e-12);
            assert!(course.limit_reason.contains("1.5 times"));
            let sum: f64 = course.models.iter().map(|it| it.weight).sum();
            agrees("weights", sum, 1.0, 1e-12);
            assert!(
                course
                    .models
                    .is_sorted_by(|one, other| one.weight >= other.weight)
            );
            for it in &course.thresholds {
                let low = it.low.unwrap();
                assert!(low >= 0.0 && low <= course.limit_dose);
                assert!(
                    it.high
                        .is_none_or(|high| low <= high && high <= course.limit_dose)
                );
                // A closed interval has an estimate, which lies in it.
                assert!(it.high.is_none() || it.dose.is_some());
                assert!(it.dose.is_none_or(|dose| low <= dose));
                assert!(it.dose.zip(it.high).is_none_or(|(dose, high)| dose <= high));
            }
            assert_eq!(course.curve.len(), 41);
            assert!(course.curve[0].dose.abs() < 1e-12 && course.curve[0].high.abs() < 1e-12);
            agrees("end", course.curve[40].dose, course.limit_dose, 1e-12);
            for it in &course.curve {
                assert!(it.low <= it.de_00 && it.de_00 <= it.high, "{it:?}");
                let [l, a, b] = it.change;
                let from = patch.start;
                let there = Lab::new(from.l + l, from.a + a, from.b + b);
                assert!((difference::delta_e_2000(from, there) - it.de_00).abs() < 1e-9);
            }
        }
    }
}

/// By hand: two changes of 1 and 2 at doses 1 and 2, sd 1 each, nothing shared. Linear: χ² 0; none: 1 + 4. n = 6, K = 3: the correction
/// is 2·3·4∕2 = 12, so `AICc` is 18 and 5; of the shapes 2·4 + 2·4·5∕1 = 48 and what χ² is left.
#[test]
fn the_criterion_by_hand() {
    let course = course(&along_lightness(50.0, &[(1.0, 1.0), (2.0, 2.0)], 1.0)).unwrap();
    let (none, linear) = (
        model(&course, ModelName::None),
        model(&course, ModelName::Linear),
    );
    agrees("χ² of none", none.chi_square, 5.0, 1e-12);
    agrees("AICc of none", none.aicc, 5.0, 1e-12);
    agrees("AICc of linear", linear.aicc, 18.0, 1e-12);
    agrees("ratio", linear.weight / none.weight, (-6.5_f64).exp(), 1e-9);
    let power = model(&course, ModelName::Power);
    agrees("AICc of power", power.aicc, 48.0, 1e-9);
    // Neither of two points holds a shape.
    assert!(power.parameters.iter().all(|it| it.sd.is_none()));
}

/// Points that follow no model: said, and the interval takes in what lies between the exposures.
#[test]
fn points_that_follow_no_model_are_told() {
    let step = [(100.0, 0.0), (200.0, 0.0), (300.0, 4.0), (400.0, 4.0)];
    let course = course(&along_lightness(48.0, &step, 0.1)).unwrap();
    assert!(course.limit_reason.contains("follow none of the models"));
    let at_2 = course.thresholds[1];
    assert!(
        at_2.low.unwrap() <= 200.0 && at_2.high.unwrap() >= 300.0,
        "{at_2:?}"
    );
    let straight = super::course_of_straight();
    assert!(!straight.limit_reason.contains("follow none"));
}
