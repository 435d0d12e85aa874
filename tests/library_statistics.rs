//! The mathematics of means against published worked examples.

use masstone::colour::Matrix;
use masstone::library::distribution::{chi_square_beyond, student_95};
use masstone::library::statistics::{
    Known, Point, chance, contrast, estimate, scatter, weighted_mean,
};
use nalgebra::Vector3;

fn near(computed: f64, printed: f64, within: f64) {
    assert!(
        (computed - printed).abs() <= within,
        "{computed} is not {printed}"
    );
}

/// JCGM 100:2008, table H.9: daily means and standard deviations of five observations a day of a Zener voltage standard, ten days;
/// volts beyond 10 V in microvolts.
const H5: [(f64, f64); 10] = [
    (172.0, 60.0),
    (116.0, 77.0),
    (13.0, 111.0),
    (144.0, 101.0),
    (106.0, 67.0),
    (31.0, 93.0),
    (60.0, 80.0),
    (125.0, 73.0),
    (163.0, 88.0),
    (41.0, 86.0),
];

/// The parts that H.5.2 prints: F = 2.25 (from rounded numbers; 2.26 from these), `s_B` = 43 µV, the mean 10.000 097 V with 18 µV.
#[test]
fn the_voltage_standard_of_the_guide() {
    let pooled = H5.iter().map(|it| it.1 * it.1).sum::<f64>() / 10.0;
    near(pooled.sqrt(), 85.0, 0.5);
    let days: Vec<Known> = H5
        .iter()
        .map(|it| Known {
            value: it.0,
            variance: pooled / 5.0,
        })
        .collect();
    let parts = scatter(std::slice::from_ref(&days));
    assert_eq!(parts.degrees, 9);
    near(parts.ratio().unwrap(), 2.26, 0.005);
    near(parts.beyond.sqrt(), 43.0, 0.5);
    let mean = weighted_mean(&days, parts.beyond).unwrap();
    near(mean.value, 97.0, 0.5);
    near(mean.variance.sqrt(), 18.0, 0.5);
    // Without the days' own scatter it would look surer than it is.
    near(
        weighted_mean(&days, 0.0).unwrap().variance.sqrt(),
        12.0,
        0.1,
    );
}

/// NIST Statistical Reference Datasets, `SiRstv`: five instruments, five measurements each; certified to 15 digits.
const SIRSTV: [[f64; 5]; 5] = [
    [196.3052, 196.124, 196.189, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.185, 196.0052, 196.209],
];

#[test]
fn the_silicon_resistivity_of_nist() {
    let groups: Vec<Vec<Known>> = SIRSTV
        .iter()
        .map(|group| {
            group
                .map(|value| Known {
                    value,
                    variance: 1.0,
                })
                .to_vec()
        })
        .collect();
    // With unit variances the sum over its degrees is the pooled variance.
    let within = scatter(&groups);
    assert_eq!(within.degrees, 20);
    let residual = within.ratio().unwrap();
    near(residual.sqrt(), 0.104_076_068_334_656, 1e-12);
    let means: Vec<Known> = SIRSTV
        .iter()
        .map(|group| Known {
            value: group.iter().sum::<f64>() / 5.0,
            variance: residual / 5.0,
        })
        .collect();
    near(
        scatter(&[means]).ratio().unwrap(),
        1.180_462_374_402_55,
        1e-9,
    );
}

/// Quantiles of χ² as every table prints them, and for 3 degrees at 0.95 scipy's 7.8147.
#[test]
fn chi_square_is_that_of_the_tables() {
    for (x, degrees, printed) in [
        (7.8147, 3, 0.05),
        (11.345, 3, 0.01),
        (3.841, 1, 0.05),
        (5.991, 2, 0.05),
        (18.307, 10, 0.05),
        (0.352, 3, 0.95),
    ] {
        near(chi_square_beyond(x, degrees), printed, 2e-4);
    }
    // Exact for two degrees.
    near(chi_square_beyond(9.0, 2), (-4.5_f64).exp(), 1e-14);
    near(chi_square_beyond(0.0, 3), 1.0, 0.0);
    near(student_95(1), 12.71, 0.0);
    // scipy: 2.093 at 19, 2.045 at 29.
    near(student_95(19), 2.093, 0.004);
    near(student_95(29), 2.045, 0.004);
}

fn point(specimen: i64, photo: i64, lab: [f64; 3], own: f64, common: f64) -> Point {
    Point {
        specimen,
        photo,
        group: 1,
        lab: Vector3::from(lab),
        own: Matrix::identity() * own,
        common: Matrix::identity() * common,
    }
}

