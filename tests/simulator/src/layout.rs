//! The panel and its cards in millimetres, and the panel file that says so.
//!
//! Millimetres run from patch A1's top left corner, x right, y down.

use crate::colorimetry::{Lab, lab_of};
use crate::paint::Recipe;
use crate::spectrum::{Spectrum, as_f64, chart_24};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// A point or a size in millimetres or pixels: x, y.
pub type Xy = [f64; 2];

/// A side of a patch, or of the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
    /// Top, or above.
    Top,
    /// Bottom, or below.
    Bottom,
}

impl Side {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Left, Self::Right, Self::Top, Self::Bottom];
}

/// The cards that exist.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum CardKind {
    /// One grey zone of 18 %, 100 × 100 mm.
    Grey18,
    /// White, grey, black: three touching zones, each 50 × 100 mm.
    WhiteGreyBlack,
    /// 4 × 6 patches of known reflectance.
    Chart24,
}

/// Geometry of a card in its own millimetres, from its own A1.
#[derive(Clone, Debug, PartialEq)]
pub struct CardShape {
    /// Rows and columns.
    pub rows: usize,
    /// Columns.
    pub columns: usize,
    /// Zone size.
    pub patch: Xy,
    /// Zone pitch.
    pub pitch: Xy,
    /// Outer size.
    pub outer: Xy,
    /// From the outer top left corner to A1.
    pub first: Xy,
}

impl CardKind {
    /// The name in a panel file.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Grey18 => "grey-18",
            Self::WhiteGreyBlack => "white-grey-black",
            Self::Chart24 => "chart-24",
        }
    }

    /// Its geometry.
    #[must_use]
    pub fn shape(self) -> CardShape {
        match self {
            Self::Grey18 => CardShape {
                rows: 1,
                columns: 1,
                patch: [100.0, 100.0],
                pitch: [100.0, 100.0],
                outer: [100.0, 100.0],
                first: [0.0, 0.0],
            },
            Self::WhiteGreyBlack => CardShape {
                rows: 1,
                columns: 3,
                patch: [50.0, 100.0],
                pitch: [50.0, 100.0],
                outer: [150.0, 100.0],
                first: [0.0, 0.0],
            },
            Self::Chart24 => CardShape {
                rows: 4,
                columns: 6,
                patch: [40.0, 40.0],
                pitch: [45.0, 45.0],
                outer: [280.0, 195.0],
                first: [7.5, 10.0],
            },
        }
    }

    /// The zones' nominal reflectances in reading order. Grey 18 %, white 88 %, black 3.5 %, flat; the chart's from
    /// ISO 17321-1.
    #[must_use]
    pub fn reflectances(self) -> Vec<Spectrum> {
        match self {
            Self::Grey18 => vec![Spectrum::flat(0.18)],
            Self::WhiteGreyBlack => vec![
                Spectrum::flat(0.88),
                Spectrum::flat(0.18),
                Spectrum::flat(0.035),
            ],
            Self::Chart24 => chart_24().to_vec(),
        }
    }

    /// Nominal colours in reading order.
    #[must_use]
    pub fn nominal(self) -> Vec<Lab> {
        self.reflectances().iter().map(lab_of).collect()
    }

    /// A card file in the form of the panel grammar, with the nominal colours: what a shop's own card file would say.
    #[must_use]
    pub fn toml(self) -> String {
        let shape = self.shape();
        let mut out = format!(
            "id = \"{}\"\ntitle = \"simulated card\"\nedition = \"simulated\"\nsource = \"reflectances of the simulator\"\n\n",
            self.name()
        );
        if self == Self::Chart24 {
            let _ = writeln!(
                out,
                "[board]\nsize_mm = {}\nfirst_patch_mm = {}\n",
                pair(shape.outer),
                pair(shape.first)
            );
        }
        let _ = writeln!(
            out,
            "[grid]\nrows = {}\ncolumns = {}\npatch_mm = {}\npitch_mm = {}",
            shape.rows,
            shape.columns,
            pair(shape.patch),
            pair(shape.pitch)
        );
        for (i, lab) in self.nominal().iter().enumerate() {
            let _ = writeln!(
                out,
                "\n[[patch]]\nat = \"{}\"\nlab = [{:.4}, {:.4}, {:.4}]\nuncertainty = 0.5",
                cell_name(i / shape.columns, i % shape.columns),
                lab[0],
                lab[1],
                lab[2]
            );
        }
        out
    }
}

/// How the panel file says where a card is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Place {
    /// A side of the grid.
    Beside(Side),
    /// Its outer top left corner.
    AtMm(Xy),
    /// Not said.
    Anywhere,
}

/// A card as it lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlacedCard {
    /// Which.
    pub kind: CardKind,
    /// What the panel file says.
    pub place: Place,
    /// What the panel file says of its turn, if anything: degrees clockwise.
    pub stated_turn: Option<u16>,
    /// Centre as it lies, panel millimetres.
    pub centre: Xy,
    /// Turn as it lies, degrees clockwise.
    pub angle: f64,
    /// Height of its face above the board's, mm (negative: below).
    pub height: f64,
}

impl PlacedCard {
    /// From the card's millimetres (from its outer top left corner) to the panel's.
    #[must_use]
    pub fn to_panel(&self, [x, y]: Xy) -> Xy {
        let [w, h] = self.kind.shape().outer;
        let (s, c) = self.angle.to_radians().sin_cos();
        let (u, v) = (x - w / 2.0, y - h / 2.0);
        [
            self.centre[0] + c * u - s * v,
            self.centre[1] + s * u + c * v,
        ]
    }
}

/// A patch off the grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OffPatch {
    /// Identifier.
    pub id: String,
    /// Top left corner, mm.
    pub at: Xy,
    /// Size, mm.
    pub size: Xy,
    /// What is in it.
    pub recipe: Recipe,
}

