//! The layout of a panel as a workshop drawing, true to scale, from which the board can be laid out with a ruler.
//!
//! Takes a [`Panel`]; gives a [`Sheet`] in millimetres. Distances are written as running dimensions from the board's edges,
//! so that errors of marking do not add up.

mod cards;
mod cells;
mod dimensions;

use super::{Panel, Side};
use crate::drawing::{
    Anchor, CAP_HEIGHT, Colour, Drawing, Halo, Shape, Stroke, Text, Unit, shorten, text_width, wrap,
};
use crate::geometry::Rect;

/// Lines and letters.
const INK: Colour = Colour::rgb(28, 28, 30);
/// What is said in passing.
const PALE: Colour = Colour::rgb(112, 112, 118);
/// Dimensions.
const MEASURE: Colour = Colour::rgb(20, 80, 150);
/// The board.
const BOARD: Colour = Colour::rgb(243, 240, 234);
/// Height of ordinary letters in pixels when painted.
const LETTER_PX: f64 = 20.0;
/// Longest side when painted: a large panel of tiny patches is readable, and no decoder refuses it.
const LONGEST_PX: f64 = 8000.0;

/// A drawing of a panel's layout.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The drawing; a unit is a millimetre on the board.
    pub drawing: Drawing,
    /// Pixels per millimetre at which its letters are easily read.
    pub pixels_per_mm: f64,
}

/// Shapes in panel millimetres and the room that they take.
struct Canvas<'a> {
    panel: &'a Panel,
    /// Height of ordinary letters in millimetres: everything about lettering and lines is in proportion to it.
    letter: f64,
    /// The board and what has its stated place on or beside it.
    core: Rect,
    /// Everything drawn so far.
    room: Rect,
    shapes: Vec<Shape>,
}

/// Draws the layout.
#[must_use]
pub fn sheet(panel: &Panel) -> Sheet {
    let mut canvas = Canvas::new(panel);
    canvas.board();
    canvas.cells();
    canvas.fixed_cards();
    canvas.rulers();
    canvas.overall();
    canvas.loose_cards();
    canvas.legend();
    canvas.heading();
    canvas.finish()
}

impl<'a> Canvas<'a> {
    fn new(panel: &'a Panel) -> Self {
        let cards = panel.cards.iter().filter_map(super::PlacedCard::outer);
        let all = panel.outer().union(&panel.extent());
        let core = cards.fold(all, |all, it| all.union(&it));
        let long = core.width.max(core.height);
        let narrowest = panel.patches.iter().filter(|it| !it.empty);
        let narrowest = narrowest
            .map(|it| it.rect.width.min(it.rect.height))
            .fold(long, f64::min);
        Self {
            panel,
            letter: (0.3 * narrowest).clamp(long / 250.0, long / 60.0),
            core,
            room: core,
            shapes: Vec::new(),
        }
    }

    /// The edges that dimensions start from: the board's, or the patches' where there is no board.
    fn datum(&self) -> Rect {
        self.panel.outer()
    }

    fn board(&mut self) {
        let edge = Stroke::solid(INK, 0.15 * self.letter);
        if let Some(board) = self.panel.board {
            self.rectangle(&board, Some(BOARD), Some(edge));
        }
    }

    /// Above everything: what the panel is and which way is up.
    fn heading(&mut self) {
        let letter = self.letter;
        let arrow_width = 5.0 * letter;
        let width = (self.room.width - arrow_width).max(30.0 * letter);
        let panel = self.panel;
        // Without a title the id is the title.
        let mut facts: Vec<String> = panel.title.iter().map(|_| panel.id.clone()).collect();
        facts.extend(panel.substrate.clone());
        facts.extend(panel.coating.clone());
        facts.extend(panel.coats.map(|it| match it {
            1.0 => "1 coat".to_owned(),
            it => format!("{} coats", number(it)),
        }));
        let big = 1.7 * letter;
        let title = panel.title.as_ref().unwrap_or(&panel.id);
        let title = wrap(title, big, width, 2);
        let facts = wrap(&facts.join(", "), letter, width, 2);
        let (left, mut y) = (self.room.x, self.room.y - 1.5 * letter);
        for line in facts.iter().rev() {
            self.write([left, y], letter, Anchor::Start, line, PALE);
            y -= 1.4 * letter;
        }
        y -= 0.2 * letter;
        for line in title.iter().rev() {
            self.write([left, y], big, Anchor::Start, line, INK);
            y -= 1.3 * big;
        }
        let right = (left + width + arrow_width).max(self.room.x + self.room.width);
        self.up_arrow([right - 1.5 * letter, y.min(self.room.y)]);
    }

    /// An arrow that points upwards, its top at a point.
    fn up_arrow(&mut self, [x, top]: [f64; 2]) {
        let it = self.letter;
        let points = [
            (0.0, 0.0),
            (1.3, 1.8),
            (0.45, 1.8),
            (0.45, 4.0),
            (-0.45, 4.0),
            (-0.45, 1.8),
            (-1.3, 1.8),
        ];
        let points = points.map(|(dx, dy)| [x + dx * it, top + dy * it]).to_vec();
        self.shapes.push(Shape::Polygon {
            points,
            fill: Some(INK),
            stroke: None,
        });
        self.cover(&Rect {
            x: x - 1.3 * it,
            y: top,
            width: 2.6 * it,
            height: 4.0 * it,
        });
        self.write([x - 1.8 * it, top + 2.4 * it], it, Anchor::End, "up", INK);
    }

