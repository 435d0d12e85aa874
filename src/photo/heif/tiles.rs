//! From coded tiles to rows of luma and chroma. At most two rows of tiles are in memory: chroma at their border needs both.

use super::container::{Picture, problem};
use super::stream::{self, Stream};
use crate::photo::error::Problem;
use heic_rs::hevc::{self, Frame};
use heic_rs::props::ItemProps;
use rayon::prelude::*;

/// A decoded row of tiles.
pub(super) type Band = Vec<Frame>;

/// One of the two planes of chroma.
#[derive(Clone, Copy, Debug)]
pub(super) enum Plane {
    Cb,
    Cr,
}

/// Checks what a tile's bit stream says of itself against what the container says, before memory is taken for it.
///
/// # Errors
///
/// If the tile's settings are missing or contradict the picture's size, or its values are of a kind that isn't read.
pub(super) fn describe(
    picture: &Picture<'_>,
    properties: &ItemProps<'_>,
) -> Result<Stream, Problem> {
    let settings = (properties.hvcc.as_ref())
        .ok_or_else(|| Problem::Damaged("a tile's settings are missing".to_owned()))?;
    // By what each says of itself, as the decoder goes by.
    let all = settings.parameter_sets();
    let is_sequence = |it: &&&[u8]| it.first().is_some_and(|it| it >> 1 & 0x3f == SEQUENCE_SET);
    let mut sets = all.iter().filter(is_sequence);
    let (Some(set), None) = (sets.next(), sets.next()) else {
        return Err(Problem::Damaged(
            "a tile has not one description of its bit stream".to_owned(),
        ));
    };
    let stream = stream::read(set)?;
    let variant = |what: String| Err(Problem::Variant { what });
    match stream.chroma {
        0 => return Err(Problem::Grey),
        HALVED => {}
        // The decoder runs out of bits in what x265 makes of these.
        2 => return variant("a HEIC picture with 4:2:2 chroma".to_owned()),
        _ => return variant("a HEIC picture with 4:4:4 chroma".to_owned()),
    }
    if stream.depth.0 != stream.depth.1 {
        return variant("a HEIC picture whose luma and chroma differ in depth".to_owned());
    }
    if stream.size.0 % 2 == 1 || stream.size.1 % 2 == 1 {
        return Err(Problem::Damaged(
            "its chroma doesn't fit its size".to_owned(),
        ));
    }
    // No more than a tile may be beyond the picture's edge, and no more than a block beyond a tile's.
    let grid = &picture.grid;
    let fits = |tile: u32, coded: u32, count: u32, whole: u32| {
        let (tile, coded) = (u64::from(tile), u64::from(coded));
        let (count, whole) = (u64::from(count), u64::from(whole));
        let spare = if count == 1 { SPARE } else { tile };
        (whole..whole + spare).contains(&(tile * count)) && coded - tile < BLOCK
    };
    let (width, height) = stream.size;
    if !fits(width, stream.coded.0, grid.columns, grid.output_width)
        || !fits(height, stream.coded.1, grid.rows, grid.output_height)
    {
        return Err(Problem::Damaged(format!(
            "{} × {} tiles of {width} × {height} pixels don't make {} × {}",
            grid.columns, grid.rows, grid.output_width, grid.output_height
        )));
    }
    Ok(stream)
}

/// `nal_unit_type` of a sequence parameter set (H.265, table 7-1).
const SEQUENCE_SET: u8 = 33;
/// 4:2:0: a sample of chroma for four of luma, as all phones have it.
const HALVED: u32 = 1;
/// The largest block that is coded as one.
const BLOCK: u64 = 64;
/// By how much a single tile may be larger than the picture: a tile of a usual size, for a small picture.
const SPARE: u64 = 1024;

/// Decodes a row of tiles, all of which must be as the first tile of the picture.
///
/// # Errors
///
/// The first of them that is cut short, damaged or differs.
pub(super) fn decode(picture: &Picture<'_>, row: usize, first: &Stream) -> Result<Band, Problem> {
    let columns = to_usize(picture.grid.columns);
    let tiles = &picture.tiles[row * columns..(row + 1) * columns];
    let decoded: Vec<_> = tiles
        .par_iter()
        .map(|tile| decode_one(picture, *tile, first))
        .collect();
    decoded.into_iter().collect()
}

fn decode_one(picture: &Picture<'_>, tile: u32, first: &Stream) -> Result<Frame, Problem> {
    let properties = picture.tile_properties(tile)?;
    if describe(picture, &properties)? != *first {
        return Err(Problem::Damaged("its tiles are not alike".to_owned()));
    }
    let settings = properties.hvcc.as_ref().expect("it was described");
    let data = picture.data(tile)?;
    // A block takes a bit at the very least (its mode of prediction, H.265, 7.3.8.5 and 9.3.4.2). This keeps a small file
    // from claiming a lot of memory.
    let (width, height) = first.coded;
    let blocks = u64::from(width).div_ceil(BLOCK) * u64::from(height).div_ceil(BLOCK);
    if u64::try_from(data.len()).unwrap_or(u64::MAX) < blocks.div_ceil(8) {
        return Err(Problem::Truncated(format!(
            "{} bytes can't hold {width} × {height} pixels",
            data.len()
        )));
    }
    let units = settings.split_nals(&data).map_err(|it| problem(&it))?;
    let frame = hevc::decode_still(&settings.parameter_sets(), &units)
        .and_then(|it| it.validate().map(|()| it))
        .map_err(|it| problem(&it))?;
    if (frame.width, frame.height) != first.size || u32::from(frame.bit_depth) != first.depth.0 {
        return Err(Problem::Damaged(
            "a tile is not as its description says".to_owned(),
        ));
    }
    Ok(frame)
}

/// Rows of the picture, out of one or two neighbouring rows of tiles.
#[derive(Debug)]
pub(super) struct Rows<'a> {
    /// Each with the number of the row of tiles.
    pub(super) bands: [(usize, &'a Band); 2],
}

impl Rows<'_> {
    /// A row of luma into `out`, which is as wide as the picture.
    pub(super) fn luma(&self, y: usize, out: &mut [u16]) {
        let height = to_usize(self.bands[0].1[0].height);
        self.row(y, height, out, |it| (&it.y, it.y_stride));
    }

    /// A row of chroma into `out`, which is as wide as the picture's chroma.
    pub(super) fn chroma(&self, plane: Plane, y: usize, out: &mut [u16]) {
        let height = to_usize(self.bands[0].1[0].height) / 2;
        self.row(y, height, out, |it| match plane {
            Plane::Cb => (&it.cb, it.c_stride),
            Plane::Cr => (&it.cr, it.c_stride),
        });
    }

    fn row(&self, y: usize, height: usize, out: &mut [u16], of: impl Fn(&Frame) -> (&[u16], u32)) {
        let band = (self.bands.iter())
            .find(|it| it.0 == y / height)
            .expect("rows are asked for while their tiles are there")
            .1;
        let mut rest = out;
        for tile in band {
            let (samples, stride) = of(tile);
            let stride = to_usize(stride);
            let width = stride.min(rest.len());
            let from = y % height * stride;
            let (here, after) = rest.split_at_mut(width);
            here.copy_from_slice(&samples[from..from + width]);
            rest = after;
        }
    }
}

pub(super) fn to_usize(it: u32) -> usize {
    usize::try_from(it).expect("32 bits fit the address space")
}
