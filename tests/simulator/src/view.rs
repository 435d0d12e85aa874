//! Where the camera stands, and how the plane of the board falls on the stored pixels.

use crate::layout::Xy;
use nalgebra::{Matrix3, Rotation3, Vector3};
use serde::{Deserialize, Serialize};

/// The pose, in terms of what a photographer does.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Pose {
    /// Turn of the panel in the displayed picture, degrees clockwise (0, 90, 180, 270 plus jitter).
    pub turn: f64,
    /// Angle between the optical axis and the board's normal, degrees.
    pub tilt: f64,
    /// Direction of the tilt in the board's plane, degrees.
    pub towards: f64,
    /// Share of the frame's limiting side that board and cards fill, 0–1.
    pub fill: f64,
    /// Shift of the board from the frame's centre, as a share of the free margin, −1…1.
    pub shift: Xy,
    /// Focal length over the frame's long side (0.72: 26 mm in terms of 35 mm film).
    pub focal: f64,
    /// Radial distortion at the corner of the frame, relative (positive: barrel).
    pub distortion: f64,
}

/// A pose with a picture size: maps both ways between stored pixels and millimetres.
#[derive(Clone, Copy, Debug)]
pub struct View {
    stored: Xy,
    display: Xy,
    orientation: u8,
    focal_px: f64,
    half_diagonal_px: f64,
    distortion: f64,
    turn: Matrix3<f64>,
    centre: Vector3<f64>,
}

impl View {
    /// Puts the camera so that `targets` (millimetres on the board's plane) fill the frame as the pose says.
    ///
    /// `stored` is the size of the stored picture, `orientation` the EXIF orientation with which its pixels are stored.
    #[must_use]
    pub fn new(pose: &Pose, stored: Xy, orientation: u8, targets: &[Xy]) -> Self {
        let display = if orientation >= 5 {
            [stored[1], stored[0]]
        } else {
            stored
        };
        let axis = nalgebra::Unit::new_normalize(Vector3::new(
            pose.towards.to_radians().cos(),
            pose.towards.to_radians().sin(),
            0.0,
        ));
        let roll = Rotation3::from_axis_angle(&Vector3::z_axis(), pose.turn.to_radians());
        let turn = (roll * Rotation3::from_axis_angle(&axis, pose.tilt.to_radians())).into_inner();
        let mut view = Self {
            stored,
            display,
            orientation,
            focal_px: pose.focal * display[0].max(display[1]),
            half_diagonal_px: display[0].hypot(display[1]) / 2.0,
            distortion: pose.distortion,
            turn,
            centre: Vector3::zeros(),
        };
        let middle = |i: usize| {
            targets.iter().map(|it| it[i]).fold(f64::INFINITY, f64::min) / 2.0
                + targets
                    .iter()
                    .map(|it| it[i])
                    .fold(f64::NEG_INFINITY, f64::max)
                    / 2.0
        };
        let mut aim = Vector3::new(middle(0), middle(1), 0.0);
        let mut distance = 2000.0;
        for _ in 0..20 {
            view.centre = aim - turn.transpose() * Vector3::new(0.0, 0.0, distance);
            let seen: Vec<Xy> = targets.iter().map(|it| view.display_px(*it, 0.0)).collect();
            let low = |i: usize| seen.iter().map(|it| it[i]).fold(f64::INFINITY, f64::min);
            let high = |i: usize| {
                seen.iter()
                    .map(|it| it[i])
                    .fold(f64::NEG_INFINITY, f64::max)
            };
            let share = [0, 1].map(|i| (high(i) - low(i)) / display[i]);
            distance *= (share[0].max(share[1]) / pose.fill).clamp(0.5, 2.0);
            let off = [0, 1].map(|i| {
                let free = (1.0 - share[i]).max(0.0) * display[i] / 2.0;
                f64::midpoint(high(i), low(i)) - display[i] / 2.0 - pose.shift[i] * free
            });
            let scale = distance / view.focal_px;
            aim += turn.transpose() * Vector3::new(off[0] * scale, off[1] * scale, 0.0);
            // Stay in the plane of the board along the optical axis.
            let forward = turn.transpose() * Vector3::z();
            aim -= forward * (aim.z / forward.z);
        }
        view
    }

