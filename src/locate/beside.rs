//! The panel's map moved onto what is seen of its patches, and, where these lie in one line, of a card beside them.
//!
//! A line of patches says little of how the plane slants across it: a pixel at a patch's edge is many at the far side of a card. What lies in one plane, or in
//! parallel ones, has one vanishing line, and a card whose size is known shows it.
//!
//! # Source
//! R. Hartley, A. Zisserman, *Multiple View Geometry in Computer Vision*, 2nd ed. (2004), 2.7 (a plane's vanishing line fixes it up to a similarity).

use super::card::Found;
use super::decide::Decided;
use super::fit::{self, Seen};
use super::pose::{Pose, posed};
use super::view::Light;
use super::zones;
use crate::geometry::{PlaneMap, Point, Radial};
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

/// What was seen of it.
pub(super) struct Looked<'a> {
    card: &'a Panel,
    pose: Pose,
    seen: Vec<Seen>,
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

/// The first card that shows where the plane of a panel of one line lies; none beside other panels, or where no card's edges are seen.
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

/// Whether a panel's patches lie in one line.
fn in_one_line(panel: &Panel) -> bool {
    let extent = panel.extent();
    let patches = || panel.patches.iter().filter(|it| !it.empty);
    let across = |side: fn(&crate::geometry::Rect) -> f64| {
        patches().map(|it| side(&it.rect)).fold(0.0, f64::max)
    };
    // As wide or as high as one patch.
    extent.width < 1.5 * across(|it| it.width) || extent.height < 1.5 * across(|it| it.height)
}

/// A panel's map in the plane of a card, moved onto what is seen of its patches: where they lie and how large they are is all that is left open.
pub(super) fn laid(
    panel: &Panel,
    map: &PlaneMap,
    own: &PlaneMap,
    seen: &[Seen],
) -> Option<PlaneMap> {
    // In the card's millimetres, as if the panel were a card on it.
    let start = posed(panel, own, map)?;
    let pose = zones::moved(panel, own, start, seen)?;
    Some(pose.map(panel, own))
}

/// Fewest half sides of patches that move a map.
const FEWEST: usize = 12;
/// Pixels by which outlines that lie right are off.
const RIGHT: f64 = 0.3;
/// Fewest half sides that show a lens, too.
const LENS: usize = 40;

