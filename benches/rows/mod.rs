//! Rows of the tables that `accuracy` and `truth` print.

pub(crate) mod costs;
pub(crate) mod photos;
mod table;

#[path = "../../tests/endtoend/mod.rs"]
mod endtoend;
#[path = "../../tests/scenes/mod.rs"]
mod scenes;

pub(crate) use table::Table;
