//! The light that falls on the sensor, and its colour filters: what every picture of a scene shares, whatever is made of it.
//! Every draw of noise is seeded by its row, so the result does not depend on the number of threads.

use crate::develop::sharpening_spends;
use crate::scene::Scene;
use crate::sensor::{DEMOSAICING_SPENDS, Tile, blur, kernel};
use crate::shade::Shader;
use crate::spectrum::as_f64;
use crate::surface::single;
use crate::view::View;

/// Rows of one band.
pub(crate) const BAND: usize = 96;

/// One shot's optics.
pub(crate) struct Exposure<'a> {
    scene: &'a Scene,
    pub view: &'a View,
    shader: &'a Shader<'a>,
    /// Stray light, balanced RGB.
    flare: [f32; 3],
    /// Weights of the optics' blur.
    blur: Vec<f32>,
}

impl<'a> Exposure<'a> {
    /// Of a scene; a small picture shrinks a photo, which sharpens it.
    pub(crate) fn new(
        scene: &'a Scene,
        view: &'a View,
        shader: &'a Shader<'a>,
        flare: [f32; 3],
        small: bool,
    ) -> Self {
        let [width, height] = view.stored_size();
        let scale = single(width.max(height) / 4032.0);
        let full = single(scene.spec.camera.blur_px);
        let blur = if small {
            (full * scale).hypot(0.45)
        } else {
            full
        };
        Self {
            scene,
            view,
            shader,
            flare,
            blur: kernel(blur),
        }
    }

    /// Width of the margin that a band needs, pixels. It is the same for raw and developed pictures, so that the seeds are.
    pub(crate) fn margin(&self, filters: bool) -> usize {
        let demosaicing = if filters { DEMOSAICING_SPENDS } else { 0 };
        self.blur.len() / 2 + sharpening_spends(self.scene) + demosaicing
    }

    /// A band of the picture with a margin on every side, balanced RGB before noise and saturation.
    pub(crate) fn band(&self, y0: usize, rows: usize, columns: usize, margin: usize) -> Tile {
        let mut tile = self.trace(y0, rows, columns, margin);
        blur(&mut tile, &self.blur);
        tile
    }

    fn trace(&self, y0: usize, rows: usize, columns: usize, margin: usize) -> Tile {
        let (width, height) = (columns + 2 * margin, rows + 2 * margin);
        let mut data = Vec::with_capacity(width * height);
        let offset = as_f64(margin);
        let size = self.view.stored_size();
        let corner2 = (size[0] * size[0] + size[1] * size[1]) / 4.0;
        let camera = &self.scene.spec.camera;
        let px = single(self.view.mm_per_px([
            f64::from(self.shader.half_extent()),
            f64::from(self.shader.half_extent()),
        ]));
        for y in 0..height {
            let v = as_f64(y0 + y) - offset + 0.5;
            for x in 0..width {
                let u = as_f64(x) - offset + 0.5;
                let r2 = ((u - size[0] / 2.0).powi(2) + (v - size[1] / 2.0).powi(2)) / corner2;
                let fall = single(camera.white_level * (1.0 - camera.vignetting * r2));
                let rgb = self.view.to_mm([u, v]).map_or([0.2; 3], |mm| {
                    self.shader.shade([single(mm[0]), single(mm[1])], px)
                });
                let flare = self.flare;
                data.push([
                    rgb[0] * fall + flare[0],
                    rgb[1] * fall + flare[1],
                    rgb[2] * fall + flare[2],
                ]);
            }
        }
        Tile {
            width,
            height,
            data,
        }
    }
}
