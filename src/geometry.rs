//! Plane geometry between panel millimetres and stored pixels.
//!
//! Takes points, gives maps; depends on no other module. A [`PlaneMap`] is a homography with at most one radial
//! term for the lens, invertible everywhere inside the photo.

use nalgebra::{Matrix2, Matrix3, Point2, Vector3};
use serde::{Deserialize, Serialize};

/// A point, in millimetres or pixels as the context says.
pub type Point = Point2<f64>;

/// An upright rectangle in millimetres: x to the right, y down.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rect {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width, > 0.
    pub width: f64,
    /// Height, > 0.
    pub height: f64,
}

impl Rect {
    /// The corners, clockwise from the top left.
    #[must_use]
    pub fn corners(&self) -> [Point; 4] {
        let (right, bottom) = (self.x + self.width, self.y + self.height);
        [
            Point::new(self.x, self.y),
            Point::new(right, self.y),
            Point::new(right, bottom),
            Point::new(self.x, bottom),
        ]
    }

    /// The centre.
    #[must_use]
    pub fn centre(&self) -> Point {
        Point::new(self.x + self.width / 2.0, self.y + self.height / 2.0)
    }

    /// The rectangle with each edge moved inwards by `by` (outwards if negative).
    #[must_use]
    pub fn inset(&self, by: f64) -> Self {
        Self {
            x: self.x + by,
            y: self.y + by,
            width: self.width - 2.0 * by,
            height: self.height - 2.0 * by,
        }
    }

    /// The smallest rectangle that holds both.
    #[must_use]
    pub fn union(&self, other: &Self) -> Self {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        let right = (self.x + self.width).max(other.x + other.width);
        let bottom = (self.y + self.height).max(other.y + other.height);
        Self {
            x,
            y,
            width: right - x,
            height: bottom - y,
        }
    }

    /// Whether the point lies inside or on the edge.
    #[must_use]
    pub fn contains(&self, p: &Point) -> bool {
        p.x >= self.x && p.x <= self.x + self.width && p.y >= self.y && p.y <= self.y + self.height
    }
}

/// One radial term of lens distortion, about a centre in stored pixels.
///
/// A point at `r` (in units of `scale` pixels) from the centre is seen at `r (1 + k1 r²)`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Radial {
    /// Centre in stored pixels.
    pub centre: [f64; 2],
    /// Pixels per unit of radius: half the photo's diagonal.
    pub scale: f64,
    /// The coefficient; negative is barrel.
    pub k1: f64,
}

/// A map from a plane in millimetres to stored pixels.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlaneMap {
    /// Millimetres to ideal (undistorted) pixels, homogeneous.
    pub homography: Matrix3<f64>,
    /// The lens, if it helped.
    pub radial: Option<Radial>,
}

/// The map through four points by elimination, many times faster than the decomposition; none where that is ill-conditioned.
fn four(
    norm_from: &Matrix3<f64>,
    norm_to: &Matrix3<f64>,
    from: [Point; 4],
    to: [Point; 4],
) -> Option<PlaneMap> {
    let mut left = nalgebra::SMatrix::<f64, 8, 8>::zeros();
    let mut right = nalgebra::SVector::<f64, 8>::zeros();
    for (i, (p, q)) in from.iter().zip(&to).enumerate() {
        let p = norm_from * Vector3::new(p.x, p.y, 1.0);
        let q = norm_to * Vector3::new(q.x, q.y, 1.0);
        for (k, value) in [p.x, p.y, 1.0].into_iter().enumerate() {
            left[(2 * i, k)] = value;
            left[(2 * i + 1, 3 + k)] = value;
        }
        for (k, value) in [p.x, p.y].into_iter().enumerate() {
            left[(2 * i, 6 + k)] = -q.x * value;
            left[(2 * i + 1, 6 + k)] = -q.y * value;
        }
        (right[2 * i], right[2 * i + 1]) = (q.x, q.y);
    }
    let lu = left.lu();
    if lu.determinant().abs() < 1e-6 {
        return None;
    }
    let h = lu.solve(&right)?;
    let h = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
    let homography = norm_to.try_inverse()? * h * norm_from;
    let homography = homography / homography[(2, 2)];
    homography
        .iter()
        .all(|it| it.is_finite())
        .then(|| PlaneMap::new(homography))
}

