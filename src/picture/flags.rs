//! Which flags are worth writing where.

use super::Shown;
use crate::flag::Flag;
use std::collections::BTreeMap;

/// The flags of one photo's readings, sorted out once.
#[derive(Debug)]
pub(super) struct Flags {
    /// Those that more than half of the readings carry, with how many do.
    pub(super) common: Vec<(Flag, usize)>,
    /// For each patch region, in the samples' order, those that are worth writing there: not the common ones, nor that it is a
    /// reference.
    pub(super) own: Vec<Vec<Flag>>,
}

/// Fewer readings than this have nothing in common that the eye doesn't see at once.
const FEWEST_COMMON: usize = 4;

impl Flags {
    pub(super) fn new(shown: &Shown<'_>) -> Self {
        let mut counts: BTreeMap<Flag, usize> = BTreeMap::new();
        for flag in shown.readings.iter().flat_map(|it| &it.flags) {
            *counts.entry(*flag).or_default() += 1;
        }
        counts.retain(|flag, count| {
            !matches!(flag, Flag::Reference | Flag::Unmeasurable)
                && 2 * *count > shown.readings.len()
                && *count >= FEWEST_COMMON
        });
        let mut own = vec![Vec::new(); shown.samples.patches.len()];
        for reading in shown.readings {
            let flags = reading.flags.iter().copied();
            let worth = flags.filter(|it| *it != Flag::Reference && !counts.contains_key(it));
            if let Some(own) = own.get_mut(reading.region) {
                own.extend(worth);
            }
        }
        Self {
            common: counts.into_iter().collect(),
            own,
        }
    }

    /// Of a patch region.
    pub(super) fn of(&self, region: usize) -> &[Flag] {
        self.own.get(region).map_or(&[], Vec::as_slice)
    }
}
