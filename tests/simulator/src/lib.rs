//! Spectral scene simulator.
//!
mod camera;
mod colorimetry;
mod develop;
mod draw;
mod file;
mod layout;
mod light;
mod metadata;
mod paint;
mod profile;
mod random;
mod render;
mod scene;
mod sensor;
mod shade;
mod spec;
mod spectrum;
mod truth;
mod view;

pub use camera::{CAMERAS_PER_SPLIT, CameraId, balanced, balanced_weights, fit_matrix};
pub use colorimetry::{Lab, adapt, ciede2000, d50_white, lab, lab_of, xyz_d50, xyz_under};
pub use develop::{decode, encode};
pub use file::FileKind;
pub use layout::{CardKind, CardShape, Layout, OffPatch, Place, PlacedCard, Side, Xy, cell_name};
pub use light::{Light, LightKind, Split, TintedLight, daylight, planck};
pub use metadata::exif_block;
pub use paint::{Recipe, Substrate, layer};
pub use profile::{ProfileVersion, icc_profile};
pub use render::{Pixels, Rendered};
pub use scene::Scene;
pub use spec::*;
pub use spectrum::{Spectrum, chart_24, illuminant, observer};
pub use truth::{CardTruth, Half, PatchTruth, Quad, Truth, ZoneTruth};
pub use view::{Pose, View};
