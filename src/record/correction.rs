//! How a photo's colours were corrected, with all figures: enough to do it again.

use super::round::{covariance, significant, six};
use crate::correct::{
    ColourMap, Correction, CorrectionKind, Drift, Knot, LightField, Local, LocalTone, Terms,
    ToneCurve, ToneSource, UsedReference, UsedSaved,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What was fitted to the photo, with its figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CorrectionEntry {
    /// Which kind.
    pub kind: CorrectionKind,
    /// The references that were used.
    pub references: Vec<ReferenceEntry>,
    /// Mean leave-one-out ΔE00 of the references; null where they are too few.
    pub leave_one_out: Option<f64>,
    /// The same with the neutral references alone.
    pub neutral_alone: Option<f64>,
    /// The tone curve that was undone first.
    pub tone: ToneEntry,
    /// The light that was evened out next.
    pub light: LightEntry,
    /// What the photo shows of local tone mapping; null where nothing could show it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub local_tone: Option<LocalToneEntry>,
    /// From evened linear RGB to XYZ.
    pub map: ColourMapEntry,
    /// Where tone curve and map come from, if from another photo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saved: Option<SavedEntry>,
    /// How the masked halves as a whole stand to what never was outdoors, where they serve as references.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drift: Option<DriftEntry>,
}

/// How far all masked halves moved together since dose 0, as the cards show it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DriftEntry {
    /// Change of L*, a*, b*.
    pub lab: [f64; 3],
    /// Its covariance.
    pub covariance: [[f64; 3]; 3],
    /// Of the change of b*, what the masked halves were taken to have yellowed by; none where chance explains what is seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub yellowing: Option<f64>,
}

/// A correction that was fitted to another photo and scaled to this one's neutrals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SavedEntry {
    /// What had been fitted.
    pub kind: CorrectionKind,
    /// SHA-256 of the photo that it was fitted to, lower-case hexadecimal.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub photo_sha256: String,
    /// Maker and model of the camera that it was fitted for; null when not known.
    pub camera: Option<String>,
    /// When that photo was taken, as the camera wrote it; null when not known.
    pub taken: Option<String>,
    /// Mean leave-one-out ΔE00 of the references in that photo.
    pub leave_one_out: f64,
    /// Root mean square of the same, as it enters the uncertainty of this photo's readings.
    pub left_out_rms: f64,
    /// How far this photo's light is from that one's: logs of red over green and of blue over green, in quadrature.
    pub light_apart: f64,
    /// What speaks against it and was overruled, in words.
    pub overruled: Vec<String>,
}

/// A region whose colour was known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReferenceEntry {
    /// Where it comes from.
    pub name: String,
    /// Its stated colour: CIELAB L*, a*, b*, D50, 2° observer.
    pub lab: [f64; 3],
    /// Covariance of the stated colour.
    pub covariance: [[f64; 3]; 3],
    /// L*, a*, b* that it was taken to have by now, where that is another than what is stated: as yellow as its coat seems to have become.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_as: Option<[f64; 3]>,
    /// ΔE00 of its corrected colour to the one that it was taken to have.
    pub residual: f64,
    /// The same under the correction fitted without it; null where there are too few others.
    pub left_out: Option<f64>,
    /// Weight in the fit: 1 fits in, 0 was rejected.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub weight: f64,
    /// L*, a*, b* of it by the photo's stated references alone, where it is known from before any sun.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alone: Option<[f64; 3]>,
    /// L*, a*, b* that were added to the readings of both halves of its patch, where it is a masked half: what the correction fitted without it
    /// left of it, times its weight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_right: Option<[f64; 3]>,
}

/// An S-shape in encoded values, undone: with `v` the sRGB-encoded value and `logit v = ln v/(1 − v)`, the light is `decode(u)`,
/// where `logit u = (1 − contrast) · logit v + shift`; below 0.02 and above 0.98 a straight line to 0 and 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToneEntry {
    /// Depth of the S-shape; 0 changes nothing.
    pub contrast: f64,
    /// Shift of the middle tones: positive where the camera darkened them; 0 changes nothing.
    pub shift: f64,
    /// Where the two come from.
    pub source: ToneSourceEntry,
    /// Covariance of contrast and shift.
    pub covariance: [[f64; 2]; 2],
}

