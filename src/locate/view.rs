//! Light as the eye would grade it, to be read at any place of a picture.
//!
//! Linear light becomes its square root, which evens out photon noise and shadows, and then one lightness and two
//! opponent channels on a scale of 100, so that an edge between two hues of one lightness is an edge like any other.

use crate::geometry::Point;
use crate::photo::LinearImage;
use nalgebra::Vector2;
use wide::f32x4;

/// A graded colour: lightness and two opponents, roughly 0–100 and ±50.
pub(super) type Graded = [f32; 3];

/// Something whose graded colour can be read between pixels.
pub(super) trait Light {
    /// The colour at a place in this picture's own pixels, (0, 0) being the outer corner of the first; none outside.
    fn at(&self, p: Point) -> Option<Graded>;

    /// Sums of the colours at `n` places from `first` on, a step apart, and of the squares of all their channels; none if one lies outside.
    fn along(&self, first: Point, step: Vector2<f64>, n: u32) -> Option<(Graded, f32)> {
        self.one_by_one(first, step, n)
    }

    /// The same, asking at each place.
    fn one_by_one(&self, first: Point, step: Vector2<f64>, n: u32) -> Option<(Graded, f32)> {
        let (mut sum, mut squares) = ([0.0; 3], 0.0);
        for k in 0..n {
            let colour = self.at(first + step * f64::from(k))?;
            for (sum, it) in sum.iter_mut().zip(colour) {
                *sum += it;
                squares += it * it;
            }
        }
        Some((sum, squares))
    }
}

/// Grades one linear colour.
pub(super) fn grade(linear: [f32; 3]) -> Graded {
    opponents(linear.map(even))
}

/// Linear light on a scale of 100 on which noise is even.
fn even(linear: f32) -> f32 {
    100.0 * linear.max(0.0).sqrt()
}

/// Lightness and two opponents of what is even.
fn opponents([r, g, b]: [f32; 3]) -> Graded {
    [
        0.3 * r + 0.5 * g + 0.2 * b,
        0.7 * (r - g),
        0.5 * (0.5 * (r + g) - b),
    ]
}

/// Euclidean distance of two graded colours.
pub(super) fn distance(a: Graded, b: Graded) -> f64 {
    let d = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    f64::from(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt()
}

/// A value as a whole number, for places in a picture.
#[expect(
    clippy::cast_possible_truncation,
    reason = "pictures are far smaller than 2^31; out of range saturates"
)]
pub(super) fn whole(value: f64) -> i32 {
    value.floor() as i32
}

/// The shrunk picture, graded.
#[derive(Debug)]
pub(super) struct View {
    /// Stored pixels per pixel of this picture.
    pub factor: usize,
    /// Width in its pixels.
    pub width: usize,
    /// Height in its pixels.
    pub height: usize,
    /// Graded pixels, row by row.
    pub pixels: Vec<Graded>,
}

impl View {
    /// Whether a place lies in it.
    pub(super) fn holds(&self, p: Point) -> bool {
        p.x > 0.0 && p.y > 0.0 && p.x < self.width as f64 && p.y < self.height as f64
    }

    /// Half as wide and high, of means over four pixels each: noise and the threads of a cloth average out, and edges are as hard over half the pixels.
    pub(super) fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let rows = self.pixels.chunks_exact(2 * self.width.max(1)).take(height);
        let pixels = rows.flat_map(|pair| {
            let (above, below) = pair.split_at(self.width);
            let pairs = above
                .as_chunks::<2>()
                .0
                .iter()
                .zip(below.as_chunks::<2>().0);
            pairs.map(|([a, b], [c, d])| [0, 1, 2].map(|k| (a[k] + b[k] + c[k] + d[k]) / 4.0))
        });
        Self {
            factor: 2 * self.factor,
            width,
            height,
            pixels: pixels.collect(),
        }
    }

    /// Grades a shrunk photo, where it lies.
    pub(super) fn new(mut image: LinearImage) -> Self {
        // Roots of plain numbers are taken several at once.
        for it in image.pixels.as_flattened_mut() {
            *it = even(*it);
        }
        Self {
            factor: image.factor,
            width: image.width,
            height: image.height,
            pixels: image.pixels.into_iter().map(opponents).collect(),
        }
    }
}

