//! What to try next.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]

mod choice;
mod laws;
