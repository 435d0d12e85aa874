//! Small raw files made entry by entry, right or wrong in any way that is asked for.

use std::collections::BTreeMap;
use std::path::Path;

use masstone::photo::{Options, Photo, PhotoError};

/// The values of an entry.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    Bytes(Vec<u8>),
    Shorts(Vec<u16>),
    Longs(Vec<u32>),
    /// In ten-thousandths.
    Fractions(Vec<f64>),
}

use Value::{Bytes, Fractions, Longs, Shorts};

/// A file of one directory and one strip, its numbers with the last byte first.
#[derive(Clone, Debug)]
pub(crate) struct Made {
    pub(crate) entries: BTreeMap<u16, Value>,
    pub(crate) strip: Vec<u8>,
}

pub(crate) const WIDTH: u16 = 256;
pub(crate) const LENGTH: u16 = 257;
pub(crate) const BITS: u16 = 258;
pub(crate) const COMPRESSION: u16 = 259;
pub(crate) const PHOTOMETRIC: u16 = 262;
pub(crate) const STRIP_OFFSETS: u16 = 273;
pub(crate) const SAMPLES: u16 = 277;
pub(crate) const STRIP_BYTES: u16 = 279;
pub(crate) const PREDICTOR: u16 = 317;
pub(crate) const SAMPLE_FORMAT: u16 = 339;
pub(crate) const CFA_REPEAT: u16 = 33_421;
pub(crate) const CFA_PATTERN: u16 = 33_422;
pub(crate) const LINEARISATION: u16 = 50_712;
pub(crate) const BLACK_REPEAT: u16 = 50_713;
pub(crate) const BLACK: u16 = 50_714;
pub(crate) const WHITE: u16 = 50_717;
pub(crate) const CROP_ORIGIN: u16 = 50_719;
pub(crate) const CROP_SIZE: u16 = 50_720;
pub(crate) const MATRIX: u16 = 50_721;
pub(crate) const NEUTRAL: u16 = 50_728;
pub(crate) const ILLUMINANT: u16 = 50_778;
pub(crate) const ACTIVE: u16 = 50_829;
pub(crate) const OPCODES_1: u16 = 51_008;
pub(crate) const OPCODES_2: u16 = 51_009;
pub(crate) const OPCODES_3: u16 = 51_022;
pub(crate) const CALIBRATION: u16 = 50_723;
pub(crate) const CALIBRATED_BY: u16 = 50_931;

/// Twelve bits in words of 16 behind a filter array whose upper left pixel is red: `values` row by row. Black is 256, white 4000.
pub(crate) fn filtered(width: u16, values: &[u16]) -> Made {
    let height = u16::try_from(values.len() / usize::from(width)).unwrap();
    Made {
        entries: BTreeMap::from([
            (WIDTH, Shorts(vec![width])),
            (LENGTH, Shorts(vec![height])),
            (BITS, Shorts(vec![16])),
            (COMPRESSION, Shorts(vec![1])),
            (PHOTOMETRIC, Shorts(vec![32_803])),
            (SAMPLES, Shorts(vec![1])),
            (CFA_REPEAT, Shorts(vec![2, 2])),
            (CFA_PATTERN, Bytes(vec![0, 1, 1, 2])),
            (50_706, Bytes(vec![1, 4, 0, 0])),
            (BLACK, Shorts(vec![256])),
            (WHITE, Shorts(vec![4000])),
            // A sensor that sees as XYZ does.
            (
                MATRIX,
                Fractions(vec![1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]),
            ),
            (ILLUMINANT, Shorts(vec![23])),
            (NEUTRAL, Fractions(vec![0.9642, 1.0, 0.8252])),
        ]),
        strip: words(values),
    }
}

/// The same values everywhere: red, the two greens and blue of each cell.
pub(crate) fn even(width: u16, height: u16, [red, green, other, blue]: [u16; 4]) -> Made {
    let at = |i: u32| match (i % u32::from(width) % 2, i / u32::from(width) % 2) {
        (0, 0) => red,
        (1, 0) => green,
        (0, _) => other,
        _ => blue,
    };
    let values: Vec<u16> = (0..u32::from(width) * u32::from(height)).map(at).collect();
    filtered(width, &values)
}

pub(crate) fn words(values: &[u16]) -> Vec<u8> {
    values.iter().flat_map(|it| it.to_le_bytes()).collect()
}

impl Made {
    pub(crate) fn with(mut self, tag: u16, value: Value) -> Self {
        self.entries.insert(tag, value);
        self
    }

    pub(crate) fn without(mut self, tag: u16) -> Self {
        self.entries.remove(&tag);
        self
    }

    pub(crate) fn bytes(&self) -> Vec<u8> {
        let mut entries = self.entries.clone();
        let length = u32::try_from(self.strip.len()).unwrap();
        entries.entry(STRIP_OFFSETS).or_insert(Longs(vec![8]));
        entries.entry(STRIP_BYTES).or_insert(Longs(vec![length]));
        let mut file = b"II*\0\0\0\0\0".to_vec();
        file.extend(&self.strip);
        let placed: Vec<_> = entries
            .iter()
            .map(|(tag, value)| {
                let (kind, count, mut bytes) = stored(value);
                if bytes.len() > 4 {
                    file.resize(file.len().next_multiple_of(2), 0);
                    let at = u32::try_from(file.len()).unwrap();
                    file.extend(&bytes);
                    bytes = at.to_le_bytes().to_vec();
                }
                bytes.resize(4, 0);
                (*tag, kind, count, bytes)
            })
            .collect();
        file.resize(file.len().next_multiple_of(2), 0);
        let directory = u32::try_from(file.len()).unwrap();
        file[4..8].copy_from_slice(&directory.to_le_bytes());
        file.extend(u16::try_from(placed.len()).unwrap().to_le_bytes());
        for (tag, kind, count, bytes) in placed {
            file.extend(tag.to_le_bytes());
            file.extend(u16::to_le_bytes(kind));
            file.extend(u32::to_le_bytes(count));
            file.extend(bytes);
        }
        file.extend([0; 4]);
        file
    }

    pub(crate) fn open(&self) -> Result<Photo, PhotoError> {
        Photo::from_bytes(Path::new("made.dng"), self.bytes(), &Options::default())
    }

    /// Why it is refused.
    pub(crate) fn refusal(&self) -> String {
        match self.open() {
            Ok(_) => "it is read".to_owned(),
            Err(error) => error.problem.to_string(),
        }
    }
}

/// Kind, count and bytes.
fn stored(value: &Value) -> (u16, u32, Vec<u8>) {
    let count = |it: usize| u32::try_from(it).unwrap();
    match value {
        Bytes(it) => (1, count(it.len()), it.clone()),
        Shorts(it) => (3, count(it.len()), words(it)),
        Longs(it) => {
            let bytes = it.iter().flat_map(|it| it.to_le_bytes()).collect();
            (4, count(it.len()), bytes)
        }
        Fractions(it) => {
            #[expect(clippy::cast_possible_truncation, reason = "small numbers of a test")]
            let parts = it.iter().map(|it| (it * 1e4).round() as i32);
            let bytes = parts
                .flat_map(|it| [it, 10_000])
                .flat_map(i32::to_le_bytes)
                .collect();
            (10, count(it.len()), bytes)
        }
    }
}
