//! A model on one ground at one amount, worked out once, and how the colour changes with the loads.

use super::MOST_PIGMENTS;
use crate::colour::{Lab, Matrix, Xyz, lab};
use crate::mix::bands::{self, BANDS};
use crate::mix::surface::COATING;
use crate::mix::{Ground, Model, film};
use nalgebra::Vector3;

/// Absorption and scattering times amount, band by band.
type Depths<const N: usize> = [[f64; 2]; N];

/// A model in `N` bands, evenly spaced among the [`BANDS`].
#[derive(Debug)]
pub(super) struct Layer<const N: usize> {
    weights: [Vector3<f64>; N],
    ground: [f64; N],
    /// With no pigment in it.
    coating: Depths<N>,
    /// By gram of pigment to 100 g, in the order of the ids given.
    pigments: Vec<Depths<N>>,
}

/// A colour and its slopes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// Without gloss.
    pub(super) lab: Lab,
    /// Rows L*, a*, b*; a column a pigment, by gram to 100 g. Zero beyond the last pigment.
    pub(super) slopes: Matrix,
}

impl<const N: usize> Layer<N> {
    /// How many of the model's bands lie from one to the next.
    const STRIDE: usize = (BANDS - 1) / (N - 1);

    /// `pigments` are places in the model's list.
    pub(super) fn new(model: &Model, pigments: &[usize], ground: &Ground, g_per_m2: f64) -> Self {
        const { assert!((BANDS - 1).is_multiple_of(N - 1)) };
        let depths = |optics: &crate::mix::Optics, amount: f64| -> Depths<N> {
            std::array::from_fn(|it| {
                let band = it * Self::STRIDE;
                [optics.k[band] * amount, optics.s[band] * amount]
            })
        };
        Self {
            weights: weights(),
            ground: std::array::from_fn(|it| ground.reflectance[it * Self::STRIDE]),
            coating: depths(&model.coating, g_per_m2),
            pigments: (pigments.iter())
                .map(|it| depths(&model.pigments[*it].optics, g_per_m2 / 100.0))
                .collect(),
        }
    }

    /// The colour of a recipe: pigments as places in the list of this layer, their loads in grams to 100 g.
    pub(super) fn seen(&self, pigments: &[usize], loads: &Vector3<f64>) -> Seen {
        let parts: [&Depths<N>; MOST_PIGMENTS] =
            std::array::from_fn(|it| &self.pigments[pigments[it.min(pigments.len() - 1)]]);
        let count = pigments.len();
        let total: f64 = loads.iter().take(count).sum();
        let share = 1.0 / (1.0 + total / 100.0);
        let mut xyz = Vector3::zeros();
        let mut slopes = Matrix::zeros();
        for band in 0..N {
            let [mut kx, mut sx] = self.coating[band];
            for (part, load) in parts.iter().zip(loads).take(count) {
                kx += part[band][0] * load;
                sx += part[band][1] * load;
            }
            let (kx, sx) = (kx * share, sx * share);
            let (r, [by_k, by_s]) = film::reflectance_with_slopes(kx, sx, self.ground[band]);
            let weight = self.weights[band];
            xyz += weight * COATING.seen(r);
            let steep = COATING.slope(r) * share;
            for (part, mut slope) in parts.iter().zip(slopes.column_iter_mut()).take(count) {
                // More of a pigment leaves less of everything else on a square metre.
                let by_load =
                    by_k * (part[band][0] - kx / 100.0) + by_s * (part[band][1] - sx / 100.0);
                slope += weight * (steep * by_load);
            }
        }
        let xyz = Xyz::new(xyz.x, xyz.y, xyz.z);
        Seen {
            lab: lab::from_xyz(xyz),
            slopes: lab::jacobian(xyz) * slopes,
        }
    }
}

/// Weights of fewer bands by the rule of [`bands::weights`]: the sums of reflectances that are straight lines between them.
fn weights<const N: usize>() -> [Vector3<f64>; N] {
    let stride = Layer::<N>::STRIDE;
    let fine = bands::weights();
    std::array::from_fn(|it| {
        let middle = it * stride;
        (fine.iter().enumerate())
            .map(|(band, weight)| {
                let off = band.abs_diff(middle) as f64 / stride as f64;
                weight * (1.0 - off).max(0.0)
            })
            .sum()
    })
}
