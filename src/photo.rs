//! A photo file as pixels, a linearisation and metadata. Knows nothing of panels.
//!
//! Takes a path; gives a [`Photo`] whose pixels stay encoded as stored, with tables that linearise them. Honours the
//! embedded ICC profile, the orientation tag (as a map of coordinates; no pixel moves) and the bit depth. Strict: a
//! truncated or corrupt file is an error, and a header's claims are checked before memory is taken.

mod code_points;
mod curve;
mod dng;
mod encoding;
mod error;
mod exif;
mod heif;
mod jpeg;
mod kind;
mod opaque;
mod orientation;
mod png;
mod profile;
mod shrink;
mod spare;
mod tiff;

pub use encoding::{Encoding, EncodingSource};
pub use error::{MAX_FILE_BYTES, MAX_PIXELS, PhotoError, Problem};
pub use orientation::Orientation;
pub use shrink::LinearImage;
pub use spare::Spare;

use encoding::Space;
use exif::Named;
use kind::Kind;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// A decoded photo, pixels as stored.
#[derive(Clone, Debug)]
pub struct Photo {
    /// As given.
    pub path: PathBuf,
    /// Of the file's bytes, lower-case hexadecimal.
    pub sha256: String,
    /// Stored width in pixels, ≥ 1.
    pub width: usize,
    /// Stored height in pixels, ≥ 1.
    pub height: usize,
    /// RGB interleaved, row by row, encoded.
    pub pixels: Pixels,
    /// Bits a channel in the file, 8–16; pixels of more than 8 are stored in 16.
    pub bits: u32,
    /// From code values to linear light and XYZ.
    pub encoding: Encoding,
    /// How the stored picture is to be turned for display.
    pub orientation: Orientation,
    /// What the camera says.
    pub metadata: Metadata,
}

/// Code values.
#[derive(Clone, Debug)]
pub enum Pixels {
    /// 8 bits a channel.
    U8(Vec<u8>),
    /// 16 bits a channel.
    U16(Vec<u16>),
}

/// What the camera says of the shot. Anything may be missing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Metadata {
    /// Maker and model.
    pub camera: Option<String>,
    /// Lens model.
    pub lens: Option<String>,
    /// Exposure time, s.
    pub exposure_s: Option<f64>,
    /// F-number.
    pub f_number: Option<f64>,
    /// ISO sensitivity.
    pub iso: Option<f64>,
    /// Exposure bias, EV.
    pub exposure_bias_ev: Option<f64>,
    /// Focal length, mm, 35 mm equivalent.
    pub focal_35mm: Option<f64>,
    /// Whether the flash fired.
    pub flash_fired: Option<bool>,
    /// White balance set by hand.
    pub manual_white_balance: Option<bool>,
    /// Digital zoom ratio; 1 is none.
    pub digital_zoom: Option<f64>,
    /// Tags of heavy processing (HDR, composite, night, portrait …), in words.
    pub processing: Vec<String>,
    /// When it was taken, as the camera wrote it, with its offset if given.
    pub taken: Option<String>,
    /// Software that wrote the file.
    pub software: Option<String>,
    /// A gain map for HDR display is present (ignored).
    pub gain_map: bool,
    /// How many pictures the file holds beside the one that was read, thumbnails and the like not counted.
    pub further_pictures: usize,
    /// Width and height in pixels of the sensor, where a pixel of the photo is made of several of them.
    pub sensor: Option<[usize; 2]>,
    /// What the file asks for and was not done, or what had to be supposed about it, in words.
    pub remarks: Vec<String>,
}

/// How a file is to be taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Values are linear, whatever the profile's curves or the file's silence say; a profile's primaries still count.
    pub linear: bool,
}

