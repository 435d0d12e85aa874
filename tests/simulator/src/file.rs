//! Files: JPEG, PNG, TIFF with profile and metadata, the panel file, card files, the truth.

use crate::dng::DngSpec;
use crate::metadata::exif_block;
use crate::profile::{ProfileVersion, icc_profile};
use crate::raw::Cfa;
use crate::render::{Pixels, Rendered};
use crate::scene::Scene;
use crate::spec::SceneSpec;
use crate::truth::Truth;
use image::{ExtendedColorType, ImageEncoder, codecs::png::PngEncoder};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use std::fs;
use std::io::{self, Cursor};
use std::path::Path;
use tiff::encoder::{TiffEncoder, colortype};
use tiff::tags::Tag;

/// Kinds of picture files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// JPEG, 8 bits, as the camera is set.
    Jpeg,
    /// PNG, 8 bits.
    Png8,
    /// PNG, 16 bits.
    Png16,
    /// TIFF, 8 bits.
    Tiff8,
    /// TIFF, 16 bits.
    Tiff16,
    /// DNG, as a phone writes it ([`DngSpec::phone`]).
    Dng,
}

impl FileKind {
    fn is_16(self) -> bool {
        matches!(self, Self::Png16 | Self::Tiff16)
    }
}

/// A photo that was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// As what.
    pub kind: FileKind,
    /// What is true of the picture that a reader shows.
    pub truth: Truth,
}

impl Scene {
    /// Renders at a stored size and writes the photo.
    ///
    /// # Errors
    ///
    /// If the file cannot be written.
    pub fn write(
        &self,
        path: &Path,
        kind: FileKind,
        [width, height]: [u32; 2],
    ) -> io::Result<Written> {
        let (bytes, truth) = if kind == FileKind::Dng {
            let image = self.render_sensor(width, height, Cfa::of(self.spec.camera.id));
            let spec = DngSpec::phone();
            (image.encode(&spec)?, image.truth_in(&spec))
        } else {
            let rendered = if kind.is_16() {
                self.render_16(width, height)
            } else {
                self.render(width, height)
            };
            (rendered.encode(kind)?, rendered.truth)
        };
        fs::write(path, bytes)?;
        Ok(Written { kind, truth })
    }

    /// Writes the panel file as `panel.toml` in a folder, with a file for each card that it names.
    ///
    /// # Errors
    ///
    /// If a file cannot be written.
    pub fn write_panel(&self, folder: &Path) -> io::Result<()> {
        for card in &self.spec.layout.cards {
            fs::write(
                folder.join(format!("{}.toml", card.kind.name())),
                card.kind.toml(),
            )?;
        }
        fs::write(folder.join("panel.toml"), self.panel_toml())
    }
}

impl SceneSpec {
    fn profile(&self) -> Option<Vec<u8>> {
        let camera = &self.camera;
        let version = if camera.id.number.is_multiple_of(2) {
            ProfileVersion::V4
        } else {
            ProfileVersion::V2
        };
        camera
            .embed_profile
            .then(|| icc_profile(camera.space, camera.encoding, version))
    }
}

