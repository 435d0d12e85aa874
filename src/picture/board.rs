//! The board seen straight on, evened and calibrated.

use super::places::Quad;
use super::shrink::pixels;
use super::{Shown, float, screen};
use crate::correct::Correction;
use crate::geometry::{Point, Rect};
use crate::locate::Located;
use crate::photo::Photo;
use crate::sample::Region;
use image::{Rgb, RgbImage};
use nalgebra::Vector3;

/// Widest view of the board, px.
const WIDEST: usize = 1200;
/// What the photo doesn't show.
const NOT_SEEN: Rgb<u8> = Rgb([200, 200, 200]);
/// Rim around the board, as a share of its longer side.
const RIM: f64 = 0.02;
/// The same where the panel file doesn't say where the board ends.
const RIM_UNKNOWN: f64 = 0.08;
/// A card is shown beside the board as long as that makes the view's longer side at most so many times the board's.
const NEAR: f64 = 2.2;
/// A view wider than this, over its height, lies below the photo.
const WIDE: f64 = 2.2;

/// The stretch of the panel's plane that is shown, and how large.
#[derive(Clone, Copy, Debug)]
pub(super) struct Board {
    /// In panel millimetres.
    area: Rect,
    /// Pixels per millimetre.
    scale: f64,
    size: [usize; 2],
    /// Whether it lies below the photo, not to the right of it.
    below: bool,
}

impl Board {
    /// The board and the cards beside it, as large as the height of the photo's view allows.
    pub(super) fn new(shown: &Shown<'_>, photo_view: [usize; 2]) -> Self {
        let outer = shown.panel.outer();
        let longer = outer.width.max(outer.height);
        let cards = shown.located.cards.iter().filter_map(|found| {
            let card = &shown.panel.cards.get(found.index)?.card;
            let corners = card.outer().corners().map(|it| found.map.map(it));
            let mut on_panel = Vec::new();
            for corner in corners {
                on_panel.push(shown.located.panel.unmap(corner)?);
            }
            Some(around(&on_panel))
        });
        let rim = match shown.panel.board {
            Some(_) => RIM,
            None => RIM_UNKNOWN,
        };
        let area = cards
            .fold(outer, |all, card| {
                let both = all.union(&card);
                if both.width.max(both.height) <= NEAR * longer {
                    both
                } else {
                    all
                }
            })
            .inset(-rim * longer);
        let below = area.width > WIDE * area.height;
        let widest = if below { super::LONGEST_SIDE } else { WIDEST };
        let box_width = float(photo_view[0].clamp(600, widest));
        let box_height = float(photo_view[1].max(400));
        let scale = (box_width / area.width).min(box_height / area.height);
        let side = |mm: f64| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "within the box"
            )]
            {
                (mm * scale).floor().clamp(1.0, 1600.0) as usize
            }
        };
        Self {
            area,
            scale,
            size: [side(area.width), side(area.height)],
            below,
        }
    }

    /// Size of the view.
    pub(super) fn size(&self) -> [usize; 2] {
        self.size
    }

    /// Whether it is so wide that it lies below the photo.
    pub(super) fn below(&self) -> bool {
        self.below
    }

    /// Panel millimetres to pixels of the view.
    pub(super) fn point(&self, mm: Point) -> Point {
        Point::new(
            (mm.x - self.area.x) * self.scale,
            (mm.y - self.area.y) * self.scale,
        )
    }

    /// Where a sampled region lies in the view; none if it lies beyond the horizon of the panel's plane.
    pub(super) fn outline(&self, shown: &Shown<'_>, region: &Region) -> Option<Quad> {
        let mut corners = [Point::origin(); 4];
        for (corner, [x, y]) in corners.iter_mut().zip(region.outline) {
            *corner = self.point(shown.located.panel.unmap(Point::new(x, y))?);
        }
        Some(corners)
    }

    /// Every pixel through tone, light and colour.
    pub(super) fn render(&self, shown: &Shown<'_>) -> RgbImage {
        straight_on(
            shown.photo,
            shown.located,
            shown.correction,
            self.area.x,
            self.area.y,
            1.0 / self.scale,
            self.size,
        )
    }
}

/// A stretch of the panel's plane straight on, evened and calibrated: from its left top corner in millimetres, `step` of them a pixel.
pub(super) fn straight_on(
    photo: &Photo,
    located: &Located,
    correction: &Correction,
    left: f64,
    top: f64,
    step: f64,
    [width, height]: [usize; 2],
) -> RgbImage {
    let to_screen = screen::from_xyz();
    let mut view = RgbImage::new(pixels(width), pixels(height));
    let mm = |x: f64, y: f64| Point::new(left + x * step, top + y * step);
    // Corners of the view's pixels in the photo, for the lines above and below a row.
    let corners = |y: usize| -> Vec<Point> {
        (0..=width)
            .map(|x| located.panel.map(mm(float(x), float(y))))
            .collect()
    };
    let mut above = corners(0);
    for y in 0..height {
        let below = corners(y + 1);
        for x in 0..width {
            let quad = [above[x], above[x + 1], below[x + 1], below[x]];
            let colour = mean(photo, quad).map_or(NOT_SEEN, |rgb| {
                let at = mm(float(x) + 0.5, float(y) + 0.5);
                let xyz = correction.xyz_at(rgb, [at.x, at.y]);
                let linear: Vector3<f64> = to_screen * Vector3::new(xyz.x, xyz.y, xyz.z);
                Rgb(screen::bytes(linear.into()))
            });
            view.put_pixel(pixels(x), pixels(y), colour);
        }
        above = below;
    }
    view
}

/// The smallest upright rectangle around points.
fn around(points: &[Point]) -> Rect {
    let low = |axis: usize| {
        points
            .iter()
            .map(|it| it[axis])
            .fold(f64::INFINITY, f64::min)
    };
    let high = |axis: usize| {
        points
            .iter()
            .map(|it| it[axis])
            .fold(f64::NEG_INFINITY, f64::max)
    };
    Rect {
        x: low(0),
        y: low(1),
        width: high(0) - low(0),
        height: high(1) - low(1),
    }
}

/// Mean linear RGB of the photo over a small quadrilateral, from a few evenly spread pixels; none outside the photo.
fn mean(photo: &Photo, quad: [Point; 4]) -> Option<[f64; 3]> {
    let across = (quad[1] - quad[0]).norm().max((quad[3] - quad[0]).norm());
    let steps: u8 = match across {
        it if it <= 1.0 => 1,
        it if it <= 2.0 => 2,
        it if it <= 3.0 => 3,
        _ => 4,
    };
    let mut sum = [0.0; 3];
    for j in 0..steps {
        let v = (f64::from(j) + 0.5) / f64::from(steps);
        let left = quad[0] + (quad[3] - quad[0]) * v;
        let right = quad[1] + (quad[2] - quad[1]) * v;
        for i in 0..steps {
            let u = (f64::from(i) + 0.5) / f64::from(steps);
            let at = left + (right - left) * u;
            let (x, y) = (index(at.x, photo.width)?, index(at.y, photo.height)?);
            for (sum, value) in sum.iter_mut().zip(photo.linear(x, y)) {
                *sum += f64::from(value);
            }
        }
    }
    let n = f64::from(steps).powi(2);
    Some(sum.map(|it| it / n))
}

/// The pixel that a coordinate falls on; none outside.
fn index(at: f64, side: usize) -> Option<usize> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to lie within the side"
    )]
    (at >= 0.0 && at < float(side)).then_some(at as usize)
}
