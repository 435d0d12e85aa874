//! References: regions of a photo whose colour is known.
//!
//! Takes a panel and the samples of a photo of it; gives one list of [`Reference`]: zones of cards, patches with a
//! stated colour, the substrate where its colour is given. What calibrates from it doesn't see the difference.

use crate::colour::{Lab, Matrix, difference};
use crate::panel::{KnownColour, Panel};
use crate::sample::{Region, RegionKind, Samples};
use serde::{Deserialize, Serialize};

/// A region of known colour. A grey card, a zone of a chart and a patch with a stated colour are the same thing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// Where it comes from, for people and the record: `card grey-18 A1`, `patch B3`.
    pub name: String,
    /// Index of its regions in the samples (a patch's two halves count as one reference).
    pub regions: Vec<RegionIndex>,
    /// Its colour.
    pub lab: Lab,
    /// Covariance of that colour in Lab.
    pub covariance: Matrix,
    /// How it is known.
    pub origin: Origin,
}

impl Reference {
    /// Whether a data sheet or the panel file states its colour.
    #[must_use]
    pub fn is_stated(&self) -> bool {
        self.origin == Origin::Stated
    }
}

/// How a reference's colour is known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// A data sheet or the panel file states it. It is taken to stay.
    Stated,
    /// It was measured before any sun, and has been outdoors under a mask since: it may have moved, so that it never balances the channels.
    Masked {
        /// Covariance that it shared then with all colours of its photos.
        common: Matrix,
    },
    /// It was measured then, and has stayed indoors.
    Indoors {
        /// As above.
        common: Matrix,
    },
}

impl Origin {
    /// What it shared with all colours of the photos that it was measured in; none where it was stated.
    #[must_use]
    pub fn common(&self) -> Option<&Matrix> {
        match self {
            Self::Stated => None,
            Self::Masked { common } | Self::Indoors { common } => Some(common),
        }
    }
}

/// Which region of the samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RegionIndex {
    /// Index into `Samples::patches`.
    Patch(usize),
    /// Index into `Samples::cards`.
    Card(usize),
    /// All of the substrate.
    Substrate,
}

/// U95 in ΔE00 of a stated colour that comes without one: a card or a chart as bought, against the values of its data
/// sheet. From memory of usual tolerances, no source.
pub const DEFAULT_U95: f64 = 1.0;

/// U95 over the standard deviation of each coordinate, for an error that is equal in all three: the 95th percentile of
/// the Maxwell distribution (√χ²₃,₀.₉₅ = √7.8147).
const MAXWELL_95: f64 = 2.7955;

/// Every region of known colour that has samples, in order: cards, patches with a stated colour, the substrate unless the board has been
/// outdoors since, what was measured before any sun.
#[must_use]
pub fn references(panel: &Panel, samples: &Samples) -> Vec<Reference> {
    let mut found = Vec::new();
    for (index, region) in samples.cards.iter().enumerate() {
        let RegionKind::Card { card, zone } = region.kind else {
            continue;
        };
        let Some(placed) = panel.cards.get(card) else {
            continue;
        };
        if let Some(patch) = placed.card.patches.get(zone)
            && let Some(known) = &patch.known
        {
            let name = format!("card {} {}", placed.card.id, patch.id);
            found.push(reference(name, vec![RegionIndex::Card(index)], known));
        }
    }
    for (number, patch) in panel.patches.iter().enumerate() {
        let Some(known) = &patch.known else {
            continue;
        };
        let regions: Vec<RegionIndex> = samples
            .patches
            .iter()
            .enumerate()
            .filter(|(_, it)| patch_of(it.kind) == Some(number))
            .map(|(index, _)| RegionIndex::Patch(index))
            .collect();
        if !regions.is_empty() {
            found.push(reference(format!("patch {}", patch.id), regions, known));
        }
    }
    // Once the board has been outdoors, its substrate has aged: in the sun more than under the masks.
    let fresh = panel.patches.iter().all(|it| it.before.is_none());
    if let Some(known) = panel.board_colour.as_ref().filter(|_| fresh)
        && !samples.substrate.is_empty()
    {
        found.push(reference(
            "substrate".into(),
            vec![RegionIndex::Substrate],
            known,
        ));
    }
    found.extend(from_before(panel, samples));
    found
}

