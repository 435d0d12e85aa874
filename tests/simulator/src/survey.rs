//! The truth of a scene: colours as laid, a perfect pipeline's, and where everything lies.

use crate::camera::balanced;
use crate::colorimetry::{BRADFORD, Lab, d50_white, lab, matrix, xyz_d50};
use crate::layout::{CardKind, Side, Xy, cell_name};
use crate::scene::Scene;
use crate::spectrum::{Spectrum, as_f64};
use crate::surface::{CardSeen, Material, single};
use crate::texture::Texture;
use crate::truth::{CardTruth, Half, PatchTruth, Quad, Truth, ZoneTruth};
use crate::view::View;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

/// Places in a patch at which its colour is taken.
const SAMPLES: usize = 600;

/// What makes colours of balanced camera RGB.
struct Pipeline<'a> {
    /// To XYZ under D50.
    matrix: &'a Matrix3<f64>,
    /// Factors on RGB before it.
    balance: Vector3<f64>,
}

impl Scene {
    /// The truth at a stored size; clipping is known only once rendered.
    #[must_use]
    pub fn truth(&self, size: [u32; 2]) -> Truth {
        let pipeline = Pipeline {
            matrix: &self.matrix,
            balance: Vector3::from(self.spec.camera.balance_error),
        };
        self.surveyed(size, &pipeline)
    }

    /// The truth with `camera_lab` through another matrix than the camera's own rendering: from rightly balanced camera RGB
    /// to XYZ under D50, such as [`fit_matrix`](crate::fit_matrix) gives for some light.
    #[must_use]
    pub fn truth_through(&self, size: [u32; 2], matrix: &Matrix3<f64>) -> Truth {
        let balance = Vector3::repeat(1.0);
        self.surveyed(size, &Pipeline { matrix, balance })
    }

