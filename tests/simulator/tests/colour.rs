//! The simulator's colorimetry against values that are not ours.

use masstone_simulator::{
    Light, Recipe, Spectrum, adapt, chart_24, ciede2000, daylight, illuminant, lab_of, observer,
    xyz_under,
};
use nalgebra::Vector3;

/// Rows of a committed CSV: first cell as text, the others as numbers.
fn rows(text: &str) -> Vec<(String, Vec<f64>)> {
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines
        .map(|line| {
            let mut cells = line.split(',');
            (
                cells.next().expect("a first cell").to_owned(),
                cells.map(|it| it.parse().expect("a number")).collect(),
            )
        })
        .collect()
}

/// `data/check-lab.csv`: colour-science 0.4.7, the same sums.
#[test]
fn lab_of_the_chart_is_colour_sciences() {
    let rows = rows(include_str!("../data/check-lab.csv"));
    assert_eq!(rows.len(), 24);
    for ((name, expected), patch) in rows.iter().zip(chart_24()) {
        let lab = lab_of(&patch);
        for (own, other) in lab.iter().zip(expected) {
            // The table of reflectances is committed with six digits.
            assert!(
                (own - other).abs() < 2e-3,
                "{name}: {lab:?} is not {expected:?}"
            );
        }
    }
}

/// CIE 15: D65 of the 2° observer has x 0.3127, y 0.3290. The sums stop at 730 nm, which moves the third decimal's tenth.
#[test]
fn d65_is_where_the_standard_has_it() {
    let white = xyz_under(&Spectrum::flat(1.0), &illuminant("D65").unwrap());
    let sum = white.sum();
    assert!(
        (white[0] / sum - 0.3127).abs() < 2e-4 && (white[1] / sum - 0.3290).abs() < 2e-4,
        "{white}"
    );
    assert!((white[1] - 1.0).abs() < 1e-12);
}

/// `data/check-daylight.csv`: colour-science 0.4.7, M1 and M2 not rounded.
#[test]
fn daylight_is_colour_sciences() {
    for (kelvin, expected) in rows(include_str!("../data/check-daylight.csv")) {
        let spectrum = daylight(kelvin.parse().unwrap());
        for (nm, other) in [400.0, 450.0, 500.0, 600.0, 700.0]
            .iter()
            .zip(&expected[2..])
        {
            assert!(
                (spectrum.at(*nm) - other).abs() < 0.02,
                "{kelvin} K at {nm} nm: {} is not {other}",
                spectrum.at(*nm)
            );
        }
    }
}

/// CIE 15: illuminant A is a black body of 2856 K (with the second radiation constant of today's scale).
#[test]
fn a_black_body_is_illuminant_a() {
    let table = Light::named("A").unwrap().spectrum();
    let own = Light::Planck(2855.5).spectrum();
    for (a, b) in table.0.iter().zip(&own.0) {
        assert!((a - b).abs() < 2e-3, "{a} {b}");
    }
}

/// The luminous efficiency peaks at 555 nm with 1 (CIE 1924).
#[test]
fn the_observer_peaks_at_555() {
    let [_, y, _] = observer();
    assert!((y.at(555.0) - 1.0).abs() < 1e-3);
    assert!((y.at(510.0) - 0.503).abs() < 1e-3 && (y.at(610.0) - 0.503).abs() < 1e-3);
}

/// Sharma, Wu, Dalal 2005, table 1, rows 1, 7, 9, 10, 24, 25, 33 and 34: the branches.
#[test]
fn ciede2000_is_sharmas() {
    let pairs = [
        ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
        ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
        ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0009], 7.1792),
        ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0010], 7.1792),
        ([50.0, 2.5, 0.0], [50.0, 3.2592, 0.3350], 1.0),
        (
            [60.2574, -34.0099, 36.2677],
            [60.4626, -34.1751, 39.4387],
            1.2644,
        ),
        (
            [6.7747, -0.2908, -2.4247],
            [5.8714, -0.0985, -2.2286],
            0.6377,
        ),
        (
            [2.0776, 0.0795, -1.1350],
            [0.9033, -0.0636, -0.5514],
            0.9082,
        ),
    ];
    for (one, two, printed) in pairs {
        let own = ciede2000(one, two);
        assert!(
            (own - printed).abs() < 0.5e-4 + 1e-9,
            "{one:?} {two:?}: {own} is not {printed}"
        );
    }
}

/// CSS Color 4 prints the Bradford matrix from D65 to D50.
#[test]
fn bradford_is_css_color_4s() {
    let white = |x: f64, y: f64| Vector3::new(x / y, 1.0, (1.0 - x - y) / y);
    let own = adapt(&white(0.3127, 0.3290), &white(0.3457, 0.3585));
    let printed = [
        [1.0479297925, 0.0229468706, -0.0501922663],
        [0.0296278088, 0.9904344268, -0.0170737991],
        [-0.0092430406, 0.0150551915, 0.7518742814],
    ];
    for r in 0..3 {
        for c in 0..3 {
            assert!((own[(r, c)] - printed[r][c]).abs() < 1e-9, "{own}");
        }
    }
}

/// The closed form of a Kubelka–Munk layer against its differential equation dR/dx = s − 2(k+s)R + sR², integrated by
/// Runge–Kutta steps from the ground up (Kubelka and Munk 1931).
#[test]
fn a_layer_obeys_its_differential_equation() {
    for (k, s, ground) in [
        (0.3, 0.8, 0.6),
        (4.0, 1.2, 0.2),
        (0.02, 5.0, 0.05),
        (9.0, 0.4, 0.8),
    ] {
        let slope = |r: f64| s - 2.0 * (k + s) * r + s * r * r;
        let (mut r, steps) = (ground, 2000);
        let h = 1.0 / f64::from(steps);
        for _ in 0..steps {
            let a = slope(r);
            let b = slope(r + h / 2.0 * a);
            let c = slope(r + h / 2.0 * b);
            let d = slope(r + h * c);
            r += h / 6.0 * (a + 2.0 * b + 2.0 * c + d);
        }
        let own = masstone_simulator::layer(k, s, ground);
        assert!((own - r).abs() < 1e-6, "k {k} s {s}: {own} is not {r}");
    }
}

/// No film at all leaves the ground as it is; a clear coat darkens and warms wood as wetting does.
#[test]
fn films_end_where_they_must() {
    let clear = Recipe {
        name: None,
        pigments: Vec::new(),
        film: 1.0,
        on_white: false,
    };
    let ground = Spectrum::flat(0.4);
    let bare = clear.over(&ground, 1e-6);
    assert!(
        bare.0.iter().all(|it| (it - 0.4).abs() < 1e-4),
        "{:?}",
        &bare.0[..3]
    );
    let coated = lab_of(&clear.over(&ground, 1.0));
    assert!(
        coated[0] < lab_of(&ground)[0] && coated[2] > 0.0,
        "{coated:?}"
    );
}
