//! The photo of a blank that shows the light: opened once, held against each photo.

use super::Refusal;
use crate::photo::{self, Photo};
use std::path::Path;

/// A photo of the blank board, or of a plain sheet, in the pose and light of the photos that are measured.
#[derive(Debug)]
pub struct Blank {
    pub(super) photo: Photo,
}

/// What differs between a blank's photo and another.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("the blank {blank} is of another {what}: {there} there, {here} here")]
pub(super) struct Mismatch {
    blank: String,
    what: &'static str,
    there: String,
    here: String,
}

impl Mismatch {
    /// What to do next, as a full sentence.
    #[expect(clippy::unused_self, reason = "as every error of a stage")]
    pub(super) fn hint(&self) -> &'static str {
        "Photograph the blank with the same camera, lens and settings, from the same place; or leave --blank out."
    }
}

impl Blank {
    /// Reads the photo.
    ///
    /// # Errors
    ///
    /// If it can't be read.
    pub fn open(path: &Path, options: &photo::Options) -> Result<Self, Refusal> {
        Photo::open(path, options)
            .map(|photo| Self { photo })
            .map_err(|it| Refusal::new(path, &it.problem, it.hint()))
    }

    /// SHA-256 of its bytes, lower-case hexadecimal.
    #[must_use]
    pub fn sha256(&self) -> &str {
        &self.photo.sha256
    }

    /// Whether it can have been taken in the pose of another photo: nothing that both of them state may differ.
    pub(super) fn goes_with(&self, other: &Photo) -> Result<(), Mismatch> {
        let there = &self.photo;
        let mismatch = |what, one: String, two: String| {
            Err(Mismatch {
                blank: there.path.display().to_string(),
                what,
                there: one,
                here: two,
            })
        };
        let size = |it: &Photo| format!("{} × {} pixels", it.width, it.height);
        if (there.width, there.height) != (other.width, other.height) {
            return mismatch("size", size(there), size(other));
        }
        if there.encoding.source != other.encoding.source
            || (there.encoding.to_xyz - other.encoding.to_xyz).amax() > 1e-6
        {
            let name = |it: &Photo| it.encoding.name.clone();
            return mismatch("colour encoding", name(there), name(other));
        }
        let (one, two) = (&there.metadata, &other.metadata);
        let number = |it: Option<f64>| it.map(|it| it.to_string());
        for (what, one, two) in [
            ("camera", one.camera.clone(), two.camera.clone()),
            ("lens", one.lens.clone(), two.lens.clone()),
            (
                "focal length",
                number(one.focal_35mm),
                number(two.focal_35mm),
            ),
            (
                "digital zoom",
                number(one.digital_zoom),
                number(two.digital_zoom),
            ),
        ] {
            if let (Some(one), Some(two)) = (one, two)
                && one != two
            {
                return mismatch(what, one, two);
            }
        }
        Ok(())
    }
}
