//! The sheet of a job.

use super::{blanks, boxes, cautions, list, percent, stages, standing, taken, totals};
use crate::plan::balance::Balance;
use crate::plan::job::JobPlan;
use crate::plan::steps::{load_text, of_job};
use maud::{Markup, html};

pub(super) fn body(plan: &JobPlan) -> Markup {
    let decimals = Balance::decimals_of(plan.balance_step_g);
    let surface = &plan.surface;
    html! {
        h1 { "Mixing plan: " (surface.id) }
        p {
            @if let Some(name) = &surface.name { b { (name) } ": " }
            (surface.recipe) " in " (surface.recipe.coating) ", " (format!("{:.2}", surface.area_m2)) " m², "
            (format!("{:.0}", surface.wet_g_per_m2)) " g/m² wet in " (surface.coats) @if surface.coats == 1 { " coat" } @else { " coats" }
            ". Loads are grams of pigment per 100 g of mixed coating, all parts, before pigment. Overage " (percent(plan.overage)) "."
        }
        (blanks())
        (cautions(&plan.cautions))
        (list("Before you begin", &plan.notes))
        (list("Wetting out", &plan.wetting))
        (totals(&plan.totals, &plan.cost, decimals))
        (stages(&of_job(plan), 1, decimals))
        table {
            tbody {
                tr { th { "A batch holds" } td { (format!("{:.1}", plan.batch_wet_g)) " g"
                    @if let Some(ml) = plan.batch_ml { ", about " (format!("{ml:.0}")) " ml" }
                    ", for " (format!("{:.2}", plan.batch_m2)) " m² of one coat" } }
                @if !plan.loads.is_empty() {
                    tr { th { "Loads" } td { @for it in &plan.loads { div { (load_text(it)) } } } }
                    tr { th { "Tested limit" } td { (standing(&plan.standing)) } }
                }
                tr { th { "Ratio of the parts" } td { "off by at most " (percent(plan.ratio_off)) } }
                tr { th { "Left over" } td { (format!("{:.1}", plan.waste_g)) " g beyond what the surface takes with its overage" } }
            }
        }
        section {
            h2 { "Batches" }
            table.steps {
                thead { tr { th {} th { "Coat" } th { "Batch" } th { "Mixed at" } th { "Used up at" } th { "Place" } } }
                tbody {
                    @for coat in 1..=plan.times {
                        @for batch in 1..=plan.batches {
                            tr { (boxes(1))
                                td { @if plan.times < surface.coats { "all" } @else { (coat) } }
                                td { (batch) } td { span.line {} } td { span.line {} } td { span.line {} } }
                        }
                    }
                }
            }
        }
        (taken(&plan.taken))
    }
}
