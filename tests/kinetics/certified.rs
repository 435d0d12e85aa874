//! Against the certified fits of NIST, and a worked set.

use super::{agrees, along_lightness, library, model, parameter, table};
use masstone::fade::kinetics::{Course, ModelName, course};

fn set(name: &str) -> Vec<(f64, f64)> {
    let rows = table::read_table(include_str!("../data/kinetics-nist-strd.csv"), 1);
    let rows = rows.into_iter().filter(|it| it.0[0] == name);
    rows.map(|it| (it.1[0], it.1[1])).collect()
}

/// A known standard deviation, for fits whose certified ones are scaled by the residuals instead.
const SD: f64 = 0.05;

/// The sum of squared residuals that χ² stands for.
fn squares(course: &Course, name: ModelName) -> f64 {
    model(course, name).chi_square * SD.powi(2)
}

/// Holds parameter and standard deviation, scaled by the residual one, to what is certified.
fn held(
    course: &Course,
    name: ModelName,
    parameters: &[(&str, f64, f64)],
    residual: f64,
    within: f64,
) {
    for (parameter_name, value, sd) in parameters {
        let (ours, ours_sd) = parameter(model(course, name), parameter_name);
        agrees(parameter_name, ours, *value, within);
        let scaled = ours_sd.unwrap() / SD * residual;
        agrees(&format!("sd of {parameter_name}"), scaled, *sd, within);
    }
}

/// NIST `StRD` Misra1a (dental research, monomolecular adsorption): y = b1 (1 − exp(−b2 x)), 14 points. Certified to eleven digits.
#[test]
fn misra1a_is_the_plateau() {
    let points = set("Misra1a");
    assert_eq!(points.len(), 14);
    let course = course(&along_lightness(40.0, &points, SD)).unwrap();
    let rss = squares(&course, ModelName::Plateau);
    agrees("RSS", rss, 1.245_513_889_4e-1, 1e-9);
    let residual = (rss / 12.0).sqrt();
    agrees("residual sd", residual, 1.018_787_633_0e-1, 1e-9);
    let certified = [
        ("dL", 2.389_421_291_8e2, 2.707_007_524_1),
        ("rate", 5.501_564_318_1e-4, 7.266_868_843_6e-6),
    ];
    held(&course, ModelName::Plateau, &certified, residual, 1e-9);
}

/// NIST `StRD` `DanWood` (radiated energy of a carbon filament): y = b1 x^b2, 6 points. Certified to eleven digits.
#[test]
fn danwood_is_the_power() {
    let points = set("DanWood");
    assert_eq!(points.len(), 6);
    let course = course(&along_lightness(40.0, &points, SD)).unwrap();
    let rss = squares(&course, ModelName::Power);
    agrees("RSS", rss, 4.317_308_408_3e-3, 1e-9);
    let residual = (rss / 4.0).sqrt();
    agrees("residual sd", residual, 3.285_311_403_9e-2, 1e-9);
    let certified = [
        ("dL", 7.688_622_617_6e-1, 1.828_197_386_0e-2),
        ("exponent", 3.860_405_587_1, 5.172_661_091_3e-2),
    ];
    held(&course, ModelName::Power, &certified, residual, 1e-9);
}

/// NIST `StRD` `NoInt1`: y = b x, 11 points. Certified to fifteen digits.
#[test]
fn noint1_is_the_straight_line() {
    let points = set("NoInt1");
    assert_eq!(points.len(), 11);
    let course = course(&along_lightness(40.0, &points, SD)).unwrap();
    let residual = (squares(&course, ModelName::Linear) / 10.0).sqrt();
    agrees("residual sd", residual, 3.567_530_340_063_38, 1e-12);
    let certified = [("dL", 2.074_380_165_289_26, 0.016_528_925_619_834_7)];
    held(&course, ModelName::Linear, &certified, residual, 1e-12);
}

