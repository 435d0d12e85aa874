//! Panels and cards: what is on the board, where, and what is known of it.
//!
//! Takes a TOML file (and its optional CSV of patches); gives a [`Panel`], a layout in millimetres with every
//! patch's facts and the cards beside it. Errors point at the file, line and column and say what would be right.
//! A card is a small panel whose colours are known, and has the same type.

use crate::colour::Lab;
use crate::geometry::Rect;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// A panel, or a card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Panel {
    /// Identifier, required.
    pub id: String,
    /// The file it was read from; none for a card built into the program.
    pub path: Option<PathBuf>,
    /// For people.
    pub title: Option<String>,
    /// For a card of many patches: which edition of it.
    pub edition: Option<String>,
    /// Where its colours come from.
    pub source: Option<String>,
    /// What is coated.
    pub substrate: Option<String>,
    /// The coating.
    pub coating: Option<String>,
    /// Number of coats.
    pub coats: Option<f64>,
    /// Photos of this panel are always upright as displayed.
    pub upright: bool,
    /// The board's outline in panel millimetres (origin at A1's top left corner), if known.
    pub board: Option<Rect>,
    /// The substrate's colour, if known.
    pub board_colour: Option<KnownColour>,
    /// The grid; none when every patch has its own place.
    pub grid: Option<Grid>,
    /// The panel-wide mask, if any.
    pub masked: Option<Side>,
    /// Every cell of the grid in row order, then the patches off the grid in file order. Empty cells included.
    pub patches: Vec<Patch>,
    /// Cards beside the panel, in file order.
    pub cards: Vec<PlacedCard>,
}

impl Panel {
    /// The outer edge: of the board if known, else of the patches.
    #[must_use]
    pub fn outer(&self) -> Rect {
        self.board.unwrap_or_else(|| self.extent())
    }

    /// The smallest rectangle that holds every patch.
    #[must_use]
    pub fn extent(&self) -> Rect {
        let mut rects = self.patches.iter().map(|it| it.rect);
        let first = rects.next().unwrap_or(Rect {
            x: 0.0,
            y: 0.0,
            width: 1.0,
            height: 1.0,
        });
        rects.fold(first, |all, it| all.union(&it))
    }
}

/// The grid of patches.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Grid {
    /// Rows, ≥ 1: A, B … Z, AA … downwards.
    pub rows: usize,
    /// Columns, ≥ 1: 1, 2, 3 … rightwards.
    pub columns: usize,
    /// Width and height of a patch, mm.
    pub patch_mm: [f64; 2],
    /// From patch to patch, mm, ≥ patch.
    pub pitch_mm: [f64; 2],
}

/// A side of a patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
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
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Patch {
    /// Identifier, unique in the panel; the position unless given.
    pub id: String,
    /// The grid cell (row, column), zero-based; none off the grid.
    pub cell: Option<(usize, usize)>,
    /// Its place in panel millimetres.
    pub rect: Rect,
    /// Name for people.
    pub name: Option<String>,
    /// Lot of the pigment.
    pub lot: Option<String>,
    /// What tints it.
    pub pigments: Vec<PigmentLoad>,
    /// Coating put on, g/m².
    pub wet_g_per_m2: Option<f64>,
    /// Its colour, if known: a reference.
    pub known: Option<KnownColour>,
    /// `clear` or `clear-on-white`: coating without pigment.
    pub control: Option<Control>,
    /// Nothing is there.
    pub empty: bool,
    /// The half under the mask (the patch's own or the panel's).
    pub masked: Option<Side>,
    /// Overrides of the panel's values.
    pub substrate: Option<String>,
    /// Override of the panel's coating.
    pub coating: Option<String>,
    /// Override of the panel's number of coats.
    pub coats: Option<f64>,
}

/// Kinds of control patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Control {
    /// Coating without pigment on the panel's substrate.
    Clear,
    /// Coating without pigment on an inert white.
    ClearOnWhite,
}

/// A pigment and how much of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PigmentLoad {
    /// Name, by preference the Colour Index name.
    pub pigment: String,
    /// Grams per 100 g of mixed coating, > 0.
    pub load: f64,
}

/// A colour that is known before measuring.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownColour {
    /// CIELAB, D50, 2°.
    pub lab: Lab,
    /// U95 in ΔE00, if stated.
    pub u95: Option<f64>,
    /// The spectrum it was computed from, if that is what the file gives.
    pub reflectance: Option<Reflectance>,
}

/// A reflectance factor at equal steps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reflectance {
    /// First wavelength, nm.
    pub start_nm: f64,
    /// Step, nm, > 0.
    pub step_nm: f64,
    /// Reflectance factors, 0–1.
    pub values: Vec<f64>,
}

/// A card and where the panel file says that it lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlacedCard {
    /// The card, as a panel of known colours. Its millimetres start at its own A1.
    pub card: Panel,
    /// Where it lies.
    pub place: Place,
    /// Clockwise turn in degrees (0, 90, 180, 270): a hint.
    pub turned: Option<u16>,
}

/// Where a card lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Anywhere in the photo.
    Anywhere,
    /// Beside the grid on this side (`above` is top, `below` is bottom).
    Beside(Side),
    /// Its outer top left corner, in panel millimetres.
    AtMm([f64; 2]),
}
