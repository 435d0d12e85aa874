//! A panel's plan: which surfaces it has, what each takes, and everything that is mixed for them.

mod timing;

use super::cost::Used;
use super::fade::{Fade, fade};
use super::limit::{Limits, Standing};
use super::material::{Coating, Load, Pigment, PigmentName, Recipe, known};
use super::mixing::{Content, coating_in};
use super::taken::Taken;
use super::{Cost, PlanError, PutOn, Round, Settings, Surface, Total, Weighing, care, session};
use crate::panel::{Panel, Patch, Side};
use schemars::JsonSchema;
use serde::Serialize;

pub use super::fade::FadeOrder;

/// What a panel's coating is called when neither panel nor patch names it.
const COATING: &str = "coating";

/// What is asked, and what is known.
#[derive(Clone, Copy, Debug)]
pub struct Order<'a> {
    /// The panel.
    pub panel: &'a Panel,
    /// The coatings that it names.
    pub coatings: &'a [Coating],
    /// What is known of its pigments; not all need be.
    pub pigments: &'a [Pigment],
    /// What was tested.
    pub limits: &'a Limits,
    /// How the workshop mixes.
    pub settings: &'a Settings,
    /// The currency that prices are in.
    pub currency: Option<&'a str>,
    /// What is wanted of a test of fading.
    pub fade: &'a FadeOrder,
    /// Where the facts were taken from.
    pub taken: &'a [Taken],
}

/// What to mix for a panel, and what to do with it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PanelPlan {
    /// [`super::SCHEMA`].
    pub schema: u32,
    /// The panel's id.
    pub panel: String,
    /// Its title.
    pub title: Option<String>,
    /// The balance's step, g.
    pub balance_step_g: f64,
    /// The least weighable amount, g.
    pub least_weighable_g: f64,
    /// Overage as a share.
    pub overage: f64,
    /// What each surface takes.
    pub surfaces: Vec<Amount>,
    /// The mixings.
    pub rounds: Vec<Round>,
    /// All materials.
    pub totals: Vec<Total>,
    /// What they cost.
    pub cost: Cost,
    /// What is mixed beyond what the surfaces take with their overage, g.
    pub waste_g: f64,
    /// What belongs to a test of fading.
    pub fade: Option<Fade>,
    /// How pigments are wetted out.
    pub wetting: Vec<String>,
    /// What to know before beginning.
    pub notes: Vec<String>,
    /// Where facts of materials were taken from.
    pub taken: Vec<Taken>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

impl PanelPlan {
    /// Decimals of its weights.
    #[must_use]
    pub fn decimals(&self) -> usize {
        super::Balance::decimals_of(self.balance_step_g)
    }
}

/// What one surface takes, all coats together, overage included.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Amount {
    /// The surface.
    #[serde(flatten)]
    pub surface: Surface,
    /// The half that goes under the mask.
    pub masked: Option<Side>,
    /// Each part of the coating, g, not rounded to what a balance shows: cups hold what several surfaces take.
    pub parts: Vec<Weighing>,
    /// Each pigment, g.
    pub pigments: Vec<PigmentAmount>,
    /// All of it, g.
    pub wet_g: f64,
    /// How its loads stand to the tested limits.
    pub standing: Standing,
}

/// An amount of pigment.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PigmentAmount {
    /// Which.
    #[serde(flatten)]
    pub pigment: PigmentName,
    /// How much, g.
    pub grams: f64,
}

/// What a patch is coated with. A patch states one lot: of several pigments nobody knows whose it is.
#[must_use]
pub fn recipe_of(panel: &Panel, patch: &Patch) -> Recipe {
    let lot = patch.lot.as_ref().filter(|_| patch.pigments.len() == 1);
    let loads = patch.pigments.iter().map(|it| Load {
        pigment: PigmentName {
            pigment: it.pigment.clone(),
            lot: lot.cloned(),
        },
        load: it.load,
    });
    Recipe {
        coating: panel.coating_of(patch).unwrap_or(COATING).to_owned(),
        loads: loads.collect(),
    }
}

fn is_coated(patch: &Patch) -> bool {
    !patch.empty && (!patch.pigments.is_empty() || patch.control.is_some())
}

/// The patches that something is to be mixed for.
pub fn coated(panel: &Panel) -> impl Iterator<Item = &Patch> {
    panel.patches.iter().filter(|it| is_coated(it))
}

