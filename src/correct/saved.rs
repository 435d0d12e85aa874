//! A correction that was fitted to one photo and is used on others of the same camera and light.
//!
//! What is carried over is what belongs to the camera and the light's colour: the tone curve and the colour map. What belongs to
//! the photo stays its own: how the light falls, and the exposure, which the photo's own neutral references show. The result
//! passes through [`super::reading`] as any other, with the other photo's leave-one-out and what the carrying itself costs.

use super::choose::SUSPICIOUS;
use super::map::{self, ColourMap, Fitted, Sighting};
use super::observe::Observed;
use super::scene::Scene;
use super::tone::Prior;
use super::{
    CorrectError, Correction, CorrectionKind, LEAST_LINEAR, LightField, Outcome, ToneCurve,
    allowance, parted, reading, used,
};
use crate::colour::{Lab, Matrix, difference};
use crate::photo::Metadata;
use crate::sample::{Samples, float};
use nalgebra::Vector3;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What one fit leaves to other photos.
#[derive(Clone, Debug, PartialEq)]
pub struct Portable {
    /// What was fitted.
    pub kind: CorrectionKind,
    /// Mean leave-one-out ΔE00 of the references.
    pub leave_one_out: f64,
    /// Mean square of the same, ΔE00²: what enters the uncertainty.
    pub left_out_square: f64,
    /// Mean ΔE00 of the same references with the neutrals alone.
    pub neutral_alone: Option<f64>,
    /// The values of the file were linear.
    pub linear: bool,
    /// They were a sensor's: the map's gains are on what the sensor gave, not on what the camera balanced.
    pub sensor: bool,
    /// Linear RGB of the file to XYZ D50.
    pub to_xyz: Matrix,
    /// The tone curve that is undone first.
    pub tone: ToneCurve,
    /// From evened linear RGB to XYZ; its gains say what the light was like.
    pub map: ColourMap,
    /// The same fit under tone curves that are as likely within one standard deviation.
    pub variants: Vec<Variant>,
}

/// A fit under another tone curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// The curve.
    pub tone: ToneCurve,
    /// Its map.
    pub map: ColourMap,
}

/// Where a correction comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// What fitted it, with its version.
    pub program: String,
    /// The name of the photo's file.
    pub photo: String,
    /// SHA-256 of the photo's bytes, lower-case hexadecimal.
    pub sha256: String,
    /// Id of the panel in it.
    pub panel: String,
    /// Maker and model of the camera.
    pub camera: Option<String>,
    /// The lens, which on a phone is a camera of its own.
    pub lens: Option<String>,
    /// Whether the white balance was set by hand.
    pub manual_white_balance: Option<bool>,
    /// When the photo was taken, as the camera wrote it.
    pub taken: Option<String>,
}

/// A correction that can be kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// Where it comes from.
    pub origin: Origin,
    /// What was fitted.
    pub fit: Portable,
}

/// A saved correction on its way to another photo.
#[derive(Clone, Copy, Debug)]
pub struct Carried<'a> {
    /// The correction.
    pub saved: &'a Saved,
    /// What that photo's camera says.
    pub metadata: &'a Metadata,
    /// Use it for another camera or light all the same.
    pub force: bool,
}

/// That a photo was read with a saved correction, and how far it is from that one's own photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UsedSaved {
    /// What had been fitted.
    pub kind: CorrectionKind,
    /// SHA-256 of the photo that it was fitted to.
    pub sha256: String,
    /// The camera that it was fitted for.
    pub camera: Option<String>,
    /// When the photo that it was fitted to was taken.
    pub taken: Option<String>,
    /// Mean leave-one-out ΔE00 in that photo.
    pub leave_one_out: f64,
    /// Mean square of what the map leaves, ΔE00².
    pub left_out_square: f64,
    /// How far the light is from that one's: see [`apart`].
    pub light_apart: f64,
    /// What speaks against it and was overruled, in words.
    pub overruled: Vec<String>,
    /// Whether the camera is another, or unknown.
    pub other_camera: bool,
}

