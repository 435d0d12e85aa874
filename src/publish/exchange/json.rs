//! Everything about each swatch as JSON.
//!
//! The form has types of its own: files outlive the program's insides. What isn't known is null.

use super::values::{self, Derived, ages, rounded};
use super::{ORIGIN, UNCERTAINTY, id};
use crate::library::catalog::Stock;
use crate::library::notes::Note;
use crate::library::recipe::Recipe;
use crate::publish::{
    Age, Change, Exposed, Family, Other, Pack, Range, Reading, Shows, Swatch, Tone,
};
use crate::record::{Fact, Half, Program, SchemaNumber, SideEntry};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The committed JSON Schema (draft 2020-12) of [`Document`].
pub const SCHEMA: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn schema() -> String {
    crate::schema::of::<Document>()
}

/// A range of measured colours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// The number of this form.
    pub schema: SchemaNumber,
    /// What wrote it.
    pub program: Program,
    /// What the range is called.
    pub title: String,
    /// Introduces it, a paragraph an entry.
    pub text: Vec<String>,
    /// The workshop's own page.
    pub home: Option<String>,
    /// What the colours are, and how they were measured.
    pub origin: String,
    /// What the uncertainties mean.
    pub uncertainty: String,
    /// The swatches, in the range's order.
    pub swatches: Vec<SwatchEntry>,
}

/// A swatch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SwatchEntry {
    /// What all files call it, whatever its name: `swatch-` and its number.
    pub id: String,
    /// Its number in the library.
    pub swatch: i64,
    /// Its name for people.
    pub name: String,
    /// What is said of it, a paragraph an entry.
    pub text: Vec<String>,
    /// Where it is sold.
    pub shop: Option<String>,
    /// What is meant.
    pub recipe: Recipe,
    /// Where the recipe is incomplete: the panel beyond which nobody can say what is the same.
    pub only_panel: Option<String>,
    /// The hues of its pigments by their Colour Index names, each once.
    pub families: Vec<Family>,
    /// Its colour as made, or what stands for that best.
    pub colour: Colour,
    /// Hours of exposure of that; null when unknown.
    pub hours: Option<f64>,
    /// All its colours by exposure: as made first.
    pub ages: Vec<AgeEntry>,
    /// What the sun or a lamp did to it, a specimen an entry.
    pub exposed: Vec<ExposedEntry>,
    /// The same pigments in the same proportion at other loads, by load; itself among them. Empty where there is none but itself.
    pub loads: Vec<LoadEntry>,
    /// The same at lighter loads that nobody coated, as the mixing model expects it, by load.
    pub expected: Vec<ExpectedEntry>,
    /// How its specimens cured.
    pub cure: Vec<String>,
    /// What was seen of its specimens.
    pub notes: Vec<Note>,
    /// The coated patches that it was measured on.
    pub patches: Vec<PatchOfPanel>,
    /// Its readings, whether they count or not.
    pub readings: Vec<Reading>,
    /// What a pack of each of its pigments does.
    pub packs: Vec<PackEntry>,
}

/// A colour with its uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Colour {
    /// CIELAB L*, D50, 2° observer.
    #[serde(rename = "L")]
    pub l: f64,
    /// CIELAB a*.
    pub a: f64,
    /// CIELAB b*.
    pub b: f64,
    /// CIELAB chroma.
    #[serde(rename = "C")]
    #[schemars(range(min = 0.0))]
    pub c: f64,
    /// CIELAB hue angle, degrees from 0 up to but not 360.
    #[schemars(range(min = 0.0, max = 360.0))]
    pub h: f64,
    /// sRGB, mapped into its gamut.
    pub hex: String,
    /// Which screens can show the colour itself.
    pub shows: Shows,
    /// Luminous reflectance, 1 for a perfect white.
    #[serde(rename = "Y")]
    pub y: f64,
    /// U95 of Y.
    #[serde(rename = "U95_Y")]
    pub u95_y: f64,
    /// Covariance of L*, a*, b*, row by row.
    pub covariance: [[f64; 3]; 3],
    /// U95 in ΔE00.
    #[serde(rename = "U95")]
    pub u95: Option<f64>,
    /// U95 in ΔE00 for one more specimen; null below four specimens.
    #[serde(rename = "U95_of_another")]
    pub u95_of_another: Option<f64>,
    /// Specimens in the mean.
    pub specimens: usize,
    /// Readings of a specimen in a photo in the mean.
    pub photos: usize,
    /// Readings that disagree with the others.
    pub disagree: usize,
}

/// A colour at an exposure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AgeEntry {
    /// Under the mask, after the other half was exposed.
    pub masked: bool,
    /// Which part of the patches it is of.
    pub half: Half,
    /// Hours of exposure; null when unknown.
    pub hours: Option<f64>,
    /// Whether it is the swatch's colour as made.
    pub as_made: bool,
    /// The colour.
    pub colour: Colour,
}

/// One specimen through its exposures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ExposedEntry {
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
    pub changes: Vec<ChangeEntry>,
}

/// The change of a specimen at a dose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeEntry {
    /// In the unit of the kind of dose.
    pub dose: f64,
    /// Hours, where they are known.
    pub hours: Option<f64>,
    /// ΔE00 between the halves beyond what it was before any exposure.
    #[serde(rename = "dE00")]
    pub de_00: f64,
    /// |ΔE00 − its true value| is at most this in 95 % of cases.
    #[serde(rename = "U95_dE00")]
    pub u95_de_00: f64,
    /// Where the true ΔE00 lies, 95 %.
    #[serde(rename = "interval_dE00")]
    pub interval_de_00: [f64; 2],
    /// ΔE00 that noise alone stays below in 95 % of cases.
    pub detection_limit: f64,
    /// Whether a change is told from none.
    pub significant: bool,
    /// Its direction; empty unless significant.
    pub words: Vec<String>,
    /// Grey-scale grade for change in colour: `5`, `4-5`, `4` … `1`.
    pub grade: String,
}

