//! One swatch with all that is published of it.

use super::error::PublishError;
use super::gather::{Numbers, Pictures, name};
use super::range::{Age, Change, Exposed, Family, Pack, Picture, Reading, Swatch, Tone};
use super::settings::{OfPigment, Settings};
use crate::colour::{Lab, Matrix};
use crate::fade::{self, Report};
use crate::library::boards::{BoardEntry, SpecimenCrop};
use crate::library::catalog::{Coating, Pigment};
use crate::library::find::Listed;
use crate::library::photos::Paths;
use crate::library::recipe::Recipe;
use crate::library::show::Specimen;
use crate::library::statistics::Estimate;
use crate::library::{Exposure, Library};
use crate::panel::error::Problem;
use crate::record::{Half, PhotoRecord, SideEntry};
use std::collections::BTreeMap;

/// Reads swatches, with what many of them have in common read once.
pub(super) struct Reader<'a> {
    library: &'a Library,
    settings: &'a Settings,
    numbers: &'a Numbers,
    pigments: BTreeMap<String, Pigment>,
    coatings: BTreeMap<String, Coating>,
    paths: Paths,
    /// The specimen that a patch is now, by panel and patch: where its facts were corrected, another one was there.
    current: BTreeMap<(String, String), i64>,
    /// How each specimen looked at the exposure that stands for its swatch as made, where a picture was kept; another one would not be what the
    /// frame around it is.
    pub(super) as_made: BTreeMap<i64, Picture>,
    /// What the sun did, by panel and patch.
    exposed: BTreeMap<(String, String), Vec<Course>>,
}

/// A specimen's course, with its pictures as files.
struct Course {
    exposed: Exposed,
    /// By dose, dose 0 first: masked and exposed.
    pictures: Vec<(f64, Halves)>,
}

/// Pictures of the masked and of the exposed half.
type Halves = [Option<Vec<u8>>; 2];

impl<'a> Reader<'a> {
    pub(super) fn new(
        library: &'a Library,
        settings: &'a Settings,
        numbers: &'a Numbers,
        boards: &[BoardEntry],
    ) -> Result<Self, PublishError> {
        let pigments = (library.pigments()?.into_iter()).map(|it| (it.id.clone(), it));
        let coatings = (library.coatings()?.into_iter()).map(|it| (it.id.clone(), it));
        let current = boards.iter().flat_map(|board| {
            (board.specimens.iter())
                .map(|it| ((board.panel.id.clone(), it.patch.clone()), it.specimen))
        });
        let reader = Self {
            current: current.collect(),
            as_made: BTreeMap::new(),
            library,
            settings,
            numbers,
            pigments: pigments.collect(),
            coatings: coatings.collect(),
            paths: Paths::default(),
            exposed: if settings.show.exposure {
                courses(library)?
            } else {
                BTreeMap::new()
            },
        };
        reader.check_pigments()?;
        Ok(reader)
    }

    /// That every pigment of the settings is one of the library's.
    fn check_pigments(&self) -> Result<(), PublishError> {
        let mut known = self
            .library
            .names(crate::library::catalog::Named::Pigment)?;
        known.extend(self.pigments.keys().cloned());
        let unknown = (self.settings.pigments.iter())
            .map(|it| &it.pigment)
            .filter(|it| !known.contains(&it.word));
        let problems: Vec<Problem> = unknown
            .map(|it| {
                let message = format!("no swatch of the library holds the pigment {}", it.word);
                Problem::new(it.spot.clone(), message)
                    .with_hint("`masstone library pigments` lists those that there are.")
            })
            .collect();
        if problems.is_empty() {
            Ok(())
        } else {
            Err(PublishError::Settings(problems))
        }
    }

