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
                let lines = broken_to_fit(&name(*patch), &[], room);
                labels::size(&lines, room, f64::INFINITY) >= SMALLEST
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
        RegionKind::Card { .. } | RegionKind::Substrate { .. } => None,
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

/// A name as the lines under which it and `below` can be written largest in a room.
pub(super) fn broken_to_fit(name: &str, below: &[String], room: [f64; 2]) -> Vec<String> {
    let with = |count: usize| {
        let mut lines = broken(name, count);
        lines.extend_from_slice(below);
        lines
    };
    let mut best = with(1);
    for count in 2..=MOST_LINES {
        let lines = with(count);
        let size = |it: &[String]| labels::size(it, room, f64::INFINITY);
        if size(&lines) > WORTH_A_LINE * size(&best) {
            best = lines;
        }
    }
    best
}

/// A name in so many lines of about the same length, broken after what separates its parts if that lies near.
fn broken(name: &str, lines: usize) -> Vec<String> {
    // A mark that takes no place of its own stays with its letter.
    let letters: Vec<char> = name.chars().collect();
    let breakable = |at: usize| letters[at].width().unwrap_or(0) > 0;
    let mut broken = Vec::new();
    let mut start = 0;
    for line in (1..=lines).rev() {
        let left = letters.len() - start;
        let ideal = start + left.div_ceil(line);
        let reach = left.div_ceil(line) / 3;
        let end = if line == 1 {
            letters.len()
        } else {
            (ideal.saturating_sub(reach)..=ideal + reach)
                .filter(|it| *it > start && *it < letters.len() && breakable(*it))
                .min_by_key(|it| {
                    let after_a_part = "-_ ./,+".contains(letters[*it - 1]);
                    (!after_a_part, it.abs_diff(ideal))
                })
                .unwrap_or(letters.len())
        };
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
    fn names_break_after_their_parts_and_lose_nothing() {
        assert_eq!(broken("PR101-12", 2), ["PR101-", "12"]);
        assert_eq!(broken("ultramarine blue", 2), ["ultramarine", "blue"]);
        assert_eq!(broken("abcdefghi", 3), ["abc", "def", "ghi"]);
        assert_eq!(broken("A", 3), ["A"]);
        assert_eq!(broken("", 2), Vec::<String>::new());
        // A combining accent stays with its letter.
        assert_eq!(broken("aae\u{301}e", 2), ["aae\u{301}", "e"]);
        for lines in 1..4 {
            assert_eq!(
                broken("red-oxide_12.5-γ", lines).concat(),
                "red-oxide_12.5-γ"
            );
        }
    }

    #[test]
    fn a_name_is_broken_only_where_that_makes_it_larger() {
        assert_eq!(broken_to_fit("PR101-12", &[], [200.0, 30.0]).len(), 1);
        assert_eq!(broken_to_fit("PR101-12", &[], [50.0, 60.0]).len(), 2);
    }
}
