//! Patches: outline, mask, and what they are, as far as it can be read at their size.

use super::{
    Anchor, CAP_HEIGHT, Canvas, Colour, INK, PALE, Stroke, number, shorten, text_width, wrap,
};
use crate::colour::srgb;
use crate::geometry::Rect;
use crate::panel::{Control, KnownColour, Patch};

/// Letters below this share of the ordinary height are not read.
const SMALLEST: f64 = 0.5;
/// The share of a patch's width that its text may take.
const TEXT_WIDTH: f64 = 0.92;

impl Canvas<'_> {
    /// Draws every patch.
    pub(super) fn cells(&mut self) {
        for patch in &self.panel.patches {
            if patch.empty {
                self.empty_cell(patch);
            } else {
                self.cell(patch);
            }
        }
    }

    fn empty_cell(&mut self, patch: &Patch) {
        let pen = Stroke {
            dash: Some([0.5 * self.letter, 0.4 * self.letter]),
            ..Stroke::solid(PALE, 0.07 * self.letter)
        };
        self.rectangle(&patch.rect, None, Some(pen));
        let [a, b, c, d] = patch.rect.corners().map(|it| [it.x, it.y]);
        self.line(a, c, pen);
        self.line(b, d, pen);
    }

    fn cell(&mut self, patch: &Patch) {
        let ground = patch.known.as_ref().map_or(Colour::WHITE, screen);
        self.rectangle(&patch.rect, Some(ground), None);
        if let Some(half) = patch.masked_half() {
            self.hatch(&half, contrast(ground).with_alpha(90));
        }
        let edge = Stroke::solid(INK, 0.1 * self.letter);
        self.rectangle(&patch.rect, None, Some(edge));
        self.label(patch, ground);
    }

    /// Diagonal lines over a rectangle, and its edge.
    fn hatch(&mut self, rect: &Rect, colour: Colour) {
        let pen = Stroke::solid(colour, 0.06 * self.letter);
        // Fewer lines on large patches, so that a drawing stays small.
        let step = (0.8 * self.letter).max((rect.width + rect.height) / 60.0);
        let mut offset = step;
        while offset < rect.width + rect.height {
            // The line x + y = offset from the rectangle's corner, cut to the rectangle.
            let from = [offset.min(rect.width), (offset - rect.width).max(0.0)];
            let to = [(offset - rect.height).max(0.0), offset.min(rect.height)];
            self.line(
                [rect.x + from[0], rect.y + from[1]],
                [rect.x + to[0], rect.y + to[1]],
                pen,
            );
            offset += step;
        }
        self.rectangle(rect, None, Some(pen));
    }

    /// The id, then as many lines of what the patch is as there is room for.
    fn label(&mut self, patch: &Patch, ground: Colour) {
        let Rect { width, height, .. } = patch.rect;
        let least = SMALLEST * self.letter;
        let room = TEXT_WIDTH * width;
        let fitting = room / text_width(&patch.id, 1.0).max(0.1);
        // A long id is set smaller, to a point; then it is cut.
        let usual = (1.25 * self.letter).min(height / 3.5).max(least);
        let big = usual.min(fitting).max(0.7 * usual).max(least);
        let small = (0.8 * self.letter).min(0.75 * usual).max(least);
        let id = shorten(&patch.id, big, room);
        if height < 1.2 * big || id.is_empty() {
            return;
        }
        let mut lines = vec![(id, big)];
        let mut left = height - 1.6 * big;
        for said in self
            .dimensions_of(patch)
            .into_iter()
            .chain(particulars(patch))
        {
            let n = whole(left / (1.25 * small));
            for (line, size) in said.fitted(room, n, small, 0.9 * least) {
                left -= 1.25 * size;
                lines.push((line, size));
            }
        }
        let tall: f64 = lines.iter().skip(1).map(|it| 1.25 * it.1).sum::<f64>() + CAP_HEIGHT * big;
        let centre = patch.rect.centre();
        let mut y = centre.y - tall / 2.0 + CAP_HEIGHT * big;
        let letters = contrast(ground);
        for (i, (line, size)) in lines.iter().enumerate() {
            if i > 0 {
                y += 1.25 * size;
            }
            self.write_over([centre.x, y], *size, line, letters, ground);
        }
    }

    /// Size and place of a patch off the grid, which the legend can't state; the rulers may not have had room for it.
    fn dimensions_of(&self, patch: &Patch) -> Vec<Said> {
        if patch.cell.is_some() {
            return Vec::new();
        }
        let datum = self.datum();
        let [w, h] = [patch.rect.width, patch.rect.height].map(number);
        let [x, y] = [patch.rect.x - datum.x, patch.rect.y - datum.y].map(number);
        vec![
            Said::figure(format!("{w} × {h} mm")),
            Said::figure(format!("at {x}, {y} mm")),
        ]
    }

    /// Names of rows and columns beside the rulers, `at` being the distance of the names from the core.
    pub(super) fn row_and_column_names(&mut self, above: f64, left: f64) {
        let Some(grid) = self.panel.grid else { return };
        let size = 1.1 * self.letter;
        let every = |pitch: f64, widest: f64| (widest / pitch).ceil().max(1.0);
        let columns = every(
            grid.pitch_mm[0],
            text_width(&grid.columns.to_string(), size) + 0.4 * size,
        );
        for column in (0..grid.columns).step_by(whole(columns)) {
            let x = grid.cell(0, column).centre().x;
            let at = [x, self.core.y - above];
            self.write(at, size, Anchor::Middle, &(column + 1).to_string(), INK);
        }
        for row in (0..grid.rows).step_by(whole(every(grid.pitch_mm[1], 1.2 * size))) {
            let y = grid.cell(row, 0).centre().y + CAP_HEIGHT * size / 2.0;
            let at = [self.core.x - left, y];
            self.write(at, size, Anchor::End, &crate::panel::row_name(row), INK);
        }
    }
}

