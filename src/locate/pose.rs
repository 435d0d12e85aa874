//! Where a card lies on the panel's plane, and whether the panel file has it there.

use crate::geometry::{PlaneMap, Point};
use crate::panel::{Panel, Place, PlacedCard, Side};
use nalgebra::Matrix3;

/// A card's pose on the panel's plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    /// Where the centre of the card's zones lies, panel millimetres.
    pub centre: Point,
    /// Turn of the card against the panel, radians.
    pub angle: f64,
    /// Millimetres of the panel's plane per card millimetre: a card that lies lower looks smaller.
    pub scale: f64,
}

impl Pose {
    /// The same pose after a motion of the plane. A motion that mirrors moves the centre only as it should.
    pub(super) fn moved(&self, by: &Motion) -> Self {
        let (sin, cos) = self.angle.sin_cos();
        let turned = by * nalgebra::Vector3::new(cos, sin, 0.0);
        let centre = by * self.centre.to_homogeneous();
        Self {
            centre: Point::new(centre.x / centre.z, centre.y / centre.z),
            angle: turned.y.atan2(turned.x),
            scale: self.scale,
        }
    }

    /// Whether a refined pose is still about where it was.
    pub(super) fn stays(&self, start: &Self, card: &Panel) -> bool {
        let size = card.outer().width.min(card.outer().height);
        (self.centre - start.centre).norm() < 0.25 * size
            && (self.scale - start.scale).abs() < 0.12
            && (self.angle - start.angle).abs() < 0.15
    }

    /// Card millimetres to the panel's.
    pub(super) fn matrix(&self, card: &Panel) -> Matrix3<f64> {
        let (sin, cos) = self.angle.sin_cos();
        let (sin, cos) = (self.scale * sin, self.scale * cos);
        let turn = Matrix3::new(cos, -sin, 0.0, sin, cos, 0.0, 0.0, 0.0, 1.0);
        Matrix3::new_translation(&self.centre.coords)
            * turn
            * Matrix3::new_translation(&-card.extent().centre().coords)
    }

    /// Card millimetres to pixels.
    pub(super) fn map(&self, card: &Panel, plane: &PlaneMap) -> PlaneMap {
        let homography = plane.homography * self.matrix(card);
        PlaneMap {
            homography: homography / homography[(2, 2)],
            radial: plane.radial,
        }
    }
}

/// How the panel's plane of one way of laying the layout is moved to that of another: a rigid motion of millimetres.
pub(super) type Motion = Matrix3<f64>;

/// The pose of a card that lies where a map of its own has it; none if that is no rectangle in the plane.
pub(super) fn posed(card: &Panel, plane: &PlaneMap, map: &PlaneMap) -> Option<Pose> {
    let extent = card.extent();
    let mut corners = map.outline(&extent);
    for it in &mut corners {
        *it = plane.unmap(*it)?;
    }
    let across = (corners[1] - corners[0]) + (corners[2] - corners[3]);
    let down = (corners[3] - corners[0]) + (corners[2] - corners[1]);
    if across.x * down.y - across.y * down.x <= 0.0 {
        return None;
    }
    let scale = (across.norm() * down.norm() / (4.0 * extent.width * extent.height)).sqrt();
    Some(Pose {
        centre: plane.unmap(map.map(extent.centre()))?,
        angle: across.y.atan2(across.x),
        scale,
    })
}

/// Largest angle at which a card laid by hand lies against the panel's edges, radians: 15.5°.
pub(super) const CROOKED: f64 = 0.27;

/// How far a pose is from square to the panel, radians, 0–π/4.
pub(super) fn crooked(pose: &Pose) -> f64 {
    let quarter = std::f64::consts::FRAC_PI_2;
    let rest = pose.angle / quarter - (pose.angle / quarter).round();
    rest.abs() * quarter
}

/// Whether a pose is where the panel file has the card.
pub(super) fn fits_place(panel: &Panel, placed: &PlacedCard, pose: &Pose) -> bool {
    let extent = panel.extent();
    let crooked = crooked(pose);
    let outer = placed.card.outer();
    let half = outer.width.min(outer.height) / 2.0;
    if extent.inset(-0.8 * half).contains(&pose.centre) {
        return false;
    }
    let (x, y) = (pose.centre.x, pose.centre.y);
    let (right, bottom) = (extent.x + extent.width, extent.y + extent.height);
    let beside = x >= extent.x - half && x <= right + half;
    let level = y >= extent.y - half && y <= bottom + half;
    match placed.place {
        Place::Anywhere => true,
        Place::Beside(_) if crooked > CROOKED => false,
        Place::Beside(Side::Left) => level && x < extent.x,
        Place::Beside(Side::Right) => level && x > right,
        Place::Beside(Side::Top) => beside && y < extent.y,
        Place::Beside(Side::Bottom) => beside && y > bottom,
        Place::AtMm(_) => away(placed, pose).is_some_and(|it| it < 30.0_f64.max(0.5 * half)),
    }
}

/// How far a pose's middle is from where the panel file has the card's, millimetres; none where it states no place.
pub(super) fn away(placed: &PlacedCard, pose: &Pose) -> Option<f64> {
    let Place::AtMm([left, top]) = placed.place else {
        return None;
    };
    let outer = placed.card.outer();
    // The outer edge may lie either way.
    let ways = [(outer.width, outer.height), (outer.height, outer.width)];
    let off = |(w, h): (f64, f64)| (pose.centre - Point::new(left + w / 2.0, top + h / 2.0)).norm();
    ways.map(off).into_iter().reduce(f64::min)
}
