//! The markers of a JPEG file (ITU-T T.81, annex B): what it claims, what it carries, and whether its end is there.

use crate::photo::error::Problem;
use std::ops::Range;

/// How the coefficients are coded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Coding {
    Sequential,
    Progressive,
    Arithmetic,
    Lossless,
}

#[derive(Clone, Debug)]
pub(super) struct Component {
    pub(super) id: u8,
    /// Sampling factors, 1–4.
    across: u16,
    down: u16,
    /// Per coefficient in zigzag order: bits still to come; 255 before the first scan.
    missing_bits: [u8; 64],
}

/// What the walk over the markers found.
#[derive(Clone, Debug)]
pub(super) struct Markers {
    pub(super) coding: Coding,
    pub(super) precision: u8,
    pub(super) width: u16,
    pub(super) height: u16,
    pub(super) components: Vec<Component>,
    pub(super) adobe_transform: Option<u8>,
    /// The TIFF structure inside the EXIF segment.
    pub(super) exif: Option<Range<usize>>,
    icc: Vec<IccPart>,
    /// A gain map for HDR display is announced or follows.
    pub(super) gain_map: bool,
    /// Bytes of entropy-coded data over all scans.
    pub(super) scan_bytes: u64,
    /// Units of coding between restart markers; 0 for none.
    restart_interval: u64,
    /// Whether a scan has fewer restart markers than its size needs.
    pub(super) restarts_missing: bool,
    /// Whether the last scan ends with a whole restart interval.
    pub(super) ends_at_restart: bool,
    /// Whether the end marker was met.
    pub(super) ended: bool,
    /// Where the end marker, or else the end of the file, is.
    pub(super) end: usize,
}

#[derive(Clone, Debug)]
struct IccPart {
    number: u8,
    of: u8,
    data: Range<usize>,
}

