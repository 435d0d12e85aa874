//! What goes to those who choose a colour: a static site, a sheet to print, and files for other programs.
//!
//! Takes a library and a small settings file; [`Range::gather`] makes of them plain values, in order, with nothing left to look up. Everything else
//! here is a function from that to text. [`folder`] puts the texts and pictures in place: all of them, or none.
//! The same library and settings give the same bytes.

mod board;
mod build;
mod error;
pub mod exchange;
pub mod folder;
mod gather;
mod paler;
mod range;
mod settings;
pub mod site;
mod swatch;

pub use build::{Outcome, build, read};
pub use error::PublishError;
pub use range::{
    Age, Band, Board, Change, Exposed, Family, LeftOut, Lighter, Other, Pack, Picture, Place,
    Range, Reading, Shows, Swatch, Tone,
};
pub use settings::{Named, OfPigment, OfSwatch, Settings, Show};
