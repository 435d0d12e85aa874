//! Raw photos in the open format DNG: what the sensor saw, before a tone curve or a rendering.
//!
//! Values are linear: black taken off, the lens' shading undone where the file says how. Nothing is made up between pixels of a colour
//! filter array; each of its cells becomes one pixel, so that a photo has half the rows and columns of its sensor. Structures are those of the
//! DNG specification (from memory, see the parts for what they are held against); colours are worked out in [`crate::colour::camera`].

mod cell;
mod colour;
mod develop;
mod directory;
mod levels;
mod lossless_jpeg;
mod opcodes;
mod raw;
mod tags;

use self::cell::{Cell, Window};
use self::develop::develop;
use self::directory::Source;
use self::levels::Levels;
use self::opcodes::Gains;
use self::raw::Raw;
use super::encoding::Encoding;
use super::error::Problem;
use super::{Decoded, Pixels, Statement};
use crate::colour::camera::CameraColour;

/// Whether a TIFF structure says that it is a DNG.
pub(super) fn is(bytes: &[u8]) -> bool {
    let first = Source::of(bytes).and_then(Source::first);
    first.is_some_and(|it| it.has(tags::DNG_VERSION))
}

/// Decodes the sensor values of a DNG; the bytes live on as its metadata.
///
/// # Errors
///
/// If it is cut short, damaged, too large, holds no sensor values of red, green and blue, packs them in a way that is not
/// read, or says nothing of their colour.
pub(super) fn decode(bytes: Vec<u8>) -> Result<Decoded, Problem> {
    let Said {
        raw,
        cell,
        window,
        levels,
        gains,
        colour,
        remarks,
    } = Said::read(&bytes)?;
    let developed = develop(&raw, &cell, &window, &levels, &gains)?;
    let encoding = Encoding::of_sensor(&developed.table, colour).ok_or_else(|| {
        Problem::Damaged("its colour matrices make no white of what it says is white".to_owned())
    })?;
    Ok(Decoded {
        width: developed.width,
        height: developed.height,
        pixels: Pixels::U16(developed.codes),
        bits: bits(&levels),
        icc: None,
        statement: Statement::Sensor(Box::new(encoding)),
        orientation: None,
        gain_map: false,
        others: 0,
        remarks,
        sensor: (cell.width * cell.height > 1)
            .then_some([developed.width * cell.width, developed.height * cell.height]),
        exif: Some(bytes),
    })
}

/// Whether a file says all that is needed to read it; its values are not looked at.
pub(super) fn is_readable(bytes: &[u8]) -> bool {
    is(bytes) && Said::read(bytes).is_ok()
}

/// All that a file says of its sensor values.
struct Said<'a> {
    raw: Raw<'a>,
    cell: Cell,
    window: Window,
    levels: Levels,
    gains: Gains,
    colour: CameraColour,
    remarks: Vec<String>,
}

impl<'a> Said<'a> {
    fn read(bytes: &'a [u8]) -> Result<Self, Problem> {
        let damaged = || Problem::Damaged("its directories can't be found".to_owned());
        let source = Source::of(bytes).ok_or_else(damaged)?;
        let (directories, is_cut) = source.all();
        let first = directories.first().ok_or_else(damaged)?;
        let Some((raw, index)) = Raw::find(bytes, source, &directories)? else {
            return Err(if is_cut {
                Problem::Truncated("its directories lie beyond the end of the file".to_owned())
            } else {
                Problem::SensorValues("there are none, only pictures made of them".to_owned())
            });
        };
        let directory = &directories[index];
        let mut remarks = Vec::new();
        let cell = Cell::read(directory, &raw)?;
        let window = Window::read(directory, &raw, &cell)?;
        let levels = Levels::read(directory, &raw, window.active)?;
        let gains = Gains::read(directory, &mut remarks)?;
        let colour = colour::read(first, &mut remarks)?;
        if !levels.is_white_stated {
            remarks.push(
                "the raw file doesn't say where its sensor ends: clipped highlights may not be seen"
                    .to_owned(),
            );
        }
        Ok(Self {
            raw,
            cell,
            window,
            levels,
            gains,
            colour,
            remarks,
        })
    }
}

/// Bits that hold the values up to white.
fn bits(levels: &Levels) -> u32 {
    let white = levels.white.iter().copied().fold(0.0, f32::max);
    let ends = (8..16).map(|bits| (bits, f32::from(1_u16 << bits)));
    let enough = ends.into_iter().find(|(_, end)| white < *end);
    enough.map_or(16, |it| it.0)
}
