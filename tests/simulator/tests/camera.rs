//! The camera: what it is asked to do is what the pixels show.

use masstone_simulator::{
    CAMERAS_PER_SPLIT, CameraId, Light, Mixture, Pixels, Rendered, SceneSpec, Space, Split,
    ToneCurve, adapt, ciede2000, d50_white, decode, encode, lab, lab_of, xyz_d50,
};
use nalgebra::{Matrix3, Vector3};

/// Display P3 to XYZ under the profile's D50, from CSS Color 4's rational matrices (D65, then Bradford), not from the
/// simulator's own.
fn p3_to_d50() -> Matrix3<f64> {
    let to_d65 = Matrix3::new(
        0.4865709486,
        0.2656676932,
        0.1982172852,
        0.2289745641,
        0.6917385218,
        0.0792869141,
        0.0,
        0.0451133819,
        1.0439443689,
    );
    let to_d50 = Matrix3::new(
        1.0479297925,
        0.0229468706,
        -0.0501922663,
        0.0296278088,
        0.9904344268,
        -0.0170737991,
        -0.0092430406,
        0.0150551915,
        0.7518742814,
    );
    to_d50 * to_d65
}

fn code(picture: &Rendered, index: usize) -> f64 {
    match &picture.pixels {
        Pixels::U8(values) => f64::from(values[index]) / 255.0,
        Pixels::U16(values) => f64::from(values[index]) / 65535.0,
    }
}

/// The pixel that a coordinate lies in.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "within the picture"
)]
fn whole(coordinate: f64) -> usize {
    coordinate as usize
}

/// Mean linear RGB over the inner part of a quadrilateral.
fn mean_linear(
    picture: &Rendered,
    quad: &[[f64; 2]; 4],
    decode: impl Fn(f64) -> f64,
) -> Vector3<f64> {
    let mut sum = Vector3::zeros();
    let steps = 60;
    for i in 0..steps * steps {
        let inner = |k: i32| 0.1 + 0.8 * (f64::from(k) + 0.5) / f64::from(steps);
        let (u, v) = (inner(i % steps), inner(i / steps));
        let at = [0, 1].map(|k| {
            let top = quad[0][k] * (1.0 - u) + quad[1][k] * u;
            let low = quad[3][k] * (1.0 - u) + quad[2][k] * u;
            whole(top * (1.0 - v) + low * v)
        });
        let index = (at[1] * picture.width as usize + at[0]) * 3;
        sum += Vector3::from_fn(|c, _| decode(code(picture, index + c)));
    }
    sum / f64::from(steps * steps)
}

/// With no flaws at all, a plain reader with the true corners gets `camera_lab`: the perfect pipeline of the truth is what
/// the pixels hold.
#[test]
fn the_perfect_pipeline_is_in_the_pixels() {
    let matrix = p3_to_d50();
    let (mut metameric, mut offs) = (Vec::new(), Vec::new());
    for seed in 0..6 {
        let spec = SceneSpec::draw(Mixture::Flawless, Split::Test, seed);
        let scene = spec.build();
        let [width, height] = scene.stored_size(2400);
        let picture = scene.render_16(width, height);
        let card = &picture.truth.cards[0];
        let neutral = card
            .zones
            .iter()
            .filter(|it| it.lab[1].hypot(it.lab[2]) < 2.0);
        let zone = neutral
            .min_by(|a, b| (a.lab[0] - 49.5).abs().total_cmp(&(b.lab[0] - 49.5).abs()))
            .unwrap();
        let xyz = |lab: [f64; 3]| {
            let f = |t: f64| {
                if t > 6.0 / 29.0 {
                    t.powi(3)
                } else {
                    (116.0 * t - 16.0) / (24389.0 / 27.0)
                }
            };
            let y = (lab[0] + 16.0) / 116.0;
            d50_white().component_mul(&Vector3::new(
                f(y + lab[1] / 500.0),
                f(y),
                f(y - lab[2] / 200.0),
            ))
        };
        let grey = adapt(
            &(matrix * mean_linear(&picture, &zone.quad, decode)),
            &xyz(zone.lab),
        );
        for patch in &picture.truth.patches {
            let read = lab(&(grey * matrix * mean_linear(&picture, &patch.quad, decode)));
            let off = ciede2000(read, patch.camera_lab);
            // Colours outside the space of the file are cut there, and count apart.
            if patch.clipped < 0.01 {
                assert!(
                    off < 0.25,
                    "scene {seed}, {}: {read:?} is not {:?} ({off:.2})",
                    patch.id,
                    patch.camera_lab
                );
            }
            if patch.clipped < 0.01 {
                offs.push(off);
            }
            metameric.push(ciede2000(patch.lab, patch.camera_lab));
        }
    }
    let mean_off = offs.iter().sum::<f64>() / offs.len() as f64;
    assert!(
        offs.len() > 100 && mean_off < 0.06,
        "the pixels differ by {mean_off:.3} in the mean"
    );
    let mean = metameric.iter().sum::<f64>() / metameric.len() as f64;
    // A camera is not an eye; that a fitted 3 × 3 matrix leaves about 1 to 3 ΔE00 is common practice, no source.
    assert!(
        (0.5..3.5).contains(&mean),
        "the cameras' own error is {mean:.2}"
    );
}

