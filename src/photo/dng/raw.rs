//! The picture of sensor values in a file: how it is laid out, and its values band by band.

use super::directory::{Directory, Source};
use super::{lossless_jpeg, tags};
use crate::photo::error::{MAX_PIXELS, Problem};
use flate2::read::ZlibDecoder;
use rayon::prelude::*;
use std::io::Read;

/// A rectangle of a picture in its own pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Area {
    pub(super) left: usize,
    pub(super) top: usize,
    pub(super) width: usize,
    pub(super) height: usize,
}

/// How values are packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Packing {
    None,
    LosslessJpeg,
    /// With differences to the left taken before, or not.
    Deflate {
        differences: bool,
    },
}

/// Layout and parts of the picture.
#[derive(Debug)]
pub(super) struct Raw<'a> {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Values a pixel: 1 behind a colour filter array, 3 where colours were made up between.
    pub(super) samples: usize,
    /// Bits of a stored value.
    pub(super) bits: u32,
    big: bool,
    packing: Packing,
    /// Width and height of tiles; a strip is a tile as wide as the picture.
    tile: [usize; 2],
    strips: bool,
    parts: Vec<&'a [u8]>,
}

/// Rows that are decoded at a time, at least.
const BAND: usize = 128;
/// Pixels that tiles of a small picture may hold beyond it, and those of a large one.
const SMALL: usize = 1 << 20;
const LARGE: usize = 1 << 24;
const FILTERED: usize = 32_803;
const LINEAR: usize = 34_892;
/// What deflate can't pack tighter.
const TIGHTEST: usize = 1032;