/// What the name of a reference begins with that is a masked half; the patch's id follows.
pub const MASKED_HALF_OF: &str = "masked half of ";

/// Masked halves, and patches that stay indoors, whose colour was measured before any sun. A stated colour comes first.
fn from_before(panel: &Panel, samples: &Samples) -> Vec<Reference> {
    let regions = samples.patches.iter().enumerate();
    let of = |(index, region): (usize, &Region)| {
        let patch = panel.patches.get(patch_of(region.kind)?)?;
        let before = patch.before.as_ref().filter(|_| patch.known.is_none())?;
        let common = before.common;
        let (name, origin) = match region.kind {
            RegionKind::Masked { .. } => (
                format!("{MASKED_HALF_OF}{}", patch.id),
                Origin::Masked { common },
            ),
            RegionKind::Whole { .. } => (
                format!("patch {}, kept indoors", patch.id),
                Origin::Indoors { common },
            ),
            _ => return None,
        };
        Some(Reference {
            name,
            regions: vec![RegionIndex::Patch(index)],
            lab: before.lab,
            covariance: before.own,
            origin,
        })
    };
    regions.filter_map(of).collect()
}

fn reference(name: String, regions: Vec<RegionIndex>, known: &KnownColour) -> Reference {
    Reference {
        name,
        regions,
        lab: known.lab,
        covariance: covariance(known.lab, known.u95.unwrap_or(DEFAULT_U95)),
        origin: Origin::Stated,
    }
}

/// Which of the panel's patches a region belongs to; none for cards and substrate.
#[must_use]
pub fn patch_of(kind: RegionKind) -> Option<usize> {
    match kind {
        RegionKind::Whole { patch }
        | RegionKind::Masked { patch }
        | RegionKind::Exposed { patch } => Some(patch),
        RegionKind::Card { .. } | RegionKind::Substrate { .. } | RegionKind::Sheltered { .. } => {
            None
        }
    }
}

/// The covariance in Lab whose ΔE00 stays within `u95` in 95 % of cases, equal in every direction of the local metric.
#[must_use]
pub fn covariance(lab: Lab, u95: f64) -> Matrix {
    let sd = u95 / MAXWELL_95;
    let metric = difference::local_metric(lab);
    metric.try_inverse().unwrap_or_else(Matrix::identity) * (sd * sd)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::uncertainty;

    #[test]
    fn a_boards_own_substrate_is_no_reference_once_it_was_outdoors() {
        use crate::panel::Before;
        use crate::sample::tests_support::panel_2x2;
        use crate::sample::{LeftOut, Overview};
        let mut panel = panel_2x2();
        panel.board_colour = Some(KnownColour {
            lab: Lab::new(78.0, 5.0, 21.0),
            u95: None,
            reflectance: None,
        });
        let substrate = Region {
            kind: RegionKind::Substrate { patch: 0 },
            rect: panel.extent(),
            outline: [[0.0; 2]; 4],
            blocks: Vec::new(),
            pixels: 0,
            left_out: LeftOut::default(),
            at_top: 0,
            at_bottom: 0,
        };
        let samples = Samples {
            to_xyz: Matrix::identity(),
            encoding: crate::photo::EncodingSource::Linear,
            camera: None,
            size: [1, 1],
            bits: 8,
            code_step: 0.001,
            patches: Vec::new(),
            cards: Vec::new(),
            substrate: vec![substrate],
            overview: Overview::default(),
        };
        assert_eq!(references(&panel, &samples)[0].name, "substrate");
        panel.patches[0].before = Some(Before {
            lab: Lab::new(50.0, 0.0, 0.0),
            own: Matrix::zeros(),
            common: Matrix::zeros(),
        });
        assert!(references(&panel, &samples).is_empty());
    }

    #[test]
    fn a_stated_u95_comes_back_from_the_covariance() {
        for lab in [
            Lab::new(50.0, 0.0, 0.0),
            Lab::new(40.0, 45.0, 30.0),
            Lab::new(30.0, 10.0, -40.0),
        ] {
            let back = uncertainty::u95(lab, &covariance(lab, 0.8)).unwrap();
            assert!((back - 0.8).abs() < 0.03, "{lab:?}: {back}");
        }
    }
}
