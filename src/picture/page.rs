//! The sheet: where the two views lie, and what is written around them.

use super::board::Board;
use super::notes;
use super::shrink::pixels;
use super::tint;
use super::upright::Upright;
use super::{Shown, float, labels};
use crate::correct::CorrectionKind;
use crate::drawing::{Anchor, Colour, Drawing, Text, wrap};
use crate::photo::EncodingSource;
use crate::sample::RegionKind;
use image::{Rgba, RgbaImage};

/// Blank rim and space between the views, px.
const RIM: u32 = 24;
/// Height of the line of words above a view, px.
const HEADING: u32 = 34;
/// Size of the text around the views, px.
const SIZE: f64 = 19.0;
/// Line to line, px.
const LEADING: u32 = 27;
/// Neutral, so that it leaves the eye alone, and pale, so that text stands out.
const PAPER: [u8; 4] = [232, 232, 232, 255];
const INK: Colour = Colour::rgb(40, 40, 40);
const WARNING: Colour = Colour::rgb(165, 25, 10);
/// Most lines for one matter.
const MOST_LINES: usize = 4;

/// A sheet with both views.
pub(super) struct Page<'a> {
    shown: Shown<'a>,
    width: u32,
    height: u32,
    /// Top left corner of the photo's view.
    pub(super) photo_at: [u32; 2],
    /// Top left corner of the board's view.
    pub(super) board_at: [u32; 2],
    /// Where the legend's baseline lies.
    legend_y: u32,
    /// Lines below, with their colours.
    lines: Vec<(String, Colour)>,
}

impl<'a> Page<'a> {
    pub(super) fn new(shown: &Shown<'a>, upright: &Upright, board: &Board) -> Self {
        let [photo_width, photo_height] = upright.size().map(pixels);
        let [board_width, board_height] = board.size().map(pixels);
        let top = RIM + HEADING;
        let (width, bottom, board_at) = if board.below() {
            let board_top = top + photo_height + RIM + HEADING;
            let width = 2 * RIM + photo_width.max(board_width);
            (width, board_top + board_height, [RIM, board_top])
        } else {
            let width = 3 * RIM + photo_width + board_width;
            let bottom = top + photo_height.max(board_height);
            (width, bottom, [2 * RIM + photo_width, top])
        };
        let legend_y = bottom + LEADING + 8;
        let room = f64::from(width - 2 * RIM);
        let lines: Vec<(String, Colour)> = matters(shown)
            .into_iter()
            .flat_map(|(text, colour)| {
                wrap(&text, SIZE, room, MOST_LINES)
                    .into_iter()
                    .map(move |it| (it, colour))
            })
            .collect();
        let height = legend_y + LEADING * pixels(lines.len()) + RIM;
        Self {
            shown: *shown,
            width,
            height,
            photo_at: [RIM, top],
            board_at,
            legend_y,
            lines,
        }
    }

    /// The empty sheet.
    pub(super) fn canvas(&self) -> RgbaImage {
        RgbaImage::from_pixel(self.width, self.height, Rgba(PAPER))
    }

    /// Headings, legend and the lines below.
    pub(super) fn write(&self, drawing: &mut Drawing) {
        let headings = [
            (self.photo_at, "As photographed, turned upright"),
            (
                self.board_at,
                "The board straight on, evened and calibrated, in sRGB; on each patch L*, a*, b* and ± U95",
            ),
        ];
        for ([x, y], text) in headings {
            let at = [f64::from(x), f64::from(y) - 10.0];
            drawing.text(Text::new(at, SIZE, Anchor::Start, text, INK));
        }
        self.legend(drawing);
        let mut y = self.legend_y;
        for (text, colour) in &self.lines {
            y += LEADING;
            let at = [f64::from(RIM), f64::from(y)];
            drawing.text(Text::new(at, SIZE, Anchor::Start, text.clone(), *colour));
        }
    }

    /// What the outlines and tints mean; only those that occur.
    fn legend(&self, drawing: &mut Drawing) {
        let samples = self.shown.samples;
        let y = f64::from(self.legend_y);
        let mut x = f64::from(RIM);
        let mut seen = Vec::new();
        let regions = samples
            .patches
            .iter()
            .chain(&samples.cards)
            .chain(&samples.substrate);
        for region in regions {
            let meaning = match region.kind {
                RegionKind::Whole { .. } => "sampled patch",
                RegionKind::Masked { .. } => "masked half",
                RegionKind::Exposed { .. } => "exposed half",
                RegionKind::Card { .. } => "card, with a disc of its stated colour",
                RegionKind::Substrate { .. } => "substrate, for the light",
            };
            if !seen.contains(&meaning) {
                seen.push(meaning);
                x = notes::legend(drawing, [x, y], SIZE, region.kind, meaning);
            }
        }
        let counts = samples
            .patches
            .iter()
            .chain(&samples.cards)
            .map(|it| it.left_out);
        let (mut high, mut low) = (false, false);
        for count in counts {
            high |= count.glare + count.clipped_high > 0;
            low |= count.clipped_low > 0;
        }
        if high {
            x = notes::tint_legend(
                drawing,
                [x, y],
                SIZE,
                tint::HIGH,
                "left out: highlight or clipped",
            );
        }
        if low {
            notes::tint_legend(
                drawing,
                [x, y],
                SIZE,
                tint::LOW,
                "left out: lost in the black",
            );
        }
    }
}

