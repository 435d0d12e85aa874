//! Every patch under a correction: its colour, its spread, its uncertainty part by part, its flags.

mod doubt;
pub(super) mod own;
mod spread;

use super::light::LightField;
use super::map::{self, ColourMap, Fitted, Sighting};
use super::observe::Observed;
use super::scene::Scene;
use super::surroundings::Locally;
use super::tone::ToneCurve;
use super::veil::{self, Veil};
use super::{ComponentName, Corrected, Correction};
use crate::colour::{Lab, Matrix, uncertainty};
use crate::flag::Flag;
use crate::photo::EncodingSource;
use crate::reference::{RegionIndex, patch_of};
use crate::sample::{Block, Region, Samples, float};
use doubt::{Common, noise_factor};
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
    let of_region = |it: &Region| it.blocks.iter().map(|it| evened(it, correction)).collect();
    let all: Vec<Vec<[f64; 3]>> = samples.patches.iter().map(of_region).collect();
    let veil = map::gains(sightings.iter()).map_or_else(Veil::default, |gains| {
        veil::of(&samples.patches, &all, gains.map(f64::recip))
    });
    samples
        .patches
        .iter()
        .zip(&all)
        .enumerate()
        .map(|(index, (region, under_veil))| {
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
                reader.fill(&mut reading, region, under_veil);
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
    /// Broad highlights.
    veil: &'a Veil,
}

/// One block under the correction.
struct Seen {
    /// Evened linear RGB with what a broad highlight adds …
    under_veil: [f64; 3],
    /// … and without.
    rgb: [f64; 3],
    lab: Lab,
}

/// Evened linear RGB of a block.
fn evened(block: &Block, correction: &Correction) -> [f64; 3] {
    let light = correction.light.at(block.mm);
    [0, 1, 2].map(|c| correction.tone.undo(block.rgb[c]) / light[c])
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
    /// `under_veil`: the region's blocks, evened.
    fn fill(&self, reading: &mut Corrected, region: &Region, under_veil: &[[f64; 3]]) {
        let blocks = region.blocks.iter().zip(under_veil);
        let seen: Vec<Seen> = blocks.map(|(it, rgb)| self.block(it, *rgb)).collect();
        let colour = mean_lab(seen.iter().map(|it| &it.lab));
        if !(colour.l.is_finite() && colour.a.is_finite() && colour.b.is_finite()) {
            return;
        }
        let n = float(seen.len());
        let noises = some(&region.blocks).zip(some(&seen));
        let noises: Vec<Matrix> = noises.map(|(it, seen)| self.noise(it, seen)).collect();
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
        self.components(reading, region, (colour, &seen), noise / n, uneven);
        self.late_flags(reading, &seen);
        reading.u95 = uncertainty::u95(colour, &(reading.cov_own + reading.cov_common))
            .unwrap_or(f64::INFINITY);
    }

    fn block(&self, block: &Block, under_veil: [f64; 3]) -> Seen {
        let rgb = self.veil.lifted(block.mm, under_veil);
        Seen {
            under_veil,
            rgb,
            lab: self.map.lab(rgb),
        }
    }

    /// The mean colour under another tone curve.
    fn under(&self, region: &Region, variant: &(ToneCurve, LightField, ColourMap)) -> Vector3<f64> {
        let (tone, light, map) = variant;
        mean_under(some(&region.blocks), tone, light, map).map_or_else(Vector3::zeros, vector)
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

/// At most some fifty of a region's blocks, evenly drawn: enough for derivatives.
fn some<T>(blocks: &[T]) -> impl Iterator<Item = &T> {
    blocks.iter().step_by(blocks.len() / 50 + 1)
}
