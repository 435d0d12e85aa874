//! The sheet: where the two views lie, and what is written around them.

use super::Shown;
use super::board::Board;
use super::labels;
use super::legend::Legend;
use super::names::by_patch;
use super::notes::Notes;
use super::shrink::pixels;
use super::upright::Upright;
use crate::correct::CorrectionKind;
use crate::drawing::{Anchor, Colour, Drawing, Text, text_width, wrap};
use crate::flag::Flag;
use crate::photo::EncodingSource;
use crate::sample::RegionKind;
use image::{Rgba, RgbaImage};
use std::collections::BTreeMap;

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
/// Words above the two views.
const ABOVE_PHOTO: &str = "As photographed, turned upright";
const ABOVE_BOARD: &str = "The board straight on, evened and calibrated";

/// A sheet with both views.
#[derive(Debug)]
pub(super) struct Page {
    width: u32,
    height: u32,
    /// Top left corner of the photo's view.
    pub(super) photo_at: [u32; 2],
    /// Top left corner of the board's view.
    pub(super) board_at: [u32; 2],
    legend: Legend,
    /// Where the legend's first baseline lies.
    legend_y: u32,
    /// Lines below, with their colours.
    lines: Vec<(String, Colour)>,
}

impl Page {
    pub(super) fn new(notes: &Notes<'_>, upright: &Upright, board: &Board) -> Self {
        let [photo_width, photo_height] = upright.size().map(pixels);
        let [board_width, board_height] = board.size().map(pixels);
        // A view may be narrower than the words above it.
        let photo_width = photo_width.max(wide(ABOVE_PHOTO));
        let board_width = board_width.max(wide(ABOVE_BOARD));
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
        let legend = Legend::new(&notes.shown, SIZE, room);
        let lines: Vec<(String, Colour)> = matters(notes)
            .into_iter()
            .flat_map(|(text, colour)| {
                wrap(&text, SIZE, room, MOST_LINES)
                    .into_iter()
                    .map(move |it| (it, colour))
            })
            .collect();
        let below = LEADING * pixels(legend.lines() - 1 + lines.len());
        Self {
            width,
            height: legend_y + below + RIM,
            photo_at: [RIM, top],
            board_at,
            legend,
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
        for ([x, y], text) in [(self.photo_at, ABOVE_PHOTO), (self.board_at, ABOVE_BOARD)] {
            let at = [f64::from(x), f64::from(y) - 10.0];
            drawing.text(Text::new(at, SIZE, Anchor::Start, text, INK));
        }
        let at = [RIM, self.legend_y].map(f64::from);
        self.legend.draw(drawing, at, f64::from(LEADING), INK);
        let mut y = self.legend_y + LEADING * pixels(self.legend.lines() - 1);
        for (text, colour) in &self.lines {
            y += LEADING;
            let at = [f64::from(RIM), f64::from(y)];
            drawing.text(Text::new(at, SIZE, Anchor::Start, text.clone(), *colour));
        }
    }
}

/// Width of a line of words, px, rounded up.
fn wide(text: &str) -> u32 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few words are some hundred pixels wide"
    )]
    let width = text_width(text, SIZE).ceil() as u32;
    width
}

/// Everything below the views: what was used, then what to beware of.
fn matters(notes: &Notes<'_>) -> Vec<(String, Colour)> {
    let shown = &notes.shown;
    let mut figures = "On the patches: L*, a*, b* (D50, 2°) and ± U95 (ΔE00), as far as there is room; colours as sRGB shows them".to_owned();
    if notes.names.are_positions {
        figures += " · the ids are too long for the patches: positions on the grid stand for them";
    }
    let mut matters = vec![(what(shown), INK), (how(shown), INK), (figures, INK)];
    matters.extend(general(notes).map(|it| (it, WARNING)));
    matters.extend(flagged(notes).map(|it| (it, WARNING)));
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
        parts.push(format!("typical U95 {u95:.1} ΔE00"));
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
        CorrectionKind::SensorNeutral => "neutral, on sensor values",
        CorrectionKind::SensorLinear => "linear, on sensor values",
        CorrectionKind::SensorRootPolynomial => "root-polynomial, on sensor values",
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

/// What a reader must beware of in all readings.
fn general(notes: &Notes<'_>) -> Option<String> {
    let shown = &notes.shown;
    let mut general: Vec<String> = notes
        .flags
        .common
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
    (!general.is_empty()).then(|| general.join(" · "))
}

/// Each flag with the patches that carry it: a flag is one matter, however many do.
fn flagged(notes: &Notes<'_>) -> Option<String> {
    let mut by_flag: BTreeMap<Flag, Vec<String>> = BTreeMap::new();
    let mut count = 0;
    for (patch, regions) in by_patch(&notes.shown.samples.patches) {
        let name = notes.names.of(patch);
        let mut flags: Vec<Flag> = regions
            .iter()
            .flat_map(|(index, _)| notes.flags.of(*index).iter().copied())
            .collect();
        flags.sort();
        flags.dedup();
        count += regions
            .iter()
            .filter(|(index, _)| !notes.flags.of(*index).is_empty())
            .count();
        for flag in flags {
            let carries = |index: usize| notes.flags.of(index).contains(&flag);
            let named = by_flag.entry(flag).or_default();
            if regions.iter().all(|(index, _)| carries(*index)) {
                named.push(name.to_owned());
                continue;
            }
            let some = regions.iter().filter(|(index, _)| carries(*index));
            named.extend(some.map(|(_, it)| format!("{name}{}", half(it.kind))));
        }
    }
    let matters: Vec<String> = by_flag
        .into_iter()
        .map(|(flag, patches)| format!("{}: {}", labels::flag_name(flag), patches.join(", ")))
        .collect();
    (count > 0).then(|| format!("{count} flagged (!) · {}", matters.join(" · ")))
}

/// The half that a region is, in words.
fn half(kind: RegionKind) -> &'static str {
    match kind {
        RegionKind::Masked { .. } => " masked",
        RegionKind::Exposed { .. } => " exposed",
        RegionKind::Whole { .. }
        | RegionKind::Substrate { .. }
        | RegionKind::Sheltered { .. }
        | RegionKind::Card { .. } => "",
    }
}