    /// Size of the stored picture, pixels.
    #[must_use]
    pub fn stored_size(&self) -> Xy {
        self.stored
    }

    /// Size of the displayed picture, pixels.
    #[must_use]
    pub fn display_size(&self) -> Xy {
        self.display
    }

    /// The camera's position, mm; z is negative in front of the board.
    #[must_use]
    pub fn centre(&self) -> [f64; 3] {
        self.centre.into()
    }

    /// Where a point `height` mm above the board's plane is in the stored picture ((0, 0): outer corner of the first
    /// pixel).
    #[must_use]
    pub fn stored_px(&self, mm: Xy, height: f64) -> Xy {
        to_stored(self.orientation, self.display, self.display_px(mm, height))
    }

    /// The same in the displayed picture.
    #[must_use]
    pub fn display_px(&self, mm: Xy, height: f64) -> Xy {
        let p = self.turn * (Vector3::new(mm[0], mm[1], -height) - self.centre);
        let ideal = [p[0] / p[2] * self.focal_px, p[1] / p[2] * self.focal_px];
        // Undo `undistort` by Newton's method on the radius.
        let wanted = ideal[0].hypot(ideal[1]) / self.half_diagonal_px;
        let mut radius = wanted;
        for _ in 0..8 {
            let k = self.distortion;
            radius -=
                (radius * (1.0 + k * radius * radius) - wanted) / (1.0 + 3.0 * k * radius * radius);
        }
        let scale = if wanted > 0.0 { radius / wanted } else { 1.0 };
        [
            ideal[0] * scale + self.display[0] / 2.0,
            ideal[1] * scale + self.display[1] / 2.0,
        ]
    }

    /// Where the ray through a stored pixel meets the board's plane, mm; none at or above the horizon.
    #[must_use]
    #[inline]
    pub fn to_mm(&self, stored: Xy) -> Option<Xy> {
        let [x, y] = to_display(self.orientation, self.stored, stored);
        let (dx, dy) = (x - self.display[0] / 2.0, y - self.display[1] / 2.0);
        let r2 = (dx * dx + dy * dy) / (self.half_diagonal_px * self.half_diagonal_px);
        let scale = (1.0 + self.distortion * r2) / self.focal_px;
        let (u, v) = (dx * scale, dy * scale);
        let r = &self.turn;
        let ray = |i: usize| r[(0, i)] * u + r[(1, i)] * v + r[(2, i)];
        let down = ray(2);
        if down < 0.05 {
            return None;
        }
        let t = -self.centre.z / down;
        Some([self.centre.x + t * ray(0), self.centre.y + t * ray(1)])
    }

    /// Millimetres on the board a pixel covers around a point, linear mean.
    #[must_use]
    pub fn mm_per_px(&self, mm: Xy) -> f64 {
        let p = self.display_px(mm, 0.0);
        let step = |dx: f64, dy: f64| {
            let q = self.display_px([mm[0] + dx, mm[1] + dy], 0.0);
            [q[0] - p[0], q[1] - p[1]]
        };
        let (u, v) = (step(1.0, 0.0), step(0.0, 1.0));
        1.0 / (u[0] * v[1] - u[1] * v[0]).abs().sqrt().max(1e-9)
    }
}

/// From stored to displayed pixels under an EXIF orientation (1–8); `stored` is the stored size.
#[inline]
pub(crate) fn to_display(orientation: u8, stored: Xy, [x, y]: Xy) -> Xy {
    let [w, h] = stored;
    match orientation {
        2 => [w - x, y],
        3 => [w - x, h - y],
        4 => [x, h - y],
        5 => [y, x],
        6 => [h - y, x],
        7 => [h - y, w - x],
        8 => [y, w - x],
        _ => [x, y],
    }
}

/// From displayed to stored pixels; `display` is the displayed size.
#[inline]
pub(crate) fn to_stored(orientation: u8, display: Xy, point: Xy) -> Xy {
    // 6 and 8 undo each other; all others undo themselves.
    let inverse = match orientation {
        6 => 8,
        8 => 6,
        other => other,
    };
    to_display(inverse, display, point)
}