/// Why a saved correction doesn't serve a photo.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Unfit {
    /// Another camera.
    #[error("the correction was fitted for {fitted}, and this photo is of {photo}")]
    Camera {
        /// The correction's camera and lens.
        fitted: String,
        /// The photo's.
        photo: String,
    },
    /// One of the two doesn't say.
    #[error("{0} does not say which camera took it: the correction may be another camera's")]
    UnknownCamera(&'static str),
    /// Another light on the neutral reference.
    #[error(
        "the light differs from that of the correction: on the neutral reference the channels' balance is {:.0} % off in \
         red over green and {:.0} % in blue over green (limit {:.0} % together)",
        red * 100.0, blue * 100.0, limit * 100.0
    )]
    Light {
        /// Log of red over green here, less that of the correction's photo.
        red: f64,
        /// Log of blue over green likewise.
        blue: f64,
        /// Limit of the two in quadrature.
        limit: f64,
    },
    /// Another colour space, or linear values against encoded ones.
    #[error(
        "the correction was fitted to a file of another encoding (other primaries, or linear values)"
    )]
    Encoding,
}

impl Unfit {
    /// What to do next, as full sentences.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Camera { .. } => {
                "Fit a correction for this camera and lens with `masstone calibrate`, or leave --correction out. \
                 --force-correction uses it all the same, with a wider U95."
            }
            Self::UnknownCamera(_) => {
                "Use the files as the camera wrote them: messengers and editors drop what it says. --force-correction \
                 uses the correction all the same, with a wider U95."
            }
            Self::Light { .. } => {
                "Photograph the chart once in this light and fit a correction to it, or leave --correction out. \
                 --force-correction uses it all the same, with a wider U95."
            }
            Self::Encoding => {
                "Take both photos with the same settings of the camera, both as raw files or neither, and give --linear to both or to neither."
            }
        }
    }
}

/// How far two lights are apart by the gains that balance them: log ratios of red over green and of blue over green.
#[must_use]
pub fn apart(one: [f64; 3], other: [f64; 3]) -> [f64; 2] {
    // A gain is the inverse of what the channel holds of white.
    let ratio = |c: usize| ((one[1] / one[c]) / (other[1] / other[c])).ln();
    [ratio(0), ratio(2)]
}

/// How far the light may be from that of the correction's photo, as [`apart`] in quadrature. Basis (study cameras and lights of
/// `benches/saved`): another phase of daylight as far off as this adds 0.1 to 0.3 ΔE00 to 1.25; of all other lights, which on
/// average add 1 ΔE00 and more wherever they are, three in four (raw files) to six in seven (phone files) lie farther off, if the
/// camera's white balance stays.
pub const MOST_APART: f64 = 0.15;
/// Standard deviations of lightness, chroma and hue, a unit of chroma, a unit of [`apart`]: of daylight in another phase. Basis: the same
/// study.
const OTHER_PHASE: [f64; 3] = [0.1, 0.2, 0.2];
/// The same of a light beyond the limit, which is of another kind as likely as not. Basis: the same study, 0.15 to 0.3 apart.
const OTHER_KIND: [f64; 3] = [0.15, 0.7, 0.5];
/// Mean square of what a saved map leaves of a patch in another photo, over the mean square that leaving its own colours out showed:
/// less than in the chart's own photo, since what card and light leave is stated beside. Basis: U95 holds in 95.8 % of the study's
/// readings, in 97 % of them in daylight and 94 % under lamps (`cargo bench --bench saved -- 80 700 study`).
pub(super) const LIKE_THE_COLOURS: f64 = 0.75;
/// Log gain of all channels together that one reading of a neutral leaves open, as a standard deviation: what the curve is off
/// between the card's lightness and the patches' tells in full where a chart would share it out. Basis: under even light the boards of
/// `benches/saved` (80 pairs of the study) keep a common offset of 0.02 to 0.03 in log light, robustly, of which the rest of the tone curve and
/// local tone mapping, which are stated beside, explain a part.
const RESCALED: f64 = 0.02;
/// The same of each channel by itself: the white balance that a phone shifts from shot to shot is not quite a gain of the file's
/// channels. Common practice, no source.
const RESCALED_CHANNEL: f64 = 0.006;