/// A panel: what its file says, and what is on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    /// Identifier.
    pub id: String,
    /// Title.
    pub title: String,
    /// Rows.
    pub rows: usize,
    /// Columns.
    pub columns: usize,
    /// Patch size, mm.
    pub patch: Xy,
    /// Patch pitch, mm.
    pub pitch: Xy,
    /// Board size, mm.
    pub board: Xy,
    /// From the board's top left corner to A1, mm.
    pub first: Xy,
    /// Whether the file tells the board.
    pub board_stated: bool,
    /// Whether the file says that photos are upright.
    pub upright: bool,
    /// The half under the mask.
    pub masked: Option<Side>,
    /// One a cell, row by row; none where the cell is empty.
    pub recipes: Vec<Option<Recipe>>,
    /// Patches off the grid.
    pub off: Vec<OffPatch>,
    /// Cards.
    pub cards: Vec<PlacedCard>,
}

impl Layout {
    /// Outer size of the grid, mm.
    #[must_use]
    pub fn extent(&self) -> Xy {
        [
            self.pitch[0] * as_f64(self.columns - 1) + self.patch[0],
            self.pitch[1] * as_f64(self.rows - 1) + self.patch[1],
        ]
    }

    /// Top left corner of a cell, mm.
    #[must_use]
    pub fn cell(&self, index: usize) -> Xy {
        [
            self.pitch[0] * as_f64(index % self.columns),
            self.pitch[1] * as_f64(index / self.columns),
        ]
    }

    /// Name of a cell's position.
    #[must_use]
    pub fn name(&self, index: usize) -> String {
        cell_name(index / self.columns, index % self.columns)
    }

    /// The panel file.
    #[must_use]
    pub fn toml(&self, substrate: &str) -> String {
        let mut out = String::new();
        let _ = writeln!(
            out,
            "id = \"{}\"\ntitle = \"{}\"\nsubstrate = \"{substrate}\"\ncoating = \"clear exterior coating, two-part\"\ncoats = 3\nupright = {}\n",
            self.id, self.title, self.upright
        );
        if self.board_stated {
            let _ = writeln!(
                out,
                "[board]\nsize_mm = {}\nfirst_patch_mm = {}\n",
                pair(self.board),
                pair(self.first)
            );
        }
        let _ = writeln!(
            out,
            "[grid]\nrows = {}\ncolumns = {}\npatch_mm = {}\npitch_mm = {}",
            self.rows,
            self.columns,
            pair(self.patch),
            pair(self.pitch)
        );
        if let Some(side) = self.masked {
            let word = match side {
                Side::Left => "left",
                Side::Right => "right",
                Side::Top => "top",
                Side::Bottom => "bottom",
            };
            let _ = writeln!(out, "masked = \"{word}\"");
        }
        for card in &self.cards {
            let place = match card.place {
                Place::Beside(Side::Left) => "place = \"left\"".to_owned(),
                Place::Beside(Side::Right) => "place = \"right\"".to_owned(),
                Place::Beside(Side::Top) => "place = \"above\"".to_owned(),
                Place::Beside(Side::Bottom) => "place = \"below\"".to_owned(),
                Place::AtMm(at) => format!("at_mm = {}", pair(at)),
                Place::Anywhere => "place = \"anywhere\"".to_owned(),
            };
            let _ = writeln!(out, "\n[[card]]\ncard = \"{}\"\n{place}", card.kind.name());
            if let Some(turn) = card.stated_turn {
                let _ = writeln!(out, "turned = {turn}");
            }
        }
        for (i, recipe) in self.recipes.iter().enumerate() {
            let _ = writeln!(out, "\n[[patch]]\nat = \"{}\"", self.name(i));
            match recipe {
                None => out.push_str("empty = true\n"),
                Some(recipe) => facts(&mut out, recipe),
            }
        }
        for patch in &self.off {
            let _ = writeln!(
                out,
                "\n[[patch]]\nat_mm = {}\nsize_mm = {}\nid = \"{}\"",
                pair(patch.at),
                pair(patch.size),
                patch.id
            );
            facts(&mut out, &patch.recipe);
        }
        out
    }
}

/// What a panel file tells of a patch.
fn facts(out: &mut String, recipe: &Recipe) {
    if let Some(name) = &recipe.name {
        let _ = writeln!(out, "name = \"{name}\"");
    }
    if recipe.pigments.is_empty() {
        let control = if recipe.on_white {
            "clear-on-white"
        } else {
            "clear"
        };
        let _ = writeln!(out, "control = \"{control}\"");
        return;
    }
    let mut loads: Vec<(&str, f64)> = Vec::new();
    for (name, load) in recipe.named() {
        match loads.iter_mut().find(|it| it.0 == name) {
            Some(known) => known.1 += load,
            None => loads.push((name, load)),
        }
    }
    let list: Vec<String> = loads
        .iter()
        .map(|(name, load)| format!("{{ pigment = \"{name}\", load = {load:.2} }}"))
        .collect();
    let _ = writeln!(out, "pigments = [{}]", list.join(", "));
}

/// Two numbers as TOML.
fn pair([x, y]: Xy) -> String {
    format!("[{x:.3}, {y:.3}]")
}

/// `A1`, `B3`, `AA1` …
#[must_use]
pub fn cell_name(row: usize, column: usize) -> String {
    let mut letters = Vec::new();
    let mut left = row + 1;
    while left > 0 {
        left -= 1;
        letters.push(u8::try_from(left % 26).map_or('A', |it| char::from(b'A' + it)));
        left /= 26;
    }
    letters.iter().rev().collect::<String>() + &(column + 1).to_string()
}
