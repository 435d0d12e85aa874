//! Whether a sheet ends before its frame does: a smaller one fills three sides of a frame, and shows the table along the fourth.

use super::shade;
use super::view::{Light, distance};
use crate::geometry::{PlaneMap, Rect};

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

#[cfg(test)]
mod tests {
    use super::super::view::Graded;
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

    #[test]
    fn a_shadow_that_makes_a_sheets_side_like_the_table_does_not_end_it() {
        let crossed = Sheet { shadow: 66.0 };
        // Beside the shadow's edge the sheet is as dark as the lit table.
        assert!(!ends_early(&crossed, 40.0));
    }
}
