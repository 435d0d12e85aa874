//! TIFF structures in either byte order (TIFF 6.0, section 2).

use std::collections::BTreeMap;

/// The values of one field.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Values {
    /// Numbers of one byte.
    Byte(Vec<u8>),
    /// Text; its closing zero is added.
    Ascii(String),
    Short(Vec<u16>),
    Long(Vec<u32>),
    Rational(Vec<[u32; 2]>),
    Undefined(Vec<u8>),
    SignedRational(Vec<[i32; 2]>),
}

/// Numbers as signed rationals to four decimals, as makers write their matrices.
pub(super) fn ten_thousandths(values: impl IntoIterator<Item = f64>) -> Values {
    let ratio = |it| [whole(it * 1e4), 10_000];
    Values::SignedRational(values.into_iter().map(ratio).collect())
}

/// Numbers of 0 or more as rationals of a denominator.
pub(super) fn ratios(values: impl IntoIterator<Item = f64>, denominator: u32) -> Values {
    let ratio = |it| {
        let top = whole(it * f64::from(denominator));
        [top.unsigned_abs(), denominator]
    };
    Values::Rational(values.into_iter().map(ratio).collect())
}

#[expect(clippy::cast_possible_truncation, reason = "the cast saturates")]
fn whole(value: f64) -> i32 {
    value.round() as i32
}

/// The fields of one directory, by tag.
pub(super) type Directory = BTreeMap<u16, Values>;

/// A file that grows.
pub(super) struct Writer {
    big_endian: bool,
    bytes: Vec<u8>,
}

impl Writer {
    pub(super) fn new(big_endian: bool) -> Self {
        let mut writer = Self {
            big_endian,
            bytes: if big_endian {
                b"MM".to_vec()
            } else {
                b"II".to_vec()
            },
        };
        let magic = writer.short(42);
        writer.bytes.extend(magic);
        // The first directory's place, not known yet.
        writer.bytes.extend([0; 4]);
        writer
    }

    pub(super) fn short(&self, value: u16) -> [u8; 2] {
        if self.big_endian {
            value.to_be_bytes()
        } else {
            value.to_le_bytes()
        }
    }

    fn long(&self, value: u32) -> [u8; 4] {
        if self.big_endian {
            value.to_be_bytes()
        } else {
            value.to_le_bytes()
        }
    }

    /// Adds a block at an even place; says where. No file of ours is as long as 4 GiB.
    pub(super) fn block(&mut self, data: &[u8]) -> u32 {
        self.bytes.resize(self.bytes.len().next_multiple_of(2), 0);
        let at = count(self.bytes.len());
        self.bytes.extend(data);
        at
    }

    /// Adds a directory; says where.
    pub(super) fn directory(&mut self, fields: &Directory) -> u32 {
        let mut entries = self.short(count(fields.len())).to_vec();
        for (tag, values) in fields {
            let (kind, number, mut data) = self.coded(values);
            if data.len() > 4 {
                let at = self.block(&data);
                data = self.long(at).to_vec();
            }
            data.resize(4, 0);
            entries.extend(self.short(*tag));
            entries.extend(self.short(kind));
            entries.extend(self.long(count(number)));
            entries.extend(data);
        }
        // No further directory.
        entries.extend([0; 4]);
        self.block(&entries)
    }

    /// Type, count and bytes of a field.
    fn coded(&self, values: &Values) -> (u16, usize, Vec<u8>) {
        match values {
            Values::Byte(it) => (1, it.len(), it.clone()),
            Values::Ascii(it) => {
                let text = [it.as_bytes(), &[0]].concat();
                (2, text.len(), text)
            }
            Values::Short(it) => (
                3,
                it.len(),
                it.iter().flat_map(|it| self.short(*it)).collect(),
            ),
            Values::Long(it) => (
                4,
                it.len(),
                it.iter().flat_map(|it| self.long(*it)).collect(),
            ),
            Values::Rational(it) => (
                5,
                it.len(),
                it.iter().flatten().flat_map(|it| self.long(*it)).collect(),
            ),
            Values::Undefined(it) => (7, it.len(), it.clone()),
            Values::SignedRational(it) => (
                10,
                it.len(),
                it.iter()
                    .flatten()
                    .flat_map(|it| self.long(it.cast_unsigned()))
                    .collect(),
            ),
        }
    }

    /// The file, whose first directory is there.
    pub(super) fn finish(mut self, first: u32) -> Vec<u8> {
        let place = self.long(first);
        self.bytes[4..8].copy_from_slice(&place);
        self.bytes
    }
}

/// A length or place as a field of a file has it.
pub(super) fn count<T: TryFrom<usize>>(it: usize) -> T
where
    T::Error: std::fmt::Debug,
{
    T::try_from(it).expect("pictures of ours fit into TIFF and JPEG")
}
