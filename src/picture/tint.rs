//! A tint over the pixels that were left out of the means.

use super::Shown;
use super::upright::Upright;
use crate::geometry::Point;
use crate::sample::{self, Reason};
use image::RgbImage;
use std::collections::BTreeMap;

/// Highlights and what is clipped at the top.
pub(super) const HIGH: [u8; 3] = [255, 0, 200];
/// What is lost at the bottom.
pub(super) const LOW: [u8; 3] = [0, 210, 255];
/// How much of the photo a wholly left-out pixel hides.
const OPACITY: f64 = 0.8;
/// A single left-out pixel under a pixel of the view shows at least so much.
const FAINTEST: f64 = 0.35;

/// Tints the view wherever sampling left pixels out, the more of them the stronger.
pub(super) fn tint(view: &mut RgbImage, shown: &Shown<'_>, upright: &Upright) {
    let [width, height] = upright.shrunk();
    let (photo_width, photo_height) = (shown.photo.width, shown.photo.height);
    // Left-out stored pixels under each pixel of the shrunk picture: high, low. Few are: a map is smaller than a picture.
    let mut counts: BTreeMap<[usize; 2], [f64; 2]> = BTreeMap::new();
    sample::visit_left_out(
        shown.photo,
        shown.panel,
        shown.located,
        shown.samples,
        &mut |pixel| {
            let kind = usize::from(pixel.reason == Reason::ClippedLow);
            for y in pixel.at[1]..(pixel.at[1] + pixel.side).min(photo_height) {
                for x in pixel.at[0]..(pixel.at[0] + pixel.side).min(photo_width) {
                    let at = [x * width / photo_width, y * height / photo_height];
                    counts.entry(at).or_default()[kind] += 1.0;
                }
            }
        },
    );
    let pixels_under = 1.0 / upright.scale().min(1.0).powi(2);
    let larger = upright.scale().max(1.0).ceil();
    for ([column, row], [high, low]) in counts {
        let share = ((high + low) / pixels_under).min(1.0);
        let strength = OPACITY * share.max(FAINTEST);
        let colour = if high >= low { HIGH } else { LOW };
        let [x, y] = upright.pixel(column, row);
        let centre = Point::new(super::float(x) + 0.5, super::float(y) + 0.5);
        for at in square(centre, larger) {
            if let Some(pixel) = view.get_pixel_mut_checked(at[0], at[1]) {
                for (value, tint) in pixel.0.iter_mut().zip(colour) {
                    let mixed = f64::from(*value) * (1.0 - strength) + f64::from(tint) * strength;
                    *value = super::screen::byte(mixed);
                }
            }
        }
    }
}

/// The pixels of a square around a pixel: a view larger than the photo shows a stored pixel as several.
fn square(centre: Point, side: f64) -> impl Iterator<Item = [u32; 2]> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped at zero; the view is small"
    )]
    let start = |it: f64| (it - side / 2.0).max(0.0).round() as u32;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a magnification of at most a thousand"
    )]
    let side = side as u32;
    let (left, top) = (start(centre.x - 0.01), start(centre.y - 0.01));
    (0..side).flat_map(move |dy| (0..side).map(move |dx| [left + dx, top + dy]))
}