/// By hand: two photos of the same weight; own parts halve, the common part of one camera stays as it is.
#[test]
fn what_photos_have_in_common_does_not_average_out() {
    let points = [
        point(1, 1, [50.0, 10.0, 0.0], 0.04, 1.0),
        point(1, 2, [50.0, 10.0, 0.0], 0.04, 1.0),
    ];
    let mean = estimate(&points).unwrap();
    near(mean.parts.within_photo[(0, 0)], 0.02, 1e-12);
    near(mean.parts.common_to_photo[(0, 0)], 1.0, 1e-12);
    near(mean.parts.between_photos[(0, 0)], 0.0, 0.0);
    assert!(mean.disagreeing.is_empty() && mean.specimen_scatter.is_none());
    assert_eq!(mean.u95_of_another(), None, "one specimen can't tell");
    // Another camera's error is another error.
    let mut other = points;
    other[1].group = 2;
    near(
        estimate(&other).unwrap().parts.common_to_photo[(0, 0)],
        0.5,
        1e-12,
    );
}

/// By hand: three photos at L* 49, 50 and 51 with own variance 0.25: the variance between photos is 1 − 0.25, of the mean 0.75/3.
#[test]
fn photos_that_scatter_more_than_they_say() {
    let points: Vec<Point> = [49.0, 50.0, 51.0]
        .iter()
        .zip(1..)
        .map(|(l, photo)| point(1, photo, [*l, 10.0, 0.0], 0.25, 0.0))
        .collect();
    let mean = estimate(&points).unwrap();
    near(mean.lab.l, 50.0, 1e-12);
    near(mean.photo_scatter.unwrap().x, 0.75, 1e-12);
    near(mean.parts.between_photos[(0, 0)], 0.25, 1e-12);
    near(mean.parts.within_photo[(0, 0)], 0.25 / 3.0, 1e-12);
    near(mean.weights.iter().sum::<f64>(), 1.0, 1e-12);
}

/// By hand: two specimens at b* 9 and 11, each known to 0.04: the variance between them is 2 − 0.04, of the mean 0.98. What to expect of
/// a third they don't say, least of all where they agree by chance; of four, Student's t of three degrees makes what to expect wide.
#[test]
fn specimens_differ_by_more_than_they_were_measured_to() {
    let points = [
        point(1, 1, [50.0, 10.0, 9.0], 0.04, 0.0),
        point(2, 1, [50.0, 10.0, 11.0], 0.04, 0.0),
    ];
    let mean = estimate(&points).unwrap();
    near(mean.specimen_scatter.unwrap().z, 1.96, 1e-12);
    near(mean.parts.between_specimens[(2, 2)], 0.98, 1e-12);
    assert_eq!(mean.u95_of_another(), None);
    let at = |specimen, b| point(specimen, 1, [50.0, 10.0, b], 0.04, 0.0);
    let alike = [at(1, 10.0), at(2, 10.0), at(3, 10.0)];
    assert_eq!(estimate(&alike).unwrap().u95_of_another(), None);
    let four = [at(1, 9.0), at(2, 11.0), at(3, 9.0), at(4, 11.0)];
    let four = estimate(&four).unwrap();
    near(four.specimen_scatter.unwrap().z, 4.0 / 3.0 - 0.04, 1e-12);
    assert!(four.u95_of_another().unwrap() > 3.0 * four.u95().unwrap());
}

#[test]
fn a_reading_far_from_the_others_is_named() {
    let mut points: Vec<Point> = (1..=4)
        .map(|photo| {
            point(
                1,
                photo,
                [
                    50.0 + 0.1 * f64::from(i32::try_from(photo).unwrap()),
                    10.0,
                    0.0,
                ],
                0.04,
                0.04,
            )
        })
        .collect();
    assert!(estimate(&points).unwrap().disagreeing.is_empty());
    points[2].lab.z = 3.0;
    assert_eq!(estimate(&points).unwrap().disagreeing, [2]);
}

/// In one photo the common part cancels; in two it does not.
#[test]
fn patches_of_one_photo_compare_better() {
    let one = [point(1, 1, [50.0, 10.0, 0.0], 0.02, 4.0)];
    let same_photo = [point(2, 1, [51.0, 10.0, 0.0], 0.02, 4.0)];
    let other_photo = [point(2, 2, [51.0, 10.0, 0.0], 0.02, 4.0)];
    let (apart, joint) = contrast(&one, &same_photo).unwrap();
    near(apart.x, 1.0, 1e-12);
    near(joint[(0, 0)], 0.04, 1e-12);
    assert!(chance(&apart, &joint) < 1e-4);
    let (apart, joint) = contrast(&one, &other_photo).unwrap();
    near(joint[(0, 0)], 8.04, 1e-9);
    assert!(chance(&apart, &joint) > 0.9);
}

