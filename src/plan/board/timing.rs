//! What the pot life does to a panel's mixings, in words.

use crate::plan::{Round, Session, Settings};

/// What to know of the mixings' time.
pub(super) fn notes(rounds: &[Round], settings: &Settings) -> Vec<String> {
    let mut notes: Vec<String> = rounds.iter().filter_map(|it| split(it, settings)).collect();
    for session in rounds.iter().flat_map(|it| &it.sessions) {
        notes.extend(of_session(session, settings));
    }
    // Coats that are alike say the same.
    let mut once: Vec<String> = Vec::new();
    for it in notes {
        if !once.contains(&it) {
            once.push(it);
        }
    }
    once
}

/// Why a round is mixed several times.
fn split(round: &Round, settings: &Settings) -> Option<String> {
    let sessions = &round.sessions;
    let pot_life = sessions.first()?.pot_life_min?;
    if sessions.len() < 2 {
        return None;
    }
    let cups: usize = sessions.iter().map(|it| it.cups.len()).sum();
    let poured = sessions
        .iter()
        .flat_map(|it| &it.cups)
        .filter(|it| it.patches.is_empty())
        .count();
    let poured = match poured {
        0 => String::new(),
        it => format!(" ({it} only to pour from)"),
    };
    let minutes: f64 = sessions.iter().map(|it| it.minutes).sum();
    Some(format!(
        "{}: {cups} cups{poured} at {} minutes each take {minutes:.0} minutes, and of the pot life of {pot_life} minutes {:.0} are worked in: {} mixings, one after the other.",
        round.name(),
        settings.minutes_per_cup,
        pot_life * settings.worked_share,
        sessions.len()
    ))
}

fn of_session(session: &Session, settings: &Settings) -> Vec<String> {
    let mut notes = Vec::new();
    if session.parts.len() > 1 && session.pot_life_min.is_none() {
        notes.push(format!(
            "The pot life of {} is not known: check that one mixing can be used up in {:.0} minutes.",
            session.coating, session.minutes
        ));
    }
    let Some(pot_life) = session.pot_life_min else {
        return notes;
    };
    let worked = pot_life * settings.worked_share;
    if session.minutes > worked * (1.0 + 1e-9) {
        notes.push(format!(
            "One cup of {} takes {:.0} minutes, longer than the {worked:.0} minutes that are worked in of its pot life of {pot_life} minutes.",
            session.coating, session.minutes
        ));
    }
    if !session.no_time_for.is_empty() {
        notes.push(format!(
            "A cup only to pour from would waste less, but the pot life of {} leaves no time for it: {}.",
            session.coating,
            session.no_time_for.join(", ")
        ));
    }
    notes
}
