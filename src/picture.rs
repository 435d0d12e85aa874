//! The picture stage.
