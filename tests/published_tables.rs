//! The formulas against tables printed elsewhere. Each check names its source.

mod table;

use masstone::colour::adaptation::{Cones, matrix};
use masstone::colour::difference::{delta_e_76, delta_e_2000, local_metric};
use masstone::colour::srgb::{self, RgbSpace};
use masstone::colour::{Lab, Matrix, Xyz, lab, white};
use nalgebra::Vector3;
use table::read_table;

/// D50 of CSS Color Module Level 4.
const CSS_D50: [f64; 3] = white::from_xy(0.3457, 0.3585);

/// CIELAB of XYZ relative to any white: only the ratio counts.
fn lab_relative_to(white: [f64; 3], xyz: [f64; 3]) -> Lab {
    let [xn, yn, zn] = white::D50;
    lab::from_xyz(Xyz::new(
        xyz[0] / white[0] * xn,
        xyz[1] / white[1] * yn,
        xyz[2] / white[2] * zn,
    ))
}

/// XYZ, relative to `white`, of a CIELAB colour relative to the same white.
fn xyz_relative_to(white: [f64; 3], colour: Lab) -> Vector3<f64> {
    let it = lab::to_xyz(colour);
    let ratio = Vector3::new(it.x, it.y, it.z).component_div(&Vector3::from(white::D50));
    ratio.component_mul(&Vector3::from(white))
}

fn linear_of_hex(hex: &str) -> [f64; 3] {
    let code = |at: usize| f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap());
    [0, 2, 4].map(|at| srgb::decode(code(at) / 255.0))
}

fn assert_matrix(name: &str, ours: &Matrix, printed: [f64; 9], tolerance: f64) {
    let printed = Matrix::from_row_slice(&printed);
    assert!(
        (ours - printed).amax() <= tolerance,
        "{name}:\n{ours}\nprinted:\n{printed}"
    );
}

#[test]
fn ciede2000_matches_sharma_2005() {
    let half_last_digit = 0.5e-4; // the table prints four decimals
    let rows = read_table(include_str!("data/sharma-2005-table-1.csv"), 0);
    assert_eq!(rows.len(), 34, "the table has 34 pairs");
    let mut wrong = Vec::new();
    for (_, it) in &rows {
        let (one, other) = (Lab::new(it[0], it[1], it[2]), Lab::new(it[3], it[4], it[5]));
        for computed in [delta_e_2000(one, other), delta_e_2000(other, one)] {
            if !((computed - it[6]).abs() <= half_last_digit) {
                wrong.push((it, computed));
            }
        }
    }
    assert!(wrong.is_empty(), "{} differ:\n{wrong:#?}", wrong.len());
}

/// Unit steps of ΔE00 about eight colours, two decimals: from a difference of 0.01 each way with colour-science 0.4.7.
#[test]
fn local_metric_matches_unit_steps() {
    for (at, printed) in [
        ([50.0, 0.0, 0.0], [1.00, 1.50, 1.00]),
        ([50.0, 20.0, 15.0], [1.00, 0.64, 0.68]),
        ([50.0, 40.0, 30.0], [1.00, 0.46, 0.55]),
        ([85.0, 1.0, 12.0], [0.66, 1.32, 0.65]),
        ([20.0, 0.0, 0.0], [0.69, 1.50, 1.00]),
        ([90.0, 0.0, 0.0], [0.63, 1.50, 1.00]),
        ([30.0, 10.0, -30.0], [0.77, 0.76, 0.61]),
        ([60.0, -30.0, 20.0], [0.88, 0.45, 0.52]),
    ] {
        let metric = local_metric(Lab::new(at[0], at[1], at[2]));
        for (axis, printed) in printed.iter().enumerate() {
            let ours = metric[(axis, axis)].sqrt();
            // Two printed decimals, and a step of 0.01 that is not yet the limit.
            assert!(
                (ours - printed).abs() < 0.0075,
                "{at:?} axis {axis}: {ours} {printed}"
            );
        }
    }
}

