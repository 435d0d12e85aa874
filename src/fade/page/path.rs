//! The path of a colour: in a*b* seen from above, and its lightness over the dose, at one scale.

use super::axis::{Axis, FAINT, GRID, INK, MODEL, label, text, thin};
use crate::drawing::{Anchor, Colour, Drawing, Shape, Stroke, Unit};
use crate::fade::report::Change;
use crate::fade::wording;

const WIDTH: f64 = 300.0;
const HEIGHT: f64 = 200.0;
/// Side of the square of a*b*, and height of the strip of L*.
const SIDE: f64 = 152.0;
const TOP: f64 = 14.0;
const SQUARE_LEFT: f64 = 34.0;
const STRIP: [f64; 2] = [228.0, 292.0];
/// Least span of an axis in Lab units: what is smaller is noise, and shall look like it.
const LEAST_SPAN: f64 = 4.0;
/// 95 % of a normal distribution lie within: in a plane (χ², 2 degrees of freedom), and along a line.
const IN_PLANE: f64 = 5.991_464_547_107_98;
const ALONG_LINE: f64 = 1.959_963_984_540_054;

/// Draws it. Without a start, changes are drawn instead of colours.
pub(super) fn plot(
    start: Option<[f64; 3]>,
    changes: &[Change],
    furthest: f64,
    dose_kind: &str,
) -> Drawing {
    let mut drawing = Drawing::new(WIDTH, HEIGHT, Unit::Pixel);
    drawing.title = Some(title(start, changes, dose_kind));
    let from = start.unwrap_or_default();
    let mut path = vec![(0.0, from)];
    path.extend(changes.iter().map(|it| {
        let [l, a, b] = from;
        (it.dose, [l + it.dl, a + it.da, b + it.db])
    }));
    let [l, a, b] = axes(&path, changes);
    let x = Axis {
        from: 0.0,
        to: furthest,
        at: [STRIP[0] + 5.0, STRIP[1] - 5.0],
    };
    plane(&mut drawing, &path, changes.last(), &a, &b, start.is_some());
    strip(&mut drawing, &path, changes, &l, &x, start.is_some());
    drawing
}

fn title(start: Option<[f64; 3]>, changes: &[Change], dose_kind: &str) -> String {
    let from = start.map_or_else(
        || "The path of the change".to_owned(),
        |[l, a, b]| format!("The path of the colour from L* {l:.2}, a* {a:.2}, b* {b:.2}"),
    );
    let to = changes.last().map_or_else(
        || ": nothing was measured after it.".to_owned(),
        |it| {
            format!(
                ": L* {:+.2}, a* {:+.2}, b* {:+.2} after {}.",
                it.dl,
                it.da,
                it.db,
                wording::dose(it.dose, dose_kind)
            )
        },
    );
    from + &to
}

/// Axes of L*, a*, b* of one span, that hold the path with its uncertainty.
fn axes(path: &[(f64, [f64; 3])], changes: &[Change]) -> [Axis; 3] {
    let ranges: [[f64; 2]; 3] = std::array::from_fn(|it| {
        let values = path.iter().enumerate().flat_map(|(index, (_, lab))| {
            let bar = match index.checked_sub(1).and_then(|index| changes.get(index)) {
                // Along the path only L* has bars; in the plane there is one ellipse, at the end.
                Some(change) if it == 0 || index + 1 == path.len() => {
                    IN_PLANE.sqrt() * change.covariance[it][it].max(0.0).sqrt()
                }
                _ => 0.0,
            };
            [lab[it] - bar, lab[it] + bar]
        });
        values
            .filter(|it| it.is_finite())
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], it| {
                [low.min(it), high.max(it)]
            })
    });
    let span = ranges
        .iter()
        .map(|it| 1.1 * (it[1] - it[0]))
        .filter(|it| it.is_finite())
        .fold(LEAST_SPAN, f64::max);
    std::array::from_fn(|it| {
        let middle = (ranges[it][0] + ranges[it][1]) / 2.0;
        let middle = if middle.is_finite() { middle } else { 0.0 };
        let at = if it == 1 {
            [SQUARE_LEFT, SQUARE_LEFT + SIDE]
        } else {
            [TOP + SIDE, TOP]
        };
        Axis {
            from: middle - span / 2.0,
            to: middle + span / 2.0,
            at,
        }
    })
}

