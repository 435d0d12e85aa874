//! The shots of a series file: each with its dose, in order, none twice.

use super::Shot;
use super::date::{self, Date};
use super::dose::DoseKind;
use crate::panel::error::{Problem, Problems};
use crate::panel::source::shown;
use crate::panel::table::{Table, Value};
use crate::record::{Dose, significant};
use std::path::{Path, PathBuf};

const KEYS: [&str; 5] = ["hours", "dose", "read", "photos", "notes"];
/// More shots than anyone takes.
const MOST_SHOTS: usize = 1000;
/// Longest exposure that is believed: a century.
const MOST_HOURS: f64 = 876_600.0;
/// Largest radiant exposure that is believed, in the unit of records: a century in the desert is under it.
const MOST_DOSE: f64 = 1e6;
/// The same in the smallest unit.
const MOST_STATED: f64 = 1e12;

/// What the top of the file says of how doses are counted.
#[derive(Debug)]
pub(super) struct Counted {
    /// Whether it says what they count, rightly or not.
    pub states_dose_kind: bool,
    pub dose_kind: Option<DoseKind>,
    pub dates: Dates,
}

/// Hours from dates.
#[derive(Clone, Copy, Debug)]
pub(super) struct Dates {
    pub start: Option<Date>,
    pub hours_a_day: Option<f64>,
}

impl Dates {
    /// Hours up to a day, where they can be counted.
    fn hours(self, read: Date) -> Option<f64> {
        let days = read.days_since(self.start?);
        Some(significant(f64::from(days) * self.hours_a_day?))
    }
}

/// What the file states.
#[derive(Debug, Default)]
pub(super) struct Shots {
    /// By dose.
    pub shots: Vec<Shot>,
    pub counts: Counts,
}

/// What the doses were counted from.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Counts {
    /// Whether hours follow from dates.
    pub hours_from_dates: bool,
}

/// Which way the shots of a file state their dose: one for all.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    Dose,
    Hours,
    Dates,
}

pub(super) fn read(
    top: &Table<'_>,
    elsewhere: &[&str],
    folder: &Path,
    counted: &Counted,
    problems: &mut Problems,
) -> Shots {
    let mut items = top.items("shot", problems);
    if top.get("shot").is_none() {
        problems.add(
            top.wrong("no [[shot]]: a series is of photos at several doses")
                .with_hint("Add [[shot]] tables with `hours` and `photos`."),
        );
    }
    if items.len() > MOST_SHOTS {
        problems.add(items[MOST_SHOTS].wrong(format!(
            "more than the {MOST_SHOTS} shots that a series can have"
        )));
        items.truncate(MOST_SHOTS);
    }
    let tables: Vec<Table<'_>> = items
        .iter()
        .filter_map(|it| problems.keep(it.table("[[shot]]", &KEYS, elsewhere)))
        .collect();
    if tables.is_empty() {
        return Shots::default();
    }
    let way = match problems.keep(way(&tables, counted)) {
        Some(way) => way,
        None => return Shots::default(),
    };
    let mut shots: Vec<Shot> = tables
        .iter()
        .filter_map(|it| problems.keep(shot(it, folder, counted, way)))
        .collect();
    // Exposures may stand in any order.
    let amount = |it: &Shot| it.dose.amount().unwrap_or_default();
    shots.sort_by(|a, b| amount(a).total_cmp(&amount(b)));
    check_order(&shots, problems);
    Shots {
        shots,
        counts: Counts {
            hours_from_dates: way != Way::Hours && counted.dates.hours_a_day.is_some(),
        },
    }
}

