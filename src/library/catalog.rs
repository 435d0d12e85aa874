//! Materials: pigments with their lots, and coatings with their parts.
//!
//! What a workshop knows of what it buys: names, prices, densities, hazards, what is left. Nothing here is measured; it is
//! said by people (`library pigments`, `library coatings`) and read by whatever proposes loads or counts costs.

use super::digest::{self, Digest};
use super::{Library, LibraryError};
use rusqlite::{Connection, OptionalExtension as _, params};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How much of something is left.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Stock {
    /// Enough.
    #[default]
    Here,
    /// To be bought soon.
    RunningOut,
    /// None is left.
    Gone,
}

/// A pigment. What isn't known is left out.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pigment {
    /// The name that panel files use, by preference the Colour Index name: `PR101`.
    pub id: String,
    /// Colour Index name, where `id` is another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour_index: Option<String>,
    /// Who makes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    /// What the maker calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker_name: Option<String>,
    /// Price of a kilogram, > 0, in the workshop's currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub price_per_kg: Option<f64>,
    /// Grams per cubic centimetre of the solid, > 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub density_g_per_cm3: Option<f64>,
    /// What harm it can do, in words: see the maker's safety data sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hazard: Option<String>,
    /// How its maker says to wet it out before it is stirred in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wetting: Option<String>,
    /// How much is left.
    #[serde(default)]
    pub stock: Stock,
    /// Its lots, in the order in which they came.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<Lot>,
}

/// One delivery of a pigment.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// What is printed on it.
    pub lot: String,
    /// How much of it is left.
    #[serde(default)]
    pub stock: Stock,
    /// Price of a kilogram of this lot, > 0, where it differs from the pigment's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub price_per_kg: Option<f64>,
}

/// A coating. What isn't known is left out.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Coating {
    /// The name that panel files use.
    pub id: String,
    /// Who makes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    /// What is mixed, in the order in which it is poured together; empty where it comes ready in one tin.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<Part>,
    /// Price of a kilogram as mixed, > 0. Where it is not stated, it follows from the parts': [`Self::price`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub price_per_kg: Option<f64>,
    /// Wet coating that one coat takes, grams per square metre, pigment included, > 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub coat_g_per_m2: Option<f64>,
    /// Minutes from mixing until it must be used up, > 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub pot_life_min: Option<f64>,
    /// Grams per cubic centimetre as mixed, > 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub density_g_per_cm3: Option<f64>,
    /// What harm it can do, in words: see the maker's safety data sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hazard: Option<String>,
    /// How much is left.
    #[serde(default)]
    pub stock: Stock,
}

/// A part of a coating.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Its name: `A`, `base`, `hardener`.
    pub name: String,
    /// How much of it, by mass, to how much of the others: 100 to 50; > 0.
    #[schemars(range(min = 0.0))]
    pub by_mass: f64,
    /// Price of a kilogram of this part, > 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0))]
    pub price_per_kg: Option<f64>,
}

impl Pigment {
    /// A pigment of which nothing is known but its name.
    #[must_use]
    pub fn named(id: &str) -> Self {
        Self {
            id: id.to_owned(),
            ..Self::default()
        }
    }

    /// Price of a kilogram of a lot: the lot's own, else the pigment's.
    #[must_use]
    pub fn price(&self, lot: Option<&str>) -> Option<f64> {
        let of_lot = lot.and_then(|lot| self.lots.iter().find(|it| it.lot == lot));
        of_lot.and_then(|it| it.price_per_kg).or(self.price_per_kg)
    }

    /// # Errors
    /// If it has no name, a lot has none or comes twice, or a number is not above zero.
    pub fn check(&self) -> Result<(), LibraryError> {
        named("pigment", &self.id)?;
        positive(&self.id, "price", self.price_per_kg)?;
        positive(&self.id, "density", self.density_g_per_cm3)?;
        for (index, lot) in self.lots.iter().enumerate() {
            named("lot", &lot.lot)?;
            positive(&self.id, "price of a lot", lot.price_per_kg)?;
            if self.lots[..index].iter().any(|it| it.lot == lot.lot) {
                return Err(LibraryError::Senseless(
                    format!("{}: the lot {} comes twice", self.id, lot.lot),
                    "Keep one of them.",
                ));
            }
        }
        Ok(())
    }
}

