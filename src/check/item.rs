//! What is looked at, and the limits it is held against with their sources.

use super::{Rule, Sense};
use serde::Serialize;

/// Everything that is looked at, in the order of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Item {
    /// Whether the panel was found.
    NotLocated,
    /// Cards that the panel file names and the photo doesn't show.
    CardMissing,
    /// Clipped share of the worst card zone.
    CardClipped,
    /// Level of the card's grey.
    Exposure,
    /// Colour of the card's grey as the camera rendered it.
    WhiteBalance,
    /// Light across one card.
    UnevenCard,
    /// Light across the board.
    UnevenLight,
    /// A step in the light across the board.
    ShadowEdge,
    /// Colour of the light across the board.
    MixedLight,
    /// Clipped share of the worst patch.
    PatchClipped,
    /// Share of the worst dark patch with a channel at the bottom.
    PatchDark,
    /// Patches whose colour the file's colour space can't hold.
    OutsideEncoding,
    /// Highlights on the worst patch.
    Glare,
    /// Edge width at the patches' outlines.
    Blur,
    /// Noise of 1 mm blocks.
    Noise,
    /// Scale of the board in the photo.
    Scale,
    /// Pixels of the smallest sampled region.
    PatchPixels,
    /// Tilt of the board.
    Tilt,
    /// Pixels of the file.
    PhotoSize,
    /// Edge width of the sharpest edges anywhere, without a panel.
    PhotoBlur,
    /// Pixel noise of the smoothest places, without a panel.
    PhotoNoise,
    /// Clipped share of the whole photo, without a panel.
    PhotoClipped,
    /// Whether the file states its colour space.
    ColourSpace,
    /// Digital zoom.
    DigitalZoom,
    /// Flash.
    Flash,
    /// Tags of heavy processing.
    Processing,
}

/// No guideline gives a level; workshop sense does.
const PRACTICE: &str = "common practice, no source";
/// The rows come from a published comparison of the guidelines, not from the documents themselves.
const FADGI_NEUTRAL: &str =
    "FADGI 2023 white balance, 3 and 1 stars, by a published comparison table";
const FADGI_NOISE: &str =
    "FADGI 2023 noise, 4 and 3 stars, by a published comparison table, applied to 1 mm blocks";
const ISO_NOISE: &str = "ISO 19264-1:2021 noise, levels A and C, by a published comparison table";

