//! What belongs to a test of fading beside the patches: masks, a witness, controls, and when to photograph.

use super::{PlanError, Surface};
use crate::panel::{Control, Panel, Patch, Side};
use schemars::JsonSchema;
use serde::Serialize;

/// Hours of exposure at which to photograph unless others are asked for. Change is fastest at first, so each stretch is twice
/// the one before (common practice, no source).
const HOURS: [f64; 6] = [0.0, 100.0, 200.0, 400.0, 800.0, 1600.0];
/// Longer than anyone waits: a century.
const MOST_HOURS: f64 = 876_600.0;

/// What is wanted of a test of fading.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FadeOrder {
    /// Whether fading is to be tested; if not said: where something is masked.
    pub meant: Option<bool>,
    /// Hours of exposure at which to photograph; none: the usual ones.
    pub hours: Vec<f64>,
    /// Patches of which a witness is coated; none: the palest tint.
    pub witnesses: Vec<String>,
}

/// What belongs to a test of fading.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Fade {
    /// Which half of which patches goes under the mask.
    pub masks: Vec<Mask>,
    /// Patches without a mask: their change can't be told from the camera's.
    pub unmasked: Vec<String>,
    /// Patches of which one more is coated beside the panel, to be kept indoors in the dark.
    pub witnesses: Vec<String>,
    /// Controls on an inert white that the panel has.
    pub white_on_panel: Vec<String>,
    /// One is coated beside the panel, since the panel has none.
    pub white_beside: bool,
    /// Controls of clear coating on the panel's substrate.
    pub clear_on_panel: Vec<String>,
    /// When to photograph.
    pub shots: Vec<Shot>,
}

/// A mask's side.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Mask {
    /// Which half is covered.
    pub side: Side,
    /// Of these patches.
    pub patches: Vec<String>,
}

/// A photo to be taken.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Shot {
    /// Hours of exposure before it.
    pub hours: f64,
}

impl Shot {
    /// What it is for, for people.
    #[must_use]
    pub fn what(&self) -> &'static str {
        if self.hours > 0.0 {
            "Both halves and the witness."
        } else {
            "Before any sun, once cured: both halves, since hand-laid coats differ from half to half. Without it no change can be told."
        }
    }
}

/// The surfaces that a test takes beside the panel's.
pub(super) const WHITE: &str = "control on an inert white";

/// What a witness of a patch is called.
pub(super) fn witness_of(id: &str) -> String {
    format!("witness of {id}")
}

/// What belongs to a test of fading, with the surfaces that it takes beside the panel; none if none is meant.
///
/// # Errors
/// If a witness is no patch of the panel that is coated, or hours are no hours.
pub(super) fn fade(
    panel: &Panel,
    surfaces: &[Surface],
    order: &FadeOrder,
) -> Result<Option<(Fade, Vec<Surface>)>, PlanError> {
    let coated: Vec<&Patch> = panel
        .patches
        .iter()
        .filter(|it| surfaces.iter().any(|surface| surface.id == it.id))
        .collect();
    let meant = order
        .meant
        .unwrap_or(coated.iter().any(|it| it.masked.is_some()));
    if !meant {
        return Ok(None);
    }
    let ids = |keep: &dyn Fn(&Patch) -> bool| -> Vec<String> {
        coated
            .iter()
            .filter(|it| keep(it))
            .map(|it| it.id.clone())
            .collect()
    };
    let masks = [Side::Left, Side::Right, Side::Top, Side::Bottom].map(|side| Mask {
        side,
        patches: ids(&|it| it.masked == Some(side)),
    });
    let witnesses = witnesses(surfaces, order)?;
    let mut beside: Vec<Surface> = surfaces
        .iter()
        .filter(|it| witnesses.contains(&it.id))
        .map(|it| Surface {
            id: witness_of(&it.id),
            ..it.clone()
        })
        .collect();
    let white_on_panel = ids(&|it| it.control == Some(Control::ClearOnWhite));
    let white_beside = white_on_panel.is_empty();
    if white_beside {
        beside.extend(white(surfaces));
    }
    let fade = Fade {
        masks: masks
            .into_iter()
            .filter(|it| !it.patches.is_empty())
            .collect(),
        unmasked: ids(&|it| it.masked.is_none()),
        witnesses,
        white_on_panel,
        white_beside,
        clear_on_panel: ids(&|it| it.control == Some(Control::Clear)),
        shots: hours(&order.hours)?
            .into_iter()
            .map(|hours| Shot { hours })
            .collect(),
    };
    Ok(Some((fade, beside)))
}

/// The patches of which a witness is coated. The palest tint changes soonest, so it shows most.
fn witnesses(surfaces: &[Surface], order: &FadeOrder) -> Result<Vec<String>, PlanError> {
    for id in &order.witnesses {
        let wrong = |why: &str| PlanError::Witness {
            id: id.clone(),
            why: why.to_owned(),
        };
        let surface = surfaces.iter().find(|it| it.id == *id);
        let surface = surface.ok_or_else(|| wrong("the panel has no coated patch of this id"))?;
        if surface.recipe.loads.is_empty() {
            return Err(wrong("it is not tinted"));
        }
    }
    if !order.witnesses.is_empty() {
        let mut once: Vec<String> = Vec::new();
        for id in &order.witnesses {
            if !once.contains(id) {
                once.push(id.clone());
            }
        }
        return Ok(once);
    }
    let tinted = surfaces.iter().filter(|it| !it.recipe.loads.is_empty());
    let palest = tinted.min_by(|a, b| a.recipe.total_load().total_cmp(&b.recipe.total_load()));
    Ok(palest.map(|it| it.id.clone()).into_iter().collect())
}

/// Clear coating as on the first tinted surface.
fn white(surfaces: &[Surface]) -> Option<Surface> {
    let like = surfaces
        .iter()
        .find(|it| !it.recipe.loads.is_empty())
        .or(surfaces.first())?;
    let mut white = like.clone();
    white.recipe.loads.clear();
    white.name = None;
    WHITE.clone_into(&mut white.id);
    Some(white)
}

/// When to photograph: always at 0 hours too, each time once.
fn hours(asked: &[f64]) -> Result<Vec<f64>, PlanError> {
    if asked.is_empty() {
        return Ok(HOURS.to_vec());
    }
    if let Some(wrong) = asked
        .iter()
        .find(|it| !(it.is_finite() && (0.0..=MOST_HOURS).contains(*it)))
    {
        return Err(PlanError::Number {
            what: "a number of hours".to_owned(),
            value: *wrong,
            must: format!("from 0 to {MOST_HOURS}"),
        });
    }
    let mut all: Vec<f64> = [0.0].into_iter().chain(asked.iter().copied()).collect();
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    Ok(all)
}
