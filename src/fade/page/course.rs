//! The change against the dose: what was measured, and what the models make of it.

use super::axis::{Axis, FAINT, GRID, INK, LETTERS, MODEL, dashed, label, round_up, text, thin};
use crate::drawing::{Anchor, Drawing, Shape, Stroke, Unit};
use crate::fade::kinetics::{Course, CurvePoint};
use crate::fade::report::Change;
use crate::fade::wording;

const WIDTH: f64 = 300.0;
const HEIGHT: f64 = 200.0;
const PLOT: [f64; 4] = [30.0, 12.0, 292.0, 164.0];
/// Lines across the plot, ΔE00.
const LEVELS: [f64; 3] = [1.0, 2.0, 5.0];

/// Draws it; `furthest` is where the axis of doses ends, the same for all patches of a board.
pub(super) fn plot(
    changes: &[Change],
    course: Option<&Course>,
    furthest: f64,
    dose_kind: &str,
) -> Drawing {
    let [left, top, right, bottom] = PLOT;
    let x = Axis {
        from: 0.0,
        to: furthest,
        at: [left, right],
    };
    let y = Axis {
        from: 0.0,
        to: highest(changes, course),
        at: [bottom, top],
    };
    let mut drawing = Drawing::new(WIDTH, HEIGHT, Unit::Pixel);
    drawing.title = Some(title(changes, course, dose_kind));
    frame(&mut drawing, &x, &y, dose_kind);
    if let Some(course) = course {
        let last = changes.iter().map(|it| it.dose).fold(0.0, f64::max);
        curve(&mut drawing, &x, &y, course, last);
    }
    for it in changes {
        point(&mut drawing, &x, &y, it);
    }
    drawing
}

/// Where the axis of ΔE00 ends: a round number above everything measured; an interval that is far wider is cut.
fn highest(changes: &[Change], course: Option<&Course>) -> f64 {
    let measured = changes.iter().map(|it| it.de_00 + it.u95_de_00);
    let measured = measured.fold(2.5, f64::max);
    let curve = course.iter().flat_map(|it| &it.curve);
    let modelled = curve.map(|it| it.high).fold(0.0, f64::max);
    let wanted = measured.max(modelled.min(1.6 * measured));
    let step = round_up(wanted / 5.0);
    (wanted / step).ceil() * step
}

fn title(changes: &[Change], course: Option<&Course>, dose_kind: &str) -> String {
    let points: Vec<String> = changes
        .iter()
        .map(|it| {
            format!(
                "{:.2} ± {:.2} at {}",
                it.de_00,
                it.u95_de_00,
                wording::dose(it.dose, dose_kind)
            )
        })
        .collect();
    let mut title = if points.is_empty() {
        "No change was measured.".to_owned()
    } else {
        format!("ΔE00 against dose: {}.", points.join("; "))
    };
    if let Some(end) = course.and_then(|it| said(it).last().copied()) {
        title += &format!(
            " The models end at {} with ΔE00 {:.2}, from {:.2} to {:.2}.",
            wording::dose(end.dose, dose_kind),
            end.de_00,
            end.low,
            end.high
        );
    }
    title
}

/// Axes, and the lines of the thresholds across.
fn frame(drawing: &mut Drawing, x: &Axis, y: &Axis, dose_kind: &str) {
    let [left, top, right, bottom] = PLOT;
    // Places that have a number; numbers of the thresholds come first, the larger before the smaller.
    let mut taken = Vec::new();
    let mut number = |drawing: &mut Drawing, value: f64| {
        let at = y.place(value);
        if taken.iter().all(|it: &f64| (it - at).abs() >= LETTERS) {
            taken.push(at);
            drawing.text(text([left - 4.0, at + 3.5], Anchor::End, label(value)));
        }
    };
    number(drawing, 0.0);
    for level in LEVELS.into_iter().rev().filter(|it| *it < y.to) {
        let at = y.place(level);
        drawing.line([left, at], [right, at], thin(GRID));
        number(drawing, level);
    }
    for it in y.ticks(3.0) {
        number(drawing, it);
        drawing.line([left - 2.0, y.place(it)], [left, y.place(it)], thin(INK));
    }
    for it in x.ticks(4.0) {
        drawing.line(
            [x.place(it), bottom],
            [x.place(it), bottom + 3.0],
            thin(INK),
        );
        // A number at the very end would stick out.
        let (at, anchor) = if right - x.place(it) < LETTERS {
            (WIDTH, Anchor::End)
        } else {
            (x.place(it), Anchor::Middle)
        };
        drawing.text(text([at, bottom + 14.0], anchor, label(it)));
    }
    drawing.line([left, bottom], [right, bottom], thin(INK));
    drawing.line([left, top - 4.0], [left, bottom], thin(INK));
    drawing.text(text([left + 4.0, top + 2.0], Anchor::Start, "ΔE00"));
    let kind = crate::drawing::shorten(&dose_kind.replace("m2", "m²"), LETTERS, right - left);
    drawing.text(text([right, HEIGHT - 6.0], Anchor::End, kind));
}

/// What may be said of the course: nothing beyond its limit.
fn said(course: &Course) -> Vec<CurvePoint> {
    let within = |it: &&CurvePoint| it.dose <= course.limit_dose * (1.0 + 1e-9);
    course.curve.iter().filter(within).copied().collect()
}

