//! DNG files (Adobe, Digital Negative Specification 1.4, 2012): a sensor's values with all that a reader needs to make colours of them.

mod chunks;
mod codes;
mod colour;
mod directory;
mod gain_map;
mod lossless;
mod metadata;
mod preview;

use crate::raw::SensorImage;
use crate::truth::Truth;
use codes::{Codes, Levels};
use colour::{Colour, by_rows};
use directory::{Directory, Values, Writer, count, ratios, ten_thousandths};
use std::io;

/// What the values are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RawLayout {
    /// One value a pixel, behind its filter.
    Cfa,
    /// Three values a pixel, interpolated.
    Linear,
}

/// How the values are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RawCoding {
    /// Strips of 16-bit words in the file's byte order.
    Words,
    /// Strips of numbers of as many bits as they have, high bits first.
    Packed,
    /// Tiles of lossless JPEG.
    Lossless {
        /// Predictor, 1–7.
        predictor: u8,
        /// Side of a tile, pixels; a multiple of 16.
        tile: u32,
    },
}

/// What darkness gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Black {
    /// The same everywhere.
    Same,
    /// Something else behind each filter.
    Uneven,
}

/// The lights that the camera was measured under, in the order of the tags.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Illuminants {
    /// CIE A, then D65.
    AThenD65,
    /// D65, then CIE A.
    D65ThenA,
    /// D65 alone.
    D65,
}

/// What a DNG file is like.
#[derive(Clone, Debug, PartialEq)]
pub struct DngSpec {
    /// What the values are.
    pub layout: RawLayout,
    /// How they are stored.
    pub coding: RawCoding,
    /// Bits of a stored value: 10, 12, 14, 16. Black lies at a sixteenth of the range.
    pub bits: u8,
    /// Byte order.
    pub big_endian: bool,
    /// Small developed pictures: none, so that the raw one is in the first directory; one in its stead, and the raw one in a
    /// directory below; or one more beside that, which comes before it.
    pub previews: u8,
    /// What darkness gives.
    pub black: Black,
    /// Stored values are codes into a table of values of four bits more.
    pub linearization: bool,
    /// Rows and columns in the dark around the picture: top, left, bottom, right.
    pub masked: [u32; 4],
    /// Pixels on every side that the default crop cuts off.
    pub crop: u32,
    /// What the camera was measured under.
    pub illuminants: Illuminants,
    /// Whether there are forward matrices.
    pub forward: bool,
    /// The matrices are a reference camera's, and camera calibration and analogue balance lead from it to this one.
    pub calibration: bool,
    /// Gain maps that undo this share of the vignetting (1: all of it).
    pub gain_maps: Option<f64>,
    /// Baseline exposure, stops.
    pub baseline_exposure: Option<f64>,
    /// The matrices are of another unit of the same make, drawn with this seed; none: this very unit was measured.
    pub unit: Option<u64>,
}

impl DngSpec {
    /// What phones write (common practice, no source): a preview, 12 bits in tiles of lossless JPEG, both lights with forward
    /// matrices, the vignetting undone by gain maps.
    #[must_use]
    pub fn phone() -> Self {
        Self {
            layout: RawLayout::Cfa,
            coding: RawCoding::Lossless {
                predictor: 1,
                tile: 256,
            },
            bits: 12,
            big_endian: false,
            previews: 1,
            black: Black::Same,
            linearization: false,
            masked: [0; 4],
            crop: 4,
            illuminants: Illuminants::AThenD65,
            forward: true,
            calibration: false,
            gain_maps: Some(1.0),
            baseline_exposure: None,
            unit: None,
        }
    }

    /// Samples a pixel.
    fn samples(&self) -> usize {
        match self.layout {
            RawLayout::Cfa => 1,
            RawLayout::Linear => 3,
        }
    }

    /// What can't be written, in words.
    fn fault(&self, image: &SensorImage) -> Option<String> {
        if !(8..=16).contains(&self.bits) {
            return Some(format!(
                "values of {} bits; 8 to 16 are possible",
                self.bits
            ));
        }
        if let RawCoding::Lossless { predictor, tile } = self.coding {
            if !(1..=7).contains(&predictor) {
                return Some(format!("predictor {predictor}; there are 1 to 7"));
            }
            if tile == 0 || tile % 16 != 0 {
                return Some(format!(
                    "tiles of {tile} pixels; multiples of 16 are possible"
                ));
            }
        }
        let least = image.width.min(image.height);
        if least < 3 || least <= 2 * self.crop {
            return Some(format!(
                "a picture of {} × {} pixels with {} cut off on each side",
                image.width, image.height, self.crop
            ));
        }
        None
    }
}

