//! What to try next.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]
#![expect(clippy::print_stdout, reason = "figures that are quoted elsewhere")]

mod choice;
mod laws;