impl Light for View {
    fn at(&self, p: Point) -> Option<Graded> {
        let between = Between::of(p, self.width, self.height)?;
        let above = self.pixels.get(between.first..between.first + 2)?;
        let below = self.pixels.get(between.first + self.width..)?.get(..2)?;
        Some(between.mean([above[0], above[1], below[0], below[1]]))
    }

    fn along(&self, first: Point, step: Vector2<f64>, n: u32) -> Option<(Graded, f32)> {
        // What lies between two places in the picture is in it, too: its ends are asked, and the rest is read without. Most of the time that a panel takes
        // to be found goes into this: four values at once, of which the last is the next pixel's and means nothing, take less than three.
        let last = first + step * f64::from(n.max(1) - 1);
        Between::of(first, self.width, self.height)?;
        Between::of(last, self.width, self.height)?;
        let values = self.pixels.as_flattened();
        let four = |it: &[f32]| it.first_chunk().map(|it: &[f32; 4]| f32x4::from(*it));
        // Places are counted from the pixel at the line's upper left, so that single precision keeps them to a thousandth of a pixel.
        let corner = [
            (first.x.min(last.x) - 0.5).floor(),
            (first.y.min(last.y) - 0.5).floor(),
        ];
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "both ends are in the picture"
        )]
        let base = corner[1] as usize * self.width + corner[0] as usize;
        let line = [
            Along::new(first.x - 0.5 - corner[0], step.x),
            Along::new(first.y - 0.5 - corner[1], step.y),
        ];
        let (mut sum, mut squares) = (f32x4::ZERO, f32x4::ZERO);
        for k in (0..n).step_by(4) {
            let [(right, u), (down, v)] = line.map(|it| it.four(k));
            for i in 0..4.min(n - k) as usize {
                let at = 3 * (base + down[i] * self.width + right[i]);
                let row = |at: usize| values.get(at..at + 7);
                let (Some(above), Some(below)) = (row(at), row(at + 3 * self.width)) else {
                    // After the very last pixel there is no fourth value.
                    return self.one_by_one(first, step, n);
                };
                let (Some(a), Some(b), Some(c), Some(d)) = (
                    four(above),
                    four(&above[3..]),
                    four(below),
                    four(&below[3..]),
                ) else {
                    return self.one_by_one(first, step, n);
                };
                let (u, v) = (f32x4::splat(u[i]), f32x4::splat(v[i]));
                let (top, bottom) = (a + u * (b - a), c + u * (d - c));
                let colour = top + v * (bottom - top);
                sum += colour;
                squares += colour * colour;
            }
        }
        let [light, opponent, blue, _] = sum.to_array();
        let [x, y, z, _] = squares.to_array();
        Some(([light, opponent, blue], x + y + z))
    }
}

/// One coordinate of places a step apart.
#[derive(Clone, Copy)]
struct Along {
    first: f32,
    step: f32,
}

impl Along {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counted from near by, a place is as near as it counts"
    )]
    fn new(first: f64, step: f64) -> Self {
        Self {
            first: first as f32,
            step: step as f32,
        }
    }

    /// The whole pixels and the fractions of the `k`th of the places and of the three after it, which may lie beyond the last.
    fn four(self, k: u32) -> ([usize; 4], [f32; 4]) {
        #[expect(clippy::cast_precision_loss, reason = "12 at most")]
        let k = f32x4::splat(k as f32) + f32x4::from([0.0, 1.0, 2.0, 3.0]);
        let at = f32x4::splat(self.first) + k * f32x4::splat(self.step);
        let whole = at.fast_trunc_int();
        let fraction = at - whole.round_float();
        // What rounding puts before the first pixel lies on it.
        let whole = whole
            .to_array()
            .map(|it| usize::try_from(it).unwrap_or_default());
        (whole, fraction.to_array())
    }
}

/// The photo itself, graded on the fly.
pub(super) struct Full<'a, F> {
    /// Stored width.
    pub width: usize,
    /// Stored height.
    pub height: usize,
    /// Linear light of a stored pixel.
    pub linear: &'a F,
}