impl Coating {
    /// A coating of which nothing is known but its name.
    #[must_use]
    pub fn named(id: &str) -> Self {
        Self {
            id: id.to_owned(),
            ..Self::default()
        }
    }

    /// Price of a kilogram as mixed: as stated, else the mean of the parts', by mass, if all of them are known.
    #[must_use]
    pub fn price(&self) -> Option<f64> {
        self.price_per_kg.or_else(|| {
            let shares = self.shares();
            let parts = self.parts.iter().zip(shares);
            let prices: Option<Vec<f64>> = parts
                .map(|(part, share)| Some(part.price_per_kg? * share))
                .collect();
            prices.filter(|it| !it.is_empty()).map(|it| it.iter().sum())
        })
    }

    /// The share of each part in what is mixed, 0–1, by mass; they add up to 1.
    #[must_use]
    pub fn shares(&self) -> Vec<f64> {
        let all: f64 = self.parts.iter().map(|it| it.by_mass).sum();
        self.parts.iter().map(|it| it.by_mass / all).collect()
    }

    /// # Errors
    /// If it or a part has no name, a part comes twice, or a number is not above zero.
    pub fn check(&self) -> Result<(), LibraryError> {
        named("coating", &self.id)?;
        positive(&self.id, "price", self.price_per_kg)?;
        positive(&self.id, "amount for a coat", self.coat_g_per_m2)?;
        positive(&self.id, "pot life", self.pot_life_min)?;
        positive(&self.id, "density", self.density_g_per_cm3)?;
        for (index, part) in self.parts.iter().enumerate() {
            named("part of a coating", &part.name)?;
            positive(&self.id, "mixing ratio", Some(part.by_mass))?;
            positive(&self.id, "price of a part", part.price_per_kg)?;
            if self.parts[..index].iter().any(|it| it.name == part.name) {
                return Err(LibraryError::Senseless(
                    format!("{}: the part {} comes twice", self.id, part.name),
                    "Give each part a name of its own.",
                ));
            }
        }
        Ok(())
    }
}

fn named(what: &str, name: &str) -> Result<(), LibraryError> {
    if name.trim().is_empty() {
        return Err(LibraryError::Senseless(
            format!("a {what} without a name"),
            "Give it one.",
        ));
    }
    Ok(())
}

fn positive(of: &str, what: &str, value: Option<f64>) -> Result<(), LibraryError> {
    match value {
        Some(it) if !(it.is_finite() && it > 0.0) => Err(LibraryError::Senseless(
            format!("{of}: its {what} is {it}"),
            "Give a number above zero, or leave it out.",
        )),
        _ => Ok(()),
    }
}

/// What swatches have names of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    /// Pigments.
    Pigment,
    /// Coatings.
    Coating,
    /// Substrates.
    Substrate,
}

