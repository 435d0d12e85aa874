//! Colour mathematics against libraries that are not ours: the vectors that `tests/oracle/colour_vectors.py` writes.

mod table;

use masstone::colour::adaptation::{Cones, matrix};
use masstone::colour::difference::{delta_e_76, delta_e_2000};
use masstone::colour::spectrum::{self, Illuminant};
use masstone::colour::srgb::{self, RgbSpace};
use masstone::colour::{Lab, Matrix, Xyz, lab, white};
use masstone::mix::bands::{self, BANDS, Spectrum};
use masstone::mix::film;
use masstone::mix::surface::COATING;
use nalgebra::Vector3;
use table::read_table;

fn lab_of(it: &[f64]) -> Lab {
    Lab::new(it[0], it[1], it[2])
}

#[test]
fn differences_match() {
    let rows = read_table(include_str!("data/colour-differences.csv"), 0);
    assert_eq!(rows.len(), 200);
    for (_, it) in rows {
        let (one, other) = (lab_of(&it[0..3]), lab_of(&it[3..6]));
        // Twelve digits are written. ΔE00 has the 1e-5 of the mean hue where hues straddle red (see `delta_e_2000`).
        let tolerance = 1e-5 * it[6];
        assert!(
            (delta_e_2000(one, other) - it[6]).abs() < tolerance,
            "{it:?}"
        );
        assert!((delta_e_76(one, other) - it[7]).abs() < 1e-9, "{it:?}");
    }
}

#[test]
fn xyz_and_lab_match() {
    let rows = read_table(include_str!("data/colour-xyz-lab.csv"), 0);
    assert_eq!(rows.len(), 100);
    for (_, it) in rows {
        let ours = lab::from_xyz(Xyz::new(it[0], it[1], it[2]));
        // Twelve digits are written; near black L* is 903 times as steep as XYZ.
        assert!(
            delta_e_76(ours, lab_of(&it[3..6])) < 1e-8,
            "{it:?} {ours:?}"
        );
        assert!((lab::chroma(ours) - it[6]).abs() < 1e-8);
        assert!((lab::hue_degrees(ours) - it[7]).abs() < 1e-7, "{it:?}");
        let back = lab::to_xyz(lab_of(&it[3..6]));
        for (ours, theirs) in [back.x, back.y, back.z].iter().zip(&it) {
            assert!((ours - theirs).abs() < 1e-10);
        }
    }
}

#[test]
fn adaptation_matches() {
    let rows = read_table(include_str!("data/colour-adaptation.csv"), 2);
    assert_eq!(rows.len(), 12);
    for (names, it) in rows {
        let cones = if names[1] == "CAT16" {
            Cones::Cat16
        } else {
            Cones::Bradford
        };
        let ours = matrix(cones, [it[0], it[1], it[2]], white::D50).unwrap();
        let theirs = Matrix::from_row_slice(&it[3..12]);
        assert!((ours - theirs).amax() < 1e-10, "{names:?} {ours} {theirs}");
    }
}

#[test]
fn interpolation_matches() {
    // Of the interpolation only what it does to XYZ is public: so the interpolated curve and the coarse one are summed.
    let rows = read_table(include_str!("data/colour-interpolation.csv"), 0);
    let coarse: Vec<f64> = (0..31)
        .map(f64::from)
        .map(|i| 0.5 + 0.4 * (i / 3.0).sin() * (-i / 40.0).exp())
        .collect();
    let fine: Vec<f64> = rows
        .iter()
        .filter(|it| it.1[0] % 5.0 == 0.0)
        .map(|it| it.1[1])
        .collect();
    assert_eq!(fine.len(), 61);
    for illuminant in [Illuminant::D50, Illuminant::D65, Illuminant::A] {
        let ours = spectrum::reflectance_to_xyz(illuminant, 400.0, 10.0, &coarse).unwrap();
        let theirs = spectrum::reflectance_to_xyz(illuminant, 400.0, 5.0, &fine).unwrap();
        assert!(
            (Vector3::from(ours) - Vector3::from(theirs)).amax() < 1e-12,
            "{ours:?} {theirs:?}"
        );
    }
}

/// 24 measured reflectances under three lights.
#[test]
fn chart_spectra_match() {
    let rows = read_table(include_str!("data/colour-chart-24.csv"), 1);
    assert_eq!(rows.len(), 24);
    for (name, it) in rows {
        let reflectance = &it[18..];
        for (index, illuminant) in [Illuminant::D50, Illuminant::D65, Illuminant::A]
            .into_iter()
            .enumerate()
        {
            let xyz = spectrum::reflectance_to_xyz(illuminant, 380.0, 5.0, reflectance).unwrap();
            let ratio =
                Vector3::from(xyz).component_div(&Vector3::from(spectrum::white_of(illuminant)));
            let xyz = ratio.component_mul(&Vector3::from(white::D50));
            let ours = lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z));
            let sum = delta_e_76(ours, lab_of(&it[3 * index..]));
            let astm = delta_e_2000(ours, lab_of(&it[9 + 3 * index..]));
            // The same sums: the tables' printed digits and the twelve written.
            assert!(sum < 1e-6, "{name:?} {illuminant:?} {sum}");
            // ASTM E308 sums at 1 nm to 830 nm: what the coarser sums are worth (0.011 at most here).
            assert!(astm < 0.015, "{name:?} {illuminant:?} {astm}");
        }
        let d50 = spectrum::reflectance_to_xyz_d50(380.0, 5.0, reflectance).unwrap();
        assert!(
            delta_e_76(lab::from_xyz(d50), lab_of(&it)) < 1e-6,
            "{name:?}"
        );
    }
}

