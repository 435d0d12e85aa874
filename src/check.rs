//! Is this photo good enough, before the light is gone?
//!
//! Takes a photo and whatever is known of it by then (the panel, where it lies, its samples); gives [`Finding`]s: each a
//! figure measured on this photo, the tolerance it is held against and where that comes from, a verdict, and what to do.
//! With less known, less is judged: a photo alone still tells its size, sharpness, noise and what the camera did to it.
//! Nothing here changes a reading.

mod board;
mod card;
mod edges;
mod file;
mod item;
mod light;
mod noise;
mod patches;
mod rule;
mod whole;

pub use item::Item;
pub use rule::{Rule, Sense};

use crate::locate::{self, Located, locate};
use crate::panel::Panel;
use crate::photo::{self, Photo, PhotoError};
use crate::sample::{Samples, sample};
use serde::Serialize;
use std::path::Path;

/// How a figure stands against its tolerance, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Within the narrower limit.
    Good,
    /// Could not be measured on this photo; the finding says why.
    NotJudged,
    /// Within the wider limit.
    Usable,
    /// Beyond tolerance.
    NotGood,
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What was looked at.
    pub item: Item,
    /// The figure, in the rule's unit; none if it could not be measured.
    pub measured: Option<f64>,
    /// Where the figure comes from or what stands beside it, for people; may be empty.
    pub detail: String,
    /// The limits, their unit, their source and what to do.
    pub rule: Rule,
    /// How the figure stands.
    pub verdict: Verdict,
}

impl Finding {
    /// A measured figure, judged by the item's rule. A figure that is not finite is not judged.
    #[must_use]
    pub fn new(item: Item, measured: f64, detail: impl Into<String>) -> Self {
        if !measured.is_finite() {
            return Self::not_judged(item, "no finite figure could be had");
        }
        let rule = item.rule();
        Self {
            item,
            measured: Some(measured),
            detail: detail.into(),
            rule,
            verdict: rule.judge(measured),
        }
    }

    /// Something that could not be measured, and why.
    #[must_use]
    pub fn not_judged(item: Item, why: impl Into<String>) -> Self {
        Self {
            item,
            measured: None,
            detail: why.into(),
            rule: item.rule(),
            verdict: Verdict::NotJudged,
        }
    }

    /// A panel that was asked for and not found: beyond tolerance, with the reason of the refusal.
    #[must_use]
    pub fn not_located(reason: impl Into<String>) -> Self {
        Self::new(Item::NotLocated, 1.0, reason)
    }

    /// What to do about it, one plain sentence; none where all is well.
    #[must_use]
    pub fn advice(&self) -> Option<&'static str> {
        matches!(self.verdict, Verdict::Usable | Verdict::NotGood).then_some(self.rule.advice)
    }
}

/// Opens a photo, looks for the panel if there is one, and judges what can be judged.
///
/// A panel that isn't found is a finding, not an error: the rest is judged all the same.
///
/// # Errors
///
/// If the file can't be read as a photo.
pub fn file(
    path: &Path,
    panel: Option<&Panel>,
    photo_options: &photo::Options,
    locate_options: &locate::Options,
) -> Result<Vec<Finding>, PhotoError> {
    let photo = Photo::open(path, photo_options)?;
    let Some(panel) = panel else {
        return Ok(check(&photo, None, None, None));
    };
    Ok(match locate(&photo, panel, locate_options) {
        Ok(located) => {
            let samples = sample(&photo, panel, &located);
            check(&photo, Some(panel), Some(&located), Some(&samples))
        }
        Err(refused) => {
            let mut findings = vec![Finding::not_located(format!(
                "{refused}. {}",
                refused.hint()
            ))];
            findings.extend(check(&photo, Some(panel), None, None));
            findings
        }
    })
}

/// Everything that can be judged of a photo with what is given; in a fixed order, the order of [`Item`].
///
/// Without `located` the board, its light and its edges are not judged; without `samples` neither are its card and patches.
#[must_use]
pub fn check(
    photo: &Photo,
    panel: Option<&Panel>,
    located: Option<&Located>,
    samples: Option<&Samples>,
) -> Vec<Finding> {
    let mut findings = file::findings(photo);
    match (panel, located) {
        (Some(panel), Some(located)) => {
            findings.extend(board::findings(photo, panel, located));
            findings.push(edges::finding(photo, panel, located));
        }
        _ => findings.extend(whole::findings(photo)),
    }
    if let (Some(panel), Some(samples)) = (panel, samples) {
        findings.extend(card::findings(panel, samples));
        findings.extend(patches::findings(
            panel,
            samples,
            board::sensor_pixels(photo).powi(2),
        ));
        findings.extend(light::findings(samples));
        findings.push(noise::finding(photo, samples));
    }
    findings.sort_by_key(|it| it.item);
    findings
}
