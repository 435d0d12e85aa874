//! What is drawn over the two views: outlines, ids, flags, cards with their stated colours, and the readings.

use super::board::Board;
use super::labels::{self, Lines, flag_name, ink_on, outline};
use super::upright::Upright;
use super::{Shown, float};
use crate::colour::Lab;
use crate::colour::srgb::to_rgb8;
use crate::correct::Corrected;
use crate::drawing::{Anchor, Colour, Drawing, Halo, Shape, Stroke, Text};
use crate::flag::Flag;
use crate::geometry::Point;
use crate::panel::Patch;
use crate::sample::{Region, RegionKind};
use nalgebra::Vector2;

/// Largest id on the photo, px.
const LARGEST_ID: f64 = 26.0;
/// An id is written in both halves of a patch from this size upwards, else once across them.
const SMALLEST_HALF_ID: f64 = 12.0;

/// Outlines, ids, flags and cards, over the photo.
pub(super) fn on_photo(drawing: &mut Drawing, shown: &Shown<'_>, upright: &Upright, at: [u32; 2]) {
    let corners = |region: &Region| -> [Point; 4] {
        region
            .outline
            .map(|[x, y]| upright.point(Point::new(x, y)) + offset(at))
    };
    for region in &shown.samples.substrate {
        outline(
            drawing,
            &corners(region),
            labels::SUBSTRATE,
            0.8,
            Some([2.0, 3.0]),
        );
    }
    for region in &shown.samples.patches {
        let (colour, dash) = style(region.kind);
        outline(drawing, &corners(region), colour, 1.8, dash);
    }
    for (patch, regions) in by_patch(&shown.samples.patches) {
        let Some(facts) = shown.panel.patches.get(patch) else {
            continue;
        };
        let quads: Vec<[Point; 4]> = regions.iter().map(|(_, it)| corners(it)).collect();
        name_patch(drawing, shown, facts, &regions, &quads);
    }
    cards(drawing, shown, &corners);
    let view = |card: usize| -> Option<[Point; 4]> {
        let found = shown.located.cards.iter().find(|it| it.index == card)?;
        let outer = shown.panel.cards.get(card)?.card.outer().corners();
        Some(outer.map(|it| upright.point(found.map.map(it)) + offset(at)))
    };
    let [left, top] = at.map(f64::from);
    let [width, height] = upright.size().map(float);
    let centre = shown.located.panel.map(shown.panel.extent().centre());
    let panel_y = (upright.point(centre) + offset(at)).y;
    name_cards(
        drawing,
        shown,
        view,
        panel_y,
        [left, top, left + width, top + height],
    );
}

/// Sampled outlines, cards and what was read, over the straight view.
pub(super) fn on_board(drawing: &mut Drawing, shown: &Shown<'_>, board: &Board, at: [u32; 2]) {
    let corners = |region: &Region| -> Option<[Point; 4]> {
        let mut corners = [Point::origin(); 4];
        for (corner, [x, y]) in corners.iter_mut().zip(region.outline) {
            let mm = shown.located.panel.unmap(Point::new(x, y))?;
            *corner = board.point(mm) + offset(at);
        }
        Some(corners)
    };
    let places: Vec<(&Region, [Point; 4], Option<&Corrected>)> = shown
        .samples
        .patches
        .iter()
        .enumerate()
        .filter_map(|(index, region)| {
            let reading = shown.readings.iter().find(|it| it.region == index);
            Some((region, corners(region)?, reading))
        })
        .collect();
    // As much as there is room for in nearly every patch: figures that come and go from patch to patch can't be compared.
    let fitting = |detail: usize| {
        let fits = |(_, quad, reading): &&(_, _, Option<&Corrected>)| {
            reading
                .and_then(|it| Some(figures_of(shown, it, it.lab?, detail)))
                .is_none_or(|text| readable(&text, quad).fit())
        };
        10 * places.iter().filter(fits).count() >= 9 * places.len()
    };
    let detail = (0..DETAILS).find(|it| fitting(*it)).unwrap_or(DETAILS - 1);
    for (region, quad, reading) in &places {
        let (colour, dash) = style(region.kind);
        outline(drawing, quad, colour.with_alpha(170), 0.9, dash);
        if let Some(reading) = reading {
            write_reading(drawing, shown, reading, quad, detail);
        }
    }
    cards(drawing, shown, &|region: &Region| {
        corners(region).unwrap_or([Point::origin(); 4])
    });
}

fn offset(at: [u32; 2]) -> Vector2<f64> {
    Vector2::from(at.map(f64::from))
}

