//! Small DNG files, one for each thing that a reader must know.

use masstone_simulator::{
    Black, Cfa, DngSpec, Illuminants, Light, Mixture, RawCoding, RawLayout, SceneSpec, Split,
    TintedLight,
};
use std::io;

/// One file: how it is written, with which filters, under which light, at which long side, turned how.
pub(crate) struct Sample {
    /// File name without its ending.
    pub name: &'static str,
    /// How it is written.
    pub spec: DngSpec,
    /// Colour filters.
    pub cfa: Cfa,
    /// The light on the board.
    pub light: Light,
    /// Long side of the picture, pixels.
    pub long_side: u32,
    /// EXIF's number for how the picture is turned.
    pub orientation: u8,
}

impl Sample {
    /// The file's bytes.
    ///
    /// # Errors
    ///
    /// If the encoder refuses.
    pub(crate) fn file(&self) -> io::Result<Vec<u8>> {
        let mut scene = scene();
        scene.light = TintedLight::plain(self.light);
        if self.name == "saturated" {
            scene.camera.white_level = 2.5;
        }
        scene.stored_as = self.orientation;
        scene.tag = Some(self.orientation);
        let scene = scene.build();
        let [width, height] = scene.stored_size(self.long_side);
        scene
            .render_sensor(width, height, self.cfa)
            .encode(&self.spec)
    }
}

/// A board in daylight, sharp enough for small pictures.
fn scene() -> SceneSpec {
    let mut scene = SceneSpec::draw(Mixture::Ordinary, Split::Test, 12);
    scene.second = None;
    scene.camera.vignetting = 0.25;
    scene.camera.blur_px = 0.5;
    scene
}

/// A file of values that no scene has, so that neighbours differ as far as 16 bits can; half of 2^16, the one difference without
/// further bits, is often among them.
///
/// # Errors
///
/// If the encoder refuses.
pub(crate) fn extremes(predictor: u8) -> io::Result<Vec<u8>> {
    let spec = DngSpec {
        coding: RawCoding::Lossless {
            predictor,
            tile: 48,
        },
        bits: 16,
        previews: 0,
        crop: 0,
        gain_maps: None,
        ..DngSpec::phone()
    };
    let mut image = scene().build().render_sensor(48, 48, Cfa::Rggb);
    let mut state = u32::from(predictor);
    for (i, value) in image.values.iter_mut().enumerate() {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let code = match (i / 48 / 12, state >> 30) {
            (0, _) => state >> 16,
            (1, half) => 0x8000 * (half % 2),
            (2, end) => 0xffff * (end % 2),
            (_, step) => 0x4000 * step,
        };
        // Darkness is at a sixteenth of the range.
        *value = (code as f32 - 4096.0) / (65535.0 - 4096.0);
    }
    image.encode(&spec)
}

/// All files of scenes, a phone's first.
pub(crate) fn samples() -> Vec<Sample> {
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
        previews: 0,
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
        orientation: 6,
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
        Sample {
            orientation: 1,
            ..sample("words-rggb", &plain, Cfa::Rggb)
        },
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
        Sample {
            orientation: 3,
            ..sample("packed-12", &packed(12), Cfa::Rggb)
        },
        Sample {
            orientation: 8,
            ..sample("packed-14", &packed(14), Cfa::Grbg)
        },
        sample(
            "lossless-6-big-endian",
            &DngSpec {
                coding: lossless(6),
                bits: 14,
                big_endian: true,
                previews: 2,
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
                previews: 1,
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
