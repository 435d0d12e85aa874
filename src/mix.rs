//! Mix: what a load, a letdown or several pigments will look like, and a recipe for a wanted colour.
//!
//! Takes measured swatches of one coating as [`Trial`]s; gives a [`Model`] of what each pigment absorbs and scatters, and from it
//! colours with their uncertainty, recipes, ladders and trials worth making. Promises: nothing here reads a file; every
//! prediction says how far it lies from what was measured; what the trials don't determine is said, and is in the uncertainty. Only [`shelf`] knows
//! the library.
//!
//! The way: a control's colour becomes the smoothest reflectance that has it ([`crate::colour::reconstruction`], after Burns), the surface is taken off
//! ([`surface`]), and that is the ground. Trials with pigments are explained by Kubelka and Munk's film on it ([`film`], in light that is
//! [`directed`] until something scatters it), band by band ([`bands`]): smooth spectra of absorption and scattering are sought whose films have the
//! trials' colours, all at once, and with them how far the trials leave them open (`prior`, `solve`). What films can't say is a
//! field of errors over recipes (`doubt`), alike for coats that are alike: a prediction near a trial takes over what that is off by, and what trials are off by
//! tells how large such errors are with their pigment (`odd`). How uneven its spectra are its own trials tell (`uneven`), how far its films are met others' as well (`scatter`). What all trials are off by together reaches every prediction (`common`).

pub mod age;
pub mod answer;
pub mod bands;
mod coating;
mod common;
mod controls;
pub mod design;
pub mod directed;
mod doubt;
mod error;
mod evidence;
pub mod fades;
pub mod film;
mod fit;
pub mod forecast;
mod ground;
mod group;
mod hides;
mod hiding;
mod identify;
pub mod ladder;
mod leave_out;
mod lone;
#[cfg(test)]
mod made;
mod mixed;
mod model;
pub mod next;
mod notes;
mod odd;
mod predict;
mod prior;
mod reach;
pub mod recipes;
mod residual;
mod scatter;
pub mod search;
pub mod shelf;
mod sight;
mod solve;
mod start;
mod strength;
pub mod surface;
mod trial;
mod uneven;
mod view;

pub use error::{FitError, PredictError};
pub use fit::fit;
pub use hiding::{HIDES, Hiding};
pub use leave_out::{LeftOut, leave_one_out};
pub use model::{Coat, Ground, Known, Model, Optics, Pigment, Prediction, Reach};
pub use strength::Strength;
pub use trial::{Load, Trial};
