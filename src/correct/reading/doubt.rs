//! How unsure a reading is, part by part: what each of its causes leaves open, as a covariance in CIELAB.

use super::super::map::{Fitted, Sighting};
use super::super::scene::Scene;
use super::super::tone::ToneSource;
use super::super::{
    Component, ComponentName, Corrected, Correction, CorrectionKind, Drift, allowance, robust,
    saved,
};
use super::{Reader, Seen, centre, mean_lab, some, vector};
use crate::colour::{Lab, Matrix, difference};
use crate::flag::Flag;
use crate::sample::{Block, Region, Samples, float};
use nalgebra::Vector3;

/// How much more block means scatter on a card than independent pixels would: compression and sharpening make
/// neighbours err together.
pub(super) fn noise_factor(samples: &Samples) -> f64 {
    let mut factors: Vec<f64> = samples.cards.iter().filter_map(zone_noise).collect();
    if factors.is_empty() {
        return 4.0;
    }
    robust::median(&mut factors).clamp(1.0, 30.0)
}

fn zone_noise(zone: &Region) -> Option<f64> {
    if zone.blocks.len() < 9 {
        return None;
    }
    // Differences of neighbours leave slow changes of the light out; the median leaves the jumps between rows out.
    let mut squares: Vec<f64> = zone
        .blocks
        .windows(2)
        .map(|it| (it[1].rgb[1] - it[0].rgb[1]).powi(2))
        .collect();
    let independent = zone
        .blocks
        .iter()
        .map(|it| it.variance[1] / float(it.n))
        .sum::<f64>()
        / float(zone.blocks.len());
    // The median of a squared normal variable is 0.4549 of its variance; a difference has twice the variance.
    let seen = robust::median(&mut squares) / (2.0 * 0.4549);
    (independent > 1e-12).then_some(seen / independent)
}

/// What all readings of a photo share.
pub(super) struct Common {
    /// Covariance of the log gains that the references' own uncertainty leaves.
    gains: Matrix,
    /// Mean square ΔE00 of what the map leaves of a patch, over the three coordinates.
    residual: f64,
}

impl Common {
    pub(super) fn of(
        scene: &Scene<'_>,
        sightings: &[Sighting],
        correction: &Correction,
        fitted: &Fitted,
    ) -> Self {
        let mut total = Matrix::zeros();
        let weight_sum: f64 = sightings.iter().map(|it| it.neutral).sum();
        for (it, sighting) in scene.references().iter().zip(sightings) {
            let share = sighting.neutral / weight_sum;
            if share > 0.0 {
                // dLab/dlog rgb at the reference; its inverse takes the stated covariance to log gains.
                let slope = correction.map.jacobian(sighting.rgb)
                    * Matrix::from_diagonal(&Vector3::from(sighting.rgb));
                if let Some(inverse) = slope.try_inverse() {
                    total +=
                        inverse * it.reference.covariance * inverse.transpose() * (share * share);
                }
            }
        }
        let squares: Vec<f64> = fitted
            .left_out
            .iter()
            .zip(&fitted.weights)
            .filter_map(|(it, weight)| it.filter(|_| *weight > 0.0).map(|d| d * d))
            .collect();
        let residual = if squares.is_empty() {
            0.0
        } else {
            squares.iter().sum::<f64>() / float(squares.len())
        };
        Self {
            gains: total,
            residual: match &correction.saved {
                Some(it) => saved::LIKE_THE_COLOURS * it.left_out_square,
                None => allowance::like_the_colours(squares.len()) * residual,
            },
        }
    }
}

