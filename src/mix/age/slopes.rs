//! A coat's colour with how it changes with what the film absorbs and with what lies below it, band by band.

use super::super::bands::{self, BANDS, Spectrum};
use super::super::directed;
use super::super::model::{Coat, Model};
use super::super::surface::COATING;
use crate::colour::{Lab, lab};
use nalgebra::Vector3;

/// A colour and its slopes.
pub(super) struct Seen {
    pub(super) lab: Lab,
    /// dLab by absorption times amount.
    pub(super) by_kx: [Vector3<f64>; BANDS],
    /// dLab by scattering times amount.
    pub(super) by_sx: [Vector3<f64>; BANDS],
    /// dLab by the ground's internal reflectance.
    pub(super) by_ground: [Vector3<f64>; BANDS],
    /// Grams of mixed coating on a square metre, before pigment.
    pub(super) mixed: f64,
}

/// None where a pigment or the ground is not in the model.
pub(super) fn seen(model: &Model, coat: &Coat) -> Option<Seen> {
    let ground = &model.ground(&coat.ground)?.reflectance;
    let total: f64 = coat.pigments.iter().map(|it| it.load).sum();
    let mixed = coat.g_per_m2 / (1.0 + total / 100.0);
    let (mut kx, mut sx) = (
        model.coating.k.map(|it| it * mixed),
        model.coating.s.map(|it| it * mixed),
    );
    for it in &coat.pigments {
        let optics = &model.pigment(&it.pigment)?.optics;
        for band in 0..BANDS {
            kx[band] += mixed * it.load / 100.0 * optics.k[band];
            sx[band] += mixed * it.load / 100.0 * optics.s[band];
        }
    }
    let mut reflectance: Spectrum = [0.0; BANDS];
    let mut slopes = [[0.0; 3]; BANDS];
    for band in 0..BANDS {
        let (r, [by_kx, by_sx]) =
            directed::reflectance_with_slopes(kx[band], sx[band], ground[band]);
        reflectance[band] = COATING.seen(r);
        // Saunderson's form, by r.
        let out =
            (1.0 - COATING.outside) * (1.0 - COATING.inside) / (1.0 - COATING.inside * r).powi(2);
        let by_ground = by_ground(kx[band], sx[band], ground[band]);
        slopes[band] = [by_kx, by_sx, by_ground].map(|it| out * it);
    }
    let to_lab = lab::jacobian(bands::to_xyz(&reflectance));
    let weights = bands::weights();
    let by =
        |which: usize| std::array::from_fn(|band| to_lab * weights[band] * slopes[band][which]);
    Some(Seen {
        lab: bands::to_lab(&reflectance),
        by_kx: by(0),
        by_sx: by(1),
        by_ground: by(2),
        mixed,
    })
}

/// How a film's reflectance changes with its ground's: R = R₀ + T²g/(1 − gR₀), T² from R on a perfect white.
fn by_ground(kx: f64, sx: f64, ground: f64) -> f64 {
    let black = directed::reflectance(kx, sx, 0.0);
    let through = (directed::reflectance(kx, sx, 1.0) - black) * (1.0 - black);
    let lost = (1.0 - ground * black).powi(2);
    if lost > 0.0 { through / lost } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::super::super::model::{Ground, Known, Optics, Pigment};
    use super::super::super::trial::Load;
    use super::*;

    fn model() -> Model {
        let ramp = |from: f64, to: f64| -> Spectrum {
            std::array::from_fn(|band| from + (to - from) * band as f64 / (BANDS - 1) as f64)
        };
        Model::of_optics(
            Optics {
                k: ramp(4e-4, 1e-4),
                s: ramp(2e-4, 2e-4),
            },
            vec![Pigment {
                id: "PR101".into(),
                optics: Optics {
                    k: ramp(0.9, 0.05),
                    s: ramp(0.3, 0.5),
                },
                known: Known::Both,
                loads: vec![5.0],
            }],
            vec![Ground {
                name: "larch".into(),
                reflectance: ramp(0.3, 0.8),
            }],
        )
    }

    #[test]
    fn slopes_are_those_of_small_steps() {
        let coat = Coat {
            pigments: vec![Load {
                pigment: "PR101".into(),
                load: 5.0,
            }],
            g_per_m2: 150.0,
            ground: "larch".into(),
        };
        let model = model();
        let here = seen(&model, &coat).unwrap();
        assert_eq!(Some(here.lab), model.colour(&coat));
        let step = 1e-5;
        for band in [0, 7, 20, 40] {
            let mut other = model.clone();
            other.coating.k[band] += step / here.mixed;
            let by_kx = difference(other.colour(&coat).unwrap(), here.lab) / step;
            assert!((by_kx - here.by_kx[band]).amax() < 1e-3, "{band}: {by_kx}");
            let mut other = model.clone();
            other.grounds[0].reflectance[band] += step;
            let by_ground = difference(other.colour(&coat).unwrap(), here.lab) / step;
            assert!(
                (by_ground - here.by_ground[band]).amax() < 1e-3,
                "{band}: {by_ground}"
            );
        }
    }

    fn difference(there: Lab, here: Lab) -> Vector3<f64> {
        Vector3::new(there.l - here.l, there.a - here.a, there.b - here.b)
    }
}
