//! A range out of a library: the demo board measured fresh and after 1500 hours, with names that try to get out of their place.

use crate::by_hand::NAMES;
use masstone::library::Library;
use masstone::library::notes::Note;
use masstone::measure::{self, Aids, Job, Pictures};
use masstone::publish::{Range, Settings};
use masstone::record::{Dose, PhotoRecord};
use std::path::Path;
use std::sync::OnceLock;

fn measured(hours: &str) -> PhotoRecord {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let panel = masstone::panel::read(&samples.join("larch-2026-03.toml")).unwrap();
    let job = Job {
        path: samples.join(format!("larch-2026-03-{hours}h.jpg")),
        dose: Dose::of_hours(Some(hours.parse().unwrap())),
        exposure: None,
        settings: masstone::record::Settings {
            upright: false,
            linear: false,
            tone: masstone::correct::Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
    };
    let pictures = Pictures {
        proof: false,
        crops: false,
    };
    measure::photo_with(&job, &panel, &Aids::default(), pictures)
        .unwrap()
        .record
}

/// The library, filled once.
fn library() -> &'static tempfile::TempDir {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let mut records = [measured("0"), measured("1500")];
        for it in &mut records {
            for (patch, name) in it.photo.panel.patches.iter_mut().zip(NAMES) {
                patch.name = Some(name.to_owned());
            }
        }
        let mut library = Library::open_or_begin(&folder.path().join("swatches.sqlite")).unwrap();
        library.add(&records).unwrap();
        let note = Note {
            panel: "larch-2026-03".into(),
            patch: "A1".into(),
            word: "cured".into(),
            date: "2026-03-04".into(),
            text: Some("</p> */ \"".into()),
            ..Note::default()
        };
        library.note(&note).unwrap();
        folder
    })
}

/// Gathers it anew.
pub(crate) fn gather() -> Range {
    let library = Library::open(&library().path().join("swatches.sqlite")).unwrap();
    Range::gather(&library, &Settings::default()).unwrap()
}

/// Gathered once.
pub(crate) fn range() -> &'static Range {
    static RANGE: OnceLock<Range> = OnceLock::new();
    RANGE.get_or_init(gather)
}
