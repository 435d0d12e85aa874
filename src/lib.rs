//! masstone measures painted colour with a camera.
//!
//! A photo of a panel of patches beside a grey card becomes calibrated CIELAB values (D50, 2° observer),
//! each with its uncertainty and its history. The stages, each a function from one plain type to the next:
//!
//! 1. [`photo`]: a file becomes pixels, a linearisation and metadata.
//! 2. [`panel`]: a panel file becomes a layout in millimetres and what is known of its patches and cards.
//! 3. [`locate`]: photo and layout become a map from millimetres to stored pixels, or a refusal.
//! 4. [`sample`]: photo and map become block means in linear light; no pixels are needed after it.
//! 5. [`reference`](mod@reference): whatever in the photo has a known colour.
//! 6. [`correct`]: samples and references become CIELAB with covariance.
//! 7. [`record`]: the readings and the history of their photo, as JSON and CSV.
//!
//! 8. [`library`]: records become swatches with their history, in one SQLite file.
//!
//! [`picture`] draws the proof and [`check`] judges the capture; [`plan`] says what to weigh out; [`measure`] strings the stages together and
//! nothing but the command-line program reads arguments, prints or exits.
//!
//! # Conventions
//!
//! Colour is `f64`, CIELAB and XYZ are relative to D50 with Y = 1 for the perfect diffuser; pixels are `f32`, linear,
//! 0–1 of the encoding's range. Stored pixel coordinates have x to the right, y down and (0, 0) at the outer corner of
//! the first pixel, before any orientation tag. Panel millimetres have their origin at the top left corner of patch A1.

pub mod check;
pub mod colour;
pub mod correct;
pub mod drawing;
pub mod fade;
pub mod flag;
pub mod geometry;
mod html;
pub mod library;
pub mod locate;
pub mod measure;
pub mod mix;
pub mod panel;
pub mod photo;
pub mod picture;
pub mod plan;
pub mod publish;
pub mod record;
pub mod reference;
pub mod sample;
mod schema;
pub mod series;
