//! From samples and references to calibrated colour with covariance.
//!
//! Works backwards through the camera: tone curve, then light, then colour; never more parameters than the references
//! support (leave-one-out decides).

mod allowance;
mod blank;
mod camera_light;
mod choose;
mod drift;
mod error;
mod fit;
mod light;
mod map;
mod observe;
mod parted;
mod reading;
pub(crate) mod robust;
mod saved;
mod scene;
mod shadow;
mod surroundings;
mod tone;
mod veil;

pub use blank::BlankError;
pub use choose::LEAST_LINEAR;
pub use drift::Drift;
pub use error::CorrectError;
pub use light::{Knot, LightField, Local};
pub use map::{ColourMap, Terms};
pub use saved::{Carried, MOST_APART, Origin, Portable, Saved, Unfit, UsedSaved, Variant, apart};
pub use surroundings::LocalTone;
pub use tone::{ToneCurve, ToneSource};

use crate::colour::{Lab, Matrix, Xyz, difference};
use crate::flag::Flag;
use crate::reference::{Reference, RegionIndex};
use crate::sample::{RegionKind, Samples};
use map::{Fitted, Model, Sighting};
use observe::Observed;
use scene::Scene;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Whether a tone curve beyond the file's encoding is sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tone {
    /// Fit or assume one, as the references allow.
    Auto,
    /// The file's encoding is taken at its word.
    None,
}

/// The closed list of corrections.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum CorrectionKind {
    /// One neutral: scale and chromatic adaptation.
    Neutral,
    /// Several neutrals: also a tone curve.
    NeutralTone,
    /// A linear 3×3 on eight or more colours.
    Linear,
    /// A root-polynomial on about fifteen or more colours.
    RootPolynomial,
    /// Neutrals, on a sensor's values: scale, and the camera's own matrices for the light that the neutrals show. No tone curve is between.
    SensorNeutral,
    /// A linear 3×3 on eight or more colours, on a sensor's values.
    SensorLinear,
    /// A root-polynomial on about fifteen or more colours, on a sensor's values.
    SensorRootPolynomial,
    /// Tone curve and map of another photo of the same camera and light, scaled to this photo's neutrals.
    Saved,
}

impl CorrectionKind {
    /// Whether a map was fitted to colours, which then say what it leaves.
    #[must_use]
    pub fn is_by_colours(self) -> bool {
        match self {
            Self::Neutral | Self::NeutralTone | Self::SensorNeutral => false,
            Self::Linear
            | Self::RootPolynomial
            | Self::SensorLinear
            | Self::SensorRootPolynomial
            | Self::Saved => true,
        }
    }
}

/// One half of one patch, corrected.
#[derive(Clone, Debug, PartialEq)]
pub struct Corrected {
    /// Which patch and half.
    pub kind: RegionKind,
    /// Region index in `Samples::patches`.
    pub region: usize,
    /// The colour; none if it can't be measured. Mean in Lab over blocks.
    pub lab: Option<Lab>,
    /// Spatial spread over blocks, of L*, a*, b*.
    pub sd: [f64; 3],
    /// Mean ΔE00 of 3 mm blocks to their mean, camera noise taken off.
    pub unevenness: f64,
    /// The reading's own covariance in Lab.
    pub cov_own: Matrix,
    /// Covariance shared by all readings of the photo and correction.
    pub cov_common: Matrix,
    /// Components of the uncertainty.
    pub components: Vec<Component>,
    /// ΔE00(reading, truth) ≤ this in 95 % of cases.
    pub u95: f64,
    /// What a reader must know.
    pub flags: Vec<Flag>,
}

/// One named part of the uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Component {
    /// What it is.
    pub name: ComponentName,
    /// Whether it is common to all readings of the photo.
    pub common: bool,
    /// Standard uncertainties of L*, a*, b*.
    pub sd_lab: [f64; 3],
}

/// The closed list of components.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum ComponentName {
    /// Sensor noise and quantisation left after averaging.
    Noise,
    /// Unevenness of the coat over the sampled area.
    Unevenness,
    /// A highlight too broad to be left out.
    Glare,
    /// What is left of uneven light.
    Illumination,
    /// Residual of the fit to the references.
    Correction,
    /// The references' own uncertainty.
    Reference,
    /// What the references can't see of the tone curve.
    Tone,
    /// What the references can't see of the camera's colour.
    Camera,
    /// Local tone mapping.
    LocalTone,
    /// What scaling a saved correction to this photo's neutrals leaves open.
    Rescaling,
    /// What masked halves that serve as references may all have moved together.
    Drift,
}

