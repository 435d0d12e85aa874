//! The report as tables for people.

use super::super::columns::{Columns, Stand, one_line};
use super::super::table::Terminal;
use masstone::colour::Lab;
use masstone::fade::Report;
use masstone::fade::kinetics::Course;
use masstone::fade::report::{Board, Change, FadeFlag};
use masstone::fade::wording;
use std::io::{self, Write};

/// The threshold that is shown, ΔE00: what most people see.
const THRESHOLD: f64 = 2.0;

/// Writes a table for each board, then one of swatches over their specimens. `all` exposures, or the last of each.
pub(super) fn write(
    report: &Report,
    all: bool,
    terminal: Terminal,
    out: &mut dyn Write,
) -> io::Result<()> {
    for (number, board) in report.boards.iter().enumerate() {
        if number > 0 {
            writeln!(out)?;
        }
        of_board(board, all, terminal, out)?;
    }
    if !report.swatches.is_empty() {
        writeln!(out, "\nswatches over all of their specimens")?;
        let mut table = columns("swatch", Stand::Gives);
        for it in &report.swatches {
            let head = [it.swatch.clone(), format!("in {}", it.dose_kind)];
            rows(
                &mut table,
                None,
                &head,
                &it.changes,
                it.course.as_ref(),
                all,
            );
        }
        table.write(terminal, out)?;
    }
    footer(report, out)
}

fn of_board(board: &Board, all: bool, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let doses: Vec<String> = board
        .exposures
        .iter()
        .map(|it| it.dose.to_string())
        .collect();
    writeln!(
        out,
        "panel {}, exposures {} in {}",
        one_line(&board.panel),
        doses.join(", "),
        one_line(&board.dose_kind)
    )?;
    let mut table = columns("patch", Stand::Left);
    for it in &board.patches {
        let start = it.start.map(|[l, a, b]| Lab::new(l, a, b));
        let head = [
            it.patch.clone(),
            it.name.clone().unwrap_or_else(|| it.made_of.clone()),
        ];
        rows(
            &mut table,
            start,
            &head,
            &it.changes,
            it.course.as_ref(),
            all,
        );
    }
    table.write(terminal, out)?;
    for it in &board.notes {
        writeln!(out, "note: {}", one_line(it))?;
    }
    flags(board, out)
}

/// What the flags in the table mean.
fn flags(board: &Board, out: &mut dyn Write) -> io::Result<()> {
    let changes = board.patches.iter().flat_map(|it| &it.changes);
    let mut all: Vec<FadeFlag> = changes.flat_map(|it| it.flags.clone()).collect();
    all.sort_unstable();
    all.dedup();
    for it in all {
        writeln!(out, "{}: {}", it.name(), wording::flag(it))?;
    }
    Ok(())
}

fn columns(what: &'static str, stand: Stand) -> Columns {
    Columns::new(&[
        (what, stand),
        ("name", Stand::Gives),
        ("dose", Stand::Right),
        ("ΔE00", Stand::Right),
        ("U95", Stand::Right),
        ("noise", Stand::Right),
        ("told", Stand::Left),
        ("in words", Stand::Left),
        ("grade", Stand::Left),
        ("band", Stand::Left),
        ("to ΔE00 2", Stand::Left),
        ("flags", Stand::Gives),
    ])
}

fn rows(
    table: &mut Columns,
    colour: Option<Lab>,
    head: &[String; 2],
    changes: &[Change],
    course: Option<&Course>,
    all: bool,
) {
    let first = if all {
        0
    } else {
        changes.len().saturating_sub(1)
    };
    for (index, it) in changes.iter().enumerate().skip(first) {
        let last = index + 1 == changes.len();
        table.row(colour, row(head, it, course.filter(|_| last)));
    }
    if changes.is_empty() {
        let mut cells = vec![String::new(); 12];
        cells[..2].clone_from_slice(head);
        "could not be measured".clone_into(&mut cells[7]);
        table.row(colour, cells);
    }
}

