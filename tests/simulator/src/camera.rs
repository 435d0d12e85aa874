//! Cameras: spectral sensitivities, and the matrix from balanced camera RGB to the colours of a file.

use crate::colorimetry::{d50_white, matrix, xyz_d50};
use crate::light::Split;
use crate::paint;
use crate::random::{between, normal, stream};
use crate::spectrum::{Spectrum, chart_24, measured_camera, wavelength};
use nalgebra::{Matrix3, Vector3};
use serde::{Deserialize, Serialize};

/// Number of cameras in each split.
pub const CAMERAS_PER_SPLIT: usize = 8;

/// How much weaker red, green and blue photosites answer to equal energy than their sensitivities, which are scaled alike, say.
pub(crate) const WEAKNESS: [f64; 3] = [1.5, 1.0, 1.4];

/// One of the cameras, by split and number (0–7).
///
/// The even numbers of the test split derive from measured camera 1, of the study split from a blend of both; the odd
/// ones are sums of Gaussians with an infrared and an ultraviolet cut, as a phone's. All but test camera 0 (camera 1 as
/// measured) are shifted, broadened and reweighted at random.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CameraId {
    /// The family.
    pub split: Split,
    /// Number in the family; taken modulo [`CAMERAS_PER_SPLIT`].
    pub number: usize,
}

impl CameraId {
    /// Red, green and blue sensitivities, relative; equal energy gives (1, 1, 1).
    #[must_use]
    pub fn sensitivities(&self) -> [Spectrum; 3] {
        let number = self.number % CAMERAS_PER_SPLIT;
        let seed = match self.split {
            Split::Study => 0x57_0d1e,
            Split::Test => 0x7e_57ed,
        };
        let mut rng = stream(seed, number as u64);
        let raw = match (self.split, number) {
            (Split::Test, 0) => measured_camera(1),
            (Split::Test, n) if n % 2 == 0 => perturb(&mut rng, measured_camera(1)),
            (Split::Study, n) if n % 2 == 0 => {
                let (one, two) = (measured_camera(1), measured_camera(2));
                let share = between(&mut rng, 0.15, 0.35);
                let blend = std::array::from_fn(|c| unit(&one[c]).lerp(&unit(&two[c]), share));
                perturb(&mut rng, blend)
            }
            _ => gaussian(&mut rng),
        };
        raw.map(|it| unit(&it))
    }
}

/// Scaled to sum 1.
fn unit(spectrum: &Spectrum) -> Spectrum {
    let sum: f64 = spectrum.0.iter().sum();
    spectrum.map(|it| it / sum)
}

/// Shifts, broadens and cross-talks measured sensitivities a little, as one make differs from another.
fn perturb(rng: &mut rand_chacha::ChaCha8Rng, from: [Spectrum; 3]) -> [Spectrum; 3] {
    let moved: [Spectrum; 3] = from.map(|it| {
        let shift = normal(rng, 4.0);
        let stretch = 1.0 + normal(rng, 0.05);
        let peak = (0..71)
            .max_by(|a, b| it.0[*a].total_cmp(&it.0[*b]))
            .map_or(550.0, wavelength);
        Spectrum::from_nm(|nm| it.at(peak + (nm - shift - peak) / stretch))
    });
    let talk = between(rng, 0.0, 0.04);
    let cut = between(rng, 655.0, 690.0);
    let sum = moved[0]
        .zip(&moved[1], |a, b| a + b)
        .zip(&moved[2], |a, b| a + b);
    moved.map(|it| {
        it.zip(&sum, |own, all| own * (1.0 - talk) + all * talk / 3.0)
            .times(&Spectrum::from_nm(|nm| falling(nm, cut, 10.0)))
    })
}