    pub(super) fn swatch(
        &mut self,
        listed: Listed,
        pictures: &mut Pictures,
    ) -> Result<Swatch, PublishError> {
        let id = listed.swatch.id;
        let at = self.numbers.described.iter().position(|it| *it == id);
        let said = at.and_then(|it| self.settings.swatches.get(it));
        let specimens = self.library.specimens(id)?;
        let mut crops = Vec::new();
        for it in &specimens {
            let of_it = self.library.crops_of_specimen(it.id)?;
            let fresh = of_it.iter().find(|it| it.exposure == listed.exposure);
            if let Some(picture) = fresh.and_then(|it| pictures.keep(&it.jpeg)) {
                self.as_made.insert(it.id, picture);
            }
            crops.extend(of_it);
        }
        let colours = self.library.colours_of(id)?;
        let mut ages: Vec<Age> = (colours.iter())
            .map(|it| Age {
                masked: it.exposure.masked,
                half: it.half,
                hours: it.exposure.hours,
                tone: tone(&it.mean),
                picture: crop(&crops, it.exposure).and_then(|it| pictures.keep(it)),
            })
            .collect();
        let as_made = (colours.iter()).position(|it| it.exposure == listed.exposure);
        let of = as_made.and_then(|it| ages.get(it)).ok_or_else(|| {
            crate::library::LibraryError::Unknown(
                format!("the colour of swatch {id} is not there any more"),
                "Run the command again: the library was being written to.",
            )
        })?;
        let (tone, hours, picture) = (of.tone, of.hours, of.picture.clone());
        let mut readings = self.readings(id)?;
        if !self.settings.show.exposure {
            // What stands for the colour as made stays, and what that is made of.
            let as_made = as_made.unwrap_or_default();
            ages = vec![ages.swap_remove(as_made)];
            let kept = |it: &Reading| it.hours == hours || it.hours.is_none_or(|it| it <= 0.0);
            readings.retain(kept);
        }
        let recipe = listed.swatch.recipe.clone();
        Ok(Swatch {
            id,
            name: (said.and_then(|it| it.name.clone())).unwrap_or_else(|| name(&listed.swatch)),
            text: said.map(|it| it.text.clone()).unwrap_or_default(),
            shop: said.and_then(|it| it.shop.clone()),
            only_panel: listed.swatch.only_panel.clone(),
            families: self.families(&recipe),
            tone,
            hours,
            picture,
            exposed: self.exposed(&specimens, pictures),
            loads: Vec::new(),
            lighter: Vec::new(),
            cure: listed.cure,
            notes: self.library.notes(id)?,
            patches: (specimens.iter())
                .map(|it| (it.panel.clone(), it.patch.clone()))
                .collect(),
            readings,
            packs: self.packs(&recipe, &specimens),
            ages,
            recipe,
        })
    }