/// Where a tone curve comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ToneSourceEntry {
    /// The file's encoding was taken at its word.
    Encoding,
    /// What phones usually do: there were too few neutrals to see it.
    Assumed,
    /// Fitted to the neutrals.
    Fitted,
}

/// Light relative to that on the references: a polynomial of log light over panel millimetres.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LightEntry {
    /// Order of the fall-off: 0 (even), 1 or 2.
    pub order: usize,
    /// Order of the change of the light's colour: 0 or 1.
    pub colour_order: usize,
    /// Where the polynomial has its origin, panel millimetres.
    pub centre: [f64; 2],
    /// Millimetres per unit of the polynomial.
    pub scale: f64,
    /// Coefficients of x, y, x², xy, y² of the log of red, green and blue light.
    pub coefficients: [[f64; 5]; 3],
    /// The polynomial's terms averaged over the references, where the light is 1.
    pub origin: [f64; 5],
    /// Robust standard deviation of what is left between stretches of substrate, in log light.
    pub residual: f64,
    /// Covariance of the coefficients of the fall-off.
    pub covariance: [[f64; 5]; 5],
    /// How many stretches of substrate it was fitted to; 0 where only slopes within patches showed it.
    pub stretches: usize,
    /// Whether anything showed it at all.
    pub seen: bool,
    /// What a photo of a blank shows beside the polynomial.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub local: Option<LocalEntry>,
}

/// Local tone mapping: light that a surface loses among pale surroundings and gains among dark ones. Where it is seen, it is part of the light
/// that was evened out (`light.local`).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LocalToneEntry {
    /// Log light lost with each unit of log light of the surroundings, as substrate, patches and cards show it.
    pub strength: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Log light between the palest and the darkest surroundings.
    pub range: f64,
    /// Whether it is there beyond doubt, and so was evened out.
    pub seen: bool,
}

/// Log light beside the polynomial: with `w = (1 − d²/reach²)²` for knots nearer than `reach`, the mean `Σ w log / (Σ w + 0.1)`, less
/// `origin`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LocalEntry {
    /// How far a knot reaches, millimetres.
    pub reach: f64,
    /// The mean over the references, of the log of red, green and blue light.
    pub origin: [f64; 3],
    /// Where the blank was seen.
    pub knots: Vec<KnotEntry>,
}

/// A place on a blank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KnotEntry {
    /// Panel millimetres.
    pub mm: [f64; 2],
    /// What the polynomial leaves there of the log of red, green and blue light.
    pub log: [f64; 3],
}

/// A map from evened linear RGB to XYZ relative to D50, Y = 1 for the perfect diffuser.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ColourMapEntry {
    /// Balances the channels; the terms are built from the balanced values.
    pub gains: [f64; 3],
    /// What the map is linear in.
    pub terms: TermsEntry,
    /// X, Y and Z a term.
    pub coefficients: Vec<[f64; 3]>,
}

/// What a map is linear in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TermsEntry {
    /// R, G, B.
    Linear,
    /// R, G, B, √RG, √GB, √RB.
    RootPolynomial,
}

// Every field by name in what follows: a new one can't be forgotten.

impl From<&Correction> for CorrectionEntry {
    fn from(correction: &Correction) -> Self {
        let Correction {
            kind,
            references,
            leave_one_out,
            neutral_alone,
            tone,
            light,
            local_tone,
            map,
            saved,
            drift,
        } = correction;
        Self {
            kind: *kind,
            references: references.iter().map(ReferenceEntry::from).collect(),
            leave_one_out: leave_one_out.map(six),
            neutral_alone: neutral_alone.map(six),
            tone: tone.into(),
            light: light.into(),
            local_tone: local_tone.as_ref().map(LocalToneEntry::from),
            map: map.into(),
            saved: saved.as_ref().map(SavedEntry::from),
            drift: drift.as_ref().map(DriftEntry::from),
        }
    }
}

impl From<&Drift> for DriftEntry {
    fn from(drift: &Drift) -> Self {
        Self {
            lab: drift.lab.map(six),
            covariance: covariance(&drift.covariance),
            yellowing: (drift.yellowing > 0.0).then(|| six(drift.yellowing)),
        }
    }
}

