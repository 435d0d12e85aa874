//! From evened linear RGB to XYZ: the neutral solution, and maps fitted to many colours.

mod normal;

use super::robust;
use crate::colour::{Lab, Matrix, Xyz, difference, lab};
use crate::sample::float;
use normal::{Normal, Point};
use serde::{Deserialize, Serialize};

/// A map from evened linear RGB to XYZ D50.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ColourMap {
    /// Balances the channels; terms are built from the balanced values.
    pub gains: [f64; 3],
    /// What the map is linear in.
    pub terms: Terms,
    /// X, Y and Z a term.
    pub coefficients: Vec<[f64; 3]>,
}

/// What a map is linear in. Both keep hue and saturation under any exposure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Terms {
    /// R, G, B.
    Linear,
    /// R, G, B, √RG, √GB, √RB: the root-polynomial of degree 2 (Finlayson, Mackiewicz & Hurlbert, *IEEE Trans. Image
    /// Process.* 24 (2015) 1460–1470).
    RootPolynomial,
}

impl Terms {
    /// How many.
    #[must_use]
    pub fn count(self) -> usize {
        match self {
            Self::Linear => 3,
            Self::RootPolynomial => 6,
        }
    }

    /// The terms of balanced linear RGB; those beyond [`Self::count`] are zero. Negative products count as zero.
    #[must_use]
    pub fn of(self, [r, g, b]: [f64; 3]) -> [f64; 6] {
        let root = |product: f64| product.max(0.0).sqrt();
        match self {
            Self::Linear => [r, g, b, 0.0, 0.0, 0.0],
            Self::RootPolynomial => [r, g, b, root(r * g), root(g * b), root(r * b)],
        }
    }

    /// Derivatives of the terms by balanced red, green and blue.
    fn slopes(self, [r, g, b]: [f64; 3]) -> [[f64; 3]; 6] {
        // Of √xy by x.
        let root = |x: f64, y: f64| {
            if x > 0.0 && y > 0.0 {
                (y / x).sqrt() / 2.0
            } else {
                0.0
            }
        };
        let [red, green, blue] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let none = [0.0; 3];
        match self {
            Self::Linear => [red, green, blue, none, none, none],
            Self::RootPolynomial => [
                red,
                green,
                blue,
                [root(r, g), root(g, r), 0.0],
                [0.0, root(g, b), root(b, g)],
                [root(r, b), 0.0, root(b, r)],
            ],
        }
    }
}

impl ColourMap {
    /// XYZ of evened linear RGB.
    #[must_use]
    pub fn xyz(&self, rgb: [f64; 3]) -> Xyz {
        let balanced = [0, 1, 2].map(|c| rgb[c] * self.gains[c]);
        let terms = self.terms.of(balanced);
        let sum = |c: usize| {
            self.coefficients
                .iter()
                .zip(terms)
                .map(|(row, term)| row[c] * term)
                .sum::<f64>()
        };
        Xyz::new(sum(0), sum(1), sum(2))
    }

    /// Lab of evened linear RGB.
    #[must_use]
    pub fn lab(&self, rgb: [f64; 3]) -> Lab {
        lab::from_xyz(self.xyz(rgb))
    }

    /// dLab/dRGB.
    pub(super) fn jacobian(&self, rgb: [f64; 3]) -> Matrix {
        let balanced = [0, 1, 2].map(|c| rgb[c] * self.gains[c]);
        let mut of_rgb = Matrix::zeros();
        for (row, slopes) in self.coefficients.iter().zip(self.terms.slopes(balanced)) {
            for (c, gain) in self.gains.iter().enumerate() {
                for (xyz, coefficient) in row.iter().enumerate() {
                    of_rgb[(xyz, c)] += coefficient * slopes[c] * gain;
                }
            }
        }
        lab::jacobian(self.xyz(rgb)) * of_rgb
    }

    /// The map that only balances the channels: the encoding's own colours, with the light's colour taken out.
    pub(super) fn neutral(to_xyz: &Matrix, gains: [f64; 3]) -> Self {
        let coefficients = (0..3)
            .map(|c| [to_xyz[(0, c)], to_xyz[(1, c)], to_xyz[(2, c)]])
            .collect();
        Self {
            gains,
            terms: Terms::Linear,
            coefficients,
        }
    }
}

/// A reference as the fit sees it.
#[derive(Clone, Debug)]
pub(super) struct Sighting {
    /// Evened linear RGB.
    pub(super) rgb: [f64; 3],
    /// Its stated colour.
    pub(super) lab: Lab,
    /// Linear RGB that the stated colour would have in the file's space.
    pub(super) stated: [f64; 3],
    /// Weight as a neutral; 0 where it can't balance the channels.
    pub(super) neutral: f64,
}

