//! Every cup of a mixing takes its time, also those that are only poured from.

use crate::planned::{coating, mix, settings, surface};
use masstone::panel;
use masstone::plan::board::{FadeOrder, Order, PanelPlan, plan};
use masstone::plan::{Coating, Limits, Session, Settings};
use std::fmt::Write as _;
use std::path::Path;

const PALE: [&str; 5] = ["PBk11", "PR101", "PY42", "PB29", "PG17"];

fn with_pot_life(minutes: f64) -> Coating {
    let mut coating = coating();
    coating.pot_life_min = Some(minutes);
    coating.coat_g_per_m2 = Some(200.0);
    coating
}

/// So many patches of 5 g, each of another pigment at a load that takes a cup to pour from: 0.04 g can't be weighed, and dry it
/// would be 25 g.
fn pale(count: usize, coating: &Coating, settings: &Settings) -> Vec<Session> {
    let surfaces: Vec<_> = PALE[..count]
        .iter()
        .map(|it| surface(it, &mix(&[(it, 0.8)]), 0.025, 200.0))
        .collect();
    let rounds = masstone::plan::sessions(
        &surfaces,
        std::slice::from_ref(coating),
        &Limits::default(),
        settings,
    );
    rounds.unwrap().remove(0).sessions
}

fn cups(sessions: &[Session]) -> Vec<(usize, usize)> {
    let stocks = |it: &Session| it.cups.iter().filter(|it| it.patches.is_empty()).count();
    sessions
        .iter()
        .map(|it| (it.cups.len(), stocks(it)))
        .collect()
}

#[test]
fn cups_to_pour_from_are_counted_and_the_mixing_is_split() {
    let settings = settings(0.0, 5.0);
    // Without a pot life: five cups, and five to pour from.
    let mut keeps = with_pot_life(1.0);
    keeps.pot_life_min = None;
    assert_eq!(cups(&pale(5, &keeps, &settings)), [(10, 5)]);
    // 32 minutes, of which three quarters are worked in, are 24: six cups of 4 minutes. Ten are two mixings.
    let two = pale(5, &with_pot_life(32.0), &settings);
    assert_eq!(cups(&two), [(6, 3), (4, 2)]);
    for it in &two {
        assert!(it.minutes <= 24.0 && it.no_time_for.is_empty(), "{it:#?}");
    }
    // 60 minutes are 45: eleven cups.
    assert_eq!(cups(&pale(5, &with_pot_life(60.0), &settings)), [(10, 5)]);
}

#[test]
fn where_there_is_no_time_for_a_cup_to_pour_from_that_is_said() {
    let settings = settings(0.0, 5.0);
    // 6 minutes, of which 4.5 are worked in: one cup at a time, and each is made dry, larger than needed.
    let sessions = pale(2, &with_pot_life(6.0), &settings);
    assert_eq!(cups(&sessions), [(1, 0), (1, 0)]);
    for (session, pigment) in sessions.iter().zip(PALE) {
        assert_eq!(session.no_time_for, [pigment]);
        assert!(session.cups[0].wet_g >= 25.0);
    }
}

pub(crate) fn panel_of(count: usize, pot_life: f64) -> PanelPlan {
    let mut text = format!(
        "id = \"board\"\ncoating = \"clear\"\ncoats = 1\n[grid]\nrows = 1\ncolumns = {count}\npatch_mm = [100, 250]\npitch_mm = [110, 250]\n\
         [[card]]\ncard = \"grey-18\"\nplace = \"right\"\n"
    );
    for (index, it) in PALE[..count].iter().enumerate() {
        let at = index + 1;
        let _ = write!(
            text,
            "[[patch]]\nat = \"A{at}\"\npigments = [{{ pigment = \"{it}\", load = 0.8 }}]\n"
        );
    }
    let panel = panel::read_text(&text, Path::new("board.toml")).unwrap();
    plan(&Order {
        panel: &panel,
        coatings: &[with_pot_life(pot_life)],
        pigments: &[],
        limits: &Limits::default(),
        settings: &settings(0.0, 5.0),
        currency: None,
        fade: &FadeOrder::default(),
        taken: &[],
    })
    .unwrap()
}

#[test]
fn the_plan_says_why_it_is_split_and_what_there_is_no_time_for() {
    let plan = panel_of(5, 32.0);
    let says = |plan: &PanelPlan, what: &str| {
        assert!(
            plan.notes.iter().any(|it| it.contains(what)),
            "{what:?} is missing in {:#?}",
            plan.notes
        );
    };
    says(
        &plan,
        "Coat 1: 10 cups (5 only to pour from) at 4 minutes each take 40 minutes, and of the pot life of 32 minutes 24 are worked in: 2 mixings",
    );
    says(&panel_of(2, 6.0), "leaves no time for it: PBk11.");
    // Nothing is said where there is nothing to say.
    let plan = panel_of(5, 60.0);
    assert!(
        !plan.notes.iter().any(|it| it.contains("pot life")),
        "{:#?}",
        plan.notes
    );
    // Not even one cup is used up in time.
    says(
        &panel_of(1, 4.0),
        "longer than the 3 minutes that are worked in",
    );
}