/// The two splits share no camera, and no two cameras are alike.
#[test]
fn cameras_differ() {
    let all: Vec<_> = [Split::Study, Split::Test]
        .into_iter()
        .flat_map(|split| {
            (0..CAMERAS_PER_SPLIT).map(move |number| CameraId { split, number }.sensitivities())
        })
        .collect();
    for (i, one) in all.iter().enumerate() {
        for channel in one {
            assert!(
                (channel.0.iter().sum::<f64>() - 1.0).abs() < 1e-9
                    && channel.0.iter().all(|it| *it >= 0.0)
            );
        }
        for other in &all[..i] {
            let distance: f64 = (0..3)
                .map(|c| {
                    one[c]
                        .0
                        .iter()
                        .zip(&other[c].0)
                        .map(|(a, b)| (a - b).abs())
                        .sum::<f64>()
                })
                .sum();
            assert!(
                distance > 0.05,
                "camera {i} is like an earlier one: {distance}"
            );
        }
    }
}

/// IEC 61966-2-1: 118 is 0.18116, 0.5 is 187.516 of 255.
#[test]
fn transfer_function_is_the_standards() {
    assert!((decode(118.0 / 255.0) - 0.1811642442).abs() < 1e-9);
    assert!((encode(0.5) * 255.0 - 187.516).abs() < 1e-3);
}

/// Every curve rises from 0 to 1, and the strong ones lie farther from none than the mild ones.
#[test]
fn tone_curves_rise() {
    let curves = [
        ToneCurve::None,
        ToneCurve::Logistic {
            steepness: 6.0,
            middle: 0.45,
            exponent: 0.9,
        },
        ToneCurve::Filmic {
            strength: 0.9,
            white: 1.5,
        },
        ToneCurve::Cubic { amount: 0.9 },
    ];
    for curve in curves {
        assert!(
            curve.apply(0.0).abs() < 1e-9 && (curve.apply(1.0) - 1.0).abs() < 1e-9,
            "{curve:?}"
        );
        let values: Vec<f64> = (0..=1000)
            .map(|i| curve.apply(f64::from(i) / 1000.0))
            .collect();
        assert!(values.windows(2).all(|it| it[0] < it[1]), "{curve:?}");
    }
}

/// The same scene gives the same bytes on one thread and on three.
#[test]
fn threads_do_not_matter() {
    let scene = SceneSpec::draw(Mixture::Hard, Split::Test, 11).build();
    let on = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| scene.render(640, 480))
    };
    assert_eq!(on(1), on(3));
}

/// Clipping is counted where white is far over the range.
#[test]
fn clipping_is_counted() {
    let mut spec = SceneSpec::draw(Mixture::Flawless, Split::Test, 4);
    spec.camera.space = Space::Srgb;
    spec.camera.white_level = 6.0;
    let bright = spec.build().render_small(600);
    assert!(bright.truth.patches.iter().any(|it| it.clipped > 0.95));
}

/// An exposed half changes with exposure and the masked one does not.
#[test]
fn exposure_changes_the_exposed_half() {
    let mut spec = SceneSpec::draw(Mixture::Flawless, Split::Test, 7);
    spec.layout.masked = Some(masstone_simulator::Side::Left);
    let at = |exposure: f64| {
        SceneSpec {
            exposure,
            ..spec.clone()
        }
        .build()
        .truth([800, 600])
        .patches
    };
    let (before, after) = (at(0.0), at(1.0));
    let mut changes = [Vec::new(), Vec::new()];
    for (a, b) in before.iter().zip(&after) {
        changes[usize::from(a.half == masstone_simulator::Half::Exposed)]
            .push(ciede2000(a.lab, b.lab));
    }
    assert!(changes[0].iter().all(|it| *it < 1e-9));
    let mean = changes[1].iter().sum::<f64>() / changes[1].len() as f64;
    assert!(
        (4.0..25.0).contains(&mean),
        "strong exposure changes by {mean:.1}"
    );
}

/// XYZ and Lab of a flat 18 % are what every table of grey cards has: L* 49.496.
#[test]
fn eighteen_per_cent_is_49_5() {
    let grey = masstone_simulator::Spectrum::flat(0.18);
    assert!((lab_of(&grey)[0] - 49.496108).abs() < 1e-6);
    assert!((xyz_d50(&grey)[1] - 0.18).abs() < 1e-12);
}

/// The two splits share no light: every one is drawn by one of them alone.
#[test]
fn lights_differ() {
    let drawn = |split: Split| -> Vec<Light> {
        (0..400)
            .map(|seed| SceneSpec::draw(Mixture::Ordinary, split, seed).light.light)
            .collect()
    };
    let (study, test) = (drawn(Split::Study), drawn(Split::Test));
    for light in &study {
        assert!(!test.contains(light), "{light:?}");
        // Temperatures of the one lie in the gaps of the other.
        if let Light::Daylight(kelvin) = light {
            assert!((kelvin - 4000.0).rem_euclid(800.0) < 400.0, "{light:?}");
        }
    }
    let gaps = test.iter().filter_map(|it| {
        if let Light::Daylight(kelvin) = it {
            Some(kelvin)
        } else {
            None
        }
    });
    assert!(
        gaps.clone().count() > 100
            && gaps
                .clone()
                .all(|kelvin| (kelvin - 4000.0).rem_euclid(800.0) >= 400.0)
    );
}