/// The channel gains that take the neutrals to their stated colours: a robust mean over them in log light.
pub(super) fn gains<'a>(sightings: impl Iterator<Item = &'a Sighting> + Clone) -> Option<[f64; 3]> {
    let used = sightings.filter(|it| it.neutral > 0.0);
    let any = used.clone().next().is_some();
    any.then(|| {
        [0, 1, 2].map(|c| {
            let log = |it: &Sighting| ((it.stated[c] / it.rgb[c]).ln(), it.neutral.powf(-0.5));
            robust::centre(&used.clone().map(log).collect::<Vec<_>>()).exp()
        })
    })
}

/// A fitted map with what leaving references out shows.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    pub(super) map: ColourMap,
    /// For each reference, the map fitted without it; none where that can't be done.
    pub(super) without: Vec<Option<ColourMap>>,
    /// ΔE00 of each reference under the map fitted without it.
    pub(super) left_out: Vec<Option<f64>>,
    /// Weight of each reference in the fit, 0 (rejected) to 1.
    pub(super) weights: Vec<f64>,
}

impl Fitted {
    /// Mean leave-one-out ΔE00 over the references that `counted` says.
    pub(super) fn mean(&self, counted: &[bool]) -> Option<f64> {
        let values: Vec<f64> = self
            .left_out
            .iter()
            .zip(counted)
            .filter_map(|(it, counts)| it.filter(|_| *counts))
            .collect();
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / float(values.len()))
    }
}

/// How a map is fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Model {
    /// Balance only.
    Neutral,
    /// Least squares in ΔE00, with a ridge of this strength towards the neutral solution.
    Ridge(Terms, f64),
}

/// Ridge strengths that are tried, in 1/ΔE00² of a coefficient's deviation squared: 1 is all but free; at 1000 a deviation of 0.1
/// costs as much as one reference that is off by 3 ΔE00.
pub(super) const RIDGES: [f64; 5] = [0.1, 1.0, 10.0, 100.0, 1000.0];

/// Fits one model to all references.
pub(super) fn fit_all(
    model: Model,
    to_xyz: &Matrix,
    sightings: &[Sighting],
) -> Option<(ColourMap, Vec<f64>)> {
    let points: Vec<Point> = sightings.iter().map(Point::of).collect();
    weigh(model, to_xyz, sightings, &points, vec![1.0; points.len()])
}

/// References for many fits of one model to them, each seen a little otherwise: what doesn't change from one to the next.
pub(super) struct Heard {
    points: Vec<Point>,
    /// As [`Fitted::weights`].
    weights: Vec<f64>,
}

impl Heard {
    /// The references with the weights that a first fit gives them.
    pub(super) fn of(model: Model, to_xyz: &Matrix, sightings: &[Sighting]) -> Option<Self> {
        let points: Vec<Point> = sightings.iter().map(Point::of).collect();
        let all = vec![1.0; points.len()];
        let (_, weights) = weigh(model, to_xyz, sightings, &points, all)?;
        Some(Self { points, weights })
    }

    /// The model fitted to the same references as they are seen now.
    pub(super) fn fit(
        &self,
        model: Model,
        to_xyz: &Matrix,
        sightings: &[Sighting],
    ) -> Option<ColourMap> {
        let gains = gains_of(sightings, None)?;
        match model {
            Model::Neutral => Some(ColourMap::neutral(to_xyz, gains)),
            Model::Ridge(terms, ridge) => {
                let Self { points, weights } = self;
                Normal::of(terms, ridge, to_xyz, gains, sightings, points, weights).solve()
            }
        }
    }
}

/// Fits one model and leaves out each reference in turn.
pub(super) fn fit(model: Model, to_xyz: &Matrix, sightings: &[Sighting]) -> Option<Fitted> {
    let points: Vec<Point> = sightings.iter().map(Point::of).collect();
    let all = vec![1.0; points.len()];
    fit_from(model, to_xyz, sightings, &points, all)
}

