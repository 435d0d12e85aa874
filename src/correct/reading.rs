//! Every patch under a correction: its colour, its spread, its uncertainty part by part, its flags.

mod spread;

use super::light::LightField;
use super::map::{self, ColourMap, Fitted, Sighting};
use super::observe::{Observed, Scene};
use super::surroundings::Locally;
use super::tone::{ToneCurve, ToneSource};
use super::veil::{self, Veil};
use super::{
    Component, ComponentName, Corrected, Correction, CorrectionKind, Drift, allowance, robust,
    saved,
};
use crate::colour::{Lab, Matrix, difference, uncertainty};
use crate::flag::Flag;
use crate::photo::EncodingSource;
use crate::reference::{RegionIndex, patch_of};
use crate::sample::{Block, Region, Samples, float};
use nalgebra::Vector3;
use spread::{has_shadow_edge, unevenness};

/// Reads every region of `Samples::patches`.
pub(super) fn read(
    scene: &Scene<'_>,
    sightings: &[Sighting],
    correction: &Correction,
    fitted: &Fitted,
    variants: &[(ToneCurve, LightField, ColourMap)],
    locally: &Locally<'_>,
) -> Vec<Corrected> {
    let samples = scene.samples();
    let noise = noise_factor(samples);
    let common = Common::of(scene, sightings, correction, fitted);
    let shadows = scene.shadows(&correction.tone, &correction.light);
    let veil = map::gains(sightings.iter()).map_or_else(Veil::default, |gains| {
        let white = gains.map(f64::recip);
        veil::of(&samples.patches, &correction.tone, &correction.light, white)
    });
    samples
        .patches
        .iter()
        .enumerate()
        .map(|(index, region)| {
            let itself = (scene.references().iter())
                .position(|it| it.reference.regions.contains(&RegionIndex::Patch(index)));
            // A patch of known colour is read with the correction that doesn't know it: both halves of it, so that what that
            // correction leaves is the same on both.
            let known = itself.or_else(|| other_half(scene, region));
            let map = match known {
                None => Some(&correction.map),
                Some(reference) => fitted.without[reference].as_ref(),
            };
            let mut reading = blank(region, index);
            reading.flags = flags(samples, region, itself.is_some());
            if let Some(map) = map.filter(|_| !region.blocks.is_empty()) {
                let reader = Reader {
                    samples,
                    correction,
                    map,
                    variants,
                    noise,
                    common: &common,
                    before: before(scene, known),
                    shadow: shadows.doubt(centre(region)),
                    local_tone: locally.doubt(&region.blocks),
                    veil: &veil,
                };
                reader.fill(&mut reading, region);
            }
            if reading.lab.is_none() {
                reading.flags.push(Flag::Unmeasurable);
            }
            reading.flags.sort_unstable();
            reading
        })
        .collect()
}

/// The reference that the masked half of the same patch is.
fn other_half(scene: &Scene<'_>, region: &Region) -> Option<usize> {
    let patch = patch_of(region.kind)?;
    let of_patch = |index: &RegionIndex| match index {
        RegionIndex::Patch(i) => {
            let other = scene.samples().patches.get(*i);
            other.and_then(|it| patch_of(it.kind)) == Some(patch)
        }
        _ => false,
    };
    (scene.references().iter()).position(|it| it.reference.regions.iter().any(of_patch))
}

/// What colours of before share with all that is compared with them: of the patch's own, else the mean over all; none without such.
fn before(scene: &Scene<'_>, known: Option<usize>) -> Option<Matrix> {
    let common = |it: &Observed| it.reference.origin.common().copied();
    if let Some(own) = known.and_then(|it| common(&scene.references()[it])) {
        return Some(own);
    }
    let all: Vec<Matrix> = scene.references().iter().filter_map(common).collect();
    (!all.is_empty()).then(|| all.iter().sum::<Matrix>() / float(all.len()))
}

fn blank(region: &Region, index: usize) -> Corrected {
    Corrected {
        kind: region.kind,
        region: index,
        lab: None,
        sd: [0.0; 3],
        unevenness: 0.0,
        cov_own: Matrix::zeros(),
        cov_common: Matrix::zeros(),
        components: Vec::new(),
        u95: 0.0,
        flags: Vec::new(),
    }
}

/// Share of pixels at an end of the encoding that makes a colour unsure.
const MUCH: f64 = 0.25;
/// Share of highlights that can't be left out without a bias.
const MUCH_GLARE: f64 = 0.05;
/// Length in L*, a*, b* of what a broad highlight adds that makes a colour unsure: about as much as the camera's noise may.
const MUCH_VEIL: f64 = 0.5;
/// Fewest pixels of a trustworthy mean.
const ENOUGH_PIXELS: usize = 100;
/// Unevenness that most observers accept in no paint: the acceptability threshold of ISO/TR 28642 (ΔE00).
const VISIBLY_UNEVEN: f64 = 1.8;

