//! Where in a panel's plane a card is scanned for: where each way of laying the layout has it, as near as the panel file says it.

use super::pose::Motion;
use crate::geometry::{Point, Rect};
use crate::panel::{Panel, Place, PlacedCard, Side};

/// Rectangles of the plane's millimetres, those of ways that have the card in one place once. `ways` move the plane's millimetres to those of each way.
pub(super) fn of(panel: &Panel, placed: &PlacedCard, ways: &[Motion]) -> Vec<Rect> {
    let outer = placed.card.outer();
    let longest = outer.width.max(outer.height);
    let around = panel.extent().inset(-(1.6 * longest + 60.0));
    let there = match placed.place {
        // Of places for a card of one zone the evenest of all around are kept: a table that is even everywhere suggests few of each side.
        Place::Beside(side) if placed.card.patches.len() > 1 => {
            let zones = placed.card.patches.iter().filter(|it| !it.empty);
            let longest_zone = zones.map(|it| it.rect.width.max(it.rect.height));
            let inwards = BESIDE * longest_zone.fold(0.0, f64::max);
            beside(&panel.extent(), &around, side, longest / 2.0, inwards)
        }
        Place::Anywhere | Place::Beside(_) => return vec![around],
        Place::AtMm([x, y]) => {
            let half = longest / 2.0;
            square(Point::new(x + half, y + half)).inset(-(half + 40.0))
        }
    };
    let mut areas: Vec<Rect> = Vec::new();
    for way in ways {
        let Some(back) = way.try_inverse() else {
            continue;
        };
        let corners = there.corners().map(|it| {
            let at = back * it.to_homogeneous();
            square(Point::new(at.x / at.z, at.y / at.z))
        });
        let area = corners[1..]
            .iter()
            .fold(corners[0], |all, it| all.union(it));
        let known = |it: &Rect| {
            let far = it.corners().into_iter().zip(area.corners());
            far.into_iter().all(|(a, b)| (a - b).norm() <= 1.0)
        };
        if !areas.iter().any(known) {
            areas.push(area);
        }
    }
    areas
}

/// How far over the patches' side an area reaches, as a share of a zone's longest side: what lies beside a zone is read as far from it (`scan`), and the photo may
/// end on its other side.
const BESIDE: f64 = 0.4;

/// A rectangle of no size.
fn square(at: Point) -> Rect {
    Rect {
        x: at.x,
        y: at.y,
        width: 0.0,
        height: 0.0,
    }
}

/// The part of `around` in which a card lies whose middle is level with the patches on one side of them, and `inwards` millimetres of the patches; `reach` is
/// from its middle to its ends.
fn beside(patches: &Rect, around: &Rect, side: Side, reach: f64, inwards: f64) -> Rect {
    let mut out = *around;
    let [right, bottom] = [patches.x + patches.width, patches.y + patches.height];
    let [far_right, far_bottom] = [around.x + around.width, around.y + around.height];
    match side {
        Side::Left => out.width = patches.x + inwards - around.x,
        Side::Right => (out.x, out.width) = (right - inwards, far_right - right + inwards),
        Side::Top => out.height = patches.y + inwards - around.y,
        Side::Bottom => (out.y, out.height) = (bottom - inwards, far_bottom - bottom + inwards),
    }
    // A middle may lie half a card beyond the patches' ends.
    if matches!(side, Side::Left | Side::Right) {
        (out.y, out.height) = (patches.y - 2.0 * reach, patches.height + 4.0 * reach);
    } else {
        (out.x, out.width) = (patches.x - 2.0 * reach, patches.width + 4.0 * reach);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Matrix3, Vector2};

    /// Two patches of 20 mm in a row from (0, 0) to (50, 20), and a card of this text.
    fn panel(card: &str) -> Panel {
        let text = format!(
            "id = \"board\"\n[grid]\nrows = 1\ncolumns = 2\npatch_mm = [20, 20]\npitch_mm = [30, 30]\n\
             [[card]]\n{card}\n[[patch]]\nat = \"A1\"\npigments = []\n[[patch]]\nat = \"A2\"\npigments = []\n"
        );
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("board.toml");
        std::fs::write(&path, text).unwrap();
        crate::panel::read(&path).unwrap()
    }

    fn areas(card: &str, ways: &[Motion]) -> (Vec<Rect>, Rect, f64) {
        let panel = panel(card);
        let outer = panel.cards[0].card.outer();
        let all = of(&panel, &panel.cards[0], ways);
        (all, panel.extent(), outer.width.max(outer.height))
    }

    #[test]
    fn zones_are_looked_for_on_the_side_where_a_way_has_them() {
        // As it lies, and turned by half a turn about the patches' middle.
        let half_turn = Matrix3::new(-1.0, 0.0, 50.0, 0.0, -1.0, 20.0, 0.0, 0.0, 1.0);
        let card = "card = \"white-grey-black\"\nplace = \"above\"";
        let (upright, extent, longest) = areas(card, &[Matrix3::identity()]);
        let [above] = upright[..] else {
            panic!("one area: {upright:?}");
        };
        // The whole card fits in, up to the patches, of which as much as lies beside a zone of 50 by 100 mm; and it says nothing of what lies below them.
        let inwards = 0.4 * 100.0;
        assert!((above.y + above.height - extent.y - inwards).abs() < 1e-9);
        assert!(above.height > 1.5 * longest && above.width > extent.width + 2.0 * longest - 1e-9);
        let (turned, ..) = areas(card, &[half_turn]);
        assert!(
            (turned[0].y - (extent.y + extent.height - inwards)).abs() < 1e-9,
            "{turned:?}"
        );
        // A mirrored way that has it on the same side adds nothing.
        let mirrored = Matrix3::new(-1.0, 0.0, 50.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0);
        let (both, ..) = areas(card, &[Matrix3::identity(), mirrored, half_turn]);
        assert_eq!(both.len(), 2, "{both:?}");
    }

    #[test]
    fn a_single_zone_is_looked_for_all_around_and_one_in_millimetres_there() {
        let (around, extent, _) = areas("card = \"grey-18\"\nplace = \"left\"", &[]);
        assert!(around.len() == 1 && around[0].contains(&Point::new(extent.x + 140.0, extent.y)));
        let card = "card = \"grey-18\"\nat_mm = [-120, 0]";
        let (there, _, longest) = areas(card, &[Matrix3::identity()]);
        let middle = there[0].centre();
        let half = longest / 2.0;
        assert!(
            (middle - Point::new(half - 120.0, half)).norm() < 1e-9,
            "{there:?}"
        );
        assert!((there[0].width - longest - 80.0).abs() < 1e-9);
        // A way that calls by its own −90 what the plane calls −120 has the card, at its −120, a column farther off.
        let column = Matrix3::new_translation(&Vector2::new(30.0, 0.0));
        let (shifted, ..) = areas(card, &[column]);
        assert!((shifted[0].centre() - middle - Vector2::new(-30.0, 0.0)).norm() < 1e-9);
    }
}
