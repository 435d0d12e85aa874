//! A DNG file's directories, read by the `tiff` crate.

use masstone_simulator::{Quad, Xy};
use std::collections::BTreeMap;
use std::io::Cursor;
use tiff::decoder::{Decoder, Limits, ifd::Value};
use tiff::tags::{IfdPointer, Tag};

/// A file's tags, and its bytes.
pub(crate) struct File {
    /// First directory.
    pub(crate) first: BTreeMap<u16, Value>,
    /// The directory with the sensor's values, which may be the first.
    pub(crate) raw: BTreeMap<u16, Value>,
    /// EXIF.
    pub(crate) exif: BTreeMap<u16, Value>,
    bytes: Vec<u8>,
    big_endian: bool,
}

impl File {
    pub(crate) fn open(bytes: Vec<u8>) -> Self {
        let big_endian = bytes.starts_with(b"MM");
        let (with_door, place) = with_door(&bytes, big_endian);
        let mut decoder = Decoder::new(Cursor::new(with_door))
            .expect("a file of the simulator")
            .with_limits(Limits::unlimited());
        let mut directory = |place: f64| -> BTreeMap<u16, Value> {
            let pointer = IfdPointer(whole(place) as u64);
            let directory = decoder
                .read_directory(pointer)
                .expect("a file of the simulator");
            let tags = decoder.read_directory_tags(&directory);
            tags.tag_iter()
                .map(|it| {
                    it.map(|(tag, value)| (tag.to_u16(), value))
                        .expect("a file of the simulator")
                })
                .collect()
        };
        let first = directory(f64::from(place));
        let below = |tag: Tag| -> Vec<f64> { first.get(&tag.to_u16()).map_or(vec![], numbers) };
        let mut exif = below(Tag::ExifDirectory).into_iter().map(&mut directory);
        let exif = exif.next().expect("EXIF");
        // The one that is no smaller version of another (TIFF 6.0, NewSubfileType).
        let full = |it: &BTreeMap<u16, Value>| numbers(&it[&254]) == [0.0];
        let mut subs = below(Tag::SubIfd).into_iter().map(&mut directory);
        let raw = subs.find(full).unwrap_or_else(|| first.clone());
        Self {
            first,
            raw,
            exif,
            bytes,
            big_endian,
        }
    }

    /// Samples as stored: of words, or packed.
    pub(crate) fn stored(&self) -> Vec<u32> {
        let bits = numbers(&self.raw[&258])[0];
        let width = numbers(&self.raw[&256])[0] * numbers(&self.raw[&277])[0];
        let chunks = numbers(&self.raw[&273])
            .into_iter()
            .zip(numbers(&self.raw[&279]));
        chunks
            .flat_map(|(place, length)| {
                let strip = &self.bytes[whole(place)..][..whole(length)];
                let row = whole((width * bits / 8.0).ceil());
                strip
                    .chunks(row)
                    .flat_map(|it| self.row(it, whole(bits), whole(width)))
                    .collect::<Vec<_>>()
            })
            .collect()
    }

    fn row(&self, row: &[u8], bits: usize, width: usize) -> Vec<u32> {
        if bits == 16 {
            let word = |it: &[u8]| {
                let it = [it[0], it[1]];
                u32::from(if self.big_endian {
                    u16::from_be_bytes(it)
                } else {
                    u16::from_le_bytes(it)
                })
            };
            return row.chunks(2).map(word).collect();
        }
        let bit = |i: usize| u32::from(row[i / 8] >> (7 - i % 8) & 1);
        (0..width)
            .map(|x| (0..bits).fold(0, |sum, i| 2 * sum + bit(x * bits + i)))
            .collect()
    }
}

/// The bytes with a door that the decoder enters by: it goes through no first directory of sensor values, and so is given another
/// one, of one grey pixel. Also where the first directory is.
fn with_door(bytes: &[u8], big_endian: bool) -> (Vec<u8>, u32) {
    let coded = |value: u32, length: usize| {
        if big_endian {
            value.to_be_bytes()[4 - length..].to_vec()
        } else {
            value.to_le_bytes()[..length].to_vec()
        }
    };
    let place: [u8; 4] = bytes[4..8].try_into().expect("four bytes");
    let place = if big_endian {
        u32::from_be_bytes(place)
    } else {
        u32::from_le_bytes(place)
    };
    let mut out = bytes.to_vec();
    out.resize(out.len().next_multiple_of(2), 0);
    let door = coded(u32::try_from(out.len()).expect("a small file"), 4);
    out[4..8].copy_from_slice(&door);
    let entries = [(256, 1), (257, 1), (258, 8), (262, 1), (273, 8), (279, 1)];
    out.extend(coded(6, 2));
    for (tag, value) in entries {
        out.extend([coded(tag, 2), coded(4, 2), coded(1, 4), coded(value, 4)].concat());
    }
    out.extend([0; 4]);
    (out, place)
}

/// A tag's numbers.
pub(crate) fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::List(list) => list.iter().flat_map(numbers).collect(),
        Value::Byte(it) => vec![f64::from(*it)],
        Value::Short(it) => vec![f64::from(*it)],
        Value::Unsigned(it) => vec![f64::from(*it)],
        Value::Rational(top, low) => vec![f64::from(*top) / f64::from(*low)],
        Value::SRational(top, low) => vec![f64::from(*top) / f64::from(*low)],
        other => panic!("no number: {other:?}"),
    }
}

/// A whole number that a tag holds, or a place within a picture.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "sizes and places are small and not negative"
)]
pub(crate) fn whole(value: f64) -> usize {
    value as usize
}

/// Pixels (column, row) of the inner part of a quadrilateral.
pub(crate) fn inner(quad: &Quad) -> Vec<[usize; 2]> {
    let steps = 80;
    let mut pixels: Vec<[usize; 2]> = (0..steps * steps)
        .map(|i| {
            let share = |k: i32| 0.1 + 0.8 * (f64::from(k) + 0.5) / f64::from(steps);
            let (u, v) = (share(i % steps), share(i / steps));
            let place: Xy = [0, 1].map(|k| {
                let top = quad[0][k] * (1.0 - u) + quad[1][k] * u;
                let low = quad[3][k] * (1.0 - u) + quad[2][k] * u;
                top * (1.0 - v) + low * v
            });
            place.map(whole)
        })
        .collect();
    pixels.sort_unstable();
    pixels.dedup();
    pixels
}

/// Mean of each channel over these pixels of a mosaic.
pub(crate) fn means(
    pixels: &[[usize; 2]],
    channel: impl Fn(usize, usize) -> usize,
    value: impl Fn(usize, usize) -> f64,
) -> [f64; 3] {
    let (mut sum, mut count) = ([0.0; 3], [0.0; 3]);
    for &[x, y] in pixels {
        sum[channel(x, y)] += value(x, y);
        count[channel(x, y)] += 1.0;
    }
    std::array::from_fn(|c| sum[c] / count[c])
}
