//! How well predicted outlines are borne out by the picture.

use super::edge;
use super::fit::Seen;
use super::shade;
use super::view::{Graded, Light, distance};
use crate::geometry::{PlaneMap, Point, Rect};
use nalgebra::Vector2;

/// What was seen of one rectangle.
#[derive(Clone, Debug, Default)]
pub(super) struct Outline {
    /// Share of the half sides that were seen, 0–1.
    pub share: f64,
    /// The half sides that were seen.
    pub seen: Vec<Seen>,
    /// Share of the half sides that a highlight hides, 0–1: they say nothing, and `share` is one of the others.
    pub hidden: f64,
    /// Share of all half sides that are seen each by itself, 0–1.
    pub plain: f64,
}

impl Outline {
    /// Belief that the rectangle is there, 0–1: five of eight half sides are even odds.
    pub(super) fn visible(&self) -> f64 {
        belief(self.share)
    }

    /// That belief, and the share of the outline that it rests on; and what it is by half sides that are seen each by itself.
    pub(super) fn believed(&self) -> Believed {
        Believed {
            visible: self.visible(),
            open: 1.0 - self.hidden,
            plain: belief(self.plain),
        }
    }
}

/// Belief that a rectangle is there, by the share of its half sides that were seen.
fn belief(share: f64) -> f64 {
    ((share - 0.45) / 0.35).clamp(0.0, 1.0)
}

/// Belief in an outline, and what it rests on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Believed {
    /// Belief that the rectangle is there, 0–1.
    pub visible: f64,
    /// Share of the outline that no highlight hides, 0–1.
    pub open: f64,
    /// The belief if each half side had to be seen by itself, 0–1.
    pub plain: f64,
}

/// How to look for outlines.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    /// How far from its predicted place an outline may be, pixels.
    pub reach: f64,
    /// Millimetres of free room around the rectangle.
    pub gap_mm: f64,
    /// Millimetres within its outline in which nothing else has one, as a board's margin; infinite where nothing is asked of that.
    pub clear_mm: f64,
    /// Pixels from reading to reading.
    pub step: f64,
    /// Whether sides that differ count as seen where no line stands out, as of a card on a coarse cloth.
    pub sides: bool,
    /// Whether the inner of two edges counts, as of a card that lies close beside a board.
    pub inner: bool,
}

/// Pixels from reading to reading that suit a reach: the farther, the coarser.
pub(super) fn coarseness(reach: f64) -> f64 {
    (reach / 4.0).max(1.0)
}

/// Looks for the outline of a rectangle.
pub(super) fn outline(light: &impl Light, map: &PlaneMap, rect: &Rect, look: &Look) -> Outline {
    let Edges {
        supported,
        plain,
        seen,
        unseen,
    } = Edges::of(light, map, rect, look);
    let hidden = highlights(light, map, rect, &unseen, look.gap_mm) / 8.0;
    Outline {
        share: supported / (8.0 * (1.0 - hidden)).max(1.0),
        seen,
        hidden,
        plain: plain / 8.0,
    }
}

/// The half sides of a rectangle's outline that are seen, for what asks for their places alone.
pub(super) fn edges(light: &impl Light, map: &PlaneMap, rect: &Rect, look: &Look) -> Vec<Seen> {
    Edges::of(light, map, rect, look).seen
}

/// The half sides of a rectangle.
struct Edges {
    /// How many were seen, those count less at which no line stands out.
    supported: f64,
    /// The same of those that are seen each by itself.
    plain: f64,
    /// Those with a line.
    seen: Vec<Seen>,
    /// Those where nothing is, from end to end in millimetres, that a highlight may hide.
    unseen: Vec<(Point, Point)>,
}

