//! What masked halves say of the tone curve: what a map leaves of them under it.

use super::{Observed, Scene, mean};
use crate::colour::difference;
use crate::correct::choose::LEAST_ROOT;
use crate::correct::light::LightField;
use crate::correct::map::{Heard, Model, Sighting, Terms};
use crate::correct::robust;
use crate::correct::tone::{ToneCurve, Value};

/// Strength of the ridge of the map that is fitted while the curve is sought: the map may go where it will.
const RIDGE: f64 = 1.0;
/// ΔE00 that a map leaves of a colour under the right curve, as a standard deviation: what leaving references out shows is 0.5 to 1.5. A half
/// and twice as much moved the mean error of the study's changes by 0.5 % at most.
const LEFT_BY_MAP: f64 = 1.0;
/// More than any curve costs under which a map can be fitted.
const NO_MAP: f64 = 1e6;

/// The mean of a reference's blocks.
struct Mean {
    /// Linear values of the file.
    seen: [Value; 3],
    /// The light on them.
    light: [f64; 3],
}

/// The references under one light, for many curves that are not far from one: a curve bends little across a region, so that a region is undone once and
/// not some hundred times; and what moved under one of the curves moved under all of them.
pub(super) struct Colours {
    means: Vec<Mean>,
    model: Model,
    heard: Heard,
}

impl Scene<'_> {
    /// None where no map can be fitted under the curve `near`.
    pub(super) fn colours(&self, light: &LightField, near: &ToneCurve) -> Option<Colours> {
        let of = |it: &Observed| Mean {
            seen: mean(&it.blocks, |block| block.rgb).map(Value::of),
            light: mean(&it.blocks, |block| light.at(block.mm)),
        };
        let means: Vec<Mean> = self.references.iter().map(of).collect();
        let terms = if means.len() >= LEAST_ROOT {
            Terms::RootPolynomial
        } else {
            Terms::Linear
        };
        let model = Model::Ridge(terms, RIDGE);
        let heard = Heard::of(model, &self.to_xyz, &self.undone(&means, near))?;
        Some(Colours {
            means,
            model,
            heard,
        })
    }

    /// Half the sum of squares that is left of the references under a tone curve once a map was fitted to them, far ones counting ever less: what
    /// many colours say of the curve beyond their luminance. Neutrals count here as colours, and by their levels besides. A camera that sees its colours apart is no reason to bend the curve, as long
    /// as a map can follow it.
    pub(super) fn left_by_map(&self, colours: &Colours, tone: &ToneCurve) -> f64 {
        let sightings = self.undone(&colours.means, tone);
        let fitted = colours.heard.fit(colours.model, &self.to_xyz, &sightings);
        fitted.map_or(NO_MAP, |map| {
            let cost = |it: &Sighting| {
                let off = difference::delta_e_2000(map.lab(it.rgb), it.lab);
                robust::cauchy_cost(off / LEFT_BY_MAP)
            };
            sightings.iter().map(cost).sum::<f64>() / 2.0
        })
    }

    fn undone(&self, means: &[Mean], tone: &ToneCurve) -> Vec<Sighting> {
        self.seen(|i| {
            let Mean { seen, light } = means[i];
            [0, 1, 2].map(|c| tone.undo_value(&seen[c]).0 / light[c])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::srgb::RgbSpace;
    use crate::colour::{Matrix, Xyz, lab};
    use crate::correct::choose::LEAST_LINEAR;
    use crate::correct::tone::{Prior, ToneSource};
    use crate::photo::EncodingSource;
    use crate::reference::{Origin, Reference};
    use crate::sample::{Block, Overview, Samples};
    use nalgebra::{Matrix2, Vector3};

    /// A grey card and so many masked halves in even light, by a camera of this curve whose channels overlap.
    fn seen_through(curve: &ToneCurve, halves: u8) -> (Samples, Vec<Observed>) {
        let to_xyz = *RgbSpace::Srgb.linear_to_xyz_d50();
        let samples = Samples {
            to_xyz,
            encoding: EncodingSource::AssumedSrgb,
            camera: None,
            size: [100, 100],
            bits: 8,
            code_step: 1e-3,
            patches: Vec::new(),
            cards: Vec::new(),
            substrate: Vec::new(),
            overview: Overview::default(),
        };
        // The file's value of a light, by bisection: the inverse of `undo`.
        let file = |light: f64| {
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..60 {
                let middle = (low + high) / 2.0;
                if curve.undo(middle) < light {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            low
        };
        let mixing = Matrix::new(0.75, 0.2, 0.05, 0.1, 0.8, 0.1, 0.05, 0.25, 0.7);
        let observed = |rgb: [f64; 3], origin: Origin| {
            let [x, y, z] = (to_xyz * Vector3::from(rgb)).into();
            let light: [f64; 3] = (mixing * Vector3::from(rgb)).into();
            let block = Block {
                mm: [0.0; 2],
                px: [50.0; 2],
                rgb: light.map(file),
                variance: [0.0; 3],
                n: 100,
            };
            Observed {
                reference: Reference {
                    name: String::new(),
                    regions: Vec::new(),
                    lab: lab::from_xyz(Xyz::new(x, y, z)),
                    covariance: Matrix::identity() * 0.01,
                    origin,
                },
                blocks: vec![block],
                clipped: 0.0,
            }
        };
        let common = Matrix::zeros();
        let step = |i: u8, by: u8| 0.03 + 0.05 * f64::from(i * by % 13);
        let masked = (0..halves).map(|i| {
            let rgb = [step(i, 5), step(i, 7), step(i, 11)];
            observed(rgb, Origin::Masked { common })
        });
        let card = observed([0.18; 3], Origin::Stated);
        (samples, [card].into_iter().chain(masked).collect())
    }

    #[test]
    fn masked_halves_show_the_curve_of_a_camera_whose_channels_overlap() {
        for (contrast, shift) in [(0.3, -0.4), (0.0, 0.1), (0.35, 0.2)] {
            let curve = ToneCurve {
                contrast,
                shift,
                source: ToneSource::Fitted,
                covariance: Matrix2::zeros(),
            };
            // What is off, as log light from pale to dark.
            let off = |halves: u8| {
                let (samples, observed) = seen_through(&curve, halves);
                let scene = Scene::of(&samples, &observed, 1.0);
                // Nothing is supposed: what is found, the colours show.
                let prior = Prior {
                    contrast: 0.0,
                    shift: 0.0,
                    sd: [1.0; 2],
                    correlation: 0.0,
                };
                let assumed = ToneCurve::assumed(&prior);
                let found = scene.tone(&LightField::even(), &assumed, &prior);
                let apart = |it: &ToneCurve| it.undo(0.7).ln() - it.undo(0.03).ln();
                (apart(&found) - apart(&curve)).abs()
            };
            let many = off(14);
            assert!(many < 0.03, "{contrast} {shift}: {many}");
            // Few are asked for their luminance alone.
            let few = off(u8::try_from(LEAST_LINEAR).unwrap() - 1);
            assert!(many < few, "{contrast} {shift}: {many} of {few}");
        }
    }
}