impl<'a> Raw<'a> {
    /// The largest picture of sensor values among the directories of a file, and which of them has it; none if there is none.
    ///
    /// # Errors
    ///
    /// If it is of a kind that is not read.
    pub(super) fn find(
        bytes: &'a [u8],
        source: Source<'a>,
        directories: &[Directory<'a>],
    ) -> Result<Option<(Self, usize)>, Problem> {
        let photometric = |it: &Directory<'_>| it.whole(tags::PHOTOMETRIC);
        let is_main = |it: &Directory<'_>| it.whole(tags::SUBFILE_TYPE).unwrap_or(0) == 0;
        let holds = |it: &Directory<'_>| matches!(photometric(it), Some(FILTERED | LINEAR));
        let size = |it: &Directory<'_>| it.whole(tags::WIDTH).max(it.whole(tags::LENGTH));
        let found = directories.iter().enumerate();
        let found = found.filter(|(_, it)| is_main(it) && holds(it));
        let Some((index, directory)) = found.max_by_key(|(_, it)| size(it)) else {
            return Ok(None);
        };
        Ok(Some((Self::read(bytes, source, directory)?, index)))
    }

    fn read(
        bytes: &'a [u8],
        source: Source<'a>,
        directory: &Directory<'a>,
    ) -> Result<Self, Problem> {
        let number = |tag| directory.whole(tag);
        let (width, height) = (number(tags::WIDTH), number(tags::LENGTH));
        let (Some(width), Some(height)) = (width, height) else {
            return Err(damaged("the size of its picture is not stated"));
        };
        let pixels = width.saturating_mul(height) as u64;
        if pixels > MAX_PIXELS {
            return Err(Problem::TooLarge {
                width: width as u64,
                height: height as u64,
            });
        }
        if pixels == 0 {
            return Err(damaged("it has no pixels"));
        }
        let samples = number(tags::SAMPLES).unwrap_or(1);
        let filtered = number(tags::PHOTOMETRIC) == Some(FILTERED);
        match (filtered, samples) {
            (true, 1) | (false, 3) => {}
            (false, 1) => return Err(Problem::Grey),
            _ => return Err(unusable(format!("they have {samples} values a pixel"))),
        }
        let bits = directory.offsets(tags::BITS);
        let bits = match bits.as_slice() {
            [first, rest @ ..] if rest.iter().all(|it| it == first) => *first,
            _ => return Err(damaged("the bits of its values are not stated alike")),
        };
        if !(10..=16).contains(&bits) {
            return Err(unusable(format!(
                "they have {bits} bits; 10 to 16 are needed"
            )));
        }
        if number(tags::SAMPLE_FORMAT).unwrap_or(1) != 1 {
            return Err(unusable("they are not whole numbers".to_owned()));
        }
        if samples > 1 && number(tags::PLANAR).unwrap_or(1) != 1 {
            return Err(unusable("their colours lie in separate planes".to_owned()));
        }
        let tiled = directory.has(tags::TILE_OFFSETS);
        let tile = if tiled {
            [
                number(tags::TILE_WIDTH).unwrap_or(0),
                number(tags::TILE_LENGTH).unwrap_or(0),
            ]
        } else {
            [
                width,
                number(tags::ROWS_PER_STRIP).unwrap_or(height).min(height),
            ]
        };
        let packing = packing(directory)?;
        let mut parts = parts(bytes, directory, tiled)?;
        let area = tile[0].saturating_mul(tile[1]);
        // Tiles stick out over the edges, but not by more than one each way.
        let held = area.saturating_mul(parts.len());
        if area == 0 || held > 2 * width * height + SMALL.max(area.min(LARGE)) {
            return Err(damaged("the size of its tiles makes no sense"));
        }
        let mut tile = tile;
        if packing == Packing::None && parts.len() == 1 && !tiled {
            // What is not packed can be taken a few rows at a time.
            let row = (width * samples * bits).div_ceil(8);
            let whole = parts[0].get(..row * height).ok_or_else(cut_short)?;
            parts = whole.chunks(row * BAND).collect();
            tile[1] = BAND.min(height);
        }
        let raw = Self {
            width,
            height,
            samples,
            bits: u32::try_from(bits).unwrap_or(16),
            big: source.is_big(),
            packing,
            tile,
            strips: !tiled,
            parts,
        };
        if raw.parts.len() != raw.across() * height.div_ceil(tile[1]) {
            return Err(damaged(
                "it has another number of tiles than its size needs",
            ));
        }
        raw.check_lengths()?;
        Ok(raw)
    }

    fn across(&self) -> usize {
        self.width.div_ceil(self.tile[0])
    }

    /// Values of a part: the last strip may be shorter, tiles are whole.
    fn rows_of(&self, part_row: usize) -> usize {
        let left = self.height - part_row * self.tile[1];
        if self.strips {
            self.tile[1].min(left)
        } else {
            self.tile[1]
        }
    }

    /// Whether the parts are long enough for what the size claims, before memory is taken for it.
    fn check_lengths(&self) -> Result<(), Problem> {
        let across = self.across();
        let row = self.tile[0] * self.samples;
        for (index, part) in self.parts.iter().enumerate() {
            let values = row * self.rows_of(index / across);
            let enough = match self.packing {
                Packing::None => self.row_bytes() * self.rows_of(index / across) <= part.len(),
                Packing::LosslessJpeg => values <= 8 * part.len(),
                Packing::Deflate { .. } => 2 * values <= TIGHTEST * part.len(),
            };
            if !enough {
                return Err(cut_short());
            }
        }
        Ok(())
    }

    /// Bytes of an uncompressed row of a part.
    fn row_bytes(&self) -> usize {
        (self.tile[0] * self.samples * self.stored_bits() as usize).div_ceil(8)
    }

    /// Bits that a value takes: deflated ones are whole words.
    fn stored_bits(&self) -> u32 {
        match self.packing {
            Packing::None => self.bits,
            _ => 16,
        }
    }

    /// Visits the values from top to bottom, some rows at a time: their first row, and the values of whole rows.
    ///
    /// # Errors
    ///
    /// If a part can't be decoded.
    pub(super) fn visit(&self, mut see: impl FnMut(usize, &[u16])) -> Result<(), Problem> {
        let (across, [tile_width, tile_height]) = (self.across(), self.tile);
        let together = BAND.div_ceil(tile_height);
        let row = self.width * self.samples;
        let mut band = Vec::new();
        for (index, parts) in self.parts.chunks(across * together).enumerate() {
            let first = index * together;
            let decoded = parts
                .par_iter()
                .enumerate()
                .map(|(i, part)| self.decode(part, self.rows_of(first + i / across)))
                .collect::<Result<Vec<_>, _>>()?;
            let top = first * tile_height;
            let rows = (parts.len() / across * tile_height).min(self.height - top);
            band.clear();
            band.resize(rows * row, 0);
            for (i, values) in decoded.iter().enumerate() {
                let (left, down) = (i % across * tile_width, i / across * tile_height);
                let width = tile_width.min(self.width - left) * self.samples;
                let lines = values.chunks_exact(tile_width * self.samples);
                for (y, line) in lines.enumerate().take(rows - down) {
                    let at = (down + y) * row + left * self.samples;
                    band[at..at + width].copy_from_slice(&line[..width]);
                }
            }
            drop(decoded);
            see(top, &band);
        }
        Ok(())
    }

    fn decode(&self, part: &[u8], rows: usize) -> Result<Vec<u16>, Problem> {
        let row = self.tile[0] * self.samples;
        match self.packing {
            Packing::None => Ok(self.unpack(part, rows)),
            Packing::LosslessJpeg => lossless_jpeg::decode(part, row * rows),
            Packing::Deflate { differences } => {
                let mut bytes = vec![0; 2 * row * rows];
                ZlibDecoder::new(part)
                    .read_exact(&mut bytes)
                    .map_err(|it| Problem::Damaged(format!("deflated sensor values: {it}")))?;
                let mut values = self.unpack(&bytes, rows);
                if differences {
                    for line in values.chunks_exact_mut(row) {
                        for i in self.samples..row {
                            line[i] = line[i].wrapping_add(line[i - self.samples]);
                        }
                    }
                }
                Ok(values)
            }
        }
    }

    /// Values of 16 bits in the file's byte order; of fewer bits, most significant first, rows beginning at whole bytes.
    fn unpack(&self, bytes: &[u8], rows: usize) -> Vec<u16> {
        let row = self.tile[0] * self.samples;
        let bits = self.stored_bits();
        let lines = bytes.chunks_exact(self.row_bytes()).take(rows);
        let mut values = Vec::with_capacity(row * rows);
        for line in lines {
            if bits == 16 {
                let word = if self.big {
                    u16::from_be_bytes
                } else {
                    u16::from_le_bytes
                };
                values.extend(line.chunks_exact(2).map(|it| word([it[0], it[1]])));
            } else {
                let (mut held, mut count) = (0_u32, 0);
                let mut bytes = line.iter();
                values.extend((0..row).map(|_| {
                    while count < bits {
                        held = held << 8 | u32::from(bytes.next().copied().unwrap_or(0));
                        count += 8;
                    }
                    count -= bits;
                    let value = held >> count & ((1 << bits) - 1);
                    u16::try_from(value).unwrap_or(u16::MAX)
                }));
            }
        }
        values
    }
}

fn cut_short() -> Problem {
    Problem::Truncated("its sensor values end before the picture does".to_owned())
}

fn damaged(what: &str) -> Problem {
    Problem::Damaged(what.to_owned())
}

fn unusable(what: String) -> Problem {
    Problem::SensorValues(what)
}

fn packing(directory: &Directory<'_>) -> Result<Packing, Problem> {
    let known = match directory.whole(tags::COMPRESSION).unwrap_or(1) {
        1 => return Ok(Packing::None),
        7 => return Ok(Packing::LosslessJpeg),
        8 => match directory.whole(tags::PREDICTOR).unwrap_or(1) {
            1 => return Ok(Packing::Deflate { differences: false }),
            2 => return Ok(Packing::Deflate { differences: true }),
            other => {
                return Err(unusable(format!(
                    "they are deflated with predictor {other}, which is not read"
                )));
            }
        },
        34_892 => "lossy JPEG (34892)".to_owned(),
        52_546 => "JPEG XL (52546)".to_owned(),
        other => format!("method {other}"),
    };
    Err(unusable(format!(
        "they are packed by {known}, which is not read"
    )))
}

/// The stored bytes of each strip or tile.
fn parts<'a>(
    bytes: &'a [u8],
    directory: &Directory<'_>,
    tiled: bool,
) -> Result<Vec<&'a [u8]>, Problem> {
    let [offsets, counts] = if tiled {
        [tags::TILE_OFFSETS, tags::TILE_BYTES]
    } else {
        [tags::STRIP_OFFSETS, tags::STRIP_BYTES]
    }
    .map(|it| directory.offsets(it));
    if offsets.is_empty() || offsets.len() != counts.len() {
        return Err(damaged("where its sensor values lie is not stated"));
    }
    let part = |(at, count): (&usize, &usize)| {
        let end = at.checked_add(*count)?;
        bytes.get(*at..end)
    };
    let parts: Option<Vec<&[u8]>> = offsets.iter().zip(&counts).map(part).collect();
    parts.ok_or_else(|| {
        Problem::Truncated("parts of its data lie beyond the end of the file".to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use sha2::{Digest, Sha256};
    use std::path::Path;

    /// `LibRaw` 0.22.2 and tifffile 2026.3.3 agree on each value; `tests/oracle/dng_files.py` wrote down their digest.
    #[test]
    fn every_stored_value_is_that_of_other_libraries() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photo/dng");
        let truth = std::fs::read_to_string(folder.join("truth.json")).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
        let files = truth["files"].as_object().unwrap();
        for (name, of_file) in files {
            let bytes = std::fs::read(folder.join(name)).unwrap();
            let source = Source::of(&bytes).unwrap();
            let (directories, _) = source.all();
            let found = Raw::find(&bytes, source, &directories).unwrap();
            let (raw, index) = found.unwrap();
            // Where a file has a table, theirs are the values in it.
            let table = directories[index].offsets(tags::LINEARISATION);
            let mut digest = Sha256::new();
            raw.visit(|_, band| {
                for value in band {
                    let value = match table.get(usize::from(*value)) {
                        Some(linear) => u16::try_from(*linear).unwrap(),
                        None => *value,
                    };
                    digest.update(value.to_le_bytes());
                }
            })
            .unwrap();
            let found = crate::photo::hexadecimal(&digest.finalize());
            assert_eq!(found, of_file["sha256"].as_str().unwrap(), "{name}");
        }
        assert!(files.len() > 20, "{}", files.len());
    }
}
