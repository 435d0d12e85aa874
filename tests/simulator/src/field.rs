//! How light falls over the board.

use crate::spec::Field;
use crate::surface::single;

/// A field in single precision, about the middle of the grid.
pub(crate) struct Fall {
    linear: [f32; 2],
    quadratic: [f32; 3],
    lamp: Option<[f32; 3]>,
    lamp_middle: f32,
    centre: [f32; 2],
    scale: f32,
}

impl Fall {
    pub(crate) fn new(field: &Field, centre: [f32; 2], half_extent: f32) -> Self {
        let lamp = field.lamp.map(|it| it.map(single));
        let mut fall = Self {
            linear: field.linear.map(single),
            quadratic: field.quadratic.map(single),
            lamp,
            lamp_middle: 1.0,
            centre,
            scale: 1.0 / half_extent,
        };
        fall.lamp_middle = fall.lamp_at(centre);
        fall
    }

    fn lamp_at(&self, [x, y]: [f32; 2]) -> f32 {
        self.lamp.map_or(1.0, |[lx, ly, height]| {
            let r2 = ((x - lx).powi(2) + (y - ly).powi(2)) / (height * height);
            // Inverse square and cosine of a small source.
            1.0 / ((1.0 + r2) * (1.0 + r2).sqrt())
        })
    }

    /// The light at a place, 1 in the middle.
    pub(crate) fn at(&self, place: [f32; 2]) -> f32 {
        // Far from the board the light stays what it was: a polynomial would run away.
        let x = ((place[0] - self.centre[0]) * self.scale).clamp(-1.8, 1.8);
        let y = ((place[1] - self.centre[1]) * self.scale).clamp(-1.8, 1.8);
        let [xx, xy, yy] = self.quadratic;
        let log = self.linear[0] * x + self.linear[1] * y + xx * x * x + xy * x * y + yy * y * y;
        log.clamp(-2.5, 1.0).exp() * self.lamp_at(place) / self.lamp_middle
    }
}
