//! What another tone curve and another mixing of the channels make of a board's colours: how a photo that was read with wrong ones tells colours.
//!
//! A photo with a single grey is read with the curve and the vividness that phones usually have. Where this one's are others, all its colours are off in
//! a way that has a form in light, and none in CIELAB: pale colours are pressed together and dark ones pulled apart, more so in the channel that is
//! pale or dark.

use crate::colour::srgb::RgbSpace;
use crate::colour::{Lab, Matrix, Xyz, difference, lab};
use crate::correct::{ToneCurve, ToneSource, robust};
use nalgebra::{Matrix2, SMatrix, SVector, Vector3};

/// From colours as one photo tells them to colours as they are taken to be.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Relit {
    /// What is undone in linear sRGB.
    curve: ToneCurve,
    /// By how much light in one channel adds to each after that.
    mixing: Matrix,
}

/// Contrast and shift of the curve, then the mixing row by row.
type Parts = SVector<f64, COUNT>;
const COUNT: usize = 11;

/// Standard deviations before anything is seen: of contrast and shift of a curve that is left after what phones usually do was undone, and of each element of
/// the mixing. Half and twice as much of each moved the mean error of the study's changes by 1 % at most.
const USUAL: [f64; 3] = [0.1, 0.2, 0.1];
/// Most steps of a fit, and how often one is halved.
const STEPS: usize = 20;
const HALVED: usize = 6;
/// A change of a parameter that is none.
const SETTLED: f64 = 1e-6;
/// Steps of derivatives: of a parameter, and of a coordinate of Lab.
const STEP: f64 = 1e-4;
/// Below this linear value the curve is a straight line.
const DARK: f64 = 1e-3;
/// No curve presses or stretches all of the range so much.
const MOST: f64 = 0.8;

impl Relit {
    /// Colours as they are told.
    pub(super) fn none() -> Self {
        Self::of(&Parts::zeros())
    }

    fn of(parts: &Parts) -> Self {
        Self {
            curve: ToneCurve {
                contrast: parts[0].clamp(-MOST, MOST),
                shift: parts[1].clamp(-2.0 * MOST, 2.0 * MOST),
                source: ToneSource::Fitted,
                covariance: Matrix2::zeros(),
            },
            mixing: Matrix::identity() + Matrix::from_fn(|row, column| parts[2 + 3 * row + column]),
        }
    }

    /// Takes the first colours to the second (L*, a*, b*) as well as a curve and a mixing can, held towards none; `sd` is the standard deviation
    /// of a single colour in ΔE00. Of many colours one that fits in badly counts for little.
    pub(super) fn fit(pairs: &[(Vector3<f64>, Vector3<f64>)], sd: f64) -> Self {
        let metrics: Vec<Matrix> = (pairs.iter())
            .map(|(_, to)| difference::local_metric(colour(to)) / (sd * sd))
            .collect();
        let hold = Parts::from_fn(|i, _| USUAL[i.min(2)].powi(-2));
        let off = |relit: &Self| -> Vec<Vector3<f64>> {
            pairs.iter().map(|(from, to)| to - relit.at(from)).collect()
        };
        let cost = |parts: &Parts| {
            let left = off(&Self::of(parts));
            let of_colours = (left.iter().zip(&metrics))
                .map(|(d, metric)| robust::cauchy_cost(d.dot(&(metric * d)).max(0.0).sqrt()));
            of_colours.sum::<f64>() + parts.component_mul(parts).dot(&hold)
        };
        let mut parts = Parts::zeros();
        let mut value = cost(&parts);
        for _ in 0..STEPS {
            let left = off(&Self::of(&parts));
            let slopes: Vec<Vec<Vector3<f64>>> = (0..COUNT)
                .map(|k| {
                    let mut there = parts;
                    there[k] += STEP;
                    let moved = off(&Self::of(&there));
                    let slope = left
                        .iter()
                        .zip(moved)
                        .map(|(here, there)| (here - there) / STEP);
                    slope.collect()
                })
                .collect();
            let mut normal = SMatrix::<f64, COUNT, COUNT>::from_diagonal(&hold);
            let mut right = -parts.component_mul(&hold);
            for (i, (d, metric)) in left.iter().zip(&metrics).enumerate() {
                let weight = robust::cauchy_weight(d.dot(&(metric * d)).max(0.0).sqrt());
                for k in 0..COUNT {
                    let pull = metric * slopes[k][i] * weight;
                    right[k] += pull.dot(d);
                    for l in 0..COUNT {
                        normal[(k, l)] += pull.dot(&slopes[l][i]);
                    }
                }
            }
            let Some(step) = normal.cholesky().map(|it| it.solve(&right)) else {
                break;
            };
            let lower = (0..HALVED).find_map(|halved| {
                let there = parts + step * 0.5_f64.powi(i32::try_from(halved).unwrap_or(0));
                let cost = cost(&there);
                (cost < value).then_some((there, cost))
            });
            let Some((there, lower)) = lower else {
                break;
            };
            let done = (there - parts).amax() < SETTLED;
            (parts, value) = (there, lower);
            if done {
                break;
            }
        }
        Self::of(&parts)
    }

    /// A colour (L*, a*, b*) as it is taken to be.
    pub(super) fn at(&self, told: &Vector3<f64>) -> Vector3<f64> {
        let to_xyz = RgbSpace::Srgb.linear_to_xyz_d50();
        let xyz = lab::to_xyz(colour(told));
        let Some(inverse) = to_xyz.try_inverse() else {
            return *told;
        };
        let rgb = (inverse * Vector3::new(xyz.x, xyz.y, xyz.z)).map(|it| self.undo(it));
        let [x, y, z] = (to_xyz * (self.mixing * rgb)).into();
        let lab = lab::from_xyz(Xyz::new(x, y, z));
        Vector3::new(lab.l, lab.a, lab.b)
    }

