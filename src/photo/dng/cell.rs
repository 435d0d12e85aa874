//! The smallest piece of a sensor in which all colours occur: what becomes one pixel.
//!
//! No colour is made up between pixels: flat surfaces are measured, and their means are the same without.

use super::directory::Directory;
use super::raw::{Area, Raw};
use super::tags;
use crate::photo::error::Problem;

/// Where each colour lies within a repeating cell of the active area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) places: Vec<Place>,
}

/// One value of a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) x: usize,
    pub(super) y: usize,
    /// Which value of its pixel.
    pub(super) sample: usize,
    /// 0 red, 1 green, 2 blue.
    pub(super) colour: usize,
}

/// Largest side of a cell: sensors have 2, 4 or 6.
const MOST: usize = 8;
const RECTANGULAR: usize = 1;

impl Cell {
    /// # Errors
    ///
    /// If the colours are not red, green and blue, or their pattern is not read.
    pub(super) fn read(directory: &Directory<'_>, raw: &Raw<'_>) -> Result<Self, Problem> {
        if raw.samples == 3 {
            let place = |colour| Place {
                x: 0,
                y: 0,
                sample: colour,
                colour,
            };
            return Ok(Self {
                width: 1,
                height: 1,
                places: (0..3).map(place).collect(),
            });
        }
        let unusable = |what: &str| Problem::SensorValues(what.to_owned());
        if directory.whole(tags::CFA_LAYOUT).unwrap_or(RECTANGULAR) != RECTANGULAR {
            return Err(unusable("their colours do not lie in rows and columns"));
        }
        let repeat = directory.offsets(tags::CFA_REPEAT);
        let pattern = directory.bytes(tags::CFA_PATTERN);
        let (&[height, width], Some(pattern)) = (repeat.as_slice(), pattern) else {
            return Err(Problem::Damaged(
                "the pattern of its colours is not stated".to_owned(),
            ));
        };
        let sides = 1..=MOST;
        let sound = sides.contains(&height) && sides.contains(&width);
        if !sound || pattern.len() != width * height {
            return Err(Problem::Damaged(
                "the pattern of its colours makes no sense".to_owned(),
            ));
        }
        // Which colour a number in the pattern stands for: 0, 1, 2 are red, green, blue.
        let planes = directory.bytes(tags::PLANE_COLOURS).unwrap_or(&[0, 1, 2]);
        let colours: Vec<usize> = pattern.iter().map(|it| usize::from(*it)).collect();
        let all = (0..3).all(|it| colours.contains(&it)) && colours.iter().all(|it| *it < 3);
        if planes != [0, 1, 2] || !all {
            return Err(unusable("their colours are not red, green and blue"));
        }
        let place = |(i, colour): (usize, usize)| Place {
            x: i % width,
            y: i / width,
            sample: 0,
            colour,
        };
        Ok(Self {
            width,
            height,
            places: colours.into_iter().enumerate().map(place).collect(),
        })
    }

    /// How many values of each colour it has.
    pub(super) fn counts(&self) -> [u16; 3] {
        let mut counts = [0; 3];
        for place in &self.places {
            counts[place.colour] += 1;
        }
        counts
    }
}

/// The part of a sensor that sees light, and the cells in it that are the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Window {
    /// In pixels of the stored picture.
    pub(super) active: Area,
    /// In cells of the active area.
    pub(super) cells: Area,
}

impl Window {
    /// # Errors
    ///
    /// If an area lies outside of another, or no cell is within.
    pub(super) fn read(
        directory: &Directory<'_>,
        raw: &Raw<'_>,
        cell: &Cell,
    ) -> Result<Self, Problem> {
        let outside = || Problem::Damaged("the area of its picture lies outside of it".to_owned());
        let active = match directory.offsets(tags::ACTIVE_AREA).as_slice() {
            [] => [0, 0, raw.height, raw.width],
            [top, left, bottom, right] => [*top, *left, *bottom, *right],
            _ => return Err(outside()),
        };
        let [top, left, bottom, right] = active;
        if top >= bottom || left >= right || bottom > raw.height || right > raw.width {
            return Err(outside());
        }
        let active = Area {
            left,
            top,
            width: right - left,
            height: bottom - top,
        };
        let pair = |tag| -> Result<Option<[f64; 2]>, Problem> {
            let numbers = directory.numbers(tag)?;
            Ok(numbers.and_then(|it| it.try_into().ok()))
        };
        let whole = [active.width, active.height].map(number);
        let origin = pair(tags::CROP_ORIGIN)?.unwrap_or([0.0; 2]);
        let size = pair(tags::CROP_SIZE)?.unwrap_or([0, 1].map(|i| whole[i] - origin[i]));
        let inside =
            (0..2).all(|i| origin[i] >= 0.0 && size[i] > 0.0 && origin[i] + size[i] <= whole[i]);
        if !inside {
            return Err(outside());
        }
        let cells = [0, 1].map(|i| {
            let side = number([cell.width, cell.height][i]);
            let first = (origin[i] / side).ceil();
            let end = ((origin[i] + size[i]) / side).floor();
            (down(first), down((end - first).max(0.0)))
        });
        let [(left, width), (top, height)] = cells;
        if width == 0 || height == 0 {
            return Err(outside());
        }
        Ok(Self {
            active,
            cells: Area {
                left,
                top,
                width,
                height,
            },
        })
    }
}

#[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
fn number(it: usize) -> f64 {
    it as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a whole number within a picture"
)]
fn down(it: f64) -> usize {
    it as usize
}