/// Films from absorption and scattering to a screen's code: Kubelka and Munk's equation integrated, Saunderson's surface, sums, CIELAB, sRGB, ΔE00.
#[test]
fn films_match_from_absorption_to_the_screen() {
    let chart = read_table(include_str!("data/colour-chart-24.csv"), 1);
    let patch = |name: &str| -> [f64; BANDS] {
        let row = chart.iter().find(|it| it.0[0] == name);
        let fine = &row.expect("one of the chart's").1[18..];
        std::array::from_fn(|band| fine[2 * band])
    };
    let rows = read_table(include_str!("data/film-chain.csv"), 3);
    assert_eq!(rows.len(), 24);
    let mut codes = 0;
    for (names, it) in rows {
        let (own, ground) = (patch(&names[0]), patch(&names[1]));
        let (strength, level) = (it[0], it[1]);
        let seen: Spectrum = std::array::from_fn(|band| {
            let (kx, nm) = (-strength * own[band].ln(), 380.0 + 10.0 * band as f64);
            COATING.seen(film::reflectance(kx, level * 560.0 / nm, ground[band]))
        });
        let ours = bands::to_lab(&seen);
        let theirs = lab_of(&it[2..]);
        assert!(delta_e_76(ours, theirs) < 1e-6, "{names:?} {ours:?}");
        // Every 5 nm, straight between the bands.
        let fine: Vec<f64> = (0..2 * BANDS - 1)
            .map(|i| (seen[i / 2] + seen[i.div_ceil(2)]) / 2.0)
            .collect();
        let d65 = spectrum::reflectance_to_xyz(Illuminant::D65, 380.0, 5.0, &fine).unwrap();
        let white_d65 = Vector3::from(spectrum::white_of(Illuminant::D65));
        let xyz = Vector3::from(d65)
            .component_div(&white_d65)
            .component_mul(&Vector3::from(white::D50));
        let under_d65 = lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z));
        assert!(
            delta_e_76(under_d65, lab_of(&it[5..])) < 1e-6,
            "{names:?} {under_d65:?}"
        );
        let bare = bands::to_lab(&ground.map(|it| COATING.seen(it)));
        assert!((delta_e_2000(ours, bare) - it[8]).abs() < 1e-6, "{names:?}");
        if names[2] != "-" {
            assert_eq!(srgb::to_hex(ours), names[2].to_lowercase(), "{names:?}");
            codes += 1;
        }
    }
    assert_eq!(codes, 23);
}

/// CSS Color 4 gamut mapping.
#[test]
fn gamut_mapping_matches() {
    let rows = read_table(include_str!("data/colour-gamut.csv"), 0);
    assert_eq!(rows.len(), 160);
    for (_, it) in rows {
        let mapped = srgb::map_to_gamut(RgbSpace::Srgb, lab_of(&it));
        assert!(mapped.exact == (it[3] > 0.5), "{it:?}");
        // In 8-bit codes. Both searches stop within 1e-4 of the chroma; the whites of D50 differ in the fifth digit.
        let tolerance = if mapped.exact { 0.03 } else { 0.1 };
        for (ours, theirs) in mapped.linear.map(srgb::encode).iter().zip(&it[4..7]) {
            assert!(
                255.0 * (ours - theirs).abs() < tolerance,
                "{it:?} {mapped:?}"
            );
        }
    }
}

/// CSS Color 4 gamut mapping, by the library of the specification's editors: far outside, nearly white and nearly black, into
/// sRGB and into Display P3.
#[test]
fn gamut_mapping_is_that_of_css() {
    let rows = read_table(include_str!("data/colour-gamut-css.csv"), 2);
    assert_eq!(rows.len(), 73);
    for (names, it) in rows {
        let space = if names[1] == "srgb" {
            RgbSpace::Srgb
        } else {
            RgbSpace::DisplayP3
        };
        let mapped = srgb::map_to_gamut(space, space.lab([it[0], it[1], it[2]]));
        assert!(!mapped.exact, "{names:?}");
        for (ours, theirs) in mapped.linear.map(srgb::encode).iter().zip(&it[3..6]) {
            // In 8-bit codes. The search may stop anywhere within 1e-4 of the chroma, up to half a code for these
            // colours; but both halve the same interval, and stop at the same place unless a comparison falls the other way.
            assert!(255.0 * (ours - theirs).abs() < 1e-3, "{names:?} {mapped:?}");
        }
    }
}
