//! The report: plain numbers and words, as the JSON file has them.

use super::kinetics::Course;
pub use crate::record::Fact;
use crate::record::{ControlEntry, Program};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The form's number.
pub const SCHEMA: u32 = 1;

/// How every colour of some boards changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Report {
    /// 1.
    pub schema: u32,
    /// What made it.
    pub program: Program,
    /// One a panel and kind of dose, by panel and kind.
    pub boards: Vec<Board>,
    /// Swatches with specimens on several boards, each over its specimens; empty where nothing is to be pooled.
    pub swatches: Vec<Swatch>,
    /// What a reader must know of all of it.
    pub notes: Vec<String>,
}

/// One board's exposures, of one kind of dose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Board {
    /// The panel's id.
    pub panel: String,
    /// For people.
    pub title: Option<String>,
    /// What the dose counts, with its unit: `hours`, or as the series file states it, such as `MJ/m2 UV 295-385 nm`.
    pub dose_kind: String,
    /// How it was exposed, a line a fact (site, tilt, glass, lamp with its cycle …), as the series file states it.
    pub conditions: Vec<Fact>,
    /// By dose, the first being 0 if the board was photographed before any sun.
    pub exposures: Vec<Exposure>,
    /// In panel order; patches without a mask are not in it.
    pub patches: Vec<Patch>,
    /// How many patches with a mask were not asked for, and are not in it either.
    #[serde(default)]
    pub not_shown: usize,
    /// What is doubtful, or left out, of this board: in words.
    pub notes: Vec<String>,
}

/// The photos of one dose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Exposure {
    /// In the unit of the board's `dose_kind`.
    pub dose: f64,
    /// Hours, where they are known.
    pub hours: Option<f64>,
    /// Paths of its photos.
    pub photos: Vec<String>,
}

/// One patch through all exposures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Patch {
    /// Its id.
    pub patch: String,
    /// Name for people.
    pub name: Option<String>,
    /// What tints it, for people: `PR101 12`, or what kind of control it is; empty where nobody said.
    pub made_of: String,
    /// What kind of control it is; none where it is a colour of the range.
    pub control: Option<ControlEntry>,
    /// The masked half's colour at dose 0 (or the earliest), CIELAB L* a* b*, D50/2°: what changes are changes of.
    pub start: Option<[f64; 3]>,
    /// The same for a screen.
    pub start_hex: Option<String>,
    /// By dose, without dose 0.
    pub changes: Vec<Change>,
    /// Its course over the dose; none with fewer than two exposures after zero.
    pub course: Option<Course>,
}

/// The change of one patch at one dose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Dose in the board's unit.
    pub dose: f64,
    /// Hours, where they are known.
    pub hours: Option<f64>,
    /// Photos that it is from.
    pub photos: usize,
    /// Change of L*; positive is lighter.
    #[serde(rename = "dL")]
    pub dl: f64,
    /// Change of a*.
    pub da: f64,
    /// Change of b*.
    pub db: f64,
    /// Change of chroma.
    #[serde(rename = "dC")]
    pub dc: f64,
    /// Hue difference ΔH*ab, signed: positive is counter-clockwise in a*b*.
    #[serde(rename = "dH")]
    pub dh: f64,
    /// ΔE*ab.
    #[serde(rename = "dEab")]
    pub de_ab: f64,
    /// ΔE00.
    #[serde(rename = "dE00")]
    pub de_00: f64,
    /// |ΔE00 − its true value| is at most this in 95 % of cases.
    #[serde(rename = "U95_dE00")]
    pub u95_de_00: f64,
    /// Where the true ΔE00 lies, 95 %: it could have shown what was observed. From 0 up where no change could.
    #[serde(rename = "interval_dE00")]
    pub interval_de_00: [f64; 2],
    /// ΔE00 that noise alone stays below in 95 % of cases: smaller changes can't be seen here.
    pub detection_limit: f64,
    /// Whether the change is told from none (three-dimensional test at 5 %).
    pub significant: bool,
    /// Probability of a change as large by noise alone.
    pub p: f64,
    /// Covariance of the change in L*, a*, b*, row by row, what the exposures share included.
    pub covariance: [[f64; 3]; 3],
    /// Direction in words (`lighter`, `yellower` …); empty unless significant.
    pub words: Vec<String>,
    /// Grey-scale grade for change in colour: `5`, `4-5`, `4` … `1`.
    pub grade: String,
    /// Band of ΔE*ab with the limits of ASTM D4303, `I` to `V`: a band, not a rating.
    pub band: String,
    /// Change of the yellowness index ASTM E313 (D65/2°), for a coated white only.
    pub yellowness: Option<f64>,
    /// Why there is no yellowness index; empty where there is one.
    pub why_no_yellowness: String,
    /// Change of unevenness, ΔE00, against that of the masked half.
    pub unevenness: Option<f64>,
    /// What of the change the coating alone would do, at most; none where the panel has no control on an inert white.
    pub parts: Option<Parts>,
    /// What a reader must know.
    pub flags: Vec<FadeFlag>,
}

/// A change taken apart: what the coating alone would do to this colour, an upper bound, and the rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Parts {
    /// Change in L*, a*, b* if only the coating had changed as on the inert white, and all of it lay over the pigment.
    pub coating: [f64; 3],
    /// The rest of the change in L*, a*, b*: the pigment's, and on bare wood the substrate's.
    pub rest: [f64; 3],
    /// ΔE00 of the coating's part.
    pub coating_de_00: f64,
    /// ΔE00 of the rest.
    pub rest_de_00: f64,
}

/// The closed list of flags of a change.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum FadeFlag {
    /// No photo before any sun: the halves' own difference is in the uncertainty.
    NoStart,
    /// The masked half moved on its own: the change is against its colour at dose 0, by way of the board's other masked halves.
    MaskedMoved,
    /// All masked halves drifted against the card: the change is against the masked half.
    CommonDrift,
    /// No other masked half carries the scale: a photo's own correction alone.
    OwnScaleOnly,
    /// A reading behind it is clipped at the bottom: its colour is beyond what the photo's file can hold.
    DoubtfulReading,
    /// Only one photo of this dose or of dose 0.
    SinglePhoto,
}

impl FadeFlag {
    /// As written in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::NoStart => "no-start",
            Self::MaskedMoved => "masked-moved",
            Self::CommonDrift => "common-drift",
            Self::OwnScaleOnly => "own-scale-only",
            Self::DoubtfulReading => "doubtful-reading",
            Self::SinglePhoto => "single-photo",
        }
    }
}

/// A swatch over its specimens, at one dose of one kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Swatch {
    /// What was coated, for people.
    pub swatch: String,
    /// What the dose counts.
    pub dose_kind: String,
    /// `panel patch` of each specimen.
    pub specimens: Vec<String>,
    /// Mean change over the specimens; its covariance holds the spread between them.
    pub changes: Vec<Change>,
    /// Its course.
    pub course: Option<Course>,
}
