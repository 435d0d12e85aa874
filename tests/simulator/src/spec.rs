//! Every factor of a scene, public and serialisable.

use crate::ageing::Ageing;
use crate::camera::CameraId;
use crate::layout::{Layout, Xy};
use crate::light::{LightKind, Split, TintedLight};
use crate::paint::Substrate;
use crate::view::Pose;
use serde::{Deserialize, Serialize};

/// How the light falls, as a factor over the board: 1 in the middle of the grid.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Field {
    /// Log gradient per half extent, x and y.
    pub linear: Xy,
    /// Log curvature per half extent squared: xx, xy, yy.
    pub quadratic: [f64; 3],
    /// A near lamp: place (mm) and height (mm) over the board; its fall-off multiplies.
    pub lamp: Option<[f64; 3]>,
}

/// The edge of a shadow: beyond the line the light is weaker.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shadow {
    /// A point on the edge, mm.
    pub through: Xy,
    /// Direction towards the shade, degrees.
    pub towards: f64,
    /// Share of the light left in the shade, 0–1.
    pub left: f64,
    /// Width of the transition (10–90 %), mm.
    pub soft_mm: f64,
}

/// A specular highlight: light of the source's own colour added, as an ellipse with soft edges.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Highlight {
    /// Centre, mm.
    pub at: Xy,
    /// Standard deviations along its axes, mm.
    pub size: Xy,
    /// Turn of the axes, degrees.
    pub angle: f64,
    /// Peak, as the reflectance it adds (1: as bright as white).
    pub peak: f64,
}

/// The shape of a camera's tone curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum ToneCurve {
    /// The file's own transfer function only.
    None,
    /// A logistic S in encoded values: steepness, middle (encoded) and an exponent before it.
    Logistic {
        /// Steepness (2 mild, 7 strong).
        steepness: f64,
        /// Encoded value of the steepest place.
        middle: f64,
        /// Exponent on the encoded value.
        exponent: f64,
    },
    /// A film-like curve on linear light: `x(ax+b)/(x(cx+d)+e)`, scaled so that `white` gives 1.
    Filmic {
        /// 0 (nearly straight) to 1 (strong toe and shoulder).
        strength: f64,
        /// Linear value that gives 1.
        white: f64,
    },
    /// A cubic S on encoded values: contrast added in the middle.
    Cubic {
        /// Amount, 0–1.
        amount: f64,
    },
}

/// Strength of a tone curve, for tables by strength.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum ToneStrength {
    /// None.
    None,
    /// Mild.
    Mild,
    /// Strong.
    Strong,
}

/// The colour space of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Space {
    /// sRGB.
    Srgb,
    /// Display P3.
    DisplayP3,
}

/// How pixels are coded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Encoding {
    /// Through the space's transfer function after tone curve and sharpening.
    Display,
    /// Linear values, no tone curve.
    Linear,
}

/// The camera and what it makes of the light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraSpec {
    /// Sensitivities.
    pub id: CameraId,
    /// Error of the white balance: factors on red, green, blue (1, 1, 1: right).
    pub balance_error: [f64; 3],
    /// The light that the colour matrix was fitted for; none: the scene's own.
    pub matrix_light: Option<TintedLight>,
    /// Linear value of a perfect white in the middle of the grid.
    pub white_level: f64,
    /// Shot and read noise: standard deviation of a native pixel at linear 1, and in the dark, both in units of linear 1 before
    /// white balance.
    pub shot_noise: f64,
    /// See `shot_noise`.
    pub read_noise: f64,
    /// Defocus and lens blur, standard deviation in pixels.
    pub blur_px: f64,
    /// Darkening at the corners, relative (0.3: 30 %).
    pub vignetting: f64,
    /// Stray light: share of the picture's mean added everywhere.
    pub flare: f64,
    /// Local tone mapping: exponent on local brightness (0: none).
    pub local_tone: f64,
    /// Saturation factor in linear light.
    pub saturation: f64,
    /// Tone curve.
    pub tone: ToneCurve,
    /// Sharpening: amount and radius in pixels.
    pub sharpening: Option<(f64, f64)>,
    /// Colour space of the file.
    pub space: Space,
    /// Coding of the file.
    pub encoding: Encoding,
    /// JPEG quality, 1–100.
    pub jpeg_quality: u8,
    /// Colour at half resolution in JPEG.
    pub jpeg_420: bool,
    /// Progressive JPEG.
    pub progressive: bool,
    /// Whether the profile is embedded.
    pub embed_profile: bool,
}

