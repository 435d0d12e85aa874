//! What a sequence parameter set says (ITU-T H.265, 7.3.2.2 and annex E): the size, the bit depth, and what the values mean.
//!
//! The decoder reads the set, too, but takes memory by its size without a limit and keeps nothing of what it says of colour.

use crate::photo::error::Problem;

/// What is used of a sequence parameter set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stream {
    /// Luma samples as coded, for which memory is taken.
    pub(super) coded: (u32, u32),
    /// Luma samples of the picture.
    pub(super) size: (u32, u32),
    /// `chroma_format_idc`: 0 is grey, 1–3 are 4:2:0, 4:2:2 and 4:4:4.
    pub(super) chroma: u32,
    /// Bits of luma and of chroma values.
    pub(super) depth: (u32, u32),
    /// What the values mean, if it is said.
    pub(super) signal: Option<Signal>,
}

/// What coded values mean, in the code points of ITU-T H.273.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Signal {
    pub(super) primaries: u16,
    pub(super) transfer: u16,
    pub(super) matrix: u16,
    /// All codes are used, not those from 16 to 235 (240) only.
    pub(super) full_range: bool,
}

/// The code point for "unspecified".
pub(super) const UNSPECIFIED: u16 = 2;

/// Reads a sequence parameter set, given as a whole NAL unit.
///
/// # Errors
///
/// If it ends early or contradicts the standard.
pub(super) fn read(nal: &[u8]) -> Result<Stream, Problem> {
    parse(&mut Bits::new(nal))
        .ok_or_else(|| Problem::Damaged("the description of its bit stream makes no sense".into()))
}

/// `None` if the bits end or leave their bounds.
fn parse(bits: &mut Bits) -> Option<Stream> {
    bits.skip(16 + 4)?; // the unit's header, sps_video_parameter_set_id
    let sub_layers = bits.take(3)?;
    bits.skip(1)?;
    profile_tier_level(bits, sub_layers)?;
    bits.golomb()?; // sps_seq_parameter_set_id
    let chroma = bits.golomb().filter(|it| *it <= 3)?;
    if chroma == 3 && bits.flag()? {
        // separate_colour_plane_flag: three grey pictures.
        return None;
    }
    let coded = (bits.golomb()?, bits.golomb()?);
    let mut window = [0; 4];
    if bits.flag()? {
        let (across, down) = match chroma {
            1 => (2, 2),
            2 => (2, 1),
            _ => (1, 1),
        };
        for (it, unit) in window.iter_mut().zip([across, across, down, down]) {
            *it = bits.golomb()?.checked_mul(unit)?;
        }
    }
    let inside = |whole: u32, a: u32, b: u32| {
        let rest = whole.checked_sub(a.checked_add(b)?)?;
        (rest > 0).then_some(rest)
    };
    let [left, right, top, bottom] = window;
    let size = (inside(coded.0, left, right)?, inside(coded.1, top, bottom)?);
    let depth = (
        8 + bits.golomb().filter(|it| *it <= 8)?,
        8 + bits.golomb().filter(|it| *it <= 8)?,
    );
    let order_bits = 4 + bits.golomb().filter(|it| *it <= 12)?;
    let all_layers = bits.flag()?;
    for _ in if all_layers { 0 } else { sub_layers }..=sub_layers {
        bits.skip_golombs(3)?;
    }
    bits.skip_golombs(6)?; // block sizes and depths of the transform tree
    if bits.flag()? && bits.flag()? {
        scaling_lists(bits)?;
    }
    bits.skip(2)?; // amp_enabled_flag, sample_adaptive_offset_enabled_flag
    if bits.flag()? {
        bits.skip(8)?;
        bits.skip_golombs(2)?;
        bits.skip(1)?;
    }
    reference_sets(bits)?;
    if bits.flag()? {
        let count = bits.golomb().filter(|it| *it <= 32)?;
        for _ in 0..count {
            bits.skip(order_bits + 1)?;
        }
    }
    bits.skip(2)?; // sps_temporal_mvp_enabled_flag, strong_intra_smoothing_enabled_flag
    let signal = if bits.flag()? { usability(bits)? } else { None };
    Some(Stream {
        coded,
        size,
        chroma,
        depth,
        signal,
    })
}

