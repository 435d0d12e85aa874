//! Mix: what a load, a letdown or several pigments will look like, and a recipe for a wanted colour.
//!
//! Takes measured swatches of one coating as [`Trial`]s; gives a [`Model`] of what each pigment absorbs and scatters, and from it
//! colours with their uncertainty, recipes, ladders and trials worth making. Promises: nothing here reads a file or a library; every
//! prediction says how far it lies from what was measured; what the trials don't determine is said, and is in the uncertainty.
//!
//! The way: a colour becomes the smoothest reflectance that has it ([`crate::colour::reconstruction`]), the surface is taken off
//! ([`surface`]), and what is left is explained by Kubelka and Munk's film on a known ground ([`film`]), band by band ([`bands`]).

pub mod bands;
mod coating;
pub mod directed;
mod doubt;
mod error;
mod evidence;
pub mod film;
mod fit;
mod ground;
mod group;
mod identify;
mod leave_out;
mod model;
mod notes;
mod predict;
mod prior;
mod reach;
mod sight;
mod solve;
pub mod surface;
mod trial;

pub use error::{FitError, PredictError};
pub use fit::fit;
pub use leave_out::{LeftOut, leave_one_out};
pub use model::{Coat, Ground, Known, Model, Optics, Pigment, Prediction, Reach};
pub use trial::{Load, Trial};
