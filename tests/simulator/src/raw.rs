//! The picture where it leaves the sensor: a mosaic of values that nothing has balanced, developed or coded.

use crate::camera::{CameraId, balanced_weights, fit_matrix};
use crate::develop::LocalTone;
use crate::exposure::{BAND, Exposure};
use crate::render::clipped;
use crate::scene::Scene;
use crate::sensor::{DEMOSAICING_SPENDS, Sensor, Tile, channel, demosaic};
use crate::shade::Shader;
use crate::surface::single;
use crate::truth::Truth;
use rayon::prelude::*;

/// A Bayer array, by its first two rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Cfa {
    /// Red, green; green, blue.
    Rggb,
    /// Green, red; blue, green.
    Grbg,
    /// Green, blue; red, green.
    Gbrg,
    /// Blue, green; green, red.
    Bggr,
}

impl Cfa {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Rggb, Self::Grbg, Self::Gbrg, Self::Bggr];

    /// A camera's own.
    #[must_use]
    pub fn of(camera: CameraId) -> Self {
        Self::ALL[camera.number % 4]
    }

    /// How far right of and below a red filter the first pixel is.
    pub(crate) fn phase(self) -> [usize; 2] {
        match self {
            Self::Rggb => [0, 0],
            Self::Grbg => [1, 0],
            Self::Gbrg => [0, 1],
            Self::Bggr => [1, 1],
        }
    }

    /// Channel (0 red, 1 green, 2 blue) of the pixel at column x, row y.
    #[must_use]
    pub fn channel(self, x: usize, y: usize) -> usize {
        channel([x, y], self.phase())
    }
}

/// What a sensor holds after an exposure, with its truth.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorImage {
    /// Stored width, pixels.
    pub width: u32,
    /// Stored height, pixels.
    pub height: u32,
    /// Its colour filters.
    pub cfa: Cfa,
    /// One value a pixel, row by row, as a share of full scale: 0 is dark, noise goes below it, 1 is saturated. All channels have
    /// the same full scale; none is balanced.
    pub values: Vec<f32>,
    /// What is true of it. `camera_lab` is through the matrix fitted for the scene's own light, rightly balanced; `clipped` counts
    /// saturated photosites.
    pub truth: Truth,
    /// What balances red, green and blue for the scene's light, at least 1: the channel of gain 1 is the first to saturate.
    pub(crate) gains: [f64; 3],
    /// Read noise, standard deviation as a share of full scale.
    pub(crate) read_noise: f64,
}

impl Scene {
    /// The sensor's values at a stored size. Light, noise and their seeds are those of [`Scene::render`]; of one scene and
    /// size, an array that begins with red has the very values that the developed picture comes from.
    #[must_use]
    pub fn render_sensor(&self, width: u32, height: u32, cfa: Cfa) -> SensorImage {
        let view = self.view([width, height]);
        let shader = Shader::new(self, view.centre());
        let flare = LocalTone::new(self, &view, &shader).flare(self);
        let exposure = Exposure::new(self, &view, &shader, flare, false);
        let sensor = Sensor::new(self, false);
        let least = self.raw_gains.iter().copied().fold(f64::MAX, f64::min);
        let gains = self.raw_gains.map(|it| it / least);
        // Where a channel saturates in balanced RGB, and what turns that into shares of full scale.
        let ceiling = gains.map(single);
        let margin = exposure.margin(true);
        let columns = width as usize;
        let mut values = vec![0f32; columns * height as usize];
        values
            .par_chunks_mut(columns * BAND)
            .enumerate()
            .for_each(|(band, rows)| {
                let y0 = band * BAND;
                let tile = exposure.band(y0, rows.len() / columns, columns, margin);
                let [right, down] = cfa.phase();
                let phase = [margin + right, y0 + margin + down];
                let mosaic = sensor.filtered(&tile, y0, phase, ceiling);
                for (y, row) in rows.chunks_exact_mut(columns).enumerate() {
                    let from = &mosaic[(y + margin) * tile.width + margin..][..columns];
                    for (x, (out, value)) in row.iter_mut().zip(from).enumerate() {
                        *out = value / ceiling[cfa.channel(x, y0 + y)];
                    }
                }
            });
        let sensitivities = self.spec.camera.id.sensitivities();
        let matrix = fit_matrix(&balanced_weights(&sensitivities, &self.spec.mean_light()));
        let mut truth = self.truth_through([width, height], &matrix);
        for patch in &mut truth.patches {
            patch.clipped = clipped(width, height, &patch.quad, |at| values[at] >= 1.0);
        }
        SensorImage {
            width,
            height,
            cfa,
            values,
            truth,
            gains,
            read_noise: self.spec.camera.read_noise * least,
        }
    }
}