/// H.265, 7.3.3.
fn profile_tier_level(bits: &mut Bits, sub_layers: u32) -> Option<()> {
    const PROFILE: u32 = 88;
    const LEVEL: u32 = 8;
    bits.skip(PROFILE + LEVEL)?;
    let mut further = 0;
    for _ in 0..sub_layers {
        further += if bits.flag()? { PROFILE } else { 0 };
        further += if bits.flag()? { LEVEL } else { 0 };
    }
    if sub_layers > 0 {
        bits.skip(2 * (8 - sub_layers))?;
    }
    bits.skip(further)
}

/// H.265, 7.3.4.
fn scaling_lists(bits: &mut Bits) -> Option<()> {
    for size in 0..4 {
        for _ in (0..6).step_by(if size == 3 { 3 } else { 1 }) {
            if !bits.flag()? {
                bits.skip_golombs(1)?;
                continue;
            }
            let coefficients = 64.min(1 << (4 + 2 * size));
            bits.skip_golombs(coefficients + u32::from(size > 1))?;
        }
    }
    Some(())
}

/// H.265, 7.3.7: of no use for a still picture, but what is wanted stands behind.
fn reference_sets(bits: &mut Bits) -> Option<()> {
    let count = bits.golomb().filter(|it| *it <= 64)?;
    let mut pictures: Vec<u32> = Vec::new();
    for set in 0..count {
        let predicted = set > 0 && bits.flag()?;
        pictures.push(if predicted {
            bits.skip(1)?;
            bits.skip_golombs(1)?;
            let mut kept = 0;
            for _ in 0..=*pictures.last()? {
                // used_by_curr_pic_flag, use_delta_flag
                kept += u32::from(bits.flag()? || bits.flag()?);
            }
            kept
        } else {
            let (before, after) = (bits.golomb()?, bits.golomb()?);
            if before > 16 || after > 16 {
                return None;
            }
            for _ in 0..before + after {
                bits.skip_golombs(1)?;
                bits.skip(1)?;
            }
            before + after
        });
    }
    Some(())
}

/// H.265, E.2.1, as far as the colour description. `None` within if nothing is said of colour.
fn usability(bits: &mut Bits) -> Option<Option<Signal>> {
    const FREE_ASPECT: u32 = 255;
    if bits.flag()? && bits.take(8)? == FREE_ASPECT {
        bits.skip(32)?;
    }
    if bits.flag()? {
        bits.skip(1)?;
    }
    if !bits.flag()? {
        return Some(None);
    }
    bits.skip(3)?;
    let full_range = bits.flag()?;
    let mut points = [UNSPECIFIED; 3];
    if bits.flag()? {
        for it in &mut points {
            *it = u16::try_from(bits.take(8)?).ok()?;
        }
    }
    let [primaries, transfer, matrix] = points;
    Some(Some(Signal {
        primaries,
        transfer,
        matrix,
        full_range,
    }))
}

/// The bits of a NAL unit, first the highest of each byte.
struct Bits {
    bytes: Vec<u8>,
    at: usize,
}

impl Bits {
    /// Takes out the bytes that keep start codes from occurring (H.265, 7.4.2).
    fn new(nal: &[u8]) -> Self {
        let mut bytes = Vec::with_capacity(nal.len());
        let mut zeros = 0;
        for byte in nal {
            if *byte == 3 && zeros >= 2 {
                zeros = 0;
                continue;
            }
            zeros = if *byte == 0 { zeros + 1 } else { 0 };
            bytes.push(*byte);
        }
        Self { bytes, at: 0 }
    }

    fn flag(&mut self) -> Option<bool> {
        let byte = self.bytes.get(self.at / 8)?;
        let bit = byte >> (7 - self.at % 8) & 1;
        self.at += 1;
        Some(bit == 1)
    }

    /// At most 32 bits.
    fn take(&mut self, count: u32) -> Option<u32> {
        let mut value = 0;
        for _ in 0..count {
            value = value << 1 | u32::from(self.flag()?);
        }
        Some(value)
    }

    fn skip(&mut self, count: u32) -> Option<()> {
        self.at += usize::try_from(count).ok()?;
        (self.at <= 8 * self.bytes.len()).then_some(())
    }

    /// An unsigned Exp-Golomb code (H.265, 9.2), as which signed ones can be skipped, too.
    fn golomb(&mut self) -> Option<u32> {
        let mut zeros = 0;
        while !self.flag()? {
            zeros += 1;
            if zeros > 31 {
                return None;
            }
        }
        Some((1 << zeros) - 1 + self.take(zeros)?)
    }

    fn skip_golombs(&mut self, count: u32) -> Option<()> {
        for _ in 0..count {
            self.golomb()?;
        }
        Some(())
    }
}
