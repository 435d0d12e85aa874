//! Why a photo can't be taken as a measurement, and what to do about it.

use std::path::PathBuf;

/// A photo that was refused: the file and the reason.
#[derive(Debug, thiserror::Error)]
#[error("{}: {problem}", path.display())]
pub struct PhotoError {
    /// As given.
    pub path: PathBuf,
    /// What is wrong.
    pub problem: Problem,
}

impl PhotoError {
    /// What to do about it, as full sentences.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        self.problem.hint()
    }
}

/// What is wrong with a photo.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// The operating system does not give the file's bytes.
    #[error("can't be read: {0}")]
    Unreadable(std::io::Error),
    /// The path is a folder, a device or the like.
    #[error("is not a file")]
    NotAFile,
    /// Zero bytes.
    #[error("is empty (0 bytes)")]
    Empty,
    /// The content is of no picture format that is known here.
    #[error("is not a JPEG, HEIC, DNG, PNG or TIFF picture: it {found}")]
    NotAPicture {
        /// What the content looks like, as the end of a sentence with "it".
        found: &'static str,
    },
    /// A container of phones or the web that is not read.
    #[error("is {format}, which is not read")]
    OtherFormat {
        /// The format's name with its article.
        format: &'static str,
        /// What to do.
        hint: &'static str,
    },
    /// A kind of JPEG, HEIC, DNG, PNG or TIFF that is not read.
    #[error("is {what}, which is not read")]
    Variant {
        /// The kind, with its article.
        what: String,
    },
    /// Four ink channels.
    #[error("holds printing inks (CMYK), not the camera's red, green and blue")]
    Inks,
    /// One channel only.
    #[error("is a grey-scale picture; it holds no colour")]
    Grey,
    /// CIELAB values: some program has converted the photo.
    #[error("holds CIELAB values, not the camera's red, green and blue")]
    LabPicture,
    /// Some pixels are not opaque.
    #[error("has transparent pixels ({count} of them, the first at x {x}, y {y})")]
    Transparent {
        /// How many.
        count: usize,
        /// Column of the first.
        x: usize,
        /// Row of the first.
        y: usize,
    },
    /// More pixels than any camera's, or than memory should be asked for.
    #[error("claims {width} × {height} pixels; the limit is {} megapixels", MAX_PIXELS / 1_000_000)]
    TooLarge {
        /// From the header.
        width: u64,
        /// From the header.
        height: u64,
    },
    /// The file is longer than any photo.
    #[error("is {bytes} bytes long; the limit is {MAX_FILE_BYTES}")]
    TooManyBytes {
        /// The file's length.
        bytes: u64,
    },
    /// The file ends before the picture does.
    #[error("is cut short: {0}")]
    Truncated(String),
    /// The content contradicts its format.
    #[error("is damaged: {0}")]
    Damaged(String),
    /// An embedded ICC profile that can't be made sense of.
    #[error("has a broken colour profile: {0}")]
    BrokenProfile(String),
    /// A sound ICC profile of a kind that is not read.
    #[error("has a colour profile of a kind that is not read: {0}")]
    ProfileKind(String),
    /// A raw file whose sensor values can't be taken as they are, with the reason.
    #[error("holds sensor values that can't be used: {0}")]
    SensorValues(String),
    /// The file states a colour space in some other way, which is not read.
    #[error("states a colour encoding that is not read: {0}")]
    ColourStatement(String),
}

/// Most pixels that are accepted: beyond the largest camera sensors.
pub const MAX_PIXELS: u64 = 250_000_000;
/// Longest file that is accepted: 250 megapixels of 16-bit RGBA, uncompressed, with room to spare.
pub const MAX_FILE_BYTES: u64 = 2_100_000_000;

const COPY_AGAIN: &str = "Copy the file from the camera once more and wait until the transfer has ended; \
    mail and messenger programs may shorten or rewrite photos.";
const EXPORT: &str = "Save the photo as JPEG, or as PNG or TIFF with 8 or 16 bits a channel in RGB, \
    with the sRGB or Display P3 profile embedded; best is the camera's own JPEG.";

impl Problem {
    /// What to do about it, as full sentences.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Unreadable(_) => "Check that the path is right and that you may read the file.",
            Self::NotAFile => "Give the path of a photo.",
            Self::OtherFormat { hint, .. } => hint,
            Self::Empty | Self::Truncated(_) | Self::Damaged(_) => COPY_AGAIN,
            Self::NotAPicture { .. } => {
                "Files are known by their content, not by their name. Give a JPEG, HEIC, DNG, PNG or TIFF photo."
            }
            Self::Grey => "Take the photo in colour: switch off monochrome modes and filters.",
            Self::Transparent { .. } => "Save the photo without an alpha channel.",
            Self::TooLarge { .. } | Self::TooManyBytes { .. } => {
                "Give the camera's own photo, not a stitched or enlarged one."
            }
            Self::SensorValues(_) => {
                "Set the camera or its app to plain DNG, uncompressed or with lossless compression (not JPEG XL, not lossy), or \
                 give the JPEG or HEIC of the same shot."
            }
            Self::BrokenProfile(_) => {
                "Without its profile the photo's colours are unknown. Give the camera's own file; or, if you know \
                 the colour space, embed its profile anew (sRGB or Display P3) with an image editor."
            }
            Self::Variant { .. }
            | Self::Inks
            | Self::LabPicture
            | Self::ProfileKind(_)
            | Self::ColourStatement(_) => EXPORT,
        }
    }
}
