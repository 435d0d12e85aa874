//! What of a change the coating alone would do, and what is left for the pigment.
//!
//! Takes how a control of clear coating on an inert white changed, and a colour with its change; gives the change that this
//! coating would make of the colour, and the rest. Worked through light, not by subtracting Lab: what the coating swallows it swallows
//! of every wavelength in proportion to what is there, so yellowing takes much from a blue, little from a dark red.
//!
//! The coating's part is an **upper bound**. Light passes the film twice, in the control as on a paint, so the control's ratio
//! applies as it is where all pigment lies below the film. A pigment within the film turns light back before it has passed all of
//! it: by Kubelka–Munk an absorption k added to a film of thickness X, whatever is in it and below it, takes |d ln R/dk| ≤ 2X of its
//! reflectance R, and 2X is what it takes of a clear film on white. Light that the surface throws back into the film, most over white,
//! makes the control's loss larger still.
//!
//! A control on the panel's own substrate can't stand for the coating: it changes with coating **and** substrate ([`tells_of`]).

use super::report::Parts;
use crate::colour::difference::delta_e_2000;
use crate::colour::reconstruction::{ReconstructionError, reflectance};
use crate::colour::spectrum::{BANDS, bands_to_xyz_d50};
use crate::colour::{Lab, Xyz, lab};
use crate::panel::Control;
use nalgebra::Vector3;

/// What a control's change is a change of, in words.
#[must_use]
pub fn tells_of(control: Control) -> &'static str {
    match control {
        Control::Clear => "coating and substrate together",
        Control::ClearOnWhite => "the coating alone",
    }
}

/// L* that a control's white has at least: below it what little light comes back says too little of the film. A choice, no source.
const WHITE: f64 = 70.0;

/// Luminances to which a brighter control is scaled down, what it turned into by the same factor, until both are colours that a
/// surface can have: near 1 a reflectance has no room, and a photo may find a white whiter than white. A ratio doesn't change by it.
const ROOM: [f64; 3] = [0.95, 0.8, 0.6];

/// Why a control says nothing of its coating.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ControlError {
    /// Not white.
    #[error(
        "the control on white has L* {lightness:.1} before any sun; an inert white has {WHITE} or more, so the coating can't be told apart; put this control on a white primer"
    )]
    NotWhite {
        /// Its L* before.
        lightness: f64,
    },
    /// A colour that can't be that of a surface.
    #[error("the control on white: {0}")]
    NoSurface(#[from] ReconstructionError),
}

/// How a coating's transmission changed, there and back through the film.
#[derive(Clone, Debug, PartialEq)]
pub struct CoatingChange {
    /// Light that comes back, over what came back before; a band a value, > 0.
    ratio: [f64; BANDS],
    /// The control's own change in L*, a*, b*.
    control: Vector3<f64>,
}

impl CoatingChange {
    /// From a control on an inert white, its colour before any sun and its change.
    ///
    /// # Errors
    /// [`ControlError`] for a control that isn't white, and colours that no surface has.
    pub fn of_control(start: Lab, change: Vector3<f64>) -> Result<Self, ControlError> {
        // Not a number is no white either.
        if start.l.is_nan() || start.l < WHITE {
            return Err(ControlError::NotWhite { lightness: start.l });
        }
        let (before, after) = (lab::to_xyz(start), lab::to_xyz(moved(start, change)));
        let mut found = both(before, after, ROOM[0]);
        for room in &ROOM[1..] {
            found = found.or_else(|_| both(before, after, *room));
        }
        let (before, after) = found?;
        let mut ratio = after;
        for (it, before) in ratio.iter_mut().zip(before) {
            *it /= before;
        }
        Ok(Self {
            ratio,
            control: change,
        })
    }

    /// The change in L*, a*, b* of a colour all of whose pigment lies below this coating. No band returns more than falls on it.
    ///
    /// # Errors
    /// [`ReconstructionError`] if no surface has the colour.
    pub fn on(&self, colour: Lab) -> Result<Vector3<f64>, ReconstructionError> {
        let mut spectrum = reflectance(lab::to_xyz(colour))?;
        for (it, ratio) in spectrum.iter_mut().zip(self.ratio) {
            *it = (*it * ratio).min(1.0);
        }
        let there = lab::from_xyz(bands_to_xyz_d50(&spectrum));
        Ok(Vector3::new(
            there.l - colour.l,
            there.a - colour.a,
            there.b - colour.b,
        ))
    }

    /// What the control did, for a sentence.
    fn name(&self) -> &'static str {
        if self.control.z > 0.0 {
            "Yellowing of the coating"
        } else {
            "The coating's change"
        }
    }
}

/// Reflectances of both, scaled so that neither has more than this luminance.
fn both(
    before: Xyz,
    after: Xyz,
    room: f64,
) -> Result<([f64; BANDS], [f64; BANDS]), ReconstructionError> {
    let scale = f64::min(1.0, room / f64::max(before.y, after.y));
    let of = |it: Xyz| reflectance(Xyz::new(it.x * scale, it.y * scale, it.z * scale));
    Ok((of(before)?, of(after)?))
}

/// A change taken apart: what the coating would do to this colour at most, and the rest, whose ΔE00 is that between the colour which
/// the coating alone would leave and the one that is there. The rest is a remainder: too small by as much as the coating's part is too large.
///
/// # Errors
/// [`ReconstructionError`] if no surface has the colour before.
pub fn parts(
    start: Lab,
    change: Vector3<f64>,
    coating: &CoatingChange,
) -> Result<Parts, ReconstructionError> {
    let by_coating = coating.on(start)?;
    let between = moved(start, by_coating);
    Ok(Parts {
        coating: by_coating.into(),
        rest: (change - by_coating).into(),
        coating_de_00: delta_e_2000(start, between),
        rest_de_00: delta_e_2000(between, moved(start, change)),
    })
}

/// Colours that are named at the most affected end.
const NAMED: usize = 3;

/// On which of some colours the coating's change shows most and on which least, with figures; `None` without at least two colours
/// that a surface can have.
#[must_use]
pub fn shows_most(coating: &CoatingChange, colours: &[(String, Lab)]) -> Option<String> {
    let mut all: Vec<(f64, &str)> = colours
        .iter()
        .filter_map(|(name, colour)| {
            let by_coating = coating.on(*colour).ok()?;
            Some((
                delta_e_2000(*colour, moved(*colour, by_coating)),
                name.as_str(),
            ))
        })
        .collect();
    all.sort_by(|one, other| other.0.total_cmp(&one.0).then(one.1.cmp(other.1)));
    let (least, rest) = all.split_last()?;
    let most: Vec<String> = rest
        .iter()
        .take(NAMED)
        .map(|(de_00, name)| format!("{name} (ΔE00 up to {de_00:.1})"))
        .collect();
    if most.is_empty() {
        return None;
    }
    Some(format!(
        "{} shows most on {}, least on {} (up to {:.1}).",
        coating.name(),
        most.join(", "),
        least.1,
        least.0
    ))
}

fn moved(colour: Lab, by: Vector3<f64>) -> Lab {
    Lab::new(colour.l + by.x, colour.a + by.y, colour.b + by.z)
}

#[cfg(test)]
mod tests;
