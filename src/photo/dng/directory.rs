//! Directories of a TIFF structure, wherever in the file they are, and their entries as numbers.
//!
//! The TIFF library opens a file by its first picture and refuses sensor values as such; entries are few and simple.

use crate::photo::error::Problem;
use std::collections::BTreeMap;

/// A whole file with its byte order.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'a> {
    bytes: &'a [u8],
    big: bool,
}

/// The entries of one directory, by tag.
#[derive(Debug)]
pub(super) struct Directory<'a> {
    source: Source<'a>,
    /// None where the values of one lie beyond the end of the file.
    entries: BTreeMap<u16, Option<Entry>>,
    /// Where the next directory of the chain begins; 0 after the last one.
    next: usize,
}

/// An entry whose values lie within the file.
#[derive(Clone, Copy, Debug)]
struct Entry {
    kind: u16,
    count: usize,
    at: usize,
}

/// Most pictures of a file that are looked at: cameras write three or four.
const MOST: usize = 32;
/// Most numbers of an entry: a picture as large as any has fewer tiles.
const MOST_NUMBERS: usize = 1 << 20;
const SUB_DIRECTORIES: u16 = 330;

impl<'a> Source<'a> {
    /// None if this is no TIFF structure of 32-bit offsets.
    pub(super) fn of(bytes: &'a [u8]) -> Option<Self> {
        let big = match bytes.get(..4)? {
            b"II*\0" => false,
            b"MM\0*" => true,
            _ => return None,
        };
        Some(Self { bytes, big })
    }

    /// Whether the last byte of a number comes last.
    pub(super) fn is_big(self) -> bool {
        self.big
    }

    /// The first directory, if the file has one.
    pub(super) fn first(self) -> Option<Directory<'a>> {
        self.directory(self.offset(4)?)
    }

    /// All directories: the first, those that follow it, and what they lead to. Whether one of them lies beyond the end of the file.
    pub(super) fn all(self) -> (Vec<Directory<'a>>, bool) {
        let mut found: Vec<Directory<'a>> = Vec::new();
        let mut seen = Vec::new();
        let mut is_cut = false;
        // Where, and whether the one that follows it counts: what follows a directory below another is often garbage.
        let mut open: Vec<(usize, bool)> =
            self.offset(4).map(|at| (at, true)).into_iter().collect();
        while let Some((at, in_chain)) = open.pop() {
            // 0 ends a chain.
            if at == 0 || seen.contains(&at) || found.len() >= MOST {
                continue;
            }
            seen.push(at);
            let Some(directory) = self.directory(at) else {
                is_cut = true;
                continue;
            };
            if in_chain {
                open.push((directory.next, true));
            }
            let below = directory.offsets(SUB_DIRECTORIES);
            open.extend(below.into_iter().take(MOST).map(|at| (at, false)));
            found.push(directory);
        }
        (found, is_cut)
    }

    /// None if it lies beyond the end of the file.
    fn directory(self, at: usize) -> Option<Directory<'a>> {
        let count = usize::from(self.short(at)?);
        let entry = |i| {
            let at = at + 2 + 12 * i;
            let (tag, kind) = (self.short(at)?, self.short(at + 2)?);
            Some((tag, self.entry(kind, at)))
        };
        let entries: Option<BTreeMap<u16, Option<Entry>>> = (0..count).map(entry).collect();
        Some(Directory {
            source: self,
            entries: entries?,
            next: self.offset(at + 2 + 12 * count)?,
        })
    }

    /// None if its values lie beyond the end of the file, or are more than any picture has.
    fn entry(self, kind: u16, at: usize) -> Option<Entry> {
        let count = self.offset(at + 4)?;
        let length = count.checked_mul(size(kind))?;
        let at = if length <= 4 {
            at + 8
        } else {
            self.offset(at + 8)?
        };
        let inside = at.checked_add(length)? <= self.bytes.len();
        inside.then_some(Entry { kind, count, at })
    }

    fn take<const N: usize>(self, at: usize) -> Option<[u8; N]> {
        let bytes = self.bytes.get(at..at.checked_add(N)?)?;
        let mut bytes: [u8; N] = bytes.try_into().ok()?;
        if !self.big {
            bytes.reverse();
        }
        Some(bytes)
    }

    fn short(self, at: usize) -> Option<u16> {
        self.take(at).map(u16::from_be_bytes)
    }

    fn long(self, at: usize) -> Option<u32> {
        self.take(at).map(u32::from_be_bytes)
    }

    fn offset(self, at: usize) -> Option<usize> {
        usize::try_from(self.long(at)?).ok()
    }

    fn value(self, kind: u16, at: usize) -> Option<f64> {
        let signed = |at| self.long(at).map(|it| f64::from(it.cast_signed()));
        Some(match kind {
            1 | 2 | 7 => f64::from(*self.bytes.get(at)?),
            3 => f64::from(self.short(at)?),
            4 | 13 => f64::from(self.long(at)?),
            5 => f64::from(self.long(at)?) / f64::from(self.long(at + 4)?),
            6 => f64::from(self.bytes.get(at)?.cast_signed()),
            8 => f64::from(self.short(at)?.cast_signed()),
            9 => signed(at)?,
            10 => signed(at)? / signed(at + 4)?,
            11 => f64::from(f32::from_bits(self.long(at)?)),
            12 => f64::from_bits(u64::from_be_bytes(self.take(at)?)),
            _ => return None,
        })
    }
}

