//! Mix: what a load, a letdown or several pigments will look like, and a recipe for a wanted colour.
//!
//! Takes measured swatches of one coating as [`Trial`]s; gives a [`Model`] of what each pigment absorbs and scatters, and from it
//! colours with their uncertainty, recipes, ladders and trials worth making. Promises: nothing here reads a file; every
//! prediction says how far it lies from what was measured; what the trials don't determine is said, and is in the uncertainty. Only [`shelf`] knows
//! the library.
//!
//! The way: a colour becomes the smoothest reflectance that has it ([`crate::colour::reconstruction`]), the surface is taken off
//! ([`surface`]), and what is left is explained by Kubelka and Munk's film on a known ground ([`film`]), band by band ([`bands`]).

pub mod age;
pub mod bands;
mod coating;
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
mod hiding;
mod identify;
pub mod ladder;
mod leave_out;
mod model;
pub mod next;
mod notes;
mod predict;
mod prior;
mod reach;
pub mod recipes;
pub mod search;
pub mod shelf;
mod sight;
mod solve;
mod strength;
pub mod surface;
mod trial;
pub mod answer;

pub use error::{FitError, PredictError};
pub use fit::fit;
pub use hiding::{HIDES, Hiding};
pub use leave_out::{LeftOut, leave_one_out};
pub use model::{Coat, Ground, Known, Model, Optics, Pigment, Prediction, Reach};
pub use strength::Strength;
pub use trial::{Load, Trial};
