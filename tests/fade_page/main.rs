//! A fade report as people and programs get it: CSV, JSON, and one page.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod example;
mod files;
mod markup;
mod page;