#[test]
fn srgb_codes_match_css_color_4() {
    let rows = read_table(include_str!("data/srgb-lab-oklab.csv"), 1);
    assert_eq!(rows.len(), 13);
    let to_css_d50 = matrix(Cones::Bradford, white::D65, CSS_D50).unwrap();
    for (hex, it) in &rows {
        let linear = linear_of_hex(&hex[0]);
        let d65 = RgbSpace::Srgb.to_xyz_d65() * Vector3::from(linear);
        let close = |ours: Lab, printed: &[f64]| {
            let printed = Lab::new(printed[0], printed[1], printed[2]);
            // Four printed decimals in each of three components; the note beside the table says up to 1e-4 each.
            assert!(
                delta_e_76(ours, printed) < 2e-4,
                "{hex:?} {ours:?} {printed:?}"
            );
        };
        close(
            lab_relative_to(CSS_D50, (to_css_d50 * d65).into()),
            &it[0..3],
        );
        close(lab_relative_to(white::D65, d65.into()), &it[3..6]);
        // The program's own path, whose D50 differs from that of CSS by up to 1.3e-4: a* changes by at most 500/3 of that.
        let ours = RgbSpace::Srgb.lab(linear);
        assert!(
            delta_e_76(ours, Lab::new(it[0], it[1], it[2])) < 500.0 / 3.0 * 1.3e-4,
            "{hex:?} {ours:?}"
        );
        assert_eq!(srgb::to_hex(ours), format!("#{}", hex[0]));
    }
}

/// Worked colours of CSS Color 4 and its public tests, in D50.
#[test]
fn css_worked_colours_give_their_codes() {
    for (l, a, b, hex) in [
        (29.2345, 39.3825, 20.0664, "#7d2329"),
        (52.2345, 40.1645, 59.9971, "#c65d06"),
        (60.2345, -5.3654, 58.956, "#9d9318"),
        (62.2345, -34.9638, 47.7721, "#68a639"),
        (67.5345, -8.6911, -41.6019, "#62acef"),
        (46.2775, -47.5621, 48.5837, "#008000"),
    ] {
        assert_eq!(srgb::to_hex(Lab::new(l, a, b)), hex);
    }
}

/// Display P3: CSS Color 4's matrix to ten digits; worked colours from colour-science 0.4.7.
#[test]
fn display_p3_matches() {
    let printed = [
        0.4865709486,
        0.2656676932,
        0.1982172852,
        0.2289745641,
        0.6917385218,
        0.0792869141,
        0.0,
        0.0451133819,
        1.0439443689,
    ];
    assert_matrix("P3", &RgbSpace::DisplayP3.to_xyz_d65(), printed, 0.5e-10);
    let to_css_d50 = matrix(Cones::Bradford, white::D65, CSS_D50).unwrap();
    for (encoded, printed) in [
        ([1.0, 0.0, 0.0], [56.2078, 94.4644, 98.8921]),
        ([0.5, 0.3, 0.2], [38.6432, 25.2740, 28.8463]),
    ] {
        let linear = encoded.map(srgb::decode);
        let d65 = RgbSpace::DisplayP3.to_xyz_d65() * Vector3::from(linear);
        let ours = lab_relative_to(CSS_D50, (to_css_d50 * d65).into());
        let printed = Lab::new(printed[0], printed[1], printed[2]);
        assert!(delta_e_76(ours, printed) < 2e-4, "{ours:?}");
        assert!(delta_e_76(RgbSpace::DisplayP3.lab(linear), printed) < 0.01);
    }
    // Outside sRGB: linear values from the same source.
    let srgb = RgbSpace::Srgb.linear(RgbSpace::DisplayP3.lab([0.8, 0.6, 0.1].map(srgb::decode)));
    for (ours, printed) in srgb.iter().zip([0.667998, 0.306549, -0.025899]) {
        assert!((ours - printed).abs() < 0.5e-6, "{srgb:?}");
    }
    assert!(!srgb::is_in_gamut(srgb));
    // sRGB red in Display P3, encoded.
    let red = RgbSpace::DisplayP3
        .linear(RgbSpace::Srgb.lab([1.0, 0.0, 0.0]))
        .map(srgb::encode);
    for (ours, printed) in red.iter().zip([0.917488, 0.200287, 0.138561]) {
        assert!((ours - printed).abs() < 0.5e-6, "{red:?}");
    }
}

