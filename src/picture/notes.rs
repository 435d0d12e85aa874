//! What is drawn over the two views: outlines, names, flags, cards, and the readings.

use super::board::Board;
use super::flags::Flags;
use super::labels::{self, Lines, flag_name, outline};
use super::names::{Names, broken_to_fit, by_patch};
use super::places::{Quad, hull, inside, stretch};
use super::upright::Upright;
use super::{Shown, cards, figures, float};
use crate::correct::Corrected;
use crate::drawing::{Anchor, Colour, Drawing, Shape, Stroke, Text};
use crate::flag::Flag;
use crate::geometry::Point;
use crate::sample::{Region, RegionKind};
use nalgebra::Vector2;

/// Largest name on the photo, px.
const LARGEST_NAME: f64 = 26.0;
/// A name is written in both halves of a patch from this size upwards, else once across them.
const SMALLEST_HALF_NAME: f64 = 12.0;

/// What is to be written, sorted out once for both views and the lines below.
#[derive(Debug)]
pub(super) struct Notes<'a> {
    pub(super) shown: Shown<'a>,
    pub(super) flags: Flags,
    pub(super) names: Names,
}

impl<'a> Notes<'a> {
    pub(super) fn new(shown: &Shown<'a>, upright: &Upright, board: &Board) -> Self {
        Self {
            shown: *shown,
            flags: Flags::new(shown),
            names: Names::new(shown, upright, board),
        }
    }

    /// Outlines, names, flags and cards, over the photo.
    pub(super) fn on_photo(&self, drawing: &mut Drawing, upright: &Upright, at: [u32; 2]) {
        let shown = &self.shown;
        let place = |region: &Region| -> Quad {
            region
                .outline
                .map(|[x, y]| upright.point(Point::new(x, y)) + offset(at))
        };
        for region in &shown.samples.substrate {
            let (colour, dash) = labels::style(region.kind);
            outline(drawing, &place(region), colour, 0.8, dash);
        }
        for region in &shown.samples.patches {
            let (colour, dash) = labels::style(region.kind);
            outline(drawing, &place(region), colour, 1.8, dash);
        }
        for (patch, regions) in by_patch(&shown.samples.patches) {
            let quads: Vec<Quad> = regions.iter().map(|(_, it)| place(it)).collect();
            self.name_patch(drawing, self.names.of(patch), &regions, &quads);
        }
        cards::zones(drawing, shown, |it| Some(place(it)));
        let card = |index: usize| -> Option<Quad> {
            let found = shown.located.cards.iter().find(|it| it.index == index)?;
            let outer = shown.panel.cards.get(index)?.card.outer().corners();
            Some(outer.map(|it| upright.point(found.map.map(it)) + offset(at)))
        };
        let [left, top] = at.map(f64::from);
        let [width, height] = upright.size().map(float);
        let centre = shown.located.panel.map(shown.panel.extent().centre());
        let panel_y = (upright.point(centre) + offset(at)).y;
        let edges = [left, top, left + width, top + height];
        cards::names(drawing, shown, card, panel_y, edges);
    }

    /// Sampled outlines, cards and what was read, over the straight view.
    pub(super) fn on_board(&self, drawing: &mut Drawing, board: &Board, at: [u32; 2]) {
        let shown = &self.shown;
        let place = |region: &Region| -> Option<Quad> {
            let quad = board.outline(shown, region)?;
            Some(quad.map(|it| it + offset(at)))
        };
        for region in &shown.samples.patches {
            if let Some(quad) = place(region) {
                let (colour, dash) = labels::style(region.kind);
                outline(drawing, &quad, colour.with_alpha(170), 0.9, dash);
            }
        }
        let places: Vec<(&Corrected, Quad)> = shown
            .readings
            .iter()
            .filter_map(|it| Some((it, place(shown.samples.patches.get(it.region)?)?)))
            .collect();
        figures::write(drawing, &self.names, &places);
        cards::zones(drawing, shown, place);
    }

