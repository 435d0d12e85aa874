//! Which way is right, if its witnesses leave no doubt.

use super::board;
use super::candidate::{AROUND, BOARD, Candidate, names};
use super::decide::{no_card, same_map, small_step};
use super::hand::frame;
use super::place;
use super::{LocateError, Options};
use crate::geometry::{PlaneMap, Point};
use crate::panel::Panel;
use crate::photo::Orientation;

/// Log likelihood by which the best way must beat every other.
pub(super) const NEEDED: f64 = 5.0;
/// Log likelihood from which a single witness counts as having spoken.
const SPOKEN: f64 = 3.0;

/// What was chosen.
pub(super) struct Choice {
    pub index: usize,
    pub witnesses: Vec<String>,
    pub rival: f64,
}

/// Chooses among the ways, best first.
pub(super) fn choose(
    panel: &Panel,
    options: &Options,
    orientation: Orientation,
    factor: usize,
    size: (usize, usize),
    candidates: &[Candidate],
) -> Result<Choice, LocateError> {
    let names = names(panel);
    let right: Vec<usize> = (0..candidates.len())
        .filter(|it| !candidates[*it].placement.mirrored)
        .collect();
    let Some(&best) = right.first() else {
        return Err(LocateError::Mirrored);
    };
    if let Some(first) = candidates.first()
        && first.total() > candidates[best].total() + SPOKEN
    {
        return Err(LocateError::Mirrored);
    }
    // Where no card is in sight, nothing else needs to be decided.
    if let Some(error) = no_card(panel, &candidates[best]) {
        return Err(error);
    }
    let footprint = |i: usize| candidates[i].placement.map.map(panel.extent().centre());
    let near = 3.0 * small_step(panel, &candidates[best].placement.map);
    let turned = |i: usize| (footprint(i) - footprint(best)).norm() < near;
    // Turned about the same place, a way of a full grid sees the same outlines and the same board around them: one patch more or
    // less is chance, no witness. So it is with the edges of a board whose margins are all alike.
    let full = panel.patches.iter().all(|it| !it.empty);
    let alike_round = board::is_alike_round(panel);
    let outlines = |i: usize| {
        let it = &candidates[i];
        let board = if alike_round { it.says[BOARD] } else { 0.0 };
        it.placement.patches + it.says[AROUND] + board
    };
    let most = right
        .iter()
        .filter(|it| turned(**it))
        .map(|it| outlines(*it))
        .fold(f64::MIN, f64::max);
    let chance = place::favour(1.0) - place::favour(0.0);
    let weight = |i: usize| {
        let it = &candidates[i];
        let lag = most - outlines(i);
        it.total() - it.placement.clear
            + if full && turned(i) {
                lag.min(chance)
            } else {
                0.0
            }
    };
    let best = right
        .iter()
        .copied()
        .filter(|it| turned(*it))
        .max_by(|a, b| weight(*a).total_cmp(&weight(*b)).then(b.cmp(a)))
        .unwrap_or(best);
    // What only says which row is which, as patches that may look like the board, doesn't say which way is up.
    let lead = |a: usize, b: usize| {
        if turned(a) && turned(b) {
            weight(a) - weight(b)
        } else {
            candidates[a].total() - candidates[b].total()
        }
    };
    let map = |i: usize| &candidates[i].placement.map;
    let alike = |i: usize| same_map(panel, map(i), map(best), near);
    let mut index = best;
    let mut by_tag = false;
    if options.corners.is_none() {
        let mut left: Vec<usize> = right
            .iter()
            .copied()
            .filter(|it| lead(best, *it) < NEEDED)
            // Another lattice of the same regions names every patch alike.
            .filter(|it| *it == best || !alike(*it))
            .collect();
        let margin = |of: &[usize], than: usize| {
            of.iter()
                .filter(|it| **it != than)
                .map(|it| lead(than, *it))
                .fold(f64::MAX, f64::min)
        };
        // What the user states of the photo decides among the ways that the witnesses leave.
        if left.len() > 1 && (options.upright || panel.upright) {
            let undecided = margin(&left, best);
            left.retain(|it| is_upright(panel, map(*it), orientation, factor, size));
            (index, by_tag) = match left.first() {
                Some(it) => (*it, true),
                None => {
                    return Err(LocateError::TurnUndecided {
                        margin: undecided,
                        needed: NEEDED,
                    });
                }
            };
        }
        if left.len() > 1 {
            let margin = margin(&left, index);
            let needed = NEEDED;
            return Err(if left.iter().all(|it| turned(*it)) {
                LocateError::TurnUndecided { margin, needed }
            } else {
                LocateError::Shifted { margin, needed }
            });
        }
    } else {
        // The first of the ways by hand is the one meant, wherever the sort has put it.
        index = right
            .iter()
            .copied()
            .find(|it| {
                options.corners.is_some_and(|corners| {
                    let first = candidates[*it].placement.map.map(frame(panel).corners()[0]);
                    (first - corners[0] / factor as f64).norm() < 2.0 * near
                })
            })
            .ok_or_else(|| LocateError::Corners {
                problem: "do not fit the layout".to_owned(),
            })?;
    }
    let chosen = &candidates[index];
    let mut witnesses = Vec::new();
    for (k, name) in names.iter().enumerate() {
        let here = chosen.says[k];
        let other = right
            .iter()
            .filter(|it| **it != index && turned(**it))
            .map(|it| candidates[*it].says[k]);
        let (low, high) = other.fold((f64::MAX, f64::MIN), |(l, h), it| (l.min(it), h.max(it)));
        if high > here + SPOKEN {
            let chosen = if options.corners.is_some() {
                "the corners given by hand".to_owned()
            } else {
                "everything else".to_owned()
            };
            return Err(LocateError::Contradiction {
                against: name.clone(),
                chosen,
            });
        }
        if low < here - SPOKEN {
            witnesses.push(name.clone());
        }
    }
    if options.corners.is_some() {
        witnesses.push("the corners given by hand".to_owned());
    }
    if by_tag {
        witnesses.push("upright as displayed, as stated".to_owned());
    }
    if witnesses.is_empty() {
        witnesses.push("all outlines together".to_owned());
    }
    let rival = right
        .iter()
        .filter(|it| **it != index)
        .map(|it| (candidates[*it].total() - chosen.total()).exp())
        .fold(0.0, f64::max)
        .min(1.0);
    Ok(Choice {
        index,
        witnesses,
        rival,
    })
}

