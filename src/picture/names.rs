//! How a patch is called on the pictures: by its id, broken into lines if need be; where ids can't be read at the patches' size, by
//! its position on the grid.

use super::Shown;
use super::board::Board;
use super::labels::{self, SMALLEST};
use super::places::{Quad, hull, inside};
use super::upright::Upright;
use crate::geometry::Point;
use crate::sample::{Region, RegionKind};
use unicode_width::UnicodeWidthChar;

/// Most lines for one id.
const MOST_LINES: usize = 3;
/// More lines must make the letters so many times larger.
const WORTH_A_LINE: f64 = 1.1;

/// What each patch of the panel is called.
#[derive(Debug)]
pub(super) struct Names {
    labels: Vec<String>,
    /// Whether these are positions on the grid.
    pub(super) are_positions: bool,
}

impl Names {
    /// All by their ids, or all by their positions: the two are not mixed, since one patch's id may be another's position.
    pub(super) fn new(shown: &Shown<'_>, upright: &Upright, board: &Board) -> Self {
        let ids = |patch: usize| shown.panel.patches[patch].id.clone();
        let positions = |patch: usize| {
            let it = &shown.panel.patches[patch];
            it.position().unwrap_or_else(|| it.id.clone())
        };
        let places: Vec<(usize, Quad)> = by_patch(&shown.samples.patches)
            .into_iter()
            .filter(|(patch, _)| *patch < shown.panel.patches.len())
            .flat_map(|(patch, regions)| {
                let on_photo: Vec<Quad> = regions
                    .iter()
                    .map(|(_, it)| it.outline.map(|[x, y]| upright.point(Point::new(x, y))))
                    .collect();
                let on_board = regions
                    .iter()
                    .filter_map(|(_, it)| board.outline(shown, it));
                let mut places = vec![(patch, hull(&on_photo))];
                places.extend(on_board.map(|it| (patch, it)));
                places
            })
            .collect();
        let unreadable = |name: &dyn Fn(usize) -> String| {
            let fits = |(patch, quad): &&(usize, Quad)| {
                let (_, room) = inside(quad);
                let lines = broken_to_fit(&name(*patch), &[], room, SMALLEST);
                labels::size(&lines, room, SMALLEST) >= SMALLEST
            };
            places.len() - places.iter().filter(fits).count()
        };
        let are_positions = unreadable(&ids) > unreadable(&positions);
        let all = 0..shown.panel.patches.len();
        Self {
            labels: if are_positions {
                all.map(positions).collect()
            } else {
                all.map(ids).collect()
            },
            are_positions,
        }
    }

    /// Of a patch, by its index in the panel.
    pub(super) fn of(&self, patch: usize) -> &str {
        self.labels.get(patch).map_or("?", String::as_str)
    }
}

/// The patch that a sampled region belongs to, itself or a half of it.
pub(super) fn patch_of(kind: RegionKind) -> Option<usize> {
    match kind {
        RegionKind::Whole { patch }
        | RegionKind::Masked { patch }
        | RegionKind::Exposed { patch } => Some(patch),
        RegionKind::Card { .. } | RegionKind::Substrate { .. } | RegionKind::Sheltered { .. } => {
            None
        }
    }
}

/// Regions with their index, halves of one patch together.
pub(super) fn by_patch(regions: &[Region]) -> Vec<(usize, Vec<(usize, &Region)>)> {
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

/// A name as the lines under which it and `below` can be written largest in a room, up to `largest`; broken between its parts, and
/// within them only if it could not be read otherwise.
pub(super) fn broken_to_fit(
    name: &str,
    below: &[String],
    room: [f64; 2],
    largest: f64,
) -> Vec<String> {
    let size = |it: &[String]| labels::size(it, room, largest);
    let with_below = |mut lines: Vec<String>| {
        lines.extend_from_slice(below);
        lines
    };
    let mut best = with_below(vec![name.to_owned()]);
    for within_parts in [false, true] {
        if within_parts && size(&best) >= SMALLEST {
            break;
        }
        for count in 2..=MOST_LINES {
            let lines = with_below(broken(name, count, within_parts));
            if size(&lines) > WORTH_A_LINE * size(&best) {
                best = lines;
            }
        }
    }
    best
}

/// A name in so many lines of about the same length, or fewer where it can't be broken.
fn broken(name: &str, lines: usize, within_parts: bool) -> Vec<String> {
    let letters: Vec<char> = name.chars().collect();
    let breakable = |at: usize| {
        // A mark that takes no place of its own stays with its letter.
        let whole = letters[at].width().unwrap_or(0) > 0;
        whole && (within_parts || "-_ ./,+".contains(letters[at - 1]))
    };
    let mut broken = Vec::new();
    let mut start = 0;
    for line in (1..=lines).rev() {
        let ideal = start + (letters.len() - start).div_ceil(line);
        let ends = (start + 1..letters.len()).filter(|it| line > 1 && breakable(*it));
        let end = ends.min_by_key(|it| it.abs_diff(ideal));
        let end = end.unwrap_or(letters.len());
        let text: String = letters[start..end].iter().collect();
        if !text.trim().is_empty() {
            broken.push(text.trim().to_owned());
        }
        start = end;
    }
    broken
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_break_between_their_parts_and_lose_nothing() {
        assert_eq!(broken("PR101-12", 2, false), ["PR101-", "12"]);
        assert_eq!(
            broken("ultramarine blue", 2, false),
            ["ultramarine", "blue"]
        );
        assert_eq!(broken("abcdefghi", 3, false), ["abcdefghi"]);
        assert_eq!(broken("abcdefghi", 3, true), ["abc", "def", "ghi"]);
        assert_eq!(broken("A", 3, true), ["A"]);
        assert_eq!(broken("", 2, true), Vec::<String>::new());
        // A combining accent stays with its letter.
        assert_eq!(broken("ae\u{301}ee", 2, true), ["ae\u{301}", "ee"]);
        for lines in 1..4 {
            for within_parts in [false, true] {
                let name = "red-oxide_12.5-γ";
                assert_eq!(broken(name, lines, within_parts).concat(), name);
            }
        }
    }

    #[test]
    fn a_name_is_broken_only_where_that_makes_it_larger() {
        let fit = |name: &str, room: [f64; 2]| broken_to_fit(name, &[], room, 20.0);
        assert_eq!(fit("PR101-12", [200.0, 30.0]), ["PR101-12"]);
        assert_eq!(fit("PR101-12", [60.0, 60.0]), ["PR101-", "12"]);
        assert_eq!(fit("A1", [50.0, 100.0]), ["A1"]);
        assert!(fit("PR1011212", [40.0, 60.0]).len() > 1);
    }
}
