//! The panel as it was measured, in the words of the panel file.
//!
//! A type of its own, because the record's form outlives the types that the program works with.

use super::round::{significant, six};
use crate::geometry::Rect;
use crate::panel::{Control, Grid, KnownColour, Panel, Patch, Place, PlacedCard, Side};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A panel, or a card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelEntry {
    /// Identifier.
    pub id: String,
    /// The file that it was read from, as given; null for a card built into the program.
    pub file: Option<String>,
    /// For people.
    pub title: Option<String>,
    /// Which edition of a card of many patches.
    pub edition: Option<String>,
    /// Where a card's colours come from.
    pub source: Option<String>,
    /// What is coated.
    pub substrate: Option<String>,
    /// The coating.
    pub coating: Option<String>,
    /// Number of coats.
    pub coats: Option<f64>,
    /// Photos of this panel are always upright as displayed.
    pub upright: bool,
    /// The board's outline; coordinates start at the top left corner of patch A1.
    pub board: Option<RectEntry>,
    /// The substrate's colour, if known.
    pub board_colour: Option<KnownEntry>,
    /// The grid; null when every patch has its own place.
    pub grid: Option<GridEntry>,
    /// The panel-wide half under the mask: left, right, top or bottom.
    pub masked: Option<SideEntry>,
    /// Every cell of the grid in row order, then the patches off the grid in file order.
    pub patches: Vec<PatchEntry>,
    /// Cards beside the panel, in file order.
    pub cards: Vec<CardEntry>,
}

/// An upright rectangle in millimetres: x to the right, y down.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RectEntry {
    /// Left and top edge.
    pub at_mm: [f64; 2],
    /// Width and height.
    pub size_mm: [f64; 2],
}

/// The grid of patches.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GridEntry {
    /// Rows, A, B … Z, AA … downwards.
    pub rows: usize,
    /// Columns, 1, 2, 3 … rightwards.
    pub columns: usize,
    /// Width and height of a patch.
    pub patch_mm: [f64; 2],
    /// From patch to patch.
    pub pitch_mm: [f64; 2],
}

/// A side of a patch or a grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum SideEntry {
    /// Towards column 1.
    Left,
    /// Away from column 1.
    Right,
    /// Towards row A.
    Top,
    /// Away from row A.
    Bottom,
}

/// One coated area.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PatchEntry {
    /// Identifier, unique in the panel.
    pub id: String,
    /// Row and column of its grid cell, from zero; null off the grid.
    pub cell: Option<[usize; 2]>,
    /// Its place.
    pub rect: RectEntry,
    /// Name for people.
    pub name: Option<String>,
    /// Lot of the pigment.
    pub lot: Option<String>,
    /// What tints it.
    pub pigments: Vec<PigmentEntry>,
    /// Wet coating put on, grams per square metre, all coats together, pigment included.
    pub wet_g_per_m2: Option<f64>,
    /// Its colour, if it was known before.
    pub known: Option<KnownEntry>,
    /// Coating without pigment.
    pub control: Option<ControlEntry>,
    /// Nothing is there.
    pub empty: bool,
    /// The half under the mask: its own or the panel's.
    pub masked: Option<SideEntry>,
    /// What is coated, where it differs from the panel.
    pub substrate: Option<String>,
    /// The coating, where it differs from the panel.
    pub coating: Option<String>,
    /// Number of coats, where it differs from the panel.
    pub coats: Option<f64>,
}

/// Kinds of control patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ControlEntry {
    /// Coating without pigment on the panel's substrate.
    Clear,
    /// Coating without pigment on an inert white.
    ClearOnWhite,
}

/// A pigment and how much of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PigmentEntry {
    /// Name, by preference the Colour Index name.
    pub pigment: String,
    /// Grams per 100 g of mixed coating.
    pub load: f64,
}

/// A colour that was known before measuring.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KnownEntry {
    /// CIELAB L*, a*, b*, D50, 2° observer.
    pub lab: [f64; 3],
    /// Its U95 in ΔE00, if stated.
    pub uncertainty: Option<f64>,
    /// The spectrum that it was computed from, if that is what the file gives.
    pub reflectance: Option<ReflectanceEntry>,
}

/// A reflectance factor at equal steps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReflectanceEntry {
    /// First wavelength, nm.
    pub start_nm: f64,
    /// Step, nm.
    pub step_nm: f64,
    /// Reflectance factors, 0–1.
    pub values: Vec<f64>,
}

/// A card and where the panel file says that it lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CardEntry {
    /// The card: a small panel whose colours are known.
    pub card: PanelEntry,
    /// The side of the grid, or anywhere; null where `at_mm` is given.
    pub place: Option<PlaceEntry>,
    /// From A1's top left corner to the card's outer top left.
    pub at_mm: Option<[f64; 2]>,
    /// Clockwise turn in degrees, if stated.
    pub turned: Option<u16>,
}

