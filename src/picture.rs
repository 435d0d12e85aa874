//! The proof: a picture that shows what was measured and what was made of it.
//!
//! Takes a photo, where everything lies in it, its samples and their correction; gives one picture. On the left the photo,
//! turned upright by where the panel lies (not by the camera's tag), with the outline of every sampled region, the patches' ids
//! and flags, and a tint over pixels that were left out. Beside it the same board seen straight on, each pixel taken
//! through tone, light and colour. Below, what was used and what to beware of.
//!
//! Besides [`crate::sample`] and [`crate::check`] nothing else reads pixels. The photo is read once, row by row; no second
//! full copy of it is made. Colours are sRGB and the written file says so; what sRGB can't show is clipped in the picture only.

mod board;
mod cards;
mod crop;
mod figures;
mod file;
mod flags;
mod labels;
mod legend;
mod names;
mod notes;
mod page;
mod places;
mod screen;
mod shrink;
mod tint;
mod upright;

pub use crop::{Crop, MOST_BYTES as CROP_BYTES, check as check_crop, crops};
pub use file::write_jpeg;

use crate::correct::{Corrected, Correction};
use crate::drawing::{Drawing, Unit};
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::Photo;
use crate::sample::Samples;
use image::{RgbImage, RgbaImage};
use upright::Upright;

/// Longest side of the photo in the picture, px.
pub const LONGEST_SIDE: usize = 1600;

/// Everything that a proof shows; all of one photo.
#[derive(Clone, Copy, Debug)]
struct Shown<'a> {
    photo: &'a Photo,
    panel: &'a Panel,
    located: &'a Located,
    samples: &'a Samples,
    correction: &'a Correction,
    readings: &'a [Corrected],
}

/// Draws the proof of one measured photo.
///
/// # Panics
///
/// Never: the sides of a sheet are bounded by those of its two views and a few lines of text.
#[must_use]
pub fn proof(
    photo: &Photo,
    panel: &Panel,
    located: &Located,
    samples: &Samples,
    correction: &Correction,
    readings: &[Corrected],
) -> RgbImage {
    let shown = Shown {
        photo,
        panel,
        located,
        samples,
        correction,
        readings,
    };
    let upright = Upright::new(photo, panel, located);
    let mut view = shrink::shrink(photo, &upright);
    tint::tint(&mut view, &shown, &upright);
    let board = board::Board::new(&shown, upright.size());
    let evened = board.render(&shown);

    let notes = notes::Notes::new(&shown, &upright, &board);
    let page = page::Page::new(&notes, &upright, &board);
    let mut canvas = page.canvas();
    place(&mut canvas, &view, page.photo_at);
    place(&mut canvas, &evened, page.board_at);
    drop((view, evened));
    let (width, height) = canvas.dimensions();
    let mut drawing = Drawing::new(f64::from(width), f64::from(height), Unit::Pixel);
    notes.on_photo(&mut drawing, &upright, page.photo_at);
    notes.on_board(&mut drawing, &board, page.board_at);
    page.write(&mut drawing);
    drawing
        .paint(&mut canvas)
        .expect("a page has pixels, and its sides are bounded");
    opaque(&canvas)
}

/// Copies a picture onto the canvas, its top left corner at `at`.
fn place(canvas: &mut RgbaImage, picture: &RgbImage, at: [u32; 2]) {
    for (x, y, pixel) in picture.enumerate_pixels() {
        let [r, g, b] = pixel.0;
        if let Some(target) = canvas.get_pixel_mut_checked(at[0] + x, at[1] + y) {
            target.0 = [r, g, b, u8::MAX];
        }
    }
}

/// The canvas is opaque everywhere: its alpha is dropped.
fn opaque(canvas: &RgbaImage) -> RgbImage {
    RgbImage::from_fn(canvas.width(), canvas.height(), |x, y| {
        let [r, g, b, _] = canvas.get_pixel(x, y).0;
        image::Rgb([r, g, b])
    })
}

#[expect(
    clippy::cast_precision_loss,
    reason = "pixel counts lie far below 2^52"
)]
fn float(n: usize) -> f64 {
    n as f64
}
