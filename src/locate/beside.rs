//! A card beside a panel whose patches lie in one line.
//!
//! A line of patches says little of how the plane slants across it: a pixel at a patch's edge is many at the far side of a card. What lies in one plane, or in
//! parallel ones, has one vanishing line, and a card whose size is known shows it.
//!
//! # Source
//! R. Hartley, A. Zisserman, *Multiple View Geometry in Computer Vision*, 2nd ed. (2004), 2.7 (a plane's vanishing line fixes it up to a similarity).

use super::card::Found;
use super::decide::Decided;
use super::fit::Seen;
use super::improve::Looked;
use super::pose::{Pose, posed};
use super::view::Light;
use super::zones;
use crate::geometry::{PlaneMap, Rect};
use crate::panel::Panel;

/// A card that lies beside a panel of one line.
#[derive(Clone, Copy)]
pub(super) struct Beside<'a> {
    /// Its index in the panel.
    pub index: usize,
    pub card: &'a Panel,
    /// Where it lies in the panel's plane.
    pub pose: Pose,
    /// Its own map to pixels of the view, of a card of several zones.
    pub own: Option<PlaneMap>,
}

impl<'a> Beside<'a> {
    /// Looks for its zones' outlines where a map of the panel has them, or in its own plane, in a light of so many pixels to one of the view.
    pub(super) fn look(
        &self,
        light: &impl Light,
        plane: &PlaneMap,
        pixels: f64,
        reach: f64,
    ) -> Looked<'a> {
        let (map, reach) = match &self.own {
            // Other zones' outlines lie not far off.
            Some(own) => (own.scaled(pixels), reach.min(NEAR_OWN * pixels)),
            None => (self.pose.map(self.card, plane), reach),
        };
        let zones = self.card.patches.iter().filter(|it| !it.empty);
        let seen = zones
            .flat_map(|it| zones::look_at(light, self.card, &map, &it.rect, reach).seen)
            .collect();
        Looked {
            card: self.card,
            pose: self.pose,
            seen,
        }
    }
}

/// The first card whose edges show where the plane lies; none where the panel's patches don't lie in one line, or evenness alone told where its cards are.
pub(super) fn of<'a>(panel: &'a Panel, decided: &Decided) -> Option<Beside<'a>> {
    let shows = |it: &&(usize, Found)| !it.1.even;
    let (index, found) = decided
        .cards
        .iter()
        .find(shows)
        .filter(|_| in_one_line(panel))?;
    Some(Beside {
        index: *index,
        card: &panel.cards[*index].card,
        pose: found.pose,
        own: found.own,
    })
}

/// Pixels of the view within which outlines lie where a card was found in its own plane.
const NEAR_OWN: f64 = 3.0;

/// Whether a panel's patches, of which there are several, lie in one line.
pub(super) fn in_one_line(panel: &Panel) -> bool {
    let rects = || {
        panel
            .patches
            .iter()
            .filter(|it| !it.empty)
            .map(|it| it.rect)
    };
    let Some(all) = rects().reduce(|all, it| all.union(&it)) else {
        return false;
    };
    let least = |side: fn(&Rect) -> f64| rects().map(|it| side(&it)).fold(f64::MAX, f64::min);
    // Hardly wider, or higher, than one.
    let narrow = all.width < 1.5 * least(|it| it.width) || all.height < 1.5 * least(|it| it.height);
    narrow && rects().count() > 1
}

/// Fewest half sides of patches by which a panel is laid in a card's plane.
const FEWEST: usize = 8;

/// A panel's map in the plane of a card, moved onto what is seen of its patches: where they lie and how large they are is all that is left open.
pub(super) fn laid(
    panel: &Panel,
    map: &PlaneMap,
    own: &PlaneMap,
    seen: &[Seen],
) -> Option<PlaneMap> {
    if seen.len() < FEWEST {
        return None;
    }
    // In the card's millimetres, as if the panel were a card on it.
    let start = posed(panel, own, map)?;
    let pose = zones::moved(panel, own, start, seen)?;
    Some(pose.map(panel, own))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn panel(text: &str) -> Panel {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("panel.toml");
        std::fs::write(&path, format!("id = \"row\"\n{text}")).unwrap();
        crate::panel::read(&path).unwrap()
    }

    fn grid(rows: u8, columns: u8, rest: &str) -> Panel {
        let card = "[[card]]\ncard = \"grey-18\"\nplace = \"anywhere\"";
        let sizes = "patch_mm = [40, 40]\npitch_mm = [50, 50]";
        panel(&format!(
            "[grid]\nrows = {rows}\ncolumns = {columns}\n{sizes}\n{card}\n{rest}"
        ))
    }

    #[test]
    fn several_patches_in_one_line_are_one() {
        assert!(in_one_line(&grid(1, 4, "")) && in_one_line(&grid(6, 1, "")));
        assert!(!in_one_line(&grid(1, 1, "")) && !in_one_line(&grid(2, 3, "")));
        // What is empty shows nothing.
        let empty = "[[patch]]\nat = \"B1\"\nempty = true\n[[patch]]\nat = \"B2\"\nempty = true\n";
        assert!(in_one_line(&grid(2, 2, empty)));
        // One large patch among two rows makes no line of them.
        let large = "[[patch]]\nid = \"large\"\nat_mm = [100, 0]\nsize_mm = [90, 90]\n";
        assert!(!in_one_line(&grid(2, 2, large)));
    }
}
