//! Whether the board ends within the layout: an edge along outermost lines of cells in which no patch is seen.
//!
//! A layout laid turned, or a line off, may have empty cells, or a patch that looks as the board does, beyond the board's end. There
//! the board's edge runs through the layout along one of its sides; on a board hardly anything does but patches' own outlines.
//!
//! The constants have no source: they were set while looking at some ordinary and hard simulated scenes.

use super::edge::profile;
use super::evidence::Believed;
use super::shade;
use super::view::{Graded, Light, View, distance};
use crate::geometry::{PlaneMap, Point, Rect};
use crate::panel::{Grid, Panel};
use nalgebra::Vector2;

/// Belief from which a patch is seen.
const SEEN: f64 = 0.5;
/// Stretches along the side of empty cells in which the edge is looked for.
const STRETCHES: u8 = 4;
/// Share of the stretches that must show it, and fewest.
const SHOW: (f64, usize) = (0.6, 2);
/// How much beside the patches is spared, as they may be wider than they should: of a gap, and of a patch, the more; and how many view pixels
/// besides, there and at the layout's own rim, where a board of no margin ends.
const SPARED: (f64, f64) = (0.4, 0.06);
const BLURRED: f64 = 3.0;
/// From where to where the outermost strips of board beside patches are read, as shares of a gap: margins may be narrower than gaps.
const STRIP: (f64, f64) = (0.1, 0.45);
/// View pixels of a gap below which nothing is read in it.
const NARROW: f64 = 2.0;
/// How far the edge may turn from the layout's side, millimetres a millimetre, and how far stretches may lie from one line, as a share of a pitch.
const TURNED: f64 = 0.035;
const OFF_LINE: f64 = 0.05;
/// Grading within which readings between the patches are like one beyond the edge, and share of them that make it the board's own.
const ALIKE: (f64, f64) = (3.0, 0.05);
/// Parts of the room in which the edge is looked for that are left out, one after the other, where they lie beyond the photo; and what must be left of it,
/// of a patch.
const CLIPS: u8 = 10;
const LEAST_ROOM: f64 = 0.5;
/// Log likelihood of an edge across such lines that isn't the board's, as of a shadow or a label: a guess, for one side in fifty.
const ENDS: f64 = -4.0;

/// Log likelihood that the board lies under all of a layout, by its outermost lines of cells in which no patch is seen; zero of one that has
/// none. `believed` is what is believed of each patch.
pub(super) fn within(view: &View, panel: &Panel, map: &PlaneMap, believed: &[Believed]) -> f64 {
    let Some(grid) = &panel.grid else {
        return 0.0;
    };
    // Patches off the grid lie where they like, and lines of cells don't meet theirs.
    let cells = || (panel.patches.iter().zip(believed)).filter(|it| it.0.cell.is_some());
    let painted = || cells().filter(|it| !it.0.empty);
    let around = |all: &mut dyn Iterator<Item = Rect>| all.reduce(|a, b| a.union(&b));
    let seen = painted().filter(|it| it.1.visible >= SEEN);
    let Some(seen) = around(&mut seen.map(|it| it.0.rect)) else {
        return 0.0;
    };
    let Some(extent) = around(&mut cells().map(|it| it.0.rect)) else {
        return 0.0;
    };
    let scale = map.jacobian(extent.centre()).determinant().abs().sqrt();
    let blurred = BLURRED / scale.max(1e-9);
    let gaps = [0, 1].map(|k| grid.pitch_mm[k] - grid.patch_mm[k]);
    // Grain and knots run across a board, too: beyond its end lies what isn't seen between the patches. Margins may be narrow, and gaps are blurred.
    let wide = [0, 1].map(|k| {
        if gaps[k] * scale < NARROW {
            0.0
        } else {
            gaps[k]
        }
    });
    let between = |p: &Point| seen.inset(1e-6).contains(p);
    let own: Vec<Graded> = painted()
        .filter(|it| it.1.visible >= SEEN)
        .flat_map(|it| shade::ring_places(&it.0.rect, wide))
        .filter(between)
        .filter(|p| !painted().any(|it| it.0.rect.inset(-1e-6).contains(p)))
        .filter_map(|p| view.at(map.map(p)))
        .collect();
    let ends = (0..4).filter(|side| {
        let axis = side % 2;
        let spared = f64::max(SPARED.0 * gaps[axis], SPARED.1 * grid.patch_mm[axis]);
        let (from, to) = (
            end(&seen, *side) + spared + blurred,
            end(&extent, *side) - blurred,
        );
        let least = LEAST_ROOM * grid.patch_mm[axis];
        if to - from < least {
            return false;
        }
        let unseen = painted().any(|it| end(&it.0.rect, *side) > from);
        let stretches = if unseen {
            // Patches without gaps leave no board beside them to be read.
            if gaps[1 - axis] * scale < NARROW {
                return false;
            }
            strips(grid, &seen, 1 - axis)
        } else {
            shares(&seen, 1 - axis)
        };
        let edge = Edge {
            side: *side,
            from,
            to,
            least,
        };
        edge.runs(view, map, &stretches, &own, OFF_LINE * grid.pitch_mm[axis])
    });
    ENDS * ends.count() as f64
}

