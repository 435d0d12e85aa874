//! What the values are: darkness, saturation, filters, neutrality, packing.

use crate::tags::{File, inner, means, numbers, whole};
use masstone_simulator::{
    Black, Cfa, DngSpec, Light, Mixture, RawCoding, RawLayout, SceneSpec, SensorImage, Split,
    TintedLight, ZoneTruth,
};

/// Plain words, no preview, nothing cut off.
fn words() -> DngSpec {
    DngSpec {
        coding: RawCoding::Words,
        previews: 0,
        crop: 0,
        ..DngSpec::phone()
    }
}

/// A flawless scene in plain daylight with a flat grey in it.
fn scene() -> SceneSpec {
    let mut spec = (0..)
        .map(|seed| SceneSpec::draw(Mixture::Flawless, Split::Test, seed))
        .find(|it| grey(&it.build().truth([1200, 900])).is_some())
        .expect("seeds go on");
    spec.light = TintedLight::plain(Light::Daylight(5400.0));
    spec.second = None;
    spec
}

/// A zone of reflectance 18 %, the same at all wavelengths.
fn grey(truth: &masstone_simulator::Truth) -> Option<&ZoneTruth> {
    let flat =
        |it: &&ZoneTruth| it.lab[1].hypot(it.lab[2]) < 1e-6 && (it.lab[0] - 49.5).abs() < 0.1;
    truth.cards.first()?.zones.iter().find(flat)
}

fn shot(spec: &SceneSpec, cfa: Cfa) -> SensorImage {
    let scene = spec.build();
    let [width, height] = scene.stored_size(1200);
    scene.render_sensor(width, height, cfa)
}

/// Channel means over the grey, of shares of full scale.
fn grey_means(image: &SensorImage, value: impl Fn(usize, usize) -> f64) -> [f64; 3] {
    let pixels = inner(&grey(&image.truth).expect("a grey card").quad);
    assert!(pixels.len() > 2000, "a card that is seen");
    means(&pixels, |x, y| image.cfa.channel(x, y), value)
}

/// The grey's values go as the neutral that the file states, whatever the filters' order and the blacks, under a daylight and a lamp,
/// where red is the strongest channel.
#[test]
fn grey_is_as_neutral_as_stated() {
    for light in [Light::Daylight(5400.0), Light::Planck(2800.0)] {
        for cfa in Cfa::ALL {
            let mut spec = scene();
            spec.light = TintedLight::plain(light);
            let image = shot(&spec, cfa);
            let options = DngSpec {
                black: Black::Uneven,
                masked: [3, 5, 0, 0],
                big_endian: cfa == Cfa::Bggr,
                ..words()
            };
            let file = File::open(image.encode(&options).unwrap());
            let stored = file.stored();
            let width = whole(numbers(&file.raw[&256])[0]);
            let area = numbers(&file.raw[&50829]);
            assert_eq!(area[..2], [3.0, 5.0]);
            let black = numbers(&file.raw[&50714]);
            let white = numbers(&file.raw[&50717])[0];
            let range = white - black.iter().copied().fold(0.0, f64::max);
            let pattern = numbers(&file.raw[&33422]);
            let pixels = inner(&grey(&image.truth).unwrap().quad);
            let seen = means(
                &pixels,
                |x, y| whole(pattern[2 * (y % 2) + x % 2]),
                |x, y| {
                    let code = stored[(y + 3) * width + x + 5];
                    (f64::from(code) - black[2 * (y % 2) + x % 2]) / range
                },
            );
            let neutral = numbers(&file.first[&50728]);
            for c in [0, 2] {
                let off = seen[c] / seen[1] / (neutral[c] / neutral[1]);
                // Noise of thousands of pixels, and a code of 4096.
                assert!((off - 1.0).abs() < 0.003, "{light:?} {cfa:?} {c}: {off}");
            }
            let strongest = if light == Light::Planck(2800.0) { 0 } else { 1 };
            assert!((neutral[strongest] - 1.0).abs() < 1e-6, "{neutral:?}");
        }
    }
}

/// A wrong white balance is in the stated neutral, and nowhere else.
#[test]
fn a_wrong_balance_is_only_stated() {
    let right = scene();
    let mut wrong = right.clone();
    wrong.camera.balance_error = [1.1, 1.0, 0.9];
    let [right, wrong] = [right, wrong].map(|it| shot(&it, Cfa::Rggb));
    assert!(right.values == wrong.values);
    let [right, wrong] = [right, wrong].map(|it| {
        let file = File::open(it.encode(&words()).unwrap());
        let neutral = numbers(&file.first[&50728]);
        [0, 2].map(|c| neutral[c] / neutral[1])
    });
    assert!((right[0] / wrong[0] - 1.1).abs() < 1e-5);
    assert!((right[1] / wrong[1] - 0.9).abs() < 1e-5);
}