/// Where a card lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum PlaceEntry {
    /// Anywhere in the photo.
    Anywhere,
    /// Left of the grid.
    Left,
    /// Right of the grid.
    Right,
    /// Above the grid.
    Above,
    /// Below the grid.
    Below,
}

impl From<&Panel> for PanelEntry {
    fn from(panel: &Panel) -> Self {
        // Every field by name: a new one can't be forgotten here.
        let Panel {
            id,
            path,
            title,
            edition,
            source,
            substrate,
            coating,
            coats,
            upright,
            board,
            board_colour,
            grid,
            masked,
            patches,
            cards,
        } = panel;
        Self {
            id: id.clone(),
            file: path.as_ref().map(|it| it.to_string_lossy().into_owned()),
            title: title.clone(),
            edition: edition.clone(),
            source: source.clone(),
            substrate: substrate.clone(),
            coating: coating.clone(),
            coats: *coats,
            upright: *upright,
            board: board.as_ref().map(RectEntry::from),
            board_colour: board_colour.as_ref().map(KnownEntry::from),
            grid: grid.as_ref().map(GridEntry::from),
            masked: masked.map(SideEntry::from),
            patches: patches.iter().map(PatchEntry::from).collect(),
            cards: cards.iter().map(CardEntry::from).collect(),
        }
    }
}

impl PanelEntry {
    /// Whether both describe the same board: the names of the files don't matter.
    #[must_use]
    pub fn same_board(&self, other: &Self) -> bool {
        self.without_files() == other.without_files()
    }

    fn without_files(&self) -> Self {
        let mut panel = self.clone();
        panel.file = None;
        for it in &mut panel.cards {
            it.card = it.card.without_files();
        }
        panel
    }
}

impl From<&Patch> for PatchEntry {
    fn from(patch: &Patch) -> Self {
        let Patch {
            id,
            cell,
            rect,
            name,
            lot,
            pigments,
            wet_g_per_m2,
            known,
            control,
            empty,
            masked,
            substrate,
            coating,
            coats,
            // Of other photos: the references of the correction tell it.
            before: _,
        } = patch;
        Self {
            id: id.clone(),
            cell: cell.map(|(row, column)| [row, column]),
            rect: rect.into(),
            name: name.clone(),
            lot: lot.clone(),
            pigments: pigments
                .iter()
                .map(|it| PigmentEntry {
                    pigment: it.pigment.clone(),
                    load: it.load,
                })
                .collect(),
            wet_g_per_m2: *wet_g_per_m2,
            known: known.as_ref().map(KnownEntry::from),
            control: control.map(|it| match it {
                Control::Clear => ControlEntry::Clear,
                Control::ClearOnWhite => ControlEntry::ClearOnWhite,
            }),
            empty: *empty,
            masked: masked.map(SideEntry::from),
            substrate: substrate.clone(),
            coating: coating.clone(),
            coats: *coats,
        }
    }
}

impl From<&PlacedCard> for CardEntry {
    fn from(placed: &PlacedCard) -> Self {
        let (place, at_mm) = match placed.place {
            Place::Anywhere => (Some(PlaceEntry::Anywhere), None),
            Place::Beside(Side::Left) => (Some(PlaceEntry::Left), None),
            Place::Beside(Side::Right) => (Some(PlaceEntry::Right), None),
            Place::Beside(Side::Top) => (Some(PlaceEntry::Above), None),
            Place::Beside(Side::Bottom) => (Some(PlaceEntry::Below), None),
            Place::AtMm(at) => (None, Some(at)),
        };
        Self {
            card: (&placed.card).into(),
            place,
            at_mm,
            turned: placed.turned,
        }
    }
}

impl From<&KnownColour> for KnownEntry {
    fn from(known: &KnownColour) -> Self {
        let lab = known.lab;
        Self {
            lab: [lab.l, lab.a, lab.b].map(six),
            uncertainty: known.u95.map(significant),
            reflectance: known.reflectance.as_ref().map(|it| ReflectanceEntry {
                start_nm: it.start_nm,
                step_nm: it.step_nm,
                values: it.values.clone(),
            }),
        }
    }
}

impl From<&Rect> for RectEntry {
    fn from(rect: &Rect) -> Self {
        Self {
            at_mm: [rect.x, rect.y].map(six),
            size_mm: [rect.width, rect.height].map(six),
        }
    }
}

impl From<&Grid> for GridEntry {
    fn from(grid: &Grid) -> Self {
        Self {
            rows: grid.rows,
            columns: grid.columns,
            patch_mm: grid.patch_mm,
            pitch_mm: grid.pitch_mm,
        }
    }
}

impl From<Side> for SideEntry {
    fn from(side: Side) -> Self {
        match side {
            Side::Left => Self::Left,
            Side::Right => Self::Right,
            Side::Top => Self::Top,
            Side::Bottom => Self::Bottom,
        }
    }
}
