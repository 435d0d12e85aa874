//! What is published: plain values, in order.

use super::settings::{Settings, Show};
use crate::colour::srgb::{self, RgbSpace, is_in_gamut};
use crate::colour::{Lab, Matrix, lab};
use crate::library::catalog::Stock;
use crate::library::distribution::NORMAL_95;
use crate::library::notes::Note;
use crate::library::recipe::Recipe;
use crate::record::{Fact, Half, Program, SideEntry};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A range of colours.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// Above all pages.
    pub title: String,
    /// Introduces the range, a paragraph an entry.
    pub text: Vec<String>,
    /// The workshop's own page.
    pub home: Option<String>,
    /// The colour of links and marks, if one was chosen.
    pub accent: Option<Lab>,
    /// What is shown beside the colours.
    pub show: Show,
    /// The boards, by panel id; those that hold a published swatch.
    pub boards: Vec<Board>,
    /// The swatches, in order.
    pub swatches: Vec<Swatch>,
    /// What is not published, and why.
    pub left_out: Vec<LeftOut>,
    /// Small pictures by file name: JPEG, sRGB.
    pub pictures: BTreeMap<String, Vec<u8>>,
    /// What made it.
    pub program: Program,
}

/// A swatch that is not published.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Its number in the library.
    pub id: i64,
    /// Its name.
    pub name: String,
    /// Why, as the end of a sentence.
    pub why: String,
}

/// A board as it was photographed.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// The panel's id.
    pub panel: String,
    /// For people.
    pub title: Option<String>,
    /// What is coated.
    pub substrate: Option<String>,
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// Its patches, in panel order; empty places are not in it.
    pub places: Vec<Place>,
}

/// A patch on a board.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// The patch's id.
    pub patch: String,
    /// Its left and top edge from those of the board, and its width and height, mm.
    pub rect_mm: [f64; 4],
    /// Which swatch it is, by index in [`Range::swatches`]; none where it isn't published.
    pub swatch: Option<usize>,
    /// How it looked as made.
    pub picture: Option<Picture>,
}

/// A small picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Its name in [`Range::pictures`]: of its content, so that the same picture has the same name.
    pub file: String,
    /// Pixels.
    pub width: u32,
    /// Pixels.
    pub height: u32,
}

/// A swatch.
#[derive(Clone, Debug, PartialEq)]
pub struct Swatch {
    /// Its number in the library: its pages and entries are named by it, whatever it is called.
    pub id: i64,
    /// Its name for people.
    pub name: String,
    /// What is said of it, a paragraph an entry.
    pub text: Vec<String>,
    /// Where it is sold.
    pub shop: Option<String>,
    /// What it is.
    pub recipe: Recipe,
    /// Where the recipe is incomplete: the panel beyond which nobody can say what is the same.
    pub only_panel: Option<String>,
    /// The hues of its pigments, each once.
    pub families: Vec<Family>,
    /// Its colour as made (or, where nobody photographed it fresh, what stands for that best).
    pub tone: Tone,
    /// Hours of exposure of that; none where nobody knows.
    pub hours: Option<f64>,
    /// Its picture, if one was kept.
    pub picture: Option<Picture>,
    /// Its colours by exposure.
    pub ages: Vec<Age>,
    /// What the sun or a lamp did to it, a specimen an entry.
    pub exposed: Vec<Exposed>,
    /// The same pigments in the same proportion at other loads, by load; itself among them. Empty where there is none but itself.
    pub loads: Vec<Other>,
    /// The same at lighter loads, as the mixing model predicts it, by load; where the model knows enough.
    pub lighter: Vec<Lighter>,
    /// How its specimens cured, by their latest notes.
    pub cure: Vec<String>,
    /// What was seen of its specimens.
    pub notes: Vec<Note>,
    /// The coated patches that it was measured on: panel and patch.
    pub patches: Vec<(String, String)>,
    /// Readings, whether they count or not.
    pub readings: Vec<Reading>,
    /// What a pack of each of its pigments does.
    pub packs: Vec<Pack>,
}

