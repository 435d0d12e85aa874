//! Colours as witnesses: whether known colours and seen ones rise and fall together. Never a calibration.

use super::rim;
use super::view::{Graded, Light, View, distance};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::Panel;
use palette::{FromColor, Xyz, white_point::D50};

/// Logarithms of a colour's lightness and of its red and blue over its green.
type Logs = [f64; 3];

/// What keeps the logarithm of black finite, about the flare of a phone's lens.
const DARK: f64 = 0.01;

/// The mean graded colour inside a rectangle, and its spread.
pub(super) fn inside(light: &impl Light, map: &PlaneMap, rect: &Rect) -> Option<(Graded, f64)> {
    let all = readings(light, map, rect)?;
    let median = median(&all);
    let off: Vec<f64> = all.iter().map(|it| distance(*it, median)).collect();
    Some((median, super::fit::median(&off)))
}

/// Readings all over the inside of a rectangle; none if it is not all in view.
pub(super) fn readings(light: &impl Light, map: &PlaneMap, rect: &Rect) -> Option<Vec<Graded>> {
    places(rect).map(|it| light.at(map.map(it))).collect()
}

/// Where a rectangle is read, all over its inside.
pub(super) fn places(rect: &Rect) -> impl Iterator<Item = Point> {
    let inner = rect.inset(0.2 * rect.width.min(rect.height));
    (0..36).map(move |k| {
        let (i, j) = (k % 6, k / 6);
        Point::new(
            inner.x + inner.width * (f64::from(i) + 0.5) / 6.0,
            inner.y + inner.height * (f64::from(j) + 0.5) / 6.0,
        )
    })
}

/// Distance within which nearly all readings of a part are of its colour, and how nearly all: those on the shadow's edge aren't.
const OF_ONE: (f64, f64) = (6.0, 0.8);

/// Whether a rectangle is of one colour but for a shadow's edge that parts it.
pub(super) fn parted(light: &impl Light, map: &PlaneMap, rect: &Rect) -> bool {
    let Some(all) = readings(light, map, rect) else {
        return false;
    };
    let lightness = |it: &Graded| it[0];
    let (low, high) = all
        .iter()
        .map(lightness)
        .fold((f32::MAX, f32::MIN), |(l, h), it| (l.min(it), h.max(it)));
    let (dark, lit): (Vec<Graded>, Vec<Graded>) =
        all.iter().partition(|it| it[0] < (low + high) / 2.0);
    if dark.is_empty() || lit.is_empty() {
        return false;
    }
    let (a, b) = (median(&dark), median(&lit));
    let near = |it: &&Graded| distance(**it, a).min(distance(**it, b)) < OF_ONE.0;
    all.iter().filter(near).count() as f64 > OF_ONE.1 * all.len() as f64 && rim::lit_alike(a, b)
}

/// The median colour near one of a rectangle's sides, at so many shares of it from one corner towards the next (`along`), and of the
/// neighbouring side inwards (`depths`; negative ones lie outside); none where none of these is in view.
pub(super) fn near_side(
    light: &impl Light,
    map: &PlaneMap,
    rect: &Rect,
    side: usize,
    along: &[f64],
    depths: &[f64],
) -> Option<Graded> {
    let corners = rect.corners();
    let corner = corners[side];
    let towards = |i: usize| corners[(side + i) % 4] - corner;
    let places = along.iter().flat_map(|at| {
        depths
            .iter()
            .map(|depth| Point::from(corner + towards(1) * *at + towards(3) * *depth))
    });
    let all: Vec<Graded> = places.filter_map(|it| light.at(map.map(it))).collect();
    (!all.is_empty()).then(|| median(&all))
}

/// How far a colour is from the next one read, as the median: mottle and weave part them, a shadow's edge only a few.
pub(super) fn grain(all: &[Graded]) -> f64 {
    let steps: Vec<f64> = all.windows(2).map(|it| distance(it[0], it[1])).collect();
    super::fit::median(&steps)
}

/// The median colour in the middle of the gaps around a patch, `gap` millimetres wide along x and y.
pub(super) fn around(
    light: &impl Light,
    map: &PlaneMap,
    rect: &Rect,
    gap: [f64; 2],
) -> Option<Graded> {
    let all = ring(light, map, rect, gap);
    (!all.is_empty()).then(|| median(&all))
}

