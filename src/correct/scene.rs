//! What the fits see of a photo: the references as it shows them, and what shows the light.

mod by_map;

use super::allowance;
use super::camera_light;
use super::choose::LEAST_LINEAR;
use super::light::{self, LightField, Look, Surface, Tie, Witness};
use super::map::Sighting;
use super::observe::{MOST_CLIPPED, Observed, is_neutral, mean};
use super::shadow::Shadows;
use super::surroundings::{LocalTone, Locally, Surroundings};
use super::tone::{self, Coloured, Neutral, Prior, ToneCurve, ToneSource};
use crate::colour::{Matrix, lab};
use crate::reference::Origin;
use crate::sample::{Region, RegionKind, Samples};
use nalgebra::Vector3;

/// Standard deviation of the log light of a neutral zone half of which is clipped: it grows with the square of the share, as what clipping
/// takes off a mean does. A guess: noise and the light's fall-off within a zone are some per cent.
const HALF_CLIPPED: f64 = 0.1;
/// Everything of a photo that the fits look at.
pub(super) struct Scene<'a> {
    samples: &'a Samples,
    references: &'a [Observed],
    /// Linear RGB of the file's space that the stated colours would have.
    stated: Vec<[f64; 3]>,
    /// Linear RGB to XYZ: the file's own, less what a phone adds to the saturation.
    pub(super) to_xyz: Matrix,
    /// What shows the light.
    looks: Vec<Look>,
    /// How light the surroundings are; none where they don't matter.
    surroundings: Option<Surroundings>,
    /// What ties the light between places.
    ties: Vec<Tie>,
    /// The same of a blank, which shows it instead.
    blank: Option<Vec<Look>>,
}

/// Linear RGB to XYZ as the file states it; of a sensor's values in the light that the neutral references show.
fn of_file(samples: &Samples, references: &[Observed]) -> Matrix {
    let Some(camera) = &samples.camera else {
        return samples.to_xyz;
    };
    let neutrals: Vec<_> = references
        .iter()
        .filter(|it| is_neutral(&it.reference) && it.clipped <= MOST_CLIPPED)
        .map(|it| {
            let seen = mean(&it.blocks, |block| block.rgb);
            (seen, lab::to_xyz(it.reference.lab))
        })
        .collect();
    camera_light::to_xyz(camera, samples.to_xyz, &neutrals)
}

/// Linear RGB that the references' known colours would have.
fn stated(to_xyz: &Matrix, references: &[Observed]) -> Vec<[f64; 3]> {
    let from_xyz = to_xyz.try_inverse().unwrap_or_else(Matrix::identity);
    let of = |it: &Observed| {
        let xyz = lab::to_xyz(it.reference.lab);
        (from_xyz * Vector3::new(xyz.x, xyz.y, xyz.z)).into()
    };
    references.iter().map(of).collect()
}

/// How much what the light shows of the tone curve counts against neutrals: mottle and compression make neighbours err together. With a
/// single grey card in the simulator's study split 0, ¼, ½ and 1 left 0.556, 0.527, 0.521 and 0.534 of the plain method's error; the
/// half made photos of one set-up differ more.
const SLOPES_COUNT: f64 = 0.25;
/// L* within which two neutrals are alike.
const ALIKE: f64 = 8.0;
/// Largest share of a region's pixels at the top of the encoding with which it still shows the light.
const MOST_CLIPPED_LOOK: f64 = 0.2;

/// Whether too little of a region is clipped to hide the light on it.
fn shows_light(region: &Region) -> bool {
    region.share(region.at_top) < MOST_CLIPPED_LOOK
}

/// Looks at the light: at the substrate, at each zone of a card, at each patch.
fn looks(samples: &Samples, surroundings: Option<&Surroundings>) -> Vec<Look> {
    let surfaces = [
        (Surface::Substrate, &samples.substrate),
        (Surface::Card, &samples.cards),
        (Surface::Patch, &samples.patches),
    ];
    let surface_of = |surface, region: &Region| match region.kind {
        RegionKind::Sheltered { .. } => Surface::Sheltered,
        _ => surface,
    };
    surfaces
        .into_iter()
        .flat_map(|(surface, regions)| regions.iter().map(move |it| (surface_of(surface, it), it)))
        .filter(|(_, it)| shows_light(it))
        .filter_map(|(surface, it)| Look::of(surface, it, surroundings))
        .collect()
}

