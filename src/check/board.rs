//! How the board lies in the photo: scale and tilt.

use super::{Finding, Item};
use crate::geometry::PlaneMap;
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::Photo;
use nalgebra::{Matrix3, Vector3};

/// Diagonal of the 35 mm frame, to which equivalent focal lengths refer, mm.
const FRAME_DIAGONAL_MM: f64 = 43.27;
/// Equivalent focal length of an ordinary phone's main camera, assumed where the photo states none, mm (common practice).
const ASSUMED_FOCAL_MM: f64 = 26.0;

/// Judged from the map alone.
pub(super) fn findings(photo: &Photo, panel: &Panel, located: &Located) -> Vec<Finding> {
    let scales = panel.patches.iter().filter(|it| !it.empty).map(|it| {
        located
            .panel
            .jacobian(it.rect.centre())
            .determinant()
            .abs()
            .sqrt()
    });
    let scale = scales.fold(f64::INFINITY, f64::min) * sensor_pixels(photo);
    let share = 100.0 * share_of_frame(photo, panel, located);
    let (focal, assumed) = match photo.metadata.focal_35mm {
        Some(focal) if focal > 0.0 => (focal, ""),
        _ => (
            ASSUMED_FOCAL_MM,
            "for a lens like 26 mm, as the photo names none",
        ),
    };
    vec![
        Finding::new(
            Item::Scale,
            scale,
            format!("where the board is farthest; it fills {share:.0} % of the photo"),
        ),
        match tilt_degrees(photo, &located.panel, focal) {
            Some(tilt) => Finding::new(Item::Tilt, tilt, assumed),
            None => Finding::not_judged(Item::Tilt, "the map has no camera that fits it"),
        },
    ]
}

/// Pixels of the sensor along a side of a pixel of the photo.
pub(super) fn sensor_pixels(photo: &Photo) -> f64 {
    #[expect(
        clippy::cast_precision_loss,
        reason = "pixel counts lie far below 2^52"
    )]
    let ratio = |[width, _]: [usize; 2]| width as f64 / photo.width as f64;
    photo.metadata.sensor.map_or(1.0, ratio)
}

/// Area of the panel's outer edge in the photo over the photo's, 0–1 (more where it runs out of the frame).
fn share_of_frame(photo: &Photo, panel: &Panel, located: &Located) -> f64 {
    let corners = panel.outer().corners().map(|it| located.panel.map(it));
    let doubled: f64 = (0..4)
        .map(|k| {
            let (p, q) = (corners[k], corners[(k + 1) % 4]);
            p.x * q.y - q.x * p.y
        })
        .sum();
    #[expect(
        clippy::cast_precision_loss,
        reason = "pixel counts lie far below 2^52"
    )]
    let frame = (photo.width * photo.height) as f64;
    doubled.abs() / 2.0 / frame
}

/// Angle between the board's normal and the optical axis, taken to pass through the middle of the photo.
///
/// The first two columns of K⁻¹H are the board's axes in the camera's frame, up to one scale (Zhang, *IEEE PAMI* 22
/// (2000) 1330–1334, section 2).
fn tilt_degrees(photo: &Photo, map: &PlaneMap, focal_35mm: f64) -> Option<f64> {
    #[expect(
        clippy::cast_precision_loss,
        reason = "pixel counts lie far below 2^52"
    )]
    let (width, height) = (photo.width as f64, photo.height as f64);
    let focal = focal_35mm / FRAME_DIAGONAL_MM * width.hypot(height);
    let camera = Matrix3::new(
        focal,
        0.0,
        width / 2.0, //
        0.0,
        focal,
        height / 2.0, //
        0.0,
        0.0,
        1.0,
    );
    let axes = camera.try_inverse()? * map.homography;
    let right: Vector3<f64> = axes.column(0).into();
    let down: Vector3<f64> = axes.column(1).into();
    let normal = right.cross(&down).try_normalize(0.0)?;
    Some(normal.z.abs().min(1.0).acos().to_degrees())
}