/// The readings in the middle of the gaps around a patch, those in view.
pub(super) fn ring(light: &impl Light, map: &PlaneMap, rect: &Rect, gap: [f64; 2]) -> Vec<Graded> {
    let places = ring_places(rect, gap);
    places.filter_map(|it| light.at(map.map(it))).collect()
}

/// Where they are read, millimetres.
pub(super) fn ring_places(rect: &Rect, gap: [f64; 2]) -> impl Iterator<Item = Point> {
    let ring = Rect {
        x: rect.x - gap[0] / 2.0,
        y: rect.y - gap[1] / 2.0,
        width: rect.width + gap[0],
        height: rect.height + gap[1],
    };
    let corners = ring.corners();
    (0..4).flat_map(move |i| {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        (0..8).map(move |k| a + (b - a) * (f64::from(k) + 0.5) / 8.0)
    })
}

/// The median of each channel.
pub(super) fn median(all: &[Graded]) -> Graded {
    [0, 1, 2].map(|k| {
        let mut values: Vec<f32> = all.iter().map(|it| it[k]).collect();
        let middle = values.len() / 2;
        *values.select_nth_unstable_by(middle, f32::total_cmp).1
    })
}

/// The linear light, 0–1, of a graded colour: the inverse of the grading.
pub(super) fn linear(colour: Graded) -> [f64; 3] {
    let [light, opponent, blue] = colour.map(f64::from);
    let difference = opponent / 0.7;
    // 0.3 r + 0.5 g + 0.2 b with r = g + d and b = (r + g) / 2 − 2 t.
    let green = light - 0.4 * difference + 0.4 * blue;
    let red = green + difference;
    let b = 0.5 * (red + green) - 2.0 * blue;
    [red, green, b].map(|it| (it.max(0.0) / 100.0).powi(2))
}

/// Log light of a graded colour.
pub(super) fn log_light(colour: Graded) -> f64 {
    seen_logs(colour)[0]
}

/// Logarithms of a graded colour.
fn seen_logs(colour: Graded) -> Logs {
    logs(linear(colour))
}

/// Logarithms of a linear colour.
fn logs([r, g, b]: [f64; 3]) -> Logs {
    let light = 0.3 * r + 0.55 * g + 0.15 * b;
    [
        (light + DARK).ln(),
        ((r + DARK) / (g + DARK)).ln(),
        ((b + DARK) / (g + DARK)).ln(),
    ]
}

/// Logarithms of a known colour, by way of linear sRGB.
fn known_logs(lab: crate::colour::Lab) -> Logs {
    let xyz: Xyz<D50, f64> = Xyz::from_color(lab);
    // XYZ relative to D50 to linear sRGB (IEC 61966-2-1 primaries, Bradford), as widely tabulated; a witness needs no more.
    let (x, y, z) = (xyz.x, xyz.y, xyz.z);
    logs(
        [
            3.1339 * x - 1.6169 * y - 0.4906 * z,
            -0.9788 * x + 1.9161 * y + 0.0335 * z,
            0.0719 * x - 0.2290 * y + 1.4052 * z,
        ]
        .map(|it| it.max(0.0)),
    )
}

/// How badly known colours fit the seen ones: root mean square of the logarithms' differences, their mean taken off.
///
/// None with fewer than two known colours, or where they are all alike. The second value is their number.
pub(super) fn misfit(light: &impl Light, map: &PlaneMap, panel: &Panel) -> Option<(f64, usize)> {
    let mut pairs: Vec<(Logs, Logs)> = Vec::new();
    for patch in panel.patches.iter().filter(|it| !it.empty) {
        let stated = patch.known.as_ref().map(|it| (patch.rect, it.lab));
        let known = stated.or_else(|| patch.unchanged().map(|(rect, it)| (rect, it.lab)));
        if let Some((rect, lab)) = known {
            let (colour, _) = inside(light, map, &rect)?;
            pairs.push((known_logs(lab), seen_logs(colour)));
        }
    }
    let n = pairs.len() as f64;
    if pairs.len() < 2 {
        return None;
    }
    let mut sum = 0.0;
    for k in 0..3 {
        let mean = pairs.iter().map(|it| it.1[k] - it.0[k]).sum::<f64>() / n;
        sum += pairs
            .iter()
            .map(|it| (it.1[k] - it.0[k] - mean).powi(2))
            .sum::<f64>()
            / n;
    }
    Some((sum.sqrt(), pairs.len()))
}