/// Ratings of six targets by four judges: P. E. Shrout & J. L. Fleiss, *Psychol. Bull.* 86 (1979) 420–428, table 2
/// (cited from memory; the mean squares of their table 3, below, follow from it).
const RATINGS: [[f64; 4]; 6] = [
    [9.0, 2.0, 5.0, 8.0],
    [6.0, 1.0, 3.0, 2.0],
    [8.0, 4.0, 6.0, 8.0],
    [7.0, 1.0, 2.0, 6.0],
    [10.0, 5.0, 6.0, 9.0],
    [6.0, 2.0, 4.0, 7.0],
];

/// Their table 3: mean squares between targets (5 degrees) and of the residual (15 degrees). Targets are specimens here, judges photos that
/// show all of them: what a photo adds to all alike is no part of how specimens differ, so that nothing is to be taken off for it. The
/// variance of targets is (BMS − EMS) ÷ 4.
#[test]
fn specimens_in_the_same_photos_differ_as_targets_of_the_same_judges() {
    let (between, residual) = (11.24, 1.02);
    let points: Vec<Point> = (RATINGS.iter().zip(1..))
        .flat_map(|(row, specimen)| {
            row.iter()
                .zip(1..)
                .map(move |(l, photo)| point(specimen, photo, [*l, 10.0, 0.0], residual, 0.0))
        })
        .collect();
    let mean = estimate(&points).unwrap();
    // Both printed to two decimals.
    near(
        mean.specimen_scatter.unwrap().x,
        (between - residual) / 4.0,
        0.005,
    );
    // Photos lit in another way change nothing in it.
    let mut lit = points.clone();
    for it in &mut lit {
        it.lab.x += 3.0 * f64::from(i32::try_from(it.photo).unwrap()).powi(2);
    }
    near(
        estimate(&lit).unwrap().specimen_scatter.unwrap().x,
        mean.specimen_scatter.unwrap().x,
        1e-9,
    );
}

/// By hand: specimens in photos of their own. There what is between photos differs from one to the next, and is taken off: two photos each at
/// 50 ± 1 and 56 ± 1, own variance 0.5. Between photos: 2 − 0.5 = 1.5. The means' variance is 18; each is known to (0.5 + 1.5)/2 = 1.
/// One photo of the two in common: half of that part, 1.5/4 = 0.375, is common and stays.
#[test]
fn what_is_between_photos_is_taken_off_where_specimens_have_photos_of_their_own() {
    let at = |specimen, photo, l| point(specimen, photo, [l, 10.0, 0.0], 0.5, 0.0);
    let own = [
        at(1, 1, 49.0),
        at(1, 2, 51.0),
        at(2, 3, 55.0),
        at(2, 4, 57.0),
    ];
    let own = estimate(&own).unwrap();
    near(own.photo_scatter.unwrap().x, 1.5, 1e-12);
    near(own.specimen_scatter.unwrap().x, 17.0, 1e-12);
    let one_in_common = [
        at(1, 1, 49.0),
        at(1, 2, 51.0),
        at(2, 2, 57.0),
        at(2, 3, 55.0),
    ];
    let scatter = estimate(&one_in_common).unwrap().specimen_scatter.unwrap();
    near(scatter.x, 17.375, 1e-12);
    let both_in_common = [
        at(1, 1, 49.0),
        at(1, 2, 51.0),
        at(2, 1, 55.0),
        at(2, 2, 57.0),
    ];
    let scatter = estimate(&both_in_common).unwrap().specimen_scatter.unwrap();
    near(scatter.x, 17.75, 1e-12);
}

/// By hand: two swatches in the same three photos, one L* apart in each; the photos are at 48, 50 and 52. The variance between photos,
/// 4 − 0.01, is the same error in both means. What is left of the difference is 2 · 0.01/3.
#[test]
fn what_is_between_photos_cancels_in_the_difference_of_what_they_all_show() {
    let of = |specimen, apart: f64, photos: [i64; 3]| -> Vec<Point> {
        let levels = photos.iter().zip([48.0, 50.0, 52.0]);
        levels
            .map(|(photo, l)| point(specimen, *photo, [l + apart, 10.0, 0.0], 0.01, 0.0))
            .collect()
    };
    let one = of(1, 0.0, [1, 2, 3]);
    let (apart, joint) = contrast(&one, &of(2, 1.0, [1, 2, 3])).unwrap();
    near(apart.x, 1.0, 1e-12);
    near(joint[(0, 0)], 0.02 / 3.0, 1e-12);
    // In other photos it is another error: 2 · (0.01 + 3.99)/3.
    let (_, joint) = contrast(&one, &of(2, 1.0, [4, 5, 6])).unwrap();
    near(joint[(0, 0)], 8.0 / 3.0, 1e-12);
}
