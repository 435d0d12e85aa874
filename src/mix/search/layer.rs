//! A model on one ground at one amount, worked out once, and how the colour changes with the loads.

use super::MOST_PIGMENTS;
use crate::colour::{Lab, Matrix, Xyz, lab};
use crate::mix::bands::{self, BANDS};
use crate::mix::surface::COATING;
use crate::mix::{Ground, Model, directed};
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
            let (r, [by_k, by_s]) = directed::reflectance_with_slopes(kx, sx, self.ground[band]);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::bands::Spectrum;
    use crate::mix::{Coat, Known, Load, Optics, Pigment};

    fn spectrum(at: impl Fn(f64) -> f64) -> Spectrum {
        std::array::from_fn(|band| at(band as f64 / 40.0))
    }

    fn model() -> Model {
        let pigment = |id: &str, k: fn(f64) -> f64, s: f64| Pigment {
            id: id.to_owned(),
            optics: Optics {
                k: spectrum(k),
                s: spectrum(|at| s * (1.5 - at)),
            },
            known: Known::Both,
            loads: vec![1.0],
        };
        let clear = Optics {
            k: spectrum(|at| 1e-3 * (1.0 - at)),
            s: spectrum(|_| 2e-4),
        };
        let wood = Ground {
            name: "larch".to_owned(),
            reflectance: spectrum(|at| 0.2 + 0.4 * at),
        };
        let pigments = vec![
            pigment("A", |at| 0.5 * (-6.0 * at).exp(), 0.1),
            pigment("B", |_| 0.8, 0.01),
            pigment("C", |at| 0.3 * at * at, 0.3),
        ];
        Model::of_optics(clear, pigments, vec![wood])
    }

    const LOADS: [[f64; 3]; 4] = [
        [0.5, 0.02, 1.0],
        [3.0, 1.0, 8.0],
        [0.01, 0.3, 0.02],
        [12.0, 0.1, 0.2],
    ];

    fn layer<const N: usize>(model: &Model) -> Layer<N> {
        Layer::new(model, &[0, 1, 2], &model.grounds[0], 200.0)
    }

    /// A layer and the model are two ways to one colour: a change of one must reach the other.
    #[test]
    fn a_layer_has_the_colour_of_the_model() {
        let model = model();
        for loads in LOADS {
            let parts = ["A", "B", "C"].iter().zip(loads);
            let coat = Coat {
                pigments: parts
                    .map(|(id, load)| Load {
                        pigment: (*id).to_owned(),
                        load,
                    })
                    .collect(),
                g_per_m2: 200.0,
                ground: "larch".to_owned(),
            };
            let whole = model.colour(&coat).unwrap();
            let off = |lab: Lab| {
                let it = [lab.l - whole.l, lab.a - whole.a, lab.b - whole.b];
                it.iter().fold(0.0, |most: f64, it| most.max(it.abs()))
            };
            let fine = layer::<BANDS>(&model)
                .seen(&[0, 1, 2], &Vector3::from(loads))
                .lab;
            assert!(off(fine) < 1e-9, "{loads:?}: {fine:?} {whole:?}");
            let coarse = layer::<11>(&model)
                .seen(&[0, 1, 2], &Vector3::from(loads))
                .lab;
            assert!(off(coarse) < 1.0, "{loads:?}: {coarse:?} {whole:?}");
        }
    }

    #[test]
    fn slopes_are_those_of_small_steps() {
        let model = model();
        let layer = layer::<11>(&model);
        for loads in LOADS.map(Vector3::from) {
            let slopes = layer.seen(&[0, 1, 2], &loads).slopes;
            for it in 0..3 {
                let mut by = Vector3::zeros();
                by[it] = 1e-5 * loads[it];
                let (up, down) = (loads + by, loads - by);
                let [up, down] = [up, down].map(|it| layer.seen(&[0, 1, 2], &it).lab);
                let quotient =
                    Vector3::new(up.l - down.l, up.a - down.a, up.b - down.b) / (2.0 * by[it]);
                let own: Vector3<f64> = slopes.column(it).into();
                assert!(
                    (own - quotient).norm() < 1e-5 * (1.0 + own.norm()),
                    "{loads} {own} {quotient}"
                );
            }
        }
    }
}