/// A colour with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// CIELAB, D50, 2°, to three decimals: what is published, and what all else here is derived from.
    pub lab: Lab,
    /// Covariance of L*, a*, b*.
    pub covariance: Matrix,
    /// U95 in ΔE00.
    pub u95: Option<f64>,
    /// U95 in ΔE00 for one more specimen; none below four.
    pub u95_of_another: Option<f64>,
    /// Specimens in the mean.
    pub specimens: usize,
    /// Readings of a specimen in a photo in the mean.
    pub photos: usize,
    /// Readings that disagree with the others.
    pub disagree: usize,
}

/// Which screens can show a colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Shows {
    /// Every screen.
    Srgb,
    /// Wide ones.
    DisplayP3,
    /// None of the usual ones.
    Neither,
}

/// A colour at an exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct Age {
    /// Under the mask, after the other half was exposed.
    pub masked: bool,
    /// Which part of the patches it is of.
    pub half: Half,
    /// Hours of exposure; none when unknown.
    pub hours: Option<f64>,
    /// The colour.
    pub tone: Tone,
    /// Its picture, if one was kept.
    pub picture: Option<Picture>,
}

/// One specimen through its exposures.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposed {
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// What the dose counts, with its unit.
    pub dose_kind: String,
    /// How it was exposed.
    pub conditions: Vec<Fact>,
    /// Which half was under the mask.
    pub masked: Option<SideEntry>,
    /// By dose, without dose 0.
    pub changes: Vec<Change>,
    /// Both halves before any sun, where pictures were kept: masked, exposed.
    pub start: [Option<Picture>; 2],
}

/// The change of a specimen at a dose.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// In the unit of the kind of dose.
    pub dose: f64,
    /// Hours, where they are known.
    pub hours: Option<f64>,
    /// ΔE00 between the halves beyond what it was before any sun.
    pub de_00: f64,
    /// Its U95.
    pub u95: f64,
    /// Where the true ΔE00 lies, 95 %.
    pub interval: [f64; 2],
    /// ΔE00 that noise alone stays below in 95 % of cases.
    pub detection_limit: f64,
    /// Whether a change is told from none.
    pub told: bool,
    /// Its direction; empty where none is told.
    pub words: Vec<String>,
    /// Grey-scale grade.
    pub grade: String,
    /// Both halves, where pictures were kept: masked, exposed.
    pub halves: [Option<Picture>; 2],
}

/// How much a colour changed at the furthest dose that it was measured at, over all of its specimens (the most changed counts).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Band {
    /// No change was measured: it was not exposed, or has no masked half.
    NotExposed,
    /// No change is told from none.
    NoneTold,
    /// Told, ΔE00 below 1.
    Below1,
    /// ΔE00 from 1 to below 3.
    Below3,
    /// ΔE00 3 and more.
    From3,
}

/// Another load of the same pigments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Other {
    /// By index in [`Range::swatches`].
    pub swatch: usize,
    /// Load of all pigments together, grams per 100 g of coating.
    pub load: f64,
}

/// A lighter load that nobody measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lighter {
    /// Load of all pigments together, grams per 100 g of coating.
    pub load: f64,
    /// The colour as predicted; no specimens are in it.
    pub tone: Tone,
}

/// One half of one patch in one photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// Which half.
    pub half: Half,
    /// Hours of exposure; null when unknown.
    pub hours: Option<f64>,
    /// The photo's file name.
    pub photo: String,
    /// SHA-256 of the photo.
    pub sha256: String,
    /// When it was taken, as the photo says.
    pub taken: Option<String>,
    /// The camera, as the photo says.
    pub camera: Option<String>,
    /// How it was corrected.
    pub correction: String,
    /// CIELAB L*, a*, b*, D50, 2°; null where there was none.
    pub lab: Option<[f64; 3]>,
    /// U95 in ΔE00.
    #[serde(rename = "U95")]
    pub u95: Option<f64>,
    /// Whether it counts in the swatch's colour.
    pub counts: bool,
}

/// What a pack of a pigment does.
#[derive(Clone, Debug, PartialEq)]
pub struct Pack {
    /// The pigment's id.
    pub pigment: String,
    /// What its maker calls it.
    pub maker_name: Option<String>,
    /// Grams in a pack.
    pub pack_g: Option<f64>,
    /// Grams of mixed coating that it tints at this load.
    pub tints_g: Option<f64>,
    /// Square metres that this covers, all coats; none where nobody knows what a coat takes.
    pub covers_m2: Option<f64>,
    /// Price of a pack, in words.
    pub price: Option<String>,
    /// Where it is sold.
    pub shop: Option<String>,
    /// Whether it is in stock; none where nobody said.
    pub stock: Option<Stock>,
}

