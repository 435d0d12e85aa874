//! What a file says of one patch, before it has its place in the panel.

use super::error::{Problem, Spot};
use super::position;
use super::source::shown;
use super::table::{Table, Value};
use super::{Control, KnownColour, PigmentLoad, Side, known};
use crate::geometry::Rect;

/// What one `[[patch]]` or one row of a spreadsheet says.
#[derive(Clone, Debug)]
pub(super) struct Facts {
    pub spot: Spot,
    pub place: At,
    pub id: Option<String>,
    pub name: Option<String>,
    pub lot: Option<String>,
    pub pigments: Option<Vec<PigmentLoad>>,
    pub wet_g_per_m2: Option<f64>,
    pub known: Option<KnownColour>,
    pub control: Option<Control>,
    pub empty: Option<bool>,
    pub masked: Option<Side>,
    pub substrate: Option<String>,
    pub coating: Option<String>,
    pub coats: Option<f64>,
}

/// Where a patch is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum At {
    /// In a cell of the grid, zero-based.
    Cell(usize, usize),
    /// Somewhere of its own.
    Free(Rect),
}

/// Names of the sides.
pub(super) const SIDES: [(&str, Side); 4] = [
    ("left", Side::Left),
    ("right", Side::Right),
    ("top", Side::Top),
    ("bottom", Side::Bottom),
];
/// Names of the control patches.
pub(super) const CONTROLS: [(&str, Control); 2] = [
    ("clear", Control::Clear),
    ("clear-on-white", Control::ClearOnWhite),
];
/// More coats than anyone puts on.
pub(crate) const MOST_COATS: f64 = 100.0;
/// Wet coating in g/m² beyond which a number is a mistake: a layer of a centimetre.
pub(crate) const MOST_WET: f64 = 10_000.0;
/// A load is grams per 100 g of mixed coating, so with more the patch would be more pigment than coating.
pub(crate) const MOST_LOAD: f64 = 100.0;

const KEYS: [&str; 13] = [
    "at",
    "at_mm",
    "size_mm",
    "id",
    "name",
    "lot",
    "pigments",
    "wet_g_per_m2",
    "control",
    "empty",
    "masked",
    "substrate",
    "coating",
];

/// The facts of a `[[patch]]`.
pub(super) fn of_patch(value: &Value<'_>, top: &[&str]) -> Result<Facts, Problem> {
    let keys: Vec<&str> = KEYS
        .iter()
        .chain(&known::KEYS)
        .copied()
        .chain(["coats"])
        .collect();
    let table = value.table("[[patch]]", &keys, top)?;
    let text = |key: &str| table.get(key).map(|it| it.text()).transpose();
    let facts = Facts {
        spot: table.spot(),
        place: place(&table)?,
        id: table.get("id").map(|it| it.identifier()).transpose()?,
        name: text("name")?,
        lot: text("lot")?,
        pigments: table.get("pigments").map(|it| pigments(&it)).transpose()?,
        wet_g_per_m2: table
            .get("wet_g_per_m2")
            .map(|it| it.positive(MOST_WET))
            .transpose()?,
        known: known::of_table(&table)?,
        control: table
            .get("control")
            .map(|it| it.one_of(&CONTROLS))
            .transpose()?,
        empty: table.get("empty").map(|it| it.flag()).transpose()?,
        masked: table
            .get("masked")
            .map(|it| it.one_of(&SIDES))
            .transpose()?,
        substrate: text("substrate")?,
        coating: text("coating")?,
        coats: table
            .get("coats")
            .map(|it| it.positive(MOST_COATS))
            .transpose()?,
    };
    if matches!(facts.place, At::Free(_)) && facts.id.is_none() {
        let message = "a patch off the grid has no position to be named by; give it an `id`";
        return Err(table.wrong(message));
    }
    Ok(facts)
}

fn place(table: &Table<'_>) -> Result<At, Problem> {
    if let Some(second) = table.both("at", "at_mm") {
        return Err(second.wrong("`at` and `at_mm` both say where the patch is; keep one"));
    }
    if let Some(at) = table.get("at") {
        if let Some(size) = table.get("size_mm") {
            let message =
                "`size_mm` is for patches off the grid; this one has the grid's `patch_mm`";
            return Err(size.wrong(message));
        }
        let name = at.string()?;
        let (row, column) = position::parse(name).ok_or_else(|| at.wrong(not_a_cell(name)))?;
        return Ok(At::Cell(row, column));
    }
    let why = "say where the patch is: `at = \"A1\"` in the grid, or `at_mm` and `size_mm` off it";
    let at = table.get("at_mm").ok_or_else(|| table.wrong(why))?;
    let [x, y] = at.point()?;
    let size = table.need("size_mm", "a patch off the grid needs its [width, height]")?;
    let [width, height] = size.lengths()?;
    Ok(At::Free(Rect {
        x,
        y,
        width,
        height,
    }))
}