/// Masked pixels are dark: their mean is the stated black, their spread the read noise, half of them below black.
#[test]
fn masked_pixels_are_dark() {
    let mut spec = scene();
    spec.camera.read_noise = 0.002;
    let image = shot(&spec, Cfa::Gbrg);
    let options = DngSpec {
        black: Black::Uneven,
        masked: [21, 3, 20, 0],
        ..words()
    };
    let file = File::open(image.encode(&options).unwrap());
    let (stored, black) = (file.stored(), numbers(&file.raw[&50714]));
    let width = whole(numbers(&file.raw[&256])[0]);
    let range = numbers(&file.raw[&50717])[0] - black.iter().copied().fold(0.0, f64::max);
    // Rounding to whole codes adds a twelfth.
    let sd = ((0.002 * range).powi(2) + 1.0 / 12.0).sqrt();
    for (part, black) in black.iter().enumerate() {
        // The pattern begins at the first lit pixel: row 21, column 3.
        let dark: Vec<f64> = (0..21)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .filter(|(x, y)| 2 * ((y + 21) % 2) + (x + 3) % 2 == part)
            .map(|(x, y)| f64::from(stored[y * width + x]) - black)
            .collect();
        let count = dark.len() as f64;
        let mean = dark.iter().sum::<f64>() / count;
        let spread = (dark.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / count).sqrt();
        assert!(mean.abs() < 4.0 * sd / count.sqrt(), "{part}: {mean}");
        assert!(
            (spread / sd - 1.0).abs() < 0.05,
            "{part}: {spread} for {sd}"
        );
    }
}

/// All channels saturate at one level: green is at white while red still counts light.
#[test]
fn channels_saturate_at_one_level() {
    let mut spec = scene();
    spec.camera.white_level = 1.0;
    let fair = shot(&spec, Cfa::Rggb);
    spec.camera.white_level = 7.0;
    let bright = shot(&spec, Cfa::Rggb);
    let width = bright.width as usize;
    let at = |image: &SensorImage, x: usize, y: usize| f64::from(image.values[y * width + x]);
    let before = grey_means(&fair, |x, y| at(&fair, x, y));
    let after = grey_means(&bright, |x, y| at(&bright, x, y));
    assert!(
        (after[0] / before[0] / 7.0 - 1.0).abs() < 0.005,
        "{after:?}"
    );
    assert!((after[1] - 1.0).abs() < 1e-6, "{after:?}");
    let file = File::open(bright.encode(&words()).unwrap());
    let (stored, white) = (file.stored(), numbers(&file.raw[&50717])[0]);
    let highest = stored.iter().copied().max().unwrap();
    assert!((f64::from(highest) - white).abs() < 0.5);
    let at_end = |pixels: &[[usize; 2]]| {
        let hit = pixels
            .iter()
            .filter(|[x, y]| stored[y * width + x] == highest);
        hit.count() as f64 / pixels.len() as f64
    };
    let mut clipped = 0;
    for patch in &bright.truth.patches {
        let share = at_end(&inner(&patch.quad));
        assert!(
            (share - patch.clipped).abs() < 0.05,
            "{}: {share}",
            patch.id
        );
        clipped += usize::from(share > 0.95);
    }
    assert!(clipped > 0);
    assert!(fair.truth.patches.iter().any(|it| it.clipped < 0.01));
}

/// Packed numbers are those of the words, for each number of bits.
#[test]
fn packed_numbers_are_the_words() {
    let image = shot(&scene(), Cfa::Rggb);
    for bits in [10, 12, 14] {
        let spec = DngSpec { bits, ..words() };
        let packed = DngSpec {
            coding: RawCoding::Packed,
            ..spec.clone()
        };
        let [words, packed] =
            [spec, packed].map(|it| File::open(image.encode(&it).unwrap()).stored());
        assert_eq!(words.len(), image.values.len());
        assert!(words == packed, "{bits}");
    }
}

/// Companded codes stand for the values themselves, to half a step.
#[test]
fn companding_keeps_the_values() {
    let image = shot(&scene(), Cfa::Rggb);
    let fine = DngSpec {
        bits: 14,
        ..words()
    };
    let companded = DngSpec {
        bits: 10,
        linearization: true,
        ..words()
    };
    let [fine, companded] = [fine, companded].map(|it| File::open(image.encode(&it).unwrap()));
    for tag in [50714, 50717] {
        assert_eq!(numbers(&fine.raw[&tag]), numbers(&companded.raw[&tag]));
    }
    let table = numbers(&companded.raw[&50712]);
    assert_eq!(table.len(), 1024);
    for (value, code) in fine.stored().into_iter().zip(companded.stored()) {
        let code = code as usize;
        let off = (f64::from(value) - table[code]).abs();
        let step = table[code.min(1022) + 1] - table[code.min(1022)];
        assert!(off <= step / 2.0 + 1.0, "{value} is {}", table[code]);
    }
}

/// Interpolated values have the mosaic's means, at 16 bits in either order of bytes.
#[test]
fn linear_values_are_the_mosaics() {
    for cfa in Cfa::ALL {
        let image = shot(&scene(), cfa);
        let options = DngSpec {
            layout: RawLayout::Linear,
            bits: 16,
            big_endian: cfa == Cfa::Gbrg,
            ..words()
        };
        let file = File::open(image.encode(&options).unwrap());
        let stored = file.stored();
        let (black, white) = (numbers(&file.raw[&50714]), numbers(&file.raw[&50717]));
        let width = image.width as usize;
        let mosaic = grey_means(&image, |x, y| f64::from(image.values[y * width + x]));
        let pixels = inner(&grey(&image.truth).unwrap().quad);
        for c in 0..3 {
            let value = |x: usize, y: usize| {
                let code = f64::from(stored[(y * width + x) * 3 + c]);
                (code - black[c]) / (white[c] - black[c])
            };
            let mean = means(&pixels, |_, _| c, value)[c];
            assert!(
                (mean / mosaic[c] - 1.0).abs() < 0.002,
                "{cfa:?} {c}: {mean}"
            );
        }
    }
}
