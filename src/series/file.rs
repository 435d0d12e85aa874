//! A series file from top to bottom.

use super::conditions;
use super::date;
use super::dose::{DoseKind, EXAMPLES};
use super::shots::{self, Counted, Dates, Shots};
use super::{Series, SeriesError, slips};
use crate::panel::error::{Problem, Problems};
use crate::panel::source::{Source, shown, words};
use crate::panel::table::{Table, Value};
use crate::panel::{self, Panel};
use crate::record::{ExposureKind, Fact, HOURS};
use std::path::Path;

/// Keys at the top of a file, beside those of [`conditions`].
const TOP: [&str; 7] = [
    "panel",
    "kind",
    "dose_kind",
    "start",
    "hours_a_day",
    "witness",
    "shot",
];
/// Words of `kind`.
const KINDS: [(&str, ExposureKind); 2] = [("sun", ExposureKind::Sun), ("lamp", ExposureKind::Lamp)];

pub(super) fn read(path: &Path) -> Result<Series, SeriesError> {
    let source = Source::read(path)?;
    let document = source.parse()?;
    let plain: Vec<&str> = TOP[..6].iter().copied().chain(conditions::keys()).collect();
    let known: Vec<&str> = plain.iter().copied().chain(["shot"]).collect();
    let top = Table::new(&source, "the series", 0..0, document.get_ref(), &known, &[])?;
    let folder = path.parent().unwrap_or(Path::new(""));

    let mut problems = Problems::default();
    let panel = read_panel(&top, folder, &mut problems);
    let kind = problems.keep(
        top.need("kind", "\"sun\", or \"lamp\" with its `cycle`")
            .and_then(|it| it.one_of(&KINDS)),
    );
    let mut conditions = conditions::read(&top, kind, &mut problems);
    let witness = read_witness(&top, panel.as_ref(), &mut problems);
    let counted = read_counted(&top, &mut problems);
    let shots = shots::read(&top, &plain, folder, &counted, &mut problems);
    if let Some(panel) = &panel
        && panel.patches.iter().all(|it| it.masked.is_none())
    {
        problems.add(no_mask(&top, panel));
    }
    let (Some(panel), Some(kind)) = (panel, kind) else {
        return Err(all(problems));
    };
    let Shots { shots, counts } = shots;
    let warnings = slips::warnings(&top, kind, &counted, &shots);
    conditions.extend(facts_of(&counted, counts));
    let series = Series {
        path: path.to_owned(),
        panel,
        kind,
        dose_kind: counted
            .dose_kind
            .map_or_else(|| HOURS.to_owned(), |it| it.name),
        conditions,
        witness,
        shots,
        warnings,
    };
    let problems = problems.into_list();
    if problems.is_empty() {
        Ok(series)
    } else {
        Err(SeriesError { problems })
    }
}

fn all(problems: Problems) -> SeriesError {
    SeriesError {
        problems: problems.into_list(),
    }
}

fn read_panel(top: &Table<'_>, folder: &Path, problems: &mut Problems) -> Option<Panel> {
    let value = top.need("panel", "the file of the board, relative to this file");
    let value = problems.keep(value)?;
    let name = problems.keep(value.text())?;
    let path = folder.join(name);
    if !path.exists() {
        let message = format!("there is no file {}", path.display());
        problems.add(
            value
                .wrong(message)
                .with_hint("The path is relative to the series file."),
        );
        return None;
    }
    panel::read(&path).map_err(|it| problems.add_all(it)).ok()
}

fn no_mask(top: &Table<'_>, panel: &Panel) -> Problem {
    let message = format!(
        "no patch of the panel {} has a masked half, so no change can be told from the scale",
        panel.id
    );
    let problem = top
        .get("panel")
        .map_or_else(|| top.wrong(&*message), |it| it.wrong(&*message));
    problem.with_hint(
        "Say in the panel file which half lies under the mask, as `masked = \"left\"` in [grid].",
    )
}

/// Patches that stay indoors: each must be one of the panel's.
fn read_witness(top: &Table<'_>, panel: Option<&Panel>, problems: &mut Problems) -> Vec<String> {
    let items = top.get("witness").map(|it| it.list());
    let items = items.and_then(|it| problems.keep(it)).unwrap_or_default();
    let mut all: Vec<String> = Vec::new();
    for item in items {
        let id = item.identifier().and_then(|id| {
            check_witness(&item, &id, &all, panel)?;
            Ok(id)
        });
        all.extend(problems.keep(id));
    }
    all
}

fn check_witness(
    item: &Value<'_>,
    id: &str,
    before: &[String],
    panel: Option<&Panel>,
) -> Result<(), Problem> {
    if before.iter().any(|it| it == id) {
        return Err(item.wrong(format!("the witness {id} is named twice")));
    }
    let Some(panel) = panel else { return Ok(()) };
    let Some(patch) = panel.patch(id) else {
        let beside = panel.patches.iter().filter(|it| it.cell.is_none());
        let beside: Vec<&str> = beside.map(|it| it.id.as_str()).collect();
        let there = if beside.is_empty() {
            "the panel has none off its grid".to_owned()
        } else {
            format!("off its grid the panel has {}", words(&beside))
        };
        return Err(item
            .wrong(format!(
                "the witness {} is no patch of the panel {}",
                shown(id),
                panel.id
            ))
            .with_hint(format!(
                "A witness is a patch of the panel file that stays indoors and is laid beside the board; {there}."
            )));
    };
    if patch.empty {
        return Err(item.wrong(format!("the witness {id} is an empty patch")));
    }
    Ok(())
}

/// What the top of the file says of how doses are counted.
fn read_counted(top: &Table<'_>, problems: &mut Problems) -> Counted {
    let dose_kind = top.get("dose_kind").and_then(|value| {
        let kind = value.text().and_then(|text| {
            if text.trim().eq_ignore_ascii_case(HOURS) {
                return Err(value
                    .wrong("hours are no radiant exposure")
                    .with_hint("Leave `dose_kind` out and state `hours` in each [[shot]]."));
            }
            DoseKind::parse(&text)
                .map_err(|it| value.wrong(format!("`dose_kind` {it}")).with_hint(EXAMPLES))
        });
        problems.keep(kind)
    });
    let start = (top.get("start")).and_then(|it| problems.keep(date::of_value(&it)));
    let hours_a_day = top
        .get("hours_a_day")
        .and_then(|it| problems.keep(it.positive(24.0)));
    if let (Some(value), None) = (top.get("hours_a_day"), top.get("start")) {
        problems.add(
            value
                .wrong("`hours_a_day` counts from a day that is not stated")
                .with_hint(
                    "Add `start`, the day on which the exposure began, and `read` to each [[shot]].",
                ),
        );
    }
    Counted {
        states_dose_kind: top.get("dose_kind").is_some(),
        dose_kind,
        dates: Dates { start, hours_a_day },
    }
}

/// How the doses came about, for the report.
fn facts_of(counted: &Counted, counts: shots::Counts) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut fact = |name: &str, value: String| {
        facts.push(Fact {
            name: name.to_owned(),
            value,
        });
    };
    if let Some(kind) = &counted.dose_kind
        && kind.stated != kind.name
    {
        fact("dose stated in", kind.stated.clone());
    }
    if let Some(start) = counted.dates.start {
        fact("start", start.to_string());
    }
    if let Some(hours) = counted.dates.hours_a_day
        && counts.hours_from_dates
    {
        fact("hours", format!("counted as {hours} a day from the start"));
    }
    facts
}
