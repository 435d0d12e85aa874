//! `OpcodeList2` with gain maps (DNG 1.4, chapter 7, opcode 9): what undoes the darkening at the corners. Opcodes are big-endian,
//! whatever the file is.

use super::directory::count;
use crate::spectrum::as_f64;
use crate::surface::single;

/// Points of a map, down and across.
const POINTS: [u32; 2] = [13, 17];

/// Which pixels a map is for.
struct Pixels {
    top: u32,
    left: u32,
    pitch: u32,
    planes: u32,
}

/// The list for a picture of a size: a map for each of the four filters, or one for all planes. `vignetting` is the loss at the
/// corners that they undo.
pub(super) fn opcode_list(size: [u32; 2], planes: u32, vignetting: f64) -> Vec<u8> {
    let maps: Vec<Pixels> = if planes == 1 {
        let filter = |top, left| Pixels {
            top,
            left,
            pitch: 2,
            planes,
        };
        vec![filter(0, 0), filter(0, 1), filter(1, 0), filter(1, 1)]
    } else {
        vec![Pixels {
            top: 0,
            left: 0,
            pitch: 1,
            planes,
        }]
    };
    let mut out = count::<u32>(maps.len()).to_be_bytes().to_vec();
    for pixels in maps {
        let data = gain_map(size, &pixels, vignetting);
        // Opcode 9 of DNG 1.3, which a reader must not leave out.
        for number in [9, 0x0103_0000, 0, count(data.len())] {
            out.extend(u32::to_be_bytes(number));
        }
        out.extend(data);
    }
    out
}

fn gain_map([width, height]: [u32; 2], pixels: &Pixels, vignetting: f64) -> Vec<u8> {
    let mut out = Vec::new();
    let mut longs = |values: &[u32]| out.extend(values.iter().flat_map(|it| it.to_be_bytes()));
    longs(&[pixels.top, pixels.left, height, width]);
    longs(&[0, pixels.planes, pixels.pitch, pixels.pitch]);
    longs(&POINTS);
    let spacing = POINTS.map(|it| 1.0 / f64::from(it - 1));
    for number in [spacing[0], spacing[1], 0.0, 0.0] {
        out.extend(number.to_be_bytes());
    }
    out.extend(1u32.to_be_bytes());
    let half = [f64::from(width) / 2.0, f64::from(height) / 2.0];
    let corner2 = half[0] * half[0] + half[1] * half[1];
    for row in 0..POINTS[0] as usize {
        for column in 0..POINTS[1] as usize {
            let x = half[0] * (2.0 * as_f64(column) * spacing[1] - 1.0);
            let y = half[1] * (2.0 * as_f64(row) * spacing[0] - 1.0);
            let gain = 1.0 / (1.0 - vignetting * (x * x + y * y) / corner2);
            out.extend(single(gain).to_be_bytes());
        }
    }
    out
}
