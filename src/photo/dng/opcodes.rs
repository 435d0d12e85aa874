//! What a file asks its reader to do to the values: gains that undo the lens' shading. Other wishes are named.
//!
//! DNG specification, its chapter on opcode lists, from memory: none of the libraries that judge the rest applies them. Numbers in these lists have their last byte last, whatever the file's order is.

use super::cell::{Cell, Place};
use super::directory::Directory;
use super::raw::Area;
use super::tags;
use crate::photo::error::Problem;

/// All gains of a file, on linear values of its active area.
#[derive(Debug, Default)]
pub(super) struct Gains {
    maps: Vec<GainMap>,
    radial: Vec<Radial>,
}

/// Gains on a coarse grid, for some of the rows, columns and colours.
#[derive(Debug)]
struct GainMap {
    /// It is for the three colours of each pixel, after all of them are there, not for what the filter array gave.
    of_colours: bool,
    /// Top, left, bottom, right of what it is for, pixels of the active area.
    area: [usize; 4],
    /// First colour and how many.
    planes: [usize; 2],
    /// One row and one column in so many.
    pitch: [usize; 2],
    /// Points down and across.
    points: [usize; 2],
    /// Distance and first place of points, as parts of the active area, down and across.
    spacing: [f64; 2],
    origin: [f64; 2],
    map_planes: usize,
    values: Vec<f32>,
}

/// A polynomial in the squared distance from a centre.
#[derive(Debug)]
struct Radial {
    factors: [f64; 5],
    /// As parts of the active area, across and down.
    centre: [f64; 2],
}

/// Which pixels of which colour are asked about: every `step` columns from `first`, in one row of the active area.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    pub(super) row: usize,
    pub(super) first: usize,
    pub(super) step: usize,
    pub(super) count: usize,
    /// Which of the stored values of a pixel: 0 behind a filter array.
    pub(super) sample: usize,
    /// 0 red, 1 green, 2 blue.
    pub(super) colour: usize,
}

const WARPS: [u32; 3] = [1, 2, 14];
const RADIAL: u32 = 3;
const BAD_PIXELS: [u32; 2] = [4, 5];
const GAIN_MAP: u32 = 9;
/// Of an opcode's flags: it may be left out.
const OPTIONAL: u32 = 1;
/// Gains beyond this are no lens'.
const MOST: f32 = 64.0;
/// More maps, or points of one across or down, are no lens' either: phones have four maps of 13 × 17 points.
const MOST_MAPS: usize = 64;
const MOST_POINTS: usize = 1024;
/// Wishes that were not granted, of which more are not told.
const MOST_REMARKS: usize = 8;

impl Gains {
    /// Reads all lists of a directory; what is left undone goes to `remarks`, in words.
    ///
    /// # Errors
    ///
    /// If a list is broken, or asks for a change of values that is not read and must not be left out.
    pub(super) fn read(
        directory: &Directory<'_>,
        remarks: &mut Vec<String>,
    ) -> Result<Self, Problem> {
        let mut gains = Self::default();
        for (stage, tag) in tags::OPCODES.into_iter().enumerate() {
            // The first list is for stored values, black and all: gains in it would be others.
            let (before_black, of_colours) = (stage == 0, stage == 2);
            let mut words = Words(directory.bytes(tag).unwrap_or_default());
            let count = if words.0.is_empty() { 0 } else { words.long()? };
            for _ in 0..count {
                let [kind, _version, flags] = [words.long()?, words.long()?, words.long()?];
                let length = words.whole()?;
                let mut content = Words(words.take(length)?);
                // Where things are is found in the picture; means leave single pixels out.
                if WARPS.contains(&kind) || BAD_PIXELS.contains(&kind) {
                    continue;
                }
                let taken = match kind {
                    GAIN_MAP if !before_black && gains.maps.len() < MOST_MAPS => {
                        GainMap::read(&mut content, of_colours).map(|it| gains.maps.push(it))
                    }
                    RADIAL if !before_black && gains.radial.len() < MOST_MAPS => {
                        Radial::read(&mut content).map(|it| gains.radial.push(it))
                    }
                    _ => Err(Problem::SensorValues(format!(
                        "they ask for a correction that is not read (opcode {kind})"
                    ))),
                };
                match taken {
                    Err(_) if flags & OPTIONAL != 0 => {
                        let remark = format!(
                            "the raw file asks for a correction of its values that was not done (opcode {kind})"
                        );
                        if remarks.len() < MOST_REMARKS && !remarks.contains(&remark) {
                            remarks.push(remark);
                        }
                    }
                    taken => taken?,
                }
            }
        }
        Ok(gains)
    }

