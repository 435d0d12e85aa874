//! Plans as sheets to print: HTML that needs nothing else, for A4 and Letter.
//!
//! Takes a plan (and its panel, for the layout); gives one HTML document with boxes to tick, the layout as SVG, and cautions.
//! All text in it is escaped: a name can be anything. It holds no scripts and loads nothing.

mod board;
mod job;

use super::steps::{Stage, standing_text};
use super::{Cost, Taken, Total, Verdict, board::PanelPlan, job::JobPlan};
use crate::panel::Panel;
use maud::{Markup, html};

/// What the sheet is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// Whatever is in the printer: the sheet fits both.
    #[default]
    Any,
    /// 210 × 297 mm.
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

/// Everything fits the smaller width and the smaller height of both papers.
const STYLE: &str = include_str!("page/style.css");

/// The sheet of a panel.
#[must_use]
pub fn of_panel(plan: &PanelPlan, panel: &Panel, paper: Paper) -> String {
    let title = plan.title.as_ref().unwrap_or(&plan.panel);
    document(
        &format!("Mixing plan: {title}"),
        paper,
        &board::body(plan, panel),
    )
}

/// The sheet of a job.
#[must_use]
pub fn of_job(plan: &JobPlan, paper: Paper) -> String {
    document(
        &format!("Mixing plan: {}", plan.surface.id),
        paper,
        &job::body(plan),
    )
}

fn document(title: &str, paper: Paper, body: &Markup) -> String {
    let size = match paper {
        Paper::Any => "",
        Paper::A4 => "@page { size: A4 }",
        Paper::Letter => "@page { size: letter }",
    };
    crate::html::document(title, &[STYLE, size], body)
}

/// Boxes to tick.
fn boxes(count: u32) -> Markup {
    html! { td.ticks { @for _ in 0..count { span.box {} } } }
}

/// Lines to fill in.
fn blanks() -> Markup {
    html! {
        p.blanks {
            @for it in ["Date", "By", "Temperature", "Humidity"] { span { (it) ": " span.line {} } }
        }
    }
}

fn cautions(all: &[String]) -> Markup {
    html! {
        section.care {
            h2 { "Cautions" }
            ul { @for it in all { li { (it) } } }
        }
    }
}

fn list(title: &str, all: &[String]) -> Markup {
    html! {
        @if !all.is_empty() {
            section { h2 { (title) } ul { @for it in all { li { (it) } } } }
        }
    }
}

/// Where facts were taken from.
fn taken(all: &[Taken]) -> Markup {
    html! {
        @if !all.is_empty() {
            section {
                h2 { "Taken from" }
                table.taken {
                    thead { tr { th { "What" } th { "Value" } th { "From" } } }
                    tbody { @for it in all { tr { td { (it.what) } td { (it.value) } td { (it.from) } } } }
                }
            }
        }
    }
}

/// Weighings with boxes, `times` for each line.
fn stages(stages: &[Stage], times: u32, decimals: usize) -> Markup {
    html! { @for it in stages { (stage(it, times, decimals)) } }
}

/// What is done at once.
fn stage(stage: &Stage, times: u32, decimals: usize) -> Markup {
    html! {
        table.steps {
            caption { b { (stage.number) ". " (stage.title) } " " span.advice { (stage.advice) } }
            tbody {
                @for line in &stage.lines {
                    tr {
                        @if times > 0 { (boxes(times)) }
                        td.into { (line.into) }
                        td.what { (line.what) }
                        td.number { @if let Some(grams) = line.grams { (grams_text(grams, decimals)) " g" } }
                        td.note { (line.note) }
                    }
                }
            }
        }
    }
}

fn totals(totals: &[Total], cost: &Cost, decimals: usize) -> Markup {
    let volumes = totals.iter().any(|it| it.ml.is_some());
    html! {
        section {
            h2 { "Material" }
            table.steps {
                thead { tr {
                    th { "Material" } th.number { "Grams" }
                    @if volumes { th.number { "ml" } }
                    th { "Lot taken" }
                } }
                tbody {
                    @for it in totals {
                        tr {
                            td { (it.what) }
                            td.number { (grams_text(it.grams, decimals)) }
                            @if volumes { td.number { @if let Some(ml) = it.ml { (format!("{ml:.1}")) } } }
                            td { span.line {} }
                        }
                    }
                }
            }
            @if !cost.lines.is_empty() {
                table {
                    thead { tr { th { "Cost of" } th.number { "Grams" } th.number { "Price of a kg" } th.number { "Cost" } } }
                    tbody {
                        @for it in &cost.lines {
                            tr {
                                td { (it.what) }
                                td.number { (grams_text(it.grams, decimals)) }
                                td.number { (it.price_per_kg) }
                                td.number { (format!("{:.2}", it.cost)) }
                            }
                        }
                    }
                }
                p { (cost_text(cost)) }
            }
        }
    }
}

/// What everything costs, and what is not in it.
#[must_use]
pub fn cost_text(cost: &Cost) -> String {
    let currency = cost
        .currency
        .as_ref()
        .map_or_else(String::new, |it| format!(" {it}"));
    let without = if cost.without.is_empty() {
        String::new()
    } else {
        format!(", without what has no price: {}", cost.without.join("; "))
    };
    format!("Cost: {:.2}{currency}{without}", cost.sum)
}

fn standing(it: &super::Standing) -> Markup {
    let class = if it.verdict == Verdict::Beyond {
        "beyond"
    } else {
        ""
    };
    html! { span class=(class) { (standing_text(it)) } }
}

/// Grams with the balance's decimals.
fn grams_text(grams: f64, decimals: usize) -> String {
    format!("{grams:.decimals$}")
}

/// What a part of a whole is in percent, for people.
fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}