/// # Errors
/// If the shots state their doses in more than one way, or in none.
fn way(tables: &[Table<'_>], counted: &Counted) -> Result<Way, Problem> {
    let first = |key: &str| tables.iter().find_map(|it| it.get(key));
    if let (Some(dose), false) = (first("dose"), counted.states_dose_kind) {
        return Err(dose
            .wrong("`dose` without `dose_kind`: nobody knows what it counts")
            .with_hint(super::dose::EXAMPLES));
    }
    let by_day = counted.dates.hours_a_day.is_some();
    if let (Some(hours), true) = (first("hours"), by_day) {
        return Err(hours
            .wrong("`hours` are stated, and follow from `start` and `hours_a_day`, too")
            .with_hint("Keep one of the two."));
    }
    if counted.states_dose_kind {
        return Ok(Way::Dose);
    }
    if first("hours").is_some() {
        return Ok(Way::Hours);
    }
    if by_day {
        return Ok(Way::Dates);
    }
    Err(tables[0]
        .wrong("the [[shot]] tables state no dose")
        .with_hint("State `hours`; or `dose`, with `dose_kind` at the top; or `read`, with `start` and `hours_a_day` at the top."))
}

fn shot(table: &Table<'_>, folder: &Path, counted: &Counted, way: Way) -> Result<Shot, Problem> {
    let read = (table.get("read"))
        .map(|it| date::of_value(&it).and_then(|date| after_start(&it, date, counted)))
        .transpose()?;
    let stated_hours = (table.get("hours"))
        .map(|it| it.number_in(0.0..=MOST_HOURS))
        .transpose()?;
    let hours = stated_hours.or_else(|| read.and_then(|it| counted.dates.hours(it)));
    let dose = match way {
        Way::Dose => radiant(table, hours, counted)?,
        Way::Hours => {
            table.need(
                "hours",
                "the other shots of this file state theirs, and a series has one kind of dose",
            )?;
            Dose::of_hours(hours)
        }
        Way::Dates => {
            table.need(
                "read",
                "the day of its photos, from which its hours are counted",
            )?;
            Dose::of_hours(hours)
        }
    };
    Ok(Shot {
        spot: table.spot(),
        dose: plain_zero(dose),
        read,
        notes: table.get("notes").map(|it| it.text()).transpose()?,
        photos: (table.get("photos")).map_or(Ok(Vec::new()), |it| photos(&it, folder))?,
    })
}

fn after_start(value: &Value<'_>, date: Date, counted: &Counted) -> Result<Date, Problem> {
    match counted.dates.start {
        Some(start) if date < start => Err(value.wrong(format!(
            "`read` is {date}, before the exposure began ({start})"
        ))),
        _ => Ok(date),
    }
}

/// The radiant exposure of a shot, with its hours if they are known.
fn radiant(table: &Table<'_>, hours: Option<f64>, counted: &Counted) -> Result<Dose, Problem> {
    let value = table.need(
        "dose",
        "`dose_kind` says that this file counts radiant exposure, and a series has one kind of dose",
    )?;
    let stated = value.number_in(0.0..=MOST_STATED)?;
    let Some(kind) = &counted.dose_kind else {
        // What is wrong with it was put down.
        return Ok(Dose {
            hours,
            dose: Some(stated),
            dose_kind: None,
        });
    };
    let dose = kind.convert(stated);
    if dose > MOST_DOSE {
        return Err(value.wrong(format!(
            "`dose` is {stated}, which is {dose} {}; the limit is {MOST_DOSE}",
            kind.name
        )));
    }
    let hours = match hours {
        // Without any light nothing is exposed.
        None if dose <= 0.0 => Some(0.0),
        Some(hours) if (hours <= 0.0) != (dose <= 0.0) => {
            return Err(value.wrong(format!(
                "`dose` is {dose} after {hours} hours: either both are 0 or none is"
            )));
        }
        other => other,
    };
    Ok(Dose {
        hours,
        dose: Some(dose),
        dose_kind: Some(kind.name.clone()),
    })
}

/// `-0` is 0.
fn plain_zero(dose: Dose) -> Dose {
    Dose {
        hours: dose.hours.map(|it| it + 0.0),
        dose: dose.dose.map(|it| it + 0.0),
        ..dose
    }
}

fn photos(value: &Value<'_>, folder: &Path) -> Result<Vec<PathBuf>, Problem> {
    let items = if value.is_list() {
        value.list()?
    } else {
        vec![*value]
    };
    if items.is_empty() {
        return Err(value
            .wrong("`photos` is empty")
            .with_hint("Leave it out while the photos are still to be taken."));
    }
    let names = items.iter().map(|it| {
        let name = it.text()?;
        if name.chars().any(char::is_control) {
            return Err(it.wrong(format!("\"{}\" is no name of photos", shown(&name))));
        }
        Ok(beside(folder, &name))
    });
    names.collect()
}

/// A name or pattern of the file, as seen from where the program runs. The folder's own name is never a pattern.
fn beside(folder: &Path, name: &str) -> PathBuf {
    let plain = folder.join(name);
    let is_pattern = name.contains(['*', '?', '[']) && !plain.exists();
    match folder.to_str() {
        Some(folder) if is_pattern => Path::new(&glob::Pattern::escape(folder)).join(name),
        _ => plain,
    }
}

/// What contradicts the order of the doses, which the shots are in.
fn check_order(shots: &[Shot], problems: &mut Problems) {
    let name = |it: &Shot| {
        format!(
            "the shot of {} (line {})",
            it.dose,
            it.spot.line.unwrap_or(0)
        )
    };
    for pair in shots.windows(2) {
        let [one, other] = pair else { continue };
        let same = one.dose.amount().map(f64::to_bits) == other.dose.amount().map(f64::to_bits);
        if same {
            let (first, second) = if one.spot.line <= other.spot.line {
                (one, other)
            } else {
                (other, one)
            };
            let message = format!(
                "{} is there twice, first in line {}",
                second.dose,
                first.spot.line.unwrap_or(0)
            );
            problems.add(
                Problem::new(second.spot.clone(), message).with_hint(
                    "One dose is one exposure: put the photos of both into one [[shot]].",
                ),
            );
            continue;
        }
        if let (Some(less), Some(more)) = (one.dose.hours, other.dose.hours)
            && more < less
        {
            let message = format!("{more} hours after {}, which had {less}", name(one));
            problems.add(
                Problem::new(other.spot.clone(), message).with_hint(
                    "The dose can't grow while the hours go back: put one of them right.",
                ),
            );
        }
    }
    // Against the latest day so far: shots between may state none.
    let mut latest: Option<(&Shot, Date)> = None;
    for shot in shots {
        let Some(read) = shot.read else { continue };
        if let Some((before, date)) = latest
            && read < date
        {
            let message = format!(
                "{} was read on {read}, before {} on {date}, which had less",
                shot.dose,
                name(before)
            );
            problems.add(
                Problem::new(shot.spot.clone(), message)
                    .with_hint("A dose only grows: put the dates or the doses right."),
            );
        }
        if latest.is_none_or(|it| it.1 < read) {
            latest = Some((shot, read));
        }
    }
}