impl PlaneMap {
    /// A map without a lens term.
    #[must_use]
    pub fn new(homography: Matrix3<f64>) -> Self {
        Self {
            homography,
            radial: None,
        }
    }

    /// The same map to pixels of a picture `factor` times as large, without a lens term.
    #[must_use]
    pub(crate) fn scaled(&self, factor: f64) -> Self {
        let homography = Matrix3::new_scaling(factor) * self.homography;
        Self::new(homography / homography[(2, 2)])
    }

    /// The map that takes `from[i]` to `to[i]` in the least-squares sense (exact for four points in general position).
    ///
    /// Normalised direct linear transformation (Hartley & Zisserman, *Multiple View Geometry*, algorithm 4.2).
    /// `None` for fewer than four points or a degenerate arrangement.
    #[must_use]
    pub fn fit(from: &[Point], to: &[Point]) -> Option<Self> {
        if from.len() != to.len() || from.len() < 4 {
            return None;
        }
        let (norm_from, norm_to) = (normalisation(from)?, normalisation(to)?);
        if let ([a, b, c, d], [e, f, g, h]) = (from, to)
            && let Some(exact) = four(&norm_from, &norm_to, [*a, *b, *c, *d], [*e, *f, *g, *h])
        {
            return Some(exact);
        }
        // Each pair adds the rows (0, −p, y p) and (p, 0, −x p) for (x, y) = q: the normal matrix is made of four sums of p pᵀ.
        let [mut one, mut x, mut y, mut square] = [Matrix3::<f64>::zeros(); 4];
        for (p, q) in from.iter().zip(to) {
            let p = norm_from * Vector3::new(p.x, p.y, 1.0);
            let q = norm_to * Vector3::new(q.x, q.y, 1.0);
            let outer = p * p.transpose();
            one += outer;
            x -= outer * q.x;
            y -= outer * q.y;
            square += outer * (q.x * q.x + q.y * q.y);
        }
        let mut normal = nalgebra::SMatrix::<f64, 9, 9>::zeros();
        for (at, block) in [
            ((0, 0), one),
            ((3, 3), one),
            ((0, 6), x),
            ((6, 0), x),
            ((3, 6), y),
            ((6, 3), y),
            ((6, 6), square),
        ] {
            normal.fixed_view_mut::<3, 3>(at.0, at.1).copy_from(&block);
        }
        let eigen = normal.symmetric_eigen();
        let (smallest, _) = eigen.eigenvalues.argmin();
        // A second vanishing eigenvalue means that the points do not pin the map down.
        let mut values: Vec<f64> = eigen.eigenvalues.iter().copied().collect();
        values.sort_by(f64::total_cmp);
        if values[1] < 1e-12 * values[8] {
            return None;
        }
        let v = eigen.eigenvectors.column(smallest);
        let h = Matrix3::new(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8]);
        let homography = norm_to.try_inverse()? * h * norm_from;
        let homography = homography / homography[(2, 2)];
        homography
            .iter()
            .all(|it| it.is_finite())
            .then(|| Self::new(homography))
    }

    /// Millimetres to stored pixels.
    #[must_use]
    pub fn map(&self, p: Point) -> Point {
        let v = self.homography * Vector3::new(p.x, p.y, 1.0);
        let ideal = Point::new(v.x / v.z, v.y / v.z);
        match &self.radial {
            None => ideal,
            Some(lens) => {
                let d = (ideal - Point::from(lens.centre)) / lens.scale;
                Point::from(lens.centre) + d * (1.0 + lens.k1 * d.norm_squared()) * lens.scale
            }
        }
    }

    /// Stored pixels to millimetres. `None` on the horizon of the plane.
    #[must_use]
    pub fn unmap(&self, p: Point) -> Option<Point> {
        let ideal = match &self.radial {
            None => p,
            Some(lens) => {
                let seen = (p - Point::from(lens.centre)) / lens.scale;
                // Fixed-point iteration converges fast for the small k1 of a lens.
                let mut d = seen;
                for _ in 0..20 {
                    d = seen / (1.0 + lens.k1 * d.norm_squared());
                }
                Point::from(lens.centre) + d * lens.scale
            }
        };
        let v = self.homography.try_inverse()? * Vector3::new(ideal.x, ideal.y, 1.0);
        let q = Point::new(v.x / v.z, v.y / v.z);
        (q.x.is_finite() && q.y.is_finite()).then_some(q)
    }

    /// Pixels per millimetre at a point: columns are the images of 1 mm to the right and 1 mm down.
    #[must_use]
    pub fn jacobian(&self, p: Point) -> Matrix2<f64> {
        let step = 1e-3;
        let dx = (self.map(p + nalgebra::Vector2::new(step, 0.0))
            - self.map(p - nalgebra::Vector2::new(step, 0.0)))
            / (2.0 * step);
        let dy = (self.map(p + nalgebra::Vector2::new(0.0, step))
            - self.map(p - nalgebra::Vector2::new(0.0, step)))
            / (2.0 * step);
        Matrix2::from_columns(&[dx, dy])
    }

    /// The four corners of a rectangle in pixels, clockwise as on the panel from its top left.
    #[must_use]
    pub fn outline(&self, rect: &Rect) -> [Point; 4] {
        rect.corners().map(|it| self.map(it))
    }
}