/// IEC 61966-2-1's matrix as exact fractions, ten digits, and its inverse (CSS Color 4; colour-science 0.4.7).
#[test]
fn srgb_matrix_matches() {
    let printed = [
        0.4123907993,
        0.3575843394,
        0.1804807884,
        0.2126390059,
        0.7151686788,
        0.0721923154,
        0.0193308187,
        0.1191947798,
        0.9505321522,
    ];
    assert_matrix("sRGB", &RgbSpace::Srgb.to_xyz_d65(), printed, 0.5e-10);
    let inverse = [
        3.2409699419,
        -1.5373831776,
        -0.4986107603,
        -0.9692436363,
        1.8759675015,
        0.0415550574,
        0.0556300797,
        -0.2039769589,
        1.0569715142,
    ];
    assert_matrix(
        "inverse",
        &RgbSpace::Srgb.to_xyz_d65().try_inverse().unwrap(),
        inverse,
        0.5e-10,
    );
}

/// Transfer curve of IEC 61966-2-1 at code values either side of its join and elsewhere (colour-science 0.4.7).
#[test]
fn transfer_codes_match() {
    for (code, linear) in [
        (10.0, 0.0030352698),
        (11.0, 0.0033465358),
        (118.0, 0.1811642442),
        (119.0, 0.1844749945),
        (128.0, 0.2158605001),
        (187.516, 0.5),
    ] {
        let tolerance = if code > 150.0 { 0.5e-5 } else { 0.5e-10 };
        assert!(
            (srgb::decode(code / 255.0) - linear).abs() < tolerance,
            "{code}"
        );
        assert!(
            (srgb::decode(-code / 255.0) + linear).abs() < tolerance,
            "{code}"
        );
    }
    assert!((srgb::encode(0.18) - 0.4613561295).abs() < 0.5e-10);
    // Extended sRGB is mirrored: Display P3's red, from CSS Color 4's sample code.
    let red = RgbSpace::Srgb
        .linear(RgbSpace::DisplayP3.lab([1.0, 0.0, 0.0]))
        .map(srgb::encode);
    for (ours, printed) in red.iter().zip([1.0930, -0.2268, -0.1501]) {
        assert!((ours - printed).abs() < 1e-4, "{red:?}");
    }
}

/// Adaptation matrices to ten digits: CSS Color 4 (Bradford D65 to D50 and back), colour-science 0.4.7 (all).
#[test]
fn adaptation_matrices_match() {
    let d65 = white::D65;
    for (name, cones, from, to, printed) in [
        (
            "Bradford D65 to D50",
            Cones::Bradford,
            d65,
            CSS_D50,
            [
                1.0479297925,
                0.0229468706,
                -0.0501922663,
                0.0296278088,
                0.9904344268,
                -0.0170737991,
                -0.0092430406,
                0.0150551915,
                0.7518742814,
            ],
        ),
        (
            "Bradford D50 to D65",
            Cones::Bradford,
            CSS_D50,
            d65,
            [
                0.9554734215,
                -0.0230984549,
                0.0632592432,
                -0.0283697093,
                1.0099953981,
                0.0210414412,
                0.0123140149,
                -0.0205076493,
                1.3303659262,
            ],
        ),
        (
            "CAT16 D65 to D50",
            Cones::Cat16,
            d65,
            CSS_D50,
            [
                1.0108543289,
                0.0407086103,
                -0.0341445825,
                0.005428142,
                0.9935819262,
                0.0011559204,
                0.0002507225,
                -0.0114918759,
                0.7679649469,
            ],
        ),
        (
            "CAT16 D50 to D65",
            Cones::Cat16,
            CSS_D50,
            d65,
            [
                0.9894662538,
                -0.0400304626,
                0.0440530317,
                -0.0054051873,
                1.006660686,
                -0.0017555195,
                -0.000403921,
                0.015076803,
                1.3021021138,
            ],
        ),
        (
            "Bradford A to D65",
            Cones::Bradford,
            white::from_xy(0.44757, 0.40745),
            d65,
            [
                0.8446800065,
                -0.117936855,
                0.3949731588,
                -0.1366338568,
                1.1041074614,
                0.1292221696,
                0.0798856958,
                -0.1349644362,
                3.193360458,
            ],
        ),
    ] {
        assert_matrix(name, &matrix(cones, from, to).unwrap(), printed, 1e-10);
    }
}

