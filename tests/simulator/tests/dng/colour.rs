//! Colours come out as the specification maps them (DNG 1.4, chapter 6), and the corners as the gain maps lift them.

use crate::tags::{File, inner, means, numbers, whole};
use masstone_simulator::{
    Cfa, DngSpec, Illuminants, Light, Mixture, RawCoding, SceneSpec, SensorImage, Split,
    TintedLight, adapt, ciede2000, d50_white, lab,
};
use nalgebra::{Matrix3, Vector3};

fn matrix(file: &File, tag: u16) -> Option<Matrix3<f64>> {
    file.first
        .get(&tag)
        .map(|it| Matrix3::from_row_slice(&numbers(it)))
}

/// Camera RGB to XYZ by the set of tags of one light, where the scene has that very light, so that nothing is interpolated: by the
/// forward matrix to D50, by the colour matrix to the light's own white.
fn mappings(file: &File, set: u16) -> [Matrix3<f64>; 2] {
    let balance = file
        .first
        .get(&50727)
        .map_or(Vector3::repeat(1.0), |it| Vector3::from_vec(numbers(it)));
    let unit = matrix(file, 50723 + set).unwrap_or_else(Matrix3::identity);
    let to_unit = Matrix3::from_diagonal(&balance) * unit;
    let to_reference = to_unit.try_inverse().expect("a matrix with an inverse");
    let neutral = to_reference * Vector3::from_vec(numbers(&file.first[&50728]));
    let forward = matrix(file, 50964 + set).expect("a matrix with an inverse")
        * Matrix3::from_diagonal(&neutral.map(|it| 1.0 / it))
        * to_reference;
    let colour = (to_unit * matrix(file, 50721 + set).expect("a matrix with an inverse"))
        .try_inverse()
        .expect("a matrix with an inverse");
    [forward, colour]
}

/// ΔE00 of each patch from a mapping's colours, balanced on the grey, to the truth's perfect pipeline.
fn errors(image: &SensorImage, to_xyz: &Matrix3<f64>) -> Vec<f64> {
    let width = image.width as usize;
    let seen = |quad| {
        let value = |x: usize, y: usize| f64::from(image.values[y * width + x]);
        let rgb = means(&inner(quad), |x, y| image.cfa.channel(x, y), value);
        to_xyz * Vector3::from(rgb)
    };
    let zone = &image.truth.cards[0].zones[0];
    let grey = adapt(&seen(&zone.quad), &(d50_white() * 0.18));
    let patches = image.truth.patches.iter().filter(|it| it.clipped < 0.01);
    patches
        .map(|it| ciede2000(lab(&(grey * seen(&it.quad))), it.camera_lab))
        .collect()
}

/// Flawless scenes with a grey card, under a light.
fn images(light: &str) -> Vec<SensorImage> {
    (0..40)
        .map(|seed| SceneSpec::draw(Mixture::Flawless, Split::Test, seed))
        .filter(|it| it.layout.cards[0].kind == masstone_simulator::CardKind::Grey18)
        .take(3)
        .map(|mut spec| {
            spec.light = TintedLight::plain(Light::named(light).expect("a light of the table"));
            spec.second = None;
            // Neither uneven coats, of which the truth takes 600 samples and these tests all pixels, nor noise, which small dark
            // halves are not rid of by averaging.
            (spec.mottle, spec.grain) = (0.0, 0.0);
            (spec.camera.shot_noise, spec.camera.read_noise) = (0.0, 0.0);
            let scene = spec.build();
            let [width, height] = scene.stored_size(1600);
            scene.render_sensor(width, height, Cfa::of(spec.camera.id))
        })
        .collect()
}

/// Both ways to XYZ give the perfect pipeline's colours, for both lights in either order, with and without a reference camera
/// whose filters leak otherwise.
#[test]
fn the_specifications_mapping_gives_the_colours() {
    for (light, illuminants, set) in [
        ("A", Illuminants::AThenD65, 0),
        ("D65", Illuminants::AThenD65, 1),
        ("D65", Illuminants::D65ThenA, 0),
        ("D65", Illuminants::D65, 0),
    ] {
        for image in images(light) {
            for calibration in [false, true] {
                let options = DngSpec {
                    illuminants,
                    calibration,
                    ..DngSpec::phone()
                };
                let file = File::open(image.encode(&options).unwrap());
                for (to_xyz, way) in mappings(&file, set).iter().zip(["forward", "colour"]) {
                    let off = errors(&image, to_xyz);
                    assert!(off.len() > 5);
                    let worst = off.iter().copied().fold(0.0, f64::max);
                    // Matrices are rounded to four decimals.
                    assert!(
                        worst < 0.03,
                        "{light} {illuminants:?} {calibration} {way}: {worst:.4}"
                    );
                }
            }
        }
    }
}

/// Another unit's matrices are nearly this one's: they cost something, but less than a camera's own difference from the eye.
#[test]
fn another_unit_is_nearly_alike() {
    for image in images("D65") {
        for seed in 0..4 {
            let options = DngSpec {
                unit: Some(seed),
                ..DngSpec::phone()
            };
            let file = File::open(image.encode(&options).unwrap());
            let off = errors(&image, &mappings(&file, 1)[0]);
            let mean = off.iter().sum::<f64>() / off.len() as f64;
            assert!((0.1..1.5).contains(&mean), "{seed}: {mean}");
        }
    }
}

