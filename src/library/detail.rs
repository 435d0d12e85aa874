//! A reading's lesser numbers in few bytes, without loss.
//!
//! A record's numbers are rounded decimals; as whole multiples of their last decimal they take one to five bytes instead of
//! eight. A number that is no such multiple is kept whole, in nine. What comes first are the colour and its covariances: they alone
//! are needed for means.

use super::LibraryError;
use crate::correct::{Component, ComponentName};
use crate::flag::Flag;
use crate::record::Reading;

type Square = [[f64; 3]; 3];

/// Decimals of the record: covariances, colours and their spreads, places in pixels.
const COVARIANCE: i32 = 9;
const COLOUR: i32 = 6;
const PIXEL: i32 = 2;

const FLAGS: [Flag; 14] = [
    Flag::Unmeasurable,
    Flag::Reference,
    Flag::ClippedHigh,
    Flag::ClippedLow,
    Flag::Glare,
    Flag::Uneven,
    Flag::FewPixels,
    Flag::UnevenLight,
    Flag::ShadowEdge,
    Flag::AssumedSrgb,
    Flag::OutsideEncoding,
    Flag::Noisy,
    Flag::ForcedCorrection,
    Flag::LocalTone,
];

const COMPONENTS: [ComponentName; 11] = [
    ComponentName::Noise,
    ComponentName::Unevenness,
    ComponentName::Illumination,
    ComponentName::Correction,
    ComponentName::Reference,
    ComponentName::Tone,
    ComponentName::Camera,
    ComponentName::LocalTone,
    ComponentName::Rescaling,
    ComponentName::Drift,
    ComponentName::Glare,
];

/// What is not kept in columns of its own, of a reading.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Detail {
    pub(super) lab: [Option<f64>; 3],
    pub(super) cov_own: Option<Square>,
    pub(super) cov_common: Option<Square>,
    pub(super) c: Option<f64>,
    pub(super) h: Option<f64>,
    pub(super) hex: Option<String>,
    pub(super) sd: [Option<f64>; 3],
    pub(super) unevenness: Option<f64>,
    pub(super) pixels: usize,
    pub(super) left_out: f64,
    pub(super) flags: Vec<Flag>,
    pub(super) outline: [[f64; 2]; 4],
    pub(super) components: Vec<Component>,
}

impl From<&Reading> for Detail {
    fn from(it: &Reading) -> Self {
        Self {
            lab: [it.l, it.a, it.b],
            cov_own: it.cov_own,
            cov_common: it.cov_common,
            c: it.c,
            h: it.h,
            hex: it.hex.clone(),
            sd: [it.sd_l, it.sd_a, it.sd_b],
            unevenness: it.unevenness,
            pixels: it.pixels,
            left_out: it.left_out,
            flags: it.flags.clone(),
            outline: it.outline,
            components: it.components.clone(),
        }
    }
}

impl Detail {
    pub(super) fn pack(&self) -> Vec<u8> {
        let mut out = Vec::with_capacity(256);
        for it in self.lab {
            option(&mut out, it);
        }
        square(&mut out, self.cov_own.as_ref());
        square(&mut out, self.cov_common.as_ref());
        for it in [self.c, self.h] {
            option(&mut out, it);
        }
        match self.hex.as_deref().map(hex_bytes) {
            None => out.push(0),
            Some(Some(rgb)) => {
                out.push(1);
                out.extend(rgb);
            }
            Some(None) => {
                out.push(2);
                text(&mut out, self.hex.as_deref().unwrap_or_default());
            }
        }
        for it in self.sd.into_iter().chain([self.unevenness]) {
            option(&mut out, it);
        }
        varint(&mut out, self.pixels as u64);
        number(&mut out, self.left_out, COLOUR);
        varint(&mut out, self.flags.len() as u64);
        for flag in &self.flags {
            out.push(index(&FLAGS, flag));
        }
        for it in self.outline.iter().flatten() {
            number(&mut out, *it, PIXEL);
        }
        varint(&mut out, self.components.len() as u64);
        for it in &self.components {
            out.push(2 * index(&COMPONENTS, &it.name) + u8::from(it.common));
            for sd in it.sd_lab {
                number(&mut out, sd, COLOUR);
            }
        }
        out
    }

    pub(super) fn unpack(packed: &[u8]) -> Result<Self, LibraryError> {
        let mut bytes = Bytes(packed);
        bytes
            .detail()
            .filter(|_| bytes.0.is_empty())
            .ok_or_else(|| LibraryError::damaged("a reading", "its details don't make sense"))
    }
}

/// A colour with its two covariances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Colour {
    pub(super) lab: [f64; 3],
    pub(super) own: Square,
    pub(super) common: Square,
}

