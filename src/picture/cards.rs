//! Cards: their outlines, their stated colours, and what they are called.

use super::labels::{self, Lines, figures, ink_on, outline};
use super::places::{Quad, hull, inside};
use super::{Shown, float};
use crate::colour::srgb::to_rgb8;
use crate::drawing::{Colour, Drawing, Shape, Stroke, text_width};
use crate::geometry::Point;
use crate::sample::{Region, RegionKind};

/// Size of a card's name, px.
const SIZE: f64 = 17.0;

/// Outlines of the sampled card zones, each with a disc of its stated colour.
pub(super) fn zones(
    drawing: &mut Drawing,
    shown: &Shown<'_>,
    place: impl Fn(&Region) -> Option<Quad>,
) {
    for region in &shown.samples.cards {
        let Some(quad) = place(region) else { continue };
        outline(drawing, &quad, labels::CARD, 1.6, None);
        let RegionKind::Card { card, zone } = region.kind else {
            continue;
        };
        let zone = shown
            .panel
            .cards
            .get(card)
            .and_then(|it| it.card.patches.get(zone));
        let Some(known) = zone.and_then(|it| it.known.as_ref()) else {
            continue;
        };
        let (centre, room) = inside(&quad);
        let radius = (0.22 * room[0].min(room[1])).clamp(3.0, 26.0);
        let [r, g, b] = to_rgb8(known.lab);
        drawing.shapes.push(Shape::Circle {
            centre: [centre.x, centre.y],
            radius,
            fill: Some(Colour::rgb(r, g, b)),
            stroke: Some(Stroke::solid(ink_on(known.lab.l), 1.0)),
        });
    }
}

/// Beside each card its id and, if it has one zone, its stated colour in figures: above or below it, away from the panel, whose
/// middle lies at `panel_y`; never off the view, whose left, top, right and bottom edges are `edges`.
pub(super) fn names(
    drawing: &mut Drawing,
    shown: &Shown<'_>,
    place: impl Fn(usize) -> Option<Quad>,
    panel_y: f64,
    edges: [f64; 4],
) {
    for (index, placed) in shown.panel.cards.iter().enumerate() {
        let Some(quad) = place(index) else { continue };
        outline(drawing, &quad, labels::CARD.with_alpha(150), 1.0, None);
        let card = &placed.card;
        let known = card.patches.iter().find_map(|it| it.known.as_ref());
        let mut text = vec![(card.id.clone(), labels::CARD)];
        if let (1, Some(known)) = (card.patches.len(), known) {
            let stated = figures(known.lab, " ");
            text.push((format!("stated {stated}"), labels::CARD));
        }
        Lines {
            lines: &text,
            centre: beside(&quad, &text, panel_y, edges),
            room: [edges[2] - edges[0] - 12.0, f64::INFINITY],
            largest: SIZE,
        }
        .draw(drawing, Some(Colour::BLACK));
    }
}

/// The centre of a few lines beside a card.
fn beside(
    quad: &Quad,
    text: &[(String, Colour)],
    panel_y: f64,
    [left, top, right, bottom]: [f64; 4],
) -> Point {
    let [low, _, high, _] = hull(&[*quad]);
    let half_height = labels::LEADING * SIZE * float(text.len()) / 2.0;
    let widths = text.iter().map(|(it, _)| text_width(it, SIZE));
    let half_width = widths.fold(0.0, f64::max) / 2.0;
    let upwards = f64::midpoint(low.y, high.y) < panel_y;
    let y = if upwards {
        low.y - 6.0 - half_height
    } else {
        high.y + 6.0 + half_height
    };
    // Where both edges are too near, the left and the top one hold.
    let within = |at: f64, from: f64, to: f64| at.min(to).max(from);
    Point::new(
        within(
            f64::midpoint(low.x, high.x),
            left + half_width + 6.0,
            right - half_width - 6.0,
        ),
        within(y, top + half_height + 4.0, bottom - half_height - 4.0),
    )
}
