//! The course of a change: against certified fits, another library's fits, real weathering, and whether its intervals hold the truth.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod made;
mod study;