impl From<&UsedSaved> for SavedEntry {
    fn from(used: &UsedSaved) -> Self {
        let UsedSaved {
            kind,
            sha256,
            camera,
            taken,
            leave_one_out,
            left_out_square,
            light_apart,
            overruled,
            // It is among what was overruled.
            other_camera: _,
        } = used;
        Self {
            kind: *kind,
            photo_sha256: sha256.clone(),
            camera: camera.clone(),
            taken: taken.clone(),
            leave_one_out: six(*leave_one_out),
            left_out_rms: six(left_out_square.sqrt()),
            light_apart: six(*light_apart),
            overruled: overruled.clone(),
        }
    }
}

impl From<&UsedReference> for ReferenceEntry {
    fn from(used: &UsedReference) -> Self {
        let UsedReference {
            reference,
            taken_as,
            residual,
            left_out,
            weight,
            alone,
            put_right,
        } = used;
        let lab = reference.lab;
        Self {
            name: reference.name.clone(),
            lab: [lab.l, lab.a, lab.b].map(six),
            covariance: covariance(&reference.covariance),
            taken_as: taken_as.map(|it| [it.l, it.a, it.b].map(six)),
            residual: six(*residual),
            left_out: left_out.map(six),
            weight: six(*weight),
            alone: alone.map(|it| [it.l, it.a, it.b].map(six)),
            put_right: put_right.map(|it| it.map(six)),
        }
    }
}

impl From<&ToneCurve> for ToneEntry {
    fn from(tone: &ToneCurve) -> Self {
        let ToneCurve {
            contrast,
            shift,
            source,
            covariance,
        } = tone;
        Self {
            contrast: significant(*contrast),
            shift: significant(*shift),
            source: match source {
                ToneSource::Encoding => ToneSourceEntry::Encoding,
                ToneSource::Assumed => ToneSourceEntry::Assumed,
                ToneSource::Fitted => ToneSourceEntry::Fitted,
            },
            covariance: [0, 1]
                .map(|row| [0, 1].map(|column| significant(covariance[(row, column)]))),
        }
    }
}

impl From<&LightField> for LightEntry {
    fn from(light: &LightField) -> Self {
        let LightField {
            order,
            colour_order,
            centre,
            scale,
            coefficients,
            origin,
            residual,
            covariance,
            stretches,
            seen,
            local,
            // It is the correction's own.
            local_tone: _,
        } = light;
        Self {
            order: *order,
            colour_order: *colour_order,
            centre: centre.map(significant),
            scale: significant(*scale),
            coefficients: coefficients.map(|it| it.map(significant)),
            origin: origin.map(significant),
            residual: significant(*residual),
            covariance: covariance.map(|it| it.map(significant)),
            stretches: *stretches,
            seen: *seen,
            local: (!local.knots.is_empty()).then(|| local.into()),
        }
    }
}

impl From<&Local> for LocalEntry {
    fn from(local: &Local) -> Self {
        let Local {
            knots,
            reach,
            origin,
        } = local;
        let knot = |Knot { mm, log }: &Knot| KnotEntry {
            mm: mm.map(six),
            log: log.map(six),
        };
        Self {
            reach: significant(*reach),
            origin: origin.map(six),
            knots: knots.iter().map(knot).collect(),
        }
    }
}

impl From<&LocalTone> for LocalToneEntry {
    fn from(it: &LocalTone) -> Self {
        let LocalTone {
            strength,
            sd,
            range,
        } = it;
        Self {
            strength: significant(*strength),
            sd: significant(*sd),
            range: significant(*range),
            seen: it.is_seen(),
        }
    }
}

impl From<&ColourMap> for ColourMapEntry {
    fn from(map: &ColourMap) -> Self {
        let ColourMap {
            gains,
            terms,
            coefficients,
        } = map;
        Self {
            gains: gains.map(significant),
            terms: match terms {
                Terms::Linear => TermsEntry::Linear,
                Terms::RootPolynomial => TermsEntry::RootPolynomial,
            },
            coefficients: coefficients.iter().map(|it| it.map(significant)).collect(),
        }
    }
}