/// The colour matrix carries the camera's neutral to the light's white; another unit's does only together with its calibration.
#[test]
fn the_neutral_is_the_lights_white() {
    // CIE 15: chromaticities of the illuminants, 2° observer.
    for (light, set, white) in [
        ("A", 0, [0.447_58, 0.407_45]),
        ("D65", 1, [0.312_72, 0.329_03]),
    ] {
        for image in images(light) {
            let off = |unit, calibration| {
                let options = DngSpec {
                    unit,
                    calibration,
                    ..DngSpec::phone()
                };
                let file = File::open(image.encode(&options).unwrap());
                let neutral = Vector3::from_vec(numbers(&file.first[&50728]));
                let xyz = mappings(&file, set)[1] * neutral;
                let [x, y] = [0, 1].map(|k| xyz[k] / xyz.sum() - white[k]);
                x.hypot(y)
            };
            // Four decimals of a matrix, and sums that end at 730 nm.
            let exact = 4e-4;
            assert!(off(None, false) < exact, "{light}");
            assert!(off(Some(2), true) < exact, "{light}");
            let plain = off(Some(2), false);
            assert!(plain > 2.0 * exact, "{light}: {plain}");
        }
    }
}

/// One gain map, as its bytes say.
struct GainMap {
    area: [u32; 4],
    pitch: [u32; 2],
    points: [usize; 2],
    gains: Vec<f64>,
}

fn gain_maps(file: &File) -> Vec<GainMap> {
    let bytes: Vec<u8> = numbers(&file.raw[&51009])
        .iter()
        .map(|it| u8::try_from(whole(*it)).expect("bytes"))
        .collect();
    let long = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("bytes"));
    let double = |at: usize| f64::from_be_bytes(bytes[at..at + 8].try_into().expect("bytes"));
    let mut at = 4;
    let maps = (0..long(0))
        .map(|_| {
            assert_eq!([long(at), long(at + 4)], [9, 0x0103_0000]);
            let (length, body) = (long(at + 12) as usize, at + 16);
            at = body + length;
            let points = [long(body + 32), long(body + 36)].map(|it| it as usize);
            assert_eq!(length, 76 + 4 * points[0] * points[1]);
            // The map covers the picture from edge to edge.
            for (k, count) in points.iter().enumerate() {
                let spacing = double(body + 40 + 8 * k);
                assert!((spacing * (*count as f64 - 1.0) - 1.0).abs() < 1e-12);
                assert!(double(body + 56 + 8 * k).abs() < 1e-12);
            }
            assert_eq!(long(body + 72), 1);
            let gain = |i: usize| f64::from(f32::from_bits(long(body + 76 + 4 * i)));
            GainMap {
                area: [0, 4, 8, 12].map(|it| long(body + it)),
                pitch: [long(body + 24), long(body + 28)],
                points,
                gains: (0..points[0] * points[1]).map(gain).collect(),
            }
        })
        .collect();
    assert_eq!(at, bytes.len());
    maps
}

impl GainMap {
    /// Bilinear, at a pixel's centre (DNG 1.4, chapter 7).
    fn at(&self, x: usize, y: usize, size: [u32; 2]) -> f64 {
        let place = |pixel: usize, size: u32, points: usize| {
            let place = (pixel as f64 + 0.5) / f64::from(size) * (points as f64 - 1.0);
            let first = whole(place).min(points - 2);
            (first, place - first as f64)
        };
        let (row, v) = place(y, size[1], self.points[0]);
        let (column, u) = place(x, size[0], self.points[1]);
        let g = |r: usize, c: usize| self.gains[(row + r) * self.points[1] + column + c];
        (g(0, 0) * (1.0 - u) + g(0, 1) * u) * (1.0 - v) + (g(1, 0) * (1.0 - u) + g(1, 1) * u) * v
    }
}

/// What the maps lift is the picture without vignetting, to the noise.
#[test]
fn gain_maps_undo_the_vignetting() {
    let mut spec = SceneSpec::draw(Mixture::Flawless, Split::Test, 3);
    spec.camera.vignetting = 0.2;
    let shot = |spec: &SceneSpec| spec.build().render_sensor(800, 600, Cfa::Rggb);
    let dark = shot(&spec);
    spec.camera.vignetting = 0.0;
    let even = shot(&spec);
    let options = DngSpec {
        coding: RawCoding::Words,
        ..DngSpec::phone()
    };
    let file = File::open(dark.encode(&options).unwrap());
    let maps = gain_maps(&file);
    let areas: Vec<_> = maps.iter().map(|it| it.area).collect();
    assert_eq!(
        areas,
        [[0, 0], [0, 1], [1, 0], [1, 1]].map(|[t, l]| [t, l, 600, 800])
    );
    assert!(maps.iter().all(|it| it.pitch == [2, 2]));
    for [x0, y0] in [[0, 0], [740, 0], [0, 540], [740, 540], [370, 270]] {
        let (mut lifted, mut plain, mut untouched) = (0.0, 0.0, 0.0);
        for (x, y) in (y0..y0 + 60).flat_map(|y| (x0..x0 + 60).map(move |x| (x, y))) {
            let map = &maps[2 * (y % 2) + x % 2];
            let value = f64::from(dark.values[y * 800 + x]);
            lifted += value * map.at(x, y, [800, 600]);
            untouched += value;
            plain += f64::from(even.values[y * 800 + x]);
        }
        // Between points 1 / 16 and 1 / 12 apart a straight line lies above 1 / (1 − 0.2 r²), at the corners by up to 0.18 %.
        assert!(
            (lifted / plain - 1.0).abs() < 0.002,
            "{x0} {y0}: {}",
            lifted / plain
        );
        if [x0, y0] != [370, 270] {
            assert!(untouched / plain < 0.88);
        }
    }
}
