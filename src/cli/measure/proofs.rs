//! The folder of proofs.

use super::super::failure::Failure;
use image::RgbImage;
use masstone::measure::output::{self, OutputError};
use masstone::picture;
use masstone::record::PhotoEntry;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// A folder that proofs can be written to.
#[derive(Debug)]
pub(super) struct Proofs {
    folder: PathBuf,
}

impl Proofs {
    /// Makes the folder if need be, and tries whether a file can be put there, before the long work.
    pub(super) fn open(folder: &Path) -> Result<Self, Failure> {
        std::fs::create_dir_all(folder)
            .and_then(|()| tempfile::tempfile_in(folder))
            .map_err(|it| {
                Failure::work(
                    anyhow::Error::new(it)
                        .context(format!("can't write proofs to {}", folder.display())),
                    "Name a folder where you may write.",
                )
            })?;
        Ok(Self {
            folder: folder.to_owned(),
        })
    }

    /// Where the proof of a photo is. The photo's hash is in the name: a picture never stands for another photo of the same
    /// name.
    fn path(&self, photo: &PhotoEntry) -> PathBuf {
        let mut name: OsString = Path::new(&photo.path)
            .file_stem()
            .unwrap_or_default()
            .to_owned();
        name.push(format!(
            "-{}.jpg",
            photo.sha256.get(..8).unwrap_or_default()
        ));
        self.folder.join(name)
    }

    /// Whether a photo has its proof.
    pub(super) fn has(&self, photo: &PhotoEntry) -> bool {
        self.path(photo).is_file()
    }

    /// Writes the proof of a photo: beside first, then renamed.
    pub(super) fn write(&self, photo: &PhotoEntry, proof: &RgbImage) -> Result<(), OutputError> {
        output::replace(&self.path(photo), |out| picture::write_jpeg(proof, out))
    }
}
