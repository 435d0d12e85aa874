//! Lossless JPEG, the process of ITU-T T.81, annex H, with Huffman codes (SOF₃), from memory and held against `LibRaw` and `imagecodecs`: how most cameras pack a sensor's values.
//!
//! Libraries that read what cameras write are copyleft or not in Rust (looked at: `rawler`, `rawloader`, `LibRaw`, `imagecodecs`).

use crate::photo::error::Problem;

/// What a stream says of itself.
#[derive(Clone, Copy, Debug)]
struct Frame {
    precision: u32,
    rows: usize,
    columns: usize,
    components: usize,
}

/// Decodes one stream into exactly `samples` values, in the order of the stream: row by row, components interleaved.
///
/// # Errors
///
/// If it is cut short, damaged, of another process, or holds another number of values.
pub(super) fn decode(stream: &[u8], samples: usize) -> Result<Vec<u16>, Problem> {
    let mut tables: [Option<Table>; 4] = [None, None, None, None];
    let mut frame = None;
    let mut restart = 0;
    let mut rest = stream
        .strip_prefix(b"\xff\xd8")
        .ok_or_else(|| damaged("a part of its values is no JPEG stream"))?;
    loop {
        let (marker, segment, after) = segment(rest)?;
        rest = after;
        match marker {
            0xc3 => frame = Some(Frame::read(segment)?),
            0xc4 => read_tables(segment, &mut tables)?,
            0xdd => restart = usize::from(short(segment, 0)?),
            0xda => {
                let frame = frame.ok_or_else(|| damaged("a scan comes before its frame"))?;
                let scan = Scan::read(segment, &frame, &tables)?;
                return scan.decode(rest, &frame, restart, samples);
            }
            0xc0..=0xcf => {
                return Err(Problem::SensorValues(
                    "they are packed by lossy JPEG".to_owned(),
                ));
            }
            _ => {}
        }
    }
}

fn damaged(what: &str) -> Problem {
    Problem::Damaged(what.to_owned())
}

fn cut_short() -> Problem {
    Problem::Truncated("a part of its sensor values ends early".to_owned())
}

fn byte(bytes: &[u8], at: usize) -> Result<u8, Problem> {
    bytes.get(at).copied().ok_or_else(cut_short)
}

fn short(bytes: &[u8], at: usize) -> Result<u16, Problem> {
    Ok(u16::from_be_bytes([byte(bytes, at)?, byte(bytes, at + 1)?]))
}

/// The next marker, its segment without the length, and what follows.
fn segment(bytes: &[u8]) -> Result<(u8, &[u8], &[u8]), Problem> {
    let start = bytes.iter().take_while(|it| **it == 0xff).count();
    if start == 0 {
        return Err(damaged("a marker is missing in its sensor values"));
    }
    let marker = byte(bytes, start)?;
    if marker == 0xd9 {
        return Err(cut_short());
    }
    let length = usize::from(short(bytes, start + 1)?);
    let segment = bytes.get(start + 3..start + 1 + length.max(2));
    let after = bytes.get(start + 1 + length.max(2)..);
    let (Some(segment), Some(after)) = (segment, after) else {
        return Err(cut_short());
    };
    Ok((marker, segment, after))
}

impl Frame {
    fn read(segment: &[u8]) -> Result<Self, Problem> {
        let components = usize::from(byte(segment, 5)?);
        let frame = Self {
            precision: byte(segment, 0)?.into(),
            rows: short(segment, 1)?.into(),
            columns: short(segment, 3)?.into(),
            components,
        };
        let even = (0..components).all(|i| segment.get(7 + 3 * i) == Some(&0x11));
        if !(2..=16).contains(&frame.precision) || !(1..=4).contains(&components) || !even {
            return Err(damaged("its sensor values are laid out as JPEG doesn't"));
        }
        Ok(frame)
    }
}

/// A Huffman code of differences' categories.
#[derive(Clone, Debug)]
struct Table {
    /// For the next [`LOOK`] bits: the length of a code and its category, or 0 where the code is longer.
    quick: Vec<[u8; 2]>,
    /// Codes of each length from 1 on: how many bits' worth come before the longer ones, left-aligned in 16 bits, and what to add to
    /// a code for its place in `categories`.
    ends: [u32; 17],
    places: [i32; 17],
    categories: Vec<u8>,
}

/// Bits that are looked at in one step.
const LOOK: u32 = 10;

fn read_tables(mut segment: &[u8], tables: &mut [Option<Table>; 4]) -> Result<(), Problem> {
    while !segment.is_empty() {
        let place = usize::from(byte(segment, 0)? & 0x0f);
        let counts = segment.get(1..17).ok_or_else(cut_short)?;
        let all: usize = counts.iter().map(|it| usize::from(*it)).sum();
        let categories = segment.get(17..17 + all).ok_or_else(cut_short)?;
        let slot = tables
            .get_mut(place)
            .ok_or_else(|| damaged("it has more code tables than JPEG allows"))?;
        *slot = Some(Table::of(counts, categories)?);
        segment = &segment[17 + all..];
    }
    Ok(())
}