fn row(head: &[String; 2], it: &Change, course: Option<&Course>) -> Vec<String> {
    let threshold = course.and_then(|course| {
        let mut all = course.thresholds.iter();
        let it = all.find(|it| (it.de_00 - THRESHOLD).abs() < 1e-9)?;
        Some(wording::threshold_in_short(it, course))
    });
    let flags: Vec<&str> = it.flags.iter().map(|it| it.name()).collect();
    vec![
        head[0].clone(),
        head[1].clone(),
        it.dose.to_string(),
        format!("{:.2}", it.de_00),
        format!("{:.2}", it.u95_de_00),
        format!("{:.2}", it.detection_limit),
        if it.significant { "yes" } else { "no" }.to_owned(),
        wording::direction(it),
        it.grade.clone(),
        it.band.clone(),
        threshold.unwrap_or_default(),
        flags.join(" "),
    ]
}

/// How to read it, and where it ends.
fn footer(report: &Report, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\nΔE00: the exposed half against the masked one since the first photos. noise: noise alone stays below this in 95 % of cases; \
         told: whether the change is told from none."
    )?;
    writeln!(
        out,
        "grade: grey scale for change in colour, 5 to 1 (ISO 105-A05, ASTM E3040). band: ΔE*ab between the limits of ASTM D4303, \
         a band and no rating. Weights for strong colours and the band's limits are as commonly quoted, not checked against the standards."
    )?;
    let courses = || {
        let patches = report.boards.iter().flat_map(|it| &it.patches);
        patches.filter_map(|it| it.course.as_ref())
    };
    let mut limits: Vec<String> = courses()
        .map(|it| match one_line(&it.limit_reason) {
            reason if reason.is_empty() => {
                format!("Nothing is said beyond {}.", wording::about(it.limit_dose))
            }
            reason => reason,
        })
        .collect();
    limits.sort_unstable();
    limits.dedup();
    for it in &limits {
        writeln!(out, "to ΔE00 2: {it}")?;
    }
    if courses().any(|it| it.range_over_models) {
        writeln!(
            out,
            "to ΔE00 2: with fewer than six exposures the interval is the range over all models"
        )?;
    }
    for it in &report.notes {
        writeln!(out, "note: {}", one_line(it))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;
    use crate::cli::table::Colour;
    use unicode_width::UnicodeWidthStr as _;

    fn written(report: &Report, all: bool, width: usize) -> String {
        let terminal = Terminal {
            width,
            colour: Colour::None,
        };
        let mut out = Vec::new();
        write(report, all, terminal, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    /// The cells of the line that begins with a patch's id.
    fn line<'a>(text: &'a str, patch: &str) -> &'a str {
        let mut lines = text.lines();
        lines
            .find(|it| it.split_whitespace().next() == Some(patch))
            .unwrap()
    }

    #[test]
    fn each_patch_shows_its_last_exposure_and_with_all_every_one() {
        let report = example::report();
        let text = written(&report, false, 400);
        for patch in &report.boards[0].patches {
            let line = line(&text, &patch.patch);
            let Some(last) = patch.changes.last() else {
                assert!(line.contains("could not be measured"), "{line}");
                continue;
            };
            for cell in [
                last.dose.to_string(),
                format!("{:.2}", last.de_00),
                format!("{:.2}", last.u95_de_00),
                last.words.join(", "),
                last.grade.clone(),
            ] {
                assert!(line.contains(&cell), "{cell} in {line}");
            }
            assert_eq!(line.contains(" yes "), last.significant, "{line}");
        }
        let black = line(&text, "PBk11-6");
        assert!(
            black.contains("not by 2250") || black.contains("not before"),
            "{black}"
        );
        assert!(text.contains("masked-moved: The masked half changed by itself"));
        assert!(text.contains("note: PB29-8: its masked half moved"));
        let all = written(&report, true, 400);
        let lines = |text: &str| text.lines().filter(|it| it.starts_with("PY74-4 ")).count();
        assert_eq!((lines(&text), lines(&all)), (1, 6));
    }

    #[test]
    fn names_cannot_break_the_table_or_the_terminal() {
        let mut report = example::report();
        report.boards[0].patches[0].name = Some("two\nlines\u{1b}[31m".to_owned());
        report.boards[0].panel = "a\u{7}b\nc".to_owned();
        for width in [40, 80, 132] {
            let text = written(&report, true, width);
            assert!(!text.contains(['\u{1b}', '\u{7}']), "{width}");
            // The tables; what is written below them wraps by itself.
            let rows = text.lines().filter(|it| it.contains("PY74-4"));
            assert!(rows.map(|it| it.width()).all(|it| it <= width), "{width}");
        }
    }
}
