//! A photo of a blank in the same pose and light: what shows the light without the board's help.
//!
//! Takes the blank's samples at the places where the board's own were taken. Everything that was sampled is one surface then, so
//! the field has far more to go by than strips of substrate. A blank that isn't one is refused, and so is one whose light falls
//! otherwise than on the board; what it leaves, and how far the board's own substrate disagrees, enters the field's residual.

use super::light::{self, LightField, Look, Surface};
use super::observe::Observed;
use super::robust;
use super::scene::Scene;
use super::tone::ToneCurve;
use crate::sample::{Block, Region, Samples, float};

/// Why a photo of a blank doesn't show a photo's light.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BlankError {
    /// Nothing of it could be read where the board lies.
    #[error("nothing of the blank could be read where the board lies")]
    Unseen,
    /// It is at the top of the encoding.
    #[error("{:.0} % of the blank is clipped (limit {:.0} %)", share * 100.0, MOST_CLIPPED * 100.0)]
    Clipped {
        /// Share of its pixels where board and card lie, 0–1.
        share: f64,
    },
    /// It is almost black.
    #[error(
        "the blank is almost black: linear value {value:.4} where at least {LEAST_VALUE} is needed"
    )]
    TooDark {
        /// Its median linear green.
        value: f64,
    },
    /// There are things on it, or it ends within the board.
    #[error(
        "the blank is not blank: {:.0} % of the places where the board lies are lighter or darker than \
         what lies around them, beyond what the light's fall-off explains (limit {:.0} %)",
        share * 100.0, MOST_OFF * 100.0
    )]
    NotBlank {
        /// Share of the places, 0–1.
        share: f64,
    },
    /// It has a texture or a pattern.
    #[error(
        "the blank is not plain: from one spot to the next it varies by {:.0} % (limit {:.0} %)",
        spread * 100.0, MOST_SPREAD * 100.0
    )]
    NotPlain {
        /// Median over the places of the standard deviation of log light from one millimetre to the next.
        spread: f64,
    },
    /// The board itself shows another light.
    #[error(
        "the light falls otherwise on the board than on the blank: {:.0} % apart where the board's own substrate shows it \
         (limit {:.0} %)",
        apart * 100.0, limit * 100.0
    )]
    OtherLight {
        /// Root mean square of the two fields' log ratio over the patches, what either is unsure of taken off.
        apart: f64,
        /// The limit.
        limit: f64,
    },
}

impl BlankError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Unseen => {
                "Take the blank's photo from the same place, with the same camera and lens."
            }
            Self::Clipped { .. } => {
                "Photograph the blank again with less exposure (about one stop)."
            }
            Self::TooDark { .. } => {
                "Photograph the blank again with more exposure, or take a lighter sheet."
            }
            Self::NotBlank { .. } => {
                "Lay a plain matt sheet over board and card, larger than both, and photograph it from the same place; or leave --blank out."
            }
            Self::NotPlain { .. } => {
                "Take a plain matt sheet without print, grain or creases; or leave --blank out."
            }
            Self::OtherLight { .. } => {
                "Photograph the blank again from the same place directly after the board, before the light changes; or leave --blank out."
            }
        }
    }
}

/// Largest share of clipped pixels.
const MOST_CLIPPED: f64 = 0.05;
/// Least linear value: below, eight bits have few steps left.
const LEAST_VALUE: f64 = 0.02;
/// Log light by which a place must differ from its neighbours to be no part of the sheet: beyond the grain of simulated
/// larch, well within what paint does.
const OFF: f64 = 0.2;
/// Log light beyond which a place is another thing than the sheet, and no light: a grey card on it, the table beside it.
pub(super) const FOREIGN: f64 = 0.5;
/// Largest share of such places: a card left on the sheet, a corner that it doesn't reach.
const MOST_OFF: f64 = 0.2;
/// Largest spread of log light from one millimetre to the next: a coarse grain has half of it, print several times as much.
const MOST_SPREAD: f64 = 0.12;
/// Largest disagreement of the fields that is taken as a doubt and not as another light: in log light, and as a share of the fall-off
/// that the board shows. An assumed tone curve stretches the fall-off, and otherwise on a light blank than on a dark board.
const MOST_APART: f64 = 0.1;
const STRETCHED: f64 = 0.4;