/// The plane of a* and b*.
fn plane(
    drawing: &mut Drawing,
    path: &[(f64, [f64; 3])],
    last: Option<&Change>,
    a: &Axis,
    b: &Axis,
    absolute: bool,
) {
    let (left, right, bottom) = (SQUARE_LEFT, SQUARE_LEFT + SIDE, TOP + SIDE);
    for it in a.ticks(4.0) {
        drawing.line([a.place(it), TOP], [a.place(it), bottom], thin(GRID));
        drawing.text(text(
            [a.place(it), bottom + 13.0],
            Anchor::Middle,
            label(it),
        ));
    }
    for it in b.ticks(4.0) {
        drawing.line([left, b.place(it)], [right, b.place(it)], thin(GRID));
        drawing.text(text(
            [left - 4.0, b.place(it) + 3.5],
            Anchor::End,
            label(it),
        ));
    }
    let name = |it: &str| {
        if absolute {
            it.to_owned()
        } else {
            format!("Δ{it}")
        }
    };
    drawing.text(text(
        [right, bottom + 27.0],
        Anchor::End,
        name("a* (redder →)"),
    ));
    drawing.text(text(
        [left - 30.0, TOP - 4.0],
        Anchor::Start,
        name("b* (yellower ↑)"),
    ));
    let place = |lab: [f64; 3]| [a.place(lab[1]), b.place(lab[2])];
    if let (Some(change), Some((_, lab))) = (last, path.last()) {
        drawing.shapes.push(Shape::Polygon {
            points: ellipse(change)
                .into_iter()
                .map(|[da, db]| place([0.0, lab[1] + da, lab[2] + db]))
                .collect(),
            fill: Some(MODEL.with_alpha(40)),
            stroke: Some(thin(MODEL)),
        });
    }
    drawing.shapes.push(Shape::Line {
        points: path.iter().map(|it| place(it.1)).collect(),
        stroke: Stroke::solid(INK, 1.0),
    });
    for (index, (_, lab)) in path.iter().enumerate() {
        mark(drawing, place(*lab), index == 0, index + 1 == path.len());
    }
}

/// Where 95 % lie in a*b*, around the last change.
fn ellipse(change: &Change) -> Vec<[f64; 2]> {
    let c = &change.covariance;
    // The Cholesky factor of the 2 × 2 part takes a circle to it.
    let first = c[1][1].max(0.0).sqrt();
    let across = if first > 0.0 { c[2][1] / first } else { 0.0 };
    let second = (c[2][2] - across * across).max(0.0).sqrt();
    (0..48)
        .map(|it| {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(it) / 48.0).sin_cos();
            let (u, v) = (IN_PLANE.sqrt() * cos, IN_PLANE.sqrt() * sin);
            [first * u, across * u + second * v]
        })
        .collect()
}

/// Lightness over the dose.
fn strip(
    drawing: &mut Drawing,
    path: &[(f64, [f64; 3])],
    changes: &[Change],
    l: &Axis,
    x: &Axis,
    absolute: bool,
) {
    let bottom = TOP + SIDE;
    for it in l.ticks(4.0) {
        drawing.line([STRIP[0], l.place(it)], [STRIP[1], l.place(it)], thin(GRID));
        drawing.text(text(
            [STRIP[0] - 4.0, l.place(it) + 3.5],
            Anchor::End,
            label(it),
        ));
    }
    let name = if absolute { "L*" } else { "ΔL*" };
    drawing.text(text(
        [STRIP[0] - 26.0, TOP - 4.0],
        Anchor::Start,
        format!("{name} (lighter ↑)"),
    ));
    let end = path.iter().map(|it| it.0).fold(0.0, f64::max);
    drawing.text(text([x.place(0.0), bottom + 13.0], Anchor::Middle, "0"));
    if end > 0.0 {
        drawing.text(text(
            [x.place(end), bottom + 13.0],
            Anchor::Middle,
            label(end),
        ));
    }
    drawing.text(text([STRIP[1], bottom + 27.0], Anchor::End, "dose"));
    let place = |(dose, lab): (f64, [f64; 3])| [x.place(dose), l.place(lab[0])];
    for (change, it) in changes.iter().zip(path.iter().skip(1)) {
        let bar = ALONG_LINE * change.covariance[0][0].max(0.0).sqrt();
        let [at, _] = place(*it);
        let ends = [it.1[0] - bar, it.1[0] + bar].map(|it| l.place(it));
        drawing.line([at, ends[0]], [at, ends[1]], Stroke::solid(FAINT, 1.0));
    }
    drawing.shapes.push(Shape::Line {
        points: path.iter().map(|it| place(*it)).collect(),
        stroke: Stroke::solid(INK, 1.0),
    });
    for (index, it) in path.iter().enumerate() {
        mark(drawing, place(*it), index == 0, index + 1 == path.len());
    }
}

/// A hollow square at the start, a large dot at the end, small ones between.
fn mark(drawing: &mut Drawing, [x, y]: [f64; 2], first: bool, last: bool) {
    if first {
        let half = 3.6;
        drawing.shapes.push(Shape::Polygon {
            points: vec![
                [x - half, y - half],
                [x + half, y - half],
                [x + half, y + half],
                [x - half, y + half],
            ],
            fill: Some(Colour::WHITE),
            stroke: Some(Stroke::solid(INK, 1.2)),
        });
        return;
    }
    drawing.shapes.push(Shape::Circle {
        centre: [x, y],
        radius: if last { 4.0 } else { 2.2 },
        fill: Some(INK),
        stroke: None,
    });
}
