//! What all answers about mixtures can be told: coating, substrate, amount; and how they are written.

use super::super::failure::{Failure, printable, say};
use super::super::library;
use super::super::measure;
use masstone::library::{Library, LibraryError};
use masstone::mix::age::AgedModel;
use masstone::mix::fades::FadesError;
use masstone::mix::shelf::{Seasons, Shelf, ShelfError};
use masstone::mix::{Load, Model, PredictError, fit};
use std::path::Path;

/// Which coating on what, and how much of it.
#[derive(Debug, clap::Args)]
pub(super) struct Film {
    /// The coating; not needed where the library has one only.
    #[arg(long, value_name = "NAME")]
    pub(super) coating: Option<String>,

    /// What is coated; not needed where one only has a control.
    #[arg(long, value_name = "NAME")]
    pub(super) substrate: Option<String>,

    /// In how many coats. Not given: as much as most swatches have.
    #[arg(long, value_name = "N", value_parser = coats, conflicts_with = "g_per_m2")]
    pub(super) coats: Option<f64>,

    /// Wet coating on a square metre, all coats together, pigment included, g.
    #[arg(long, value_name = "G", value_parser = grams)]
    pub(super) g_per_m2: Option<f64>,
}

/// The film that is meant.
#[derive(Clone, Debug)]
pub(super) struct Meant {
    pub(super) ground: String,
    pub(super) g_per_m2: f64,
    /// Where nobody stated the amount.
    pub(super) note: Option<String>,
}

impl Film {
    /// The film, by what the shelf knows.
    pub(super) fn meant(&self, shelf: &Shelf) -> Result<Meant, Failure> {
        let ground = shelf
            .substrate(self.substrate.as_deref())
            .map_err(of_shelf)?;
        if self.g_per_m2.is_some() && shelf.per_coat.is_nominal() {
            return Err(Failure::usage(
                anyhow::anyhow!(
                    "nobody weighed or stated what a coat of {} takes, so that grams say nothing",
                    shelf.coating
                ),
                "Say --coats, or state what a coat takes: `masstone library coatings NAME --coat G`.",
            ));
        }
        let stated = (self.g_per_m2).or(self.coats.map(|it| it * shelf.per_coat.g_per_m2));
        let usual = || shelf.usual_amount(&ground);
        let g_per_m2 = stated.or_else(usual).unwrap_or(shelf.per_coat.g_per_m2);
        let note = stated.is_none().then(|| {
            format!(
                "Reckoned for {} as most swatches on {ground} have it: --coats or --g-per-m2 says otherwise.",
                super::words::amount(g_per_m2, shelf)
            )
        });
        Ok(Meant {
            ground,
            g_per_m2,
            note,
        })
    }
}

/// How an answer is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Format {
    /// For people.
    Table,
    /// For programs.
    Json,
}

/// A library with what mixing takes of it.
pub(super) struct Ready {
    pub(super) library: Library,
    pub(super) shelf: Shelf,
    pub(super) model: Model,
}

/// Opens the library and fits the model.
pub(super) fn ready(place: &Path, coating: Option<&str>) -> Result<Ready, Failure> {
    let library = library::open(place)?;
    let (shelf, model) = prepared(&library, coating)?;
    Ok(Ready {
        library,
        shelf,
        model,
    })
}

/// Fits the model; says on standard error which swatches were left out.
pub(super) fn prepared(
    library: &Library,
    coating: Option<&str>,
) -> Result<(Shelf, Model), Failure> {
    let shelf = Shelf::of(library, coating).map_err(of_shelf)?;
    for it in shelf.left_out_in_words() {
        say(&format!("left out: {}", printable(&it)));
    }
    let model = fit(&shelf.trials).map_err(|it| {
        let hint = it.hint();
        Failure::usage(it, hint)
    })?;
    Ok((shelf, model))
}

/// What the library lacks is wrong usage; a library that can't be read is not.
pub(super) fn of_shelf(error: ShelfError) -> Failure {
    let hint = error.hint();
    match error {
        ShelfError::Library(LibraryError::Unknown(..)) => Failure::usage(error, hint),
        ShelfError::Library(_) | ShelfError::Fade(_) => Failure::work(error, hint),
        _ => Failure::usage(error, hint),
    }
}

