//! From a specimen's changes to its figures in the report.

use super::assess::Courses;
use super::change::{Changed, Course};
use super::kinetics::{self, Point, Points};
use super::parts::{self, CoatingChange};
use super::report::{Change, Patch};
use super::{difference, scale, told, words};
use crate::colour::{
    Lab, Matrix, difference as colour_difference, grey_scale, lightfastness, srgb, yellowness,
};
use crate::library::recipe::Recipe;
use crate::record::{ControlEntry, PatchEntry};
use nalgebra::Vector3;

/// One specimen, for what is told over several.
#[derive(Clone, Debug)]
pub(super) struct Specimen {
    /// What it is of; none where the panel file leaves that open.
    pub(super) recipe: Option<Recipe>,
    pub(super) kind: String,
    /// `panel patch`.
    pub(super) name: String,
    /// The patch's id.
    pub(super) patch: String,
    /// What tints it, for people; empty where nobody said.
    pub(super) made_of: String,
    pub(super) control: Option<ControlEntry>,
    pub(super) course: Course,
    /// Whether it was asked for; others count in what is told over several all the same.
    pub(super) asked: bool,
}

/// The coating's change at each dose, from the control on an inert white.
pub(super) type Coating = Vec<(f64, CoatingChange)>;

pub(super) fn patch(
    specimen: &Specimen,
    entry: &PatchEntry,
    coating: &Coating,
    courses: Courses,
) -> Patch {
    let start = specimen.course.start;
    Patch {
        patch: entry.id.clone(),
        name: entry.name.clone(),
        made_of: specimen.made_of.clone(),
        control: entry.control,
        start: start.map(Into::into),
        start_hex: start.map(|it| srgb::to_hex(difference::lab(&it))),
        changes: start.map_or_else(Vec::new, |start| {
            let all = specimen.course.changes.iter();
            all.filter_map(|it| {
                change_entry(
                    &start,
                    it,
                    &specimen.course.shared,
                    specimen.control,
                    coating,
                )
            })
            .collect()
        }),
        course: match courses {
            Courses::Fitted => course(&specimen.course),
            Courses::LeftOut => None,
        },
    }
}

/// The course over the dose; none where there is none to tell.
pub(super) fn course(course: &Course) -> Option<kinetics::Course> {
    let start = difference::lab(&course.start?);
    let points = course.changes.iter().map(|it| Point {
        dose: it.dose,
        change: it.lab.into(),
        covariance: it.own + it.scale * (1.0 - scale::SHARED),
    });
    kinetics::course(&Points {
        start,
        points: points.collect(),
        shared: course.shared,
        scale: course.scale,
        leak: course.leak,
    })
}

/// A change in all its figures; none for what is no number.
pub(super) fn change_entry(
    start: &Vector3<f64>,
    changed: &Changed,
    shared: &Matrix,
    control: Option<ControlEntry>,
    coating: &Coating,
) -> Option<Change> {
    let covariance = changed.own + changed.leak + changed.scale + shared;
    let (before, after) = (
        difference::lab(start),
        difference::lab(&(start + changed.lab)),
    );
    let told = told::told(before, changed.lab, &covariance, None)?;
    // Where nothing changed the scale has nothing to be off by, and a mask nothing to let through: noise alone is what none is told from.
    let none = told::by_noise(before, changed.lab, &(changed.own + shared))?;
    let split = colour_difference::parts(before, after);
    let de_ab = changed.lab.norm();
    let (yellowness, why_no_yellowness) = of_yellowness(before, after, control);
    let by_coating = coating
        .iter()
        .find(|it| control.is_none() && it.0.total_cmp(&changed.dose).is_eq())
        .and_then(|it| parts::parts(before, changed.lab, &it.1).ok());
    Some(Change {
        dose: changed.dose,
        hours: changed.hours,
        photos: changed.photos,
        dl: changed.lab.x,
        da: changed.lab.y,
        db: changed.lab.z,
        dc: split.chroma,
        dh: split.hue,
        de_ab,
        de_00: told.de_00,
        u95_de_00: told.u95,
        interval_de_00: told.interval,
        detection_limit: none.detection_limit,
        significant: none.significant,
        p: none.p,
        covariance: [0, 1, 2].map(|i| [0, 1, 2].map(|j| covariance[(i, j)])),
        words: (words::words(before, changed.lab, &covariance, none.significant).iter())
            .map(|it| it.name().to_owned())
            .collect(),
        grade: grey_scale::grade(before, after).name().to_owned(),
        band: lightfastness::band(de_ab).name().to_owned(),
        yellowness,
        why_no_yellowness,
        unevenness: changed.unevenness,
        parts: by_coating,
        flags: changed.flags.clone(),
    })
}

/// Change of the yellowness index, or why there is none.
fn of_yellowness(before: Lab, after: Lab, control: Option<ControlEntry>) -> (Option<f64>, String) {
    if control != Some(ControlEntry::ClearOnWhite) {
        let why = "the index is for a coated white only; see the change of b*";
        return (None, why.to_owned());
    }
    let both = || {
        yellowness::suits(before)?;
        yellowness::suits(after)
    };
    if let Err(why) = both() {
        return (None, why.to_string());
    }
    match (
        yellowness::yellowness(before),
        yellowness::yellowness(after),
    ) {
        (Some(before), Some(after)) => (Some(after - before), String::new()),
        _ => (None, "the colour is black".to_owned()),
    }
}
