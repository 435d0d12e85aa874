//! Raw files in DNG: values against the specification's arithmetic and other libraries' word, files that must be refused, whole boards.

#![expect(clippy::print_stdout, reason = "measured figures")]
#![expect(clippy::unwrap_used, reason = "helpers of tests")]

#[path = "dng/board.rs"]
mod board;
#[allow(dead_code, reason = "not every test needs all of it")]
mod endtoend;
#[path = "dng/made.rs"]
mod made;
#[path = "dng/oracle.rs"]
mod oracle;
#[path = "correction/raw.rs"]
mod raw;
#[path = "dng/refused.rs"]
mod refused;
#[allow(dead_code, reason = "not every test needs all of it")]
#[path = "correction/scene.rs"]
mod scene;
#[path = "dng/values.rs"]
mod values;
