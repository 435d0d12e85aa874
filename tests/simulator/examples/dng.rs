//! Writes the DNG files that the reader is tested with, and that the oracle reads (`tests/oracle/dng_files.py`): `dng FOLDER`. With
//! `dng FOLDER LONG_SIDE` the phone's alone, to look at.

use masstone_simulator::{
    Black, Cfa, DngSpec, Illuminants, Light, Mixture, RawCoding, RawLayout, SceneSpec, Split,
    TintedLight,
};
use std::path::Path;

/// One file: how it is written, with which filters, under which light, at which long side.
struct Sample {
    name: &'static str,
    spec: DngSpec,
    cfa: Cfa,
    light: Light,
    long_side: u32,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let samples = match args.as_slice() {
        [_] => samples(),
        [_, long_side] => vec![Sample {
            long_side: long_side.parse()?,
            ..samples().swap_remove(0)
        }],
        _ => return Err("dng FOLDER [LONG_SIDE]".into()),
    };
    std::fs::create_dir_all(&args[0])?;
    for sample in samples {
        let mut scene = SceneSpec::draw(Mixture::Ordinary, Split::Test, 12);
        scene.light = TintedLight::plain(sample.light);
        scene.second = None;
        scene.camera.vignetting = 0.25;
        if sample.name == "saturated" {
            scene.camera.white_level = 2.5;
        }
        // The picture lies on its side, as phones store it, and some say so otherwise.
        (scene.stored_as, scene.tag) = (6, Some(6));
        let scene = scene.build();
        let [width, height] = scene.stored_size(sample.long_side);
        let image = scene.render_sensor(width, height, sample.cfa);
        let path = Path::new(&args[0]).join(format!("{}.dng", sample.name));
        std::fs::write(path, image.encode(&sample.spec)?)?;
    }
    Ok(())
}

fn samples() -> Vec<Sample> {
    let phone = DngSpec {
        coding: RawCoding::Lossless {
            predictor: 1,
            tile: 96,
        },
        ..DngSpec::phone()
    };
    // No more than a reader needs.
    let plain = DngSpec {
        coding: RawCoding::Words,
        preview: false,
        crop: 0,
        gain_maps: None,
        ..DngSpec::phone()
    };
    let lossless = |predictor| RawCoding::Lossless {
        predictor,
        tile: 64,
    };
    let sample = |name, spec: &DngSpec, cfa| Sample {
        name,
        spec: spec.clone(),
        cfa,
        light: Light::Daylight(5400.0),
        long_side: 160,
    };
    let packed = |bits| DngSpec {
        coding: RawCoding::Packed,
        bits,
        ..plain.clone()
    };
    let linear = DngSpec {
        layout: RawLayout::Linear,
        bits: 16,
        ..plain.clone()
    };
    vec![
        Sample {
            long_side: 200,
            ..sample("phone", &phone, Cfa::Rggb)
        },
        sample("words-rggb", &plain, Cfa::Rggb),
        sample(
            "words-grbg-big-endian",
            &DngSpec {
                bits: 14,
                big_endian: true,
                baseline_exposure: Some(0.75),
                ..plain.clone()
            },
            Cfa::Grbg,
        ),
        sample(
            "masked-gbrg",
            &DngSpec {
                masked: [6, 10, 2, 4],
                crop: 3,
                black: Black::Uneven,
                gain_maps: Some(0.8),
                ..plain.clone()
            },
            Cfa::Gbrg,
        ),
        // Where patterns begin at the first lit pixel, not at the first stored one.
        sample(
            "masked-odd",
            &DngSpec {
                masked: [5, 9, 0, 1],
                ..packed(12)
            },
            Cfa::Rggb,
        ),
        sample("packed-10-bggr", &packed(10), Cfa::Bggr),
        sample("packed-12", &packed(12), Cfa::Rggb),
        sample("packed-14", &packed(14), Cfa::Grbg),
        sample(
            "lossless-6-big-endian",
            &DngSpec {
                coding: lossless(6),
                bits: 14,
                big_endian: true,
                preview: true,
                black: Black::Uneven,
                ..plain.clone()
            },
            Cfa::Bggr,
        ),
        sample(
            "lossless-7-companded",
            &DngSpec {
                coding: lossless(7),
                bits: 10,
                linearization: true,
                ..plain.clone()
            },
            Cfa::Rggb,
        ),
        sample(
            "linear-words",
            &DngSpec {
                black: Black::Uneven,
                gain_maps: Some(1.0),
                ..linear.clone()
            },
            Cfa::Rggb,
        ),
        sample(
            "linear-lossless",
            &DngSpec {
                coding: lossless(1),
                bits: 12,
                preview: true,
                crop: 2,
                ..linear.clone()
            },
            Cfa::Gbrg,
        ),
        sample(
            "calibrated-unit",
            &DngSpec {
                calibration: true,
                unit: Some(3),
                ..packed(12)
            },
            Cfa::Rggb,
        ),
        Sample {
            light: Light::Planck(2900.0),
            ..sample(
                "no-forward-lamp",
                &DngSpec {
                    illuminants: Illuminants::D65ThenA,
                    forward: false,
                    calibration: true,
                    ..packed(12)
                },
                Cfa::Rggb,
            )
        },
        Sample {
            light: Light::Daylight(7000.0),
            ..sample(
                "one-light",
                &DngSpec {
                    illuminants: Illuminants::D65,
                    ..packed(12)
                },
                Cfa::Rggb,
            )
        },
        sample("saturated", &packed(10), Cfa::Rggb),
    ]
}
