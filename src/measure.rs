//! The measure stage.
