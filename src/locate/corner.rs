//! Whether a sheet has corners: a jar's lid or a coin ends on all sides, too, and round things show the table in the corners of their
//! frames.

use super::shade;
use super::view::{Light, distance};
use crate::geometry::{PlaneMap, Rect};

/// How far from both sides a corner is read, as shares of them: outside of the circle within (its rim passes at 0.146), but inside of a
/// sheet that is laid a little off.
const NEAR: [f64; 3] = [0.05, 0.08, 0.11];
/// The same of what surely lies inside, of sheet and circle alike.
const INSIDE: [f64; 3] = [0.24, 0.28, 0.32];
/// Grading by which inside and outside must differ for a corner to say anything.
const DIFFERENT: f64 = 4.0;
/// Corners that may lack: another sheet, or a shadow's end, may lie on one or two.
const MAY_LACK: usize = 2;

/// Whether most corners of a rectangle show what lies outside of it.
pub(super) fn lacks(light: &impl Light, map: &PlaneMap, rect: &Rect) -> bool {
    let lacking = (0..4).filter(|i| {
        let read = |shares: [f64; 3]| shade::near_side(light, map, rect, *i, &shares, &shares);
        let (Some(there), Some(inside), Some(outside)) =
            (read(NEAR), read(INSIDE), read(NEAR.map(|it| -it)))
        else {
            return false;
        };
        distance(inside, outside) > DIFFERENT && distance(there, outside) < distance(there, inside)
    });
    lacking.count() > MAY_LACK
}

#[cfg(test)]
mod tests {
    use super::super::view::Graded;
    use super::*;
    use crate::geometry::Point;
    use nalgebra::Matrix3;

    /// A dark thing of 40 pixels around (50, 50), round or square, but for its corner at the top left.
    struct Dark {
        round: bool,
        covered: bool,
    }

    impl Light for Dark {
        fn at(&self, p: Point) -> Option<Graded> {
            let off = p - Point::new(50.0, 50.0);
            let within = if self.round {
                off.norm() < 20.0
            } else {
                off.amax() < 20.0
            };
            let covered = self.covered && off.x < -10.0 && off.y < -10.0;
            Some([if within && !covered { 20.0 } else { 60.0 }, 0.0, 0.0])
        }
    }

    #[test]
    fn a_round_thing_lacks_the_corners_that_a_sheet_has() {
        let map = PlaneMap::new(Matrix3::identity());
        // Laid a pixel off, as sheets are in small pictures.
        let rect = Rect {
            x: 31.0,
            y: 29.0,
            width: 40.0,
            height: 40.0,
        };
        let lacks = |round, covered| lacks(&Dark { round, covered }, &map, &rect);
        assert!(lacks(true, false));
        assert!(!lacks(false, false));
        assert!(!lacks(false, true));
    }
}