impl Table {
    fn of(counts: &[u8], categories: &[u8]) -> Result<Self, Problem> {
        let broken = || damaged("a code table of its sensor values contradicts itself");
        if categories.iter().any(|it| *it > 16) {
            return Err(broken());
        }
        let mut table = Self {
            quick: vec![[0, 0]; 1 << LOOK],
            ends: [0; 17],
            places: [0; 17],
            categories: categories.to_vec(),
        };
        let (mut code, mut place) = (0_u32, 0_usize);
        for length in 1..=16_u32 {
            let count = u32::from(counts[length as usize - 1]);
            if code + count > 1 << length {
                return Err(broken());
            }
            table.places[length as usize] =
                i32::try_from(place).map_err(|_| broken())? - code.cast_signed();
            for _ in 0..count {
                if length <= LOOK {
                    let spare = LOOK - length;
                    let from = (code << spare) as usize;
                    let entry = [u8::try_from(length).unwrap_or(0), categories[place]];
                    table.quick[from..from + (1 << spare)].fill(entry);
                }
                code += 1;
                place += 1;
            }
            table.ends[length as usize] = code << (16 - length);
            code <<= 1;
        }
        Ok(table)
    }
}

/// One scan: all components in turns.
#[derive(Debug)]
struct Scan<'a> {
    tables: Vec<&'a Table>,
    predictor: u8,
    /// Low bits that were left out.
    shift: u32,
}

impl<'a> Scan<'a> {
    fn read(
        segment: &[u8],
        frame: &Frame,
        tables: &'a [Option<Table>; 4],
    ) -> Result<Self, Problem> {
        let count = usize::from(byte(segment, 0)?);
        if count != frame.components {
            return Err(damaged("its sensor values come in several scans"));
        }
        let table = |i: usize| {
            let place = usize::from(byte(segment, 2 + 2 * i)? >> 4);
            let table = tables.get(place).and_then(Option::as_ref);
            table.ok_or_else(|| damaged("a code table of its sensor values is missing"))
        };
        let tables = (0..count).map(table).collect::<Result<_, _>>()?;
        let predictor = byte(segment, 1 + 2 * count)?;
        let shift = u32::from(byte(segment, 3 + 2 * count)? & 0x0f);
        if !(1..=7).contains(&predictor) || shift >= frame.precision {
            return Err(damaged("its sensor values are predicted in an unknown way"));
        }
        Ok(Self {
            tables,
            predictor,
            shift,
        })
    }

    fn decode(
        &self,
        coded: &[u8],
        frame: &Frame,
        restart: usize,
        samples: usize,
    ) -> Result<Vec<u16>, Problem> {
        let row = frame.columns * frame.components;
        if row * frame.rows != samples || samples == 0 {
            return Err(damaged(&format!(
                "a part of its sensor values holds {} of them, not {samples}",
                row * frame.rows
            )));
        }
        // Each value takes a bit at least.
        if samples > 8 * coded.len() {
            return Err(cut_short());
        }
        let mut bits = Bits::of(coded);
        let mut values = vec![0_u16; samples];
        let middle = 1_u16 << (frame.precision - self.shift - 1);
        // Restarts come between rows only, as the standard has it.
        let rows_to_restart = restart / frame.columns.max(1);
        if restart > 0 && rows_to_restart * frame.columns != restart {
            return Err(damaged("its sensor values restart within a row"));
        }
        for y in 0..frame.rows {
            let restarts = rows_to_restart > 0 && y > 0 && y % rows_to_restart == 0;
            if restarts {
                bits = bits.after_restart()?;
            }
            let (above, here) = values.split_at_mut(y * row);
            let here = &mut here[..row];
            if y == 0 || restarts {
                self.first_row(&mut bits, here, middle)?;
            } else {
                self.row(&mut bits, &above[(y - 1) * row..], here)?;
            }
            if bits.is_spent() {
                return Err(cut_short());
            }
        }
        if self.shift > 0 {
            for value in &mut values {
                *value <<= self.shift;
            }
        }
        Ok(values)
    }

    /// The first row of a scan or after a restart is predicted from the left.
    fn first_row(&self, bits: &mut Bits<'_>, row: &mut [u16], middle: u16) -> Result<(), Problem> {
        let n = self.tables.len();
        for i in 0..row.len() {
            let left = if i < n { middle } else { row[i - n] };
            row[i] = left.wrapping_add(bits.difference(self.tables[i % n])?);
        }
        Ok(())
    }

    fn row(&self, bits: &mut Bits<'_>, above: &[u16], row: &mut [u16]) -> Result<(), Problem> {
        let n = self.tables.len();
        for c in 0..n {
            row[c] = above[c].wrapping_add(bits.difference(self.tables[c])?);
        }
        match (self.predictor, n) {
            // What nearly all cameras write, without a choice at each value.
            (1, 2) => {
                let [one, two] = [self.tables[0], self.tables[1]];
                let [mut left, mut right] = [row[0], row[1]];
                for pair in row[2..].chunks_exact_mut(2) {
                    left = left.wrapping_add(bits.difference(one)?);
                    right = right.wrapping_add(bits.difference(two)?);
                    pair[0] = left;
                    pair[1] = right;
                }
            }
            _ => {
                for i in n..row.len() {
                    let predicted = self.predict(row[i - n], above[i], above[i - n]);
                    row[i] = predicted.wrapping_add(bits.difference(self.tables[i % n])?);
                }
            }
        }
        Ok(())
    }

