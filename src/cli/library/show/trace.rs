//! Where a swatch's colours come from, and what was otherwise before.

use super::super::super::columns::{Columns, Stand, one_line};
use super::super::super::table::Terminal;
use masstone::library::past::Past;
use masstone::library::photos::Source;
use std::io::{self, Write};

/// Digits of a SHA-256 that tell photos apart; `library amend --photo` takes them.
const DIGITS: usize = 8;

pub(super) fn photos(all: &[Source], terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    if all.is_empty() {
        return Ok(());
    }
    let mut table = Columns::new(&[
        ("photo", Stand::Gives),
        ("taken", Stand::Left),
        ("SHA-256", Stand::Left),
        ("hours", Stand::Right),
        ("correction", Stand::Gives),
        ("added", Stand::Spare),
        ("", Stand::Gives),
    ]);
    for it in all {
        table.row(
            None,
            vec![
                it.file_name().to_owned(),
                it.taken.as_deref().map(minute).unwrap_or_default(),
                short(&it.sha256),
                it.hours.map_or("?".to_owned(), |it| it.to_string()),
                it.correction.clone(),
                minute(&it.added),
                standing(it),
            ],
        );
    }
    writeln!(out)?;
    table.write(terminal, out)
}

/// What keeps a photo from counting.
fn standing(it: &Source) -> String {
    let (counts, coloured) = (
        it.readings.iter().any(|it| it.counts),
        it.readings.iter().any(|it| it.lab.is_some()),
    );
    let copy = it
        .copy_of
        .as_deref()
        .map(|of| format!("copy of {}", short(of)));
    match (counts, coloured) {
        (true, _) => copy.unwrap_or_default(),
        (false, true) => copy.unwrap_or_else(|| "superseded".to_owned()),
        (false, false) => "not measurable".to_owned(),
    }
}

pub(super) fn history(all: &[Past], out: &mut dyn Write) -> io::Result<()> {
    if all.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nhistory")?;
    for it in all {
        let why = it.why.as_ref().map(|it| format!(" ({it})"));
        let head = format!("{}  {}{}", minute(&it.date), it.of, why.unwrap_or_default());
        writeln!(out, "{}", one_line(&head))?;
        for change in &it.changes {
            let line = format!("  {}: {} → {}", change.what, change.old, change.new);
            writeln!(out, "{}", one_line(&line))?;
        }
    }
    Ok(())
}

fn short(sha256: &str) -> String {
    let end = DIGITS.min(sha256.len());
    sha256.get(..end).unwrap_or(sha256).to_owned()
}

/// `2026-03-01T10:00:07+01:00`, or `2026:03:01 10:00:07` as cameras write it, to the minute.
fn minute(time: &str) -> String {
    let end = time.char_indices().nth(16).map_or(time.len(), |it| it.0);
    let text = time[..end].replacen('T', " ", 1);
    match text.split_once(' ') {
        Some((day, rest)) => format!("{} {rest}", day.replace(':', "-")),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_told_to_the_minute() {
        for time in [
            "2026-03-01T10:00:07+01:00",
            "2026:03:01 10:00:07",
            "2026-03-01T10:00:07Z",
        ] {
            assert_eq!(minute(time), "2026-03-01 10:00");
        }
        assert_eq!(minute("long ago"), "long ago");
        assert_eq!(minute("ä"), "ä");
    }
}
