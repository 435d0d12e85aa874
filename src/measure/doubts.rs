//! What of a photo is doubtful: the camera's own words, the location, the correction.

use crate::correct::{Correction, ToneSource};
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::{EncodingSource, Photo};

/// Share of the patches' outlines below which too few were seen to say nothing: common practice, no source.
const FEW_OUTLINES: f64 = 0.75;

/// What a user of the readings should know, in words. Nothing of it changes a number.
pub(super) fn of(
    photo: &Photo,
    panel: &Panel,
    located: &Located,
    correction: &Correction,
) -> Vec<String> {
    let mut doubts = of_shot(photo);
    doubts.extend(of_location(panel, located));
    doubts.extend(of_correction(correction));
    doubts
}

fn of_shot(photo: &Photo) -> Vec<String> {
    let shot = &photo.metadata;
    let mut doubts = Vec::new();
    if photo.encoding.source == EncodingSource::AssumedSrgb {
        doubts.push("the file names no colour space: sRGB was assumed".to_owned());
    }
    if shot.flash_fired == Some(true) {
        doubts.push("the flash fired: its light is uneven and glares".to_owned());
    }
    if let Some(zoom) = shot.digital_zoom.filter(|it| *it > 1.0) {
        doubts.push(format!("digital zoom {zoom:.1}: pixels were made up"));
    }
    for it in &shot.processing {
        doubts.push(format!("processed in the camera: {it}"));
    }
    doubts
}

fn of_location(panel: &Panel, located: &Located) -> Vec<String> {
    let mut doubts = Vec::new();
    if located.by_hand {
        doubts.push("the corners were given by hand".to_owned());
    }
    if located.quality.seen < FEW_OUTLINES {
        doubts.push(format!(
            "only {:.0} % of the patches' outlines were seen: compare the proof",
            100.0 * located.quality.seen
        ));
    }
    for (index, placed) in panel.cards.iter().enumerate() {
        if !located.cards.iter().any(|it| it.index == index) {
            doubts.push(format!(
                "card `{}` was not found: it calibrates nothing",
                placed.card.id
            ));
        }
    }
    doubts
}

fn of_correction(correction: &Correction) -> Vec<String> {
    let mut doubts = Vec::new();
    if correction.tone.source == ToneSource::Assumed {
        doubts.push(
            "the camera's tone curve was assumed: too few neutral references to see it".to_owned(),
        );
    }
    if !correction.light.seen {
        doubts.push("nothing shows how even the light was: it was taken as even".to_owned());
    }
    for it in correction.references.iter().filter(|it| it.weight <= 0.0) {
        doubts.push(format!(
            "{} does not fit the other references and was left out",
            it.reference.name
        ));
    }
    doubts
}