/// Colour and dash of an outline: halves differ in both, for those who see few colours.
pub(super) fn style(kind: RegionKind) -> (Colour, Option<[f64; 2]>) {
    match kind {
        RegionKind::Whole { .. } => (labels::WHOLE, None),
        RegionKind::Masked { .. } => (labels::MASKED, Some([7.0, 4.0])),
        RegionKind::Exposed { .. } => (labels::EXPOSED, None),
        RegionKind::Card { .. } => (labels::CARD, None),
        RegionKind::Substrate { .. } => (labels::SUBSTRATE, Some([2.0, 3.0])),
    }
}

fn patch_of(kind: RegionKind) -> Option<usize> {
    match kind {
        RegionKind::Whole { patch }
        | RegionKind::Masked { patch }
        | RegionKind::Exposed { patch } => Some(patch),
        RegionKind::Card { .. } | RegionKind::Substrate { .. } => None,
    }
}

/// Regions with their index, halves of one patch together.
fn by_patch(regions: &[Region]) -> Vec<(usize, Vec<(usize, &Region)>)> {
    let mut groups: Vec<(usize, Vec<(usize, &Region)>)> = Vec::new();
    for (index, region) in regions.iter().enumerate() {
        let Some(patch) = patch_of(region.kind) else {
            continue;
        };
        match groups.last_mut() {
            Some((last, group)) if *last == patch => group.push((index, region)),
            _ => groups.push((patch, vec![(index, region)])),
        }
    }
    groups
}

/// Id and flags of a patch, in each half where there is room, else across both.
fn name_patch(
    drawing: &mut Drawing,
    shown: &Shown<'_>,
    patch: &Patch,
    regions: &[(usize, &Region)],
    quads: &[[Point; 4]],
) {
    let id = [(patch.id.clone(), labels::WHOLE)];
    let in_halves = quads
        .iter()
        .all(|it| lines(&id, it).size() >= SMALLEST_HALF_ID);
    let flags: Vec<Vec<Flag>> = regions
        .iter()
        .map(|(index, _)| own_flags(shown, *index))
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
            write_or_mark(drawing, &patch.id, &text, quad);
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
    write_or_mark(drawing, &patch.id, &text, &hull(quads));
}

/// The id, and below it the flags if they can be read there; else a mark that says "see below".
fn write_or_mark(drawing: &mut Drawing, id: &str, flags: &[(String, Colour)], quad: &[Point; 4]) {
    let one = |text: String, colour: Colour| [(text, colour)];
    if flags.is_empty() {
        lines(&one(id.to_owned(), labels::WHOLE), quad).draw(drawing, Some(Colour::BLACK));
        return;
    }
    let upper = stretch(quad, 0.0, 0.45);
    let below = lines(flags, &stretch(quad, 0.45, 1.0)).fit();
    if below {
        lines(&one(id.to_owned(), labels::WHOLE), &upper).draw(drawing, Some(Colour::BLACK));
        lines(flags, &stretch(quad, 0.45, 1.0)).draw(drawing, Some(Colour::BLACK));
    } else {
        lines(&one(id.to_owned(), labels::WHOLE), quad).draw(drawing, Some(Colour::BLACK));
        badge(drawing, quad[1]);
    }
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

/// Part of a quadrilateral between two shares of its height.
fn stretch(quad: &[Point; 4], from: f64, to: f64) -> [Point; 4] {
    let along =
        |top: usize, bottom: usize, share: f64| quad[top] + (quad[bottom] - quad[top]) * share;
    [
        along(0, 3, from),
        along(1, 2, from),
        along(1, 2, to),
        along(0, 3, to),
    ]
}

fn lines<'a>(lines: &'a [(String, Colour)], quad: &[Point; 4]) -> Lines<'a> {
    let (centre, room) = inside(quad);
    Lines {
        lines,
        centre,
        room: [0.94 * room[0], 0.9 * room[1]],
        largest: LARGEST_ID.min(0.34 * room[1].max(30.0)),
    }
}

/// Centre of a quadrilateral, and the width and height of what fits inside.
fn inside(quad: &[Point; 4]) -> (Point, [f64; 2]) {
    let middle = |i: usize, j: usize| nalgebra::center(&quad[i], &quad[j]);
    let width = (middle(1, 2) - middle(0, 3)).norm();
    let height = (middle(2, 3) - middle(0, 1)).norm();
    (
        nalgebra::center(&middle(0, 2), &middle(1, 3)),
        [width, height],
    )
}

