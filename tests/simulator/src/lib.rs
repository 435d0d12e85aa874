//! Spectral scene simulator: the test instrument that masstone is measured with.
//!
//! It renders photographs of painted panels with cards beside them, and knows what is true of them. It is physical and seeded,
//! it does not depend on masstone, and its colour mathematics is its own. **It is never tuned to what the measuring code likes**:
//! factors and their likelihoods are set from what photographs and paints are like, before and without looking at how
//! well they are measured. Where a scene is measured badly, the measuring code is to change, or the scene is to be shown
//! physically wrong.
//!
//! # Use
//!
//! ```
//! use masstone_simulator::{Cfa, DngSpec, FileKind, Mixture, SceneSpec, Split};
//!
//! let mut spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, 7); // every factor, all fields public
//! spec.pose.tilt = 12.0;
//! let scene = spec.build();                    // integrates each surface over its spectrum
//! let small = scene.render_small(320);         // fast, for location
//! assert!(!small.truth.patches.is_empty());    // Lab, quads in stored pixels, clipping
//! let panel = scene.panel_toml();              // the panel file that goes with it
//! # let _ = panel;
//! let [width, height] = scene.stored_size(640);
//! let photo = scene.render(width, height).encode(FileKind::Jpeg)?; // the whole camera; `Scene::write` saves it
//! let sensor = scene.render_sensor(width, height, Cfa::of(scene.spec.camera.id)); // the same light and noise
//! let dng = sensor.encode(&DngSpec { bits: 14, ..DngSpec::phone() })?; // `FileKind::Dng` is `DngSpec::phone()`
//! # assert!(!photo.is_empty() && !dng.is_empty());
//! # Ok::<(), std::io::Error>(())
//! ```
//!
//! [`SceneSpec::reshoot`] is the same panel in the same set-up again, [`SceneSpec::elsewhere`] under another light with another
//! phone and pose, [`SceneSpec::troubled`] a scene that must be refused. [`Series`] is one board through an exposure: photos at
//! doses, each patch with a course of known ΔE00, and what goes wrong with boards and photos. [`Split`] divides cameras and lights into two families
//! without a common member: what is set on one can be tested on the other. `make-samples` (a binary of this crate) renders
//! the demo photos, `dng-samples` (another) small DNG files, one for each thing that a reader must know; the examples `look`, `speed` and `plain` write photos to look at, time them, and say how far off a plain
//! method is.
//!
//! # What is modelled
//!
//! - **Spectra**, 380–730 nm in 5 nm: CIE observer, daylight series and illuminants, two measured cameras, the 24 reflectances of
//!   ISO 17321-1 (`data/extract.py` takes them from colour-science and says where each comes from).
//! - **Paint**: pigments' absorption and scattering (smooth, made up), Kubelka–Munk layers on wood, Saunderson's correction, full
//!   loads and letdowns, the clear control; film and lightness that vary within a coat, grain that shows through, halves laid by
//!   hand, fading, yellowing, darkening and bleaching of halves, ageing of the board under the mask and beside it.
//! - **Board, cards, table, clutter**: each in its own plane at its own height (a card on the table lies below the board's face),
//!   the board's shadow on the table, wavy edges.
//! - **Light**: spectrum and tint, a second light that falls otherwise, gradient, curvature, a near lamp, shadow edges hard and
//!   soft, highlights of the light's own colour.
//! - **Camera**: true perspective, radial distortion, vignetting, stray light, Gaussian blur, a Bayer sensor with shot and read
//!   noise and Malvar's demosaicing, raw clipping, right and wrong white balance, a colour matrix fitted for the light or for
//!   another, local tone mapping, saturation, three families of tone curves, sharpening, gamut clipping to sRGB or Display P3.
//! - **File**: JPEG (quality, 4:2:0 or 4:4:4, baseline or progressive), PNG and TIFF of 8 and 16 bits, linear values, ICC
//!   profiles of versions 2 and 4, EXIF, any of eight orientations with a right or a wrong tag.
//! - **Raw file**: DNG of the sensor's own values, before balance, with one full scale for all channels and noise below black; a filter
//!   array in any phase or interpolated values, as words, packed or in lossless JPEG, companded or not, masked pixels; colour and
//!   forward matrices that a maker would fit for CIE A and D65, for this unit or for another one of its make; gain maps.
//!
//! # What is not
//!
//! Texture that changes with viewing angle, gloss as a function of angle (highlights are put where the scene says),
//! light reflected between surfaces, fluorescence, metallic and pearl pigments, tangential distortion, chromatic aberration, depth
//! of field within one picture, motion blur, multi-frame merging, noise reduction, hue-dependent ("memory colour")
//! rendering, hot pixels, rolling flicker. Things are flat: a board has no visible sides.
//!
//! # Truth
//!
//! [`Truth`] holds for every patch and half the mean CIELAB D50/2° over its inner 80 % as laid, and `camera_lab`, what a perfect
//! pipeline would get from this camera with its matrix and the first card's grey alone; the difference is the camera's
//! own error, since it is not an eye. Of a [`SensorImage`] the matrix is the one fitted for the scene's own light, and
//! [`Scene::truth_through`] takes any other, such as one fitted for daylight. In `camera_lab` lights are mixed as in the middle
//! of the grid and nothing is clipped.
//! Cards are exactly nominal unless `card_deviation` says otherwise.

mod ageing;
mod camera;
mod coat;
mod colorimetry;
mod develop;
mod dng;
mod draw;
mod exposure;
mod field;
mod file;
mod film;
mod layout;
mod light;
mod metadata;
mod paint;
mod profile;
mod random;
mod raw;
mod render;
mod scene;
mod sensor;
mod series;
mod shade;
mod spec;
mod spectrum;
mod surface;
mod survey;
mod texture;
mod truth;
mod view;

pub use ageing::{Ageing, Course, Wear};
pub use camera::{CAMERAS_PER_SPLIT, CameraId, balanced, balanced_weights, fit_matrix};
pub use colorimetry::{Lab, adapt, ciede2000, d50_white, lab, lab_of, xyz_d50, xyz_under};
pub use develop::{decode, encode};
pub use dng::{Black, DngSpec, Illuminants, RawCoding, RawLayout};
pub use file::{FileKind, Written};
pub use film::{Film, FilmGround, FilmPatch, FilmPigment, PigmentKind, Shelf, ShelfPlan};
pub use layout::{CardKind, CardShape, Layout, OffPatch, Place, PlacedCard, Side, Xy, cell_name};
pub use light::{Light, LightKind, Split, TintedLight, daylight, planck};
pub use metadata::exif_block;
pub use paint::{Recipe, Substrate, layer};
pub use profile::{ProfileVersion, icc_profile};
pub use raw::{Cfa, SensorImage};
pub use render::{Pixels, Rendered};
pub use scene::Scene;
pub use series::{Change, Drift, Fault, Leak, Series};
pub use spec::*;
pub use spectrum::{Spectrum, chart_24, illuminant, observer};
pub use truth::{CardTruth, Half, PatchTruth, Quad, Truth, ZoneTruth};
pub use view::{Pose, View};