/// The model after so many hours, and what a reader must know of it.
pub(super) fn after(
    library: &Library,
    shelf: &Shelf,
    model: &Model,
    hours: f64,
) -> Result<(AgedModel, Vec<String>), Failure> {
    let seasons = Seasons::of(library, shelf).map_err(of_shelf)?;
    let seasons = seasons.ok_or_else(|| of_fades(FadesError::Nothing))?;
    seasons.at(model, hours).map_err(of_fades)
}

/// Nothing is known of that many hours.
pub(super) fn of_fades(error: FadesError) -> Failure {
    let hint = error.hint();
    Failure::work(error, hint)
}

/// What can't be predicted is wrong usage.
pub(super) fn of_predict(error: PredictError) -> Failure {
    let hint = error.hint();
    Failure::usage(error, hint)
}

/// Checks the loads of a mixture together.
pub(super) fn mixture(loads: &[Load], shelf: &Shelf) -> Result<Vec<Load>, Failure> {
    let no_mixture = |what: String| {
        Failure::usage(
            anyhow::Error::msg(what),
            "Loads are grams of each pigment per 100 g of mixed coating: PR101=12 PBk11=0.5.",
        )
    };
    for (index, it) in loads.iter().enumerate() {
        shelf.has_pigment(&it.pigment).map_err(of_shelf)?;
        if loads[..index]
            .iter()
            .any(|other| other.pigment == it.pigment)
        {
            return Err(no_mixture(format!(
                "{} is there twice; add up its loads",
                it.pigment
            )));
        }
    }
    let sum: f64 = loads.iter().map(|it| it.load).sum();
    if sum > MOST_LOAD {
        return Err(no_mixture(format!(
            "the loads add up to {sum}; more than {MOST_LOAD} g per 100 g would be more pigment than coating"
        )));
    }
    Ok(loads.iter().filter(|it| it.load > 0.0).cloned().collect())
}

/// As in panel files.
const MOST_LOAD: f64 = 100.0;

/// Parses `PIGMENT=LOAD`.
pub(super) fn load(text: &str) -> Result<Load, String> {
    const HINT: &str = "say PIGMENT=LOAD, such as PR101=12";
    let (pigment, load) = text.rsplit_once('=').ok_or(HINT)?;
    if pigment.is_empty() {
        return Err(HINT.to_owned());
    }
    match load.trim().parse::<f64>() {
        Ok(load) if load.is_finite() && load >= 0.0 => Ok(Load {
            pigment: pigment.to_owned(),
            load,
        }),
        Ok(load) => Err(format!(
            "a load of {load}: it is 0 or more grams per 100 g of mixed coating"
        )),
        Err(_) => Err(format!("{load} is no number; {HINT}")),
    }
}

fn coats(text: &str) -> Result<f64, String> {
    within(text, 100.0, "coats")
}

fn grams(text: &str) -> Result<f64, String> {
    within(text, 10_000.0, "g/m²")
}

fn within(text: &str, most: f64, unit: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(it) if it > 0.0 && it <= most => Ok(it),
        _ => Err(format!(
            "{text}: say a number above 0, at most {most} {unit}"
        )),
    }
}

/// Hours of exposure, above 0.
pub(super) fn hours(text: &str) -> Result<f64, String> {
    let hours = measure::hours(text)?;
    if hours > 0.0 {
        Ok(hours)
    } else {
        Err("0 hours is as made: leave --hours out".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loads_are_read_or_refused_with_the_way_to_say_them() {
        let it = load("PR101=12.5").unwrap();
        assert!(it.pigment == "PR101" && (it.load - 12.5).abs() < 1e-12);
        assert_eq!(load("a=b=2").unwrap().pigment, "a=b");
        for (bad, says) in [
            ("PR101", "PIGMENT=LOAD"),
            ("=12", "PIGMENT=LOAD"),
            ("PR101=-3", "a load of -3: it is 0 or more"),
            ("PR101=nan", "0 or more"),
            ("PR101=much", "much is no number"),
        ] {
            assert!(load(bad).unwrap_err().contains(says), "{bad}");
        }
    }
}