/// The same from weights that the references have from elsewhere.
fn fit_from(
    model: Model,
    to_xyz: &Matrix,
    sightings: &[Sighting],
    points: &[Point],
    say: Vec<f64>,
) -> Option<Fitted> {
    let (map, weights) = weigh(model, to_xyz, sightings, points, say)?;
    let without: Vec<Option<ColourMap>> = match model {
        Model::Neutral => (0..points.len())
            .map(|i| gains_of(sightings, Some(i)).map(|it| ColourMap::neutral(to_xyz, it)))
            .collect(),
        Model::Ridge(terms, ridge) => {
            let all = Normal::of(terms, ridge, to_xyz, map.gains, sightings, points, &weights);
            (0..points.len())
                .map(|i| {
                    // Without a colour that doesn't balance the channels the gains stay, and all other sums.
                    if sightings[i].neutral > 0.0 {
                        let gains = gains_of(sightings, Some(i))?;
                        let mut weights = weights.clone();
                        weights[i] = 0.0;
                        Normal::of(terms, ridge, to_xyz, gains, sightings, points, &weights).solve()
                    } else {
                        let mut rest = all.clone();
                        rest.add(&sightings[i], &points[i], -weights[i]);
                        rest.solve()
                    }
                })
                .collect()
        }
    };
    let left_out = sightings
        .iter()
        .zip(&without)
        .map(|(it, map)| {
            map.as_ref()
                .map(|map| difference::delta_e_2000(map.lab(it.rgb), it.lab))
        })
        .collect();
    Some(Fitted {
        map,
        without,
        left_out,
        weights,
    })
}

/// Fits one model to some of the references, and leaves out each of these in turn; the gains are those of all.
pub(super) fn among(
    model: Model,
    to_xyz: &Matrix,
    sightings: &[Sighting],
    chosen: &[bool],
) -> Option<Fitted> {
    let points: Vec<Point> = sightings.iter().map(Point::of).collect();
    let weights = chosen.iter().map(|it| f64::from(u8::from(*it))).collect();
    fit_from(model, to_xyz, sightings, &points, weights)
}

/// The map with the robust weights of the references.
fn weigh(
    model: Model,
    to_xyz: &Matrix,
    sightings: &[Sighting],
    points: &[Point],
    say: Vec<f64>,
) -> Option<(ColourMap, Vec<f64>)> {
    let gains = gains_of(sightings, None)?;
    let mut weights = say.clone();
    let Model::Ridge(terms, ridge) = model else {
        return Some((ColourMap::neutral(to_xyz, gains), weights));
    };
    let solve = |weights: &[f64]| {
        Normal::of(terms, ridge, to_xyz, gains, sightings, points, weights).solve()
    };
    let mut map = solve(&weights)?;
    for _ in 0..5 {
        let residuals: Vec<f64> = sightings
            .iter()
            .map(|it| difference::delta_e_2000(map.lab(it.rgb), it.lab))
            .collect();
        let heard = residuals.iter().zip(&say).filter(|it| *it.1 > 0.0);
        let heard: Vec<f64> = heard.map(|it| *it.0).collect();
        let scale = robust::sigma(&heard).max(0.5);
        weights = (residuals.iter().zip(&say))
            .map(|(it, say)| say * robust::tukey(it / scale))
            .collect();
        map = solve(&weights)?;
    }
    Some((map, weights))
}