/// The averaged course with its interval: solid as far as was exposed, dashed beyond, nothing beyond the limit.
fn curve(drawing: &mut Drawing, x: &Axis, y: &Axis, course: &Course, last: f64) {
    let points = said(course);
    if points.len() < 2 {
        return;
    }
    let (inner, outer) = split(&points, last);
    let line = |points: &[CurvePoint], value: fn(&CurvePoint) -> f64| -> Vec<[f64; 2]> {
        let places = points.iter();
        places
            .map(|it| [x.place(it.dose), y.place(value(it))])
            .collect()
    };
    for (points, alpha) in [(&inner, 60), (&outer, 28)] {
        let mut outline = line(points, |it| it.high);
        outline.extend(line(points, |it| it.low).into_iter().rev());
        drawing.shapes.push(Shape::Polygon {
            points: outline,
            fill: Some(MODEL.with_alpha(alpha)),
            stroke: None,
        });
    }
    for (points, main, rim) in [
        (&inner, Stroke::solid(MODEL, 1.8), thin(MODEL)),
        (&outer, dashed(MODEL, 1.8), dashed(MODEL, 0.7)),
    ] {
        for (value, stroke) in [
            ((|it| it.de_00) as fn(&CurvePoint) -> f64, main),
            (|it| it.low, rim),
            (|it| it.high, rim),
        ] {
            drawing.shapes.push(Shape::Line {
                points: line(points, value),
                stroke,
            });
        }
    }
    let end = x.place(course.limit_dose);
    drawing.line([end, PLOT[1]], [end, PLOT[3]], dashed(FAINT, 0.7));
}

/// The course up to a dose, and from there on; both have the point between.
fn split(points: &[CurvePoint], at: f64) -> (Vec<CurvePoint>, Vec<CurvePoint>) {
    let (mut inner, mut outer): (Vec<CurvePoint>, Vec<CurvePoint>) =
        points.iter().partition(|it| it.dose <= at);
    if let (Some(a), Some(b)) = (inner.last().copied(), outer.first().copied()) {
        let share = (at - a.dose) / (b.dose - a.dose);
        let mix = |a: f64, b: f64| a + share * (b - a);
        let between = CurvePoint {
            dose: at,
            change: std::array::from_fn(|it| mix(a.change[it], b.change[it])),
            de_00: mix(a.de_00, b.de_00),
            low: mix(a.low, b.low),
            high: mix(a.high, b.high),
        };
        inner.push(between);
        outer.insert(0, between);
    }
    (inner, outer)
}

/// A measured change with its U95: filled if it is told from none, hollow if not.
fn point(drawing: &mut Drawing, x: &Axis, y: &Axis, it: &Change) {
    let (at, centre) = (x.place(it.dose), y.place(it.de_00));
    let ends = [it.de_00 - it.u95_de_00, it.de_00 + it.u95_de_00].map(|it| y.place(it));
    drawing.line([at, ends[0]], [at, ends[1]], Stroke::solid(INK, 1.0));
    for end in ends {
        drawing.line([at - 3.0, end], [at + 3.0, end], Stroke::solid(INK, 1.0));
    }
    drawing.shapes.push(Shape::Circle {
        centre: [at, centre],
        radius: 3.4,
        fill: Some(if it.significant {
            INK
        } else {
            crate::drawing::Colour::WHITE
        }),
        stroke: Some(Stroke::solid(INK, 1.2)),
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(dose: f64, de_00: f64) -> CurvePoint {
        CurvePoint {
            dose,
            change: [0.0; 3],
            de_00,
            low: de_00 / 2.0,
            high: de_00 * 2.0,
        }
    }

    #[test]
    fn the_course_is_cut_at_the_last_exposure() {
        let points = [at(0.0, 0.0), at(100.0, 1.0), at(200.0, 2.0)];
        let (inner, outer) = split(&points, 150.0);
        assert_eq!(inner.last(), outer.first());
        assert!((inner[2].de_00 - 1.5).abs() < 1e-12 && (inner[2].high - 3.0).abs() < 1e-12);
        assert_eq!((inner.len(), outer.len()), (3, 2));
    }

    #[test]
    fn nothing_is_drawn_beyond_the_limit() {
        let course = Course {
            models: Vec::new(),
            range_over_models: false,
            thresholds: Vec::new(),
            limit_dose: 150.0,
            limit_reason: String::new(),
            curve: vec![
                at(0.0, 0.0),
                at(100.0, 1.0),
                at(150.0, 1.5),
                at(200.0, 99.0),
            ],
        };
        let drawing = plot(&[], Some(&course), 300.0, "hours");
        let end = 30.0 + 150.0 / 300.0 * (292.0 - 30.0);
        let blue = |it: &&Shape| match it {
            Shape::Line { stroke, .. } => stroke.colour == MODEL,
            Shape::Polygon { .. } => true,
            _ => false,
        };
        let mut furthest: f64 = 0.0;
        for it in drawing.shapes.iter().filter(blue) {
            if let Shape::Line { points, .. } | Shape::Polygon { points, .. } = it {
                furthest = points.iter().map(|it| it[0]).fold(furthest, f64::max);
            }
        }
        assert!((furthest - end).abs() < 1e-9, "{furthest} {end}");
    }
}
