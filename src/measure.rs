//! The measure stage.

pub mod output;
