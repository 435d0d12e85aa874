//! A photo and its history: everything that bears on the trust in its readings.

use super::correction::CorrectionEntry;
use super::exposure::{Dose, ExposureEntry};
use super::panel::PanelEntry;
use super::round::{rows, significant, six};
use crate::correct::Tone;
use crate::geometry::PlaneMap;
use crate::locate::Located;
use crate::photo::{EncodingSource, Metadata, Orientation};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One measured photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoEntry {
    /// SHA-256 of the file's bytes, lower-case hexadecimal.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub sha256: String,
    /// The path as given; for a folder or a pattern, the path of the file below it.
    pub path: String,
    /// What measured it.
    pub program: Program,
    /// Hours of exposure before the photo, ≥ 0; null when unknown.
    #[schemars(range(min = 0.0))]
    pub hours: Option<f64>,
    /// Radiant exposure before the photo, where that is what the series counts; its unit is in `dose_kind`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub dose: Option<f64>,
    /// What `dose` counts: its unit and band, such as `MJ/m2 UV 295-385 nm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dose_kind: Option<String>,
    /// How the board was exposed, where a series file states it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exposure: Option<ExposureEntry>,
    /// What the user asked for.
    pub settings: Settings,
    /// Stored width and height in pixels.
    pub size: [usize; 2],
    /// The orientation tag, 1–8; 1 is as stored.
    pub orientation: Orientation,
    /// How the pixels are encoded.
    pub encoding: EncodingEntry,
    /// What the camera says of the shot.
    pub metadata: Metadata,
    /// The whole panel as measured, with its cards.
    pub panel: PanelEntry,
    /// Where the panel and the cards were found, and how surely.
    pub location: LocationEntry,
    /// How its colours were corrected.
    pub correction: CorrectionEntry,
    /// What was found doubtful, in words.
    pub doubts: Vec<String>,
}

impl PhotoEntry {
    /// How much exposure came before it.
    #[must_use]
    pub fn stated_dose(&self) -> Dose {
        Dose {
            hours: self.hours,
            dose: self.dose,
            dose_kind: self.dose_kind.clone(),
        }
    }
}

/// What wrote the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Program {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}

impl Program {
    /// This program.
    #[must_use]
    pub fn this() -> Self {
        Self {
            name: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        }
    }
}

/// What the user asked for when this photo was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// The photo was said to be upright as displayed.
    pub upright: bool,
    /// The file's values were said to be linear.
    pub linear: bool,
    /// Whether a tone curve beyond the file's encoding was sought.
    #[schemars(with = "ToneWord")]
    pub tone: Tone,
    /// Corners of the patch grid given by hand: from A1's, clockwise as on the panel, in stored pixels.
    pub corners: Option<[[f64; 2]; 4]>,
    /// SHA-256 of the file of a saved correction that was used, lower-case hexadecimal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub correction: Option<String>,
    /// The saved correction was to be used for another camera or light all the same.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub force_correction: bool,
    /// SHA-256 of the colours that masked halves had before any sun and that served as references, lower-case hexadecimal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub masked: Option<String>,
    /// SHA-256 of the photo of a blank that showed the light, lower-case hexadecimal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub blank: Option<String>,
}

/// The words for [`Tone`] in the schema.
#[derive(JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(dead_code, reason = "only its schema is used")]
enum ToneWord {
    /// One was fitted or assumed, as the references allow.
    Auto,
    /// The file's encoding was taken at its word.
    None,
}

/// How the pixels are encoded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EncodingEntry {
    /// Where the linearisation comes from.
    pub source: EncodingSource,
    /// The profile's description, or what was assumed.
    pub name: String,
}

/// Where everything lies, and how surely.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LocationEntry {
    /// Panel millimetres to stored pixels.
    pub map: MapEntry,
    /// The cards that were found.
    pub cards: Vec<CardMapEntry>,
    /// Root mean square distance of found outlines to the layout's, stored pixels.
    pub outline_rms_px: f64,
    /// Share of the patches whose outline was seen, 0–1.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub seen: f64,
    /// Score of the best rival way of laying the layout on the photo over that of the accepted one, 0–1.
    pub rival: f64,
    /// What decided which way is up, in words.
    pub witnesses: Vec<String>,
    /// Whether the corners came from the user.
    pub by_hand: bool,
}

/// A map from millimetres to stored pixels.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MapEntry {
    /// Homogeneous map to undistorted pixels, row by row.
    pub homography: [[f64; 3]; 3],
    /// The lens, if a term for it helped: a point at `r · scale` pixels from `centre` is seen at `r (1 + k1 r²) · scale`.
    pub radial: Option<RadialEntry>,
}

/// One radial term of lens distortion.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RadialEntry {
    /// Centre in stored pixels.
    pub centre: [f64; 2],
    /// Pixels per unit of radius.
    pub scale: f64,
    /// The coefficient; negative is barrel.
    pub k1: f64,
}

/// Where a card lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CardMapEntry {
    /// Which of the panel's cards, from zero.
    pub card: usize,
    /// Card millimetres (from its own A1) to stored pixels.
    pub map: MapEntry,
}

impl From<&Located> for LocationEntry {
    fn from(located: &Located) -> Self {
        Self {
            map: (&located.panel).into(),
            cards: located
                .cards
                .iter()
                .map(|it| CardMapEntry {
                    card: it.index,
                    map: (&it.map).into(),
                })
                .collect(),
            outline_rms_px: six(located.quality.outline_rms_px),
            seen: six(located.quality.seen),
            rival: six(located.quality.rival),
            witnesses: located.witnesses.clone(),
            by_hand: located.by_hand,
        }
    }
}

impl From<&PlaneMap> for MapEntry {
    fn from(map: &PlaneMap) -> Self {
        Self {
            homography: rows(&map.homography, significant),
            radial: map.radial.map(|it| RadialEntry {
                centre: it.centre.map(significant),
                scale: significant(it.scale),
                k1: significant(it.k1),
            }),
        }
    }
}
