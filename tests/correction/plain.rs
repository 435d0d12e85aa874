//! The plain method that ours is compared with: what anybody would do who knows where everything lies.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "pixels of a picture"
)]

use masstone::colour::{Lab, Matrix, lab};
use masstone::geometry::{PlaneMap, Point, Rect};
use masstone::photo::Photo;
use masstone_simulator as sim;
use nalgebra::Vector3;

pub(crate) fn points(quad: &sim::Quad) -> Vec<Point> {
    quad.iter().map(|it| Point::new(it[0], it[1])).collect()
}

/// Linear medians of the inner part of a quad.
fn plain_rgb(photo: &Photo, quad: &sim::Quad) -> [f64; 3] {
    let map = PlaneMap::fit(
        &Rect {
            x: 0.0,
            y: 0.0,
            width: 1.0,
            height: 1.0,
        }
        .corners(),
        &points(quad),
    );
    let mut values: [Vec<f32>; 3] = Default::default();
    if let Some(map) = map {
        for i in 0..40 {
            for j in 0..40 {
                let p = map.map(Point::new(
                    0.2 + 0.6 * (f64::from(i) + 0.5) / 40.0,
                    0.2 + 0.6 * (f64::from(j) + 0.5) / 40.0,
                ));
                let (x, y) = (p.x.floor() as usize, p.y.floor() as usize);
                if x < photo.width && y < photo.height {
                    let rgb = photo.linear(x, y);
                    for c in 0..3 {
                        values[c].push(rgb[c]);
                    }
                }
            }
        }
    }
    values.map(|mut it| {
        it.sort_by(f32::total_cmp);
        it.get(it.len() / 2).map_or(1e-6, |v| f64::from(*v))
    })
}

/// The plain method: inverse encoding, one gain a channel from the grey, XYZ to Lab, median.
pub(crate) fn plain(photo: &Photo, truth: &sim::Truth) -> Vec<Lab> {
    let card = &truth.cards[0];
    let grey = match card.kind {
        sim::CardKind::Grey18 => 0,
        sim::CardKind::WhiteGreyBlack => 1,
        sim::CardKind::Chart24 => 21,
    };
    let seen = plain_rgb(photo, &card.zones[grey].quad);
    let nominal = card.kind.nominal()[grey];
    let xyz = lab::to_xyz(Lab::new(nominal[0], nominal[1], nominal[2]));
    let to_xyz: Matrix = photo.encoding.to_xyz;
    let stated =
        to_xyz.try_inverse().expect("a profile has an inverse") * Vector3::new(xyz.x, xyz.y, xyz.z);
    truth
        .patches
        .iter()
        .map(|it| {
            let rgb = plain_rgb(photo, &it.quad);
            let balanced = Vector3::new(
                rgb[0] * stated[0] / seen[0],
                rgb[1] * stated[1] / seen[1],
                rgb[2] * stated[2] / seen[2],
            );
            let xyz = to_xyz * balanced;
            lab::from_xyz(masstone::colour::Xyz::new(xyz.x, xyz.y, xyz.z))
        })
        .collect()
}