impl Library {
    /// The names that swatches have of it, in order.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn names(&self, of: Named) -> Result<Vec<String>, LibraryError> {
        let mut statement = self.connection.prepare_cached(match of {
            Named::Pigment => "SELECT DISTINCT pigment FROM ingredient ORDER BY 1",
            Named::Coating => {
                "SELECT DISTINCT coating FROM swatch WHERE coating IS NOT NULL ORDER BY 1"
            }
            Named::Substrate => {
                "SELECT DISTINCT substrate FROM swatch WHERE substrate IS NOT NULL ORDER BY 1"
            }
        })?;
        let rows = statement.query_map([], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// The hours after which colours of unmasked patches were measured, in order.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn ages(&self) -> Result<Vec<f64>, LibraryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT hours FROM colour WHERE masked = 0 AND hours >= 0 ORDER BY hours",
        )?;
        let rows = statement.query_map([], |row| row.get(0))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// All pigments that something was said of, by id.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn pigments(&self) -> Result<Vec<Pigment>, LibraryError> {
        self.materials("SELECT id, facts FROM pigment ORDER BY id")
    }

    /// The pigment of this id; `None` if nothing was said of it.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn pigment(&self, id: &str) -> Result<Option<Pigment>, LibraryError> {
        self.material("SELECT facts FROM pigment WHERE id = ?1", id)
    }

    /// Writes down a pigment; what was said of it before is replaced, and stays in the history.
    ///
    /// # Errors
    ///
    /// If a fact of it makes no sense, or the library can't be written.
    pub fn set_pigment(&mut self, pigment: &Pigment) -> Result<(), LibraryError> {
        pigment.check()?;
        self.set("pigment", &pigment.id, pigment)
    }

    /// All coatings that something was said of, by id.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn coatings(&self) -> Result<Vec<Coating>, LibraryError> {
        self.materials("SELECT id, facts FROM coating ORDER BY id")
    }

    /// The coating of this id; `None` if nothing was said of it.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn coating(&self, id: &str) -> Result<Option<Coating>, LibraryError> {
        self.material("SELECT facts FROM coating WHERE id = ?1", id)
    }

    /// Writes down a coating; what was said of it before is replaced, and stays in the history.
    ///
    /// # Errors
    ///
    /// If a fact of it makes no sense, or the library can't be written.
    pub fn set_coating(&mut self, coating: &Coating) -> Result<(), LibraryError> {
        coating.check()?;
        self.set("coating", &coating.id, coating)
    }

    fn materials<T: serde::de::DeserializeOwned>(&self, sql: &str) -> Result<Vec<T>, LibraryError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let rows = statement.query_map([], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?))
        })?;
        rows.map(|row| {
            let (id, facts) = row?;
            serde_json::from_str(&facts).map_err(|it| LibraryError::damaged(id, it))
        })
        .collect()
    }

    fn material<T: serde::de::DeserializeOwned>(
        &self,
        sql: &str,
        id: &str,
    ) -> Result<Option<T>, LibraryError> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let facts: Option<String> = statement.query_row([id], |row| row.get(0)).optional()?;
        facts
            .map(|it| serde_json::from_str(&it).map_err(|it| LibraryError::damaged(id, it)))
            .transpose()
    }

    /// `table` is one of the two names above, never a user's word.
    fn set(&mut self, table: &str, id: &str, facts: &impl Serialize) -> Result<(), LibraryError> {
        let facts = serde_json::to_string(facts).map_err(|it| LibraryError::damaged(id, it))?;
        self.write(|transaction| {
            let before: Option<String> = transaction
                .query_row(
                    &format!("SELECT facts FROM {table} WHERE id = ?1"),
                    [id],
                    |row| row.get(0),
                )
                .optional()?;
            if before.as_ref() == Some(&facts) {
                return Ok(());
            }
            if let Some(before) = before {
                super::history::keep(transaction, &format!("{table} {id}"), None, &before)?;
            }
            put(transaction, table, id, &facts)
        })
    }
}

/// Writes the facts of a material in the place of what was said of it before; `table` is `pigment` or `coating`.
pub(super) fn put(
    connection: &Connection,
    table: &str,
    id: &str,
    facts: &str,
) -> Result<(), LibraryError> {
    connection.execute(
        &format!("INSERT OR REPLACE INTO {table} (id, facts, digest) VALUES (?1, ?2, ?3)"),
        params![id, facts, stored(id, facts)],
    )?;
    Ok(())
}

/// Of what is stored of a material.
fn stored(id: &str, facts: &str) -> Digest {
    digest::of_bytes(&[id.as_bytes(), facts.as_bytes()])
}

/// What is not as it was written, in words.
pub(super) fn faults(connection: &Connection) -> Result<Vec<String>, LibraryError> {
    let mut faults = Vec::new();
    for table in ["pigment", "coating"] {
        let mut statement = connection.prepare(&format!(
            "SELECT id, facts, digest FROM {table} ORDER BY id"
        ))?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, facts, digest): (String, String, Vec<u8>) =
                (row.get(0)?, row.get(1)?, row.get(2)?);
            if digest != stored(&id, &facts) {
                faults.push(format!("the {table} {id} is not what was written"));
            }
        }
    }
    Ok(faults)
}
