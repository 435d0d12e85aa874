//! HEIF pictures coded as HEVC, the files that phones call HEIC.
//!
//! A library takes the container apart and decodes the tiles; what the values mean, how the picture is turned, and whether the
//! file can be whole and its claims true is judged here. Tiles are decoded row by row, each of which becomes pixels before the
//! next but one is decoded: beside the pixels little is in memory. Like JPEG, HEVC has no checksums in these files: damage
//! that leaves the structure as it is passes.

mod bounds;
mod colour;
mod container;
mod convert;
mod stream;
mod tiles;
mod turn;

use self::container::Picture;
use self::convert::{Code, Converter};
use self::stream::{Stream, UNSPECIFIED};
use self::tiles::{Rows, to_usize};
use super::error::Problem;
use super::{Decoded, Pixels, Statement};
use rayon::prelude::*;
use std::ops::Range;

/// Decodes the primary picture of a HEIC file.
///
/// Pixels have 8 bits where the file has 8, and 16 where it has more.
///
/// # Errors
///
/// If it is cut short, damaged, too large, grey, transparent, encrypted, or of a kind that is not read.
pub(super) fn decode(bytes: &[u8]) -> Result<Decoded, Problem> {
    let picture = container::open(bytes)?;
    let first = picture.tile_properties(picture.tiles[0])?;
    let stream = tiles::describe(&picture, &first)?;
    let icc = picture.properties.icc.or(first.icc);
    let signal = colour::signal(picture.signal(&first), stream.signal);
    let turn = turn::read(&picture.properties.transforms)?;
    let size = (picture.grid.output_width, picture.grid.output_height);
    let (left, top, width, height) = match turn.cut {
        Some(cut) => heic_rs::transform::crop_rect(size.0, size.1, cut)
            .map_err(|it| container::problem(&it))?,
        None => (0, 0, size.0, size.1),
    };
    let range = |from: u32, count: u32| to_usize(from)..to_usize(from) + to_usize(count);
    let converter = Converter {
        conversion: colour::conversion(signal, stream.depth.0)?,
        size: (to_usize(size.0), to_usize(size.1)),
        columns: range(left, width),
    };
    let rows = range(top, height);
    let pixels = if stream.depth.0 == 8 {
        Pixels::U8(pixels(&picture, &stream, &converter, rows)?)
    } else {
        Pixels::U16(pixels(&picture, &stream, &converter, rows)?)
    };
    let said = signal.primaries != UNSPECIFIED || signal.transfer != UNSPECIFIED;
    Ok(Decoded {
        width: to_usize(width),
        height: to_usize(height),
        pixels,
        bits: stream.depth.0,
        icc: icc.map(<[u8]>::to_vec),
        exif: picture.exif(),
        statement: if said {
            Statement::CodePoints {
                primaries: signal.primaries,
                transfer: signal.transfer,
            }
        } else {
            Statement::None
        },
        orientation: Some(turn.orientation),
        gain_map: picture.has_gain_map(),
        others: picture.others(),
        remarks: Vec::new(),
        sensor: None,
    })
}

/// All rows of the picture from `kept` on.
fn pixels<T: Code>(
    picture: &Picture<'_>,
    stream: &Stream,
    converter: &Converter,
    kept: Range<usize>,
) -> Result<Vec<T>, Problem> {
    let length = 3 * converter.columns.len();
    let mut pixels = vec![T::default(); length * kept.len()];
    let (bands, tile) = (to_usize(picture.grid.rows), to_usize(stream.size.1));
    let mut before: Option<tiles::Band> = None;
    let mut done = 0;
    for number in 0..bands {
        let band = tiles::decode(picture, number, stream)?;
        let last = number + 1 == bands;
        // The last row of a band takes part of its chroma from the next band.
        let ready = if last {
            converter.size.1
        } else {
            (number + 1) * tile - 1
        };
        let above = before.as_ref().map(|it| (number - 1, it));
        let rows = Rows {
            bands: [above.unwrap_or((number, &band)), (number, &band)],
        };
        let (from, to) = (done.max(kept.start), ready.min(kept.end));
        if from < to {
            let out = &mut pixels[length * (from - kept.start)..length * (to - kept.start)];
            out.par_chunks_exact_mut(length)
                .enumerate()
                .for_each(|(index, out)| converter.row(&rows, from + index, out));
        }
        done = ready;
        before = Some(band);
    }
    Ok(pixels)
}