/// Hues of the Colour Index names of pigments.
///
/// # Source
/// Colour Index generic names (Society of Dyers and Colourists, AATCC): the letters after P, from memory.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Family {
    /// PY.
    Yellow,
    /// PO.
    Orange,
    /// PR.
    Red,
    /// PV.
    Violet,
    /// PB.
    Blue,
    /// PG.
    Green,
    /// `PBr`.
    Brown,
    /// `PBk`.
    Black,
    /// PW.
    White,
    /// PM.
    Metal,
    /// None of these.
    Other,
}

impl Family {
    /// By a Colour Index name, such as `PBr7`.
    #[must_use]
    pub fn of(name: &str) -> Self {
        let letters = name.split(|it: char| it.is_ascii_digit()).next();
        match letters.unwrap_or_default().trim() {
            "PY" => Self::Yellow,
            "PO" => Self::Orange,
            "PR" => Self::Red,
            "PV" => Self::Violet,
            "PB" => Self::Blue,
            "PG" => Self::Green,
            "PBr" => Self::Brown,
            "PBk" => Self::Black,
            "PW" => Self::White,
            "PM" => Self::Metal,
            _ => Self::Other,
        }
    }
}

impl Tone {
    /// sRGB as `#rrggbb`, mapped into the gamut where need be.
    #[must_use]
    pub fn hex(&self) -> String {
        srgb::to_hex(self.lab)
    }

    /// Which screens can show it.
    #[must_use]
    pub fn shows(&self) -> Shows {
        let fits = |space: RgbSpace| is_in_gamut(space.linear(self.lab));
        if fits(RgbSpace::Srgb) {
            Shows::Srgb
        } else if fits(RgbSpace::DisplayP3) {
            Shows::DisplayP3
        } else {
            Shows::Neither
        }
    }

    /// Luminous reflectance, 0–1 (1 is a perfect white), and its U95.
    #[must_use]
    pub fn luminous(&self) -> (f64, f64) {
        let y = lab::to_xyz(self.lab).y;
        // CIE 15: L* = 116 f(Y) − 16, with f a cube root above (6/29)³ and linear below.
        let f = (self.lab.l + 16.0) / 116.0;
        let slope = if f > 6.0 / 29.0 {
            3.0 * f * f / 116.0
        } else {
            3.0 * (6.0_f64 / 29.0).powi(2) / 116.0
        };
        let deviation = self.covariance[(0, 0)].max(0.0).sqrt();
        (y, NORMAL_95 * slope * deviation)
    }
}

impl Swatch {
    /// The load of all its pigments together, grams per 100 g of coating.
    #[must_use]
    pub fn load(&self) -> f64 {
        self.recipe.pigments.iter().map(|it| it.load).sum()
    }

    /// The change that counts for [`Band`]: of each specimen the one at its furthest dose, of these the largest that is told, else the largest.
    #[must_use]
    pub fn last_change(&self) -> Option<(&Exposed, &Change)> {
        let last = (self.exposed.iter()).filter_map(|it| Some((it, it.changes.last()?)));
        last.max_by(|a, b| (a.1.told.cmp(&b.1.told)).then(a.1.de_00.total_cmp(&b.1.de_00)))
    }

    /// How much it changed.
    #[must_use]
    pub fn band(&self) -> Band {
        match self.last_change() {
            None => Band::NotExposed,
            Some((_, it)) if !it.told => Band::NoneTold,
            Some((_, it)) if it.de_00 < 1.0 => Band::Below1,
            Some((_, it)) if it.de_00 < 3.0 => Band::Below3,
            Some(_) => Band::From3,
        }
    }
}

impl Range {
    /// Of a library that is open, as the settings say.
    ///
    /// # Errors
    ///
    /// If the library can't be read, a swatch or pigment that the settings name isn't in it, or nothing is left to publish.
    pub fn gather(
        library: &crate::library::Library,
        settings: &Settings,
    ) -> Result<Self, super::PublishError> {
        super::gather::gather(library, settings)
    }
}