impl Rendered {
    /// The bytes of a file of this kind. Pixels of the other depth are converted.
    ///
    /// # Errors
    ///
    /// If the encoder refuses, such as for a JPEG of more than 65,535 pixels a side; and for a DNG, which is not of developed
    /// pixels.
    pub fn encode(&self, kind: FileKind) -> io::Result<Vec<u8>> {
        let spec = &self.truth.spec;
        let exif = exif_block(&spec.exif, spec.camera.space, spec.tag).map_err(io::Error::other)?;
        let icc = spec.profile();
        match kind {
            FileKind::Jpeg => self.jpeg(&exif, icc.as_deref()),
            FileKind::Png8 | FileKind::Png16 => self.png(kind, exif, icc),
            FileKind::Tiff8 | FileKind::Tiff16 => self.tiff(kind, icc.as_deref()),
            FileKind::Dng => Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "a DNG holds what the sensor saw, not a developed picture: encode Scene::render_sensor",
            )),
        }
    }

    /// The pixels at 8 bits.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        match &self.pixels {
            Pixels::U8(values) => values.clone(),
            // 65535 = 257 · 255.
            Pixels::U16(values) => values
                .iter()
                .map(|it| u8::try_from((u32::from(*it) + 128) / 257).unwrap_or(255))
                .collect(),
        }
    }

    /// The pixels at 16 bits.
    #[must_use]
    pub fn words(&self) -> Vec<u16> {
        match &self.pixels {
            Pixels::U8(values) => values.iter().map(|it| u16::from(*it) * 257).collect(),
            Pixels::U16(values) => values.clone(),
        }
    }

    fn jpeg(&self, exif: &[u8], icc: Option<&[u8]>) -> io::Result<Vec<u8>> {
        let camera = &self.truth.spec.camera;
        let mut out = Vec::new();
        let mut encoder = Encoder::new(&mut out, camera.jpeg_quality);
        encoder.set_sampling_factor(if camera.jpeg_420 {
            SamplingFactor::R_4_2_0
        } else {
            SamplingFactor::R_4_4_4
        });
        encoder.set_progressive(camera.progressive);
        encoder.add_exif_metadata(exif).map_err(io::Error::other)?;
        if let Some(icc) = icc {
            encoder.add_icc_profile(icc).map_err(io::Error::other)?;
        }
        let side = |it: u32| u16::try_from(it).map_err(io::Error::other);
        encoder
            .encode(
                &self.bytes(),
                side(self.width)?,
                side(self.height)?,
                ColorType::Rgb,
            )
            .map_err(io::Error::other)?;
        Ok(out)
    }

    fn png(&self, kind: FileKind, exif: Vec<u8>, icc: Option<Vec<u8>>) -> io::Result<Vec<u8>> {
        let mut out = Vec::new();
        let mut encoder = PngEncoder::new(&mut out);
        encoder.set_exif_metadata(exif).map_err(io::Error::other)?;
        if let Some(icc) = icc {
            encoder.set_icc_profile(icc).map_err(io::Error::other)?;
        }
        let (bytes, colour) = if kind.is_16() {
            // The encoder takes 16-bit samples in native order.
            (
                self.words()
                    .iter()
                    .flat_map(|it| it.to_ne_bytes())
                    .collect(),
                ExtendedColorType::Rgb16,
            )
        } else {
            (self.bytes(), ExtendedColorType::Rgb8)
        };
        encoder
            .write_image(&bytes, self.width, self.height, colour)
            .map_err(io::Error::other)?;
        Ok(out)
    }

    fn tiff(&self, kind: FileKind, icc: Option<&[u8]>) -> io::Result<Vec<u8>> {
        let mut out = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut out).map_err(io::Error::other)?;
        let spec = &self.truth.spec;
        macro_rules! page {
            ($colour:ty, $data:expr) => {{
                let mut page = encoder
                    .new_image::<$colour>(self.width, self.height)
                    .map_err(io::Error::other)?;
                let directory = page.encoder();
                directory
                    .write_tag(Tag::Make, spec.exif.make.as_str())
                    .map_err(io::Error::other)?;
                directory
                    .write_tag(Tag::Model, spec.exif.model.as_str())
                    .map_err(io::Error::other)?;
                directory
                    .write_tag(Tag::DateTime, spec.exif.taken.as_str())
                    .map_err(io::Error::other)?;
                if let Some(tag) = spec.tag {
                    directory
                        .write_tag(Tag::Orientation, u16::from(tag))
                        .map_err(io::Error::other)?;
                }
                if let Some(icc) = icc {
                    directory
                        .write_tag(Tag::IccProfile, icc)
                        .map_err(io::Error::other)?;
                }
                page.write_data(&$data).map_err(io::Error::other)?;
            }};
        }
        if kind.is_16() {
            page!(colortype::RGB16, self.words());
        } else {
            page!(colortype::RGB8, self.bytes());
        }
        Ok(out.into_inner())
    }
}