impl<F: Fn(usize, usize) -> [f32; 3]> Light for Full<'_, F> {
    fn at(&self, p: Point) -> Option<Graded> {
        let between = Between::of(p, self.width, self.height)?;
        let (x, y) = (between.first % self.width, between.first / self.width);
        let linear = |dx: usize, dy: usize| (self.linear)(x + dx, y + dy);
        Some(grade(between.mean([
            linear(0, 0),
            linear(1, 0),
            linear(0, 1),
            linear(1, 1),
        ])))
    }
}

/// A place between four pixels.
struct Between {
    /// Index of the upper left one.
    first: usize,
    /// How far right and down of its middle, 0–1.
    u: f32,
    v: f32,
}

impl Between {
    /// None nearer to the rim than half a pixel.
    fn of(p: Point, width: usize, height: usize) -> Option<Self> {
        let (x, y) = (p.x - 0.5, p.y - 0.5);
        let within = x >= 0.0 && y >= 0.0 && x < width as f64 - 1.0 && y < height as f64 - 1.0;
        within.then(|| Self::inside(p, width))
    }

    /// Of a place that is known to be no nearer.
    fn inside(p: Point, width: usize) -> Self {
        let (x, y) = (p.x - 0.5, p.y - 0.5);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "within the picture; `trunc` would be a call for each reading"
        )]
        let (i, j) = (x as usize, y as usize);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a fraction loses digits only"
        )]
        let (u, v) = ((x - i as f64) as f32, (y - j as f64) as f32);
        Self {
            first: j * width + i,
            u,
            v,
        }
    }

    /// The mean of the four, upper left first and row by row, each as near as it counts.
    fn mean(&self, [a, b, c, d]: [[f32; 3]; 4]) -> [f32; 3] {
        [0, 1, 2].map(|k| {
            let top = a[k] + self.u * (b[k] - a[k]);
            let bottom = c[k] + self.u * (d[k] - c[k]);
            top + self.v * (bottom - top)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_line_is_what_lies_at_its_places(
            first in (0.5..39.5_f64, 0.5..29.5_f64), last in (0.5..39.5_f64, 0.5..29.5_f64), n in 2_u32..13,
        ) {
            let value = |i: u16| f32::from(i.wrapping_mul(40503) % 997) / 10.0;
            let view = View {
                factor: 1,
                width: 40,
                height: 30,
                pixels: (0..1200).map(|i| [value(3 * i), value(3 * i + 1), value(3 * i + 2)]).collect(),
            };
            let first = Point::new(first.0, first.1);
            let step = (Point::new(last.0, last.1) - first) / f64::from(n - 1);
            // The last place may lie on the picture's rim, and out of it by rounding.
            if let Some((sum, squares)) = view.along(first, step, n) {
                let (all, of_squares) = view.one_by_one(first, step, n).unwrap();
                prop_assert!((0..3).all(|k| (sum[k] - all[k]).abs() < 1e-2));
                prop_assert!((squares / of_squares - 1.0).abs() < 1e-4);
            }
        }
    }

    #[test]
    fn half_a_picture_has_the_mean_of_each_four_pixels() {
        // What is left over of an odd width and height is left out.
        let view = View {
            factor: 3,
            width: 5,
            height: 3,
            pixels: (0_u8..15)
                .map(|i| [f32::from(i), 1.0, -f32::from(i)])
                .collect(),
        };
        let half = view.halved();
        assert_eq!((half.factor, half.width, half.height), (6, 2, 1));
        // 0, 1, 5, 6 and 2, 3, 7, 8.
        assert_eq!(half.pixels, [[3.0, 1.0, -3.0], [5.0, 1.0, -5.0]]);
    }

    #[test]
    fn a_line_to_the_very_last_pixel_is_read() {
        let view = View {
            factor: 1,
            width: 3,
            height: 2,
            pixels: vec![[1.0, 2.0, 3.0]; 6],
        };
        let (first, step) = (Point::new(0.6, 1.4), Vector2::new(0.9, 0.0));
        let (sum, squares) = view.along(first, step, 3).unwrap();
        assert!((0..3_u8).all(|k| (sum[usize::from(k)] - 3.0 * f32::from(k + 1)).abs() < 1e-5));
        assert!((squares - 42.0).abs() < 1e-4);
        assert!(view.along(first, step * 2.0, 3).is_none());
    }
}