    /// Table H.1 of the standard: from what is to the left, above, and above to the left.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "values are sums modulo 65,536 by the standard"
    )]
    fn predict(&self, left: u16, above: u16, corner: u16) -> u16 {
        let [a, b, c] = [left, above, corner].map(i32::from);
        let predicted = match self.predictor {
            1 => a,
            2 => b,
            3 => c,
            4 => a + b - c,
            5 => a + ((b - c) >> 1),
            6 => b + ((a - c) >> 1),
            _ => (a + b) >> 1,
        };
        predicted as u16
    }
}

/// The bits of an entropy-coded segment, without the zeros that are stuffed after 0xFF.
#[derive(Debug)]
struct Bits<'a> {
    coded: &'a [u8],
    at: usize,
    held: u64,
    count: u32,
    /// Zeros that were made up after the end.
    made_up: u32,
}

impl<'a> Bits<'a> {
    fn of(coded: &'a [u8]) -> Self {
        Self {
            coded,
            at: 0,
            held: 0,
            count: 0,
            made_up: 0,
        }
    }

    /// At least 48 bits are held afterwards.
    #[inline]
    fn fill(&mut self) {
        if let Some(Ok(eight)) = self
            .coded
            .get(self.at..self.at + 8)
            .map(<[u8; 8]>::try_from)
        {
            let word = u64::from_be_bytes(eight);
            // Whether no byte is 0xFF: none of their complements is zero.
            let complement = !word;
            let zero =
                complement.wrapping_sub(0x0101_0101_0101_0101) & word & 0x8080_8080_8080_8080;
            if zero == 0 {
                let bytes = (64 - self.count) / 8;
                let taken = 8 * bytes;
                if taken == 0 {
                    return;
                }
                // Bits below those that are taken are cut off again.
                let word = word >> (64 - taken) << (64 - taken);
                self.held |= word >> self.count;
                self.count += taken;
                self.at += bytes as usize;
                return;
            }
        }
        self.fill_slowly();
    }

    #[cold]
    fn fill_slowly(&mut self) {
        while self.count <= 56 {
            let byte = match self.coded.get(self.at) {
                Some(0xff) => match self.coded.get(self.at + 1) {
                    Some(0) => {
                        self.at += 2;
                        0xff
                    }
                    // A marker: nothing follows.
                    _ => self.nothing(),
                },
                Some(byte) => {
                    self.at += 1;
                    *byte
                }
                None => self.nothing(),
            };
            self.held |= u64::from(byte) << (56 - self.count);
            self.count += 8;
        }
    }

    fn nothing(&mut self) -> u8 {
        self.made_up += 8;
        0
    }

    /// Whether more was asked for than there is.
    fn is_spent(&self) -> bool {
        self.made_up > self.count
    }

    /// Behind the next restart marker.
    fn after_restart(&self) -> Result<Self, Problem> {
        let rest = self.coded.get(self.at..).unwrap_or_default();
        match rest {
            [0xff, 0xd0..=0xd7, rest @ ..] if !self.is_spent() => Ok(Self::of(rest)),
            _ => Err(damaged("a restart is missing in its sensor values")),
        }
    }

    /// The next difference, modulo 65,536.
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "differences count modulo 65,536 by the standard"
    )]
    fn difference(&mut self, table: &Table) -> Result<u16, Problem> {
        if self.count < 32 {
            self.fill();
        }
        let [length, category] = table.quick[(self.held >> (64 - LOOK)) as usize];
        let (length, category) = if length > 0 {
            (u32::from(length), u32::from(category))
        } else {
            self.long_code(table)?
        };
        self.held <<= length;
        self.count -= length;
        if category == 0 {
            return Ok(0);
        }
        if category == 16 {
            return Ok(1 << 15);
        }
        let extra = (self.held >> (64 - category)) as u32;
        self.held <<= category;
        self.count -= category;
        // A first bit of 0 means a negative difference.
        let negative = extra >> (category - 1) == 0;
        let value = if negative {
            extra.wrapping_sub((1 << category) - 1)
        } else {
            extra
        };
        Ok(value as u16)
    }

    #[cold]
    fn long_code(&self, table: &Table) -> Result<(u32, u32), Problem> {
        let next = (self.held >> 48) as u32;
        for length in LOOK + 1..=16 {
            if next < table.ends[length as usize] {
                let code = (next >> (16 - length)).cast_signed();
                let place = usize::try_from(code + table.places[length as usize]).ok();
                let category = place.and_then(|it| table.categories.get(it));
                return match category {
                    Some(category) => Ok((length, u32::from(*category))),
                    None => break,
                };
            }
        }
        Err(damaged(
            "its sensor values hold a code that isn't in its table",
        ))
    }
}
