//! Numbers into strips and tiles.

use super::codes::Codes;
use super::directory::{Directory, Values, Writer, count};
use super::lossless::{self, Frame};
use super::{DngSpec, RawCoding};
use rayon::prelude::*;

/// Rows of a strip.
const STRIP: usize = 64;

/// Writes the numbers; adds the tags that say where and how they are.
pub(super) fn write(codes: &Codes, spec: &DngSpec, writer: &mut Writer, tags: &mut Directory) {
    let stored_bits = match spec.coding {
        RawCoding::Words => 16,
        RawCoding::Packed | RawCoding::Lossless { .. } => u16::from(spec.bits),
    };
    tags.insert(258, Values::Short(vec![stored_bits; codes.samples]));
    if let RawCoding::Lossless { predictor, tile } = spec.coding {
        let chunks = tiles(codes, spec.bits, predictor, tile as usize);
        tags.insert(259, Values::Short(vec![7]));
        tags.insert(322, Values::Long(vec![tile]));
        tags.insert(323, Values::Long(vec![tile]));
        place(&chunks, [324, 325], writer, tags);
        return;
    }
    let row = codes.width * codes.samples;
    let chunks: Vec<Vec<u8>> = codes
        .values
        .chunks(row * STRIP)
        .map(|strip| match spec.coding {
            RawCoding::Packed => strip
                .chunks(row)
                .flat_map(|it| packed(it, spec.bits))
                .collect(),
            _ => strip.iter().flat_map(|it| writer.short(*it)).collect(),
        })
        .collect();
    tags.insert(259, Values::Short(vec![1]));
    tags.insert(278, Values::Long(vec![count(STRIP)]));
    place(&chunks, [273, 279], writer, tags);
}

/// Adds chunks; their places and lengths become tags.
fn place(chunks: &[Vec<u8>], names: [u16; 2], writer: &mut Writer, tags: &mut Directory) {
    let places = chunks.iter().map(|it| writer.block(it)).collect();
    let lengths = chunks.iter().map(|it| count(it.len())).collect();
    tags.insert(names[0], Values::Long(places));
    tags.insert(names[1], Values::Long(lengths));
}

/// A row of numbers one after the other, high bits first, to a whole byte.
fn packed(row: &[u16], bits: u8) -> Vec<u8> {
    let mut out = Vec::with_capacity(row.len() * usize::from(bits) / 8 + 1);
    let (mut waiting, mut filled) = (0u32, 0u8);
    for value in row {
        waiting = (waiting << bits) | u32::from(*value);
        filled += bits;
        while filled >= 8 {
            filled -= 8;
            out.push((waiting >> filled).to_le_bytes()[0]);
        }
        waiting &= (1 << filled) - 1;
    }
    if filled > 0 {
        out.push((waiting << (8 - filled)).to_le_bytes()[0]);
    }
    out
}

/// Square tiles of lossless JPEG, those at the edges filled with what is next to it.
fn tiles(codes: &Codes, precision: u8, predictor: u8, tile: usize) -> Vec<Vec<u8>> {
    let height = codes.values.len() / (codes.width * codes.samples);
    let corners: Vec<[usize; 2]> = (0..height)
        .step_by(tile)
        .flat_map(|y| (0..codes.width).step_by(tile).map(move |x| [x, y]))
        .collect();
    corners
        .par_iter()
        .map(|[x0, y0]| {
            let mut samples = Vec::with_capacity(tile * tile * codes.samples);
            for y in *y0..y0 + tile {
                for x in *x0..x0 + tile {
                    let at = inside(y, height) * codes.width + inside(x, codes.width);
                    samples.extend(&codes.values[at * codes.samples..][..codes.samples]);
                }
            }
            // A filter array's neighbours of the same row are coded as two components of half as many pixels, so that like
            // filters predict each other.
            let (width, components) = if codes.samples == 1 {
                (tile / 2, 2)
            } else {
                (tile, codes.samples)
            };
            lossless::encode(&Frame {
                samples: &samples,
                width,
                components,
                precision,
                predictor,
            })
        })
        .collect()
}

/// The place itself, or the last one with the same filter.
fn inside(place: usize, size: usize) -> usize {
    if place < size {
        place
    } else {
        size - 1 - (place + 1 + size) % 2
    }
}