    /// Name and flags of a patch, in each half where there is room, else across both.
    fn name_patch(
        &self,
        drawing: &mut Drawing,
        name: &str,
        regions: &[(usize, &Region)],
        quads: &[Quad],
    ) {
        let whole = [(name.to_owned(), labels::WHOLE)];
        let in_halves = quads
            .iter()
            .all(|it| lines(&whole, it).size() >= SMALLEST_HALF_NAME);
        let flags: Vec<&[Flag]> = regions
            .iter()
            .map(|(index, _)| self.flags.of(*index))
            .collect();
        let unmeasurable = flags.iter().map(|it| it.contains(&Flag::Unmeasurable));
        for (quad, _) in quads.iter().zip(unmeasurable).filter(|(_, it)| *it) {
            cross(drawing, quad);
        }
        if in_halves || quads.len() == 1 {
            for (quad, flags) in quads.iter().zip(&flags) {
                let text: Vec<_> = flags
                    .iter()
                    .map(|it| (flag_name(*it), labels::FLAG))
                    .collect();
                write_or_mark(drawing, name, &text, quad);
            }
            return;
        }
        let mut text = Vec::new();
        for ((_, region), flags) in regions.iter().zip(&flags) {
            let half = if matches!(region.kind, RegionKind::Masked { .. }) {
                "masked"
            } else {
                "exposed"
            };
            text.extend(
                flags
                    .iter()
                    .map(|it| (format!("{half}: {}", flag_name(*it)), labels::FLAG)),
            );
        }
        write_or_mark(drawing, name, &text, &hull(quads));
    }
}

fn offset(at: [u32; 2]) -> Vector2<f64> {
    Vector2::from(at.map(f64::from))
}

/// The name, and below it the flags if both can be read there; else a mark that says "see below".
fn write_or_mark(drawing: &mut Drawing, name: &str, flags: &[(String, Colour)], quad: &Quad) {
    let (upper, lower) = (stretch(quad, 0.0, 0.45), stretch(quad, 0.45, 1.0));
    let above = named(name, &upper);
    if !flags.is_empty() && lines(&above, &upper).fit() && lines(flags, &lower).fit() {
        lines(&above, &upper).draw(drawing, Some(Colour::BLACK));
        lines(flags, &lower).draw(drawing, Some(Colour::BLACK));
        return;
    }
    lines(&named(name, quad), quad).draw(drawing, Some(Colour::BLACK));
    if !flags.is_empty() {
        badge(drawing, quad[1]);
    }
}

/// A name in as many lines as suit a place.
fn named(name: &str, quad: &Quad) -> Vec<(String, Colour)> {
    broken_to_fit(name, &[], inside(quad).1, LARGEST_NAME)
        .into_iter()
        .map(|it| (it, labels::WHOLE))
        .collect()
}

/// A mark at a corner that says "see below".
fn badge(drawing: &mut Drawing, at: Point) {
    let size = 14.0;
    drawing.shapes.push(Shape::Circle {
        centre: [at.x, at.y],
        radius: 0.6 * size,
        fill: Some(labels::FLAG),
        stroke: Some(Stroke::solid(Colour::BLACK, 1.5)),
    });
    let baseline = [at.x, at.y + 0.5 * crate::drawing::CAP_HEIGHT * size];
    drawing.text(Text::new(
        baseline,
        size,
        Anchor::Middle,
        "!",
        Colour::BLACK,
    ));
}

fn lines<'a>(lines: &'a [(String, Colour)], quad: &Quad) -> Lines<'a> {
    let (centre, room) = inside(quad);
    Lines {
        lines,
        centre,
        room: [0.94 * room[0], 0.9 * room[1]],
        largest: LARGEST_NAME.min(0.34 * room[1].max(30.0)),
    }
}

/// Two strokes through what could not be measured.
fn cross(drawing: &mut Drawing, quad: &Quad) {
    for (from, to) in [(0, 2), (1, 3)] {
        outline(drawing, &[quad[from], quad[to]], labels::FLAG, 2.0, None);
    }
}