/// Everything below the views: what was used, then what to beware of.
fn matters(shown: &Shown<'_>) -> Vec<(String, Colour)> {
    let mut matters = vec![(what(shown), INK), (how(shown), INK)];
    matters.extend(warnings(shown).into_iter().map(|it| (it, WARNING)));
    matters
}

/// Photo, panel, and what came out.
fn what(shown: &Shown<'_>) -> String {
    let photo = shown.photo;
    let name = photo.path.file_name().unwrap_or(photo.path.as_os_str());
    let mut parts = vec![name.to_string_lossy().into_owned()];
    parts.push(match &shown.panel.title {
        Some(title) => format!("panel {} ({title})", shown.panel.id),
        None => format!("panel {}", shown.panel.id),
    });
    parts.extend(photo.metadata.taken.clone());
    parts.extend(photo.metadata.camera.clone());
    let measured: Vec<f64> = shown
        .readings
        .iter()
        .filter(|it| it.lab.is_some())
        .map(|it| it.u95)
        .collect();
    parts.push(format!(
        "{} of {} regions measured",
        measured.len(),
        shown.readings.len()
    ));
    if let Some(u95) = middle(measured) {
        parts.push(format!("U95 in the middle {u95:.1} ΔE00"));
    }
    parts.join(" · ")
}

fn middle(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Correction, references, location.
fn how(shown: &Shown<'_>) -> String {
    let correction = shown.correction;
    let kind = match correction.kind {
        CorrectionKind::Neutral => "neutral",
        CorrectionKind::NeutralTone => "neutral with tone curve",
        CorrectionKind::Linear => "linear",
        CorrectionKind::RootPolynomial => "root-polynomial",
        CorrectionKind::Saved => "saved, scaled to this photo",
    };
    let mut parts = vec![match correction.leave_one_out {
        Some(figure) => format!("correction {kind} (left out one by one: {figure:.1} ΔE00)"),
        None => format!("correction {kind}"),
    }];
    let references = &correction.references;
    let names: Vec<&str> = references
        .iter()
        .take(6)
        .map(|it| it.reference.name.as_str())
        .collect();
    let more = match references.len().saturating_sub(names.len()) {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    let many = if references.len() == 1 {
        "reference"
    } else {
        "references"
    };
    parts.push(format!(
        "{} {many}: {}{more}",
        references.len(),
        names.join(", ")
    ));
    parts.push(format!("up by {}", shown.located.witnesses.join(", ")));
    parts.push(if shown.located.by_hand {
        "corners given by hand".into()
    } else {
        format!(
            "outlines met to {:.1} px",
            shown.located.quality.outline_rms_px
        )
    });
    parts.join(" · ")
}

/// What a reader must beware of, one matter an entry.
fn warnings(shown: &Shown<'_>) -> Vec<String> {
    let mut warnings = Vec::new();
    let common = notes::common_flags(shown);
    let mut general: Vec<String> = common
        .iter()
        .map(|(flag, n)| {
            format!(
                "{} on {n} of {} regions",
                labels::flag_name(*flag),
                shown.readings.len()
            )
        })
        .collect();
    if shown.samples.encoding == EncodingSource::AssumedSrgb {
        general.push("no colour profile in the file: sRGB was assumed".into());
    }
    let found = |index: usize| shown.located.cards.iter().any(|it| it.index == index);
    for (index, placed) in shown.panel.cards.iter().enumerate() {
        if !found(index) {
            general.push(format!("card {} was not found", placed.card.id));
        }
    }
    let meta = &shown.photo.metadata;
    if meta.flash_fired == Some(true) {
        general.push("flash fired".into());
    }
    if meta.digital_zoom.is_some_and(|it| it > 1.0) {
        general.push("digital zoom".into());
    }
    general.extend(meta.processing.iter().map(|it| format!("camera: {it}")));
    if !general.is_empty() {
        warnings.push(general.join(" · "));
    }
    let flagged: Vec<String> = shown
        .samples
        .patches
        .iter()
        .enumerate()
        .filter_map(|(index, region)| {
            let flags: Vec<String> = notes::own_flags(shown, index)
                .into_iter()
                .map(labels::flag_name)
                .collect();
            (!flags.is_empty()).then(|| format!("{} {}", name(shown, region.kind), flags.join(" ")))
        })
        .collect();
    if !flagged.is_empty() {
        let count = float(flagged.len());
        warnings.push(format!("{count:.0} flagged (!): {}", flagged.join(" · ")));
    }
    warnings
}

/// Id of a region's patch with its half.
fn name(shown: &Shown<'_>, kind: RegionKind) -> String {
    let (patch, half) = match kind {
        RegionKind::Masked { patch } => (patch, " masked"),
        RegionKind::Exposed { patch } => (patch, " exposed"),
        RegionKind::Whole { patch } | RegionKind::Substrate { patch } => (patch, ""),
        RegionKind::Card { .. } => return "card".into(),
    };
    let id = shown
        .panel
        .patches
        .get(patch)
        .map_or("?", |it| it.id.as_str());
    format!("{id}{half}")
}