/// Seven doses, dose 0 dropped; worked with scipy 1.17.1 and an analytic Jacobian: parameters and their standard errors, residual sum
/// of squares, and `AICc` = n ln(RSS∕n) + 2K + 2K(K + 1)∕(n − K − 1) with the residual variance counted in K. Eight digits are printed, five
/// of standard errors.
#[test]
fn the_worked_fade_set() {
    let doses = [100.0, 200.0, 400.0, 600.0, 800.0, 1200.0, 1600.0];
    let changes = [1.2, 2.1, 3.5, 4.3, 5.1, 5.8, 6.3];
    let points: Vec<(f64, f64)> = doses.into_iter().zip(changes).collect();
    // From here to 5 more the mean L* is 50, where ΔE00 is ΔL*: the formula's weight of lightness is 1.
    let course = course(&along_lightness(47.5, &points, SD)).unwrap();
    type Printed<'a> = (ModelName, &'a [(&'a str, f64, f64)], f64, f64);
    let printed: [Printed<'_>; 3] = [
        (
            ModelName::Linear,
            &[("dL", 0.004_921_305_2, 0.000_558_42)],
            9.747_735_12,
            9.3179,
        ),
        (
            ModelName::Plateau,
            &[
                ("dL", 6.554_842_9, 0.101_43),
                ("rate", 0.001_870_607_5, 7.0022e-5),
            ],
            0.035_746_43,
            -22.9405,
        ),
        (
            ModelName::Power,
            &[
                ("dL", 0.161_581_51, 0.054_416),
                ("exponent", 0.504_098_74, 0.049_154),
            ],
            0.640_811_66,
            -2.7365,
        ),
    ];
    // Of five digits, the first being 1.
    let half_last_digit = 0.5e-4;
    for (name, parameters, rss, aicc) in printed {
        let ours = squares(&course, name);
        agrees("RSS", ours, rss, 1e-7);
        let (n, k) = (7.0, parameters.len() as f64 + 1.0);
        let residual = (ours / (n - parameters.len() as f64)).sqrt();
        for (parameter_name, value, se) in parameters {
            let (value_ours, sd) = parameter(model(&course, name), parameter_name);
            agrees(parameter_name, value_ours, *value, 1e-7);
            agrees(
                "standard error",
                sd.unwrap() / SD * residual,
                *se,
                half_last_digit,
            );
        }
        let criterion = n * (ours / n).ln() + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
        assert!(
            (criterion - aicc).abs() < 1e-4,
            "{name:?} {criterion} {aicc}"
        );
    }
    // The doses at a change of 3: printed to six digits, by the same parameters.
    let plateau = model(&course, ModelName::Plateau);
    let (most, rate) = (parameter(plateau, "dL").0, parameter(plateau, "rate").0);
    agrees("dose", -(1.0 - 3.0 / most).ln() / rate, 327.109, 2e-6);
    let power = model(&course, ModelName::Power);
    let (factor, exponent) = (parameter(power, "dL").0, parameter(power, "exponent").0);
    agrees("dose", (3.0 / factor).powf(1.0 / exponent), 328.721, 2e-6);
    // The plateau is the only one left, so that the dose at ΔE00 5 and its interval are its own.
    assert_eq!(course.models[0].name, ModelName::Plateau);
    assert!(course.models[0].weight > 0.999_99);
    let at_5 = course.thresholds.iter().find(|it| it.de_00 > 4.0).unwrap();
    let [dose, low, high] = library::dose_at_5();
    agrees("dose at 5", at_5.dose.unwrap(), dose, 1e-5);
    // Ours is of draws: the ends differ by less than a tenth of a standard uncertainty.
    let tenth = (high - low) / 3.92 / 10.0;
    let [ours_low, ours_high] = [at_5.low.unwrap(), at_5.high.unwrap()];
    assert!((ours_low - low).abs() < tenth, "{ours_low} {low}");
    assert!((ours_high - high).abs() < tenth, "{ours_high} {high}");
}
