//! A plan as instructions, in the order in which hands do them. What is printed, on a screen or on paper, comes from here.

use super::job::JobPlan;
use super::{Add, Cup, CupLoad, Session, Standing, Verdict, Weighing};

/// One stage of the work.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// Its number, from 1.
    pub number: usize,
    /// What is done.
    pub title: String,
    /// What to mind.
    pub advice: String,
    /// Each a thing to do and to tick.
    pub lines: Vec<Line>,
}

/// A thing to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Where it goes.
    pub into: String,
    /// What.
    pub what: String,
    /// How much, if it is weighed, g.
    pub grams: Option<f64>,
    /// What it is for.
    pub note: String,
}

/// A cup by its number.
fn cup_name(number: usize) -> String {
    format!("cup {number}")
}

/// The stages of one mixing.
#[must_use]
pub fn of_session(session: &Session) -> Vec<Stage> {
    let in_order = || {
        session
            .order
            .iter()
            .filter_map(|it| session.cups.get(it - 1))
    };
    let poured_into = |it: &&Cup| it.adds.iter().any(|add| matches!(add, Add::Cup { .. }));
    let mixed = session.parts.len() > 1;
    let mut stages = vec![Stage {
        number: 0,
        title: "Weigh the dry pigments, each into its cup".to_owned(),
        advice: "Label the cups first. Tare before each.".to_owned(),
        lines: session.cups.iter().flat_map(dry).collect(),
    }];
    if mixed {
        let pot_life = session.pot_life_min.map_or_else(
            || "The pot life begins.".to_owned(),
            |it| {
                format!(
                    "The pot life of {it} minutes begins; the work from here takes about {:.0}.",
                    session.minutes
                )
            },
        );
        stages.push(Stage {
            number: 0,
            title: format!("Mix the coating: {}", session.coating),
            advice: format!("Stir as its data sheet says. {pot_life}"),
            lines: session
                .parts
                .iter()
                .map(|it| line("coating cup", &it.what, it.grams, ""))
                .collect(),
        });
    }
    let source = if mixed {
        "clear coating"
    } else {
        &session.coating
    };
    stages.push(Stage {
        number: 0,
        title: "Clear coating on the pigments".to_owned(),
        advice: "A little first, rub to a paste, then the rest; stir.".to_owned(),
        lines: in_order()
            .filter(|it| !poured_into(it))
            .flat_map(|it| liquids(it, source))
            .collect(),
    });
    stages.push(Stage {
        number: 0,
        title: "Let down".to_owned(),
        advice: "Stir each cup again before pouring from it.".to_owned(),
        lines: in_order()
            .filter(poured_into)
            .flat_map(|it| liquids(it, source))
            .collect(),
    });
    stages.push(Stage {
        number: 0,
        title: "Coat".to_owned(),
        advice: "Stir again before use. Weigh the cup with its brush before and after each patch to note what went on it.".to_owned(),
        lines: session.cups.iter().flat_map(coat).collect(),
    });
    stages.retain(|it| !it.lines.is_empty());
    numbered(stages)
}

fn numbered(mut stages: Vec<Stage>) -> Vec<Stage> {
    for (index, it) in stages.iter_mut().enumerate() {
        it.number = index + 1;
    }
    stages
}

/// The surfaces that a cup is for.
#[must_use]
pub fn what_for(cup: &Cup) -> String {
    if cup.patches.is_empty() {
        "only poured from".to_owned()
    } else {
        cup.patches.join(", ")
    }
}

fn dry(cup: &Cup) -> Vec<Line> {
    let adds = cup.adds.iter().filter_map(|it| match it {
        Add::Pigment { pigment, grams } => Some((pigment.to_string(), *grams)),
        _ => None,
    });
    adds.map(|(what, grams)| line(&cup_name(cup.number), &what, grams, &what_for(cup)))
        .collect()
}

fn liquids(cup: &Cup, clear: &str) -> Vec<Line> {
    let note = what_for(cup);
    let adds = cup.adds.iter().filter_map(|it| match it {
        Add::Pigment { .. } => None,
        Add::Cup { from, grams } => Some((format!("from {}", cup_name(*from)), *grams)),
        Add::Coating { grams } => Some((clear.to_owned(), *grams)),
    });
    adds.map(|(what, grams)| line(&cup_name(cup.number), &what, grams, &note))
        .collect()
}

