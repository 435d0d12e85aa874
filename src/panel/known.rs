//! Colours that are known before measuring: `lab`, `xyz` or `reflectance`, with `uncertainty`.

use super::error::Problem;
use super::table::{Table, Value};
use super::{KnownColour, Reflectance};
use crate::colour::{Lab, Xyz, lab, spectrum};

/// The keys of a known colour, in every table that may hold one.
pub(super) const KEYS: [&str; 4] = ["lab", "xyz", "reflectance", "uncertainty"];

/// Largest |a*| and |b*| that is believed: no surface colour reaches it.
const CHROMA_LIMIT: f64 = 150.0;
/// Largest U95 that says anything.
const UNCERTAINTY_LIMIT: f64 = 50.0;

/// The colour that a table states, if any.
pub(super) fn of_table(table: &Table<'_>) -> Result<Option<KnownColour>, Problem> {
    for (one, other) in [
        ("lab", "xyz"),
        ("lab", "reflectance"),
        ("xyz", "reflectance"),
    ] {
        if let Some(second) = table.both(one, other) {
            let message = format!("`{one}` and `{other}` both state the colour; keep one");
            return Err(second.wrong(message));
        }
    }
    let uncertainty = table.get("uncertainty");
    let u95 = uncertainty
        .map(|it| it.positive(UNCERTAINTY_LIMIT))
        .transpose()?;
    let colour = if let Some(value) = table.get("lab") {
        Some((of_lab(&value)?, None))
    } else if let Some(value) = table.get("xyz") {
        Some((of_xyz(&value)?, None))
    } else if let Some(value) = table.get("reflectance") {
        let (lab, reflectance) = of_reflectance(&value)?;
        Some((lab, Some(reflectance)))
    } else {
        None
    };
    match (colour, uncertainty) {
        (None, Some(value)) => {
            Err(value.wrong("`uncertainty` without a colour; add `lab`, `xyz` or `reflectance`"))
        }
        (colour, _) => Ok(colour.map(|(lab, reflectance)| KnownColour {
            lab,
            u95,
            reflectance,
        })),
    }
}

/// L*a*b* within the limits of surface colours.
pub(super) fn check_lab([l, a, b]: [f64; 3]) -> Result<Lab, String> {
    if !(0.0..=100.0).contains(&l) {
        return Err(format!("L* is {l}; it must be from 0 to 100"));
    }
    for (name, value) in [("a*", a), ("b*", b)] {
        if !(-CHROMA_LIMIT..=CHROMA_LIMIT).contains(&value) {
            return Err(format!(
                "{name} is {value}; no surface lies beyond ±{CHROMA_LIMIT}"
            ));
        }
    }
    Ok(Lab::new(l, a, b))
}

fn of_lab(value: &Value<'_>) -> Result<Lab, Problem> {
    let [l, a, b]: [Value<'_>; 3] = value.tuple("[L*, a*, b*]")?;
    check_lab([l.number()?, a.number()?, b.number()?]).map_err(|it| value.wrong(it))
}

fn of_xyz(value: &Value<'_>) -> Result<Lab, Problem> {
    let parts: [Value<'_>; 3] = value.tuple("[X, Y, Z]")?;
    let [x, y, z] = [parts[0].number()?, parts[1].number()?, parts[2].number()?];
    if [x, y, z].iter().any(|it| *it < 0.0) || y > 100.0 {
        return Err(value.wrong("X, Y and Z can't be negative, and Y is at most 100 (the white's)"));
    }
    if x <= 1.0 && y <= 1.0 && z <= 1.0 {
        return Err(value
            .wrong("`xyz` looks as if white had Y = 1; here it has Y = 100")
            .with_hint("Multiply by 100; give the `lab` of a black as dark as that."));
    }
    let lab = lab::from_xyz(Xyz::new(x / 100.0, y / 100.0, z / 100.0));
    check_lab([lab.l, lab.a, lab.b])
        .map_err(|it| value.wrong(format!("no surface has this colour under D50: {it}")))
}

fn of_reflectance(value: &Value<'_>) -> Result<(Lab, Reflectance), Problem> {
    let table = value.table("`reflectance`", &["start_nm", "step_nm", "values"], &[])?;
    let list = table.need("values", "reflectance factors from 0 to 1")?;
    let numbers: Result<Vec<f64>, Problem> = list.list()?.iter().map(Value::number).collect();
    let reflectance = Reflectance {
        start_nm: table.need("start_nm", "the first wavelength")?.number()?,
        step_nm: table
            .need("step_nm", "from wavelength to wavelength")?
            .number()?,
        values: numbers?,
    };
    let xyz = spectrum::reflectance_to_xyz_d50(
        reflectance.start_nm,
        reflectance.step_nm,
        &reflectance.values,
    );
    let xyz = xyz.map_err(|it| value.wrong(it.to_string()))?;
    Ok((lab::from_xyz(xyz), reflectance))
}