/// The upright box around quadrilaterals, as one.
fn hull(quads: &[[Point; 4]]) -> [Point; 4] {
    let all = || quads.iter().flatten();
    let low = |axis: usize| all().map(|it| it[axis]).fold(f64::INFINITY, f64::min);
    let high = |axis: usize| all().map(|it| it[axis]).fold(f64::NEG_INFINITY, f64::max);
    [
        Point::new(low(0), low(1)),
        Point::new(high(0), low(1)),
        Point::new(high(0), high(1)),
        Point::new(low(0), high(1)),
    ]
}

/// Two strokes through what could not be measured.
fn cross(drawing: &mut Drawing, quad: &[Point; 4]) {
    for (from, to) in [(0, 2), (1, 3)] {
        outline(drawing, &[quad[from], quad[to]], labels::FLAG, 2.0, None);
    }
}

/// Flags of a region that are worth writing there: not those that most regions share, nor that it is a reference.
pub(super) fn own_flags(shown: &Shown<'_>, region: usize) -> Vec<Flag> {
    let common = common_flags(shown);
    let reading = shown.readings.iter().find(|it| it.region == region);
    let flags = reading.map(|it| it.flags.as_slice()).unwrap_or_default();
    flags
        .iter()
        .copied()
        .filter(|it| *it != Flag::Reference && !common.iter().any(|(flag, _)| flag == it))
        .collect()
}

/// Flags that more than half of the readings carry, with how many do.
pub(super) fn common_flags(shown: &Shown<'_>) -> Vec<(Flag, usize)> {
    let mut all: Vec<Flag> = shown
        .readings
        .iter()
        .flat_map(|it| it.flags.clone())
        .collect();
    all.sort();
    let mut counts: Vec<(Flag, usize)> = Vec::new();
    for flag in all {
        match counts.last_mut() {
            Some((last, count)) if *last == flag => *count += 1,
            _ => counts.push((flag, 1)),
        }
    }
    counts.retain(|(flag, count)| {
        !matches!(flag, Flag::Reference | Flag::Unmeasurable)
            && 2 * count > shown.readings.len()
            && *count > 3
    });
    counts
}

/// Outlines of the sampled card zones, each with a disc of its stated colour.
fn cards(drawing: &mut Drawing, shown: &Shown<'_>, corners: &dyn Fn(&Region) -> [Point; 4]) {
    for region in &shown.samples.cards {
        let quad = corners(region);
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

/// Beside each card its id and, if it has one zone, its stated colour in figures.
fn name_cards(
    drawing: &mut Drawing,
    shown: &Shown<'_>,
    view: impl Fn(usize) -> Option<[Point; 4]>,
    panel_y: f64,
    [left, top, right, bottom]: [f64; 4],
) {
    for (index, placed) in shown.panel.cards.iter().enumerate() {
        let Some(quad) = view(index) else { continue };
        outline(drawing, &quad, labels::CARD.with_alpha(150), 1.0, None);
        let card = &placed.card;
        let known = card.patches.iter().find_map(|it| it.known.as_ref());
        let mut text = vec![(card.id.clone(), labels::CARD)];
        if let (1, Some(known)) = (card.patches.len(), known) {
            let lab = known.lab;
            text.push((
                format!("stated {}", figures([lab.l, lab.a, lab.b], " ")),
                labels::CARD,
            ));
        }
        let [low, _, high, _] = hull(&[quad]);
        let size = 17.0;
        let height = labels::LEADING * size * float(text.len());
        let widest = text
            .iter()
            .map(|(it, _)| crate::drawing::text_width(it, size))
            .fold(0.0, f64::max);
        // Above or below the card, away from the panel; never off the photo.
        let middle = f64::midpoint(low.x, high.x);
        let x = middle.clamp(
            left + widest / 2.0 + 6.0,
            (right - widest / 2.0 - 6.0).max(left + widest / 2.0 + 6.0),
        );
        let lower = hull(&[quad])[2].y;
        let upwards = f64::midpoint(low.y, lower) < panel_y;
        let above = low.y - 6.0 - height / 2.0;
        let below = lower + 6.0 + height / 2.0;
        let y = if upwards { above } else { below };
        let y = y.clamp(
            top + height / 2.0 + 4.0,
            (bottom - height / 2.0 - 4.0).max(top + height / 2.0 + 4.0),
        );
        Lines {
            lines: &text,
            centre: Point::new(x, y),
            room: [f64::INFINITY, f64::INFINITY],
            largest: size,
        }
        .draw(drawing, Some(Colour::BLACK));
    }
}

/// L*, a*, b* with one decimal.
pub(super) fn figures(lab: [f64; 3], between: &str) -> String {
    let [l, a, b] = lab.map(|it| format!("{it:.1}").replace('-', "−"));
    format!("L* {l}{between}a* {a}{between}b* {b}")
}

/// How many ways there are to write a reading, from the fullest to the barest.
const DETAILS: usize = 4;

/// A reading as lines. The patch's id always leads them: figures without it could be another patch's.
fn figures_of(
    shown: &Shown<'_>,
    reading: &Corrected,
    lab: Lab,
    detail: usize,
) -> Vec<(String, Colour)> {
    let id = id_of(shown, reading);
    let full = figures([lab.l, lab.a, lab.b], "\n");
    let bare = full
        .replace("L* ", "")
        .replace("a* ", "")
        .replace("b* ", "");
    let spread = format!("± {:.1}", reading.u95);
    let text = match detail {
        0 => format!("{id}\n{full}\n{spread}"),
        1 => format!("{id}\n{bare}\n{spread}"),
        2 => format!("{id}\n{bare}"),
        _ => id,
    };
    let ink = ink_on(lab.l);
    text.split('\n').map(|it| (it.to_owned(), ink)).collect()
}

fn id_of(shown: &Shown<'_>, reading: &Corrected) -> String {
    patch_of(reading.kind)
        .and_then(|it| shown.panel.patches.get(it))
        .map_or_else(String::new, |it| it.id.clone())
}

fn readable<'a>(lines: &'a [(String, Colour)], quad: &[Point; 4]) -> Lines<'a> {
    let (centre, room) = inside(quad);
    Lines {
        lines,
        centre,
        room: [0.92 * room[0], 0.92 * room[1]],
        largest: 18.0,
    }
}