/// Similarity that moves the centroid to the origin and the mean distance to √2.
fn normalisation(points: &[Point]) -> Option<Matrix3<f64>> {
    #[expect(clippy::cast_precision_loss, reason = "a handful of points")]
    let n = points.len() as f64;
    let (cx, cy) = (
        points.iter().map(|p| p.x).sum::<f64>() / n,
        points.iter().map(|p| p.y).sum::<f64>() / n,
    );
    let spread = points
        .iter()
        .map(|p| (p.x - cx).hypot(p.y - cy))
        .sum::<f64>()
        / n;
    if !(spread.is_finite() && spread > 0.0) {
        return None;
    }
    let s = std::f64::consts::SQRT_2 / spread;
    Some(Matrix3::new(
        s,
        0.0,
        -s * cx,
        0.0,
        s,
        -s * cy,
        0.0,
        0.0,
        1.0,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_corners_are_met_and_come_back_through_a_lens() {
        let from = Rect {
            x: 0.0,
            y: 0.0,
            width: 435.0,
            height: 285.0,
        }
        .corners();
        let to = [
            Point::new(310.0, 220.0),
            Point::new(3500.0, 300.0),
            Point::new(3300.0, 2500.0),
            Point::new(420.0, 2300.0),
        ];
        let mut map = PlaneMap::fit(&from, &to).unwrap();
        for (p, q) in from.iter().zip(&to) {
            assert!((map.map(*p) - q).norm() < 1e-6);
        }
        map.radial = Some(Radial {
            centre: [2016.0, 1512.0],
            scale: 2520.0,
            k1: -0.04,
        });
        for p in from {
            assert!((map.unmap(map.map(p)).unwrap() - p).norm() < 1e-6);
        }
    }

    #[test]
    fn points_on_a_line_pin_nothing_down() {
        let line: Vec<_> = (0..6)
            .map(|i| Point::new(f64::from(i), 2.0 * f64::from(i)))
            .collect();
        assert!(PlaneMap::fit(&line, &line).is_none());
    }
}
