//! Plans as text for people.

use super::super::columns::{Columns, Stand, one_line};
use super::super::failure::printable;
use super::super::table::Terminal;
use masstone::plan::board::PanelPlan;
use masstone::plan::job::JobPlan;
use masstone::plan::page::cost_text;
use masstone::plan::steps::{self, Stage, load_text, standing_text, what_for};
use masstone::plan::{Balance, Cost, Round, Taken, Total};

/// A panel's plan.
pub(super) fn of_panel(plan: &PanelPlan) -> String {
    let decimals = plan.decimals();
    let title = plan
        .title
        .as_ref()
        .map_or_else(String::new, |it| format!(": {it}"));
    let mut out = heading(&format!("{}{title}", plan.panel));
    out += &list("Cautions", &plan.cautions);
    out += &list("Before you begin", &plan.notes);
    out += &list("Wetting out", &plan.wetting);
    for round in &plan.rounds {
        out += &mixings(round, decimals);
    }
    if let Some(fade) = &plan.fade {
        out += &list("The test of fading", &fade.lines());
        let shots: Vec<String> = fade
            .shots
            .iter()
            .map(|it| format!("after {} h: {}", it.hours, it.what()))
            .collect();
        out += &list("Photograph", &shots);
    }
    out += &heading("What each patch takes, all coats together, in grams, not rounded");
    let rows: Vec<Vec<String>> = plan
        .surfaces
        .iter()
        .map(|it| {
            let parts = it
                .parts
                .iter()
                .map(|it| format!("{} {:.2}", it.what, it.grams));
            let pigments = it
                .pigments
                .iter()
                .map(|it| format!("{} {:.3}", it.pigment.before_number(), it.grams));
            vec![
                it.surface.id.clone(),
                it.surface.name.clone().unwrap_or_default(),
                parts.collect::<Vec<_>>().join(", "),
                pigments.collect::<Vec<_>>().join(", "),
                format!("{:.2}", it.wet_g),
                standing_text(&it.standing),
            ]
        })
        .collect();
    out += &columns(
        &[
            ("patch", Stand::Left),
            ("name", Stand::Gives),
            ("coating", Stand::Left),
            ("pigments", Stand::Left),
            ("in all", Stand::Right),
            ("tested limit", Stand::Gives),
        ],
        rows,
    );
    out += &totals(&plan.totals, &plan.cost, decimals);
    out += &format!(
        "Mixed beyond what the patches take with {:.0} % overage, so that everything can be weighed and stirred: {:.1} g\n",
        100.0 * plan.overage,
        plan.waste_g
    );
    out + &taken(&plan.taken)
}

/// A job's plan.
pub(super) fn of_job(plan: &JobPlan) -> String {
    let decimals = Balance::decimals_of(plan.balance_step_g);
    let surface = &plan.surface;
    let mut out = heading(&format!(
        "{}: {} in {}, {} m², {:.0} g/m² wet in {}",
        surface.id,
        surface.recipe,
        surface.recipe.coating,
        surface.area_m2,
        surface.wet_g_per_m2,
        super::super::progress::count(surface.coats as usize, "coat")
    ));
    out += &list("Cautions", &plan.cautions);
    out += &list("Before you begin", &plan.notes);
    out += &list("Wetting out", &plan.wetting);
    out += &stages(&steps::of_job(plan), decimals);
    out += &heading("A batch");
    let volume = plan
        .batch_ml
        .map_or_else(String::new, |it| format!(", about {it:.0} ml"));
    out += &format!(
        "holds {:.1} g{volume}, for {}\n",
        plan.batch_wet_g,
        steps::batch_for(plan)
    );
    for it in &plan.loads {
        out += &format!("load {}\n", load_text(it));
    }
    if !plan.loads.is_empty() {
        out += &format!("{}\n", standing_text(&plan.standing));
    }
    if plan.has_parts() {
        out += &format!(
            "parts off their ratio by at most {:.1} %\n",
            100.0 * plan.ratio_off
        );
    }
    let each = if plan.times < surface.coats {
        "for all coats together"
    } else {
        "for each coat"
    };
    let alike = if plan.batches == 1 {
        "1 batch".to_owned()
    } else {
        format!("{} batches, all alike,", plan.batches)
    };
    out += &format!("{alike} {each}\n");
    out += &totals(&plan.totals, &plan.cost, decimals);
    out += &format!(
        "Left over beyond {:.0} % overage: {:.1} g\n",
        100.0 * plan.overage,
        plan.waste_g
    );
    printable(&(out + &taken(&plan.taken)))
}