/// Bytes of a value; 0 for kinds that TIFF doesn't know, which have none to ask for.
fn size(kind: u16) -> usize {
    match kind {
        1 | 2 | 6 | 7 => 1,
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 => 8,
        _ => 0,
    }
}

impl<'a> Directory<'a> {
    /// Whether there is such an entry.
    pub(super) fn has(&self, tag: u16) -> bool {
        self.entries.contains_key(&tag)
    }

    /// All values of an entry as numbers; none if there is no such entry.
    ///
    /// # Errors
    ///
    /// If one is no finite number, or they lie beyond the end of the file.
    pub(super) fn numbers(&self, tag: u16) -> Result<Option<Vec<f64>>, Problem> {
        let entry = match self.entries.get(&tag) {
            None => return Ok(None),
            Some(None) => {
                return Err(Problem::Truncated(format!(
                    "its entry {tag} lies beyond the end of the file"
                )));
            }
            Some(Some(entry)) if entry.count > MOST_NUMBERS => {
                return Err(Problem::Damaged(format!(
                    "its entry {tag} claims {} numbers",
                    entry.count
                )));
            }
            Some(Some(entry)) => entry,
        };
        let step = size(entry.kind);
        let value = |i| self.source.value(entry.kind, entry.at + step * i);
        let values: Option<Vec<f64>> = (0..entry.count)
            .map(|i| value(i).filter(|it| it.is_finite()))
            .collect();
        let broken = || Problem::Damaged(format!("its entry {tag} holds no sound numbers"));
        values.map(Some).ok_or_else(broken)
    }

    /// The first value of an entry as a whole number.
    pub(super) fn whole(&self, tag: u16) -> Option<usize> {
        let entry = self.entries.get(&tag)?.as_ref()?;
        let first = self.source.value(entry.kind, entry.at)?;
        (entry.count > 0).then(|| as_whole(first)).flatten()
    }

    /// All values of an entry that are whole numbers; nothing if there is no such entry.
    pub(super) fn offsets(&self, tag: u16) -> Vec<usize> {
        let numbers = self.numbers(tag).ok().flatten().unwrap_or_default();
        numbers.into_iter().filter_map(as_whole).collect()
    }

    /// The bytes of an entry.
    pub(super) fn bytes(&self, tag: u16) -> Option<&'a [u8]> {
        let entry = self.entries.get(&tag)?.as_ref()?;
        let length = entry.count * size(entry.kind);
        self.source.bytes.get(entry.at..entry.at + length)
    }
}

/// A number that counts something; none if it is broken or negative.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to be a whole number of 32 bits"
)]
pub(super) fn as_whole(number: f64) -> Option<usize> {
    let sound = number >= 0.0 && number <= f64::from(u32::MAX) && number.fract() == 0.0;
    sound.then_some(number as usize)
}