/// Something that is said of a patch.
enum Said {
    /// Words, on at most so many lines; they may be cut.
    Words(String, usize),
    /// Words that may be cut, then a figure that may not: half a number is another number.
    Figure(String, String),
}

impl Said {
    fn figure(figure: String) -> Self {
        Self::Figure(String::new(), figure)
    }

    /// The lines that fit into `width` and `most` lines, with their size: `size` where it fits, no less than `least`.
    fn fitted(&self, width: f64, most: usize, size: f64, least: f64) -> Vec<(String, f64)> {
        match self {
            Self::Words(text, lines) => wrap(text, size, width, most.min(*lines))
                .into_iter()
                .map(|it| (it, size))
                .collect(),
            Self::Figure(words, figure) => {
                let whole = format!("{words}{figure}");
                // A hair less than fits, so that rounding cuts nothing.
                let fitting = 0.999 * width / text_width(&whole, 1.0);
                let size = size.min(fitting).max(least.max(0.7 * size));
                let words = shorten(words, size, width - text_width(figure, size));
                let line = format!("{words}{figure}");
                let fits = text_width(&line, size) <= width;
                let cut_away = words.is_empty() && line != whole;
                (most > 0 && fits && !cut_away)
                    .then_some((line, size))
                    .into_iter()
                    .collect()
            }
        }
    }
}

/// What a patch is, in the order of importance.
fn particulars(patch: &Patch) -> Vec<Said> {
    let mut all = Vec::new();
    if let Some(position) = patch.position().filter(|it| *it != patch.id) {
        all.push(Said::Words(position, 1));
    }
    for it in &patch.pigments {
        all.push(Said::Figure(
            it.pigment.clone(),
            format!(" {} g", number(it.load)),
        ));
    }
    let control = match patch.control {
        Some(Control::Clear) => Some("clear control"),
        Some(Control::ClearOnWhite) => Some("clear control on white"),
        None => None,
    };
    // Its name may say so already.
    if let Some(words) = control.filter(|it| patch.name.as_deref() != Some(*it)) {
        all.push(Said::Words(words.to_owned(), 2));
    }
    if let Some(name) = &patch.name {
        all.push(Said::Words(name.clone(), 3));
    }
    if let Some(known) = &patch.known {
        // Adding 0 makes a rounded negative zero positive.
        let tenth = |it: f64| format!("{:.1}", (10.0 * it).round() / 10.0 + 0.0).replace('-', "−");
        let [l, a, b] = [known.lab.l, known.lab.a, known.lab.b].map(tenth);
        all.push(Said::figure(format!("{l} {a} {b}")));
    }
    all
}

/// How a known colour looks on a screen.
pub(super) fn screen(known: &KnownColour) -> Colour {
    let [r, g, b] = srgb::to_rgb8(known.lab);
    Colour::rgb(r, g, b)
}

/// Letters that can be read on a ground.
pub(super) fn contrast(ground: Colour) -> Colour {
    let [r, g, b] = ground.rgb.map(f64::from);
    if 0.3 * r + 0.59 * g + 0.11 * b < 120.0 {
        Colour::WHITE
    } else {
        INK
    }
}

/// A number of lines or steps: whole, and never more than can be drawn.
fn whole(value: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to what fits; not a number becomes 0"
    )]
    let whole = value.clamp(0.0, 10_000.0) as usize;
    whole
}