    fn surveyed(&self, size: [u32; 2], pipeline: &Pipeline<'_>) -> Truth {
        let view = self.view(size);
        let layout = &self.spec.layout;
        let quad = |at: Xy, size: Xy| -> Quad {
            [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
                .map(|[u, v]| view.stored_px([at[0] + u * size[0], at[1] + v * size[1]], 0.0))
        };
        let grey = self.grey(pipeline);
        let regions: Vec<_> = self
            .patches
            .iter()
            .flat_map(|patch| {
                halves(layout.masked, patch.at, patch.size)
                    .into_iter()
                    .map(move |it| (patch, it))
            })
            .collect();
        let patches = regions
            .par_iter()
            .map(|(patch, (half, which, at, size))| {
                let parts = [
                    &patch.materials[*which].base,
                    &patch.materials[*which].mottle,
                    &patch.materials[*which].grain,
                ];
                let seen = parts.map(|it| {
                    grey.map_or_else(|| xyz_d50(it), |grey| grey * self.seen_xyz(it, pipeline))
                });
                let (lab, camera_lab) = self.colours(parts.map(xyz_d50), seen, *at, *size);
                PatchTruth {
                    id: patch.id.clone(),
                    half: *half,
                    lab,
                    camera_lab,
                    quad: quad(*at, *size),
                    clipped: 0.0,
                }
            })
            .collect();
        let cards = self.cards.iter().map(|it| card_truth(it, &view)).collect();
        Truth {
            size,
            grid: quad([0.0, 0.0], layout.extent()),
            board: quad([-layout.first[0], -layout.first[1]], layout.board),
            patches,
            cards,
            trouble: self.spec.trouble,
            spec: self.spec.clone(),
        }
    }

    /// Adaptation from what the camera makes of the first card's grey to the grey's true XYZ.
    fn grey(&self, pipeline: &Pipeline<'_>) -> Option<Matrix3<f64>> {
        let card = self.cards.first()?;
        let zone = match card.placed.kind {
            CardKind::Grey18 => 0,
            CardKind::WhiteGreyBlack => 1,
            CardKind::Chart24 => 21,
        };
        let seen = self.seen_xyz(&card.spectra[zone], pipeline);
        let cones = matrix(BRADFORD);
        let gains = (cones * xyz_d50(&card.spectra[zone])).component_div(&(cones * seen));
        Some(cones.try_inverse()? * Matrix3::from_diagonal(&gains) * cones)
    }

    /// XYZ (D50) that a pipeline makes of a reflectance in the middle of the grid, before any tone curve.
    fn seen_xyz(&self, reflectance: &Spectrum, pipeline: &Pipeline<'_>) -> Vector3<f64> {
        let share = self.spec.second.as_ref().map_or(0.0, |it| it.1);
        let rgb = balanced(reflectance, &self.weights[0]) * (1.0 - share)
            + balanced(reflectance, &self.weights[1]) * share;
        pipeline.matrix * rgb.component_mul(&pipeline.balance)
    }

    /// True Lab and the perfect pipeline's, as means over the inner 80 % of a region, of XYZ of base, mottle and grain.
    fn colours(
        &self,
        xyz: [Vector3<f64>; 3],
        seen: [Vector3<f64>; 3],
        at: Xy,
        size: Xy,
    ) -> (Lab, Lab) {
        let texture = Texture::new(&self.spec);
        let (mut sum, mut sum_seen) = (Vector3::zeros(), Vector3::zeros());
        for (m, g) in unevenness(&texture, at, size) {
            sum += mixed(&xyz, m, g);
            sum_seen += mixed(&seen, m, g);
        }
        let count = as_f64(SAMPLES);
        ((sum / count).into(), (sum_seen / count).into())
    }

    /// White of the truth's own sums, for those who compare.
    #[must_use]
    pub fn white() -> [f64; 3] {
        d50_white().into()
    }
}

/// Lab of a surface where mottle and grain have these values.
fn mixed(parts: &[Vector3<f64>; 3], m: f64, g: f64) -> Vector3<f64> {
    Vector3::from(lab(&(parts[0] + parts[1] * m + parts[2] * g)))
}

/// Values of mottle and grain over the inner 80 % of a region.
pub(crate) fn unevenness(texture: &Texture, at: Xy, size: Xy) -> impl Iterator<Item = (f64, f64)> {
    // Roberts's R2 sequence: every point has its own row and column. On a square grid whole rows would fall on one
    // line of the grain.
    let (mut u, mut v) = (0.5, 0.5);
    (0..SAMPLES).map(move |_| {
        u = (u + 0.754_877_666_246_692_8) % 1.0;
        v = (v + 0.569_840_290_998_053_2) % 1.0;
        let x = at[0] + size[0] * (0.1 + 0.8 * u);
        let y = at[1] + size[1] * (0.1 + 0.8 * v);
        let (m, g) = texture.at(single(x), single(y), 0.0);
        (f64::from(m), f64::from(g))
    })
}

/// The true colour of a surface: mean in Lab over these values of mottle and grain.
pub(crate) fn true_lab(material: &Material, uneven: &[(f64, f64)]) -> Lab {
    let xyz = [&material.base, &material.mottle, &material.grain].map(xyz_d50);
    let sum: Vector3<f64> = uneven.iter().map(|(m, g)| mixed(&xyz, *m, *g)).sum();
    (sum / as_f64(uneven.len())).into()
}

/// The parts of a patch: which material, where.
pub(crate) fn halves(masked: Option<Side>, [x, y]: Xy, [w, h]: Xy) -> Vec<(Half, usize, Xy, Xy)> {
    let (m, e) = (Half::Masked, Half::Exposed);
    match masked {
        None => vec![(Half::Whole, 0, [x, y], [w, h])],
        Some(Side::Left) => vec![
            (m, 0, [x, y], [w / 2.0, h]),
            (e, 1, [x + w / 2.0, y], [w / 2.0, h]),
        ],
        Some(Side::Right) => vec![
            (m, 0, [x + w / 2.0, y], [w / 2.0, h]),
            (e, 1, [x, y], [w / 2.0, h]),
        ],
        Some(Side::Top) => vec![
            (m, 0, [x, y], [w, h / 2.0]),
            (e, 1, [x, y + h / 2.0], [w, h / 2.0]),
        ],
        Some(Side::Bottom) => vec![
            (m, 0, [x, y + h / 2.0], [w, h / 2.0]),
            (e, 1, [x, y], [w, h / 2.0]),
        ],
    }
}

fn card_truth(card: &CardSeen, view: &View) -> CardTruth {
    let shape = card.placed.kind.shape();
    let px = |at: Xy| view.stored_px(card.placed.to_panel(at), card.placed.height);
    let quad = |[x, y]: Xy, [w, h]: Xy| {
        [
            px([x, y]),
            px([x + w, y]),
            px([x + w, y + h]),
            px([x, y + h]),
        ]
    };
    let zones = card
        .spectra
        .iter()
        .enumerate()
        .map(|(i, spectrum)| {
            let (row, column) = (i / shape.columns, i % shape.columns);
            let at = [
                shape.first[0] + shape.pitch[0] * as_f64(column),
                shape.first[1] + shape.pitch[1] * as_f64(row),
            ];
            ZoneTruth {
                at: cell_name(row, column),
                lab: lab(&xyz_d50(spectrum)),
                quad: quad(at, shape.patch),
            }
        })
        .collect();
    CardTruth {
        kind: card.placed.kind,
        corners: quad([0.0, 0.0], shape.outer),
        zones,
    }
}
