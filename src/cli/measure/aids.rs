//! The files that help to measure beside the panel: a saved correction, and a blank.

use super::super::failure::Failure;
use super::args::Plan;
use masstone::measure::{Aids, Blank, files};
use masstone::photo;
use masstone::record::saved;
use std::path::Path;

/// Opens them, and notes in the settings of every photo which they were.
pub(super) fn open(plan: &mut Plan) -> Result<Aids, Failure> {
    let mut aids = Aids::default();
    if let Some(path) = &plan.correction {
        // A file that says how to measure, as the panel is: if it makes no sense, nothing can be done.
        let read = saved::read(path).map_err(|it| {
            let hint = it.hint();
            Failure::usage(it, hint)
        })?;
        let hash = files::sha256(path).map_err(|it| Failure::usage(it, ""))?;
        plan.settings.correction = Some(hash);
        aids.saved = Some(read);
    }
    if let Some(path) = &plan.blank {
        let blank = open_blank(path, plan.settings.linear)?;
        plan.settings.blank = Some(blank.sha256().to_owned());
        aids.blank = Some(blank);
    }
    Ok(aids)
}

/// Opens the photo of a blank.
pub(in crate::cli) fn open_blank(path: &Path, linear: bool) -> Result<Blank, Failure> {
    Blank::open(path, &photo::Options { linear }).map_err(|it| {
        let hint = it.hint.clone();
        Failure::work(it, hint)
    })
}