/// The colour alone; `None` where there is none.
pub(super) fn colour(packed: &[u8]) -> Result<Option<Colour>, LibraryError> {
    let mut bytes = Bytes(packed);
    let mut read = || {
        let lab = [bytes.option()?, bytes.option()?, bytes.option()?];
        Some((lab, bytes.square()?, bytes.square()?))
    };
    match read() {
        Some(([Some(l), Some(a), Some(b)], Some(own), Some(common))) => Ok(Some(Colour {
            lab: [l, a, b],
            own,
            common,
        })),
        Some(_) => Ok(None),
        None => Err(LibraryError::damaged(
            "a reading",
            "its colour doesn't make sense",
        )),
    }
}

/// Positions in lists of at most 126 entries.
fn index<T: PartialEq>(list: &[T], it: &T) -> u8 {
    let index = list.iter().position(|other| other == it);
    index
        .and_then(|it| u8::try_from(it).ok())
        .expect("the lists hold every variant, which a test sees to")
}

fn hex_bytes(hex: &str) -> Option<[u8; 3]> {
    let digits = hex.strip_prefix('#')?;
    if digits.len() != 6
        || digits
            .bytes()
            .any(|it| !matches!(it, b'0'..=b'9' | b'a'..=b'f'))
    {
        return None;
    }
    let [_, r, g, b] = u32::from_str_radix(digits, 16).ok()?.to_be_bytes();
    Some([r, g, b])
}

/// Seven bits a byte, the lowest first.
fn varint(out: &mut Vec<u8>, mut n: u64) {
    while n > 0x7f {
        out.push(u8::try_from(n & 0x7f).unwrap_or(0) | 0x80);
        n >>= 7;
    }
    out.push(u8::try_from(n).unwrap_or(0));
}

fn text(out: &mut Vec<u8>, it: &str) {
    varint(out, it.len() as u64);
    out.extend(it.as_bytes());
}

/// Twice the multiple (once more less one below zero) plus one; 0 before a number that is kept whole.
fn number(out: &mut Vec<u8>, it: f64, decimals: i32) {
    let scale = 10_f64.powi(decimals);
    let multiple = (it * scale).round();
    // The sign of zero would be lost, as would the last bits of what is no multiple.
    let exact = (multiple + 0.0) / scale;
    if multiple.abs() < 2_f64.powi(52) && exact.to_bits() == it.to_bits() {
        #[expect(clippy::cast_possible_truncation, reason = "below 2^52, and whole")]
        let multiple = multiple as i64;
        let folded = (multiple << 1) ^ (multiple >> 63);
        varint(out, folded.unsigned_abs() + 1);
    } else {
        out.push(0);
        out.extend(it.to_le_bytes());
    }
}

fn option(out: &mut Vec<u8>, it: Option<f64>) {
    out.push(u8::from(it.is_some()));
    if let Some(it) = it {
        number(out, it, COLOUR);
    }
}

/// 0: none; 1: symmetric, six entries; 2: nine.
fn square(out: &mut Vec<u8>, it: Option<&Square>) {
    let Some(m) = it else {
        out.push(0);
        return;
    };
    let same = |row: usize, column: usize| m[row][column].to_bits() == m[column][row].to_bits();
    let symmetric = same(0, 1) && same(0, 2) && same(1, 2);
    out.push(if symmetric { 1 } else { 2 });
    for (row, entries) in m.iter().enumerate() {
        let skipped = if symmetric { row } else { 0 };
        for it in &entries[skipped..] {
            number(out, *it, COVARIANCE);
        }
    }
}

