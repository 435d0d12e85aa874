//! Where everything lies in the photo: a map from panel millimetres to stored pixels, or a refusal.
//!
//! Takes a photo and a panel; gives a [`Located`]. Right or refused: every way of laying the layout on the photo is weighed
//! (turned, shifted, mirrored), and where the best is not the best beyond doubt, the photo is refused with the reason.
//! Place and structure decide. Colours are heard as witnesses of which way is up, never as references.
//!
//! The way: `region` finds flat quadrilaterals; `chart` finds charts by their colours, and takes theirs away; `lattice` indexes
//! the rest (`straight` leaves out what bends it), `laid` lays the layout on them, each way (`place`) with the evidence of all outlines (`evidence`, `edge`); `candidate` asks every
//! witness, cards among them (`card` with `zones`, from what `suggest` suggests; `even` where a cloth hides the edges) and the board around (`rim`, its edges `sawn`, and `ground`
//! beyond it); `second` looks for a second panel, `choose` weighs the ways, and `refine` goes down to the stored pixels. `decide` leads from one to the next.

mod areas;
mod beside;
mod board;
mod bulge;
mod candidate;
mod card;
mod chart;
mod choose;
mod corner;
mod decide;
mod drawn;
mod edge;
mod ends;
mod error;
mod even;
mod evidence;
mod fit;
mod free;
mod ground;
mod hand;
mod improve;
mod laid;
mod lattice;
mod level;
mod own;
mod place;
mod pose;
mod refine;
mod region;
mod rim;
mod sawn;
mod scan;
mod second;
mod shade;
mod short;
mod straight;
mod suggest;
mod view;
mod zones;

pub use error::LocateError;

use crate::geometry::{PlaneMap, Point};
use crate::panel::Panel;
use crate::photo::{LinearImage, Orientation, Photo};
use serde::{Deserialize, Serialize};

/// A panel found in a photo beyond doubt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Located {
    /// Panel millimetres to stored pixels.
    pub panel: PlaneMap,
    /// The cards that were found, in the panel's order.
    pub cards: Vec<LocatedCard>,
    /// How sure.
    pub quality: Quality,
    /// What decided which way is up, in words (never empty).
    pub witnesses: Vec<String>,
    /// Whether the corners came from the user.
    pub by_hand: bool,
}

/// A card found in a photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LocatedCard {
    /// Index into the panel's cards.
    pub index: usize,
    /// Card millimetres (from its own A1) to stored pixels.
    pub map: PlaneMap,
}

/// Figures of a location.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Quality {
    /// Root mean square distance of found outlines to the layout's, stored pixels.
    pub outline_rms_px: f64,
    /// Share of the patches whose outline was seen, 0–1.
    pub seen: f64,
    /// Score of the best rival way of laying the layout over that of the accepted one, 0–1.
    pub rival: f64,
}

/// What the user asks for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// The photo is upright as displayed, where no witness says which way is up.
    pub upright: bool,
    /// The outer corners of the patch grid from A1's, clockwise as on the panel, stored pixels.
    pub corners: Option<[Point; 4]>,
}

/// A picture to locate in: shrunk for the search, in full for the last step.
#[derive(Debug)]
pub struct Scene<F> {
    /// The shrunk picture.
    pub shrunk: LinearImage,
    /// Stored width and height, pixels.
    pub size: (usize, usize),
    /// Linear light of a stored pixel at (x, y).
    pub linear: F,
    /// How the stored picture is turned for display.
    pub orientation: Orientation,
}

/// Longest side of the picture that is searched, pixels: larger photos are shrunk by a whole factor.
pub const SEARCHED: usize = 1000;

/// Finds the panel and its cards.
///
/// # Errors
///
/// If the panel is not found, or not beyond doubt, or a card is missing: see [`LocateError`].
pub fn locate(photo: &Photo, panel: &Panel, options: &Options) -> Result<Located, LocateError> {
    let factor = photo.width.max(photo.height).div_ceil(SEARCHED).max(1);
    let scene = Scene {
        shrunk: photo.glance(factor),
        size: (photo.width, photo.height),
        linear: |x, y| photo.linear(x, y),
        orientation: photo.orientation,
    };
    locate_in(scene, panel, options)
}

/// Finds the panel and its cards in a picture that need not come from a file.
///
/// # Errors
///
/// As [`locate`].
pub fn locate_in<F: Fn(usize, usize) -> [f32; 3]>(
    scene: Scene<F>,
    panel: &Panel,
    options: &Options,
) -> Result<Located, LocateError> {
    let view = view::View::new(scene.shrunk);
    if view.width.min(view.height) < 24 {
        return Err(LocateError::TooSmall {
            width: scene.size.0,
            height: scene.size.1,
        });
    }
    let decided = decide::decide(&view, panel, options, scene.orientation, scene.size)?;
    let light = view::Full {
        width: scene.size.0,
        height: scene.size.1,
        linear: &scene.linear,
    };
    refine::finish(&light, &view, panel, decided, options.corners.is_some())
}