/// A row of code values, RGB interleaved.
#[derive(Clone, Copy, Debug)]
pub enum Row<'a> {
    /// 8 bits a channel.
    U8(&'a [u8]),
    /// 16 bits a channel.
    U16(&'a [u16]),
}

impl Photo {
    /// Reads a photo file: JPEG, HEIC, DNG, PNG or TIFF by its content, whatever its name says.
    ///
    /// # Errors
    ///
    /// If the file can't be read, is cut short or damaged, is of another format, is not in colour, is larger than
    /// [`MAX_PIXELS`], or if its colour encoding is broken or of a kind that is not read. The error names the path.
    pub fn open(path: &Path, options: &Options) -> Result<Self, PhotoError> {
        Self::open_into(path, options, &Spare::default())
    }

    /// As [`Photo::open`], into the room of photos before it.
    ///
    /// # Errors
    ///
    /// As [`Photo::open`].
    pub fn open_into(path: &Path, options: &Options, spare: &Spare) -> Result<Self, PhotoError> {
        let read = read_file(path).and_then(|bytes| guarded(bytes, options, spare));
        named(path, read)
    }

    /// Decodes the bytes of a photo file, which are used up; `path` only names it.
    ///
    /// # Errors
    ///
    /// As [`Photo::open`].
    pub fn from_bytes(path: &Path, bytes: Vec<u8>, options: &Options) -> Result<Self, PhotoError> {
        named(path, guarded(bytes, options, &Spare::default()))
    }

    /// The largest code value: 255 or 65,535.
    #[must_use]
    pub fn max_code(&self) -> u16 {
        self.pixels.max_code()
    }

    /// The code values of a stored pixel.
    ///
    /// # Panics
    ///
    /// If the pixel lies outside of the photo, as with any index.
    #[must_use]
    #[inline]
    pub fn code(&self, x: usize, y: usize) -> [u16; 3] {
        assert!(x < self.width, "column {x} of {}", self.width);
        let at = 3 * (y * self.width + x);
        match &self.pixels {
            Pixels::U8(codes) => [codes[at].into(), codes[at + 1].into(), codes[at + 2].into()],
            Pixels::U16(codes) => [codes[at], codes[at + 1], codes[at + 2]],
        }
    }

    /// A stored pixel in linear light, 0–1.
    ///
    /// # Panics
    ///
    /// If the pixel lies outside of the photo, as with any index.
    #[must_use]
    #[inline]
    pub fn linear(&self, x: usize, y: usize) -> [f32; 3] {
        let code = self.code(x, y);
        std::array::from_fn(|channel| self.encoding.tables[channel][usize::from(code[channel])])
    }

    /// A stored row of code values.
    ///
    /// # Panics
    ///
    /// If the row lies outside of the photo, as with any index.
    #[must_use]
    pub fn row(&self, y: usize) -> Row<'_> {
        let range = 3 * y * self.width..3 * (y + 1) * self.width;
        match &self.pixels {
            Pixels::U8(codes) => Row::U8(&codes[range]),
            Pixels::U16(codes) => Row::U16(&codes[range]),
        }
    }

    /// Part of a stored row in linear light, 0–1, into `out`, which is emptied first.
    ///
    /// # Panics
    ///
    /// If the row or the columns lie outside of the photo, as with any index.
    pub fn linear_row(&self, y: usize, columns: Range<usize>, out: &mut Vec<[f32; 3]>) {
        out.clear();
        let range = 3 * columns.start..3 * columns.end;
        match self.row(y) {
            Row::U8(codes) => self.encoding.linearise(&codes[range], out),
            Row::U16(codes) => self.encoding.linearise(&codes[range], out),
        }
    }

    /// Width and height as displayed, after the orientation.
    #[must_use]
    pub fn display_size(&self) -> (usize, usize) {
        self.orientation.display_size((self.width, self.height))
    }
}

impl Pixels {
    /// The largest code value: 255 or 65,535.
    #[must_use]
    pub fn max_code(&self) -> u16 {
        match self {
            Self::U8(_) => u8::MAX.into(),
            Self::U16(_) => u16::MAX,
        }
    }

    /// Bits a channel as stored: 8 or 16.
    fn bits(&self) -> u32 {
        match self {
            Self::U8(_) => u8::BITS,
            Self::U16(_) => u16::BITS,
        }
    }
}

/// Whether a file is a DNG that can be read, as far as its directories tell.
pub(crate) fn is_readable_raw(path: &Path) -> bool {
    let bytes = read_file(path);
    let readable = |bytes: Vec<u8>| std::panic::catch_unwind(|| dng::is_readable(&bytes));
    bytes.is_ok_and(|it| readable(it).unwrap_or(false))
}

/// Whether the bytes are a whole JPEG of red, green and blue, at most `longest` pixels a side, sRGB without a profile; if not, what it is
/// instead, as the end of a sentence with "it".
pub(crate) fn check_small_jpeg(bytes: &[u8], longest: usize) -> Result<(), String> {
    jpeg::check_small(bytes, longest)
}

/// What a decoder hands back.
#[derive(Debug)]
struct Decoded {
    width: usize,
    height: usize,
    pixels: Pixels,
    /// Bits a channel in the file.
    bits: u32,
    icc: Option<Vec<u8>>,
    /// A TIFF structure with the camera's tags.
    exif: Option<Vec<u8>>,
    statement: Statement,
    /// What the container says of it; EXIF's word doesn't count then.
    orientation: Option<Orientation>,
    gain_map: bool,
    /// Pictures of their own beside this one.
    others: usize,
    /// What a reader of its numbers must know, in words.
    remarks: Vec<String>,
    /// Width and height in pixels of the sensor, where a pixel is made of several of them.
    sensor: Option<[usize; 2]>,
}