/// Another load of the same pigments.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LoadEntry {
    /// The id of the swatch.
    pub id: String,
    /// Load of all pigments together, grams per 100 g of coating.
    pub load: f64,
}

/// A load that nobody coated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ExpectedEntry {
    /// Load of all pigments together, grams per 100 g of coating.
    pub load: f64,
    /// The colour that the mixing model expects.
    pub colour: Colour,
}

/// A coated patch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PatchOfPanel {
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
}

/// What a pack of a pigment does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PackEntry {
    /// The pigment's id.
    pub pigment: String,
    /// What its maker calls it.
    pub maker_name: Option<String>,
    /// Grams in a pack.
    pub pack_g: Option<f64>,
    /// Grams of mixed coating that it tints at this load.
    pub tints_g: Option<f64>,
    /// Square metres that this covers, all coats; null where nobody knows what a coat takes.
    pub covers_m2: Option<f64>,
    /// Price of a pack, in words.
    pub price: Option<String>,
    /// Where it is sold.
    pub shop: Option<String>,
    /// How much is in stock; null where nobody said.
    pub stock: Option<Stock>,
}

/// The range as a document, indented, with a line end.
#[must_use]
pub fn document(range: &Range) -> String {
    values::json(&Document::of(range))
}

impl Document {
    fn of(range: &Range) -> Self {
        Self {
            schema: SchemaNumber,
            program: range.program.clone(),
            title: range.title.clone(),
            text: range.text.clone(),
            home: range.home.clone(),
            origin: ORIGIN.to_owned(),
            uncertainty: UNCERTAINTY.to_owned(),
            swatches: (range.swatches.iter())
                .map(|it| swatch(range, it))
                .collect(),
        }
    }
}

fn swatch(range: &Range, it: &Swatch) -> SwatchEntry {
    let patches = it.patches.iter().map(|(panel, patch)| PatchOfPanel {
        panel: panel.clone(),
        patch: patch.clone(),
    });
    SwatchEntry {
        id: id(it.id),
        swatch: it.id,
        name: it.name.clone(),
        text: it.text.clone(),
        shop: it.shop.clone(),
        recipe: it.recipe.clone(),
        only_panel: it.only_panel.clone(),
        families: it.families.clone(),
        colour: colour(&it.tone),
        hours: it.hours,
        ages: ages(it).map(age).collect(),
        exposed: it.exposed.iter().map(exposed).collect(),
        loads: (it.loads.iter()).filter_map(|it| load(range, it)).collect(),
        expected: (it.lighter.iter())
            .map(|it| ExpectedEntry {
                load: rounded(it.load, 6),
                colour: colour(&it.tone),
            })
            .collect(),
        cure: it.cure.clone(),
        notes: it.notes.clone(),
        patches: patches.collect(),
        readings: it.readings.clone(),
        packs: it.packs.iter().map(pack).collect(),
    }
}

fn colour(it: &Tone) -> Colour {
    let derived = Derived::of(it);
    Colour {
        l: it.lab.l,
        a: it.lab.a,
        b: it.lab.b,
        c: derived.c,
        h: derived.h,
        hex: it.hex(),
        shows: it.shows(),
        y: derived.xyz[1],
        u95_y: derived.u95_y,
        covariance: [0, 1, 2].map(|row| [0, 1, 2].map(|column| it.covariance[(row, column)])),
        u95: it.u95,
        u95_of_another: it.u95_of_another,
        specimens: it.specimens,
        photos: it.photos,
        disagree: it.disagree,
    }
}

fn age((it, as_made): (&Age, bool)) -> AgeEntry {
    AgeEntry {
        masked: it.masked,
        half: it.half,
        hours: it.hours,
        as_made,
        colour: colour(&it.tone),
    }
}

fn exposed(it: &Exposed) -> ExposedEntry {
    ExposedEntry {
        panel: it.panel.clone(),
        patch: it.patch.clone(),
        dose_kind: it.dose_kind.clone(),
        conditions: it.conditions.clone(),
        masked: it.masked,
        changes: it.changes.iter().map(change).collect(),
    }
}

fn change(it: &Change) -> ChangeEntry {
    ChangeEntry {
        dose: it.dose,
        hours: it.hours,
        de_00: it.de_00,
        u95_de_00: it.u95,
        interval_de_00: it.interval,
        detection_limit: it.detection_limit,
        significant: it.told,
        words: it.words.clone(),
        grade: it.grade.clone(),
    }
}

fn load(range: &Range, it: &Other) -> Option<LoadEntry> {
    Some(LoadEntry {
        id: id(range.swatches.get(it.swatch)?.id),
        load: rounded(it.load, 6),
    })
}

fn pack(it: &Pack) -> PackEntry {
    let computed = |it: Option<f64>| it.map(|it| rounded(it, 3));
    PackEntry {
        pigment: it.pigment.clone(),
        maker_name: it.maker_name.clone(),
        pack_g: it.pack_g,
        tints_g: computed(it.tints_g),
        covers_m2: computed(it.covers_m2),
        price: it.price.clone(),
        shop: it.shop.clone(),
        stock: it.stock,
    }
}
