//! What a job is to look like: a swatch of the library, or a patch of a panel file.
//!
//! Takes what was coated there and what is asked otherwise; gives the surface of the job, where each fact of it was taken from,
//! and what may make its colour another: other lots, another substrate, more or less coating.

mod lots;

pub use lots::{Compared, LotLeft};

use super::material::{Coating, Recipe};
use super::taken::{SAID, Taken};
use super::{PlanError, PutOn, Surface};
use schemars::JsonSchema;
use serde::Serialize;

/// Specimens of one swatch that differ by more than this in what went on them, as a share, are told of (common practice, no source).
const SPREAD: f64 = 0.1;
/// A job that differs by more than this from its swatch in grams per square metre is told of (common practice, no source).
const OTHER_FILM: f64 = 0.05;

/// What a job is to look like.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Like {
    /// What the user called it.
    pub called: String,
    /// Its name, for people.
    pub name: Option<String>,
    /// Where it is found: `swatch 3 of the library`.
    pub source: String,
    /// Its pigments, without lots, and its coating.
    pub recipe: Recipe,
    /// What it is on, if anybody said.
    pub substrate: Option<String>,
    /// In how many coats, if anybody said.
    pub coats: Option<f64>,
    /// What was weighed onto its specimens.
    pub weighed: Vec<Weighed>,
    /// The lots that its specimens name.
    pub lots: Vec<String>,
    /// Lots of its pigment that the library knows, and what is left of them; only where there is one pigment.
    pub stock: Vec<LotLeft>,
    /// What the library says of its lots, each against another.
    pub compared: Vec<Compared>,
}

/// What was weighed onto a specimen.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Weighed {
    /// The specimen: `PANEL/PATCH`.
    pub of: String,
    /// Tinted wet coating, all coats together, g/m².
    pub g_per_m2: f64,
}

/// What is asked of a job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// The area, m².
    pub area_m2: f64,
    /// In how many coats; none: as the swatch.
    pub coats: Option<u32>,
    /// What a coat takes was said for this job, so that it goes before what the swatch had.
    pub states_coats: bool,
    /// What is to be coated; none: what the swatch is on.
    pub substrate: Option<String>,
}

/// A job's surface with its background.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// What is coated.
    pub surface: Surface,
    /// Where that was taken from.
    pub taken: Vec<Taken>,
    /// What may make its colour another than the swatch's.
    pub notes: Vec<String>,
}

impl Like {
    /// The surface of a job in this recipe (that of [`Like::with_lots`]), with its background.
    ///
    /// # Errors
    /// If nobody said how much coating is put on.
    pub fn job(&self, asked: &Asked, recipe: &Recipe, coating: &Coating) -> Result<Job, PlanError> {
        let there = PutOn {
            wet_g_per_m2: self.wet_g_per_m2(),
            coats: self.coats,
            coat_g_per_m2: coating.coat_g_per_m2,
        };
        let here = PutOn {
            wet_g_per_m2: there.wet_g_per_m2.filter(|_| !asked.states_coats),
            ..there
        };
        let here = asked.coats.map_or(here, |it| here.in_coats(it));
        let (wet_g_per_m2, coats) = here.in_all().ok_or_else(|| PlanError::NoAmount {
            of: self.called.clone(),
        })?;
        let mut taken = vec![Taken::new(
            "recipe",
            format!("{} in {}", self.recipe, self.recipe.coating),
            &self.source,
        )];
        taken.push(Taken::new(
            "coats",
            coats.to_string(),
            match (asked.coats, self.coats) {
                (Some(_), _) => SAID,
                (None, Some(_)) => &self.source,
                (None, None) => "nobody said; one is taken",
            },
        ));
        taken.push(Taken::new(
            "wet coating",
            format!("{wet_g_per_m2:.0} g/m² in all"),
            self.wet_from(&here, asked),
        ));
        let mut notes = self.film_notes(&there, wet_g_per_m2, coats, coating);
        self.substrate(asked, &mut taken, &mut notes);
        Ok(Job {
            surface: Surface {
                id: self.called.clone(),
                name: self.name.clone(),
                recipe: recipe.clone(),
                area_m2: asked.area_m2,
                wet_g_per_m2,
                coats,
            },
            taken,
            notes,
        })
    }

