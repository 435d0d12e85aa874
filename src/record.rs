//! The record: readings with their uncertainty and the history of the photo that they come from.
//!
//! Takes what the earlier stages found in one photo ([`of_photo`]) and gives a [`PhotoRecord`]: plain numbers and words,
//! rounded to fewer digits than were computed, without a value that is not finite. Many of them become a [`Record`],
//! which is written as JSON ([`json`]) and as a view for people in CSV ([`csv`]). The JSON is what later stages read;
//! its form is `src/record/schema.json`, made from these types ([`schema`](mod@schema)).

mod build;
mod correction;
pub mod csv;
mod exposure;
pub mod json;
mod panel;
mod photo;
mod reading;
mod round;
pub mod saved;
pub mod schema;

pub use build::{Found, of_photo};
pub use correction::{
    ColourMapEntry, CorrectionEntry, DriftEntry, KnotEntry, LightEntry, LocalEntry, ReferenceEntry,
    SavedEntry, TermsEntry, ToneEntry, ToneSourceEntry,
};
pub use exposure::{Dose, ExposureEntry, ExposureKind, Fact, HOURS};
pub use panel::{
    CardEntry, ControlEntry, GridEntry, KnownEntry, PanelEntry, PatchEntry, PigmentEntry,
    PlaceEntry, RectEntry, ReflectanceEntry, SideEntry,
};
pub use photo::{
    CardMapEntry, EncodingEntry, LocationEntry, MapEntry, PhotoEntry, Program, RadialEntry,
    Settings,
};
pub use reading::{Half, Reading};
pub(crate) use round::significant;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Readings and the photos that they come from.
///
/// A `.json` file is one such object. A `.jsonl` file is one such object a line, each with exactly one photo and all
/// of its readings, so that lines can be appended, cut out and put together without looking at the others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// The number of this form.
    pub schema: SchemaNumber,
    /// Photos, in the order of the bytes of their paths.
    pub photos: Vec<PhotoEntry>,
    /// Readings: in the order of the photos, then of the panel's patches, masked before exposed.
    pub readings: Vec<Reading>,
}

/// One photo and all of its readings.
#[derive(Clone, Debug, PartialEq)]
pub struct PhotoRecord {
    /// The photo and its history.
    pub photo: PhotoEntry,
    /// Its readings, in panel order.
    pub readings: Vec<Reading>,
}

impl PhotoRecord {
    /// Sets the path, in the photo and its readings: the same bytes may be given by another name.
    pub fn rename(&mut self, path: &str) {
        path.clone_into(&mut self.photo.path);
        for reading in &mut self.readings {
            path.clone_into(&mut reading.photo);
        }
    }
}

impl Record {
    /// Puts photos together, in the order of the bytes of their paths.
    #[must_use]
    pub fn new(mut photos: Vec<PhotoRecord>) -> Self {
        photos.sort_by(|a, b| {
            (a.photo.path.as_bytes(), &a.photo.sha256)
                .cmp(&(b.photo.path.as_bytes(), &b.photo.sha256))
        });
        let mut record = Self {
            schema: SchemaNumber,
            photos: Vec::with_capacity(photos.len()),
            readings: Vec::new(),
        };
        for it in photos {
            record.photos.push(it.photo);
            record.readings.extend(it.readings);
        }
        record
    }
}

/// The number of the record's form: 1, and an error on reading any other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SchemaNumber;

impl SchemaNumber {
    /// The number that this program writes and reads.
    pub const NUMBER: u64 = 1;
}

impl Serialize for SchemaNumber {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(Self::NUMBER)
    }
}

impl<'de> Deserialize<'de> for SchemaNumber {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match u64::deserialize(deserializer)? {
            Self::NUMBER => Ok(Self),
            other => Err(serde::de::Error::custom(format!(
                "its schema is {other}, and this program reads {}",
                Self::NUMBER
            ))),
        }
    }
}

impl JsonSchema for SchemaNumber {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "SchemaNumber".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "integer", "const": Self::NUMBER })
    }
}