fn mixings(round: &Round, decimals: usize) -> String {
    let mut out = heading(&round.heading());
    for (number, session) in round.sessions.iter().enumerate() {
        if round.sessions.len() > 1 {
            out += &format!(
                "\nMixing {} of {}, one after the other: the pot life is too short for one\n",
                number + 1,
                round.sessions.len()
            );
        }
        out += &stages(&steps::of_session(session), decimals);
        let rows: Vec<Vec<String>> = session
            .cups
            .iter()
            .map(|it| {
                let loads: Vec<String> = it.loads.iter().map(load_text).collect();
                let loads = if loads.is_empty() {
                    "clear".to_owned()
                } else {
                    loads.join("; ")
                };
                let grams =
                    [it.wet_g, it.poured_g, it.needed_g, it.spare_g].map(|it| format!("{it:.2}"));
                let mut row = vec![it.number.to_string(), what_for(it)];
                row.extend(grams);
                row.push(standing_text(&it.standing));
                row.push(loads);
                row
            })
            .collect();
        out += "\n";
        let names = [
            ("cup", Stand::Right),
            ("for", Stand::Gives),
            ("holds", Stand::Right),
            ("poured", Stand::Right),
            ("needed", Stand::Right),
            ("left", Stand::Right),
            ("tested limit", Stand::Gives),
            ("load: wanted → weighed (rounding), range", Stand::Left),
        ];
        out += &columns(&names, rows);
        if session.parts.len() > 1 {
            out += &format!(
                "Coating cup: {:.2} g are taken, {:.2} g stay. Parts off their ratio by at most {:.1} %.\n",
                session.taken_g,
                session.left_g,
                100.0 * session.ratio_off
            );
        }
    }
    out
}

fn stages(stages: &[Stage], decimals: usize) -> String {
    let mut out = String::new();
    for stage in stages {
        out += &format!(
            "\n{}. {}\n   {}\n",
            stage.number,
            one_line(&stage.title),
            one_line(&stage.advice)
        );
        let rows: Vec<Vec<String>> = stage
            .lines
            .iter()
            .map(|it| {
                let grams = it
                    .grams
                    .map_or_else(String::new, |it| format!("{it:.decimals$} g"));
                vec![
                    format!("   {}", it.into),
                    it.what.clone(),
                    grams,
                    it.note.clone(),
                ]
            })
            .collect();
        let names = [
            ("", Stand::Left),
            ("", Stand::Left),
            ("", Stand::Right),
            ("", Stand::Gives),
        ];
        let text = columns(&names, rows);
        // Without headings the first line is blank.
        out += text.split_once('\n').map_or("", |it| it.1);
    }
    out
}

fn totals(totals: &[Total], cost: &Cost, decimals: usize) -> String {
    let rows: Vec<Vec<String>> = totals
        .iter()
        .map(|it| {
            vec![
                it.what.clone(),
                format!("{:.decimals$}", it.grams),
                it.ml.map_or_else(String::new, |it| format!("{it:.1}")),
            ]
        })
        .collect();
    let names = [
        ("material", Stand::Gives),
        ("grams", Stand::Right),
        ("ml", Stand::Right),
    ];
    let mut out = heading("Material") + &columns(&names, rows);
    if cost.lines.is_empty() {
        return out;
    }
    let rows: Vec<Vec<String>> = cost
        .lines
        .iter()
        .map(|it| {
            vec![
                it.what.clone(),
                format!("{:.decimals$}", it.grams),
                it.price_per_kg.to_string(),
                format!("{:.2}", it.cost),
            ]
        })
        .collect();
    let names = [
        ("cost of", Stand::Gives),
        ("grams", Stand::Right),
        ("price of a kg", Stand::Right),
        ("cost", Stand::Right),
    ];
    out += "\n";
    out += &columns(&names, rows);
    out + &format!("{}\n", one_line(&cost_text(cost)))
}

/// Where facts were taken from.
fn taken(all: &[Taken]) -> String {
    let all: Vec<String> = all
        .iter()
        .map(|it| format!("{}: {} ({})", it.what, it.value, it.from))
        .collect();
    list("Taken from", &all)
}

fn columns(names: &[(&'static str, Stand)], rows: Vec<Vec<String>>) -> String {
    let mut table = Columns::new(names);
    for row in rows {
        table.row(None, row);
    }
    let mut out = Vec::new();
    table
        .write(Terminal::of_stdout(), &mut out)
        .expect("memory takes everything");
    String::from_utf8(out).expect("it was text")
}

fn heading(text: &str) -> String {
    format!("\n{}\n", one_line(text))
}

fn list(title: &str, all: &[String]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let lines: String = all
        .iter()
        .map(|it| format!("- {}\n", one_line(it)))
        .collect();
    heading(title) + &lines
}
