//! Lossless JPEG: process 14 of ITU-T T.81, annex H, with Huffman coding, components interleaved sample by sample.

use super::directory::count;

/// Lengths of the code of each category of differences, 0 to 16, in bits: short for those of a few bits, which noise leaves.
/// They leave room, so that no code is all ones (T.81, C.2).
const LENGTHS: [u8; 17] = [4, 4, 3, 3, 3, 3, 3, 4, 5, 5, 6, 7, 8, 9, 10, 11, 12];

/// Samples of a rectangle to code.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame<'a> {
    /// Interleaved, row by row.
    pub samples: &'a [u16],
    /// Pixels a row.
    pub width: usize,
    /// Samples a pixel.
    pub components: usize,
    /// Bits a sample, 2–16.
    pub precision: u8,
    /// Predictor 1–7 (T.81, table H.1).
    pub predictor: u8,
}

/// The whole stream, from SOI to EOI.
pub(super) fn encode(frame: &Frame<'_>) -> Vec<u8> {
    let stride = frame.width * frame.components;
    let height = frame.samples.len() / stride;
    let mut out = vec![0xff, 0xd8];
    let (codes, by_length) = table();
    segment(&mut out, 0xc4, |it| {
        it.push(0);
        it.extend(by_length.iter().map(|it| count::<u8>(it.len())));
        it.extend(by_length.iter().flatten());
    });
    let components: u8 = count(frame.components);
    segment(&mut out, 0xc3, |it| {
        it.push(frame.precision);
        for size in [height, frame.width] {
            it.extend(count::<u16>(size).to_be_bytes());
        }
        it.push(components);
        for id in 1..=components {
            it.extend([id, 0x11, 0]);
        }
    });
    segment(&mut out, 0xda, |it| {
        it.push(components);
        for id in 1..=components {
            it.extend([id, 0]);
        }
        it.extend([frame.predictor, 0, 0]);
    });
    let mut bits = Bits::default();
    for y in 0..height {
        for x in 0..stride {
            let difference = frame.samples[y * stride + x].wrapping_sub(predicted(frame, x, y));
            let (category, rest) = categorised(difference);
            let (code, length) = codes[usize::from(category)];
            bits.put(&mut out, code, length);
            // Category 16 is one value alone (T.81, H.1.2.2).
            if category < 16 {
                bits.put(&mut out, rest, category);
            }
        }
    }
    bits.finish(&mut out);
    out.extend([0xff, 0xd9]);
    out
}

/// A marker segment with its length.
fn segment(out: &mut Vec<u8>, marker: u8, fill: impl FnOnce(&mut Vec<u8>)) {
    let mut body = Vec::new();
    fill(&mut body);
    out.extend([0xff, marker]);
    out.extend(count::<u16>(body.len() + 2).to_be_bytes());
    out.extend(body);
}

/// Prediction of a sample from its own component's neighbours (T.81, H.1.2.1).
fn predicted(frame: &Frame<'_>, x: usize, y: usize) -> u16 {
    let back = frame.components;
    let stride = frame.width * back;
    let at = y * stride + x;
    let sample = |at: usize| i32::from(frame.samples[at]);
    let prediction = match (x < back, y == 0) {
        (true, true) => 1 << (frame.precision - 1),
        (true, false) => sample(at - stride),
        (false, true) => sample(at - back),
        (false, false) => {
            let (a, b, c) = (
                sample(at - back),
                sample(at - stride),
                sample(at - stride - back),
            );
            match frame.predictor {
                1 => a,
                2 => b,
                3 => c,
                4 => a + b - c,
                5 => a + ((b - c) >> 1),
                6 => b + ((a - c) >> 1),
                _ => (a + b) >> 1,
            }
        }
    };
    modulo(prediction)
}

/// Differences are taken modulo 2^16.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the low 16 bits are what is asked for"
)]
fn modulo(value: i32) -> u16 {
    value as u16
}

/// Category of a difference, and the bits that follow its code (T.81, table H.2 and F.1.2.1.1).
fn categorised(difference: u16) -> (u8, u16) {
    let signed = difference.cast_signed();
    let size = signed.unsigned_abs();
    let category = u8::try_from(16 - size.leading_zeros()).unwrap_or(16);
    let rest = if signed < 0 {
        difference.wrapping_sub(1)
    } else {
        difference
    };
    let mask = (1u32 << category.min(15)) - 1;
    (category, rest & modulo(mask.cast_signed()))
}

/// A code and its length in bits for each category, and the categories of each length (T.81, C.2).
fn table() -> ([(u16, u8); 17], [Vec<u8>; 16]) {
    let by_length: [Vec<u8>; 16] = std::array::from_fn(|i| {
        (0u8..17)
            .filter(|category| usize::from(LENGTHS[usize::from(*category)]) == i + 1)
            .collect()
    });
    let mut codes = [(0, 0); 17];
    let mut next = 0u16;
    for (length, categories) in (1u8..).zip(&by_length) {
        for category in categories {
            codes[usize::from(*category)] = (next, length);
            next += 1;
        }
        next <<= 1;
    }
    (codes, by_length)
}

/// Bits that wait for their byte to fill.
#[derive(Default)]
struct Bits {
    waiting: u32,
    count: u8,
}

impl Bits {
    /// Adds the low `length` bits.
    fn put(&mut self, out: &mut Vec<u8>, bits: u16, length: u8) {
        self.waiting = (self.waiting << length) | u32::from(bits);
        self.count += length;
        while self.count >= 8 {
            self.count -= 8;
            let byte = (self.waiting >> self.count).to_le_bytes()[0];
            out.push(byte);
            // A byte of ones would begin a marker.
            if byte == 0xff {
                out.push(0);
            }
        }
        self.waiting &= (1 << self.count) - 1;
    }

    /// Fills the last byte with ones.
    fn finish(mut self, out: &mut Vec<u8>) {
        let missing = (8 - self.count) % 8;
        self.put(out, (1 << missing) - 1, missing);
    }
}
