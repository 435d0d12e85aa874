//! From a library to a range: which swatches, in which order, and how they look.

use super::board;
use super::error::PublishError;
use super::paler;
use super::range::{LeftOut, Other, Picture, Range, Swatch};
use super::settings::{Named, Settings};
use super::swatch::Reader;
use crate::library::Library;
use crate::library::find::{Filter, Sort};
use crate::library::recipe;
use crate::panel::error::{Problem, Problems};
use crate::record::Program;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;

/// The title of a range that has none.
const TITLE: &str = "Measured colours";

pub(super) fn gather(library: &Library, settings: &Settings) -> Result<Range, PublishError> {
    let ids = Numbers::of(library, settings)?;
    let mut listed = library.list(&Filter::default(), Sort::Number)?;
    let mut left_out: Vec<LeftOut> = Vec::new();
    for it in library.never_measured()? {
        left_out.push(omitted(&it, "no photo of it could be measured"));
    }
    listed.retain(|it| {
        let cured = it.cure.iter().all(|it| it == "cured");
        let why = if ids.leave_out.contains(&it.swatch.id) {
            "the settings leave it out"
        } else if it.swatch.recipe.pigments.is_empty() && !settings.show.controls {
            "it has no pigment; `show` can name \"controls\""
        } else if !cured && !settings.show.failed {
            "it did not cure well; `show` can name \"failed\""
        } else {
            return true;
        };
        left_out.push(omitted(&it.swatch, why));
        false
    });
    // The order that the settings give, then by number: a stable sort.
    let place = |id: i64| {
        let at = ids.order.iter().position(|it| *it == id);
        at.unwrap_or(ids.order.len())
    };
    listed.sort_by_key(|it| place(it.swatch.id));
    left_out.sort_by_key(|it| it.id);
    if listed.is_empty() {
        return Err(nothing(&left_out));
    }

    let mut pictures = Pictures::default();
    let boards = library.boards()?;
    let mut reader = Reader::new(library, settings, &ids, &boards)?;
    let mut swatches = Vec::with_capacity(listed.len());
    for it in listed {
        swatches.push(reader.swatch(it, &mut pictures)?);
    }
    if settings.show.loads {
        set_loads(&mut swatches);
        paler::set(library, &mut swatches);
    }
    Ok(Range {
        title: settings.title.clone().unwrap_or_else(|| TITLE.to_owned()),
        text: settings.text.clone(),
        home: settings.home.clone(),
        accent: settings.accent,
        show: settings.show,
        boards: board::boards(&boards, &swatches, &reader.as_made),
        swatches,
        left_out,
        pictures: pictures.files,
        program: Program::this(),
    })
}

fn omitted(it: &recipe::Swatch, why: &str) -> LeftOut {
    LeftOut {
        id: it.id,
        name: name(it),
        why: why.to_owned(),
    }
}

/// A swatch's name for people, where the settings give none.
pub(super) fn name(it: &recipe::Swatch) -> String {
    it.name.clone().unwrap_or_else(|| it.recipe.in_short())
}

fn nothing(left_out: &[LeftOut]) -> PublishError {
    let Some(first) = left_out.first() else {
        return PublishError::Nothing(
            "no swatch is in the library".to_owned(),
            "Measure photos into it: `masstone measure PHOTO --panel FILE --library FILE`.",
        );
    };
    PublishError::Nothing(
        format!(
            "all {} swatches are left out, {} (swatch {}) because {}",
            left_out.len(),
            first.name,
            first.id,
            first.why
        ),
        "Say in the settings file what to `show`, or take swatches out of `leave_out`.",
    )
}

/// The numbers of the swatches that the settings name.
pub(super) struct Numbers {
    order: Vec<i64>,
    leave_out: Vec<i64>,
    /// One for each entry of [`Settings::swatches`].
    pub(super) described: Vec<i64>,
}