/// Log likelihood of known colours being where a map has them, up to a constant; zero where there are too few.
pub(super) fn favour(light: &impl Light, map: &PlaneMap, panel: &Panel) -> f64 {
    misfit(light, map, panel).map_or(0.0, |(rms, n)| {
        -((1.5 * n as f64).min(20.0)) * (rms + 0.12).ln()
    })
}

/// Log light of the lightest tenth of the patches and of the board around them; none where nothing is in view.
pub(super) fn lightest(light: &impl Light, map: &PlaneMap, panel: &Panel) -> Option<f64> {
    let gap = panel
        .grid
        .map(|it| [0, 1].map(|k| it.pitch_mm[k] - it.patch_mm[k]));
    let patches = panel.patches.iter().filter(|it| !it.empty);
    let mut all: Vec<f64> = patches
        .flat_map(|it| {
            let own = inside(light, map, &it.rect).map(|it| it.0);
            let board = gap.and_then(|gap| around(light, map, &it.rect, gap));
            [own, board].into_iter().flatten()
        })
        .map(|it| seen_logs(it)[0])
        .collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() * 9 / 10).copied()
}

/// By how much, log, what is `lightest` would be lighter than white if a colour seen in the same light were a known one.
pub(super) fn beyond_white(lightest: f64, seen: Graded, known: crate::colour::Lab) -> f64 {
    let white = known_logs(known)[0] + lightest - seen_logs(seen)[0];
    (white - (1.0 + DARK).ln()).max(0.0)
}

/// How far a colour is from the light's own, as a ratio of channels: 0 is exactly neutral for a camera that balanced white.
pub(super) fn tint(colour: Graded) -> f64 {
    tint_beside(colour, [0.0; 2])
}

/// The same in a light whose own red and blue over green have these logarithms.
pub(super) fn tint_beside(colour: Graded, cast: [f64; 2]) -> f64 {
    let [_, red, blue] = seen_logs(colour);
    (red - cast[0]).hypot(blue - cast[1])
}

/// The logarithms of red and blue over green of the lightest things in a picture that aren't clipped: they show the light's colour, if
/// something is white. None of a picture without pixels.
pub(super) fn cast(view: &View) -> Option<[f64; 2]> {
    let mut all: Vec<&Graded> = (view.pixels.iter().step_by(SOME))
        .filter(|it| linear(**it).iter().all(|it| *it < CLIPPED))
        .collect();
    let lightest = all.len() / LIGHTEST;
    let middle = all.len().checked_sub(lightest + 1)?;
    all.select_nth_unstable_by(middle, |a, b| a[0].total_cmp(&b[0]));
    let seen: Vec<Graded> = all[middle..].iter().map(|it| **it).collect();
    let [_, red, blue] = seen_logs(median(&seen));
    Some([red, blue])
}

/// One in so many of a picture's pixels is looked at, all over it: some thousands.
const SOME: usize = 61;
/// One in so many of these are the lightest.
const LIGHTEST: usize = 50;
/// Linear light of a channel, as a median in the view, that is clipped (from code 252 of 255 in sRGB; a choice).
pub(super) const CLIPPED: f64 = 0.97;

/// By how much two zones' lightness must differ for no shadow to swap them, CIELAB.
const PLAINLY_LIGHTER: f64 = 25.0;

/// Whether zones, each with its known lightness and the seen one, are lighter and darker as they should be.
pub(super) fn in_order(zones: &[(f64, f32)]) -> bool {
    let lighter = |a: &(f64, f32), b: &(f64, f32)| a.0 <= b.0 + PLAINLY_LIGHTER || a.1 > b.1;
    zones.iter().all(|a| zones.iter().all(|b| lighter(a, b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_are_lighter_and_darker_in_their_order() {
        // White, grey and black, as known and as seen.
        assert!(in_order(&[(95.0, 90.0), (50.0, 45.0), (20.0, 18.0)]));
        // A shadow on white alone leaves it the lightest; laid a zone off, a table takes white's place.
        assert!(in_order(&[(95.0, 60.0), (50.0, 45.0), (20.0, 18.0)]));
        assert!(!in_order(&[(95.0, 40.0), (50.0, 18.0), (20.0, 45.0)]));
        // Two greys so near that a shadow may swap them say nothing.
        assert!(in_order(&[(60.0, 40.0), (50.0, 45.0)]));
    }
}
