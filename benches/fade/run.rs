//! The calls into the library that the fade figures rest on, and nothing else.

use masstone::correct::Tone;
use masstone::fade::{self, Report};
use masstone::measure::{Aids, Job, Masked, Pictures, photo_with};
use masstone::panel::Panel;
use masstone::record::{Dose, PhotoRecord, Settings};
use std::path::Path;

/// What the photos of hour 0 say of the masked halves.
pub(crate) fn masked_of(records: &[PhotoRecord]) -> Option<Masked> {
    Masked::of(records, &[])
}

/// Measures one photo; `aids` are those of all photos of its kind, as the program has them.
pub(crate) fn measure(
    path: &Path,
    hours: f64,
    panel: &Panel,
    aids: &Aids,
) -> Result<PhotoRecord, String> {
    let job = Job {
        path: path.to_owned(),
        dose: Dose::of_hours(Some(hours)),
        exposure: None,
        settings: Settings {
            upright: false,
            linear: false,
            tone: Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: aids.masked.as_ref().map(|it| it.digest().to_owned()),
        },
    };
    photo_with(&job, panel, aids, Pictures::default())
        .map(|it| it.record)
        .map_err(|it| it.reason)
}

/// What the records of one board come to.
pub(crate) fn assess(records: &[PhotoRecord]) -> Result<Report, String> {
    fade::assess(records, &fade::Options::default()).map_err(|it| it.to_string())
}
