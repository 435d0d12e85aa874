//! Facts of patches from a spreadsheet's CSV.

use super::error::{PanelError, Problem, Problems, Spot};
use super::facts::{At, CONTROLS, Facts, check_pigments, not_a_cell};
use super::source::{Source, nearest, shown, words};
use super::table::check_identifier;
use super::{KnownColour, PigmentLoad, known, position};

/// Every column that may be there.
pub(super) const COLUMNS: [&str; 15] = [
    "at", "id", "name", "lot", "pigment1", "load1", "pigment2", "load2", "pigment3", "load3", "L",
    "a", "b", "control", "empty",
];

/// Words for a cell of the column `empty`.
const FLAGS: [(&str, bool); 7] = [
    ("true", true),
    ("yes", true),
    ("x", true),
    ("1", true),
    ("false", false),
    ("no", false),
    ("0", false),
];

/// The facts of every row.
///
/// # Errors
/// Everything that is wrong, each with its line.
pub(super) fn read(source: &Source) -> Result<Vec<Facts>, PanelError> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(&source.text))
        .has_headers(false)
        .flexible(true)
        .from_reader(source.text.as_bytes());
    let mut records = reader.records();
    let mut problems = Problems::default();
    let Some(header) = records.next() else {
        return Err(Problem::new(
            source.whole(),
            "empty; the first line must name the columns",
        )
        .into());
    };
    let header = header.map_err(|it| unreadable(source, &it))?;
    let columns = columns(&header, &spot(source, &header))?;
    let mut facts = Vec::new();
    for record in records {
        let record = record.map_err(|it| unreadable(source, &it))?;
        if record.iter().all(|it| it.trim().is_empty()) {
            continue;
        }
        let row = Row {
            spot: spot(source, &record),
            columns: &columns,
            record: &record,
        };
        facts.extend(problems.keep(row.facts()));
    }
    problems.check()?;
    Ok(facts)
}

/// The character between cells: whichever of `;`, tab and `,` the header holds, in this order.
fn delimiter(text: &str) -> u8 {
    let header = text.lines().find(|it| !it.trim().is_empty()).unwrap_or("");
    [b';', b'\t']
        .into_iter()
        .find(|it| header.contains(char::from(*it)))
        .unwrap_or(b',')
}

fn unreadable(source: &Source, error: &csv::Error) -> Problem {
    let line = error
        .position()
        .and_then(|it| usize::try_from(it.line()).ok());
    let spot = Spot {
        line,
        ..source.whole()
    };
    Problem::new(spot, format!("not readable as CSV: {error}"))
}

/// Where a record starts. Its position is before the blank lines that were skipped.
fn spot(source: &Source, record: &csv::StringRecord) -> Spot {
    let line = record.position().and_then(|it| {
        let start = usize::try_from(it.byte()).ok()?;
        let rest = source.text.as_bytes().get(start..)?.iter();
        let skipped = rest.take_while(|it| matches!(it, b'\r' | b'\n'));
        let blank = skipped.filter(|it| **it == b'\n').count();
        Some(usize::try_from(it.line()).ok()? + blank)
    });
    Spot {
        line,
        ..source.whole()
    }
}

/// The names of the columns, each known and there once.
fn columns(header: &csv::StringRecord, spot: &Spot) -> Result<Vec<String>, Problem> {
    let names: Vec<String> = header.iter().map(|it| it.trim().to_owned()).collect();
    for (i, name) in names.iter().enumerate() {
        if !COLUMNS.contains(&name.as_str()) {
            let mut message = format!("unknown column `{}`", shown(name));
            if let Some(near) = nearest(name, &COLUMNS) {
                message += &format!("; did you mean `{near}`?");
            }
            return Err(Problem::new(spot.clone(), message).with_hint(format!(
                "Known: {}. Anything else goes into a [[patch]] of the panel file, which adds to its row here.",
                words(&COLUMNS)
            )));
        }
        if names[..i].contains(name) {
            let message = format!("the column `{name}` is there twice");
            return Err(Problem::new(spot.clone(), message));
        }
    }
    if !names.iter().any(|it| it == "at") {
        let message = "the column `at` is missing: it names the position of each patch, as A1";
        return Err(Problem::new(spot.clone(), message));
    }
    Ok(names)
}

/// One row below the header.
struct Row<'a> {
    spot: Spot,
    columns: &'a [String],
    record: &'a csv::StringRecord,
}