/// What the container itself says of colour, besides a profile.
#[derive(Clone, Debug)]
enum Statement {
    None,
    Srgb,
    /// Code points of ITU-T H.273.
    CodePoints {
        primaries: u16,
        transfer: u16,
    },
    /// A power law that is not sRGB's, without a profile.
    Gamma,
    /// Nothing has been encoded: values are a sensor's.
    Sensor(Box<Encoding>),
}

fn read_file(path: &Path) -> Result<Vec<u8>, Problem> {
    let about = std::fs::metadata(path).map_err(Problem::Unreadable)?;
    // A pipe or a device could go on for ever.
    if !about.is_file() {
        return Err(Problem::NotAFile);
    }
    if about.len() > MAX_FILE_BYTES {
        return Err(Problem::TooManyBytes { bytes: about.len() });
    }
    std::fs::read(path).map_err(Problem::Unreadable)
}

/// What was read, or what is wrong with it, with its path.
fn named(path: &Path, read: Result<Photo, Problem>) -> Result<Photo, PhotoError> {
    let path = path.to_owned();
    match read {
        Ok(it) => Ok(Photo { path, ..it }),
        Err(problem) => Err(PhotoError { path, problem }),
    }
}

/// A panic in one of the libraries that take files apart is that file's fault and must not end a batch.
///
/// None is known: the tests damage files in thousands of ways and fail on the message below.
fn guarded(bytes: Vec<u8>, options: &Options, spare: &Spare) -> Result<Photo, Problem> {
    std::panic::catch_unwind(|| decode(bytes, options, spare)).unwrap_or_else(|_| {
        Err(Problem::Damaged(
            "taking it apart failed unexpectedly".to_owned(),
        ))
    })
}

fn decode(bytes: Vec<u8>, options: &Options, spare: &Spare) -> Result<Photo, Problem> {
    let kind = kind::of(&bytes)?;
    let sha256 = hexadecimal(&Sha256::digest(&bytes));
    if kind != Kind::Jpeg {
        spare.give_up();
    }
    let decoded = match kind {
        Kind::Heif => heif::decode(&bytes),
        Kind::Jpeg => jpeg::decode(bytes, spare),
        Kind::Png => png::decode(bytes),
        Kind::Tiff if dng::is(&bytes) => dng::decode(bytes),
        Kind::Tiff => tiff::decode(bytes),
    }?;
    let shot = exif::read(decoded.exif);
    let encoding = match decoded.statement {
        Statement::Sensor(encoding) => *encoding,
        statement => space(decoded.icc.as_deref(), &statement, shot.named, *options)?
            .encode(decoded.pixels.max_code())?,
    };
    Ok(Photo {
        path: PathBuf::new(),
        sha256,
        width: decoded.width,
        height: decoded.height,
        bits: decoded.bits,
        encoding,
        pixels: decoded.pixels,
        orientation: decoded.orientation.unwrap_or(shot.orientation),
        metadata: Metadata {
            gain_map: decoded.gain_map,
            further_pictures: decoded.others,
            sensor: decoded.sensor,
            remarks: decoded.remarks,
            ..shot.metadata
        },
    })
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// What the code values mean: the profile first, then the container's own words, then the camera's.
fn space(
    icc: Option<&[u8]>,
    statement: &Statement,
    named: Named,
    options: Options,
) -> Result<Space, Problem> {
    use EncodingSource::{AssumedSrgb, Stated, StatedSrgb};
    let space = match (icc, statement, named) {
        (Some(icc), ..) => profile::read(icc)?,
        (None, Statement::Srgb, _) => Space::srgb(StatedSrgb, "sRGB"),
        (
            None,
            Statement::CodePoints {
                primaries,
                transfer,
            },
            _,
        ) => Space::of_code_points(*primaries, *transfer)?,
        (None, Statement::Gamma, _) if !options.linear => {
            return Err(Problem::ColourStatement(
                "a gamma other than 1/2.2, without a profile".to_owned(),
            ));
        }
        (None, _, Named::Srgb) => Space::srgb(StatedSrgb, "sRGB"),
        (None, _, Named::AdobeRgb) => Space::adobe_rgb(Stated, "Adobe RGB (1998)"),
        (None, _, Named::Uncalibrated) => Space::srgb(
            AssumedSrgb,
            "sRGB, assumed although the camera says “uncalibrated”",
        ),
        (None, _, Named::Nothing) => Space::srgb(AssumedSrgb, "sRGB, assumed"),
    };
    Ok(if options.linear {
        space.linear()
    } else {
        space
    })
}