/// Plans a panel.
///
/// # Errors
/// If something is not known that has to be, or nothing on the panel is to be coated.
pub fn plan(order: &Order<'_>) -> Result<PanelPlan, PlanError> {
    let panel = order.panel;
    let mut surfaces = Vec::new();
    for patch in coated(panel) {
        surfaces.push(surface(order, patch)?);
    }
    if surfaces.is_empty() {
        return Err(PlanError::Nothing);
    }
    let (fade, beside) = fade(panel, &surfaces, order.fade)?.unzip();
    surfaces.extend(beside.into_iter().flatten());
    let rounds = session::sessions(&surfaces, order.coatings, order.limits, order.settings)?;
    let used = Used::of(&rounds);
    let (totals, cost) = used.priced(order.coatings, order.pigments, order.currency);
    let mixed: f64 = totals.iter().map(|it| it.grams).sum();
    let needed: f64 = surfaces
        .iter()
        .map(|it| it.wet_g() * (1.0 + order.settings.overage))
        .sum();
    let coatings: Vec<Coating> = order
        .coatings
        .iter()
        .filter(|it| used_in(it, &surfaces))
        .cloned()
        .collect();
    let pigments: Vec<Pigment> = used
        .pigments
        .keys()
        .filter_map(|it| known(order.pigments, it))
        .cloned()
        .collect();
    Ok(PanelPlan {
        schema: super::SCHEMA,
        panel: panel.id.clone(),
        title: panel.title.clone(),
        balance_step_g: order.settings.balance.step_g(),
        least_weighable_g: order.settings.balance.least_g(),
        overage: order.settings.overage,
        notes: notes(order, fade.as_ref(), &rounds, &totals),
        surfaces: surfaces.into_iter().map(|it| amount(order, it)).collect(),
        rounds,
        totals,
        cost,
        waste_g: mixed - needed,
        taken: order.taken.to_vec(),
        wetting: care::wetting(&pigments),
        cautions: care::cautions(&coatings, &pigments, fade.is_some()),
        fade,
    })
}

fn used_in(coating: &Coating, surfaces: &[Surface]) -> bool {
    surfaces.iter().any(|it| it.recipe.coating == coating.name)
}

fn surface(order: &Order<'_>, patch: &Patch) -> Result<Surface, PlanError> {
    let recipe = recipe_of(order.panel, patch);
    let coating = order.coatings.iter().find(|it| it.name == recipe.coating);
    let coating = coating.ok_or_else(|| PlanError::NoRatio {
        coating: recipe.coating.clone(),
    })?;
    let put_on = PutOn {
        wet_g_per_m2: patch.wet_g_per_m2,
        coats: order.panel.coats_of(patch),
        coat_g_per_m2: coating.coat_g_per_m2,
    };
    let (wet_g_per_m2, coats) = put_on.in_all().ok_or_else(|| PlanError::NoAmount {
        of: format!("patch {}", patch.id),
    })?;
    Ok(Surface {
        id: patch.id.clone(),
        name: patch.name.clone(),
        recipe,
        area_m2: patch.rect.width * patch.rect.height / 1e6,
        wet_g_per_m2,
        coats,
    })
}

fn amount(order: &Order<'_>, surface: Surface) -> Amount {
    let wet_g = surface.wet_g() * (1.0 + order.settings.overage);
    let coating_g = coating_in(wet_g, surface.recipe.total_load());
    let content = Content::of(&surface.recipe, coating_g);
    let coating = order
        .coatings
        .iter()
        .find(|it| it.name == surface.recipe.coating);
    let parts = coating.into_iter().flat_map(|it| &it.parts);
    let patch = order.panel.patch(&surface.id);
    Amount {
        masked: patch.and_then(|it| it.masked),
        parts: parts
            .map(|it| Weighing {
                what: it.name.clone(),
                grams: coating_g * it.share,
            })
            .collect(),
        pigments: content
            .pigments_g
            .into_iter()
            .map(|(pigment, grams)| PigmentAmount { pigment, grams })
            .collect(),
        wet_g,
        standing: order.limits.standing(&surface.recipe),
        surface,
    }
}

/// What to know before beginning.
fn notes(
    order: &Order<'_>,
    fade: Option<&Fade>,
    rounds: &[Round],
    totals: &[Total],
) -> Vec<String> {
    let panel = order.panel;
    let mut notes = Vec::new();
    let blank: Vec<&str> = panel
        .patches
        .iter()
        .filter(|it| !it.empty && !is_coated(it))
        .map(|it| it.id.as_str())
        .collect();
    if !blank.is_empty() {
        notes.push(format!(
            "Not planned, since the panel file names neither pigments nor `control`: {}.",
            blank.join(", ")
        ));
    }
    let unclear: Vec<&str> = coated(panel)
        .filter(|it| it.lot.is_some() && it.pigments.len() > 1)
        .map(|it| it.id.as_str())
        .collect();
    if !unclear.is_empty() {
        notes.push(format!(
            "`lot` of a mixture doesn't say of which pigment, and is left out here: {}.",
            unclear.join(", ")
        ));
    }
    notes.extend(timing::notes(rounds, order.settings));
    if let Some(fade) = fade {
        if fade.clear_on_panel.is_empty() {
            notes.push("No patch is a control of clear coating on the panel's own substrate: without one, what the coating and the wood do can't be told from what the pigments do. Set `control = \"clear\"` on a patch.".to_owned());
        }
        if !fade.unmasked.is_empty() {
            notes.push(format!(
                "Without a mask, change can't be told apart from another light or camera: {}. Set `masked` in the panel file.",
                fade.unmasked.join(", ")
            ));
        }
    }
    for it in totals {
        if let Some(stock) = &it.stock {
            notes.push(format!(
                "{} is noted as {stock}: {:.2} g are needed.",
                it.what, it.grams
            ));
        }
    }
    notes
}