/// What was fitted to one photo: everything needed to correct any linear RGB of it, and its figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// Which kind.
    pub kind: CorrectionKind,
    /// The references that were used, with how well each fits.
    pub references: Vec<UsedReference>,
    /// Mean leave-one-out ΔE00, where there are enough references. Tone curve and light are those of all references.
    pub leave_one_out: Option<f64>,
    /// Mean ΔE00 of the same references with the neutrals alone.
    pub neutral_alone: Option<f64>,
    /// The tone curve that is undone first.
    pub tone: ToneCurve,
    /// The light that is evened out next.
    pub light: LightField,
    /// What the photo shows of local tone mapping; none where too little substrate could show it, or the file holds linear values.
    pub local_tone: Option<LocalTone>,
    /// From evened linear RGB to XYZ.
    pub map: ColourMap,
    /// Where tone curve and map come from, if from another photo.
    pub saved: Option<UsedSaved>,
    /// How the masked halves as a whole stand to what never was outdoors; none where too few masked halves are references.
    pub drift: Option<Drift>,
}

impl Correction {
    /// XYZ D50 of a linear RGB value of the photo (0–1 of its encoding) at a place in panel millimetres.
    #[must_use]
    pub fn xyz_at(&self, linear_rgb: [f64; 3], panel_mm: [f64; 2]) -> Xyz {
        let light = self.light.at(panel_mm);
        self.map
            .xyz([0, 1, 2].map(|c| self.tone.undo(linear_rgb[c]) / light[c]))
    }
}

/// A reference and how the correction sees it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UsedReference {
    /// The reference.
    pub reference: Reference,
    /// The colour that it is taken to have by now, where that is another than was known: the map was fitted to it.
    pub taken_as: Option<Lab>,
    /// ΔE00 of its corrected colour to the one that it is taken to have.
    pub residual: f64,
    /// The same under the correction fitted without it, where there are enough others.
    pub left_out: Option<f64>,
    /// Weight in the fit: 1 fits in, 0 was rejected.
    pub weight: f64,
    /// What the photo's stated references alone make of it, where it is known from before any sun: each photo's own word on its colour, in its own
    /// light and by its own camera.
    pub alone: Option<Lab>,
    /// L*, a*, b* that were added to the readings of both halves of its patch, where it is a masked half: what the correction fitted without it
    /// left of it, times its weight.
    pub put_right: Option<[f64; 3]>,
}

/// How to correct.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Whether a tone curve is sought.
    pub tone: Tone,
}

/// A corrected photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// What was fitted.
    pub correction: Correction,
    /// One a region of `Samples::patches`, in that order.
    pub readings: Vec<Corrected>,
    /// What the fit leaves to other photos; none where the references are too few, or it came from another photo itself.
    pub portable: Option<Portable>,
}

/// What is given beside the photo. The default is nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Given<'a> {
    /// A correction that was fitted to another photo, used instead of fitting one.
    pub saved: Option<Carried<'a>>,
    /// Samples of a blank in the same pose and light, taken at the same places: they show how the light falls.
    pub blank: Option<&'a Samples>,
}

/// Fits a correction to the references and reads every patch with it.
///
/// # Errors
///
/// If no reference is usable (none there, clipped, almost black, none that balances the channels), if two neutrals
/// contradict each other, or if the known colours don't fit the photo.
pub fn correct(
    samples: &Samples,
    references: &[Reference],
    options: &Options,
) -> Result<Outcome, CorrectError> {
    correct_given(samples, references, options, &Given::default())
}

