//! Whether a frame lies askew on its sheet: over the middles of its sides the sheet bulges out of it, as its corners stick out of the sheet.

use super::shade;
use super::view::{Light, distance};
use crate::geometry::{PlaneMap, Rect};

/// How far outside of a side its middle is read, as shares of the sheet: farther than a sheet that is laid a little off reaches.
const NEAR: [f64; 3] = [0.04, 0.06, 0.08];
/// The same of what surely lies outside.
const OUTSIDE: [f64; 3] = [0.24, 0.28, 0.32];
/// Places along a side, around its middle.
const ALONG: [f64; 3] = [0.45, 0.5, 0.55];
/// Grading by which inside and outside must differ for a side to say anything.
const DIFFERENT: f64 = 4.0;
/// Share of that within which what is near is of one colour with the inside: a light rim around a grey zone is not …
const SAME: f64 = 0.4;
/// … and grading, beside what parts the inside from what lies just within the side: a sheet goes on in its own colour. A mottled cloth comes near a card's
/// here and there, and far from it a board may lie. Of a sheet that bulged out the two were 1.4 apart at most, of a cloth 4.5 (one simulated photo each).
const GOES_ON: f64 = 2.5;
/// Sides that may bulge: another sheet, or the board, may touch one or two.
const MAY_BULGE: usize = 2;

/// Whether most sides of a rectangle have in front of their middles what lies inside of it.
pub(super) fn bulges(light: &impl Light, map: &PlaneMap, rect: &Rect) -> bool {
    let bulging = (0..4).filter(|i| {
        let read = |depths: [f64; 3]| shade::near_side(light, map, rect, *i, &ALONG, &depths);
        let all = (
            read(NEAR.map(|it| -it)),
            read(NEAR),
            read(OUTSIDE),
            read(OUTSIDE.map(|it| -it)),
        );
        let (Some(there), Some(within), Some(inside), Some(outside)) = all else {
            return false;
        };
        let apart = distance(inside, outside);
        let off = distance(there, inside);
        apart > DIFFERENT && off < SAME * apart && off < distance(within, inside) + GOES_ON
    });
    bulging.count() > MAY_BULGE
}

#[cfg(test)]
mod tests {
    use super::super::view::Graded;
    use super::*;
    use crate::geometry::Point;
    use nalgebra::Matrix3;

    /// A light square of `side` pixels around (50, 50), turned by `angle`, on a dark table; within a rim of so many pixels of some lightness.
    struct Sheet {
        side: f64,
        angle: f64,
        rim: (f64, f32),
    }

    impl Light for Sheet {
        fn at(&self, p: Point) -> Option<Graded> {
            let (sin, cos) = self.angle.sin_cos();
            let off = p - Point::new(50.0, 50.0);
            let (x, y) = (cos * off.x + sin * off.y, cos * off.y - sin * off.x);
            let beyond = x.abs().max(y.abs()) - self.side / 2.0;
            let light = match beyond {
                it if it < 0.0 => 50.0,
                it if it < self.rim.0 => self.rim.1,
                _ => 20.0,
            };
            Some([light, 0.0, 0.0])
        }
    }

    /// In a frame of 40 pixels that is laid a pixel off.
    fn in_frame(side: f64, angle: f64, rim: (f64, f32)) -> bool {
        let rect = Rect {
            x: 31.0,
            y: 29.0,
            width: 40.0,
            height: 40.0,
        };
        bulges(
            &Sheet { side, angle, rim },
            &PlaneMap::new(Matrix3::identity()),
            &rect,
        )
    }

    #[test]
    fn a_sheet_that_lies_askew_in_its_frame_bulges_out_of_it() {
        let bulges = |side: f64, angle: f64| in_frame(side, angle, (0.0, 0.0));
        assert!(bulges(44.0, 0.45));
        assert!(bulges(40.0, 0.7));
        assert!(!bulges(40.0, 0.0));
        // Nor does a card that is laid a little crookedly, or is a little larger than it seemed.
        assert!(!bulges(40.0, 0.1));
        assert!(!bulges(41.0, 0.0));
        // Nor a zone within a rim.
        assert!(!in_frame(40.0, 0.0, (5.0, 90.0)));
        // Nor on a cloth nearly of its lightness, with other things beyond.
        assert!(!in_frame(40.0, 0.0, (5.0, 45.0)));
    }
}