impl Item {
    /// The item's limits, source and advice.
    #[must_use]
    pub fn rule(self) -> Rule {
        use Sense::{AtLeast, AtMost, Within};
        let rule = |name, unit, decimals, sense, (good, usable), source, advice| Rule {
            name,
            unit,
            decimals,
            sense,
            good,
            usable,
            source,
            advice,
        };
        match self {
            Self::NotLocated => rule(
                "panel not found",
                "",
                0,
                AtMost,
                (0.0, 0.0),
                "a reading under the wrong name is worse than none",
                "Show the whole board and its card, or measure with the four corners of the grid given by --corners.",
            ),
            Self::CardMissing => rule(
                "cards missing",
                "",
                0,
                AtMost,
                (0.0, 0.0),
                "nothing else carries the scale",
                "Lay the card flat beside the board, wholly in the photo and in the same light.",
            ),
            Self::CardClipped => rule(
                "card clipped",
                "%",
                1,
                AtMost,
                (0.1, 1.0),
                PRACTICE,
                "Expose less, by about one stop, so that nothing on the card is at the top of the scale.",
            ),
            Self::Exposure => rule(
                "exposure at the card",
                "stops",
                2,
                Within,
                (1.0, 1.7),
                PRACTICE,
                "Set the exposure on the card, so that its grey comes out neither pale nor dark.",
            ),
            Self::WhiteBalance => rule(
                "white balance at the card",
                "Δa*b*",
                1,
                AtMost,
                (4.0, 8.0),
                FADGI_NEUTRAL,
                "Set the white balance on the card, or use daylight; the card corrects what is left.",
            ),
            Self::UnevenCard => rule(
                "light across the card",
                "%",
                1,
                AtMost,
                (8.0, 20.0),
                PRACTICE,
                "Move the card out of the shadow or reflection that falls on it.",
            ),
            Self::UnevenLight => rule(
                "light across the board",
                "%",
                1,
                AtMost,
                (8.0, 25.0),
                "8 % is the widest level remembered from older guidelines; 25 % is common practice, no source",
                "Turn the board to the light or move it away from the lamp, so that no side is darker.",
            ),
            Self::ShadowEdge => rule(
                "step in the light",
                "%",
                1,
                AtMost,
                (4.0, 10.0),
                PRACTICE,
                "Keep shadows (yours, the phone's, a window bar's) off the board.",
            ),
            Self::MixedLight => rule(
                "colour of the light across the board",
                "Δa*b*",
                1,
                AtMost,
                (2.0, 4.0),
                "as a neutral's residual: FADGI 2023 white balance, 4 and 3 stars, by a published comparison table",
                "Use one kind of light only: lamps off by daylight, blinds down by lamplight.",
            ),
            Self::PatchClipped => rule(
                "patch clipped",
                "%",
                1,
                AtMost,
                (1.0, 5.0),
                PRACTICE,
                "Expose less, so that no channel of the palest patch is at the top of the scale.",
            ),
            Self::PatchDark => rule(
                "patch at the bottom of the scale",
                "%",
                1,
                AtMost,
                (1.0, 20.0),
                PRACTICE,
                "Expose more or give more light: a channel of this patch is lost in the black.",
            ),
            Self::OutsideEncoding => rule(
                "patches outside the colour space",
                "%",
                0,
                AtMost,
                // Never beyond tolerance: no other exposure would help, and such readings are flagged.
                (0.0, 100.0),
                PRACTICE,
                "Set the camera to a wider colour space (Display P3) if it has one; these readings are flagged.",
            ),
            Self::Glare => rule(
                "glare on a patch",
                "%",
                1,
                AtMost,
                (5.0, 20.0),
                PRACTICE,
                "Light from the side (about 45°) or from an overcast sky, and move until the shine is gone.",
            ),
            Self::Blur => rule(
                "blur at the outlines",
                "mm",
                2,
                AtMost,
                (1.0, 2.0),
                "the 1 mm blocks that are averaged; common practice, no source",
                "Rest the phone on something, tap the board to focus, and wipe the lens.",
            ),
            Self::Noise => rule(
                "noise of 1 mm blocks",
                "L*",
                2,
                AtMost,
                (1.0, 2.0),
                FADGI_NOISE,
                "Give more light or rest the phone, so that the camera need not raise its sensitivity.",
            ),
            Self::Scale => rule(
                "scale",
                "px/mm",
                1,
                AtLeast,
                (4.0, 2.0),
                "16 and 4 pixels to a 1 mm block; common practice, no source",
                "Go closer, so that the board and its card fill the frame.",
            ),
            Self::PatchPixels => rule(
                "pixels of the smallest patch",
                "px",
                0,
                AtLeast,
                (2000.0, 400.0),
                PRACTICE,
                "Go closer, or photograph the board in two parts, each with the card.",
            ),
            Self::Tilt => rule(
                "tilt of the board",
                "°",
                0,
                AtMost,
                (15.0, 30.0),
                PRACTICE,
                "Hold the phone parallel to the board.",
            ),
            Self::PhotoSize => rule(
                "size of the file",
                "MP",
                1,
                AtLeast,
                (6.0, 2.0),
                PRACTICE,
                "Use the file that the camera wrote, not one that a messenger or an album has shrunk.",
            ),
            Self::PhotoBlur => rule(
                "width of the sharpest edges",
                "px",
                1,
                AtMost,
                (5.0, 9.0),
                PRACTICE,
                "Rest the phone on something, tap the board to focus, and wipe the lens.",
            ),
            Self::PhotoNoise => rule(
                "noise of the smoothest places",
                "L*",
                2,
                AtMost,
                (1.6, 2.2),
                ISO_NOISE,
                "Give more light or rest the phone, so that the camera need not raise its sensitivity.",
            ),
            Self::PhotoClipped => rule(
                "clipped anywhere in the photo",
                "%",
                1,
                AtMost,
                (1.0, 20.0),
                PRACTICE,
                "If it is the board or the card that is clipped, expose less; with --panel that is told apart.",
            ),
            Self::ColourSpace => rule(
                "colour space assumed",
                "",
                0,
                AtMost,
                (0.0, 1.0),
                PRACTICE,
                "Use the file as the camera wrote it, with its colour profile; without one sRGB is assumed.",
            ),
            Self::DigitalZoom => rule(
                "digital zoom",
                "×",
                1,
                AtMost,
                (1.0, 2.0),
                PRACTICE,
                "Set the zoom to 1× and go closer: digital zoom adds no pixels that were seen.",
            ),
            Self::Flash => rule(
                "flash fired",
                "",
                0,
                AtMost,
                (0.0, 0.0),
                PRACTICE,
                "Switch the flash off: it glares, falls off towards the edges and mixes with the other light.",
            ),
            Self::Processing => rule(
                "marks of heavy processing",
                "",
                0,
                AtMost,
                (0.0, 1.0),
                PRACTICE,
                "Switch HDR, night, portrait and filter modes off: they change tones from place to place.",
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_has_limits_with_a_source_and_says_what_to_do() {
        for item in [
            Item::NotLocated,
            Item::CardMissing,
            Item::CardClipped,
            Item::Exposure,
            Item::WhiteBalance,
            Item::UnevenCard,
            Item::UnevenLight,
            Item::ShadowEdge,
            Item::MixedLight,
            Item::PatchClipped,
            Item::PatchDark,
            Item::OutsideEncoding,
            Item::Glare,
            Item::Blur,
            Item::Noise,
            Item::Scale,
            Item::PatchPixels,
            Item::Tilt,
            Item::PhotoSize,
            Item::PhotoBlur,
            Item::PhotoNoise,
            Item::PhotoClipped,
            Item::ColourSpace,
            Item::DigitalZoom,
            Item::Flash,
            Item::Processing,
        ] {
            let rule = item.rule();
            assert!(!rule.source.is_empty(), "{item:?}");
            assert!(
                rule.advice.ends_with('.') && rule.advice.len() > 20,
                "{item:?}"
            );
            let widens = match rule.sense {
                Sense::AtMost | Sense::Within => rule.good <= rule.usable,
                Sense::AtLeast => rule.good >= rule.usable,
            };
            assert!(widens, "{item:?}");
        }
    }
}
