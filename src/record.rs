//! The record stage.
