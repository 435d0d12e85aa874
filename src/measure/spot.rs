//! One spot of a photo beside a card: a customer's sample, a finished piece. No panel: both places are given in pixels.
//!
//! The same stages as for a panel, with a panel of one patch that is made here; only the search for it is left out.

use super::{Refusal, doubts};
use crate::correct::{self, Given, correct_given};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::locate::{Located, LocatedCard, Quality};
use crate::panel::{self, PanelError};
use crate::photo::{self, Photo};
use crate::record::{Dose, Found, PhotoRecord, Settings, of_photo};
use crate::reference::references;
use crate::sample::sample;
use std::path::Path;

/// The id of the only patch of the panel that is made for a spot.
pub const PATCH: &str = "spot";

/// What is where, in pixels of the upright picture: x to the right, y down, (0, 0) the outer corner of the first pixel.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// What the sample is called: the id of the panel that is made for it.
    pub name: String,
    /// The card's name or file.
    pub card: String,
    /// The card's outer edge; of a card of one colour any part of it.
    pub card_at: Rect,
    /// What is to be measured.
    pub at: Rect,
}

/// Why a spot can't be measured.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SpotError {
    /// The card is not known, or the name can't be one.
    #[error(transparent)]
    Panel(#[from] PanelError),
    /// The photo can't be read or corrected.
    #[error(transparent)]
    Photo(#[from] Refusal),
    /// A box that isn't in the picture, is too small, or lies on the other.
    #[error("{what}")]
    Place {
        /// Which, and what is wrong.
        what: String,
    },
    /// The spot has no colour: clipped, glaring.
    #[error("the spot can't be measured: {why}")]
    NoColour {
        /// Why, in flags.
        why: String,
    },
}

impl SpotError {
    /// What to do about it; empty where the message says it.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            // The message of a panel holds its hints.
            Self::Panel(_) => String::new(),
            Self::Photo(it) => it.hint.clone(),
            Self::Place { .. } => {
                "Boxes are X,Y,WIDTH,HEIGHT in pixels of the picture as it stands upright, from its top left corner.".to_owned()
            }
            Self::NoColour { .. } => {
                "Mark a part without glare, or photograph it again with less exposure.".to_owned()
            }
        }
    }
}

/// Smallest side of a box, pixels: after the edges are left off some hundred pixels remain.
const LEAST_PX: f64 = 16.0;

/// Measures a spot; its record has one patch, [`PATCH`], of which nobody knows what is in it.
///
/// # Errors
///
/// If a box doesn't fit, the card is not known, or the photo can't be read or corrected.
pub fn spot(path: &Path, spot: &Spot) -> Result<PhotoRecord, SpotError> {
    let photo = Photo::open(path, &photo::Options { linear: false })
        .map_err(|it| Refusal::new(path, &it.problem, it.hint()))?;
    check(&photo, spot)?;
    let bare = panel_of(spot, 1.0)?;
    let card = bare.cards.first().map(|it| it.card.outer());
    let outer = card.ok_or_else(|| place("the card has no size".to_owned()))?;
    // As many pixels a millimetre as on the card.
    let scale = (spot.card_at.width * spot.card_at.height / (outer.width * outer.height)).sqrt();
    let panel = panel_of(spot, scale)?;
    let stored = |p: Point| photo.orientation.to_stored(p, (photo.width, photo.height));
    let onto = |from: &Rect, to: &Rect| {
        let to = to.corners().map(stored);
        PlaneMap::fit(&from.corners(), &to)
            .ok_or_else(|| place("the card's place spans nothing".to_owned()))
    };
    let patch = panel.patches.first().map(|it| it.rect);
    let patch = patch.ok_or_else(|| place("the spot spans nothing".to_owned()))?;
    let located = Located {
        panel: onto(&patch, &spot.at)?,
        cards: vec![LocatedCard {
            index: 0,
            map: onto(&outer, &spot.card_at)?,
        }],
        quality: Quality {
            outline_rms_px: 0.0,
            seen: 1.0,
            rival: 0.0,
        },
        witnesses: vec!["both places were given by hand".to_owned()],
        by_hand: true,
    };
    let samples = sample(&photo, &panel, &located);
    let options = correct::Options {
        tone: correct::Tone::Auto,
    };
    let outcome = correct_given(
        &samples,
        &references(&panel, &samples),
        &options,
        &Given::default(),
    )
    .map_err(|it| Refusal::new(path, &it, it.hint()))?;
    let record = of_photo(&Found {
        photo: &photo,
        panel: &panel,
        located: &located,
        samples: &samples,
        correction: &outcome.correction,
        corrected: &outcome.readings,
        settings: Settings {
            upright: true,
            linear: false,
            tone: correct::Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
        dose: Dose::of_hours(None),
        exposure: None,
        doubts: doubts::of(&photo, &panel, &located, &outcome.correction),
    });
    match record.readings.first() {
        Some(it) if it.lab().is_some() => Ok(record),
        other => {
            let flags = other.map(|it| it.flags.iter().map(crate::record::csv::word).collect());
            let flags: Vec<String> = flags.unwrap_or_default();
            Err(SpotError::NoColour {
                why: flags.join(", "),
            })
        }
    }
}

fn place(what: String) -> SpotError {
    SpotError::Place { what }
}

/// A panel of one patch that lies to its card as the two boxes do, `scale` pixels a millimetre.
fn panel_of(spot: &Spot, scale: f64) -> Result<panel::Panel, PanelError> {
    // A string of JSON is one of TOML.
    let text = |it: &str| serde_json::Value::from(it).to_string();
    let mm = |it: f64| it / scale;
    let (at, card) = (spot.at, spot.card_at);
    let toml = format!(
        "id = {}\nupright = true\n[[card]]\ncard = {}\nat_mm = [{:?}, {:?}]\n[[patch]]\nid = \"{PATCH}\"\nname = {}\nat_mm = [0.0, 0.0]\nsize_mm = [{:?}, {:?}]\n",
        text(&spot.name),
        text(&spot.card),
        mm(card.x - at.x),
        mm(card.y - at.y),
        text(&spot.name),
        mm(at.width),
        mm(at.height),
    );
    panel::read_text(&toml, Path::new("spot.toml"))
}

fn check(photo: &Photo, spot: &Spot) -> Result<(), SpotError> {
    let (width, height) = photo.display_size();
    let whole = Rect {
        x: 0.0,
        y: 0.0,
        width: crate::sample::float(width),
        height: crate::sample::float(height),
    };
    for (name, it) in [("the card's place", &spot.card_at), ("the spot", &spot.at)] {
        let said = format!("{},{},{},{}", it.x, it.y, it.width, it.height);
        if !it.corners().iter().all(|corner| whole.contains(corner)) {
            return Err(place(format!(
                "{name} {said} is not within the picture of {width} × {height} pixels"
            )));
        }
        if it.width.min(it.height) < LEAST_PX {
            return Err(place(format!(
                "{name} {said} is too small: {LEAST_PX} pixels a side are the least"
            )));
        }
    }
    let (a, b) = (&spot.card_at, &spot.at);
    let beside = a.x + a.width <= b.x
        || b.x + b.width <= a.x
        || a.y + a.height <= b.y
        || b.y + b.height <= a.y;
    if beside {
        Ok(())
    } else {
        Err(place("the spot lies on the card".to_owned()))
    }
}