/// A worked colour of colour-science's documentation: XYZ D65 to Lab, LCh, and adapted to D50.
#[test]
fn worked_xyz_matches() {
    let xyz = [0.20654008, 0.12197225, 0.05136952];
    let ours = lab_relative_to(white::D65, xyz);
    for (ours, printed) in [
        (ours.l, 41.52787529),
        (ours.a, 52.63858304),
        (ours.b, 26.92317922),
        (lab::chroma(ours), 59.12425901),
        (lab::hue_degrees(ours), 27.08848784),
    ] {
        assert!((ours - printed).abs() < 1e-7, "{ours} {printed}");
    }
    for (cones, printed) in [
        (Cones::Bradford, [0.2166600321, 0.1260477727, 0.0385506781]),
        (Cones::Cat16, [0.2119932641, 0.1223699311, 0.0381000849]),
    ] {
        let adapted = matrix(cones, white::D65, CSS_D50).unwrap() * Vector3::from(xyz);
        assert!(
            (adapted - Vector3::from(printed)).amax() < 1e-9,
            "{adapted}"
        );
    }
}

/// The examples of a public help page on XYZ to Lab and back (mathworks.com, xyz2lab and lab2xyz), four decimals.
#[test]
fn handbook_xyz_examples_match() {
    let d50 = [0.9642, 1.0, 0.8251];
    let there = lab_relative_to(d50, [0.25, 0.40, 0.10]);
    assert!(
        delta_e_76(there, Lab::new(69.4695, -49.5717, 48.3864)) < 0.01,
        "{there:?}"
    );
    let back = xyz_relative_to(d50, Lab::new(50.0, 10.0, -5.0));
    assert!(
        (back - Vector3::new(0.1970, 0.1842, 0.1729)).amax() < 1e-4,
        "{back}"
    );
}

/// L* of a reflectance in per cent, from ISO/CIE 11664-4 by exact arithmetic; 12.5 % is 42 exactly.
#[test]
fn lightness_of_reflectance_matches() {
    for (per_cent, printed) in [
        (0.1, 0.903296),
        (0.5, 4.516481),
        (0.885645, 8.0),
        (1.0, 8.991442),
        (2.0, 15.487244),
        (5.0, 26.734765),
        (9.0, 35.984295),
        (10.0, 37.842430),
        (12.0, 41.216120),
        (12.5, 42.0),
        (18.0, 49.496108),
        (20.0, 51.837212),
        (36.0, 66.519925),
        (50.0, 76.069261),
        (85.0, 93.883116),
        (90.0, 95.996769),
        (95.0, 98.033518),
    ] {
        // Six printed decimals; the join's reflectance is rounded in its own last digit, where L* is steep.
        let tolerance = if per_cent < 0.9 { 5e-6 } else { 0.51e-6 };
        let ours = lab::lightness(per_cent / 100.0);
        assert!(
            (ours - printed).abs() < tolerance,
            "{per_cent} %: {ours} {printed}"
        );
    }
    assert!((lab::luminance(50.0) - 0.18418652).abs() < 0.5e-8);
    assert!((lab::luminance(49.5) - 0.18003209).abs() < 0.5e-8);
}