/// Filters of a small sensor: one main lobe each, a weak second one, an infrared and an ultraviolet cut.
fn gaussian(rng: &mut rand_chacha::ChaCha8Rng) -> [Spectrum; 3] {
    let mut lobe = |peak: f64, left: f64, right: f64| {
        let (peak, left, right) = (
            peak + normal(rng, 5.0),
            left * (1.0 + normal(rng, 0.08)),
            right * (1.0 + normal(rng, 0.08)),
        );
        move |nm: f64| {
            let width = if nm < peak { left } else { right };
            (-0.5 * ((nm - peak) / width).powi(2)).exp()
        }
    };
    let (red, green, blue) = (
        lobe(600.0, 24.0, 48.0),
        lobe(533.0, 33.0, 36.0),
        lobe(457.0, 24.0, 29.0),
    );
    let (red2, green2, blue2) = (
        lobe(450.0, 30.0, 40.0),
        lobe(620.0, 25.0, 50.0),
        lobe(550.0, 40.0, 60.0),
    );
    let (w_red, w_green, w_blue) = (
        between(rng, 0.01, 0.06),
        between(rng, 0.02, 0.10),
        between(rng, 0.02, 0.08),
    );
    let (ir, uv) = (between(rng, 650.0, 690.0), between(rng, 400.0, 418.0));
    let window = move |nm: f64| falling(nm, ir, 9.0) * (1.0 - falling(nm, uv, 6.0));
    [
        Spectrum::from_nm(|nm| window(nm) * (red(nm) + w_red * red2(nm))),
        Spectrum::from_nm(|nm| window(nm) * (green(nm) + w_green * green2(nm))),
        Spectrum::from_nm(|nm| window(nm) * (blue(nm) + w_blue * blue2(nm))),
    ]
}

/// 1 well below `nm0`, 0 well above.
fn falling(nm: f64, nm0: f64, width: f64) -> f64 {
    1.0 / (1.0 + ((nm - nm0) / width).exp())
}

/// Camera RGB of a reflectance under a light, (1, 1, 1) for the perfect white: as after a right white balance.
#[must_use]
pub fn balanced(reflectance: &Spectrum, weights: &[Spectrum; 3]) -> Vector3<f64> {
    Vector3::from(weights.each_ref().map(|it| it.dot(reflectance)))
}

/// Sensitivity times light, scaled so that the perfect white gives (1, 1, 1).
#[must_use]
pub fn balanced_weights(sensitivities: &[Spectrum; 3], light: &Spectrum) -> [Spectrum; 3] {
    sensitivities.each_ref().map(|it| unit(&it.times(light)))
}

/// The colour matrix that a maker would fit for this camera and light: balanced camera RGB to XYZ under D50, least
/// squares over 24 chart patches and 40 everyday surfaces, weighted towards dark colours as the eye would, with
/// white carried to white exactly.
#[must_use]
pub fn fit_matrix(weights: &[Spectrum; 3]) -> Matrix3<f64> {
    let mut surfaces: Vec<Spectrum> = chart_24().to_vec();
    surfaces.extend(paint::training());
    // The residual from grey: rows of M − (white/3)·… in coordinates where white is fixed, M·1 = white.
    // Unknown per row: two coefficients; the third follows.
    let white = d50_white();
    let mut rows = [[0.0; 3]; 3];
    for (k, row) in rows.iter_mut().enumerate() {
        let (mut a11, mut a12, mut a22, mut b1, mut b2) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for surface in &surfaces {
            let rgb = balanced(surface, weights);
            let xyz = xyz_d50(surface);
            let weight = 1.0 / (0.02 + xyz[1]).powf(4.0 / 3.0);
            let (u, v, t) = (rgb[0] - rgb[2], rgb[1] - rgb[2], xyz[k] - white[k] * rgb[2]);
            a11 += weight * u * u;
            a12 += weight * u * v;
            a22 += weight * v * v;
            b1 += weight * u * t;
            b2 += weight * v * t;
        }
        let det = a11 * a22 - a12 * a12;
        let (m1, m2) = ((b1 * a22 - b2 * a12) / det, (a11 * b2 - a12 * b1) / det);
        *row = [m1, m2, white[k] - m1 - m2];
    }
    matrix(rows)
}