impl<'a> Scene<'a> {
    /// `saturation` is that of the scene over that of the file.
    pub(super) fn of(samples: &'a Samples, references: &'a [Observed], saturation: f64) -> Self {
        let of_file = of_file(samples, references);
        let luminance = of_file.row(1);
        let grey = Matrix::from_rows(&[luminance, luminance, luminance]);
        let to_xyz = of_file * (Matrix::identity() * saturation + grey * (1.0 - saturation));
        // Linear values have seen no local tone mapping.
        let surroundings = (!samples.encoding.is_linear())
            .then(|| Surroundings::of(samples))
            .flatten();
        let scene = Self {
            samples,
            references,
            stated: stated(&to_xyz, references),
            to_xyz,
            looks: looks(samples, surroundings.as_ref()),
            surroundings,
            ties: Vec::new(),
            blank: None,
        };
        Self {
            ties: scene.find_ties(),
            ..scene
        }
    }

    /// Every two neutrals of like lightness: what the curve makes of both is the same, so that only the light is between them.
    fn find_ties(&self) -> Vec<Tie> {
        let neutrals: Vec<usize> = (0..self.references.len())
            .filter(|it| self.is_neutral(*it))
            .collect();
        let places = self.places();
        let lightness = |i: usize| self.references[i].reference.lab.l;
        let seen = |i: usize| mean(&self.references[i].blocks, |it| it.rgb);
        let pairs = neutrals
            .iter()
            .flat_map(|i| neutrals.iter().map(move |j| [*i, *j]))
            .filter(|[i, j]| i < j && (lightness(*i) - lightness(*j)).abs() < ALIKE);
        pairs
            .map(|pair| Tie {
                mm: pair.map(|i| places[i]),
                seen: pair.map(seen),
                stated: pair.map(|i| self.stated[i]),
                sd: self.sd(pair[0]).hypot(self.sd(pair[1])),
            })
            .collect()
    }

    /// With a blank that shows the light instead, if there is one.
    pub(super) fn lit_by(self, blank: Option<&Samples>) -> Self {
        Self {
            blank: blank.map(super::blank::looks),
            ..self
        }
    }

    /// The same photo with other colours known of the same masked halves, which show no light.
    pub(super) fn knowing(self, references: &'a [Observed]) -> Self {
        Self {
            stated: stated(&self.to_xyz, references),
            references,
            ..self
        }
    }

    pub(super) fn samples(&self) -> &Samples {
        self.samples
    }

    pub(super) fn references(&self) -> &[Observed] {
        self.references
    }

    fn is_neutral(&self, index: usize) -> bool {
        is_neutral(&self.references[index].reference) && self.balances(index)
    }

    fn balances(&self, index: usize) -> bool {
        self.stated[index].iter().all(|it| *it > 0.003)
    }

    /// How many levels of lightness the references have, if a neutral is among them; 0 otherwise.
    fn levels(&self) -> usize {
        let whole = self
            .references
            .iter()
            .filter(|it| it.clipped <= MOST_CLIPPED);
        let mut lightness: Vec<f64> = whole.map(|it| it.reference.lab.l).collect();
        lightness.sort_by(f64::total_cmp);
        let steps = lightness
            .windows(2)
            .filter(|it| it[1] - it[0] > 8.0)
            .count();
        // Without a neutral nothing gives the channels' gains.
        let balanced = (0..self.references.len()).any(|i| self.is_neutral(i));
        if balanced { steps + 1 } else { 0 }
    }

    fn coloured(&self, index: usize, light: &LightField) -> Coloured {
        let it = &self.references[index];
        let luminance: [f64; 3] = self.to_xyz.row(1).transpose().into();
        let stated = self.stated[index];
        Coloured {
            seen: mean(&it.blocks, |block| block.rgb),
            light: mean(&it.blocks, |block| light.at(block.mm)),
            stated: (0..3).map(|c| luminance[c] * stated[c]).sum(),
            luminance,
            sd: self
                .sd(index)
                .hypot(allowance::camera_luminance(it.reference.lab)),
        }
    }

    /// Standard deviation of a neutral's log light: the card's own tolerance and the light across it, stray light
    /// (0.3 % of white), which tells on dark zones, and what clipping takes off light ones.
    fn sd(&self, index: usize) -> f64 {
        let it = &self.references[index];
        let y = lab::luminance(it.reference.lab.l).max(1e-3);
        let clipped = HALF_CLIPPED * (it.clipped / 0.5).powi(2);
        0.02_f64.hypot(0.003 / y).hypot(clipped)
    }