/// What the file's metadata say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExifSpec {
    /// Make (fictional).
    pub make: String,
    /// Model (fictional).
    pub model: String,
    /// Date and time as EXIF writes it: `2026:03:14 10:20:30`.
    pub taken: String,
    /// Offset from UTC: `+01:00`.
    pub offset: String,
    /// Exposure time as a fraction of a second: 1 / this.
    pub exposure_per_s: u32,
    /// ISO speed.
    pub iso: u16,
    /// Flash fired.
    pub flash: bool,
    /// Digital zoom ratio.
    pub zoom: Option<f64>,
}

/// Something else in view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clutter {
    /// Centre, mm.
    pub centre: Xy,
    /// Size, mm.
    pub size: Xy,
    /// Turn, degrees.
    pub angle: f64,
    /// Seed of its surface.
    pub seed: u64,
    /// What it is like.
    pub kind: ClutterKind,
}

/// Kinds of things in view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClutterKind {
    /// Paper with lines of writing.
    Paper,
    /// A plain coloured rectangle, such as a patch has.
    Swatch,
    /// A grey, white or black rectangle, such as a card has.
    CardLike,
    /// A row of coloured squares.
    Row,
    /// A long thin thing: a pencil, a ruler, a brush.
    Stick,
    /// A round thing: a tin, a cup.
    Round,
}

/// What the board lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Table {
    /// Wooden bench.
    Wood,
    /// Cloth.
    Cloth,
    /// Concrete.
    Concrete,
    /// Grass or the like: strong small contrasts.
    Grass,
    /// Something plain.
    Plain,
}

/// What is wrong on purpose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Trouble {
    /// Nothing: must be measured.
    None,
    /// Nothing tells which way is up: must be refused.
    NoWitness,
    /// The panel file is of another panel.
    WrongPanel,
    /// The card that the file names is not in sight.
    NoCard,
    /// Two like panels in view.
    TwoPanels,
    /// No panel in view.
    NoPanel,
}

/// Which mixture a scene was drawn from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Mixture {
    /// Right matrix, even light, no tone curve, little noise.
    Flawless,
    /// What a careful person's phone photos are like.
    Ordinary,
    /// All difficulties.
    Hard,
}

/// A scene in all its factors. [`SceneSpec::draw`] fills it; change what you like and [`SceneSpec::build`] it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SceneSpec {
    /// Mixture it was drawn from.
    pub mixture: Mixture,
    /// Family of cameras and lights.
    pub split: Split,
    /// Seed of textures and coats: the panel itself.
    pub panel_seed: u64,
    /// Seed of noise: the shot.
    pub shot_seed: u64,
    /// The panel.
    pub layout: Layout,
    /// What is wrong on purpose.
    pub trouble: Trouble,
    /// Material of the board.
    pub substrate: Substrate,
    /// Board thickness, mm: how far the table lies below.
    pub thickness: f64,
    /// Strength of the wood's grain (1: as strong as the material has it).
    pub grain: f64,
    /// Turn of the grain, degrees from the x axis.
    pub grain_angle: f64,
    /// Relative unevenness of film and reflectance within a patch, standard deviation (0.01: 1 %).
    pub mottle: f64,
    /// Deviation of patch edges from straight, mm.
    pub wobble: f64,
    /// Relative difference of film between halves laid by hand, standard deviation.
    pub half_difference: f64,
    /// Colour change of exposed halves: 0 none, 0.05 subtle, 1 strong.
    pub exposure: f64,
    /// What exactly has happened to each half; none: what `exposure` says, with draws of the panel's seed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ageing: Option<Ageing>,
    /// Deviation of the cards from nominal, U95 in ΔE00 (0: exactly nominal).
    pub card_deviation: f64,
    /// What the board lies on.
    pub table: Table,
    /// Seed of its colour and texture.
    pub table_seed: u64,
    /// Other things in view.
    pub clutter: Vec<Clutter>,
    /// Kind of the main light.
    pub light_kind: LightKind,
    /// The main light.
    pub light: TintedLight,
    /// How it falls.
    pub field: Field,
    /// A second light with its share (0–1) and how it falls.
    pub second: Option<(TintedLight, f64, Field)>,
    /// Shadow edges.
    pub shadows: Vec<Shadow>,
    /// Highlights.
    pub highlights: Vec<Highlight>,
    /// Pose.
    pub pose: Pose,
    /// Stored size over displayed: the EXIF orientation with which the pixels are stored, 1–8.
    pub stored_as: u8,
    /// The orientation tag in the file; none: no tag. Wrong where it differs from `stored_as`.
    pub tag: Option<u8>,
    /// Displayed picture is taller than wide.
    pub portrait: bool,
    /// Camera and processing.
    pub camera: CameraSpec,
    /// Strength of the tone curve.
    pub tone_strength: ToneStrength,
    /// Metadata.
    pub exif: ExifSpec,
}