impl Edges {
    fn of(light: &impl Light, map: &PlaneMap, rect: &Rect, look: &Look) -> Self {
        let corners = rect.corners();
        let centre = map.map(rect.centre());
        let halves = (0..4).flat_map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            let middle = a + (b - a) / 2.0;
            [(a, middle), (middle, b)]
        });
        let mut supported = 0.0;
        let (mut seen, mut unseen) = (Vec::with_capacity(8), Vec::new());
        let mut faint: Vec<((Point, Point), Looked)> = Vec::new();
        let mut differences: Vec<Graded> = Vec::with_capacity(8);
        for half in halves {
            let looked = examine(light, map, half.0, half.1, centre, look);
            differences.extend(looked.difference);
            match looked.stretch {
                Stretch::Outline(it) => {
                    supported += 1.0;
                    seen.push(it);
                }
                // They say less of where the outline lies.
                Stretch::Sides => supported += SIDES_COUNT,
                Stretch::Nothing => faint.push((half, looked)),
            }
        }
        let plain = supported;
        if !faint.is_empty() && !look.sides {
            let agreed = agreed(&differences);
            for (half, looked) in faint {
                let alike =
                    (agreed.zip(looked.difference)).is_some_and(|(all, it)| agrees(it, all));
                match looked.faint.filter(|_| alike) {
                    Some(it) => {
                        supported += 1.0;
                        seen.push(it);
                    }
                    None => unseen.push(half),
                }
            }
        }
        Self {
            supported,
            plain,
            seen,
            unseen,
        }
    }
}

/// Fewest of eight half sides at which the inside must differ from the outside alike.
const ALIKE: usize = 6;
/// How far such a difference may be from the usual one, as a share of it: those that noise makes are as far apart as they are large.
const NEAR: f64 = 0.5;

/// By what the inside of a rectangle differs from its outside, if it does alike on nearly all sides.
///
/// Where noise hides each half side of a dark patch on a dark board, all of them together still tell it: paint is of one colour, and so is
/// the board around; noise, grain and shadows differ from side to side.
fn agreed(differences: &[Graded]) -> Option<Graded> {
    if differences.len() < ALIKE {
        return None;
    }
    let all = shade::median(differences);
    let alike = differences.iter().filter(|it| agrees(**it, all));
    (alike.count() >= ALIKE).then_some(all)
}

/// Whether one difference is like all.
fn agrees(one: Graded, all: Graded) -> bool {
    distance(one, all) < NEAR * distance(all, [0.0; 3])
}

/// Readings along a half side, and those that a highlight must lie on for it to hide the outline.
const ON_HALF: (u8, usize) = (6, 3);
/// Linear light that a highlight adds at least, of white and of the board's own.
const ADDED: (f64, f64) = (0.01, 0.5);
/// How alike its channels are, smallest over largest, unless all are clipped.
const WHITE: f64 = 0.5;
const CLIPPED: f64 = 0.9;

/// On how many of some half sides a highlight lies: it adds the lamp's own light to paint and board alike, and hides where they meet.
fn highlights(
    light: &impl Light,
    map: &PlaneMap,
    rect: &Rect,
    halves: &[(Point, Point)],
    gap_mm: f64,
) -> f64 {
    if gap_mm <= 0.0 || halves.is_empty() {
        return 0.0;
    }
    let Some(board) = shade::around(light, map, rect, [gap_mm; 2]).map(shade::linear) else {
        return 0.0;
    };
    let least = ADDED.0.max(ADDED.1 * board.iter().sum::<f64>() / 3.0);
    let lit = |at: Point| {
        light.at(map.map(at)).is_some_and(|it| {
            let seen = shade::linear(it);
            let added = [0, 1, 2].map(|k| seen[k] - board[k]);
            let low = added.into_iter().fold(f64::MAX, f64::min);
            let high = added.into_iter().fold(f64::MIN, f64::max);
            low > least && (low > WHITE * high || seen.iter().all(|it| *it > CLIPPED))
        })
    };
    let hidden = |(from, to): &&(Point, Point)| {
        let places = (0..ON_HALF.0).map(|k| (f64::from(k) + 0.5) / f64::from(ON_HALF.0));
        let on = places.filter(|t| lit(from + (to - from) * *t));
        on.count() >= ON_HALF.1
    };
    halves.iter().filter(hidden).count() as f64
}