    /// No value of a cell has a larger gain. Maps for other places of the cell don't add up.
    pub(super) fn largest(&self, cell: &Cell) -> f32 {
        let radial: f32 = self.radial.iter().map(Radial::largest).product();
        let of_place = |place: &Place| {
            let maps = self.maps.iter().filter(|it| it.may_touch(place, cell));
            let most = |it: &GainMap| it.values.iter().copied().fold(1.0, f32::max);
            maps.map(most).product::<f32>()
        };
        let most = cell.places.iter().map(of_place).fold(1.0, f32::max);
        (most * radial).min(MOST)
    }

    /// The gains along a line; none where all are 1.
    pub(super) fn along(&self, line: &Line, active: Area) -> Option<Vec<f32>> {
        let mut gains: Option<Vec<f32>> = None;
        let mut multiply = |by: &mut dyn FnMut(usize) -> f32| {
            let gains = gains.get_or_insert_with(|| vec![1.0; line.count]);
            for (i, gain) in gains.iter_mut().enumerate() {
                *gain *= by(line.first + i * line.step);
            }
        };
        for map in self.maps.iter().filter(|it| it.is_for(line)) {
            let knots = map.row(line, active.height);
            let scale = 1.0 / (part(active.width) * map.spacing[1]);
            let start = map.origin[1] / map.spacing[1];
            let last = part(knots.len() - 1);
            multiply(&mut |x| {
                let within = (map.area[1]..map.area[3]).contains(&x)
                    && (x - map.area[1]).is_multiple_of(map.pitch[1]);
                if !within {
                    return 1.0;
                }
                between(&knots, ((part(x) + 0.5) * scale - start).clamp(0.0, last))
            });
        }
        for it in &self.radial {
            multiply(&mut |x| it.at(x, line.row, active));
        }
        gains
    }
}

/// Between the values of neighbouring points.
fn between(knots: &[f32], place: f64) -> f32 {
    let at = floor(place).min(knots.len() - 1);
    let next = (at + 1).min(knots.len() - 1);
    let share = single(place - part(at));
    knots[at] + share * (knots[next] - knots[at])
}

impl GainMap {
    fn read(words: &mut Words<'_>, of_colours: bool) -> Result<Self, Problem> {
        let mut whole = || words.whole();
        let area = [whole()?, whole()?, whole()?, whole()?];
        let planes = [whole()?, whole()?];
        let pitch = [whole()?, whole()?];
        let points = [whole()?, whole()?];
        let spacing = [words.double()?, words.double()?];
        let origin = [words.double()?, words.double()?];
        let map_planes = words.whole()?;
        let count = points[0]
            .checked_mul(points[1])
            .and_then(|it| it.checked_mul(map_planes));
        let count = count
            .filter(|it| *it > 0 && 4 * it <= words.0.len())
            .ok_or_else(broken)?;
        let values: Vec<f32> = (0..count)
            .map(|_| words.float())
            .collect::<Result<_, _>>()?;
        let map = Self {
            of_colours,
            area,
            planes,
            pitch,
            points,
            spacing,
            origin,
            map_planes,
            values,
        };
        let sound = map.values.iter().all(|it| *it > 0.0 && *it <= MOST)
            && map.pitch.iter().all(|it| *it > 0)
            && map.points.iter().all(|it| *it <= MOST_POINTS)
            // A single point has no neighbours; what lies between is one value then.
            && (0..2).all(|i| map.spacing[i] > 0.0 || map.points[i] == 1)
            && map.origin.iter().chain(&map.spacing).all(|it| it.is_finite());
        if sound {
            Ok(map.with_spacing())
        } else {
            Err(broken())
        }
    }

    fn with_spacing(mut self) -> Self {
        for spacing in &mut self.spacing {
            if *spacing <= 0.0 {
                *spacing = 1.0;
            }
        }
        self
    }

    /// Which of its planes a value belongs to, from 0; none if it is for others.
    fn plane(&self, sample: usize, colour: usize) -> Option<usize> {
        let plane = if self.of_colours { colour } else { sample };
        let [first, count] = self.planes;
        plane.checked_sub(first).filter(|it| *it < count)
    }

    fn is_for(&self, line: &Line) -> bool {
        let [top, left, bottom, _] = self.area;
        (top..bottom).contains(&line.row)
            && (line.row - top).is_multiple_of(self.pitch[0])
            && self.plane(line.sample, line.colour).is_some()
            // Columns that are stepped over may be all that it is for.
            && (0..line.count.min(self.pitch[1])).any(|i| {
                let x = line.first + i * line.step;
                x >= left && (x - left).is_multiple_of(self.pitch[1])
            })
    }