/// Whether a way has the panel's top up, within 45°, as the photo is displayed.
fn is_upright(
    panel: &Panel,
    map: &PlaneMap,
    orientation: Orientation,
    factor: usize,
    size: (usize, usize),
) -> bool {
    let extent = panel.extent();
    let shown = |p: Point| orientation.to_displayed(map.map(p) * factor as f64, size);
    let centre = extent.centre();
    let up = shown(Point::new(centre.x, extent.y)) - shown(centre);
    -up.y > up.x.abs()
}

#[cfg(test)]
mod tests {
    use super::super::card::{Found, Search};
    use super::super::place::Placement;
    use super::super::pose::Pose;
    use super::*;
    use crate::photo::Orientation;

    /// Two rows of three patches of 20 mm, from (0, 0) to (80, 50), on a board, and a grey card on their right.
    fn panel(board: &str) -> Panel {
        let cells = ["A1", "A2", "A3", "B1", "B2", "B3"];
        let patches = cells.map(|it| format!("[[patch]]\nat = \"{it}\"\npigments = []\n"));
        let text = format!(
            "id = \"board\"\n[grid]\nrows = 2\ncolumns = 3\npatch_mm = [20, 20]\npitch_mm = [30, 30]\n\
             [board]\n{board}\n[[card]]\ncard = \"grey-18\"\nplace = \"right\"\n{}",
            patches.concat()
        );
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("board.toml");
        std::fs::write(&path, text).unwrap();
        crate::panel::read(&path).unwrap()
    }

    /// A way with all patches seen, as the layout lies or turned by half a turn, that shows so much of the board's edges, and the card or none.
    fn way(turned: bool, board: f64, card: bool) -> Candidate {
        let (sign, by) = if turned { (-1.0, 80.0) } else { (1.0, 0.0) };
        let matrix = nalgebra::Matrix3::new(sign, 0.0, by, 0.0, sign, by * 0.625, 0.0, 0.0, 1.0);
        let found = Found {
            pose: Pose {
                centre: Point::new(150.0, 25.0),
                angle: 0.0,
                scale: 1.0,
            },
            score: 5.0,
            seen: 1.0,
            share: 1.0,
            plain: true,
            own: None,
            even: false,
            needs_cast: false,
        };
        Candidate {
            placement: Placement {
                map: PlaneMap::new(matrix),
                mirrored: false,
                lattice: None,
                patches: 27.0,
                clear: 0.0,
                empties: 0.0,
                seen: 6.0,
                plain: 6.0,
                of: 6.0,
                believed: Vec::new(),
            },
            says: vec![0.0, 0.0, board, if card { 3.0 } else { -3.5 }, 0.0],
            cards: vec![if card {
                Search::Found(found)
            } else {
                Search::Missing
            }],
        }
    }

    fn chosen(panel: &Panel, ways: &[Candidate]) -> Result<usize, LocateError> {
        let options = Options::default();
        let choice = choose(panel, &options, Orientation(1), 1, (200, 200), ways);
        choice.map(|it| it.index)
    }

    #[test]
    fn the_edges_of_a_board_that_looks_the_same_turned_do_not_say_which_way_is_up() {
        // What shows a little more of them lies a pixel off: the two were laid on two lattices.
        let ways = [way(false, 10.1, true), way(true, 12.1, false)];
        let alike = panel("size_mm = [110, 80]\nfirst_patch_mm = [15, 15]");
        assert_eq!(chosen(&alike, &ways).unwrap(), 0);
        // Where one margin is wider, they do.
        let wider = panel("size_mm = [110, 90]\nfirst_patch_mm = [15, 15]");
        let found = chosen(&wider, &ways);
        assert!(
            matches!(found, Err(LocateError::TurnUndecided { .. })),
            "{found:?}"
        );
    }
}
