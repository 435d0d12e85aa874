//! The drawing stage.