    /// Whether it is for such places of any cell, as far as its rows and columns repeat with the cells.
    fn may_touch(&self, place: &Place, cell: &Cell) -> bool {
        let meets = |from: usize, pitch: usize, at: usize, side: usize| {
            pitch > side || (0..side).any(|i| (from + i * pitch) % side == at)
        };
        self.plane(place.sample, place.colour).is_some()
            && meets(self.area[0], self.pitch[0], place.y, cell.height)
            && meets(self.area[1], self.pitch[1], place.x, cell.width)
    }

    /// Values at the points across, in a row.
    fn row(&self, line: &Line, height: usize) -> Vec<f32> {
        let place = ((part(line.row) + 0.5) / part(height) - self.origin[0]) / self.spacing[0];
        let place = place.clamp(0.0, part(self.points[0] - 1));
        let upper = floor(place).min(self.points[0] - 1);
        let lower = (upper + 1).min(self.points[0] - 1);
        let share = single(place - part(upper));
        // Further colours than the map has take its last one.
        let plane = self.plane(line.sample, line.colour).unwrap_or(0);
        let plane = plane.min(self.map_planes - 1);
        let value =
            |y: usize, x: usize| self.values[(y * self.points[1] + x) * self.map_planes + plane];
        (0..self.points[1])
            .map(|x| value(upper, x) + share * (value(lower, x) - value(upper, x)))
            .collect()
    }
}

impl Radial {
    fn read(words: &mut Words<'_>) -> Result<Self, Problem> {
        let mut double = || words.double();
        let it = Self {
            factors: [double()?, double()?, double()?, double()?, double()?],
            centre: [double()?, double()?],
        };
        let sound = it.factors.iter().all(|it| it.abs() < 100.0)
            && it.centre.iter().all(|it| (-1.0..=2.0).contains(it))
            && (0..=20).all(|i| it.gain(f64::from(i) / 20.0) > 0.0);
        if sound { Ok(it) } else { Err(broken()) }
    }

    fn largest(&self) -> f32 {
        (0..=20)
            .map(|i| single(self.gain(f64::from(i) / 20.0)))
            .fold(1.0, f32::max)
    }

    /// By the squared distance, of which that of the furthest corner is 1.
    fn gain(&self, square: f64) -> f64 {
        let sum = self.factors.iter().rev();
        1.0 + square * sum.fold(0.0, |sum, factor| sum * square + factor)
    }

    fn at(&self, x: usize, y: usize, active: Area) -> f32 {
        let size = [part(active.width), part(active.height)];
        let far = [0, 1].map(|i| self.centre[i].max(1.0 - self.centre[i]) * size[i]);
        let place = [part(x) + 0.5, part(y) + 0.5];
        let off = [0, 1].map(|i| place[i] - self.centre[i] * size[i]);
        let square = (off[0].powi(2) + off[1].powi(2)) / (far[0].powi(2) + far[1].powi(2));
        single(self.gain(square))
    }
}

/// The rest of a list.
struct Words<'a>(&'a [u8]);

impl<'a> Words<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], Problem> {
        let (taken, rest) = self.0.split_at_checked(count).ok_or_else(broken)?;
        self.0 = rest;
        Ok(taken)
    }

    fn some<const N: usize>(&mut self) -> Result<[u8; N], Problem> {
        self.take(N)?.try_into().map_err(|_| broken())
    }

    fn long(&mut self) -> Result<u32, Problem> {
        self.some().map(u32::from_be_bytes)
    }

    fn whole(&mut self) -> Result<usize, Problem> {
        usize::try_from(self.long()?).map_err(|_| broken())
    }

    fn float(&mut self) -> Result<f32, Problem> {
        self.some().map(f32::from_be_bytes)
    }

    fn double(&mut self) -> Result<f64, Problem> {
        self.some().map(f64::from_be_bytes)
    }
}

fn broken() -> Problem {
    Problem::Damaged(
        "the corrections that its raw picture asks for contradict themselves".to_owned(),
    )
}

#[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
fn part(number: usize) -> f64 {
    number as f64
}

#[expect(clippy::cast_possible_truncation, reason = "a gain, or a share of one")]
fn single(number: f64) -> f32 {
    number as f32
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rounded down on purpose, and not negative"
)]
fn floor(number: f64) -> usize {
    number as usize
}
