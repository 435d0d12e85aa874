//! The panel's map moved onto what is seen of its patches, with a lens term if it helps, and of a card that lies in its plane.

use super::evidence::{Look, Outline, coarseness, outline};
use super::fit::{self, Seen, Start};
use super::pose::Pose;
use super::view::Light;
use crate::geometry::{PlaneMap, Point, Radial};
use crate::panel::Panel;

/// What was seen of a card.
pub(super) struct Looked<'a> {
    pub card: &'a Panel,
    /// Where it lies in the panel's plane.
    pub pose: Pose,
    pub seen: Vec<Seen>,
}

/// Fewest half sides of patches that move a map.
const FEWEST: usize = 12;
/// Fewest half sides of a card that tell where it lies.
const PINNED: usize = 6;
/// A card may lean by a degree, and a lens bends it and the panel otherwise: all of it says as much as a quarter of the patches, one over the square of this.
/// What they leave open it still decides. A guess.
const LOOSE: f64 = 2.0;
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
    let card = card.filter(|it| it.seen.len() >= PINNED);
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
    // A card that seems to lie far off is no outlier among patches that lie right: it counts the less, until it is looked at again.
    let slack = card.map_or(1.0, |it| {
        let beside = middling(fit::residuals(&it.pose.map(it.card, map), &it.seen));
        let many = (it.seen.len() as f64 / seen.len() as f64).sqrt();
        (beside / middling(fit::residuals(map, seen)).max(RIGHT)).max(LOOSE * many)
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
    let without = fit::solve(&residuals, (&first, Start::Rough), &steps)?;
    let mut start = without.clone();
    start.push(0.0);
    steps.push(1e-4);
    let without = model(&without)?;
    let with = (size.is_some() && seen.len() >= LENS)
        .then(|| fit::solve(&residuals, (&start, Start::Rough), &steps))
        .flatten()
        .and_then(|it| model(&it))
        .filter(|it| it.0.radial.is_some_and(|lens| lens.k1.abs() < 0.2));
    let better = with.filter(|it| fit::rms(&of(it)) < 0.9 * fit::rms(&of(&without)));
    let found = better.unwrap_or(without);
    // A pose that runs away wasn't pinned down by what was seen.
    let stays = |card: &Looked<'_>| found.1.is_some_and(|it| it.stays(&card.pose, card.card));
    card.is_none_or(stays).then_some(found)
}

/// Looks at one patch.
pub(super) fn look_at(
    light: &impl Light,
    panel: &Panel,
    map: &PlaneMap,
    patch: &crate::panel::Patch,
    reach: f64,
) -> Outline {
    let gap_mm = panel.grid.map_or(0.0, |it| {
        (it.pitch_mm[0] - it.patch_mm[0]).min(it.pitch_mm[1] - it.patch_mm[1])
    });
    let look = Look {
        reach,
        gap_mm,
        clear_mm: f64::INFINITY,
        step: coarseness(reach),
        sides: false,
        inner: false,
    };
    outline(light, map, &patch.rect, &look)
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
    fn a_card_without_edges_leaves_the_patches_to_themselves() {
        let panel = grid(2, 3);
        let truth = PlaneMap::new(Matrix3::new(
            3.0, 0.4, 700.0, 0.1, 2.6, 900.0, 1e-5, 8e-4, 1.0,
        ));
        let start = PlaneMap::new(Matrix3::new(
            3.0, 0.4, 702.0, 0.1, 2.6, 899.0, 1e-5, 8e-4, 1.0,
        ));
        let patches = seen(&truth, panel.patches.iter().map(|it| &it.rect));
        let unseen = Looked {
            card: &panel.cards[0].card,
            pose: Pose {
                centre: Point::new(90.0, 160.0),
                angle: 0.0,
                scale: 1.0,
            },
            seen: Vec::new(),
        };
        let (map, pose) = improve(&panel, &start, &patches, Some(&unseen), None).unwrap();
        assert!(pose.is_none());
        let corners = panel.extent().corners();
        assert!(
            corners
                .iter()
                .all(|p| (map.map(*p) - truth.map(*p)).norm() < 1e-3)
        );
    }
}
