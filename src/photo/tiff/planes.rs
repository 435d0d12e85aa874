//! TIFF with a plane a channel: each strip or tile goes where it belongs as soon as it is read.
//!
//! The decoder's own way of reading such pictures fails on tiles that stick out over the edge (it forgets that the
//! tiles of the later planes have edges too), so tiles are placed here.

use super::{Source, damage, unusual};
use crate::photo::Pixels;
use crate::photo::error::Problem;
use crate::photo::opaque::{Sample, drop_alpha};
use tiff::decoder::{ChunkType, DecodingResult};

/// Reads all planes into interleaved RGB.
pub(super) fn read(
    decoder: &mut Source<'_>,
    size: (usize, usize),
    channels: usize,
) -> Result<Pixels, Problem> {
    let bits = decoder.colortype().map_err(|it| damage(&it))?.bit_depth();
    let eight = |it| match it {
        DecodingResult::U8(values) => Some(values),
        _ => None,
    };
    let sixteen = |it| match it {
        DecodingResult::U16(values) => Some(values),
        _ => None,
    };
    match bits {
        8 => Ok(Pixels::U8(interleaved(decoder, size, channels, eight)?)),
        _ => Ok(Pixels::U16(interleaved(decoder, size, channels, sixteen)?)),
    }
}

fn interleaved<T: Sample + Default>(
    decoder: &mut Source<'_>,
    (width, height): (usize, usize),
    channels: usize,
    values: impl Fn(DecodingResult) -> Option<Vec<T>>,
) -> Result<Vec<T>, Problem> {
    let (across, down) = decoder.chunk_dimensions();
    let (across, down) = match decoder.get_chunk_type() {
        ChunkType::Strip => (width, to_usize(down)),
        ChunkType::Tile => (to_usize(across), to_usize(down)),
    };
    if across == 0 || down == 0 {
        return Err(Problem::Damaged("its tiles are empty".to_owned()));
    }
    let (columns, rows) = (width.div_ceil(across), height.div_ceil(down));
    let mut samples = vec![T::default(); width * height * channels];
    for channel in 0..channels {
        for chunk in 0..columns * rows {
            let index = u32::try_from(channel * columns * rows + chunk)
                .map_err(|_| Problem::Damaged("it has too many tiles".to_owned()))?;
            let (left, top) = (chunk % columns * across, chunk / columns * down);
            let part = decoder.read_chunk(index).map_err(|it| damage(&it))?;
            let part = values(part).ok_or_else(unusual)?;
            let (part_width, part_height) = (across.min(width - left), down.min(height - top));
            if part.len() < part_width * part_height {
                return Err(Problem::Truncated(
                    "a tile holds fewer values than its size needs".to_owned(),
                ));
            }
            for (y, row) in part.chunks_exact(part_width).take(part_height).enumerate() {
                let start = ((top + y) * width + left) * channels + channel;
                for (to, from) in samples[start..].iter_mut().step_by(channels).zip(row) {
                    *to = *from;
                }
            }
        }
    }
    if channels == 4 {
        drop_alpha(samples, width)
    } else {
        Ok(samples)
    }
}

fn to_usize(it: u32) -> usize {
    usize::try_from(it).expect("32 bits fit the address space")
}
