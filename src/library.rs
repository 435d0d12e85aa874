//! The library: records become swatches with their history, in one SQLite file.
//!
//! Takes records ([`crate::record`]) and what people say of their specimens and materials; gives plain histories, swatches
//! and their colours. Three levels: a *reading* is one half of one patch in one photo; a *specimen* is one coated patch; a
//! *swatch* is what was meant (pigments with loads, coating, substrate, coats), with all of its specimens. Promises: a
//! photo is there whole or not at all; the same again changes nothing; nothing that was measured is overwritten without its
//! old value staying in the history; what is derived can be made anew. Nothing else in this program speaks SQL.

mod add;
pub mod boards;
pub mod catalog;
mod colour;
mod copies;
mod crops;
mod detail;
mod differ;
mod digest;
pub mod distribution;
pub mod document;
mod error;
mod export;
pub mod find;
pub mod gaps;
mod history;
mod import;
pub mod integrity;
pub mod limits;
pub mod load;
pub mod lots;
pub mod near;
pub mod notes;
mod numbers;
mod open;
mod pack;
pub mod past;
pub mod photos;
pub mod recipe;
pub mod series;
pub mod show;
mod sound;
pub mod statistics;
mod store;
mod tables;
pub mod view;

pub use add::{Conflict, Report};
pub use colour::Exposure;
pub use error::LibraryError;
pub use export::ExportError;
pub use open::Library;

/// A count as SQLite has numbers.
fn number(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