fn coat(cup: &Cup) -> Vec<Line> {
    let lines = cup.patches.iter().map(|it| Line {
        into: it.clone(),
        what: format!("from {}", cup_name(cup.number)),
        grams: None,
        note: cup.recipe.to_string(),
    });
    lines.collect()
}

fn line(into: &str, what: &str, grams: f64, note: &str) -> Line {
    Line {
        into: into.to_owned(),
        what: what.to_owned(),
        grams: Some(grams),
        note: note.to_owned(),
    }
}

/// The stages of a job. Those of a batch are done for each batch.
#[must_use]
pub fn of_job(plan: &JobPlan) -> Vec<Stage> {
    let lines = |weighings: &[Weighing], into: &str| {
        weighings
            .iter()
            .map(|it| line(into, &it.what, it.grams, ""))
            .collect::<Vec<Line>>()
    };
    let mut stages = Vec::new();
    if let Some(tinted) = &plan.tinted {
        stages.push(Stage {
            number: 0,
            title: format!("Beforehand, once for the whole job: {}", tinted.name),
            advice: "Wet the pigment out in a little of the part, then the rest. Close the can; stir again before each batch, as pigment settles.".to_owned(),
            lines: lines(&tinted.weigh, "can"),
        });
    }
    let pot_life =
        plan.pot_life_min
            .zip(plan.batch_minutes)
            .map_or_else(String::new, |(life, work)| {
                format!(" It is used up in about {work:.0} minutes; the pot life is {life}.")
            });
    stages.push(Stage {
        number: 0,
        title: format!(
            "Each batch ({} in all, alike)",
            u64::from(plan.times) * plan.batches as u64
        ),
        advice: format!(
            "Tare before each. Stir as the data sheet says, and again before use.{pot_life}"
        ),
        lines: lines(&plan.batch, "batch"),
    });
    numbered(stages)
}

/// What one batch is for, for people.
#[must_use]
pub fn batch_for(plan: &JobPlan) -> String {
    let coats = plan.surface.coats;
    let of = if plan.times < coats {
        format!("in all {coats} coats")
    } else {
        "of one coat".to_owned()
    };
    format!("{:.2} m² {of}", plan.batch_m2)
}

/// A range of loads that takes a third decimal.
const NEAR: f64 = 0.05;

/// A load as wanted and as weighed, for people.
#[must_use]
pub fn load_text(load: &CupLoad) -> String {
    let rounding = 100.0 * load.rounding();
    let rounding = if rounding.abs() < 0.05 {
        String::new()
    } else {
        format!(" ({}{:.1}\u{a0}%)", sign(rounding), rounding.abs())
    };
    // Where they are that near, two decimals would show no range at all.
    let decimals = if load.high - load.low < NEAR { 3 } else { 2 };
    format!(
        "{} {} → {:.3}{rounding}, {:.decimals$}–{:.decimals$}",
        load.pigment.before_number(),
        load.wanted,
        load.weighed,
        load.low,
        load.high
    )
}

fn sign(value: f64) -> char {
    if value < 0.0 { '−' } else { '+' }
}

/// How loads stand to the tested limits, for people.
#[must_use]
pub fn standing_text(standing: &Standing) -> String {
    let share = standing
        .share
        .map_or_else(String::new, |it| format!("{it:.2}"));
    match standing.verdict {
        Verdict::Clear => String::new(),
        Verdict::Within if standing.mixture == Some(true) => "this mixture cured".to_owned(),
        Verdict::Within => format!("{share} of the tested limit"),
        Verdict::Beyond if standing.mixture == Some(false) => {
            "BEYOND: this mixture, or one about as strong or weaker, did not cure".to_owned()
        }
        Verdict::Beyond if !standing.failed.is_empty() => {
            format!(
                "BEYOND: did not cure at this load: {}",
                standing.failed.join(", ")
            )
        }
        Verdict::Beyond => format!("BEYOND: {share} of the tested limit"),
        Verdict::Untested => {
            let more = if share.is_empty() {
                share
            } else {
                format!("{share} and more; ")
            };
            format!("{more}not tested: {}", standing.untested.join(", "))
        }
    }
}