/// How far a side of a rectangle lies outwards: of its left, top, right and bottom.
fn end(rect: &Rect, side: usize) -> f64 {
    match side {
        0 => -rect.x,
        1 => -rect.y,
        2 => rect.x + rect.width,
        _ => rect.y + rect.height,
    }
}

/// Where a rectangle begins along an axis, and how long it is.
fn span(rect: &Rect, axis: usize) -> (f64, f64) {
    match axis {
        0 => (rect.x, rect.width),
        _ => (rect.y, rect.height),
    }
}

/// All of a rectangle along an axis, in equal stretches.
fn shares(rect: &Rect, axis: usize) -> Vec<(f64, f64)> {
    let (first, length) = span(rect, axis);
    let at = |k: u8| first + length * f64::from(k) / f64::from(STRETCHES);
    (0..STRETCHES).map(|k| (at(k), at(k + 1))).collect()
}

/// The lines of patches in a rectangle along an axis across them, and the strips of board beside and between. The outline of a patch beyond, which may
/// be seen a little, lies in no strip, and of these there is one more than lines.
fn strips(grid: &Grid, rect: &Rect, axis: usize) -> Vec<(f64, f64)> {
    let (pitch, patch) = (grid.pitch_mm[axis], grid.patch_mm[axis]);
    let gap = pitch - patch;
    let (first, length) = span(rect, axis);
    let (near, far) = (STRIP.0 * gap, STRIP.1 * gap);
    let last = first + length;
    let mut out = vec![(first - far, first - near), (last + near, last + far)];
    let mut next = first;
    while next < last {
        out.push((next, next + patch));
        if next > first {
            out.push((next - gap + near, next - near));
        }
        next += pitch;
    }
    out
}

/// An edge that is looked for beside a side of the layout, between two distances outwards.
struct Edge {
    side: usize,
    from: f64,
    to: f64,
    /// Room of it in view, at least.
    least: f64,
}

impl Edge {
    /// Whether it runs across enough stretches, about parallel to the side and in one line but for a distance `off`.
    fn runs(
        &self,
        view: &View,
        map: &PlaneMap,
        stretches: &[(f64, f64)],
        own: &[Graded],
        off: f64,
    ) -> bool {
        let seen: Vec<Point> = stretches
            .iter()
            .filter_map(|it| self.crosses(view, map, own, *it))
            .collect();
        let enough = seen.len() as f64 >= SHOW.0 * stretches.len() as f64;
        enough && seen.len() >= SHOW.1 && in_line(&seen, off)
    }

    /// A place so far outwards and so far along the side, millimetres.
    fn place(&self, outwards: f64, along: f64) -> Point {
        match self.side {
            0 => Point::new(-outwards, along),
            1 => Point::new(along, -outwards),
            2 => Point::new(outwards, along),
            _ => Point::new(along, outwards),
        }
    }

    /// How far outwards a place lies.
    fn outwards(&self, place: Point) -> f64 {
        match self.side {
            0 => -place.x,
            1 => -place.y,
            2 => place.x,
            _ => place.y,
        }
    }

