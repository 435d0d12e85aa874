//! Which matrix of a sensor holds in the light of a photo: the one for what its neutral references show to be white.

use crate::colour::camera::CameraColour;
use crate::colour::{Matrix, Xyz};
use nalgebra::Vector3;

/// How often white and matrix are worked out in turns: each neutral's own tint is seen through the matrix.
const TURNS: usize = 3;

/// Balanced sensor values to XYZ D50 in the light that neutral references show. The camera's own judgement of white is only where it
/// starts, and what is left if no neutral is seen.
pub(super) fn to_xyz(
    camera: &CameraColour,
    as_shot: Matrix,
    neutrals: &[([f64; 3], Xyz)],
) -> Matrix {
    let mut to_xyz = as_shot;
    for _ in 0..TURNS {
        let Some(seen) = white(&to_xyz, neutrals) else {
            break;
        };
        match camera.balanced_to_xyz(seen) {
            Some(next) => to_xyz = next,
            None => break,
        }
    }
    to_xyz
}

/// What white is in balanced values, green = 1: the mean of what the neutrals say in log light, light ones before dark ones, on which
/// stray light tells. None where none says anything.
fn white(to_xyz: &Matrix, neutrals: &[([f64; 3], Xyz)]) -> Option<[f64; 3]> {
    let from_xyz = to_xyz.try_inverse()?;
    let mut sum = [0.0; 3];
    let mut weights = 0.0;
    for (rgb, xyz) in neutrals {
        let stated = from_xyz * Vector3::new(xyz.x, xyz.y, xyz.z);
        let logs = [0, 1, 2].map(|c| (rgb[c] / stated[c]).ln());
        if logs.iter().all(|it| it.is_finite()) {
            for c in 0..3 {
                sum[c] += xyz.y * (logs[c] - logs[1]);
            }
            weights += xyz.y;
        }
    }
    (weights > 0.0).then(|| sum.map(|it| (it / weights).exp()))
}