impl Markers {
    /// Walks from the start to the end marker.
    ///
    /// # Errors
    ///
    /// If a segment runs past the end of the file, or there is no frame header.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, Problem> {
        let mut found = Self {
            coding: Coding::Sequential,
            precision: 0,
            width: 0,
            height: 0,
            components: Vec::new(),
            adobe_transform: None,
            exif: None,
            icc: Vec::new(),
            gain_map: false,
            scan_bytes: 0,
            restart_interval: 0,
            restarts_missing: false,
            ends_at_restart: false,
            ended: false,
            end: bytes.len(),
        };
        let mut multi_picture = false;
        let mut at = 2;
        while let Some(marker_at) = next_marker(bytes, at) {
            let marker = bytes[marker_at + 1];
            at = marker_at + 2;
            match marker {
                // Restart markers and TEM stand alone; a second start is damage that the decoder reports.
                0x01 | 0xd0..=0xd8 => continue,
                0xd9 => {
                    found.ended = true;
                    found.end = marker_at;
                    break;
                }
                _ => {}
            }
            let body = segment(bytes, at)?;
            at = body.end;
            let data = &bytes[body.clone()];
            match marker {
                0xc0..=0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf => {
                    found.frame(marker, data)?
                }
                0xda => {
                    let units = found.scan(data)?;
                    let (end, restarts) = end_of_scan(bytes, at);
                    found.count(units, restarts, (end - at) as u64);
                    at = end;
                }
                0xdd => {
                    found.restart_interval = data
                        .iter()
                        .take(2)
                        .fold(0, |sum, it| 256 * sum + u64::from(*it))
                }
                0xe1 => found.app1(data, body.start),
                0xe2 => multi_picture |= found.app2(data, body.start),
                0xee if data.starts_with(b"Adobe") => found.adobe_transform = data.get(11).copied(),
                _ => {}
            }
        }
        if found.components.is_empty() {
            let why = "it has no frame header before its end".to_owned();
            return Err(if found.ended {
                Problem::Damaged(why)
            } else {
                Problem::Truncated(why)
            });
        }
        if multi_picture && found.ended {
            let rest = &bytes[found.end..];
            found.gain_map |= names_gain_map(&rest[..rest.len().min(1 << 16)]);
        }
        Ok(found)
    }

    /// Whether each coefficient of each component came with all of its bits.
    pub(super) fn all_scans_came(&self) -> bool {
        self.components
            .iter()
            .all(|it| it.missing_bits.iter().all(|bits| *bits == 0))
    }

    /// The ICC profile, put together from its parts.
    ///
    /// # Errors
    ///
    /// If parts are missing or don't fit together.
    pub(super) fn icc(&self, bytes: &[u8]) -> Result<Option<Vec<u8>>, Problem> {
        if self.icc.is_empty() {
            return Ok(None);
        }
        let mut parts: Vec<_> = self.icc.iter().collect();
        parts.sort_by_key(|it| it.number);
        let fits = parts.iter().zip(1_usize..).all(|(it, number)| {
            usize::from(it.number) == number && usize::from(it.of) == parts.len()
        });
        if !fits {
            return Err(Problem::BrokenProfile(
                "its parts are incomplete or don't fit together".to_owned(),
            ));
        }
        Ok(Some(
            parts
                .iter()
                .flat_map(|it| &bytes[it.data.clone()])
                .copied()
                .collect(),
        ))
    }

    /// T.81, B.2.2.
    fn frame(&mut self, marker: u8, data: &[u8]) -> Result<(), Problem> {
        let damaged = |what: &str| Problem::Damaged(what.to_owned());
        if !self.components.is_empty() {
            return Err(damaged("it has two frame headers"));
        }
        let [precision, h1, h0, w1, w0, count, rest @ ..] = data else {
            return Err(damaged("its frame header is too short"));
        };
        if rest.len() < 3 * usize::from(*count) || *count == 0 {
            return Err(damaged("its frame header doesn't hold its channels"));
        }
        self.coding = match marker {
            0xc0 | 0xc1 => Coding::Sequential,
            0xc2 => Coding::Progressive,
            0xc9..=0xcf => Coding::Arithmetic,
            _ => Coding::Lossless,
        };
        self.precision = *precision;
        self.height = u16::from_be_bytes([*h1, *h0]);
        self.width = u16::from_be_bytes([*w1, *w0]);
        self.components = rest
            .chunks_exact(3)
            .take(usize::from(*count))
            .map(|it| Component {
                id: it[0],
                across: u16::from(it[1] >> 4),
                down: u16::from(it[1] & 15),
                missing_bits: [255; 64],
            })
            .collect();
        if self
            .components
            .iter()
            .any(|it| !(1..=4).contains(&it.across) || !(1..=4).contains(&it.down))
        {
            return Err(damaged("its sampling factors make no sense"));
        }
        Ok(())
    }

    /// T.81, B.2.3 and G.1.1.1: which coefficients of which components the scan brings, and down to which bit.
    /// Gives the number of its units of coding (minimum coded units).
    fn scan(&mut self, data: &[u8]) -> Result<u64, Problem> {
        let damaged = || Problem::Damaged("a scan header makes no sense".to_owned());
        let (count, rest) = data.split_first().ok_or_else(damaged)?;
        let (selectors, range) = rest
            .split_at_checked(2 * usize::from(*count))
            .ok_or_else(damaged)?;
        let &[first, last, bits, ..] = range else {
            return Err(damaged());
        };
        let (first, last, low) = match self.coding {
            Coding::Progressive => (usize::from(first), usize::from(last), bits & 0x0f),
            _ => (0, 63, 0),
        };
        if first > last || last > 63 {
            return Err(damaged());
        }
        for selector in selectors.chunks_exact(2) {
            for component in self.components.iter_mut().filter(|it| it.id == selector[0]) {
                component.missing_bits[first..=last].fill(low);
            }
        }
        Ok(self.units(selectors))
    }

    /// T.81, A.2: a scan of one component goes block by block, one of several by groups of blocks.
    fn units(&self, selectors: &[u8]) -> u64 {
        let largest = |of: fn(&Component) -> u16| self.components.iter().map(of).max().unwrap_or(1);
        let (across, down) = (largest(|it| it.across), largest(|it| it.down));
        let alone = self
            .components
            .iter()
            .find(|it| selectors.len() == 2 && it.id == selectors[0]);
        let (own_across, own_down) = alone.map_or((1, 1), |it| (it.across, it.down));
        let along = |size: u16, own: u16, of: u16| {
            (u64::from(size) * u64::from(own)).div_ceil(8 * u64::from(of))
        };
        along(self.width, own_across, across) * along(self.height, own_down, down)
    }

    fn count(&mut self, units: u64, restarts: u64, bytes: u64) {
        self.scan_bytes += bytes;
        self.ends_at_restart = false;
        if self.restart_interval > 0 {
            self.restarts_missing |= restarts + 1 < units.div_ceil(self.restart_interval);
            self.ends_at_restart = units.is_multiple_of(self.restart_interval);
        }
    }

    fn app1(&mut self, data: &[u8], start: usize) {
        if data.starts_with(b"Exif\0\0") && self.exif.is_none() {
            self.exif = Some(start + 6..start + data.len());
        } else if data.starts_with(b"http://ns.adobe.com/x") {
            self.gain_map |= names_gain_map(data);
        }
    }

    /// Says whether further pictures follow (CIPA DC-007).
    fn app2(&mut self, data: &[u8], start: usize) -> bool {
        if data.starts_with(b"ICC_PROFILE\0") && data.len() >= 14 {
            self.icc.push(IccPart {
                number: data[12],
                of: data[13],
                data: start + 14..start + data.len(),
            });
        }
        self.gain_map |= data.starts_with(b"urn:iso:std:iso:ts:21496:-1");
        data.starts_with(b"MPF\0")
    }
}