    /// Where it crosses a stretch, along the side and outwards; none where nothing stands out.
    fn crosses(
        &self,
        view: &View,
        map: &PlaneMap,
        own: &[Graded],
        (start, end): (f64, f64),
    ) -> Option<Point> {
        let along = f64::midpoint(start, end);
        // A layout laid wrongly may go on beyond the photo.
        let shown = |it: &f64| {
            let corners = [start, end].map(|along| map.map(self.place(*it, along)));
            corners.into_iter().all(|p| view.at(p).is_some())
        };
        let room = self.to - self.from;
        // Readings go on a little beyond.
        let part = room / f64::from(CLIPS);
        let mut far = (0..CLIPS).map(|k| self.to - part * f64::from(k));
        let to = far.find(|it| shown(&(it + part)))?;
        if to - self.from < self.least {
            return None;
        }
        let [inner, outer] = [self.from, to].map(|it| map.map(self.place(it, along)));
        // Half way in the picture, of which the nearer half shows more.
        let centre = inner + (outer - inner) / 2.0;
        let middle = self.outwards(map.unmap(centre)?);
        let at = |it: f64| map.map(self.place(middle, it));
        let (a, b) = (at(start), at(end));
        let direction = (b - a).try_normalize(1e-9)?;
        let mut normal = Vector2::new(direction.y, -direction.x);
        if (outer - centre).dot(&normal) < 0.0 {
            normal = -normal;
        }
        let reach = (outer - centre).dot(&normal);
        let profile = profile(view, a, b, normal, (-reach, reach), 1.0)?;
        let peak = profile.steepest_within(reach);
        let mm = map.unmap(centre + normal * peak.offset)?;
        let found = Point::new(
            if self.side.is_multiple_of(2) {
                mm.y
            } else {
                mm.x
            },
            self.outwards(mm),
        );
        let is_own = |beyond: Graded| {
            let like = own.iter().filter(|it| distance(**it, beyond) < ALIKE.0);
            like.count() as f64 > ALIKE.1 * own.len() as f64
        };
        let (board, all) = profile
            .beyond(peak.offset)
            .fold((0, 0), |(board, all), it| {
                (board + usize::from(is_own(it)), all + 1)
            });
        (peak.is_sure() && all > 0 && 2 * board <= all).then_some(found)
    }
}

