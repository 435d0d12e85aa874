//! Swatches by what they are and how they look.

use super::colour::{Exposure, unpack_covariance};
use super::recipe::{self, Swatch};
use super::{Library, LibraryError};
use crate::colour::{Lab, Matrix, lab};
use rusqlite::types::Value;
use rusqlite::{OptionalExtension as _, params, params_from_iter};
use std::fmt::Write as _;

/// From and to, both included; what isn't given is open.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Range {
    /// At least.
    pub from: Option<f64>,
    /// At most.
    pub to: Option<f64>,
}

impl Range {
    /// Whether a number lies in it.
    #[must_use]
    pub fn holds(&self, it: f64) -> bool {
        self.from.is_none_or(|from| it >= from) && self.to.is_none_or(|to| it <= to)
    }

    /// The same for an angle: from 350 to 20 goes through 0.
    #[must_use]
    pub fn holds_angle(&self, it: f64) -> bool {
        match (self.from, self.to) {
            (Some(from), Some(to)) if from > to => it >= from || it <= to,
            _ => self.holds(it),
        }
    }
}

/// Which swatches are meant. The default is all.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Filter {
    /// All of these pigments are in it.
    pub pigments: Vec<String>,
    /// The load of the first of these pigments; of any, if none is named.
    pub load: Range,
    /// The coating.
    pub coating: Option<String>,
    /// The substrate.
    pub substrate: Option<String>,
    /// The colour after so many hours; where there is none, the nearest within a tenth. As made if not given.
    pub hours: Option<f64>,
    /// L*.
    pub lightness: Range,
    /// C*ab.
    pub chroma: Range,
    /// Hue angle in degrees.
    pub hue: Range,
    /// How a specimen of it cured last.
    pub cure: Option<String>,
}

/// What a list is sorted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Sort {
    /// The swatch's number.
    #[default]
    Number,
    /// Its name.
    Name,
    /// Pigments, then loads.
    Recipe,
    /// L*.
    Lightness,
    /// C*ab.
    Chroma,
    /// Hue angle.
    Hue,
    /// U95, the least first.
    U95,
}

/// A swatch with its colour at an exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// The swatch.
    pub swatch: Swatch,
    /// When.
    pub exposure: Exposure,
    /// Its colour: the mean of its specimens.
    pub lab: Lab,
    /// Covariance of that mean.
    pub covariance: Matrix,
    /// U95 of that mean.
    pub u95: Option<f64>,
    /// How many specimens and readings it is made of.
    pub specimens: i64,
    /// Readings.
    pub readings: i64,
    /// Of these, how many disagree beyond their uncertainty.
    pub disagree: i64,
    /// How its specimens cured, by their latest notes.
    pub cure: Vec<String>,
}

/// A swatch's colour, without the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    pub(super) swatch: i64,
    pub(super) exposure: Exposure,
    pub(super) lab: Lab,
}

/// How far hours may be from those asked for, as a share.
pub const NEAR_HOURS: f64 = 0.1;

