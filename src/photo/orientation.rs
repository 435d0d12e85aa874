//! The EXIF orientation as a map of points between the stored and the displayed picture. No pixel moves.

use crate::geometry::Point;
use serde::{Deserialize, Serialize};

/// The eight EXIF orientations, by tag value 1–8.
///
/// Points are in pixels with (0, 0) at the outer corner of the first pixel, x to the right and y down, in both
/// pictures. Other values than 1–8 (damaged tags) behave as 1.
///
/// # Source
///
/// CIPA DC-008 (Exif), tag 274: where row 0 and column 0 of the stored picture lie in the displayed one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Orientation(
    /// 1–8; 1 is as stored.
    pub u8,
);

impl Default for Orientation {
    fn default() -> Self {
        Self(1)
    }
}

impl Orientation {
    /// From a tag's value; what is out of range counts as 1.
    #[must_use]
    pub fn from_tag(value: u32) -> Self {
        match u8::try_from(value) {
            Ok(it @ 1..=8) => Self(it),
            _ => Self(1),
        }
    }

    /// This turn and then another one.
    #[must_use]
    pub(super) fn then(self, next: Self) -> Self {
        let (one, two) = (self.matrix(), next.matrix());
        let both = [0, 1].map(|row| {
            [0, 1].map(|column| two[row][0] * one[0][column] + two[row][1] * one[1][column])
        });
        (1..=8)
            .map(Self)
            .find(|it| it.matrix() == both)
            .expect("quarter turns and mirrors are a group of these eight")
    }

    /// Stored to displayed coordinates about the picture's middle.
    fn matrix(self) -> [[i8; 2]; 2] {
        match self.0 {
            2 => [[-1, 0], [0, 1]],
            3 => [[-1, 0], [0, -1]],
            4 => [[1, 0], [0, -1]],
            5 => [[0, 1], [1, 0]],
            6 => [[0, -1], [1, 0]],
            7 => [[0, -1], [-1, 0]],
            8 => [[0, 1], [-1, 0]],
            _ => [[1, 0], [0, 1]],
        }
    }

    /// Whether display exchanges width and height.
    #[must_use]
    pub fn swaps_axes(self) -> bool {
        matches!(self.0, 5..=8)
    }

    /// Size as displayed of a picture stored with `(width, height)`; the inverse is the same map.
    #[must_use]
    pub fn display_size(self, (width, height): (usize, usize)) -> (usize, usize) {
        if self.swaps_axes() {
            (height, width)
        } else {
            (width, height)
        }
    }

    /// Stored point to displayed point; `stored` is the stored width and height.
    #[must_use]
    pub fn to_displayed(self, p: Point, stored: (usize, usize)) -> Point {
        let (w, h) = extent(stored);
        match self.0 {
            2 => Point::new(w - p.x, p.y),
            3 => Point::new(w - p.x, h - p.y),
            4 => Point::new(p.x, h - p.y),
            5 => Point::new(p.y, p.x),
            6 => Point::new(h - p.y, p.x),
            7 => Point::new(h - p.y, w - p.x),
            8 => Point::new(p.y, w - p.x),
            _ => p,
        }
    }

    /// Displayed point to stored point; `stored` is the stored width and height.
    #[must_use]
    pub fn to_stored(self, p: Point, stored: (usize, usize)) -> Point {
        let (w, h) = extent(stored);
        match self.0 {
            2 => Point::new(w - p.x, p.y),
            3 => Point::new(w - p.x, h - p.y),
            4 => Point::new(p.x, h - p.y),
            5 => Point::new(p.y, p.x),
            6 => Point::new(p.y, h - p.x),
            7 => Point::new(w - p.y, h - p.x),
            8 => Point::new(w - p.y, p.x),
            _ => p,
        }
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "pixel counts are far below 2^52"
)]
fn extent((width, height): (usize, usize)) -> (f64, f64) {
    (width as f64, height as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Where the stored picture's top left and top right corner are displayed: (left/right, top/bottom), from the
    /// tag's wording in CIPA DC-008: "the 0th row at the visual top, the 0th column at the visual left" and so on.
    #[test]
    fn corners_go_where_the_standard_says() {
        let (w, h) = (40, 30);
        // Tag, row 0 at the visual …, column 0 at the visual ….
        let wording = [
            (1, "top", "left"),
            (2, "top", "right"),
            (3, "bottom", "right"),
            (4, "bottom", "left"),
            (5, "left", "top"),
            (6, "right", "top"),
            (7, "right", "bottom"),
            (8, "left", "bottom"),
        ];
        for (tag, row_0, column_0) in wording {
            let turned = Orientation(tag);
            let (dw, dh) = extent(turned.display_size((w, h)));
            let at = |side: &str, p: Point| match side {
                "top" => p.y.abs() < 1e-9,
                "bottom" => (p.y - dh).abs() < 1e-9,
                "left" => p.x.abs() < 1e-9,
                _ => (p.x - dw).abs() < 1e-9,
            };
            let along_row_0 = turned.to_displayed(Point::new(13.0, 0.0), (w, h));
            let along_column_0 = turned.to_displayed(Point::new(0.0, 11.0), (w, h));
            assert!(
                at(row_0, along_row_0),
                "tag {tag}: row 0 is at {along_row_0}"
            );
            assert!(
                at(column_0, along_column_0),
                "tag {tag}: column 0 is at {along_column_0}"
            );
        }
    }

    #[test]
    fn tags_out_of_range_leave_the_picture_as_stored() {
        for tag in [0, 9, 255, 256, 257, u32::MAX] {
            assert_eq!(Orientation::from_tag(tag), Orientation(1));
        }
    }

    proptest! {
        #[test]
        fn two_turns_are_one(first in 1u8..=8, second in 1u8..=8, x in 0.0..40.0, y in 0.0..30.0) {
            let (first, second, p) = (Orientation(first), Orientation(second), Point::new(x, y));
            let between = first.display_size((40, 30));
            let one_by_one = second.to_displayed(first.to_displayed(p, (40, 30)), between);
            let at_once = first.then(second).to_displayed(p, (40, 30));
            prop_assert!((one_by_one - at_once).norm() < 1e-9);
        }

        #[test]
        fn points_come_back(tag in 0u8..=9, w in 1usize..5000, h in 1usize..5000, x in 0.0..1.0, y in 0.0..1.0) {
            let (width, height) = extent((w, h));
            let p = Point::new(x * width, y * height);
            let turned = Orientation(tag);
            let shown = turned.to_displayed(p, (w, h));
            let (dw, dh) = extent(turned.display_size((w, h)));
            prop_assert!((0.0..=dw).contains(&shown.x) && (0.0..=dh).contains(&shown.y));
            prop_assert!((turned.to_stored(shown, (w, h)) - p).norm() < 1e-9);
        }
    }
}
