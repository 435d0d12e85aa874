//! Which references a photo shows well enough to serve, each with the blocks that show it.

use super::error::CorrectError;
use crate::colour::lab;
use crate::reference::{Origin, Reference, RegionIndex};
use crate::sample::{Block, Region, Samples, float};

/// A usable reference with the blocks that show it.
#[derive(Clone, Debug)]
pub(super) struct Observed {
    pub(super) reference: Reference,
    pub(super) blocks: Vec<Block>,
    /// Share of its pixels at the top of the encoding, 0–1.
    pub(super) clipped: f64,
}

/// Largest share of a reference's pixels at the top of the encoding.
pub(super) const MOST_CLIPPED: f64 = 0.05;
/// The same of a neutral zone beside others that are not clipped: it still tells the curve of light tones, which nothing else does, the
/// less the more of it is clipped. Left out from one share on, photos of one set-up fell on either side of it, 1.2 in L* apart.
const MOST_CLIPPED_BESIDE: f64 = 0.9;
/// From so many stated references on, one that is clipped can be spared: a choice.
const MANY: usize = 6;
/// Least linear value of a reference that isn't itself dark: below, eight bits have few steps left.
const LEAST_VALUE: f64 = 0.01;
/// A reference from this lightness on is not itself dark.
const NOT_DARK: f64 = 35.0;
/// Chroma up to which a stated colour balances the channels.
const NEUTRAL_CHROMA: f64 = 12.0;

/// Collects the blocks of each reference and leaves out what can't serve.
pub(super) fn observe(
    samples: &Samples,
    references: &[Reference],
) -> Result<Vec<Observed>, CorrectError> {
    let mut observed: Vec<Observed> = Vec::new();
    let mut worst = CorrectError::NoReference;
    for reference in references {
        let regions = regions(samples, reference);
        let blocks: Vec<Block> = regions
            .iter()
            .flat_map(|it| it.blocks.iter().copied())
            .collect();
        let pixels: usize = regions
            .iter()
            .map(|it| it.pixels + it.left_out.total())
            .sum();
        let top: usize = regions.iter().map(|it| it.at_top).sum();
        if pixels == 0 || blocks.is_empty() && top == 0 {
            continue;
        }
        let share = float(top) / float(pixels);
        if share > MOST_CLIPPED {
            worst = CorrectError::Clipped {
                name: reference.name.clone(),
                share,
                limit: MOST_CLIPPED,
            };
            if share > MOST_CLIPPED_BESIDE || blocks.is_empty() || !is_neutral(reference) {
                continue;
            }
        }
        let mean = mean(&blocks, |it| it.rgb);
        let value = mean.into_iter().fold(0.0, f64::max);
        if reference.lab.l >= NOT_DARK && value < LEAST_VALUE {
            worst = CorrectError::TooDark {
                name: reference.name.clone(),
                value,
                limit: LEAST_VALUE,
            };
            continue;
        }
        if mean.iter().all(|it| *it > 0.0) {
            observed.push(Observed {
                reference: reference.clone(),
                blocks,
                clipped: share,
            });
        }
    }
    let whole = |it: &&Observed| it.clipped <= MOST_CLIPPED;
    // Masked halves come and go from photo to photo, and a dark zone alone says nothing of light tones.
    let stated = |it: &&Observed| !matches!(it.reference.origin, Origin::Masked { .. });
    let grey = |it: &Observed| is_neutral(&it.reference) && it.reference.lab.l >= NOT_DARK;
    let beside = observed.iter().filter(whole).any(grey)
        && observed.iter().filter(whole).filter(stated).count() < MANY;
    observed.retain(|it| beside || whole(&it));
    if observed.is_empty() {
        return Err(worst);
    }
    contradiction(&observed)?;
    Ok(observed)
}

fn regions<'a>(samples: &'a Samples, reference: &Reference) -> Vec<&'a Region> {
    reference
        .regions
        .iter()
        .flat_map(|index| match index {
            RegionIndex::Patch(i) => samples.patches.get(*i..=*i).unwrap_or_default(),
            RegionIndex::Card(i) => samples.cards.get(*i..=*i).unwrap_or_default(),
            RegionIndex::Substrate => samples.substrate.as_slice(),
        })
        .collect()
}

pub(super) fn mean(blocks: &[Block], value: impl Fn(&Block) -> [f64; 3]) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for block in blocks {
        let value = value(block);
        for c in 0..3 {
            sum[c] += value[c];
        }
    }
    sum.map(|it| it / float(blocks.len().max(1)))
}

/// Neutrals far apart in lightness must be seen in that order, whatever the curve and (within a stop) the light. A masked half that is not is
/// one that moved: the fit leaves it out.
fn contradiction(observed: &[Observed]) -> Result<(), CorrectError> {
    let neutrals: Vec<(&Observed, f64)> = observed
        .iter()
        .filter(|it| !matches!(it.reference.origin, Origin::Masked { .. }))
        .filter(|it| lab::chroma(it.reference.lab) <= NEUTRAL_CHROMA)
        .map(|it| (it, mean(&it.blocks, |b| b.rgb)[1]))
        .collect();
    for (light, light_seen) in &neutrals {
        for (dark, dark_seen) in &neutrals {
            let (l, d) = (light.reference.lab.l, dark.reference.lab.l);
            if l > d + 20.0 && light_seen <= dark_seen {
                return Err(CorrectError::Contradiction {
                    lighter: light.reference.name.clone(),
                    darker: dark.reference.name.clone(),
                    stated: l,
                    other: d,
                });
            }
        }
    }
    Ok(())
}

/// Whether a reference says what white is. What may have yellowed outdoors doesn't.
pub(super) fn is_neutral(reference: &Reference) -> bool {
    !matches!(reference.origin, Origin::Masked { .. })
        && lab::chroma(reference.lab) <= NEUTRAL_CHROMA
}