impl Row<'_> {
    fn wrong(&self, message: impl Into<String>) -> Problem {
        Problem::new(self.spot.clone(), message)
    }

    /// What stands in a column; none if it is blank.
    fn cell(&self, column: &str) -> Option<&str> {
        let index = self.columns.iter().position(|it| it == column)?;
        let text = self.record.get(index)?.trim();
        (!text.is_empty()).then_some(text)
    }

    fn text(&self, column: &str) -> Result<Option<String>, Problem> {
        let Some(text) = self.cell(column) else {
            return Ok(None);
        };
        if text
            .chars()
            .any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
        {
            return Err(self.wrong(format!("`{column}` has control characters")));
        }
        Ok(Some(text.to_owned()))
    }

    /// A number with a decimal point or comma.
    fn number(&self, column: &str) -> Result<Option<f64>, Problem> {
        let Some(text) = self.cell(column) else {
            return Ok(None);
        };
        let plain = if text.contains('.') {
            text.to_owned()
        } else {
            text.replacen(',', ".", 1)
        };
        match plain.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(Some(number)),
            _ => Err(self.wrong(format!(
                "`{column}` is \"{}\"; it must be a number, as 12.5 or 12,5",
                shown(text)
            ))),
        }
    }

    fn facts(&self) -> Result<Facts, Problem> {
        if self.record.len() != self.columns.len() {
            return Err(self
                .wrong(format!(
                    "{} cells, but the first line names {} columns",
                    self.record.len(),
                    self.columns.len()
                ))
                .with_hint("Between commas, a decimal comma needs quotes: \"12,5\"."));
        }
        let at = self.cell("at").ok_or_else(|| self.wrong("`at` is empty"))?;
        let (row, column) = position::parse(at).ok_or_else(|| self.wrong(not_a_cell(at)))?;
        let id = self.cell("id").map(str::to_owned);
        if let Some(id) = &id {
            check_identifier(id).map_err(|it| self.wrong(format!("`id` {it}")))?;
        }
        Ok(Facts {
            id,
            name: self.text("name")?,
            lot: self.text("lot")?,
            pigments: self.pigments()?,
            known: self.known()?,
            control: self.choice("control", &CONTROLS)?,
            empty: self.choice("empty", &FLAGS)?,
            ..Facts::new(self.spot.clone(), At::Cell(row, column))
        })
    }

    fn pigments(&self) -> Result<Option<Vec<PigmentLoad>>, Problem> {
        let mut all = Vec::new();
        for n in 1..=3 {
            let (name, load) = (format!("pigment{n}"), format!("load{n}"));
            match (self.text(&name)?, self.number(&load)?) {
                (None, None) => {}
                (None, Some(_)) => return Err(self.wrong(format!("`{load}` without `{name}`"))),
                (Some(_), None) => return Err(self.wrong(format!("`{name}` without `{load}`"))),
                (Some(pigment), Some(load)) if load > 0.0 => {
                    all.push(PigmentLoad { pigment, load })
                }
                (Some(_), Some(value)) => {
                    return Err(self.wrong(format!("`{load}` is {value}; it must be above 0")));
                }
            }
        }
        check_pigments(&all).map_err(|it| self.wrong(it))?;
        Ok((!all.is_empty()).then_some(all))
    }

    fn known(&self) -> Result<Option<KnownColour>, Problem> {
        match (self.number("L")?, self.number("a")?, self.number("b")?) {
            (None, None, None) => Ok(None),
            (Some(l), Some(a), Some(b)) => {
                let lab = known::check_lab([l, a, b]).map_err(|it| self.wrong(it))?;
                Ok(Some(KnownColour {
                    lab,
                    u95: None,
                    reflectance: None,
                }))
            }
            _ => Err(self.wrong("a known colour needs all of `L`, `a` and `b`")),
        }
    }

    fn choice<T: Copy>(&self, column: &str, choices: &[(&str, T)]) -> Result<Option<T>, Problem> {
        let Some(text) = self.cell(column) else {
            return Ok(None);
        };
        let word = text.to_lowercase();
        match choices.iter().find(|(name, _)| *name == word) {
            Some((_, it)) => Ok(Some(*it)),
            None => {
                let known: Vec<&str> = choices.iter().map(|it| it.0).collect();
                let message = format!("`{column}` can't be \"{}\"", shown(text));
                Err(self
                    .wrong(message)
                    .with_hint(format!("Known: {}.", words(&known))))
            }
        }
    }
}