impl SensorImage {
    /// Camera RGB of a neutral surface in the scene's light, the largest 1.
    #[must_use]
    pub fn neutral(&self) -> [f64; 3] {
        self.gains.map(|it| 1.0 / it)
    }

    /// The same as the camera believes it: with the error of its white balance.
    #[must_use]
    pub fn as_shot_neutral(&self) -> [f64; 3] {
        let error = self.truth.spec.camera.balance_error;
        let believed: [f64; 3] = std::array::from_fn(|c| 1.0 / (self.gains[c] * error[c]));
        let largest = believed.iter().copied().fold(0.0, f64::max);
        believed.map(|it| it / largest)
    }

    /// Three values a pixel, by the same interpolation as in developed pictures, mirrored at the edges; not balanced, and cut at
    /// full scale. Needs three pixels a side.
    #[must_use]
    pub fn demosaiced(&self) -> Vec<[f32; 3]> {
        let (width, height) = (self.width as usize, self.height as usize);
        let spent = DEMOSAICING_SPENDS;
        let gains = self.gains.map(single);
        // Interpolation carries detail from channel to channel, so they are balanced for it.
        let mut mosaic = Vec::with_capacity((width + 2 * spent) * (height + 2 * spent));
        for y in 0..height + 2 * spent {
            let y = mirrored(y, height);
            for x in 0..width + 2 * spent {
                let x = mirrored(x, width);
                mosaic.push(self.values[y * width + x] * gains[self.cfa.channel(x, y)]);
            }
        }
        let mut tile = Tile {
            width: width + 2 * spent,
            height: height + 2 * spent,
            data: vec![[0.0; 3]; mosaic.len()],
        };
        // The margin is even, so the phase is the picture's.
        demosaic(&mut tile, &mosaic, self.cfa.phase());
        tile.data
            .chunks_exact(tile.width)
            .skip(spent)
            .take(height)
            .flat_map(|row| &row[spent..spent + width])
            .map(|rgb| std::array::from_fn(|c| (rgb[c] / gains[c]).min(1.0)))
            .collect()
    }
}

/// The pixel of a picture that a place in it with its margin repeats: mirrored in the outermost one, so that filters keep
/// their places.
fn mirrored(place: usize, size: usize) -> usize {
    let spent = DEMOSAICING_SPENDS;
    if place < spent {
        spent - place
    } else {
        (place - spent).min(2 * (size - 1) + spent - place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::develop::Developer;
    use crate::light::Split;
    use crate::render::Pixels;
    use crate::spec::{Encoding, Mixture, SceneSpec};

    /// What the developed picture comes from is what the sensor holds: interpolated, balanced and developed it is that picture.
    #[test]
    fn developed_and_raw_pictures_share_the_sensor() {
        let mut spec = SceneSpec::draw(Mixture::Flawless, Split::Test, 5);
        spec.camera.encoding = Encoding::Linear;
        spec.camera.shot_noise = 0.02;
        spec.camera.flare = 0.01;
        let scene = spec.build();
        let image = scene.render_sensor(400, 300, Cfa::Rggb);
        let view = scene.view([400, 300]);
        let local = LocalTone::new(&scene, &view, &Shader::new(&scene, view.centre()));
        let gains = image.gains.map(single);
        let mut data: Vec<[f32; 3]> = image
            .demosaiced()
            .iter()
            .map(|rgb| std::array::from_fn(|c| rgb[c] * gains[c]))
            .collect();
        Developer::new(&scene, local).develop(&mut data, 400, 0, 0, [400.0, 300.0]);
        let Pixels::U16(codes) = scene.render_16(400, 300).pixels else {
            unreachable!("16 bits were asked for");
        };
        for (x, y) in (2..298).flat_map(|y| (2..398).map(move |x| (x, y))) {
            let at = y * 400 + x;
            for (c, value) in data[at].iter().enumerate() {
                let off = value * 65535.0 - f32::from(codes[at * 3 + c]);
                assert!(off.abs() < 1.0, "({x}, {y}), channel {c}: {off}");
            }
        }
    }

    /// Mirroring keeps filters in their places.
    #[test]
    fn edges_are_mirrored() {
        let places: Vec<usize> = (0..9).map(|it| mirrored(it, 5)).collect();
        assert_eq!(places, [2, 1, 0, 1, 2, 3, 4, 3, 2]);
    }
}
