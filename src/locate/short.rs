//! Whether a sheet ends before its frame does: a smaller one fills three sides of a frame, and shows the table along the fourth.

use super::shade;
use super::view::{Graded, Light, distance};
use crate::geometry::{PlaneMap, Rect};
use crate::panel::Panel;

/// How far from a side its strip is read, as shares of the sheet: a sheet that lies a tenth off shows there what lies beside it.
const NEAR: [f64; 3] = [0.07, 0.09, 0.11];
/// The same of what surely lies inside.
const INSIDE: [f64; 3] = [0.24, 0.28, 0.32];
/// Places along a side, spared its ends: corners may be rounded, or covered.
const ALONG: u8 = 8;
const SPARED: f64 = 0.1;
/// How many of them must show what lies outside: all but one, since a shadow's edge or another sheet crosses some.
const NEARLY_ALL: usize = 7;
/// Grading by which inside and outside must differ for a place to say anything.
const DIFFERENT: f64 = 4.0;

/// Whether along one of a rectangle's sides its inside shows what lies outside of it.
pub(super) fn ends_early(light: &impl Light, map: &PlaneMap, rect: &Rect) -> bool {
    (0..4).any(|i| {
        let lacks = (0..ALONG).filter(|k| {
            let at = SPARED + (1.0 - 2.0 * SPARED) * (f64::from(*k) + 0.5) / f64::from(ALONG);
            let read = |depths: [f64; 3]| shade::near_side(light, map, rect, i, &[at], &depths);
            let all = (read(NEAR), read(INSIDE), read(NEAR.map(|it| -it)));
            let (Some(there), Some(inside), Some(outside)) = all else {
                return false;
            };
            distance(inside, outside) > DIFFERENT
                && distance(there, outside) < distance(there, inside)
        });
        lacks.count() >= NEARLY_ALL
    })
}

/// How far within one of the card's sides a strip of it is read, as shares of its zones; and pixels it is at least, since lens and shrinking blur an edge.
const WITHIN: [f64; 3] = [0.025, 0.04, 0.055];
const BLURRED: f64 = 1.0;
/// Share of how far zones' colours lie apart by which their strips must, too: blur, and a shadow's edge along the side that leaves a quarter of the light, leave half
/// of it or more.
const APART: f64 = 0.35;
/// Grading by which zones' colours must differ to say anything.
const TOLD_APART: f64 = 10.0;

