//! From what the stages found in one photo to its record.

use super::PhotoRecord;
use super::correction::CorrectionEntry;
use super::exposure::{Dose, ExposureEntry};
use super::panel::PanelEntry;
use super::photo::{EncodingEntry, LocationEntry, PhotoEntry, Program, Settings};
use super::reading::{Half, Reading};
use super::round::{covariance, decimals, six};
use crate::colour::lab::{chroma, hue_degrees};
use crate::correct::{Component, Corrected, Correction};
use crate::flag::Flag;
use crate::locate::Located;
use crate::panel::{Panel, Patch};
use crate::photo::Photo;
use crate::sample::{Region, RegionKind, Samples};

/// What the stages found in one photo.
#[derive(Debug)]
pub struct Found<'a> {
    /// The photo.
    pub photo: &'a Photo,
    /// The panel that was looked for.
    pub panel: &'a Panel,
    /// Where it lies.
    pub located: &'a Located,
    /// What was sampled.
    pub samples: &'a Samples,
    /// What was fitted.
    pub correction: &'a Correction,
    /// The patches' colours, in any order.
    pub corrected: &'a [Corrected],
    /// What the user asked for.
    pub settings: Settings,
    /// How much exposure came before it.
    pub dose: Dose,
    /// How it was exposed, if that is stated.
    pub exposure: Option<ExposureEntry>,
    /// What was found doubtful, in words.
    pub doubts: Vec<String>,
}

/// The record of one photo: a reading for every half of every patch that isn't empty, whatever became of it.
#[must_use]
pub fn of_photo(found: &Found<'_>) -> PhotoRecord {
    let photo = PhotoEntry {
        sha256: found.photo.sha256.clone(),
        path: found.photo.path.to_string_lossy().into_owned(),
        program: Program::this(),
        hours: found.dose.hours,
        dose: found.dose.dose,
        dose_kind: found.dose.dose_kind.clone(),
        exposure: found.exposure.clone(),
        settings: found.settings.clone(),
        size: [found.photo.width, found.photo.height],
        orientation: found.photo.orientation,
        encoding: EncodingEntry {
            source: found.photo.encoding.source,
            name: found.photo.encoding.name.clone(),
        },
        metadata: found.photo.metadata.clone(),
        panel: PanelEntry::from(found.panel),
        location: LocationEntry::from(found.located),
        correction: CorrectionEntry::from(found.correction),
        doubts: found.doubts.clone(),
    };
    let patches = found.panel.patches.iter().enumerate();
    let readings = patches
        .filter(|(_, patch)| !patch.empty)
        .flat_map(|(index, patch)| {
            let halves: &[Half] = match patch.masked {
                None => &[Half::Whole],
                Some(_) => &[Half::Masked, Half::Exposed],
            };
            halves.iter().map(move |half| (index, patch, *half))
        })
        .map(|(index, patch, half)| reading(found, index, patch, half))
        .collect();
    PhotoRecord { photo, readings }
}

/// The reading of one half of one patch.
fn reading(found: &Found<'_>, index: usize, patch: &Patch, half: Half) -> Reading {
    let kind = match half {
        Half::Whole => RegionKind::Whole { patch: index },
        Half::Masked => RegionKind::Masked { patch: index },
        Half::Exposed => RegionKind::Exposed { patch: index },
    };
    let region = found.samples.patches.iter().find(|it| it.kind == kind);
    let corrected = found.corrected.iter().find(|it| it.kind == kind);
    let mut flags: Vec<Flag> = corrected.map(|it| it.flags.clone()).unwrap_or_default();
    let colour = corrected
        .filter(|_| !flags.contains(&Flag::Unmeasurable))
        .and_then(Colour::new);
    if colour.is_none() {
        flags.push(Flag::Unmeasurable);
    }
    flags.sort_unstable();
    flags.dedup();
    let rect = match half {
        Half::Whole => patch.rect,
        Half::Masked => patch.masked_half().unwrap_or(patch.rect),
        Half::Exposed => patch.exposed_half().unwrap_or(patch.rect),
    };
    Reading {
        photo: found.photo.path.to_string_lossy().into_owned(),
        panel: found.panel.id.clone(),
        patch: patch.id.clone(),
        half,
        hours: found.dose.hours,
        l: colour.as_ref().map(|it| it.lab[0]),
        a: colour.as_ref().map(|it| it.lab[1]),
        b: colour.as_ref().map(|it| it.lab[2]),
        c: colour.as_ref().map(|it| it.chroma),
        h: colour.as_ref().map(|it| it.hue),
        hex: colour.as_ref().map(|it| it.hex.clone()),
        sd_l: colour.as_ref().map(|it| it.sd[0]),
        sd_a: colour.as_ref().map(|it| it.sd[1]),
        sd_b: colour.as_ref().map(|it| it.sd[2]),
        unevenness: colour.as_ref().map(|it| it.unevenness),
        pixels: region.map_or(0, |it| it.pixels),
        left_out: region.map_or(1.0, left_out),
        u95: colour.as_ref().map(|it| it.u95),
        correction: found.correction.kind,
        flags,
        outline: found
            .located
            .panel
            .outline(&rect)
            .map(|p| [decimals(p.x, 2), decimals(p.y, 2)]),
        cov_own: colour.as_ref().map(|it| it.cov_own),
        cov_common: colour.as_ref().map(|it| it.cov_common),
        components: colour.map(|it| it.components).unwrap_or_default(),
    }
}

/// The numbers of a reading that has a colour, rounded; every one of them is finite.
struct Colour {
    lab: [f64; 3],
    chroma: f64,
    hue: f64,
    hex: String,
    sd: [f64; 3],
    unevenness: f64,
    u95: f64,
    cov_own: [[f64; 3]; 3],
    cov_common: [[f64; 3]; 3],
    components: Vec<Component>,
}

impl Colour {
    /// `None` without a colour, or where any of its numbers is not one: half a statement is none.
    fn new(corrected: &Corrected) -> Option<Self> {
        let lab = corrected.lab?;
        let numbers = [lab.l, lab.a, lab.b, corrected.unevenness, corrected.u95];
        let matrices = corrected.cov_own.iter().chain(&corrected.cov_common);
        let components = corrected.components.iter().flat_map(|it| &it.sd_lab);
        let finite = numbers
            .iter()
            .chain(&corrected.sd)
            .chain(matrices)
            .chain(components)
            .all(|it| it.is_finite());
        finite.then(|| Self {
            lab: [lab.l, lab.a, lab.b].map(six),
            chroma: six(chroma(lab)),
            hue: six(hue_degrees(lab)) % 360.0,
            hex: crate::colour::srgb::to_hex(lab),
            sd: corrected.sd.map(six),
            unevenness: six(corrected.unevenness),
            u95: six(corrected.u95),
            cov_own: covariance(&corrected.cov_own),
            cov_common: covariance(&corrected.cov_common),
            components: corrected
                .components
                .iter()
                .map(|it| Component {
                    sd_lab: it.sd_lab.map(six),
                    ..it.clone()
                })
                .collect(),
        })
    }
}

/// The share of a region's pixels that were left out; all of them where it has none.
fn left_out(region: &Region) -> f64 {
    let out = region.left_out.total();
    let all = out + region.pixels;
    if all == 0 {
        return 1.0;
    }
    #[expect(
        clippy::cast_precision_loss,
        reason = "counts of pixels are far below 2^52"
    )]
    let share = out as f64 / all as f64;
    six(share)
}