    /// The mean of what was weighed onto its specimens, g/m².
    fn wet_g_per_m2(&self) -> Option<f64> {
        let sum: f64 = self.weighed.iter().map(|it| it.g_per_m2).sum();
        let count = f64::from(u32::try_from(self.weighed.len()).ok()?);
        (count > 0.0).then_some(sum / count)
    }

    /// Where the grams per square metre of a job come from, for people.
    fn wet_from(&self, put_on: &PutOn, asked: &Asked) -> String {
        let coats = put_on.coats.unwrap_or(1.0);
        if put_on.wet_g_per_m2.is_none() {
            let per_coat = put_on.coat_g_per_m2.unwrap_or(0.0);
            return format!("{coats} × {per_coat} g/m², what a coat takes");
        }
        let mut from = match &self.weighed[..] {
            [one] => format!("weighed on {}", one.of),
            all => format!(
                "the mean of {} weighed specimens, {:.0} to {:.0} g/m²",
                all.len(),
                self.least(),
                self.most()
            ),
        };
        if let (Some(_), Some(before)) = (asked.coats, self.coats)
            && (before - coats).abs() > 1e-9
        {
            from += &format!(", each coat as there: × {coats} ÷ {before}");
        }
        from
    }

    fn least(&self) -> f64 {
        let weighed = self.weighed.iter().map(|it| it.g_per_m2);
        weighed.fold(f64::INFINITY, f64::min)
    }

    fn most(&self) -> f64 {
        self.weighed
            .iter()
            .map(|it| it.g_per_m2)
            .fold(0.0, f64::max)
    }

    /// How the job's film differs from the swatch's, where that is known.
    fn film_notes(&self, there: &PutOn, wet: f64, coats: u32, coating: &Coating) -> Vec<String> {
        let mut notes = Vec::new();
        if self.weighed.len() > 1 && self.most() > self.least() * (1.0 + SPREAD) {
            notes.push(format!(
                "The swatch's specimens took {:.0} to {:.0} g/m²; their mean is planned. Name one of them, PANEL/PATCH, to be like that one.",
                self.least(),
                self.most()
            ));
        }
        if self.weighed.is_empty() && self.coats.is_some() {
            notes.push("Nobody weighed what went onto the swatch: what a coat usually takes is planned. State `wet_g_per_m2` in panel files to know better.".to_owned());
        }
        let other_coats = self
            .coats
            .is_some_and(|it| (it.ceil() - f64::from(coats)).abs() > 1e-9);
        let other_film = there
            .in_all()
            .is_some_and(|it| (wet / it.0 - 1.0).abs() > OTHER_FILM);
        if other_coats || other_film {
            let swatch = match (there.in_all(), self.coats) {
                (Some((wet, _)), Some(coats)) => format!("{wet:.0} g/m² in {coats} coats"),
                (Some((wet, _)), None) => format!("{wet:.0} g/m²"),
                (None, Some(coats)) => format!("{coats} coats"),
                (None, None) => "another amount".to_owned(),
            };
            notes.push(format!(
                "The swatch has {swatch}, this job {wet:.0} g/m² in {coats}: more or less of {} is another colour. Coat a trial piece first.",
                coating.name
            ));
        }
        notes
    }

    fn substrate(&self, asked: &Asked, taken: &mut Vec<Taken>, notes: &mut Vec<String>) {
        match (&self.substrate, &asked.substrate) {
            (Some(there), Some(here)) if there != here => {
                taken.push(Taken::new("substrate", here, SAID));
                notes.push(format!(
                    "The swatch is on {there}, this job on {here}: the same coating looks otherwise there. Coat a trial piece first."
                ));
            }
            (Some(there), _) => {
                taken.push(Taken::new("substrate", there, &self.source));
                notes.push(format!(
                    "The swatch's colour is that on {there}. On anything else coat a trial piece first."
                ));
            }
            (None, here) => {
                let here = here.iter().map(|it| Taken::new("substrate", it, SAID));
                taken.extend(here);
                notes.push(
                    "Nobody said what the swatch is on; on another substrate it is another colour."
                        .to_owned(),
                );
            }
        }
    }
}