    /// Below everything: what the drawing can't say by itself.
    fn legend(&mut self) {
        let letter = self.letter;
        let panel = self.panel;
        let mut lines = Vec::new();
        if let Some(grid) = panel.grid {
            let [w, h] = grid.patch_mm.map(number);
            let [across, down] = grid.pitch_mm.map(number);
            lines.push(format!(
                "{} × {} patches (rows × columns) of {w} × {h} mm, {across} mm across and {down} mm down from patch to patch.",
                grid.rows, grid.columns
            ));
        }
        let from = if panel.board.is_some() {
            "the board's"
        } else {
            "the patches'"
        };
        lines.push(format!(
            "Rulers: millimetres from {from} left and top edge."
        ));
        if let Some(mask) = panel
            .patches
            .iter()
            .find(|it| it.masked.is_some() && !it.empty)
        {
            let half = mask.masked_half().unwrap_or(mask.rect);
            let side = mask.masked.map_or("", Side::name);
            let same = panel
                .patches
                .iter()
                .all(|it| it.empty || it.masked == mask.masked);
            let which = if same {
                format!(", the {side} one of each patch")
            } else {
                String::new()
            };
            lines.push(format!(
                "Hatched: the half under the mask{which} ({} × {} mm).",
                number(half.width),
                number(half.height)
            ));
        }
        if panel.patches.iter().any(|it| it.empty) {
            lines.push("Crossed out: nothing is there.".to_owned());
        }
        if panel.patches.iter().any(|it| !it.pigments.is_empty()) {
            lines.push("Loads: grams of pigment per 100 g of mixed coating.".to_owned());
        }
        if panel.cards.iter().any(|it| it.outer().is_none()) {
            lines.push("Dashed card: lay it about there, turned as drawn.".to_owned());
        }
        let width = self.room.width.max(30.0 * letter);
        let mut y = self.room.y + self.room.height + 2.4 * letter;
        let left = self.room.x;
        for line in lines.iter().flat_map(|it| wrap(it, letter, width, 3)) {
            self.write([left, y], letter, Anchor::Start, &line, INK);
            y += 1.4 * letter;
        }
    }

    fn finish(self) -> Sheet {
        let margin = 2.0 * self.letter;
        let paper = self.room.inset(-margin);
        let mut drawing = Drawing::new(paper.width, paper.height, Unit::Millimetre);
        let title = self.panel.title.as_ref().unwrap_or(&self.panel.id);
        drawing.title = Some(format!("Layout of {title}"));
        let whole = Rect {
            x: 0.0,
            y: 0.0,
            ..paper
        };
        drawing.rectangle(&whole, Some(Colour::WHITE), None);
        let by = [-paper.x, -paper.y];
        drawing
            .shapes
            .extend(self.shapes.into_iter().map(|it| it.moved(by)));
        let most = LONGEST_PX / paper.width.max(paper.height);
        Sheet {
            drawing,
            pixels_per_mm: (LETTER_PX / self.letter).min(most),
        }
    }

    /// Takes up room.
    fn cover(&mut self, rect: &Rect) {
        self.room = self.room.union(rect);
    }

    fn rectangle(&mut self, rect: &Rect, fill: Option<Colour>, stroke: Option<Stroke>) {
        self.cover(rect);
        self.shapes.push(Shape::Polygon {
            points: rect.corners().iter().map(|it| [it.x, it.y]).collect(),
            fill,
            stroke,
        });
    }

    fn line(&mut self, from: [f64; 2], to: [f64; 2], stroke: Stroke) {
        self.shapes.push(Shape::Line {
            points: vec![from, to],
            stroke,
        });
    }

    /// Level text that takes up its room.
    fn write(&mut self, at: [f64; 2], size: f64, anchor: Anchor, text: &str, colour: Colour) {
        let width = text_width(text, size);
        let x = match anchor {
            Anchor::Start => at[0],
            Anchor::Middle => at[0] - width / 2.0,
            Anchor::End => at[0] - width,
        };
        self.cover(&Rect {
            x,
            y: at[1] - size,
            width: width.max(f64::MIN_POSITIVE),
            height: 1.3 * size,
        });
        let text = Text::new(at, size, anchor, text, colour);
        self.shapes.push(Shape::Text(text));
    }

    /// Level text inside a shape, set off from its ground.
    fn write_over(&mut self, at: [f64; 2], size: f64, text: &str, colour: Colour, ground: Colour) {
        self.shapes.push(Shape::Text(Text {
            halo: Some(Halo {
                colour: ground,
                width: 0.12 * size,
            }),
            ..Text::new(at, size, Anchor::Middle, text, colour)
        }));
    }
}

/// A number with up to two decimals.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.replace('-', "−")
}
