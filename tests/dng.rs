//! Raw files in DNG: values against the specification's arithmetic and other libraries' word, and files that must be refused.

#![expect(clippy::unwrap_used, reason = "helpers of tests")]

#[path = "dng/made.rs"]
mod made;
#[path = "dng/oracle.rs"]
mod oracle;
#[path = "dng/refused.rs"]
mod refused;
#[path = "dng/values.rs"]
mod values;
