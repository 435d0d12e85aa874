//! Fade: how each colour of a board changed, from records of an exposure series.
//!
//! Takes records ([`crate::record`]) of one or many boards at several doses; gives a [`Report`]: for each patch and exposure the
//! change of its exposed half against its masked half as a double difference, with covariance; whether it is told from nothing;
//! what it means in words, grades and indices; what of it the coating alone would do; its course over the dose. Promises:
//! kinds of dose are never pooled, nothing is forecast beyond 1.5 times the exposed dose, and a change that noise alone could
//! show is called none.

mod assess;
mod change;
pub mod csv;
mod difference;
mod drift;
mod entry;
mod error;
mod history;
pub mod json;
pub mod kinetics;
mod moved;
pub mod page;
pub mod parts;
mod ranking;
pub mod report;
mod rows;
mod scale;
pub mod schema;
pub mod shown;
mod swatches;
pub mod told;
mod trend;
pub mod wording;
pub mod words;

pub use assess::{Options, assess, changes};
pub use error::FadeError;
pub use report::Report;