    /// The curve, straight on beyond its dark end: colours outside sRGB have a channel below nothing.
    fn undo(&self, linear: f64) -> f64 {
        if linear < DARK {
            self.curve.undo(DARK) / DARK * linear
        } else {
            self.curve.undo(linear)
        }
    }

    /// What a small difference about a colour is multiplied by.
    pub(super) fn slope(&self, told: &Vector3<f64>) -> Matrix {
        let mut slope = Matrix::zeros();
        for k in 0..3 {
            let mut step = Vector3::zeros();
            step[k] = 100.0 * STEP;
            let across = (self.at(&(told + step)) - self.at(&(told - step))) / (2.0 * step[k]);
            slope.set_column(k, &across);
        }
        slope
    }
}

fn colour(it: &Vector3<f64>) -> Lab {
    Lab::new(it.x, it.y, it.z)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Paints in all directions, within sRGB: L*, a*, b*.
    fn paints() -> Vec<Vector3<f64>> {
        (0..24_u8)
            .map(|i| {
                let turn = f64::from(i * 7 % 24) / 24.0 * std::f64::consts::TAU;
                let lightness = 28.0 + 60.0 * f64::from(i) / 23.0;
                let most = f64::min(lightness, 105.0 - lightness);
                let chroma = most * (0.08 + 0.012 * f64::from(i * 5 % 24));
                Vector3::new(lightness, chroma * turn.cos(), chroma * turn.sin())
            })
            .collect()
    }

    /// A camera's doing that owes nothing to the code above: a cubic S on each encoded channel of sRGB (IEC 61966-2-1; its matrix to D50 as
    /// Lindbloom prints it), after a mixing that makes colours more vivid.
    fn by_camera(told: &Vector3<f64>, bent: f64, vivid: f64) -> Vector3<f64> {
        let to_xyz = Matrix::new(
            0.436_074_7,
            0.385_064_9,
            0.143_080_4,
            0.222_504_5,
            0.716_878_6,
            0.060_616_9,
            0.013_932_2,
            0.097_104_5,
            0.714_173_3,
        );
        let xyz = lab::to_xyz(colour(told));
        let rgb = to_xyz.try_inverse().unwrap() * Vector3::new(xyz.x, xyz.y, xyz.z);
        let grey = to_xyz.row(1).transpose().dot(&rgb);
        let seen = rgb.map(|it| {
            let v = 1.055 * (grey + vivid * (it - grey)).powf(1.0 / 2.4) - 0.055;
            let bent = v * (1.0 - bent) + bent * v * v * (3.0 - 2.0 * v);
            ((bent + 0.055) / 1.055).powf(2.4)
        });
        let [x, y, z] = (to_xyz * seen).into();
        let lab = lab::from_xyz(Xyz::new(x, y, z));
        Vector3::new(lab.l, lab.a, lab.b)
    }

    #[test]
    fn nothing_to_undo_changes_nothing() {
        for it in paints() {
            assert!((Relit::none().at(&it) - it).amax() < 1e-6, "{it}");
            assert!((Relit::none().slope(&it) - Matrix::identity()).amax() < 1e-6);
        }
        assert!((Relit::fit(&[], 1.0).at(&paints()[3]) - paints()[3]).amax() < 1e-6);
    }

    #[test]
    fn changes_come_back_that_a_camera_made_too_large_or_too_small() {
        for (bent, vivid) in [(0.0, 1.15), (0.3, 1.0), (0.3, 1.1), (-0.3, 0.9)] {
            let told = |it: &Vector3<f64>| by_camera(it, bent, vivid);
            let pairs: Vec<_> = paints().iter().map(|it| (told(it), *it)).collect();
            let relit = Relit::fit(&pairs, 0.3);
            let (mut before, mut after) = (0.0, 0.0);
            for from in paints() {
                for change in [
                    Vector3::new(5.0, 0.0, 0.0),
                    Vector3::new(0.0, 3.0, -4.0),
                    Vector3::new(-3.0, -2.0, 5.0),
                ] {
                    let [start, end] = [from, from + change].map(|it| told(&it));
                    before += (end - start - change).norm();
                    after += (relit.at(&end) - relit.at(&start) - change).norm();
                }
            }
            assert!(after < 0.2 * before, "{bent} {vivid}: {after} of {before}");
        }
    }

    #[test]
    fn one_colour_apart_from_the_others_does_not_pull() {
        let told = |it: &Vector3<f64>| by_camera(it, 0.3, 1.1);
        let mut pairs: Vec<_> = paints().iter().map(|it| (told(it), *it)).collect();
        let sound = Relit::fit(&pairs, 0.3);
        pairs[9].1 += Vector3::new(-8.0, 4.0, 12.0);
        let pulled = Relit::fit(&pairs, 0.3);
        for it in paints() {
            assert!((pulled.slope(&it) - sound.slope(&it)).amax() < 0.05, "{it}");
        }
    }

    #[test]
    fn slopes_are_those_of_the_colours_also_outside_srgb() {
        let pairs: Vec<_> = paints()
            .iter()
            .map(|it| (by_camera(it, 0.3, 1.1), *it))
            .collect();
        let relit = Relit::fit(&pairs, 0.3);
        for at in [
            Vector3::new(60.0, -60.0, 10.0),
            Vector3::new(80.0, 5.0, 95.0),
            paints()[5],
        ] {
            let step = Vector3::new(0.02, -0.03, 0.04);
            let by_steps = relit.at(&(at + step)) - relit.at(&at);
            assert!(
                (relit.slope(&at) * step - by_steps).norm() < 0.02 * step.norm(),
                "{at}"
            );
        }
    }
}