impl SensorImage {
    /// The bytes of a DNG file.
    ///
    /// # Errors
    ///
    /// If the options can't be written: bits outside 8–16, a predictor or a size of tiles that JPEG or TIFF doesn't have, a crop that
    /// leaves nothing.
    pub fn encode(&self, spec: &DngSpec) -> io::Result<Vec<u8>> {
        if let Some(fault) = spec.fault(self) {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, fault));
        }
        let levels = Levels::of(spec);
        let codes = Codes::of(self, spec, &levels);
        let colour = Colour::of(self, spec);
        let mut writer = Writer::new(spec.big_endian);
        let mut raw = self.raw_tags(spec, &levels, &codes);
        chunks::write(&codes, spec, &mut writer, &mut raw);
        let mut first = if spec.previews > 0 {
            let mut preview = self.preview_tags(&colour.in_daylight().forward, &mut writer);
            let more = (1..spec.previews).map(|_| writer.directory(&preview));
            let mut below: Vec<u32> = more.collect();
            below.push(writer.directory(&raw));
            preview.insert(330, Values::Long(below));
            preview
        } else {
            raw
        };
        first.extend(self.file_tags(spec, &colour));
        let exif = metadata::add(&self.truth.spec, &mut first);
        let place = writer.directory(&exif);
        first.insert(34665, Values::Long(vec![place]));
        let place = writer.directory(&first);
        Ok(writer.finish(place))
    }

    /// The truth of the picture that a reader of the file shows, which is cropped.
    #[must_use]
    pub fn truth_in(&self, spec: &DngSpec) -> Truth {
        self.truth.cropped(spec.crop)
    }

    /// Tags that say what the values are.
    fn raw_tags(&self, spec: &DngSpec, levels: &Levels, codes: &Codes) -> Directory {
        let long = |values: &[u32]| Values::Long(values.to_vec());
        let short = |values: &[u16]| Values::Short(values.to_vec());
        let [top, left, bottom, right] = spec.masked;
        let (width, height) = (self.width, self.height);
        let samples = spec.samples();
        let mut tags = Directory::from([
            (254, long(&[0])),
            (256, long(&[left + width + right])),
            (257, long(&[top + height + bottom])),
            (262, short(&[if samples == 1 { 32803 } else { 34892 }])),
            (277, short(&[count(codes.samples)])),
            (284, short(&[1])),
            (50717, short(&vec![levels.white; samples])),
            (50718, ratios([1.0, 1.0], 1)),
            (50719, long(&[spec.crop; 2])),
            (
                50720,
                long(&[width - 2 * spec.crop, height - 2 * spec.crop]),
            ),
            (50829, long(&[top, left, top + height, left + width])),
        ]);
        if samples == 1 {
            let filters =
                [[0, 0], [1, 0], [0, 1], [1, 1]].map(|[x, y]| count(self.cfa.channel(x, y)));
            tags.insert(33421, short(&[2, 2]));
            tags.insert(33422, Values::Byte(filters.to_vec()));
            tags.insert(50710, Values::Byte(vec![0, 1, 2]));
            tags.insert(50711, short(&[1]));
        }
        if let Some(table) = &levels.table {
            tags.insert(50712, short(table));
        }
        let (repeats, black) = match (spec.black, samples) {
            (Black::Same, 1) => ([1, 1], vec![levels.black[0]]),
            (Black::Uneven, 1) => ([2, 2], levels.black.clone()),
            _ => ([1, 1], levels.black.clone()),
        };
        tags.insert(50713, short(&repeats));
        tags.insert(50714, ratios(black, 100));
        if let Some(share) = spec.gain_maps {
            let loss = share * self.truth.spec.camera.vignetting;
            let planes = if samples == 1 { 1 } else { 3 };
            let list = gain_map::opcode_list([width, height], planes, loss);
            tags.insert(51009, Values::Undefined(list));
        }
        tags
    }

    /// Tags of the small picture.
    fn preview_tags(&self, matrix: &nalgebra::Matrix3<f64>, writer: &mut Writer) -> Directory {
        let preview = preview::preview(self, matrix);
        let place = writer.block(&preview.bytes);
        let long = |value: u32| Values::Long(vec![value]);
        Directory::from([
            (254, long(1)),
            (256, long(preview.width)),
            (257, long(preview.height)),
            (258, Values::Short(vec![8; 3])),
            (259, Values::Short(vec![1])),
            (262, Values::Short(vec![2])),
            (273, long(place)),
            (277, Values::Short(vec![3])),
            (278, long(preview.height)),
            (279, long(count(preview.bytes.len()))),
            (284, Values::Short(vec![1])),
        ])
    }

    /// Tags that belong to the whole file.
    fn file_tags(&self, spec: &DngSpec, colour: &Colour) -> Directory {
        let mut tags = Directory::from([
            (50706, Values::Byte(vec![1, 4, 0, 0])),
            // Gain maps came with 1.3.
            (50707, Values::Byte(vec![1, 3, 0, 0])),
            (50708, Values::Ascii(self.truth.spec.exif.model.clone())),
            (50728, ratios(self.as_shot_neutral(), 1_000_000)),
        ]);
        for (i, it) in (0u16..).zip(&colour.calibrations) {
            tags.insert(50778 + i, Values::Short(vec![it.light]));
            tags.insert(50721 + i, ten_thousandths(by_rows(&it.colour)));
            if spec.forward {
                tags.insert(50964 + i, ten_thousandths(by_rows(&it.forward)));
            }
            if spec.calibration {
                tags.insert(50723 + i, ten_thousandths(by_rows(&it.unit)));
            }
        }
        if spec.calibration {
            tags.insert(50727, ratios(colour.analog_balance, 10_000));
        }
        if let Some(stops) = spec.baseline_exposure {
            tags.insert(50730, ten_thousandths([stops]));
        }
        tags
    }
}