    fn families(&self, recipe: &Recipe) -> Vec<Family> {
        let mut all: Vec<Family> = (recipe.pigments.iter())
            .map(|it| {
                let known = self.pigments.get(&it.pigment);
                let index = known.and_then(|it| it.colour_index.as_deref());
                Family::of(index.unwrap_or(&it.pigment))
            })
            .collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    fn exposed(&self, specimens: &[Specimen], pictures: &mut Pictures) -> Vec<Exposed> {
        let courses = (specimens.iter())
            .filter_map(|it| {
                let place = (it.panel.clone(), it.patch.clone());
                let is_it = self.current.get(&place) == Some(&it.id);
                self.exposed.get(&place).filter(|_| is_it)
            })
            .flatten();
        courses
            .map(|course| {
                let mut keep = |dose: f64| {
                    let found = (course.pictures.iter()).find(|it| it.0.total_cmp(&dose).is_eq());
                    let both = found.map(|it| &it.1);
                    [0, 1].map(|half| {
                        let jpeg = both.and_then(|it| it[half].as_deref());
                        jpeg.and_then(|it| pictures.keep(it))
                    })
                };
                let mut exposed = course.exposed.clone();
                exposed.start = keep(0.0);
                for it in &mut exposed.changes {
                    it.halves = keep(it.dose);
                }
                exposed
            })
            .collect()
    }

    fn readings(&mut self, swatch: i64) -> Result<Vec<Reading>, PublishError> {
        let sources = self.library.sources(swatch, &mut self.paths)?;
        let mut all = Vec::new();
        for source in &sources {
            for it in &source.readings {
                all.push(Reading {
                    panel: source.panel.clone(),
                    patch: it.patch.clone(),
                    half: it.half,
                    hours: source.hours,
                    photo: source.file_name().to_owned(),
                    sha256: source.sha256.clone(),
                    taken: source.taken.clone(),
                    camera: source.camera.clone(),
                    correction: source.correction.clone(),
                    lab: it.lab.map(|it| [it.l, it.a, it.b].map(rounded)),
                    u95: it.u95.map(rounded),
                    counts: it.counts,
                });
            }
        }
        Ok(all)
    }

    fn packs(&self, recipe: &Recipe, specimens: &[Specimen]) -> Vec<Pack> {
        let g_per_m2 = self.g_per_m2(recipe, specimens);
        let load: f64 = recipe.pigments.iter().map(|it| it.load).sum();
        (recipe.pigments.iter())
            .map(|it| {
                let said = (self.settings.pigments.iter()).find(|of| of.pigment.word == it.pigment);
                let known = self.pigments.get(&it.pigment);
                let pack_g = said.and_then(|it| it.pack_g);
                // A load is grams per 100 g of coating before any pigment.
                let tints_g = pack_g.map(|pack| pack / it.load * 100.0);
                let text = |of: fn(&OfPigment) -> Option<&String>| said.and_then(of).cloned();
                Pack {
                    pigment: it.pigment.clone(),
                    maker_name: known.and_then(|it| it.maker_name.clone()),
                    pack_g,
                    tints_g,
                    // What is weighed on a coat is tinted coating.
                    covers_m2: tints_g
                        .zip(g_per_m2)
                        .map(|(tints, per_m2)| tints * (1.0 + load / 100.0) / per_m2),
                    price: text(|it| it.price.as_ref()),
                    shop: text(|it| it.shop.as_ref()),
                    stock: known
                        .filter(|_| self.settings.show.stock)
                        .map(|it| it.stock),
                }
            })
            .collect()
    }

    /// Wet coating, all coats together: as weighed on its specimens, else as the recipe or the coating's facts say.
    fn g_per_m2(&self, recipe: &Recipe, specimens: &[Specimen]) -> Option<f64> {
        let weighed: Vec<f64> = specimens.iter().filter_map(|it| it.g_per_m2).collect();
        if !weighed.is_empty() {
            return Some(weighed.iter().sum::<f64>() / crate::sample::float(weighed.len()));
        }
        recipe.g_per_m2.or_else(|| {
            let coating = self.coatings.get(recipe.coating.as_ref()?)?;
            Some(coating.coat_g_per_m2? * recipe.coats?)
        })
    }
}

/// What the sun did to all specimens of the library.
fn courses(library: &Library) -> Result<BTreeMap<(String, String), Vec<Course>>, PublishError> {
    let mut records: Vec<PhotoRecord> = Vec::new();
    let mut jpegs: BTreeMap<(String, String, Half), Vec<u8>> = BTreeMap::new();
    for panel in library.panels_with_halves()? {
        records.extend(library.series(&panel)?);
        for it in library.crops_of(&panel)? {
            jpegs.insert((it.sha256, it.patch, it.half), it.jpeg);
        }
    }
    // Nothing exposed, or nothing masked: what can't be told from none isn't there to be shown.
    let Ok(report) = fade::changes(&records) else {
        return Ok(BTreeMap::new());
    };
    let shown = fade::shown::crops(&records, |photo, patch, half| {
        let key = (photo.to_owned(), patch.to_owned(), half);
        jpegs.get(&key).cloned()
    });
    Ok(by_patch(&report, &records, shown))
}

fn by_patch(
    report: &Report,
    records: &[PhotoRecord],
    shown: Vec<fade::page::Crop>,
) -> BTreeMap<(String, String), Vec<Course>> {
    let mut pictures: BTreeMap<(String, String, String), Vec<(f64, Halves)>> = BTreeMap::new();
    for it in shown {
        let doses = pictures
            .entry((it.panel, it.patch, it.dose_kind))
            .or_default();
        let half = usize::from(it.half == Half::Exposed);
        match doses.iter_mut().find(|of| of.0.total_cmp(&it.dose).is_eq()) {
            Some(of) => of.1[half] = it.picture,
            None => {
                let mut both = [None, None];
                both[half] = it.picture;
                doses.push((it.dose, both));
            }
        }
    }
    let mut all: BTreeMap<(String, String), Vec<Course>> = BTreeMap::new();
    for board in &report.boards {
        for patch in board.patches.iter().filter(|it| !it.changes.is_empty()) {
            let key = (board.panel.clone(), patch.patch.clone());
            let shown = (key.0.clone(), key.1.clone(), board.dose_kind.clone());
            all.entry(key).or_default().push(Course {
                exposed: Exposed {
                    panel: board.panel.clone(),
                    patch: patch.patch.clone(),
                    dose_kind: board.dose_kind.clone(),
                    conditions: board.conditions.clone(),
                    masked: side(records, &board.panel, &patch.patch),
                    changes: patch.changes.iter().map(change).collect(),
                    start: [None, None],
                },
                pictures: pictures.remove(&shown).unwrap_or_default(),
            });
        }
    }
    all
}

/// Which half of a patch lay under the mask.
fn side(records: &[PhotoRecord], panel: &str, patch: &str) -> Option<SideEntry> {
    let panels = records.iter().map(|it| &it.photo.panel);
    let panel = panels.into_iter().find(|it| it.id == panel)?;
    let patch = panel.patches.iter().find(|it| it.id == patch)?;
    patch.masked
}

fn change(it: &fade::report::Change) -> Change {
    Change {
        dose: it.dose,
        hours: it.hours,
        de_00: rounded(it.de_00),
        u95: rounded(it.u95_de_00),
        interval: it.interval_de_00.map(rounded),
        detection_limit: rounded(it.detection_limit),
        told: it.significant,
        words: it.words.clone(),
        grade: it.grade.clone(),
        halves: [None, None],
    }
}

fn tone(it: &Estimate) -> Tone {
    let lab = Lab::new(rounded(it.lab.l), rounded(it.lab.a), rounded(it.lab.b));
    Tone {
        lab,
        covariance: covariance(&it.parts.total()),
        u95: it.u95().map(rounded),
        u95_of_another: it.u95_of_another().map(rounded),
        specimens: it.specimens,
        photos: it.photos,
        disagree: it.disagreeing.len(),
    }
}

/// To nine decimals: the last bits differ between machines.
pub(super) fn covariance(it: &Matrix) -> Matrix {
    it.map(|it| (it * 1e9).round() / 1e9 + 0.0)
}

/// To three decimals, a hundredth of what is uncertain.
pub(super) fn rounded(it: f64) -> f64 {
    (it * 1e3).round() / 1e3 + 0.0
}

/// The first specimen's picture at an exposure.
fn crop(crops: &[SpecimenCrop], at: Exposure) -> Option<&[u8]> {
    let found = crops.iter().find(|it| it.exposure == at)?;
    Some(&found.jpeg)
}