/// As [`correct`], with what is given beside the photo.
///
/// # Errors
///
/// As [`correct`], and if the blank or the saved correction doesn't fit the photo.
pub fn correct_given(
    samples: &Samples,
    references: &[Reference],
    options: &Options,
    given: &Given<'_>,
) -> Result<Outcome, CorrectError> {
    if let Some(blank) = given.blank {
        blank::check(blank)?;
    }
    let observed = observe::observe(samples, references)?;
    let scene = fit::scene(samples, &observed, options, given);
    if let Some(carried) = &given.saved {
        let light = |tone: &ToneCurve| {
            fit::agreed(&scene, &observed, given, tone, scene.light(tone)).map_err(Into::into)
        };
        return carried.correct(samples, &observed, &scene, &light);
    }
    let fit::Fit {
        tone,
        light,
        sightings,
    } = fit::fit(&scene, &observed, options, given)?;
    let drift = drift::of(&scene, &sightings);
    let yellowed = drift
        .filter(|it| it.yellowing > 0.0)
        .map(|it| it.laid_on(&observed));
    let (scene, sightings) = match &yellowed {
        None => (scene, sightings),
        Some(references) => {
            let scene = scene.knowing(references);
            let sightings = scene.sightings(&tone, &light);
            (scene, sightings)
        }
    };
    let chosen = choose::choose(&scene, &sightings)?;
    let alone = fit::alone(samples, references, options, given);
    let sensor = samples.camera.is_some();
    let kind = match chosen.model {
        Model::Ridge(Terms::Linear, _) if sensor => CorrectionKind::SensorLinear,
        Model::Ridge(Terms::RootPolynomial, _) if sensor => CorrectionKind::SensorRootPolynomial,
        Model::Neutral if sensor => CorrectionKind::SensorNeutral,
        Model::Ridge(Terms::Linear, _) => CorrectionKind::Linear,
        Model::Ridge(Terms::RootPolynomial, _) => CorrectionKind::RootPolynomial,
        Model::Neutral if tone.source == ToneSource::Fitted => CorrectionKind::NeutralTone,
        Model::Neutral => CorrectionKind::Neutral,
    };
    let variants = variants(&scene, &tone, chosen.model);
    let (local_tone, locally) = scene.locally(&tone, &light, &sightings);
    let mut correction = Correction {
        kind,
        references: used(&observed, &sightings, &chosen.fitted, &alone),
        leave_one_out: chosen.left_out,
        neutral_alone: chosen.neutral,
        tone,
        light,
        local_tone,
        map: chosen.fitted.map.clone(),
        saved: None,
        drift,
    };
    let portable = Portable::of(samples, &correction, &chosen.fitted, &variants);
    let mut readings = reading::read(
        &scene,
        &sightings,
        &correction,
        &chosen.fitted,
        &variants,
        &locally,
    );
    let weights = &chosen.fitted.weights;
    let put_right = reading::own::put_right(&scene, &sightings, weights, &mut readings);
    for (it, put_right) in correction.references.iter_mut().zip(put_right) {
        it.put_right = put_right;
    }
    Ok(Outcome {
        correction,
        readings,
        portable,
    })
}

/// Corrections under the tone curves that are as likely as the best within one standard deviation.
fn variants(
    scene: &Scene<'_>,
    tone: &ToneCurve,
    model: Model,
) -> Vec<(ToneCurve, LightField, ColourMap)> {
    tone.variants()
        .into_iter()
        .filter_map(|tone| {
            let light = scene.light(&tone);
            let sightings = scene.sightings(&tone, &light);
            let (map, _) = map::fit_all(model, &scene.to_xyz, &sightings)?;
            Some((tone, light, map))
        })
        .collect()
}

fn used(
    observed: &[Observed],
    sightings: &[Sighting],
    fitted: &Fitted,
    alone: &BTreeMap<usize, Lab>,
) -> Vec<UsedReference> {
    let of_region = |it: &RegionIndex| match it {
        RegionIndex::Patch(index) => alone.get(index).copied(),
        _ => None,
    };
    observed
        .iter()
        .zip(sightings)
        .enumerate()
        .map(|(i, (it, sighting))| UsedReference {
            reference: it.reference.clone(),
            taken_as: (sighting.lab != it.reference.lab).then_some(sighting.lab),
            residual: difference::delta_e_2000(fitted.map.lab(sighting.rgb), sighting.lab),
            left_out: fitted.left_out[i],
            weight: fitted.weights[i],
            alone: (!it.reference.is_stated())
                .then(|| it.reference.regions.iter().find_map(of_region))
                .flatten(),
            put_right: None,
        })
        .collect()
}