/// Fits a homography; where the size of the picture is given, in pixels, also one with a lens term, which stays if it takes off a tenth of the residual. With a
/// card beside the panel, its pose is fitted as well.
pub(super) fn improve(
    panel: &Panel,
    map: &PlaneMap,
    seen: &[Seen],
    card: Option<&Looked<'_>>,
    size: Option<(usize, usize)>,
) -> Option<(PlaneMap, Option<Pose>)> {
    if seen.len() < FEWEST {
        return None;
    }
    let frame = panel.extent().corners();
    let lens = |k1: f64| {
        size.map(|(width, height)| {
            let (width, height) = (width as f64, height as f64);
            Radial {
                centre: [width / 2.0, height / 2.0],
                scale: width.hypot(height) / 2.0,
                k1,
            }
        })
    };
    let model = |it: &[f64]| -> Option<(PlaneMap, Option<Pose>)> {
        let (corners, mut rest) = it.split_at(8);
        let to = [0, 1, 2, 3].map(|i| Point::new(corners[2 * i], corners[2 * i + 1]));
        let mut pose = None;
        if card.is_some() {
            pose = Some(Pose {
                centre: Point::new(rest[0], rest[1]),
                angle: rest[2],
                scale: rest[3],
            });
            rest = &rest[4..];
        }
        let radial = rest.first().and_then(|k1| lens(*k1));
        let map = PlaneMap::fit(&frame, &to)?;
        Some((PlaneMap { radial, ..map }, pose))
    };
    let middling = |all: Vec<f64>| fit::median(&all.iter().map(|it| it.abs()).collect::<Vec<_>>());
    // A card that seems to lie far off is no outlier among patches that lie right: it counts the less at first.
    let slack = card.map_or(1.0, |it| {
        let beside = middling(fit::residuals(&it.pose.map(it.card, map), &it.seen));
        (beside / middling(fit::residuals(map, seen)).max(RIGHT)).max(1.0)
    });
    let of = |(map, pose): &(PlaneMap, Option<Pose>)| -> Vec<f64> {
        let mut all = fit::residuals(map, seen);
        if let (Some(card), Some(pose)) = (card, pose) {
            let beside = fit::residuals(&pose.map(card.card, map), &card.seen);
            all.extend(beside.into_iter().map(|it| it / slack));
        }
        all
    };
    let residuals = |it: &[f64]| model(it).map(|it| of(&it));
    let plain = PlaneMap {
        radial: None,
        ..*map
    };
    let corners = frame.iter().map(|it| plain.map(*it));
    let mut first: Vec<f64> = corners.flat_map(|it| [it.x, it.y]).collect();
    let mut steps = vec![0.05; 8];
    if let Some(card) = card {
        let pose = card.pose;
        first.extend([pose.centre.x, pose.centre.y, pose.angle, pose.scale]);
        steps.extend([0.01, 0.01, 1e-4, 1e-4]);
    }
    let without = fit::solve(&residuals, &first, &steps)?;
    let mut start = without.clone();
    start.push(0.0);
    steps.push(1e-4);
    let without = model(&without)?;
    let with = (size.is_some() && seen.len() >= LENS)
        .then(|| fit::solve(&residuals, &start, &steps))
        .flatten()
        .and_then(|it| model(&it))
        .filter(|it| it.0.radial.is_some_and(|lens| lens.k1.abs() < 0.2));
    let better = with.filter(|it| fit::rms(&of(it)) < 0.9 * fit::rms(&of(&without)));
    Some(better.unwrap_or(without))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use nalgebra::Matrix3;

    fn read(text: &str) -> Panel {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("panel.toml");
        std::fs::write(&path, text).unwrap();
        crate::panel::read(&path).unwrap()
    }

    /// A grid of 40 × 40 mm patches, 10 apart.
    fn grid(rows: u8, columns: u8) -> Panel {
        read(&format!(
            "id = \"row\"\n[grid]\nrows = {rows}\ncolumns = {columns}\npatch_mm = [40, 40]\npitch_mm = [50, 50]\n\
             [[card]]\ncard = \"grey-18\"\nplace = \"anywhere\"\n"
        ))
    }

    /// The half sides of rectangles where a map has them.
    fn seen<'a>(map: &PlaneMap, rects: impl Iterator<Item = &'a Rect>) -> Vec<Seen> {
        let mut out = Vec::new();
        for rect in rects {
            let corners = rect.corners();
            for i in 0..4 {
                let (a, b) = (corners[i], corners[(i + 1) % 4]);
                for t in [0.25, 0.75] {
                    let mm = a + (b - a) * t;
                    let along = (map.map(b) - map.map(a)).normalize();
                    out.push(Seen {
                        mm,
                        at: map.map(mm),
                        normal: nalgebra::Vector2::new(along.y, -along.x),
                    });
                }
            }
        }
        out
    }

    #[test]
    fn a_card_beside_a_row_shows_how_the_plane_slants() {
        let panel = grid(1, 4);
        let card = &panel.cards[0].card;
        // Tilted: what lies farther up is smaller.
        let truth = PlaneMap::new(Matrix3::new(
            3.0, 0.4, 700.0, 0.1, 2.6, 900.0, 1e-5, 8e-4, 1.0,
        ));
        let lies = Pose {
            centre: Point::new(90.0, 160.0),
            angle: 0.05,
            scale: 0.98,
        };
        let mut patches = seen(&truth, panel.patches.iter().map(|it| &it.rect));
        // Hand-laid edges waver by a pixel.
        for (k, it) in (0_u8..).zip(&mut patches) {
            it.at += it.normal * (f64::from(k) * 2.4).sin();
        }
        // The first patch's left edge is seen a few pixels beside, as grain is taken for it.
        for it in patches.iter_mut().filter(|it| it.mm.x < 1e-9) {
            it.at -= it.normal * it.normal.x.signum() * (6.0 - 0.3 * it.mm.y);
        }
        let shown = Looked {
            card,
            pose: Pose {
                centre: Point::new(91.0, 158.0),
                angle: 0.0,
                scale: 1.0,
            },
            seen: seen(
                &lies.map(card, &truth),
                card.patches.iter().map(|it| &it.rect),
            ),
        };
        let start = PlaneMap::new(Matrix3::new(
            3.0, 0.4, 700.0, 0.1, 2.6, 900.0, 1e-5, 7e-4, 1.0,
        ));
        let (mut map, mut pose) = (start, shown.pose);
        for _ in 0..3 {
            let shown = Looked {
                pose,
                seen: shown.seen.clone(),
                ..shown
            };
            let better = improve(&panel, &map, &patches, Some(&shown), None).unwrap();
            (map, pose) = (better.0, better.1.unwrap());
        }
        let off = |map: &PlaneMap, pose: &Pose| {
            let (here, there) = (pose.map(card, map), lies.map(card, &truth));
            let corners = card.outer().corners();
            let far = corners
                .iter()
                .map(|p| (here.map(*p) - there.map(*p)).norm());
            far.fold(0.0, f64::max)
        };
        assert!(off(&map, &pose) < 1.0, "{}", off(&map, &pose));
        // Patches alone leave the far side of the card many pixels off.
        let (alone, _) = improve(&panel, &start, &patches, None, None).unwrap();
        assert!(off(&alone, &lies) > 5.0, "{}", off(&alone, &lies));
    }

    #[test]
    fn only_patches_in_one_line_need_it() {
        assert!(in_one_line(&grid(1, 4)) && in_one_line(&grid(6, 1)) && in_one_line(&grid(1, 1)));
        assert!(!in_one_line(&grid(2, 3)));
    }
}