/// The reading on its own colour, as fully as `detail` asks, or more barely, or not at all, as there is room.
fn write_reading(
    drawing: &mut Drawing,
    shown: &Shown<'_>,
    reading: &Corrected,
    quad: &[Point; 4],
    detail: usize,
) {
    let (centre, room) = inside(quad);
    let id = id_of(shown, reading);
    let Some(lab) = reading.lab else {
        let text = [
            (id, Colour::WHITE),
            ("not measured".to_owned(), Colour::WHITE),
        ];
        let lines = Lines {
            lines: &text,
            centre,
            room,
            largest: 16.0,
        };
        lines.draw(drawing, Some(Colour::BLACK));
        return;
    };
    for detail in detail..DETAILS {
        let text = figures_of(shown, reading, lab, detail);
        let lines = readable(&text, quad);
        if lines.fit() {
            lines.draw(drawing, None);
            return;
        }
    }
}

/// A sample of an outline in a legend, with its meaning; gives where the next one may start.
pub(super) fn legend(
    drawing: &mut Drawing,
    at: [f64; 2],
    size: f64,
    kind: RegionKind,
    meaning: &str,
) -> f64 {
    let (colour, dash) = style(kind);
    let high = 0.8 * size;
    let [x, y] = at;
    let corners = [
        Point::new(x, y - high),
        Point::new(x + 1.6 * size, y - high),
        Point::new(x + 1.6 * size, y),
        Point::new(x, y),
    ];
    outline(drawing, &corners, colour.with_alpha(255), 2.0, dash);
    caption(drawing, [x + 2.1 * size, y], size, meaning)
}

/// A sample of a tint, with its meaning; gives where the next one may start.
pub(super) fn tint_legend(
    drawing: &mut Drawing,
    at: [f64; 2],
    size: f64,
    tint: [u8; 3],
    meaning: &str,
) -> f64 {
    let [x, y] = at;
    let high = 0.8 * size;
    let [r, g, b] = tint;
    drawing.shapes.push(Shape::Polygon {
        points: vec![
            [x, y - high],
            [x + 1.6 * size, y - high],
            [x + 1.6 * size, y],
            [x, y],
        ],
        fill: Some(Colour::rgb(r, g, b)),
        stroke: None,
    });
    caption(drawing, [x + 2.1 * size, y], size, meaning)
}

fn caption(drawing: &mut Drawing, at: [f64; 2], size: f64, meaning: &str) -> f64 {
    let mut text = Text::new(at, size, Anchor::Start, meaning, Colour::rgb(40, 40, 40));
    text.halo = None::<Halo>;
    drawing.text(text);
    at[0] + crate::drawing::text_width(meaning, size) + 1.6 * size
}
