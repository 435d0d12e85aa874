//! ICC profiles of the files, written out byte by byte (ICC.1:2010, matrix and tone curves).

use crate::develop::{ICC_D50, decode};
use crate::spec::{Encoding, Space};
use crate::spectrum::as_f64;

/// Version of a profile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProfileVersion {
    /// 2.4, with the tone curve as a table of 1024 values.
    V2,
    /// 4.3, with the tone curve as parameters.
    V4,
}

/// The profile of a file: colour space and whether its values are linear.
#[must_use]
pub fn icc_profile(space: Space, encoding: Encoding, version: ProfileVersion) -> Vec<u8> {
    let name = match (space, encoding) {
        (Space::Srgb, Encoding::Display) => "sRGB",
        (Space::DisplayP3, Encoding::Display) => "Display P3",
        (Space::Srgb, Encoding::Linear) => "Linear sRGB",
        (Space::DisplayP3, Encoding::Linear) => "Linear Display P3",
    };
    let colorants = space.to_xyz_d50();
    let curve = curve(encoding, version);
    let column = |c: usize| xyz([colorants[(0, c)], colorants[(1, c)], colorants[(2, c)]]);
    let tags: [(&[u8; 4], Vec<u8>); 9] = [
        (b"desc", text(name, version, true)),
        (b"cprt", text("No copyright, use freely", version, false)),
        (b"wtpt", xyz(ICC_D50)),
        (b"rXYZ", column(0)),
        (b"gXYZ", column(1)),
        (b"bXYZ", column(2)),
        (b"rTRC", curve.clone()),
        (b"gTRC", curve.clone()),
        (b"bTRC", curve),
    ];
    let mut table = Vec::new();
    let mut data = Vec::new();
    let start = 128 + 4 + 12 * tags.len();
    for (tag, content) in &tags {
        table.extend_from_slice(*tag);
        push_u32(&mut table, start + data.len());
        push_u32(&mut table, content.len());
        data.extend_from_slice(content);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    let mut out = Vec::new();
    push_u32(&mut out, start + data.len());
    out.extend_from_slice(&[0; 4]);
    out.extend_from_slice(if version == ProfileVersion::V2 {
        &[2, 0x40, 0, 0]
    } else {
        &[4, 0x30, 0, 0]
    });
    out.extend_from_slice(b"mntrRGB XYZ ");
    for part in [2026u16, 1, 1, 0, 0, 0] {
        out.extend_from_slice(&part.to_be_bytes());
    }
    out.extend_from_slice(b"acsp");
    out.resize(68, 0);
    for value in ICC_D50 {
        out.extend_from_slice(&fixed(value));
    }
    out.resize(128, 0);
    push_u32(&mut out, tags.len());
    out.extend_from_slice(&table);
    out.extend_from_slice(&data);
    out
}

fn push_u32(out: &mut Vec<u8>, value: usize) {
    out.extend_from_slice(
        &u32::try_from(value)
            .expect("a profile has some hundred bytes")
            .to_be_bytes(),
    );
}

/// `s15Fixed16Number`.
#[expect(
    clippy::cast_possible_truncation,
    reason = "colorants and parameters lie within ±3"
)]
fn fixed(value: f64) -> [u8; 4] {
    ((value * 65536.0).round() as i32).to_be_bytes()
}

fn xyz(values: [f64; 3]) -> Vec<u8> {
    let mut out = b"XYZ \0\0\0\0".to_vec();
    for value in values {
        out.extend_from_slice(&fixed(value));
    }
    out
}

/// A description or a plain text, in the version's own form.
fn text(words: &str, version: ProfileVersion, description: bool) -> Vec<u8> {
    let mut out = Vec::new();
    if version == ProfileVersion::V4 {
        out.extend_from_slice(b"mluc\0\0\0\0");
        push_u32(&mut out, 1);
        push_u32(&mut out, 12);
        out.extend_from_slice(b"enUS");
        push_u32(&mut out, 2 * words.len());
        push_u32(&mut out, 28);
        out.extend(words.encode_utf16().flat_map(u16::to_be_bytes));
    } else if description {
        out.extend_from_slice(b"desc\0\0\0\0");
        push_u32(&mut out, words.len() + 1);
        out.extend_from_slice(words.as_bytes());
        // End of the text, then no Unicode and no script name.
        out.resize(out.len() + 1 + 8 + 3 + 67, 0);
    } else {
        out.extend_from_slice(b"text\0\0\0\0");
        out.extend_from_slice(words.as_bytes());
        out.push(0);
    }
    out
}

fn curve(encoding: Encoding, version: ProfileVersion) -> Vec<u8> {
    if encoding == Encoding::Linear {
        return b"curv\0\0\0\0\0\0\0\0".to_vec();
    }
    match version {
        ProfileVersion::V4 => {
            let mut out = b"para\0\0\0\0\0\x03\0\0".to_vec();
            for value in [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045] {
                out.extend_from_slice(&fixed(value));
            }
            out
        }
        ProfileVersion::V2 => {
            let mut out = b"curv\0\0\0\0".to_vec();
            push_u32(&mut out, 1024);
            for i in 0..1024 {
                out.extend_from_slice(&code16(decode(as_f64(i) / 1023.0)).to_be_bytes());
            }
            out
        }
    }
}

/// 0–1 as 16 bits.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "0–1 times 65535"
)]
fn code16(value: f64) -> u16 {
    (value.clamp(0.0, 1.0) * 65535.0).round() as u16
}