/// Log light by which the surroundings may move a patch that is worth a flag: about half a unit of L* at middle grey.
const MUCH_LOCAL_TONE: f64 = 0.02;

/// What the counts alone say.
fn flags(samples: &Samples, region: &Region, known: bool) -> Vec<Flag> {
    let saturated = region
        .mean_rgb()
        .is_some_and(|rgb| rgb.iter().any(|it| *it > 0.03));
    let bottom = region.share(region.at_bottom) > MUCH;
    let conditions = [
        (known, Flag::Reference),
        (region.share(region.at_top) > MUCH, Flag::ClippedHigh),
        (bottom, Flag::ClippedLow),
        // One channel at the bottom beside a lively one: more saturated than the encoding can hold.
        (bottom && saturated, Flag::OutsideEncoding),
        (
            region.share(region.left_out.glare) > MUCH_GLARE,
            Flag::Glare,
        ),
        (region.pixels < ENOUGH_PIXELS, Flag::FewPixels),
        (
            samples.encoding == EncodingSource::AssumedSrgb,
            Flag::AssumedSrgb,
        ),
    ];
    conditions
        .into_iter()
        .filter(|it| it.0)
        .map(|it| it.1)
        .collect()
}

/// How much more block means scatter on a card than independent pixels would: compression and sharpening make
/// neighbours err together.
fn noise_factor(samples: &Samples) -> f64 {
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
struct Common {
    /// Covariance of the log gains that the references' own uncertainty leaves.
    gains: Matrix,
    /// Mean square ΔE00 of what the map leaves of a patch, over the three coordinates.
    residual: f64,
}

impl Common {
    fn of(
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

struct Reader<'a> {
    samples: &'a Samples,
    correction: &'a Correction,
    map: &'a ColourMap,
    variants: &'a [(ToneCurve, LightField, ColourMap)],
    noise: f64,
    common: &'a Common,
    /// Covariance that colours of before any sun, which serve as references, have in common.
    before: Option<Matrix>,
    /// Log light by which the field may be off around the region, and whether that is a shadow's edge.
    shadow: (f64, bool),
    /// Log light that local tone mapping leaves open, and the part of it that is due to the surroundings.
    local_tone: [f64; 2],
    veil: &'a Veil,
}

/// One block under the correction.
struct Seen {
    /// Evened linear RGB.
    rgb: [f64; 3],
    lab: Lab,
}

fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}

fn mean_lab<'a>(labs: impl Iterator<Item = &'a Lab>) -> Lab {
    let (mut sum, mut n) = (Vector3::zeros(), 0_usize);
    for lab in labs {
        sum += vector(*lab);
        n += 1;
    }
    let mean = sum / float(n.max(1));
    Lab::new(mean.x, mean.y, mean.z)
}

/// A region's mean colour under a correction, and nothing else of it.
pub(super) fn colour(
    region: &Region,
    tone: &ToneCurve,
    light: &LightField,
    map: &ColourMap,
) -> Option<Lab> {
    mean_under(region.blocks.iter(), tone, light, map)
        .filter(|it| it.l.is_finite() && it.a.is_finite() && it.b.is_finite())
}

/// None without blocks.
fn mean_under<'a>(
    blocks: impl Iterator<Item = &'a Block>,
    tone: &ToneCurve,
    light: &LightField,
    map: &ColourMap,
) -> Option<Lab> {
    let labs: Vec<Lab> = blocks
        .map(|block| {
            let light = light.at(block.mm);
            map.lab([0, 1, 2].map(|c| tone.undo(block.rgb[c]) / light[c]))
        })
        .collect();
    (!labs.is_empty()).then(|| mean_lab(labs.iter()))
}

