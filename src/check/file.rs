//! What the file says of itself: size, colour space, and what the camera did.

use super::{Finding, Item};
use crate::photo::{EncodingSource, Photo};

/// Judged from the header and the tags alone. A missing tag is not a flaw.
pub(super) fn findings(photo: &Photo) -> Vec<Finding> {
    let meta = &photo.metadata;
    // What a sensor's cell holds is not lost in the pixel that is made of it.
    let [width, height] = meta.sensor.unwrap_or([photo.width, photo.height]);
    #[expect(
        clippy::cast_precision_loss,
        reason = "pixel counts lie far below 2^52"
    )]
    let megapixels = (width * height) as f64 / 1e6;
    let mut findings = vec![
        Finding::new(
            Item::PhotoSize,
            megapixels,
            format!("{width} × {height} pixels"),
        ),
        colour_space(photo),
        Finding::new(
            Item::Processing,
            #[expect(clippy::cast_precision_loss, reason = "a handful of tags")]
            {
                meta.processing.len() as f64
            },
            meta.processing.join(", "),
        ),
    ];
    if let Some(zoom) = meta.digital_zoom {
        // Some cameras write 0 for "not used".
        findings.push(Finding::new(Item::DigitalZoom, zoom.max(1.0), ""));
    }
    if let Some(fired) = meta.flash_fired {
        findings.push(Finding::new(Item::Flash, f64::from(u8::from(fired)), ""));
    }
    findings
}

fn colour_space(photo: &Photo) -> Finding {
    let assumed = photo.encoding.source == EncodingSource::AssumedSrgb;
    Finding::new(
        Item::ColourSpace,
        f64::from(u8::from(assumed)),
        photo.encoding.name.clone(),
    )
}