/// Whether points lie on a line that hardly turns from the axis of their first coordinate, to a distance.
fn in_line(points: &[Point], off: f64) -> bool {
    let n = points.len() as f64;
    let mean = points.iter().map(|it| it.coords).sum::<Vector2<f64>>() / n;
    let (mut along, mut rises) = (0.0, 0.0);
    for it in points {
        let away = it.coords - mean;
        along += away.x * away.x;
        rises += away.x * away.y;
    }
    let slope = rises / along.max(1e-9);
    let on_line = |it: &Point| (it.y - mean.y - slope * (it.x - mean.x)).abs() < off;
    slope.abs() < TURNED && points.iter().all(on_line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_is_the_boards_only_along_the_layouts_side() {
        let at = |all: &[(f64, f64)]| -> Vec<Point> {
            all.iter().map(|it| Point::new(it.0, it.1)).collect()
        };
        assert!(in_line(&at(&[(0.0, 5.0), (50.0, 5.5), (100.0, 6.2)]), 1.0));
        // Turned, as a shadow's; and of three stretches one saw something else.
        assert!(!in_line(&at(&[(0.0, 5.0), (50.0, 8.0)]), 1.0));
        assert!(!in_line(&at(&[(0.0, 5.0), (50.0, 9.0), (100.0, 5.0)]), 1.0));
    }

    #[test]
    fn places_lie_as_far_outwards_as_they_say() {
        let rect = Rect {
            x: -10.0,
            y: -20.0,
            width: 70.0,
            height: 50.0,
        };
        let middles = [(-10.0, 5.0), (25.0, -20.0), (60.0, 5.0), (25.0, 30.0)];
        for (side, (x, y)) in middles.into_iter().enumerate() {
            let edge = Edge {
                side,
                from: 0.0,
                to: 1.0,
                least: 0.0,
            };
            let outwards = end(&rect, side);
            assert!((edge.outwards(Point::new(x, y)) - outwards).abs() < 1e-9);
            let along = if side % 2 == 0 { y } else { x };
            assert!((edge.place(outwards, along) - Point::new(x, y)).norm() < 1e-9);
        }
    }

    /// What is thought of a row of four cells, painted or empty, whose board ends at a place on a table a little darker than it. Three pixels a millimetre.
    fn row(gap: f64, patches: [Paint; 4], board_ends: f64) -> f64 {
        grained(0.0, 1e3, gap, patches, board_ends)
    }

    /// The same of a board on which every other stave of nine millimetres across the row is lighter, with a margin beside the row.
    fn grained(grain: f32, margin: f64, gap: f64, patches: [Paint; 4], board_ends: f64) -> f64 {
        let pitch = 20.0 + gap;
        let text = format!(
            "id = \"row\"\n[grid]\nrows = 1\ncolumns = 4\npatch_mm = [20, 20]\npitch_mm = [{pitch}, 30]\n\
             [[card]]\ncard = \"grey-18\"\nplace = \"anywhere\"\n"
        );
        let empty = |(i, it): (usize, &Paint)| match it {
            Paint::Empty => format!("[[patch]]\nat = \"A{}\"\nempty = true\n", i + 1),
            _ => String::new(),
        };
        let text = text + &patches.iter().enumerate().map(empty).collect::<String>();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("panel.toml");
        std::fs::write(&path, text).unwrap();
        let panel = crate::panel::read(&path).unwrap();
        let (width, height) = (400, 160);
        let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let colour = |(x, y): (u16, u16)| {
            let mm = [x, y].map(|it| (f64::from(it) - 49.5) / 3.0);
            let painted = patches.iter().enumerate().any(|(i, it)| {
                let off = mm[0] - pitch * i as f64;
                matches!(it, Paint::Seen) && (0.0..20.0).contains(&off)
            });
            // A pattern as of noise.
            let noise = f32::from((x * 31) ^ (y * 17)) % 8.0 / 10.0;
            let light = if painted && (0.0..20.0).contains(&mm[1]) {
                30.0
            } else if mm[0] < board_ends && (-margin..20.0 + margin).contains(&mm[1]) {
                let lighter = (mm[0] / 9.0).floor().rem_euclid(2.0) > 0.5;
                if lighter { 60.0 + grain } else { 60.0 }
            } else {
                54.0
            };
            [light + noise, 0.0, 0.0]
        };
        let view = View {
            factor: 1,
            width: usize::from(width),
            height: usize::from(height),
            pixels: pixels.map(colour).collect(),
        };
        let map = PlaneMap::new(nalgebra::Matrix3::new(
            3.0, 0.0, 50.0, 0.0, 3.0, 50.0, 0.0, 0.0, 1.0,
        ));
        let believed = patches.map(|it| Believed {
            visible: if matches!(it, Paint::Seen) { 1.0 } else { 0.0 },
            open: 1.0,
            plain: 0.0,
        });
        within(&view, &panel, &map, &believed)
    }

    #[derive(Clone, Copy)]
    enum Paint {
        Seen,
        Unseen,
        Empty,
    }

    #[test]
    fn a_board_that_ends_within_the_layout_counts_against_it_and_one_beyond_it_does_not() {
        use Paint::{Empty, Seen, Unseen};
        let none = |it: f64| it.abs() < 1e-9;
        let once = |it: f64| (it - ENDS).abs() < 1e-9;
        for gap in [0.0, 6.0] {
            let (last, all) = (3.0 * (20.0 + gap), 4.0 * (20.0 + gap));
            let patches = [Seen, Seen, Seen, Empty];
            assert!(once(row(gap, patches, last + 8.0)), "{gap}");
            assert!(none(row(gap, patches, all + 8.0)), "{gap}");
            // A board without a margin ends where the layout does.
            assert!(none(row(gap, patches, all - gap)), "{gap}");
            // Nothing is asked of a layout that is seen to its end.
            assert!(none(row(gap, [Seen; 4], last + 8.0)), "{gap}");
        }
        let patches = [Seen, Seen, Seen, Unseen];
        assert!(once(row(6.0, patches, 86.0)));
        assert!(none(row(6.0, patches, 110.0)));
    }

    #[test]
    fn grain_that_runs_across_a_board_does_not_end_it() {
        use Paint::{Empty, Seen};
        let patches = [Seen, Seen, Empty, Empty];
        let all = 4.0 * 26.0;
        // Its staves differ more than board and table do.
        for margin in [1e3, 2.0] {
            // A narrow margin shows the table beside the row: that is none of the board.
            assert!(grained(10.0, margin, 6.0, patches, all + 8.0).abs() < 1e-9);
            let ends = grained(10.0, margin, 6.0, patches, 60.0);
            assert!((ends - ENDS).abs() < 1e-9, "{margin}");
        }
    }

    #[test]
    fn strips_lie_between_the_lines_of_patches_and_beside_the_outermost() {
        let grid = Grid {
            rows: 3,
            columns: 2,
            patch_mm: [30.0, 30.0],
            pitch_mm: [40.0, 40.0],
        };
        let all = Rect {
            x: 0.0,
            y: 0.0,
            width: 70.0,
            height: 110.0,
        };
        let strips = strips(&grid, &all, 1);
        let expected = [
            (-4.5, -1.0),
            (111.0, 114.5),
            (0.0, 30.0),
            (40.0, 70.0),
            (31.0, 39.0),
            (80.0, 110.0),
            (71.0, 79.0),
        ];
        assert_eq!(strips.len(), expected.len());
        for (it, other) in strips.iter().zip(expected) {
            assert!((it.0 - other.0).abs() < 1e-9 && (it.1 - other.1).abs() < 1e-9);
        }
    }
}
