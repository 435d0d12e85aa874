//! The sheet of a panel.

use super::{blanks, boxes, cautions, list, percent, stages, standing, taken, totals};
use crate::panel::{self, Panel, Side};
use crate::plan::board::PanelPlan;
use crate::plan::steps::{load_text, of_session, what_for};
use crate::plan::{Fade, Round, Session, Weighing};
use maud::{Markup, html};

pub(super) fn body(plan: &PanelPlan, panel: &Panel) -> Markup {
    let decimals = plan.decimals();
    html! {
        h1 { "Mixing plan: " (plan.title.as_ref().unwrap_or(&plan.panel)) }
        p { "Panel " b { (plan.panel) } ". Loads are grams of pigment per 100 g of mixed coating, all parts, before pigment. Overage "
            (percent(plan.overage)) ". The balance shows steps of " (plan.balance_step_g) " g; nothing below "
            (plan.least_weighable_g) " g is weighed." }
        (blanks())
        (cautions(&plan.cautions))
        (list("Before you begin", &plan.notes))
        (list("Wetting out", &plan.wetting))
        (totals(&plan.totals, &plan.cost, decimals))
        p { "Mixed beyond what the surfaces take with their overage, so that everything can be weighed and stirred: "
            (format!("{:.1}", plan.waste_g)) " g." }
        @for round in &plan.rounds { (mixings(round, decimals)) }
        @if let Some(fade) = &plan.fade { (fading(fade)) }
        (amounts(plan))
        (taken(&plan.taken))
        (layout(panel))
    }
}

fn mixings(round: &Round, decimals: usize) -> Markup {
    html! {
        section {
            h2 { (round.heading()) }
            @for (number, session) in round.sessions.iter().enumerate() {
                @if round.sessions.len() > 1 {
                    h3 { "Mixing " (number + 1) " of " (round.sessions.len()) ", one after the other: the pot life is too short for one" }
                }
                (stages(&of_session(session), round.times(), decimals))
                (cups(session))
            }
        }
    }
}

/// What the cups come to.
fn cups(session: &Session) -> Markup {
    html! {
        table {
            caption { b { "What the cups hold" } " " span.advice { "Loads: wanted → as weighed (rounding), and within what, each weighing half a step off." } }
            thead { tr {
                th { "Cup" } th { "For" } th { "Loads" } th { "Tested limit" }
                th.number { "Holds g" } th.number { "Poured g" } th.number { "Needed g" } th.number { "Left g" }
            } }
            tbody {
                @for cup in &session.cups {
                    tr {
                        td { (cup.number) }
                        td.what { (what_for(cup)) }
                        td { @if cup.loads.is_empty() { "clear" } @for it in &cup.loads { div { (load_text(it)) } } }
                        td { (standing(&cup.standing)) }
                        @for it in [cup.wet_g, cup.poured_g, cup.needed_g, cup.spare_g] { td.number { (format!("{it:.2}")) } }
                    }
                }
            }
        }
        @if session.parts.len() > 1 {
            p.last { "Coating cup: " (format!("{:.2}", session.taken_g)) " g are taken, " (format!("{:.2}", session.left_g))
                " g stay in it. The parts are off their ratio by at most " (percent(session.ratio_off)) "." }
        }
    }
}

/// What each patch takes.
fn amounts(plan: &PanelPlan) -> Markup {
    let parts = |it: &[Weighing]| {
        it.iter()
            .map(|it| format!("{} {:.2}", it.what, it.grams))
            .collect::<Vec<_>>()
            .join(", ")
    };
    html! {
        section {
            h2 { "What each patch takes" }
            p.advice { "All coats together, overage included, in grams, not rounded: the cups hold what several patches take." }
            table {
                thead { tr { th { "Patch" } th { "Recipe" } th.number { "cm²" } th.number { "g/m²" } th.number { "Coats" } th { "Coating" } th { "Pigments" } th { "Tested limit" } } }
                tbody {
                    @for it in &plan.surfaces {
                        tr {
                            td.what { (it.surface.id) @if let Some(name) = &it.surface.name { br; span.note { (name) } } }
                            td { (it.surface.recipe) }
                            td.number { (format!("{:.1}", 1e4 * it.surface.area_m2)) }
                            td.number { (format!("{:.0}", it.surface.wet_g_per_m2)) }
                            td.number { (it.surface.coats) }
                            td { (parts(&it.parts)) }
                            td { @for pigment in &it.pigments { div { (pigment.pigment.before_number()) " " (format!("{:.3}", pigment.grams)) } } }
                            td { (standing(&it.standing)) }
                        }
                    }
                }
            }
        }
    }
}

fn fading(fade: &Fade) -> Markup {
    html! {
        section {
            h2 { "The test of fading" }
            table.steps { tbody { @for it in fade.lines() { tr { (boxes(1)) td { (it) } } } } }
            h3 { "Photographs" }
            p.advice { "Dry, rinsed of dust, mask off, card beside the board, as the first time. Then the mask back onto the same half." }
            table.steps {
                thead { tr { th {} th.number { "Hours" } th { "Date" } th { "What" } } }
                tbody {
                    @for it in &fade.shots {
                        tr { (boxes(1)) td.number { (it.hours) } td { span.line {} } td { (it.what()) } }
                    }
                }
            }
        }
    }
}

/// The layout of the panel, as `panel show` draws it.
fn layout(panel: &Panel) -> Markup {
    let svg = crate::html::svg(&panel::sheet(panel).drawing);
    html! { section.layout { h2 { "Layout" } (svg) } }
}

impl Fade {
    /// What is to be done before exposure, each a thing to tick.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let same = self.masks.len() == 1 && self.unmasked.is_empty();
        for it in &self.masks {
            let patches = if same {
                "every patch".to_owned()
            } else {
                it.patches.join(", ")
            };
            lines.push(format!(
                "Mask the {} half of {patches}: an opaque strip that lies flat and leaves no edge of light.",
                side(it.side),
            ));
        }
        for it in &self.witnesses {
            lines.push(format!(
                "Witness: coat one more piece of the same substrate as {it}, on the same day from the same cup; keep it indoors, dark and dry, and photograph it each time beside the board."
            ));
        }
        if self.white_beside {
            lines.push("Control on an inert white (glazed tile, white glass, enamel): clear coating in as many coats, exposed beside the board. It shows what the coating does by itself.".to_owned());
        } else {
            lines.push(format!(
                "Control on an inert white: on the panel ({}).",
                self.white_on_panel.join(", ")
            ));
        }
        if !self.clear_on_panel.is_empty() {
            lines.push(format!(
                "Control of clear coating on the panel's substrate: on the panel ({}).",
                self.clear_on_panel.join(", ")
            ));
        }
        lines
    }
}

fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Top => "upper",
        Side::Bottom => "lower",
    }
}