/// What is left to read; `None` where it doesn't make sense.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (first, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*first)
    }

    fn varint(&mut self) -> Option<u64> {
        let mut n = 0_u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            n |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                return Some(n);
            }
        }
        None
    }

    fn count(&mut self) -> Option<usize> {
        usize::try_from(self.varint()?).ok()
    }

    fn text(&mut self) -> Option<String> {
        let length = self.count()?;
        let (text, rest) = self.0.split_at_checked(length)?;
        self.0 = rest;
        String::from_utf8(text.to_vec()).ok()
    }

    fn number(&mut self, decimals: i32) -> Option<f64> {
        match self.varint()? {
            0 => self.take().map(f64::from_le_bytes),
            n => {
                let folded = i64::try_from(n - 1).ok()?;
                let multiple = (folded >> 1) ^ -(folded & 1);
                #[expect(clippy::cast_precision_loss, reason = "it was below 2^52 when packed")]
                let multiple = multiple as f64;
                Some(multiple / 10_f64.powi(decimals))
            }
        }
    }

    fn option(&mut self) -> Option<Option<f64>> {
        match self.byte()? {
            0 => Some(None),
            1 => self.number(COLOUR).map(Some),
            _ => None,
        }
    }

    fn square(&mut self) -> Option<Option<Square>> {
        let kind = self.byte()?;
        if kind == 0 {
            return Some(None);
        }
        let mut m = [[0.0; 3]; 3];
        for (row, column) in (0..9).map(|it| (it / 3, it % 3)) {
            m[row][column] = if kind == 1 && column < row {
                m[column][row]
            } else {
                self.number(COVARIANCE)?
            };
        }
        (kind <= 2).then_some(Some(m))
    }

    fn hex(&mut self) -> Option<Option<String>> {
        match self.byte()? {
            0 => Some(None),
            1 => {
                let [r, g, b] = self.take()?;
                Some(Some(format!("#{r:02x}{g:02x}{b:02x}")))
            }
            2 => self.text().map(Some),
            _ => None,
        }
    }

    fn detail(&mut self) -> Option<Detail> {
        Some(Detail {
            lab: [self.option()?, self.option()?, self.option()?],
            cov_own: self.square()?,
            cov_common: self.square()?,
            c: self.option()?,
            h: self.option()?,
            hex: self.hex()?,
            sd: [self.option()?, self.option()?, self.option()?],
            unevenness: self.option()?,
            pixels: self.count()?,
            left_out: self.number(COLOUR)?,
            flags: {
                let count = self.count()?;
                (0..count)
                    .map(|_| FLAGS.get(usize::from(self.byte()?)).copied())
                    .collect::<Option<_>>()?
            },
            outline: {
                let mut outline = [[0.0; 2]; 4];
                for it in outline.iter_mut().flatten() {
                    *it = self.number(PIXEL)?;
                }
                outline
            },
            components: {
                let count = self.count()?;
                (0..count)
                    .map(|_| {
                        let head = self.byte()?;
                        Some(Component {
                            name: COMPONENTS.get(usize::from(head / 2)).copied()?,
                            common: head % 2 == 1,
                            sd_lab: [
                                self.number(COLOUR)?,
                                self.number(COLOUR)?,
                                self.number(COLOUR)?,
                            ],
                        })
                    })
                    .collect::<Option<_>>()?
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn value() -> impl Strategy<Value = f64> {
        prop_oneof![
            (-20_000_000_i64..20_000_000).prop_map(|it| it as f64 / 1e6),
            (-2_000_000_000_i64..2_000_000_000).prop_map(|it| it as f64 / 1e9),
            any::<f64>().prop_filter("records hold no others", |it| it.is_finite()),
            Just(-0.0),
        ]
    }

    proptest! {
        #[test]
        fn every_bit_comes_back(numbers in proptest::collection::vec(value(), 31 + COMPONENTS.len()), bare in any::<bool>()) {
            let n = |at: usize| numbers[at];
            let m = |at: usize| [[n(at), n(at + 1), n(at + 2)], [n(at + 1), n(at + 3), n(at + 4)], [n(at + 2), n(at + 4), n(at + 5)]];
            let detail = Detail {
                lab: [Some(n(15)), Some(n(16)), None],
                cov_own: (!bare).then(|| m(0)),
                cov_common: (!bare).then(|| [[n(6), n(7), n(8)], [n(9), n(10), n(11)], [n(12), n(13), n(14)]]),
                c: (!bare).then(|| n(15)),
                h: Some(n(16)),
                hex: if bare { Some("odd".to_owned()) } else { Some("#0a9fff".to_owned()) },
                sd: [Some(n(17)), None, Some(n(18))],
                unevenness: Some(n(19)),
                pixels: 123_456,
                left_out: n(20),
                flags: FLAGS.to_vec(),
                outline: [[n(21), n(22)], [n(23), n(24)], [n(25), n(26)], [n(27), n(28)]],
                components: COMPONENTS.iter().enumerate().map(|(k, name)| Component {
                    name: *name,
                    common: k % 2 == 0,
                    sd_lab: [n(29 + k), n(30 + k), n(31 + k)],
                }).collect(),
            };
            let packed = detail.pack();
            let back = Detail::unpack(&packed).unwrap();
            // As text, so that -0 is not 0.
            prop_assert_eq!(format!("{:?}", back), format!("{:?}", detail));
            prop_assert_eq!(colour(&packed).unwrap(), None);
            for end in 0..packed.len() {
                prop_assert!(Detail::unpack(&packed[..end]).is_err());
            }
        }
    }

    /// A new flag or component that these lists lack would be an `expect` that input breaks.
    #[test]
    fn the_lists_hold_every_variant() {
        let count = |schema: schemars::Schema| {
            let value = schema.to_value();
            value["oneOf"].as_array().map_or(0, Vec::len)
        };
        assert_eq!(count(schemars::schema_for!(Flag)), FLAGS.len());
        assert_eq!(
            count(schemars::schema_for!(ComponentName)),
            COMPONENTS.len()
        );
    }
}