impl Portable {
    /// What a fit to these references leaves to other photos.
    pub(super) fn of(
        samples: &Samples,
        correction: &Correction,
        fitted: &Fitted,
        variants: &[(ToneCurve, LightField, ColourMap)],
    ) -> Option<Self> {
        let leave_one_out = correction.leave_one_out?;
        let squares: Vec<f64> = (fitted.left_out.iter().zip(&fitted.weights))
            .filter_map(|(it, weight)| it.filter(|_| *weight > 0.0).map(|d| d * d))
            .collect();
        if squares.len() < LEAST_LINEAR {
            return None;
        }
        Some(Self {
            kind: correction.kind,
            leave_one_out,
            left_out_square: squares.iter().sum::<f64>() / float(squares.len()),
            neutral_alone: correction.neutral_alone,
            linear: samples.encoding.is_linear(),
            sensor: samples.camera.is_some(),
            to_xyz: samples.to_xyz,
            tone: correction.tone,
            map: on_values(&correction.map, samples),
            variants: variants
                .iter()
                .map(|(tone, _, map)| Variant {
                    tone: *tone,
                    map: on_values(map, samples),
                })
                .collect(),
        })
    }
}

/// A map whose gains are on what the sensor gave, where a camera's own balance lies between.
fn on_values(map: &ColourMap, samples: &Samples) -> ColourMap {
    let balance = samples.camera.as_ref().map_or([1.0; 3], |it| it.as_shot);
    ColourMap {
        gains: [0, 1, 2].map(|c| map.gains[c] / balance[c]),
        ..map.clone()
    }
}

/// A map with the gains that take this photo's neutrals to their stated colours.
fn with_gains<'a>(
    map: &ColourMap,
    sightings: impl Iterator<Item = &'a Sighting> + Clone,
) -> Option<ColourMap> {
    map::gains(sightings).map(|gains| ColourMap {
        gains,
        ..map.clone()
    })
}

impl Carried<'_> {
    /// Reads a photo with the saved correction.
    pub(super) fn correct(
        &self,
        samples: &Samples,
        observed: &[Observed],
        scene: &Scene<'_>,
        even: &dyn Fn(&ToneCurve) -> Result<LightField, CorrectError>,
    ) -> Result<Outcome, CorrectError> {
        let fit = &self.saved.fit;
        let mut overruled = Vec::new();
        let camera = self.camera();
        let other_camera = camera.is_err();
        self.overrule(camera, &mut overruled)?;
        // A sensor's matrix hangs on the light; its camera is asked about above.
        let same_space = samples.camera.is_some() || (samples.to_xyz - fit.to_xyz).amax() < 1e-6;
        let same_kind =
            fit.linear == samples.encoding.is_linear() && fit.sensor == samples.camera.is_some();
        if !same_space || !same_kind {
            return Err(Unfit::Encoding.into());
        }
        let light = even(&fit.tone)?;
        let sightings = scene.sightings(&fit.tone, &light);
        let count = sightings.len();
        let map =
            with_gains(&fit.map, sightings.iter()).ok_or(CorrectError::NoBalance { count })?;
        let [red, blue] = apart(on_values(&map, samples).gains, fit.map.gains);
        let near = if red.hypot(blue) <= MOST_APART {
            Ok(())
        } else {
            let limit = MOST_APART;
            Err(Unfit::Light { red, blue, limit })
        };
        self.overrule(near, &mut overruled)?;
        let fitted = check(map, &sightings);
        let left_out = fitted.mean(&vec![true; count]);
        let checks = fitted.left_out.iter().flatten().count();
        let mut left_out_square = fit.left_out_square;
        if checks >= LEAST_LINEAR
            && let Some(mean) = left_out
        {
            parted::check(mean, scene, &sightings)?;
            if mean > SUSPICIOUS {
                let (left_out, neutral) = (mean, fit.leave_one_out);
                return Err(CorrectError::WrongReferences { left_out, neutral });
            }
            let squares = fitted.left_out.iter().flatten().map(|it| it * it);
            left_out_square = left_out_square.max(squares.sum::<f64>() / float(checks));
        }
        let doubtful = if other_camera {
            let usual = super::fit::prior(samples);
            another_curve(&fit.tone, &usual, fit)
        } else {
            fit.variants.clone()
        };
        let variants: Vec<_> = doubtful
            .iter()
            .filter_map(|it| {
                let light = scene.light(&it.tone);
                let sightings = scene.sightings(&it.tone, &light);
                let map = with_gains(&it.map, sightings.iter())?;
                Some((it.tone, light, map))
            })
            .collect();
        let (local_tone, locally) = scene.locally(&fit.tone, &light, &sightings);
        let correction = Correction {
            kind: CorrectionKind::Saved,
            references: used(observed, &sightings, &fitted, &BTreeMap::new()),
            leave_one_out: left_out,
            neutral_alone: None,
            tone: fit.tone,
            light,
            local_tone,
            map: fitted.map.clone(),
            drift: None,
            saved: Some(UsedSaved {
                kind: fit.kind,
                sha256: self.saved.origin.sha256.clone(),
                camera: self.saved.origin.camera.clone(),
                taken: self.saved.origin.taken.clone(),
                leave_one_out: fit.leave_one_out,
                left_out_square,
                light_apart: red.hypot(blue),
                overruled,
                other_camera,
            }),
        };
        let readings = reading::read(scene, &sightings, &correction, &fitted, &variants, &locally);
        Ok(Outcome {
            correction,
            readings,
            portable: None,
        })
    }

    /// A reason against it ends the work, or is noted if the user insists.
    fn overrule(
        &self,
        reason: Result<(), Unfit>,
        overruled: &mut Vec<String>,
    ) -> Result<(), CorrectError> {
        match reason {
            Ok(()) => Ok(()),
            Err(unfit) if self.force => {
                overruled.push(unfit.to_string());
                Ok(())
            }
            Err(unfit) => Err(unfit.into()),
        }
    }

    /// Whether the photo is of the same camera and lens.
    fn camera(&self) -> Result<(), Unfit> {
        let origin = &self.saved.origin;
        let fitted = (origin.camera.as_deref()).ok_or(Unfit::UnknownCamera(
            "the photo that the correction was fitted to",
        ))?;
        let photo = (self.metadata.camera.as_deref()).ok_or(Unfit::UnknownCamera("the photo"))?;
        // Where either is silent about its lens, the model has to do.
        let same_lens = match (&origin.lens, &self.metadata.lens) {
            (Some(one), Some(other)) => one == other,
            _ => true,
        };
        if fitted == photo && same_lens {
            return Ok(());
        }
        let named = |camera: &str, lens: &Option<String>| match lens {
            Some(lens) if !same_lens => format!("{camera} with {lens}"),
            _ => camera.to_owned(),
        };
        Err(Unfit::Camera {
            fitted: named(fitted, &origin.lens),
            photo: named(photo, &self.metadata.lens),
        })
    }
}

