//! Whether what shows a frame's edges is a gap between the card and other things, as the table shows there.
//!
//! An edge parts two things. That of a sheet which shows all of its own outline is that sheet's, and no proof of another in the frame beside it; a
//! sheet that lay there, edge to edge, would show its other three sides.

use super::Found;
use crate::geometry::{PlaneMap, Point};
use crate::locate::pose::Pose;
use crate::panel::Panel;

/// Share of half sides from which a sheet shows all of its outline, and below which what lies beside it lacks about one of eight at least: choices.
const WHOLE: f64 = 0.99;
const LACKS: f64 = 0.9;
/// How far a side may lie from another and be the same, as a share of the card: a choice.
const SAME: f64 = 0.03;

/// Whether a sighting of a single zone takes a side of a better and whole one for its own, and lacks some of its others. One that its evenness alone
/// tells shows no edges that could be the other's.
pub(super) fn is_beside(card: &Panel, it: &Found, sheet: &Found) -> bool {
    let whole = sheet.plain && !sheet.even && sheet.share > WHOLE;
    whole
        && sheet.score > it.score
        && !it.even
        && it.share < LACKS
        && share_a_side(card, &it.pose, &sheet.pose)
}

/// Whether two poses of a card lie side by side, a side of one on one of the other.
fn share_a_side(card: &Panel, one: &Pose, other: &Pose) -> bool {
    let extent = card.extent();
    let near = SAME * extent.width.min(extent.height);
    let sides = |it: &Pose| {
        let corners = PlaneMap::new(it.matrix(card)).outline(&extent);
        [0, 1, 2, 3].map(|i| (corners[i], corners[(i + 1) % 4]))
    };
    let sides_of_one = sides(one);
    sides(other).iter().any(|(a, b)| {
        let length = (b - a).norm().max(1e-9);
        let along = (b - a) / length;
        let off = |p: &Point| along.perp(&(p - a)).abs();
        sides_of_one.iter().any(|(c, d)| {
            let middle = c + (d - c) / 2.0;
            // Both go clockwise: where they lie on either side of it, they run against each other.
            (d - c).dot(&along) < 0.0
                && off(c) < near
                && off(d) < near
                && (0.0..length).contains(&(middle - a).dot(&along))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sighting(x: f64, y: f64, share: f64, score: f64) -> Found {
        Found {
            pose: Pose {
                centre: Point::new(x, y),
                angle: 0.01,
                scale: 1.0,
            },
            score,
            seen: 1.0,
            share,
            plain: true,
            own: None,
            even: false,
            needs_cast: false,
        }
    }

    #[test]
    fn what_borrows_a_side_of_the_card_and_lacks_another_is_a_gap() {
        // Its one zone is a square of 100 mm.
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("panel.toml");
        let grid = "[grid]\nrows = 1\ncolumns = 2\npatch_mm = [40, 40]\npitch_mm = [50, 50]\n";
        let text =
            format!("id = \"row\"\n{grid}[[card]]\ncard = \"grey-18\"\nplace = \"anywhere\"\n");
        std::fs::write(&path, text).unwrap();
        let card = &crate::panel::read(&path).unwrap().cards[0].card;
        let sheet = sighting(0.0, 0.0, 1.0, 5.5);
        let gap = |it: Found| is_beside(card, &it, &sheet);
        assert!(gap(sighting(101.0, 8.0, 0.8, 4.6)));
        assert!(gap(sighting(-8.0, -101.0, 0.8, 4.6)));
        // A sheet of its own: whole, or the better one, or told by its evenness.
        assert!(!gap(sighting(101.0, 8.0, 1.0, 4.6)));
        assert!(!gap(sighting(101.0, 8.0, 0.8, 5.6)));
        let even = Found {
            even: true,
            ..sighting(101.0, 8.0, 0.0, 4.6)
        };
        assert!(!gap(even));
        // Farther off, beyond the side's end, or the same sheet seen a little off.
        assert!(!gap(sighting(108.0, 8.0, 0.8, 4.6)));
        assert!(!gap(sighting(101.0, 60.0, 0.8, 4.6)));
        assert!(!gap(sighting(1.0, 1.0, 0.8, 4.6)));
        // Beside what itself lacks a side.
        let lacking = sighting(0.0, 0.0, 0.8, 5.5);
        assert!(!is_beside(card, &sighting(101.0, 8.0, 0.8, 4.6), &lacking));
    }
}