impl Reader<'_> {
    /// Covariance of a block's camera noise.
    pub(super) fn noise(&self, block: &Block, seen: &Seen) -> Matrix {
        let light = self.correction.light.at(block.mm);
        let slope = self.map.jacobian(seen.rgb);
        let variances = [0, 1, 2].map(|c| {
            // How the tone curve and the evening stretch the noise, and what quantisation hides on its own.
            let gain = self.correction.tone.undo_with_slope(block.rgb[c]).1 / light[c];
            let quantisation = self.samples.code_step.powi(2) / 12.0;
            gain * gain * (self.noise * block.variance[c] + quantisation) / float(block.n)
        });
        slope * Matrix::from_diagonal(&Vector3::from(variances)) * slope.transpose()
    }

    /// Fills in a reading's uncertainty, part by part, from the covariances of its mean's noise and of what the read part says of the whole.
    pub(super) fn components(
        &self,
        reading: &mut Corrected,
        region: &Region,
        (colour, seen): (Lab, &[Seen]),
        noise: Matrix,
        uneven: Matrix,
    ) {
        let rgb = mean_rgb(some(seen).map(|it| it.rgb));
        let log_slope = self.map.jacobian(rgb) * Matrix::from_diagonal(&Vector3::from(rgb));
        // A relative change of all three channels together.
        let lighter = log_slope * Vector3::new(1.0, 1.0, 1.0);
        let along_light = |sd: f64| lighter * lighter.transpose() * (sd * sd);
        let metric = difference::local_metric(colour);
        let like = metric.try_inverse().unwrap_or_else(Matrix::identity);
        let lifted = vector(mean_lab(some(seen).map(|it| &it.lab)));
        let with_veil: Vec<Lab> = (some(seen).map(|it| self.map.lab(it.under_veil))).collect();
        let base = vector(mean_lab(with_veil.iter()));
        // As unsure as it is large.
        let veil = base - lifted;
        let known = self.map != &self.correction.map;
        let tone: Matrix = self
            .variants
            .iter()
            .filter(|_| !known || self.correction.kind == CorrectionKind::Neutral)
            .map(|it| self.under(region, it) - base)
            .map(|d| d * d.transpose())
            .sum::<Matrix>()
            + along_light(self.tone_left());
        let correction = if self.correction.kind.is_by_colours() {
            like * (self.common.residual / 3.0)
        } else {
            Matrix::zeros()
        };
        let mut camera = allowance::camera(self.correction.kind, colour);
        if let Some(used) = &self.correction.saved {
            camera += saved::elsewhere(used, colour);
        }
        let rescaling = log_slope * saved::rescaling(self.correction) * log_slope.transpose();
        if reading
            .flags
            .iter()
            .any(|it| matches!(it, Flag::ClippedHigh | Flag::ClippedLow))
        {
            let sd = Vector3::from(allowance::END_OF_ENCODING);
            camera += Matrix::from_diagonal(&sd.component_mul(&sd));
        }
        let parts = [
            (ComponentName::Noise, false, noise),
            (ComponentName::Unevenness, false, uneven),
            (ComponentName::Glare, false, veil * veil.transpose()),
            (
                ComponentName::Illumination,
                false,
                along_light(self.light_doubt(region)),
            ),
            (ComponentName::Correction, true, correction),
            (
                ComponentName::Reference,
                true,
                log_slope * self.common.gains * log_slope.transpose()
                    + self.before.unwrap_or_default(),
            ),
            (ComponentName::Tone, true, tone),
            (ComponentName::Camera, true, camera),
            (
                ComponentName::LocalTone,
                true,
                along_light(self.local_tone[0]),
            ),
            (ComponentName::Rescaling, true, rescaling),
            (ComponentName::Drift, true, self.drift()),
        ];
        let carried = self.correction.saved.is_some();
        let apply = |it: &(ComponentName, bool, Matrix)| match it.0 {
            ComponentName::Rescaling => carried,
            ComponentName::Drift => self.correction.drift.is_some(),
            ComponentName::Glare => veil != Vector3::zeros(),
            _ => true,
        };
        for (name, common, covariance) in parts.into_iter().filter(apply) {
            let sd_lab = [0, 1, 2].map(|i| covariance[(i, i)].max(0.0).sqrt());
            reading.components.push(Component {
                name,
                common,
                sd_lab,
            });
            if common {
                reading.cov_common += covariance;
            } else {
                reading.cov_own += covariance;
            }
        }
    }

    /// What all masked halves may have moved together since the colours that serve as references were measured.
    fn drift(&self) -> Matrix {
        (self.correction.drift.as_ref()).map_or_else(Matrix::zeros, Drift::possible)
    }

    /// Where no curve is undone, none is left.
    fn tone_left(&self) -> f64 {
        if self.correction.tone.source == ToneSource::Encoding {
            0.0
        } else {
            allowance::TONE_LEFT
        }
    }

    /// Standard deviation of the log light on a region relative to the references.
    fn light_doubt(&self, region: &Region) -> f64 {
        let light = &self.correction.light;
        if !light.seen {
            return allowance::UNSEEN_LIGHT;
        }
        let of_field = light.doubt(centre(region));
        let left = allowance::SUBSTRATE_IS_LIGHT * light.residual;
        of_field
            .hypot(left)
            .hypot(allowance::LEAST_LIGHT)
            .hypot(self.shadow.0)
    }
}

fn mean_rgb(values: impl Iterator<Item = [f64; 3]>) -> [f64; 3] {
    let (mut sum, mut n) = ([0.0; 3], 0_usize);
    for value in values {
        for c in 0..3 {
            sum[c] += value[c];
        }
        n += 1;
    }
    sum.map(|it| it / float(n.max(1)))
}