impl Library {
    /// The swatches that are meant, with their colours.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn list(&self, filter: &Filter, sort: Sort) -> Result<Vec<Listed>, LibraryError> {
        let moment = self.moment()?;
        let spots = self.spots(filter)?;
        let mut listed = self.look_up(&spots)?;
        drop(moment);
        let key = |it: &Listed| -> f64 {
            match sort {
                Sort::Lightness => it.lab.l,
                Sort::Chroma => lab::chroma(it.lab),
                Sort::Hue => lab::hue_degrees(it.lab),
                Sort::U95 => it.u95.unwrap_or(f64::INFINITY),
                Sort::Number | Sort::Name | Sort::Recipe => 0.0,
            }
        };
        listed.sort_by(|a, b| {
            let order = match sort {
                Sort::Name => a.swatch.name.cmp(&b.swatch.name),
                Sort::Recipe => by_recipe(a, b),
                _ => key(a).total_cmp(&key(b)),
            };
            order.then(a.swatch.id.cmp(&b.swatch.id))
        });
        Ok(listed)
    }

    /// Colours of the swatches that are meant, by number.
    pub(super) fn spots(&self, filter: &Filter) -> Result<Vec<Spot>, LibraryError> {
        let (sql, values) = query(filter);
        let mut statement = self.connection.prepare_cached(&sql)?;
        let mut rows = statement.query(params_from_iter(values))?;
        let mut spots: Vec<Spot> = Vec::new();
        while let Some(row) = rows.next()? {
            let spot = Spot {
                swatch: row.get(0)?,
                exposure: Exposure::of_row(row.get(1)?, row.get(2)?, row.get(3)?),
                lab: Lab::new(row.get(4)?, row.get(5)?, row.get(6)?),
            };
            spots.push(spot);
        }
        if let Some(wanted) = filter.hours {
            // Of several ages of a swatch the one nearest to what is asked for.
            let off = |it: &Spot| (it.exposure.hours.unwrap_or_default() - wanted).abs();
            spots.sort_unstable_by(|a, b| a.swatch.cmp(&b.swatch).then(off(a).total_cmp(&off(b))));
            spots.dedup_by_key(|it| it.swatch);
        }
        let open = Range::default();
        spots.retain(|it| {
            (filter.lightness == open || filter.lightness.holds(it.lab.l))
                && (filter.chroma == open || filter.chroma.holds(lab::chroma(it.lab)))
                && (filter.hue == open || filter.hue.holds_angle(lab::hue_degrees(it.lab)))
        });
        self.keep_coated(filter, &mut spots)?;
        Ok(spots)
    }

    /// Keeps those in the coating and on the substrate. A few are asked for one by one, of many it is faster to go through all swatches.
    fn keep_coated(&self, filter: &Filter, spots: &mut Vec<Spot>) -> Result<(), LibraryError> {
        const FEW: usize = 5000;
        if filter.coating.is_none() && filter.substrate.is_none() {
            return Ok(());
        }
        if spots.len() <= FEW {
            let mut statement = self.connection.prepare_cached(
                "SELECT EXISTS (SELECT 1 FROM swatch WHERE id = ?1 AND (?2 IS NULL OR coating = ?2)
                 AND (?3 IS NULL OR substrate = ?3))",
            )?;
            let mut kept = Vec::with_capacity(spots.len());
            for it in spots.drain(..) {
                let asked = params![it.swatch, filter.coating, filter.substrate];
                if statement.query_row(asked, |row| row.get(0))? {
                    kept.push(it);
                }
            }
            *spots = kept;
        } else {
            let those = self.coated(filter)?;
            spots.retain(|it| those.binary_search(&it.swatch).is_ok());
        }
        Ok(())
    }

    /// The numbers of the swatches that are in the coating and on the substrate, in order. Numbers of an imported library may be far apart.
    fn coated(&self, filter: &Filter) -> Result<Vec<i64>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id FROM swatch WHERE (?1 IS NULL OR coating = ?1) AND (?2 IS NULL OR substrate = ?2) ORDER BY id",
        )?;
        let rows =
            statement.query_map(params![filter.coating, filter.substrate], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// The rest of what is known of swatches whose colours were found at the same moment, in the same order.
    pub(super) fn look_up(&self, spots: &[Spot]) -> Result<Vec<Listed>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT covariance, specimens, readings, disagree, u95 FROM colour
             WHERE swatch = ?1 AND masked = ?2 AND hours = ?3 AND photo = ?4",
        )?;
        let mut listed = Vec::with_capacity(spots.len());
        for it in spots {
            let (hours, photo) = it.exposure.age();
            let found = statement
                .query_row(
                    params![it.swatch, it.exposure.masked, hours, photo],
                    |row| {
                        Ok((
                            row.get::<_, Vec<u8>>(0)?,
                            row.get(1)?,
                            row.get(2)?,
                            row.get(3)?,
                            row.get(4)?,
                        ))
                    },
                )
                .optional()?;
            let (packed, specimens, readings, disagree, u95) = found
                .ok_or_else(|| LibraryError::damaged("a swatch", "its colour is not there"))?;
            let swatch = recipe::swatch(&self.connection, it.swatch)?
                .ok_or_else(|| LibraryError::damaged("a colour", "its swatch is not there"))?;
            listed.push(Listed {
                swatch,
                exposure: it.exposure,
                lab: it.lab,
                covariance: unpack_covariance(&packed)?,
                u95,
                specimens,
                readings,
                disagree,
                cure: self.cures(it.swatch)?,
            });
        }
        Ok(listed)
    }
}

