//! A coat's colour with how it changes with the logarithms of each pigment's absorption and scattering.

use super::bands::{self, BANDS, Spectrum};
use super::model::Optics;
use super::surface::COATING;
use super::{directed, prior::Logs};
use crate::colour::{Lab, lab};
use nalgebra::{SMatrix, Vector3};

/// dLab by something in each band.
pub(super) type Slopes = SMatrix<f64, 3, BANDS>;

/// Slopes by one pigment.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ByPigment {
    /// By ln k.
    pub(super) k: Slopes,
    /// By ln s.
    pub(super) s: Slopes,
}

impl ByPigment {
    /// By the logarithm of its amount.
    pub(super) fn by_amount(&self) -> Vector3<f64> {
        self.k.column_sum() + self.s.column_sum()
    }
}

/// A coat as seen.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Sight {
    pub(super) lab: Lab,
    /// In the order of the pigments given.
    pub(super) pigments: Vec<ByPigment>,
    /// By absorption times amount.
    pub(super) absorbed: Slopes,
    /// By the ground's internal reflectance.
    pub(super) ground: Slopes,
    /// By the share of absorption that is left where nothing scatters.
    pub(super) clear: Vector3<f64>,
}

/// Pigments by their logarithms and grams per square metre; `coating` by gram, of which there are `mixed`.
pub(super) fn look<'a>(
    coating: &Optics,
    mixed: f64,
    pigments: impl Iterator<Item = (&'a Logs, &'a Logs, f64)>,
    ground: &Spectrum,
) -> Sight {
    let parts: Vec<[Spectrum; 2]> = pigments
        .map(|(k, s, amount)| [k, s].map(|it| std::array::from_fn(|band| amount * it[band].exp())))
        .collect();
    let mut seen = [0.0; BANDS];
    let mut along = [[0.0; 4]; BANDS];
    for band in 0..BANDS {
        let sum = |which: usize, own: f64| -> f64 {
            mixed * own + parts.iter().map(|it| it[which][band]).sum::<f64>()
        };
        let (kx, sx) = (sum(0, coating.k[band]), sum(1, coating.s[band]));
        let (below, clear) = (ground[band], mixed * coating.k[band]);
        let (r, [by_k, by_s], by_clear) = directed::reflectance_with_law(kx, sx, below, clear);
        let surface = COATING.slope(r);
        seen[band] = COATING.seen(r);
        along[band] = [by_k, by_s, by_ground(kx, sx, below), by_clear].map(|it| surface * it);
    }
    let xyz = bands::to_xyz(&seen);
    let to_lab = lab::jacobian(xyz);
    let columns = |by: &dyn Fn(usize) -> f64| {
        let mut out = Slopes::zeros();
        for (band, weight) in bands::weights().iter().enumerate() {
            out.set_column(band, &(to_lab * weight * by(band)));
        }
        out
    };
    Sight {
        lab: lab::from_xyz(xyz),
        pigments: parts
            .iter()
            .map(|[k, s]| ByPigment {
                k: columns(&|band| along[band][0] * k[band]),
                s: columns(&|band| along[band][1] * s[band]),
            })
            .collect(),
        absorbed: columns(&|band| along[band][0]),
        ground: columns(&|band| along[band][2]),
        clear: columns(&|band| along[band][3]).column_sum(),
    }
}

/// dR/dRg.
fn by_ground(kx: f64, sx: f64, ground: f64) -> f64 {
    // R = R0 + T² Rg/(1 − R0 Rg), so dR/dRg = T²/(1 − R0 Rg)²; T² from R at Rg = 1.
    let black = directed::reflectance(kx, sx, 0.0);
    let white = directed::reflectance(kx, sx, 1.0);
    let passes = (white - black) * (1.0 - black);
    passes / (1.0 - black * ground).powi(2)
}
