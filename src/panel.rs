//! Panels and cards: what is on the board, where, and what is known of it.
//!
//! Takes a TOML file (and its optional CSV of patches); gives a [`Panel`], a layout in millimetres with every
//! patch's facts and the cards beside it. Errors point at the file, line and column and say what would be right.
//! A card is a small panel whose colours are known, and has the same type.

mod cards;
pub(crate) mod error;
mod facts;
mod file;
mod known;
mod layout;
mod position;
mod sheet;
pub(crate) mod source;
mod spreadsheet;
pub(crate) mod table;
mod template;

pub use cards::built_in_cards;
pub use error::{PanelError, Problem, Spot};
pub(crate) use facts::{MOST_COATS, MOST_LOAD, MOST_WET};
pub use position::{position, row_name};
pub use sheet::{Sheet, sheet};
pub use template::{Meant, Start, read_text, size_of_spreadsheet, template};

use crate::colour::{Lab, Matrix};
use crate::geometry::Rect;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Reads a panel file, or a card file as a panel, with the cards and the spreadsheet of patches that it names.
///
/// What a spreadsheet and a `[[patch]]` say of one position adds up; a fact that both state is an error.
///
/// # Errors
/// Everything that is wrong with the files, each with its place and what would be right.
pub fn read(path: &Path) -> Result<Panel, PanelError> {
    file::read(path)
}

/// A panel, or a card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Panel {
    /// Identifier, required.
    pub id: String,
    /// The file it was read from; none for a card built into the program.
    #[serde(serialize_with = "path_as_text")]
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

    /// The patch of an id.
    #[must_use]
    pub fn patch(&self, id: &str) -> Option<&Patch> {
        self.patches.iter().find(|it| it.id == id)
    }

    /// What a patch's coating is: its own or the panel's.
    #[must_use]
    pub fn coating_of<'a>(&'a self, patch: &'a Patch) -> Option<&'a str> {
        patch.coating.as_deref().or(self.coating.as_deref())
    }

    /// What a patch is painted on: its own substrate or the panel's.
    #[must_use]
    pub fn substrate_of<'a>(&'a self, patch: &'a Patch) -> Option<&'a str> {
        patch.substrate.as_deref().or(self.substrate.as_deref())
    }

    /// How many coats a patch has: its own number or the panel's.
    #[must_use]
    pub fn coats_of(&self, patch: &Patch) -> Option<f64> {
        patch.coats.or(self.coats)
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

impl Grid {
    /// The place of a cell at a zero-based row and column, in panel millimetres.
    #[must_use]
    pub fn cell(&self, row: usize, column: usize) -> Rect {
        #[expect(clippy::cast_precision_loss, reason = "rows and columns are few")]
        let steps = [column as f64, row as f64];
        Rect {
            x: steps[0] * self.pitch_mm[0],
            y: steps[1] * self.pitch_mm[1],
            width: self.patch_mm[0],
            height: self.patch_mm[1],
        }
    }

    /// Width and height over all patches, mm.
    #[must_use]
    pub fn size_mm(&self) -> [f64; 2] {
        let last = self.cell(self.rows.saturating_sub(1), self.columns.saturating_sub(1));
        [last.x + last.width, last.y + last.height]
    }
}

/// A side of a patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
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

impl Side {
    /// The side across from it.
    #[must_use]
    pub fn opposite(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
            Self::Top => Self::Bottom,
            Self::Bottom => Self::Top,
        }
    }

    /// The half of a rectangle on this side.
    #[must_use]
    pub fn half_of(self, rect: &Rect) -> Rect {
        let (width, height) = (rect.width / 2.0, rect.height / 2.0);
        match self {
            Self::Left => Rect { width, ..*rect },
            Self::Right => Rect {
                x: rect.x + width,
                width,
                ..*rect
            },
            Self::Top => Rect { height, ..*rect },
            Self::Bottom => Rect {
                y: rect.y + height,
                height,
                ..*rect
            },
        }
    }
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
    /// Wet coating put on, g/m², all coats together, pigment included.
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
    /// What was measured of it before any sun; no panel file states it.
    pub before: Option<Before>,
}

/// The colour that a masked half, or a whole patch that stays indoors, had before any sun, as measured then: it carries the scale to
/// later photos.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Before {
    /// CIELAB, D50, 2°.
    pub lab: Lab,
    /// Covariance of what that colour has to itself.
    pub own: Matrix,
    /// Covariance of what all colours of that time share: nothing that is compared with them feels it.
    pub common: Matrix,
}

impl Patch {
    /// What of the patch still has the colour that it had before any sun, if that is known.
    #[must_use]
    pub fn unchanged(&self) -> Option<(Rect, &Before)> {
        let before = self.before.as_ref()?;
        Some((self.masked_half().unwrap_or(self.rect), before))
    }

    /// The half under the mask, if there is a mask.
    #[must_use]
    pub fn masked_half(&self) -> Option<Rect> {
        self.masked.map(|it| it.half_of(&self.rect))
    }

    /// The half beside the mask, if there is a mask.
    #[must_use]
    pub fn exposed_half(&self) -> Option<Rect> {
        self.masked.map(|it| it.opposite().half_of(&self.rect))
    }

    /// The patch's position in the grid, as `A1`; none off the grid.
    #[must_use]
    pub fn position(&self) -> Option<String> {
        self.cell.map(|(row, column)| position(row, column))
    }
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

impl PlacedCard {
    /// Width and height of the card as it lies, in millimetres.
    #[must_use]
    pub fn size(&self) -> [f64; 2] {
        let outer = self.card.outer();
        match self.turned {
            Some(90 | 270) => [outer.height, outer.width],
            _ => [outer.width, outer.height],
        }
    }

    /// The card's outer edge in panel millimetres, if its place is stated in millimetres.
    #[must_use]
    pub fn outer(&self) -> Option<Rect> {
        let Place::AtMm([x, y]) = self.place else {
            return None;
        };
        let [width, height] = self.size();
        Some(Rect {
            x,
            y,
            width,
            height,
        })
    }

    /// Where a rectangle of the card lies, in the millimetres of `corner`, where the top left corner of its outer edge lies.
    #[must_use]
    pub fn lay(&self, rect: &Rect, corner: [f64; 2]) -> Rect {
        let outer = self.card.outer();
        let (left, top) = (rect.x - outer.x, rect.y - outer.y);
        let right = outer.width - left - rect.width;
        let bottom = outer.height - top - rect.height;
        let (x, y, width, height) = match self.turned {
            Some(90) => (bottom, left, rect.height, rect.width),
            Some(180) => (right, bottom, rect.width, rect.height),
            Some(270) => (top, right, rect.height, rect.width),
            _ => (left, top, rect.width, rect.height),
        };
        Rect {
            x: corner[0] + x,
            y: corner[1] + y,
            width,
            height,
        }
    }
}

/// A path that is not Unicode must not keep a record from being written.
fn path_as_text<S: serde::Serializer>(path: &Option<PathBuf>, to: S) -> Result<S::Ok, S::Error> {
    path.as_ref().map(|it| it.to_string_lossy()).serialize(to)
}

/// Whether two rectangles share more than an edge; a hundredth of a millimetre is rounding.
fn overlap(one: &Rect, other: &Rect) -> bool {
    let slack = 0.01;
    let across = (one.x + one.width).min(other.x + other.width) - one.x.max(other.x);
    let down = (one.y + one.height).min(other.y + other.height) - one.y.max(other.y);
    across > slack && down > slack
}