/// The names under which gain maps go in XMP and in the segment of ISO 21496-1.
fn names_gain_map(data: &[u8]) -> bool {
    [
        &b"hdrgm:"[..],
        b"HDRGainMap",
        b"urn:iso:std:iso:ts:21496:-1",
    ]
    .iter()
    .any(|name| data.windows(name.len()).any(|it| it == *name))
}

/// The body of a segment, whose length (itself included) stands at `at`.
fn segment(bytes: &[u8], at: usize) -> Result<Range<usize>, Problem> {
    let cut = || {
        Problem::Truncated(format!(
            "a segment at byte {at} runs past the end of the file"
        ))
    };
    let length = bytes.get(at..at + 2).ok_or_else(cut)?;
    let end = at + usize::from(u16::from_be_bytes([length[0], length[1]]));
    if end < at + 2 {
        return Err(Problem::Damaged(format!(
            "a segment at byte {at} is too short"
        )));
    }
    if end > bytes.len() {
        return Err(cut());
    }
    Ok(at + 2..end)
}

/// The place of the next `0xff` that a marker code follows; fill bytes and stray bytes are passed over.
fn next_marker(bytes: &[u8], from: usize) -> Option<usize> {
    let rest = bytes.get(from..)?;
    rest.windows(2)
        .position(|it| it[0] == 0xff && !matches!(it[1], 0x00 | 0xff))
        .map(|it| from + it)
}

/// The place of the marker that ends the entropy-coded data, or the end of the file, and the number of restart
/// markers before it.
fn end_of_scan(bytes: &[u8], from: usize) -> (usize, u64) {
    let (mut at, mut restarts) = (from, 0);
    while let Some(step) = bytes[at..].iter().position(|it| *it == 0xff) {
        at += step;
        match bytes.get(at + 1) {
            None => break,
            Some(0x00) => at += 2,
            Some(0xd0..=0xd7) => {
                restarts += 1;
                at += 2;
            }
            Some(0xff) => at += 1,
            Some(_) => return (at, restarts),
        }
    }
    (bytes.len(), restarts)
}
