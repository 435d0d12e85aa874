//! What the camera's own words make doubtful.

use crate::locate::Located;
use crate::photo::{EncodingSource, Photo};

/// What of the shot and the file a user of the readings should know, in words. Nothing of it changes a number.
pub(super) fn of(photo: &Photo, located: &Located) -> Vec<String> {
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
    if located.by_hand {
        doubts.push("the corners were given by hand".to_owned());
    }
    doubts
}
