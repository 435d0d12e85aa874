//! Cards: at their stated place, or about where they are to be laid.

use super::cells::screen;
use super::{Anchor, Canvas, Colour, INK, PALE, Rect, Stroke, number, text_width, wrap};
use crate::panel::{Place, PlacedCard, Side};

impl Canvas<'_> {
    /// Cards whose place is stated in millimetres.
    pub(super) fn fixed_cards(&mut self) {
        for placed in &self.panel.cards {
            if let Some(outer) = placed.outer() {
                self.card(placed, &outer, None);
                self.label_inside(placed, &outer);
            }
        }
    }

    /// Cards that lie beside the grid or anywhere, outwards from everything drawn so far.
    pub(super) fn loose_cards(&mut self) {
        let core = self.core;
        let gap = 1.5 * self.letter;
        for placed in &self.panel.cards {
            let [width, height] = placed.size();
            let beside = match placed.place {
                Place::AtMm(_) => continue,
                Place::Beside(side) => side,
                Place::Anywhere => continue,
            };
            let (centre, room) = (core.centre(), self.room);
            let label = self.label_width(width);
            let (x, y) = match beside {
                Side::Left => (room.x - gap - label, centre.y - height / 2.0),
                Side::Right => (room.x + room.width + gap, centre.y - height / 2.0),
                Side::Top => (
                    centre.x - width / 2.0,
                    room.y - gap - height - self.label_height(placed, label),
                ),
                Side::Bottom => (centre.x - width / 2.0, room.y + room.height + gap),
            };
            self.loose_card(placed, [x, y]);
        }
        let mut x = self.room.x;
        let y = self.room.y + self.room.height + gap;
        for placed in self
            .panel
            .cards
            .iter()
            .filter(|it| it.place == Place::Anywhere)
        {
            self.loose_card(placed, [x, y]);
            x += self.label_width(placed.size()[0]) + gap;
        }
    }

    fn loose_card(&mut self, placed: &PlacedCard, [x, y]: [f64; 2]) {
        let [width, height] = placed.size();
        let outer = Rect {
            x,
            y,
            width,
            height,
        };
        let dash = Some([0.7 * self.letter, 0.5 * self.letter]);
        self.card(placed, &outer, dash);
        let size = 0.85 * self.letter;
        let mut below = y + height + 1.3 * size;
        for line in self.label_lines(placed, self.label_width(width)) {
            self.write([x, below], size, Anchor::Start, &line, INK);
            below += 1.3 * size;
        }
    }

    /// The zones and the outer edge.
    fn card(&mut self, placed: &PlacedCard, outer: &Rect, dash: Option<[f64; 2]>) {
        self.rectangle(outer, Some(Colour::WHITE), None);
        for zone in placed.card.patches.iter().filter(|it| !it.empty) {
            let rect = placed.lay(&zone.rect, [outer.x, outer.y]);
            let fill = zone.known.as_ref().map(screen);
            self.rectangle(&rect, fill, Some(Stroke::solid(PALE, 0.04 * self.letter)));
        }
        let edge = Stroke {
            dash,
            ..Stroke::solid(INK, 0.14 * self.letter)
        };
        self.rectangle(outer, None, Some(edge));
    }

    /// What a card at its stated place is, on a plate upon it: beside it there may be patches.
    fn label_inside(&mut self, placed: &PlacedCard, outer: &Rect) {
        let Place::AtMm(at) = placed.place else {
            return;
        };
        let size = (0.85 * self.letter).min(outer.height / 6.0);
        let room = 0.84 * outer.width;
        let mut lines = wrap(&format!("card {}", placed.card.id), size, room, 2);
        lines.extend(wrap(&offset(at), size, room, 3));
        #[expect(clippy::cast_precision_loss, reason = "a handful of lines")]
        let tall = 1.3 * size * lines.len() as f64;
        let wide = lines
            .iter()
            .map(|it| text_width(it, size))
            .fold(0.0, f64::max);
        let centre = outer.centre();
        let plate = Rect {
            x: centre.x - wide / 2.0 - 0.4 * size,
            y: centre.y - tall / 2.0 - 0.2 * size,
            width: wide + 0.8 * size,
            height: tall + 0.4 * size,
        };
        self.rectangle(&plate, Some(Colour::WHITE), None);
        let mut y = centre.y - tall / 2.0 + size;
        for line in lines {
            self.write([centre.x, y], size, Anchor::Middle, &line, INK);
            y += 1.3 * size;
        }
    }

    fn label_width(&self, card: f64) -> f64 {
        card.max(13.0 * self.letter)
    }

    fn label_height(&self, placed: &PlacedCard, width: f64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a handful of lines")]
        let lines = self.label_lines(placed, width).len() as f64;
        1.3 * 0.85 * self.letter * lines
    }

    fn label_lines(&self, placed: &PlacedCard, width: f64) -> Vec<String> {
        let [w, h] = placed.size().map(number);
        let place = match placed.place {
            Place::Beside(Side::Left) => "left of the grid",
            Place::Beside(Side::Right) => "right of the grid",
            Place::Beside(Side::Top) => "above the grid",
            Place::Beside(Side::Bottom) => "below the grid",
            Place::Anywhere | Place::AtMm(_) => "anywhere in the photo",
        };
        let size = 0.85 * self.letter;
        let mut lines = wrap(&format!("card {}", placed.card.id), size, width, 2);
        lines.extend(wrap(&format!("{w} × {h} mm, {place}"), size, width, 3));
        lines
    }
}

/// Where a card's corner lies from A1's.
fn offset([x, y]: [f64; 2]) -> String {
    let across = if x < 0.0 { "left" } else { "right" };
    let down = if y < 0.0 { "up" } else { "down" };
    format!(
        "from A1: {} mm {across}, {} mm {down}",
        number(x.abs()),
        number(y.abs())
    )
}
