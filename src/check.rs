//! The check stage.