/// Of another camera only the usual curves are known, and no map under them.
fn another_curve(tone: &ToneCurve, usual: &Prior, fit: &Portable) -> Vec<Variant> {
    let doubtful = ToneCurve {
        contrast: tone.contrast,
        shift: tone.shift,
        ..ToneCurve::assumed(usual)
    };
    let map = |tone| Variant {
        tone,
        map: fit.map.clone(),
    };
    doubtful.variants().into_iter().map(map).collect()
}

/// The map with what this photo's references say of it: a colour had no part in it; a neutral is judged by the others' gains.
fn check(map: ColourMap, sightings: &[Sighting]) -> Fitted {
    let without: Vec<Option<ColourMap>> = (0..sightings.len())
        .map(|i| {
            if sightings[i].neutral > 0.0 {
                let others = sightings.iter().enumerate().filter(|it| it.0 != i);
                with_gains(&map, others.map(|it| it.1))
            } else {
                Some(map.clone())
            }
        })
        .collect();
    let left_out = sightings
        .iter()
        .zip(&without)
        .map(|(it, map)| {
            let lab = map.as_ref()?.lab(it.rgb);
            Some(difference::delta_e_2000(lab, it.lab))
        })
        .collect();
    Fitted {
        map,
        without,
        left_out,
        weights: vec![1.0; sightings.len()],
    }
}

/// Covariance of the log gains that a reading of the neutrals leaves open, beside what their own colours leave.
pub(super) fn rescaling(correction: &Correction) -> Matrix {
    if correction.saved.is_none() {
        return Matrix::zeros();
    }
    let together = Vector3::new(RESCALED, RESCALED, RESCALED);
    together * together.transpose() + Matrix::identity() * RESCALED_CHANNEL.powi(2)
}

/// Covariance in Lab of what the map, right for its own photo, is off in this one: another light, and another camera where
/// the user insisted.
pub(super) fn elsewhere(used: &UsedSaved, at: Lab) -> Matrix {
    let rate = if used.light_apart <= MOST_APART {
        OTHER_PHASE
    } else {
        OTHER_KIND
    };
    let light = allowance::along_chroma(at, rate.map(|it| it * used.light_apart));
    if used.other_camera {
        // Nothing is known of the other camera but its neutrals.
        light + allowance::camera(CorrectionKind::NeutralTone, at)
    } else {
        light
    }
}