fn by_recipe(a: &Listed, b: &Listed) -> std::cmp::Ordering {
    let names = |it: &Listed| -> Vec<String> {
        let pigments = it.swatch.recipe.pigments.iter();
        pigments.map(|it| it.pigment.clone()).collect()
    };
    let loads =
        |it: &Listed| -> Vec<f64> { it.swatch.recipe.pigments.iter().map(|it| it.load).collect() };
    names(a).cmp(&names(b)).then(
        loads(a)
            .partial_cmp(&loads(b))
            .unwrap_or(std::cmp::Ordering::Equal),
    )
}

/// The narrow part of the question, which the tables can answer.
fn query(filter: &Filter) -> (String, Vec<Value>) {
    let mut sql =
        "SELECT colour.swatch, masked, hours, photo, l, a, b FROM colour WHERE ".to_owned();
    let mut values: Vec<Value> = Vec::new();
    let mut value = |it: Value| {
        values.push(it);
        format!("?{}", values.len())
    };
    match filter.hours {
        None => sql += "standard = 1",
        // What is fresh stands for the swatch as made.
        Some(hours) if hours <= 0.0 => sql += "standard = 1 AND hours = 0",
        Some(hours) => {
            let from = value(Value::Real(hours * (1.0 - NEAR_HOURS)));
            let to = value(Value::Real(hours * (1.0 + NEAR_HOURS)));
            let _ = write!(
                sql,
                "masked = 0 AND hours > 0 AND hours BETWEEN {from} AND {to}"
            );
        }
    }
    let mut loads = String::new();
    for (bound, sign) in [(filter.load.from, ">="), (filter.load.to, "<=")] {
        if let Some(bound) = bound {
            let _ = write!(loads, " AND load {sign} {}", value(Value::Real(bound)));
        }
    }
    for (index, pigment) in filter.pigments.iter().enumerate() {
        let name = value(Value::Text(pigment.clone()));
        let loads = if index == 0 { loads.as_str() } else { "" };
        let _ = write!(
            sql,
            " AND colour.swatch IN (SELECT swatch FROM ingredient WHERE pigment = {name}{loads})"
        );
    }
    if filter.pigments.is_empty() && !loads.is_empty() {
        let _ = write!(
            sql,
            " AND colour.swatch IN (SELECT swatch FROM ingredient WHERE 1{loads})"
        );
    }
    if let Some(cure) = &filter.cure {
        let cure = value(Value::Text(cure.clone()));
        let _ = write!(
            sql,
            " AND colour.swatch IN (SELECT specimen.swatch FROM note JOIN specimen ON specimen.id = note.specimen
               WHERE note.word = {cure} AND {})",
            super::notes::LATEST_CURE
        );
    }
    (sql, values)
}

#[cfg(test)]
mod tests {
    use super::super::store;
    use super::*;

    #[test]
    fn swatches_far_apart_in_number_are_found_by_their_coating() {
        let folder = tempfile::tempdir().unwrap();
        let mut library = Library::open_or_begin(&folder.path().join("l.sqlite")).unwrap();
        let recipe = |coating: &str, coats| recipe::Recipe {
            pigments: Vec::new(),
            coating: Some(coating.to_owned()),
            substrate: None,
            coats: Some(coats),
            g_per_m2: None,
            control: None,
        };
        library
            .write(|transaction| {
                for (number, coating, coats) in [
                    (3, "oil", 1.0),
                    (7, "clear", 1.0),
                    (1_000_000_000_000, "oil", 2.0),
                ] {
                    store::new_swatch(
                        transaction,
                        Some(number),
                        &recipe(coating, coats),
                        (None, None),
                        None,
                    )?;
                }
                Ok(())
            })
            .unwrap();
        let filter = Filter {
            coating: Some("oil".to_owned()),
            ..Filter::default()
        };
        assert_eq!(library.coated(&filter).unwrap(), [3, 1_000_000_000_000]);
    }
}