/// The regions of a blank: wherever the board or a card was looked at.
fn regions(blank: &Samples) -> impl Iterator<Item = &Region> {
    let all = blank
        .substrate
        .iter()
        .chain(&blank.patches)
        .chain(&blank.cards);
    all.filter(|it| !it.blocks.is_empty())
}

/// Looks at the light on the blank, all of which is one surface.
pub(super) fn looks(blank: &Samples) -> Vec<Look> {
    let readable = regions(blank).filter(|it| it.share(it.at_top) < 0.2);
    readable
        .filter_map(|it| Look::of(Surface::Substrate, it, None))
        .collect()
}

/// Whether it is a blank at all, whatever the board shows.
pub(super) fn check(blank: &Samples) -> Result<(), BlankError> {
    let sum = |count: fn(&Region) -> usize| regions(blank).map(count).sum::<usize>();
    let pixels = sum(|it| it.pixels + it.left_out.total());
    if pixels == 0 {
        return Err(BlankError::Unseen);
    }
    let share = float(sum(|it| it.at_top)) / float(pixels);
    if share > MOST_CLIPPED {
        return Err(BlankError::Clipped { share });
    }
    let mut greens: Vec<f64> = regions(blank)
        .filter_map(Region::mean_rgb)
        .map(|it| it[1])
        .collect();
    let value = robust::median(&mut greens);
    if value < LEAST_VALUE {
        return Err(BlankError::TooDark { value });
    }
    let encoding = ToneCurve::encoding();
    let looks = looks(blank);
    let field = LightField::fit(&looks, &[], &encoding, &[], blank.size);
    let steps = light::steps(light::knots(&field, &looks, &encoding));
    let off = steps.iter().filter(|it| it.abs() > OFF).count();
    let share = float(off) / float(steps.len().max(1));
    if share > MOST_OFF {
        return Err(BlankError::NotBlank { share });
    }
    let mut spreads: Vec<f64> = regions(blank).map(spread).collect();
    let spread = robust::median(&mut spreads);
    if spread > MOST_SPREAD {
        return Err(BlankError::NotPlain { spread });
    }
    Ok(())
}

/// Standard deviation of log green between the blocks of a region, from differences of neighbours: a slope of the light is no texture.
fn spread(region: &Region) -> f64 {
    let log = |it: &Block| it.rgb[1].max(1e-6).ln();
    let steps = region.blocks.windows(2).map(|it| log(&it[1]) - log(&it[0]));
    let steps: Vec<f64> = steps.collect();
    robust::sigma(&steps) / std::f64::consts::SQRT_2
}

/// Holds the blank's field against what the board's own substrate shows: a disagreement that neither's doubt explains enters the
/// residual, a large one is another light.
pub(super) fn agree(
    samples: &Samples,
    observed: &[Observed],
    tone: &ToneCurve,
    light: LightField,
) -> Result<LightField, BlankError> {
    let own = Scene::of(samples, observed, 1.0).light(tone);
    if own.stretches == 0 {
        return Ok(light);
    }
    let places: Vec<[f64; 2]> = samples
        .patches
        .iter()
        .map(|it| {
            let centre = it.rect.centre();
            [centre.x, centre.y]
        })
        .collect();
    let mean = |value: &dyn Fn([f64; 2]) -> f64| {
        places.iter().map(|it| value(*it)).sum::<f64>() / float(places.len().max(1))
    };
    let square = mean(&|it| (own.at(it)[1] / light.at(it)[1]).ln().powi(2));
    // What either may be off by itself: how well it is known, and what it leaves between stretches.
    let doubt = mean(&|it| own.doubt(it).powi(2) + light.doubt(it).powi(2));
    let apart = (square - doubt).max(0.0).sqrt();
    let fall_off = mean(&|it| own.at(it)[1].ln().powi(2)).sqrt();
    let limit = MOST_APART + STRETCHED * fall_off;
    if apart > limit {
        return Err(BlankError::OtherLight { apart, limit });
    }
    let residual = light.residual.hypot(apart);
    Ok(LightField { residual, ..light })
}