/// What is wrong with a position that could not be read.
pub(super) fn not_a_cell(name: &str) -> String {
    format!(
        "\"{}\" is no position; write the row's letter and the column's number, as in A1",
        shown(name)
    )
}

fn pigments(value: &Value<'_>) -> Result<Vec<PigmentLoad>, Problem> {
    let mut all = Vec::new();
    for item in value.list()? {
        let table = item.table("`pigments`", &["pigment", "load"], &[])?;
        let name = table.need("pigment", "by preference its Colour Index name, as PY42")?;
        let load = table.need("load", "grams per 100 g of mixed coating")?;
        let pigment = name.text()?;
        if pigment.chars().any(char::is_control) {
            return Err(name.wrong("`pigment` must be one line"));
        }
        let load = load.positive(MOST_LOAD)?;
        all.push(PigmentLoad { pigment, load });
    }
    check_pigments(&all).map_err(|it| value.wrong(it))?;
    Ok(all)
}

/// What is wrong with the pigments of a patch taken together.
pub(super) fn check_pigments(pigments: &[PigmentLoad]) -> Result<(), String> {
    for (i, one) in pigments.iter().enumerate() {
        if pigments[..i].iter().any(|it| it.pigment == one.pigment) {
            return Err(format!("{} is there twice; add up its loads", one.pigment));
        }
    }
    let sum: f64 = pigments.iter().map(|it| it.load).sum();
    if sum > MOST_LOAD {
        return Err(format!(
            "the loads add up to {sum}; a load is grams per 100 g of mixed coating, so more than {MOST_LOAD} can't be"
        ));
    }
    Ok(())
}

impl Facts {
    /// Facts that say nothing yet.
    pub(super) fn new(spot: Spot, place: At) -> Self {
        Self {
            spot,
            place,
            id: None,
            name: None,
            lot: None,
            pigments: None,
            wet_g_per_m2: None,
            known: None,
            control: None,
            empty: None,
            masked: None,
            substrate: None,
            coating: None,
            coats: None,
        }
    }

    /// What a spreadsheet and a `[[patch]]` say of the same patch, each fact from whichever states it.
    ///
    /// # Errors
    /// If both state a fact: neither is the better one.
    pub(super) fn merged(self, other: Self) -> Result<Self, Problem> {
        let twice = |what: &str| {
            let message = format!(
                "`{what}` of this patch is also stated in {}; keep one",
                self.spot
            );
            Problem::new(other.spot.clone(), message)
        };
        fn either<T>(
            one: Option<T>,
            other: Option<T>,
            twice: impl FnOnce() -> Problem,
        ) -> Result<Option<T>, Problem> {
            match (one, other) {
                (Some(_), Some(_)) => Err(twice()),
                (one, other) => Ok(one.or(other)),
            }
        }
        Ok(Self {
            place: self.place,
            id: either(self.id, other.id, || twice("id"))?,
            name: either(self.name, other.name, || twice("name"))?,
            lot: either(self.lot, other.lot, || twice("lot"))?,
            pigments: either(self.pigments, other.pigments, || twice("pigments"))?,
            wet_g_per_m2: self.wet_g_per_m2.or(other.wet_g_per_m2),
            known: either(self.known, other.known, || twice("lab"))?,
            control: either(self.control, other.control, || twice("control"))?,
            empty: either(self.empty, other.empty, || twice("empty"))?,
            masked: self.masked.or(other.masked),
            substrate: self.substrate.or(other.substrate),
            coating: self.coating.or(other.coating),
            coats: self.coats.or(other.coats),
            spot: self.spot,
        })
    }

    /// # Errors
    /// If the facts contradict each other.
    pub(super) fn check(&self) -> Result<(), Problem> {
        let wrong = |message: &str| Err(Problem::new(self.spot.clone(), message));
        let tinted = self.pigments.as_ref().is_some_and(|it| !it.is_empty());
        if self.empty == Some(true) {
            if self.known.is_some() {
                return wrong("a patch can't be empty and have a known colour");
            }
            if tinted || self.control.is_some() || self.wet_g_per_m2.is_some() {
                return wrong("a patch can't be empty and have a coating");
            }
        }
        if tinted && self.control.is_some() {
            return wrong(
                "a control is coating without pigment; leave out `pigments` or `control`",
            );
        }
        Ok(())
    }
}