impl Reader<'_> {
    fn fill(&self, reading: &mut Corrected, region: &Region) {
        let seen: Vec<Seen> = region.blocks.iter().map(|it| self.block(it)).collect();
        let colour = mean_lab(seen.iter().map(|it| &it.lab));
        if !(colour.l.is_finite() && colour.a.is_finite() && colour.b.is_finite()) {
            return;
        }
        let n = float(seen.len());
        let noises: Vec<Matrix> = some(&region.blocks).map(|it| self.noise(it)).collect();
        let noise = noises.iter().sum::<Matrix>() / float(noises.len());
        let deviations = || seen.iter().map(|it| vector(it.lab) - vector(colour));
        let spread: Matrix =
            deviations().map(|d| d * d.transpose()).sum::<Matrix>() / (n - 1.0).max(1.0);
        let own_spread = [0, 1, 2].map(|i| (spread[(i, i)] - noise[(i, i)]).max(0.0));
        reading.lab = Some(colour);
        reading.sd = own_spread.map(f64::sqrt);
        reading.unevenness = unevenness(region, &seen, &noise);
        // What the read part says of the whole patch: neighbouring blocks err together, about four to one.
        let uneven = Matrix::from_diagonal(&Vector3::from(own_spread)) * (4.0 / n).min(1.0);
        self.components(reading, region, colour, noise / n, uneven);
        self.late_flags(reading, &seen);
        reading.u95 = uncertainty::u95(colour, &(reading.cov_own + reading.cov_common))
            .unwrap_or(f64::INFINITY);
    }

    /// With what a broad highlight adds.
    fn under_veil(&self, block: &Block) -> [f64; 3] {
        let light = self.correction.light.at(block.mm);
        [0, 1, 2].map(|c| self.correction.tone.undo(block.rgb[c]) / light[c])
    }

    fn evened(&self, block: &Block) -> [f64; 3] {
        self.veil.lifted(block.mm, self.under_veil(block))
    }

    fn block(&self, block: &Block) -> Seen {
        let rgb = self.evened(block);
        Seen {
            rgb,
            lab: self.map.lab(rgb),
        }
    }

    /// Covariance of a block's camera noise.
    fn noise(&self, block: &Block) -> Matrix {
        let light = self.correction.light.at(block.mm);
        let undone = [0, 1, 2].map(|c| self.correction.tone.undo_with_slope(block.rgb[c]));
        let slope = self.map.jacobian([0, 1, 2].map(|c| undone[c].0 / light[c]));
        let variances = [0, 1, 2].map(|c| {
            // How the tone curve and the evening stretch the noise, and what quantisation hides on its own.
            let gain = undone[c].1 / light[c];
            let quantisation = self.samples.code_step.powi(2) / 12.0;
            gain * gain * (self.noise * block.variance[c] + quantisation) / float(block.n)
        });
        slope * Matrix::from_diagonal(&Vector3::from(variances)) * slope.transpose()
    }

    /// The mean colour under another tone curve.
    fn under(&self, region: &Region, variant: &(ToneCurve, LightField, ColourMap)) -> Vector3<f64> {
        let (tone, light, map) = variant;
        mean_under(some(&region.blocks), tone, light, map).map_or_else(Vector3::zeros, vector)
    }

    fn components(
        &self,
        reading: &mut Corrected,
        region: &Region,
        colour: Lab,
        noise: Matrix,
        uneven: Matrix,
    ) {
        let rgb = mean_rgb(some(&region.blocks).map(|it| self.evened(it)));
        let log_slope = self.map.jacobian(rgb) * Matrix::from_diagonal(&Vector3::from(rgb));
        // A relative change of all three channels together.
        let lighter = log_slope * Vector3::new(1.0, 1.0, 1.0);
        let along_light = |sd: f64| lighter * lighter.transpose() * (sd * sd);
        let metric = difference::local_metric(colour);
        let like = metric.try_inverse().unwrap_or_else(Matrix::identity);
        let base: Vec<Lab> = some(&region.blocks)
            .map(|it| self.map.lab(self.under_veil(it)))
            .collect();
        let base = vector(mean_lab(base.iter()));
        // As unsure as it is large.
        let veil = base - {
            let lifted: Vec<Lab> = some(&region.blocks)
                .map(|it| self.map.lab(self.evened(it)))
                .collect();
            vector(mean_lab(lifted.iter()))
        };
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

    fn late_flags(&self, reading: &mut Corrected, seen: &[Seen]) {
        let size = |name: ComponentName| {
            let part = reading.components.iter().find(|it| it.name == name);
            part.map_or(0.0, |it| Vector3::from(it.sd_lab).norm())
        };
        let conditions = [
            (
                size(ComponentName::Glare) > MUCH_VEIL && !reading.flags.contains(&Flag::Glare),
                Flag::Glare,
            ),
            (size(ComponentName::Illumination) > 1.5, Flag::UnevenLight),
            (size(ComponentName::Noise) > 0.5, Flag::Noisy),
            (reading.unevenness > VISIBLY_UNEVEN, Flag::Uneven),
            (self.shadow.1 || has_shadow_edge(seen), Flag::ShadowEdge),
            (
                (self.correction.local_tone).is_some_and(|it| it.is_seen())
                    && self.local_tone[1] > MUCH_LOCAL_TONE,
                Flag::LocalTone,
            ),
            (
                (self.correction.saved.as_ref()).is_some_and(|it| !it.overruled.is_empty()),
                Flag::ForcedCorrection,
            ),
        ];
        reading
            .flags
            .extend(conditions.into_iter().filter(|it| it.0).map(|it| it.1));
    }
}

/// Centre of a region's blocks, panel millimetres.
fn centre(region: &Region) -> [f64; 2] {
    let [x, y, _] = super::observe::mean(&region.blocks, |it| [it.mm[0], it.mm[1], 0.0]);
    [x, y]
}

/// At most some fifty blocks, evenly drawn: enough for derivatives.
fn some(blocks: &[Block]) -> impl Iterator<Item = &Block> {
    blocks.iter().step_by(blocks.len() / 50 + 1)
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