/// The gains without one reference.
fn gains_of(sightings: &[Sighting], left_out: Option<usize>) -> Option<[f64; 3]> {
    let kept = sightings
        .iter()
        .enumerate()
        .filter(|(i, _)| Some(*i) != left_out)
        .map(|it| it.1);
    gains(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::srgb::RgbSpace;
    use nalgebra::Vector3;

    fn srgb() -> Matrix {
        *RgbSpace::Srgb.linear_to_xyz_d50()
    }

    /// Colours spread over the gamut, seen by a camera whose linear values are `seen` of the true linear sRGB.
    fn sightings(seen: impl Fn([f64; 3]) -> [f64; 3]) -> Vec<Sighting> {
        let mut all = Vec::new();
        for i in 0..24_u8 {
            let x = |k: u8| {
                0.05 + 0.8 * f64::from((i.wrapping_mul(37) ^ k.wrapping_mul(91)) % 32) / 31.0
            };
            let rgb = if i < 4 {
                [0.05 + 0.28 * f64::from(i); 3]
            } else {
                [x(1), x(2), x(3)]
            };
            let xyz = srgb() * Vector3::from(rgb);
            all.push(Sighting {
                rgb: seen(rgb),
                lab: lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z)),
                stated: rgb,
                neutral: if i < 4 { 1.0 } else { 0.0 },
            });
        }
        all
    }

    #[test]
    fn root_polynomial_terms_match_published_values() {
        // colour-science 0.4.7, polynomial_expansion_Finlayson2015, degree 2, root-polynomial.
        let found = Terms::RootPolynomial.of([0.172_248_10, 0.091_706_60, 0.064_169_38]);
        let expected = [
            0.172_248_1,
            0.091_706_6,
            0.064_169_38,
            0.125_683_28,
            0.076_712_16,
            0.105_133_5,
        ];
        for (a, b) in found.iter().zip(expected) {
            assert!((a - b).abs() < 1e-7, "{found:?}");
        }
    }

    #[test]
    fn a_camera_that_mixes_channels_is_unmixed_by_the_linear_map_alone() {
        let mix = Matrix::new(0.8, 0.15, 0.05, 0.1, 0.8, 0.1, 0.02, 0.18, 0.8);
        let all = sightings(|rgb| (mix * Vector3::from(rgb)).into());
        let neutral = fit(Model::Neutral, &srgb(), &all).unwrap();
        let linear = fit(Model::Ridge(Terms::Linear, 1e-9), &srgb(), &all).unwrap();
        let all_count = vec![true; all.len()];
        assert!(neutral.mean(&all_count).unwrap() > 2.0);
        assert!(
            linear.mean(&all_count).unwrap() < 1e-4,
            "{:?}",
            linear.mean(&all_count)
        );
    }

    #[test]
    fn one_bad_reference_is_rejected_and_does_not_pull() {
        let mix = Matrix::new(0.8, 0.15, 0.05, 0.1, 0.8, 0.1, 0.02, 0.18, 0.8);
        let mut all = sightings(|rgb| (mix * Vector3::from(rgb)).into());
        all[10].rgb = all[10].rgb.map(|it| it + 0.2);
        let linear = fit(Model::Ridge(Terms::Linear, 1e-6), &srgb(), &all).unwrap();
        assert!(linear.weights[10] < 0.01, "{:?}", linear.weights);
        let worst = (0..all.len())
            .filter(|i| *i != 10)
            .map(|i| difference::delta_e_2000(linear.map.lab(all[i].rgb), all[i].lab))
            .fold(0.0, f64::max);
        assert!(worst < 0.05, "{worst}");
    }

    #[test]
    fn the_jacobian_is_that_of_the_map() {
        let all = sightings(|rgb| rgb.map(|it| 0.9 * it + 0.01));
        for terms in [Terms::Linear, Terms::RootPolynomial] {
            let map = fit(Model::Ridge(terms, 1.0), &srgb(), &all).unwrap().map;
            let at = [0.4, 0.3, 0.2];
            let slopes = map.jacobian(at);
            for c in 0..3 {
                let (mut up, mut down) = (at, at);
                up[c] += 1e-6;
                down[c] -= 1e-6;
                let (up, down) = (map.lab(up), map.lab(down));
                let by_steps = Vector3::new(up.l - down.l, up.a - down.a, up.b - down.b) / 2e-6;
                assert!(
                    (slopes.column(c) - by_steps).amax() < 1e-4,
                    "{slopes} {by_steps}"
                );
            }
        }
    }

    #[test]
    fn leaving_a_colour_out_is_fitting_without_it() {
        let all = sightings(|[r, g, b]| [0.8 * r + 0.2 * g, g * g, b + 0.01]);
        let model = Model::Ridge(Terms::RootPolynomial, 1.0);
        let fitted = fit(model, &srgb(), &all).unwrap();
        let points: Vec<Point> = all.iter().map(Point::of).collect();
        for i in [1, 12] {
            let mut weights = fitted.weights.clone();
            weights[i] = 0.0;
            let gains = gains_of(&all, Some(i)).unwrap();
            let without = Normal::of(
                Terms::RootPolynomial,
                1.0,
                &srgb(),
                gains,
                &all,
                &points,
                &weights,
            );
            let expected = without.solve().unwrap().lab(all[i].rgb);
            let found = fitted.without[i].as_ref().unwrap().lab(all[i].rgb);
            assert!(difference::delta_e_2000(found, expected) < 1e-7);
        }
    }

    #[test]
    fn exposure_changes_lightness_only() {
        let mix = Matrix::new(0.8, 0.15, 0.05, 0.1, 0.8, 0.1, 0.02, 0.18, 0.8);
        let all = sightings(|rgb| (mix * Vector3::from(rgb)).into());
        let fitted = fit(Model::Ridge(Terms::RootPolynomial, 1.0), &srgb(), &all).unwrap();
        let (one, half) = (
            fitted.map.xyz([0.4, 0.3, 0.2]),
            fitted.map.xyz([0.2, 0.15, 0.1]),
        );
        assert!((one.x - 2.0 * half.x).abs() < 1e-12 && (one.z - 2.0 * half.z).abs() < 1e-12);
    }
}