/// The side of a card, from its top clockwise, along which several zones of different colours show one colour: what lies beside the card, which ends
/// before. None if it reaches to all of its sides, or none of them has zones that differ.
pub(super) fn zones_end_before(light: &impl Light, map: &PlaneMap, card: &Panel) -> Option<usize> {
    let extent = card.extent();
    let zones = || card.patches.iter().filter(|it| !it.empty);
    (0..4).find(|side| {
        let side = *side;
        // How far a zone's own side lies from the card's.
        let away = |it: &Rect| (it.corners()[side] - extent.corners()[side])[(side + 1) % 2];
        let along = |it: &&Rect| away(it).abs() < 1e-6;
        let within = |rect: &Rect| {
            let corners = rect.corners();
            let deep = (map.map(corners[(side + 3) % 4]) - map.map(corners[side])).norm();
            let more = (BLURRED / deep.max(1.0) - WITHIN[0]).max(0.0);
            WITHIN.map(|it| it + more)
        };
        let read = |rect: &Rect, depths: &[f64; 3]| {
            let along: Vec<f64> = (0..ALONG)
                .map(|k| SPARED + (1.0 - 2.0 * SPARED) * (f64::from(k) + 0.5) / f64::from(ALONG))
                .collect();
            shade::near_side(light, map, rect, side, &along, depths)
        };
        let zones = zones().map(|it| &it.rect).filter(along);
        let seen: Vec<(Graded, Graded)> = zones
            .filter_map(|it| Some((read(it, &within(it))?, read(it, &INSIDE)?)))
            .collect();
        let (mut strips, mut insides) = (0.0, 0.0);
        for (i, (strip, inside)) in seen.iter().enumerate() {
            for (other_strip, other) in &seen[..i] {
                strips += distance(*strip, *other_strip);
                insides += distance(*inside, *other);
            }
        }
        let pairs = seen.len() * seen.len().saturating_sub(1) / 2;
        insides > TOLD_APART * pairs as f64 && pairs > 0 && strips < APART * insides
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use nalgebra::Matrix3;

    /// A grey sheet of 40 × 40 pixels from (30, 30) on a darker table, and a shadow that begins at `shadow` and goes on to the right.
    struct Sheet {
        shadow: f64,
    }

    impl Light for Sheet {
        fn at(&self, p: Point) -> Option<Graded> {
            let on = (30.0..70.0).contains(&p.x) && (30.0..70.0).contains(&p.y);
            // Slanted, as shadows are.
            let lit = p.x + 0.3 * (p.y - 50.0) < self.shadow;
            let light = if on { 50.0 } else { 25.0 };
            Some([if lit { light } else { 0.5 * light }, 0.0, 0.0])
        }
    }

    fn ends_early(sheet: &Sheet, width: f64) -> bool {
        let rect = Rect {
            x: 30.0,
            y: 30.0,
            width,
            height: 40.0,
        };
        super::ends_early(sheet, &PlaneMap::new(Matrix3::identity()), &rect)
    }

    #[test]
    fn a_smaller_sheet_shows_the_table_along_a_side() {
        let lit = Sheet { shadow: 1e3 };
        assert!(!ends_early(&lit, 40.0));
        // Laid a little off, it is still the sheet; an eighth is too much.
        assert!(!ends_early(&lit, 41.5));
        assert!(ends_early(&lit, 46.0));
    }

    /// White, grey and black zones, 30 pixels wide and 90 long, that go off side by side towards a side from the one across and end after so many, a table
    /// beyond them, and a white board beyond that; a shadow lies on what is beyond a line.
    struct Zones {
        side: usize,
        end: f64,
        board: f64,
        shadow: f64,
    }

    impl Light for Zones {
        fn at(&self, p: Point) -> Option<Graded> {
            let (along, far) = match self.side {
                0 => (p.x, 90.0 - p.y),
                1 => (p.y, p.x),
                2 => (p.x, p.y),
                _ => (p.y, 90.0 - p.x),
            };
            let light = match far {
                it if it >= self.board => 90.0,
                it if it >= self.end => 30.0,
                _ => [90.0, 45.0, 18.0][if along < 30.0 {
                    0
                } else {
                    1 + usize::from(along >= 60.0)
                }],
            };
            let lit = far < self.shadow;
            Some([if lit { light } else { 0.5 * light }, 0.0, 0.0])
        }
    }

    /// A card of three zones side by side, 90 × 90 pixels: of a row or of a column.
    fn zones(row: bool) -> Panel {
        let grid = if row {
            "rows = 1\ncolumns = 3\npatch_mm = [30, 90]"
        } else {
            "rows = 3\ncolumns = 1\npatch_mm = [90, 30]"
        };
        let zone = |i: u8| {
            let at = if row {
                format!("A{i}")
            } else {
                format!("{}1", char::from(b'@' + i))
            };
            format!("[[patch]]\nat = \"{at}\"\nlab = [50, 0, 0]\n")
        };
        let text = format!("id = \"zones\"\nsource = \"a test\"\n[grid]\n{grid}\n");
        let text = text + &(1..4).map(zone).collect::<String>();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("zones.toml");
        std::fs::write(&path, text).unwrap();
        crate::panel::read(&path).unwrap()
    }

    #[test]
    fn zones_that_show_one_colour_along_a_side_end_before_it() {
        let map = PlaneMap::new(Matrix3::identity());
        for side in 0..4 {
            let card = zones(side % 2 == 0);
            let early = |end, board, shadow| {
                let light = Zones {
                    side,
                    end,
                    board,
                    shadow,
                };
                zones_end_before(&light, &map, &card)
            };
            assert_eq!(early(90.0, 97.0, 1e3), None);
            // The board's edge was taken for the card's, a strip of table lies before it.
            assert_eq!(early(83.0, 90.0, 1e3), Some(side));
            // A shadow along the side leaves white white and black black.
            assert_eq!(early(90.0, 97.0, 84.0), None);
        }
    }

    #[test]
    fn a_shadow_that_makes_a_sheets_side_like_the_table_does_not_end_it() {
        let crossed = Sheet { shadow: 66.0 };
        // Beside the shadow's edge the sheet is as dark as the lit table.
        assert!(!ends_early(&crossed, 40.0));
    }
}