    /// The tone curve that the neutrals show under a light, and what the light shows of it: `near` is a curve not far off.
    pub(super) fn tone(&self, light: &LightField, near: &ToneCurve, prior: &Prior) -> ToneCurve {
        let neutrals: Vec<Neutral> = (0..self.references.len())
            .filter(|i| self.is_neutral(*i))
            .map(|i| {
                let blocks = &self.references[i].blocks;
                Neutral {
                    seen: mean(blocks, |it| it.rgb),
                    light: mean(blocks, |it| light.at(it.mm)),
                    stated: self.stated[i],
                    sd: self.sd(i),
                }
            })
            .collect();
        let coloured: Vec<Coloured> = (0..self.references.len())
            .filter(|i| !self.is_neutral(*i))
            .map(|i| self.coloured(i, light))
            .collect();
        let source = if self.levels() < 2 {
            ToneSource::Assumed
        } else {
            ToneSource::Fitted
        };
        let witness = Witness::of(
            &self.looks,
            &self.ties,
            near,
            &self.places(),
            self.samples.size,
        );
        // One measure for all curves: no map at all is no reason to go back to another.
        let by_map = (self.masked() >= LEAST_LINEAR)
            .then(|| self.colours(light, near))
            .flatten();
        ToneCurve::fit(source, prior, near, |curve| {
            let of_light = witness.as_ref().map_or(0.0, |it| it.misfit(curve));
            let of_colours = match &by_map {
                Some(colours) => {
                    tone::misfit(&neutrals, &[], curve) + self.left_by_map(colours, curve)
                }
                None => tone::misfit(&neutrals, &coloured, curve),
            };
            of_colours + SLOPES_COUNT * of_light
        })
    }

    /// How many references are masked halves.
    fn masked(&self) -> usize {
        let masked = |it: &&Observed| matches!(it.reference.origin, Origin::Masked { .. });
        self.references.iter().filter(masked).count()
    }

    fn own_light(&self, tone: &ToneCurve) -> LightField {
        LightField::fit(
            &self.looks,
            &self.ties,
            tone,
            &self.places(),
            self.samples.size,
        )
    }

    /// The light under a tone curve.
    pub(super) fn light(&self, tone: &ToneCurve) -> LightField {
        match &self.blank {
            None => self.own_light(tone),
            Some(blank) => {
                let (places, size) = (self.places(), self.samples.size);
                let field = LightField::fit(blank, &[], tone, &places, size);
                light::follow(field, blank, tone, &places)
            }
        }
    }

    /// What the board shows of local tone mapping under a tone curve and a light, and what that leaves open.
    pub(super) fn locally(
        &self,
        tone: &ToneCurve,
        light: &LightField,
        sightings: &[Sighting],
    ) -> (Option<LocalTone>, Locally<'_>) {
        let Some(surroundings) = &self.surroundings else {
            return (None, Locally::none());
        };
        let seen = match self.blank {
            None => light.local_tone,
            // A blank has no surroundings.
            Some(_) => self.own_light(tone).local_tone,
        };
        let blocks = self.references.iter().map(|it| it.blocks.as_slice());
        let references = blocks.zip(sightings.iter().map(|it| it.neutral));
        (seen, Locally::of(surroundings, seen.as_ref(), references))
    }

    /// Where the substrate shows other light than the field.
    pub(super) fn shadows(&self, tone: &ToneCurve, light: &LightField) -> Shadows {
        Shadows::of(&self.looks, tone, light, &self.places())
    }

    /// Centres of the references, panel millimetres.
    pub(super) fn places(&self) -> Vec<[f64; 2]> {
        self.references
            .iter()
            .map(|it| {
                let [x, y, _] = mean(&it.blocks, |b| [b.mm[0], b.mm[1], 0.0]);
                [x, y]
            })
            .collect()
    }

    /// The references under a tone curve and a light.
    pub(super) fn sightings(&self, tone: &ToneCurve, light: &LightField) -> Vec<Sighting> {
        self.seen(|i| {
            mean(&self.references[i].blocks, |block| {
                let light = light.at(block.mm);
                [0, 1, 2].map(|c| tone.undo(block.rgb[c]) / light[c])
            })
        })
    }

    /// The references by what is seen of each in even light, by its index.
    fn seen(&self, evened: impl Fn(usize) -> [f64; 3]) -> Vec<Sighting> {
        let any_neutral = (0..self.references.len()).any(|i| self.is_neutral(i));
        self.references
            .iter()
            .enumerate()
            .map(|(i, it)| {
                let neutral = if any_neutral {
                    self.is_neutral(i)
                } else {
                    self.balances(i)
                };
                let rgb = evened(i);
                Sighting {
                    rgb: rgb.map(|it| it.max(1e-7)),
                    lab: it.reference.lab,
                    stated: self.stated[i],
                    neutral: if neutral { self.sd(i).powi(-2) } else { 0.0 },
                }
            })
            .collect()
    }
}