impl Numbers {
    fn of(library: &Library, settings: &Settings) -> Result<Self, PublishError> {
        let mut problems = Problems::default();
        let mut find = |it: &Named| {
            let found = library.find_swatch(&it.word).map_err(|error| {
                Problem::new(it.spot.clone(), error.to_string()).with_hint(error.hint())
            });
            problems.keep(found).map(|it| it.id)
        };
        let mut all =
            |names: &[Named]| -> Vec<i64> { names.iter().filter_map(&mut find).collect() };
        let order = all(&settings.order);
        let leave_out = all(&settings.leave_out);
        let described =
            all(&(settings.swatches.iter().map(|it| it.swatch.clone())).collect::<Vec<_>>());
        for (index, id) in described.iter().enumerate() {
            // With a name that is not there the lists differ in length, and that was put down.
            if let (true, Some(it)) = (
                described[..index].contains(id),
                settings.swatches.get(index),
            ) {
                let message = format!("swatch {id} is described twice, under two names");
                problems.add(
                    Problem::new(it.swatch.spot.clone(), message)
                        .with_hint("Put it into one place."),
                );
            }
        }
        // Where each was found, each has its place in the settings.
        let ordered = settings.order.iter().zip(&order);
        for (index, (it, id)) in ordered
            .enumerate()
            .filter(|_| order.len() == settings.order.len())
        {
            let what = if order[..index].contains(id) {
                "comes twice"
            } else if leave_out.contains(id) {
                "is left out, too"
            } else {
                continue;
            };
            let message = format!("`order`: swatch {id} {what}");
            problems.add(Problem::new(it.spot.clone(), message).with_hint("Take one of them out."));
        }
        let problems = problems.into_list();
        if problems.is_empty() {
            Ok(Self {
                order,
                leave_out,
                described,
            })
        } else {
            Err(PublishError::Settings(problems))
        }
    }
}

/// Pictures by name.
#[derive(Debug, Default)]
pub(super) struct Pictures {
    files: BTreeMap<String, Vec<u8>>,
}

impl Pictures {
    /// Keeps a JPEG; none if it can't be read.
    pub(super) fn keep(&mut self, jpeg: &[u8]) -> Option<Picture> {
        let (width, height) = size(jpeg)?;
        // A quarter of the digest tells millions of pictures apart and keeps names short.
        let digest = format!("{:x}", Sha256::digest(jpeg));
        let file = format!("{}.jpg", &digest[..16]);
        self.files
            .entry(file.clone())
            .or_insert_with(|| jpeg.to_vec());
        Some(Picture {
            file,
            width,
            height,
        })
    }
}

fn size(jpeg: &[u8]) -> Option<(u32, u32)> {
    let reader =
        image::ImageReader::with_format(std::io::Cursor::new(jpeg), image::ImageFormat::Jpeg);
    reader.into_dimensions().ok()
}

/// The share of a pigment may differ by this much between loads: rounding of what was weighed (common practice, no source).
const SAME_SHARE: f64 = 0.01;

/// Finds for each swatch those of the same pigments in the same proportion, coated in the same way.
fn set_loads(swatches: &mut [Swatch]) {
    // What has to be equal, as text.
    let key = |it: &Swatch| {
        let mut recipe = it.recipe.clone();
        for pigment in &mut recipe.pigments {
            pigment.load = 0.0;
        }
        serde_json::to_string(&(recipe, &it.only_panel)).ok()
    };
    let mut alike: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (index, it) in swatches.iter().enumerate() {
        if !it.recipe.pigments.is_empty()
            && let Some(key) = key(it)
        {
            alike.entry(key).or_default().push(index);
        }
    }
    for group in alike.into_values().filter(|it| it.len() > 1) {
        let families: Vec<Vec<Other>> = (group.iter())
            .map(|&one| {
                let mut family: Vec<Other> = (group.iter())
                    .filter(|&&other| same_proportion(&swatches[one], &swatches[other]))
                    .map(|&other| Other {
                        swatch: other,
                        load: swatches[other].load(),
                    })
                    .collect();
                family.sort_by(|a, b| a.load.total_cmp(&b.load).then(a.swatch.cmp(&b.swatch)));
                family
            })
            .collect();
        for (one, family) in group.into_iter().zip(families) {
            if family.len() > 1 {
                swatches[one].loads = family;
            }
        }
    }
}

fn same_proportion(one: &Swatch, other: &Swatch) -> bool {
    let (all, all_other) = (one.load(), other.load());
    let pairs = one.recipe.pigments.iter().zip(&other.recipe.pigments);
    pairs.into_iter().all(|(a, b)| {
        a.pigment == b.pigment && (a.load / all - b.load / all_other).abs() <= SAME_SHARE
    })
}
