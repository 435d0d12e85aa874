//! The sheet of a job.

use super::{blanks, boxes, cautions, grams_text, list, percent, stage, standing, taken, totals};
use crate::plan::balance::Balance;
use crate::plan::job::JobPlan;
use crate::plan::steps::{batch_for, load_text, of_job};
use maud::{Markup, html};

pub(super) fn body(plan: &JobPlan) -> Markup {
    let decimals = Balance::decimals_of(plan.balance_step_g);
    let surface = &plan.surface;
    let all = of_job(plan);
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
        @for (index, it) in all.iter().enumerate() {
            // Those of a batch are ticked off batch by batch, below.
            (stage(it, u32::from(index + 1 < all.len()), decimals))
        }
        table {
            tbody {
                tr { th { "A batch holds" } td { (format!("{:.1}", plan.batch_wet_g)) " g"
                    @if let Some(ml) = plan.batch_ml { ", about " (format!("{ml:.0}")) " ml" }
                    ", for " (batch_for(plan)) } }
                @if !plan.loads.is_empty() {
                    tr { th { "Loads" } td { @for it in &plan.loads { div { (load_text(it)) } } } }
                    tr { th { "Tested limit" } td { (standing(&plan.standing)) } }
                }
                @if plan.has_parts() {
                    tr { th { "Ratio of the parts" } td { "off by at most " (percent(plan.ratio_off)) } }
                }
                tr { th { "Left over" } td { (format!("{:.1}", plan.waste_g)) " g beyond what the surface takes with its overage" } }
            }
        }
        (batches(plan, decimals))
        (taken(&plan.taken))
    }
}

/// Each batch with a box for each thing that is weighed.
fn batches(plan: &JobPlan, decimals: usize) -> Markup {
    let is_for_all = plan.times < plan.surface.coats;
    html! {
        section {
            h2 { "Batches" }
            p.advice { "All alike: the same weights each time, ticked as they are weighed." }
            table.batches {
                thead { tr {
                    th { "Coat" } th { "Batch" }
                    @for it in &plan.batch { th.name { (it.what) " " span.grams { (grams_text(it.grams, decimals)) " g" } } }
                    th { "Mixed at" } th { "Used up at" } th { "Place" }
                } }
                tbody {
                    @for coat in 1..=plan.times {
                        @for batch in 1..=plan.batches {
                            tr {
                                td { @if is_for_all { "all" } @else { (coat) } }
                                td { (batch) }
                                @for _ in &plan.batch { (boxes(1)) }
                                @for _ in 0..3 { td { span.line {} } }
                            }
                        }
                    }
                }
            }
        }
    }
}
