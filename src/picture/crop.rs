//! Small pictures of the patches, so that a page can show the coat after the photos moved.

use super::board::straight_on;
use super::float;
use crate::correct::Correction;
use crate::geometry::Point;
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::Photo;
use crate::record::Half;
use crate::sample::{RegionKind, Samples};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder as _, RgbImage};

/// Longest side, px.
const LONGEST_SIDE: f64 = 160.0;
/// The same, as a count.
const LONGEST: usize = 160;
/// Most bytes that one may take.
pub const MOST_BYTES: usize = 16 * 1024;
/// JPEG qualities, tried until one is small enough; a picture of pure noise fits at the last, at this size.
const QUALITIES: [u8; 4] = [88, 75, 55, 30];

/// A half of a patch as it looks: straight on, white-balanced, its light evened, sRGB.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crop {
    /// The patch's id.
    pub patch: String,
    /// Which part of it.
    pub half: Half,
    /// JPEG, sRGB, at most [`MOST_BYTES`].
    pub jpeg: Vec<u8>,
}

/// A crop of every half of every patch that was sampled, without its rim. None of what the photo doesn't hold whole.
#[must_use]
pub fn crops(
    photo: &Photo,
    panel: &Panel,
    located: &Located,
    samples: &Samples,
    correction: &Correction,
) -> Vec<Crop> {
    let regions = samples.patches.iter().filter_map(|region| {
        let (patch, half) = match region.kind {
            RegionKind::Whole { patch } => (patch, Half::Whole),
            RegionKind::Masked { patch } => (patch, Half::Masked),
            RegionKind::Exposed { patch } => (patch, Half::Exposed),
            _ => return None,
        };
        let patch = panel.patches.get(patch)?;
        let rect = region.rect;
        let inside = rect.corners().iter().all(|corner| {
            let Point { coords, .. } = located.panel.map(*corner);
            (0.0..float(photo.width)).contains(&coords.x)
                && (0.0..float(photo.height)).contains(&coords.y)
        });
        let longer = rect.width.max(rect.height);
        if !inside || longer <= 0.0 {
            return None;
        }
        // No more pixels than the photo has.
        let corners = rect.corners().map(|it| located.panel.map(it));
        let in_photo = (corners[1] - corners[0])
            .norm()
            .max((corners[2] - corners[1]).norm());
        let step = longer / LONGEST_SIDE.min(in_photo).max(1.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "1 to the longest side"
        )]
        let side = |mm: f64| (mm / step).round().clamp(1.0, LONGEST_SIDE) as usize;
        let size = [side(rect.width), side(rect.height)];
        let view = straight_on(photo, located, correction, rect.x, rect.y, step, size);
        Some(Crop {
            patch: patch.id.clone(),
            half,
            jpeg: small_jpeg(&view)?,
        })
    });
    regions.collect()
}

/// Whether a picture is as crops are: JPEG, sRGB, small.
///
/// # Errors
///
/// If not: what is wrong, in words.
pub fn check(jpeg: &[u8]) -> Result<(), String> {
    if jpeg.len() > MOST_BYTES {
        return Err(format!(
            "it takes {} bytes (limit {MOST_BYTES})",
            jpeg.len()
        ));
    }
    crate::photo::check_small_jpeg(jpeg, LONGEST)
        .map_err(|it| format!("it is not the small JPEG that a crop is: it {it}"))
}

/// As JPEG of at most [`MOST_BYTES`]; none if it can't be had.
fn small_jpeg(view: &RgbImage) -> Option<Vec<u8>> {
    QUALITIES.into_iter().find_map(|quality| {
        let mut jpeg = Vec::new();
        // Without a profile it is read as sRGB, which it is; a profile would take more room than the picture.
        JpegEncoder::new_with_quality(&mut jpeg, quality)
            .write_image(view, view.width(), view.height(), ExtendedColorType::Rgb8)
            .ok()?;
        (jpeg.len() <= MOST_BYTES).then_some(jpeg)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::{RngCore as _, SeedableRng as _};

    #[test]
    fn even_noise_fits() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        let noise = RgbImage::from_fn(160, 160, |_, _| {
            let [r, g, b, _] = random.next_u32().to_le_bytes();
            image::Rgb([r, g, b])
        });
        let jpeg = small_jpeg(&noise).unwrap();
        check(&jpeg).unwrap();
    }
}