/// What was seen of one stretch of outline.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stretch {
    /// An outline.
    Outline(Seen),
    /// No line that stands out, but sides that differ.
    Sides,
    /// Nothing stands out where it should be.
    Nothing,
}

/// Standard errors, and grading, by which two sides must differ where no line stands out between them.
const DIFFERENT: (f64, f64) = (4.0, 1.5);

/// How much coarser than the inside something must be to lie outside of it, whatever its mean: a factor and a grading.
pub(super) const COARSER: (f64, f64) = (2.0, 1.0);

/// What a stretch of differing sides counts, of an outline's 1.
const SIDES_COUNT: f64 = 0.8;

/// What was found at one stretch.
struct Looked {
    stretch: Stretch,
    /// A line that stands out from what lies beside it, though noise may have made it.
    faint: Option<Seen>,
    /// By what the inside differs from the outside; none where it can't be read.
    difference: Option<Graded>,
}

/// Looks for one stretch of outline.
pub(super) fn stretch(
    light: &impl Light,
    map: &PlaneMap,
    from: Point,
    to: Point,
    inside: Point,
    look: &Look,
) -> Stretch {
    examine(light, map, from, to, inside, look).stretch
}

/// Looks for one stretch of outline, and at its sides.
fn examine(
    light: &impl Light,
    map: &PlaneMap,
    from: Point,
    to: Point,
    inside: Point,
    look: &Look,
) -> Looked {
    let nothing = Looked {
        stretch: Stretch::Nothing,
        faint: None,
        difference: None,
    };
    let (a, b) = (map.map(from), map.map(to));
    let length = (b - a).norm();
    if !(length.is_finite() && length > 2.0 && length < 1e5) {
        return nothing;
    }
    let along = (b - a) / length;
    let mut normal = Vector2::new(along.y, -along.x);
    let depth = (a + (b - a) / 2.0 - inside).dot(&normal);
    if depth < 0.0 {
        normal = -normal;
    }
    // Inwards no farther than a third of the way to the middle, nor into what lies there, outwards not past the neighbour's outline.
    let middle = from + (to - from) / 2.0;
    let scale = map.jacobian(middle).determinant().abs().sqrt();
    let gap = look.gap_mm * scale;
    let far = (2.5 * look.reach).max(5.0 * look.step);
    let least = 2.0 * look.step;
    let free = far.min(0.35 * depth.abs()).max(least);
    let inwards = free.min(look.clear_mm * scale - edge::BLURRED).max(least);
    let outwards = if look.gap_mm > 0.0 {
        far.min((0.55 * gap).max(look.step))
    } else {
        free
    };
    let Some(profile) = edge::profile(light, a, b, normal, (-inwards, outwards), look.step) else {
        return nothing;
    };
    let peak = if look.inner {
        profile.innermost_within(look.reach)
    } else {
        profile.steepest_within(look.reach)
    };
    let seen = Seen {
        mm: middle,
        at: map.map(middle) + normal * peak.offset,
        normal,
    };
    let stretch = if peak.is_sure() {
        Stretch::Outline(seen)
    } else {
        let differ = || {
            let (contrast, error) = profile.contrast();
            let (inside, outside) = profile.scatter();
            contrast > DIFFERENT.0 * error + DIFFERENT.1 || outside > COARSER.0 * inside + COARSER.1
        };
        // What ends farther in differs from what lies beyond that, too.
        if look.sides && differ() && !profile.ends_before(look.reach) {
            Stretch::Sides
        } else {
            Stretch::Nothing
        }
    };
    Looked {
        stretch,
        faint: peak.stands_out().then_some(seen),
        difference: Some(profile.difference()),
    }
}
