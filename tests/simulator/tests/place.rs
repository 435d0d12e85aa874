//! Where things lie in the picture: against numbers by hand, and every way there and back.

use masstone_simulator::{Mixture, Pixels, Pose, SceneSpec, Split, View};

fn pose(tilt: f64, turn: f64) -> Pose {
    Pose {
        turn,
        tilt,
        towards: 0.0,
        fill: 0.5,
        shift: [0.0, 0.0],
        focal: 0.75,
        distortion: 0.0,
    }
}

const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];

fn near(own: [f64; 2], by_hand: [f64; 2], within: f64) {
    let off = (own[0] - by_hand[0]).hypot(own[1] - by_hand[1]);
    assert!(off < within, "{own:?} is not {by_hand:?}");
}

/// Looking straight down, a square that fills half of the short side of 400 × 300 is 150 pixels wide, in the middle.
#[test]
fn straight_down_by_hand() {
    let view = View::new(&pose(0.0, 0.0), [400.0, 300.0], 1, &SQUARE);
    near(view.stored_px([0.0, 0.0], 0.0), [125.0, 75.0], 1e-6);
    near(view.stored_px([100.0, 100.0], 0.0), [275.0, 225.0], 1e-6);
    // Focal length 0.75 · 400 = 300 px: 1.5 px a millimetre means 200 mm away. 20 mm up: 180 mm away, 300/180 px a mm.
    assert!((view.centre()[2] + 200.0).abs() < 1e-6);
    near(
        view.stored_px([100.0, 50.0], 20.0),
        [200.0 + 50.0 * 300.0 / 180.0, 150.0],
        1e-6,
    );
}

/// A quarter turn clockwise takes the square's own top left corner to the picture's top right.
#[test]
fn a_turn_is_clockwise() {
    let view = View::new(&pose(0.0, 90.0), [400.0, 300.0], 1, &SQUARE);
    near(view.stored_px([0.0, 0.0], 0.0), [275.0, 75.0], 1e-6);
    near(view.stored_px([100.0, 0.0], 0.0), [275.0, 225.0], 1e-6);
}

/// Tilted by 30° about the x axis through the middle, at distance d in millimetres and f in pixels, a point 50 mm up the board
/// from where the axis meets it is at f·50·cos 30° / (d ± 50·sin 30°) from the middle of the picture.
#[test]
fn tilted_by_hand() {
    let view = View::new(&pose(30.0, 0.0), [400.0, 300.0], 1, &SQUARE);
    let [cx, cy, cz] = view.centre();
    let aim = view.to_mm([200.0, 150.0]).unwrap();
    let d = ((aim[0] - cx).powi(2) + (aim[1] - cy).powi(2) + cz.powi(2)).sqrt();
    assert!((cx - 50.0).abs() < 1e-9 && ((-cz / d).acos().to_degrees() - 30.0).abs() < 1e-9);
    let angle = 30f64.to_radians();
    for side in [-1.0, 1.0] {
        let seen = view.stored_px([aim[0], aim[1] + 50.0 * side], 0.0);
        let depth = d + 50.0 * side * angle.sin();
        near(
            seen,
            [200.0, 150.0 + side * 300.0 * 50.0 * angle.cos() / depth],
            1e-9,
        );
    }
}

/// Barrel distortion k draws a point at ideal radius r(1 + k r²) to r, in half diagonals.
#[test]
fn distortion_by_hand() {
    let plain = View::new(&pose(0.0, 0.0), [400.0, 300.0], 1, &SQUARE);
    let bent = View::new(
        &Pose {
            distortion: 0.1,
            ..pose(0.0, 0.0)
        },
        [400.0, 300.0],
        1,
        &SQUARE,
    );
    // The stored pixel at half the half diagonal (125 px right of the middle): ideal 0.5·(1 + 0.1·0.25) = 0.5125.
    let mm = bent.to_mm([325.0, 150.0]).unwrap();
    let scale = bent.centre()[2] / plain.centre()[2];
    let ideal = [200.0 + 0.5125 * 250.0, 150.0];
    let expected = plain.to_mm(ideal).unwrap();
    assert!(
        (mm[0] - 50.0 - (expected[0] - 50.0) * scale).abs() < 1e-9,
        "{mm:?} {expected:?}"
    );
}

#[test]
fn there_and_back_for_every_scene_and_orientation() {
    for seed in 0..40 {
        let mut spec = SceneSpec::draw(Mixture::Hard, Split::Study, seed);
        for orientation in 1..=8 {
            spec.stored_as = orientation;
            let scene = spec.build();
            let view = scene.view(scene.stored_size(4032));
            for mm in [[0.0, 0.0], [120.0, 35.0], [-20.0, 80.0]] {
                near(view.to_mm(view.stored_px(mm, 0.0)).unwrap(), mm, 1e-6);
            }
        }
    }
}

/// All of board and cards is in the picture, and the pose fills it as asked.
#[test]
fn everything_is_in_view() {
    for seed in 0..200 {
        let scene = SceneSpec::draw(Mixture::Ordinary, Split::Test, seed).build();
        let size = scene.stored_size(4032);
        let truth = scene.truth(size);
        let corners = truth
            .board
            .iter()
            .chain(truth.cards.iter().flat_map(|it| &it.corners));
        for [x, y] in corners {
            assert!(
                *x > 0.0 && *y > 0.0 && *x < f64::from(size[0]) && *y < f64::from(size[1]),
                "scene {seed}: {x} {y}"
            );
        }
    }
}

/// The eight orientations hold the same picture: undone by the `image` crate, the pixels agree.
#[test]
fn orientations_undone_are_one_picture() {
    let mut spec = SceneSpec::draw(Mixture::Ordinary, Split::Study, 3);
    (spec.camera.shot_noise, spec.camera.read_noise) = (0.0, 0.0);
    let upright = |orientation: u8| {
        let spec = SceneSpec {
            stored_as: orientation,
            tag: Some(orientation),
            ..spec.clone()
        };
        let picture = spec.build().render_small(320);
        let Pixels::U8(values) = picture.pixels else {
            unreachable!()
        };
        let mut image = image::DynamicImage::from(
            image::RgbImage::from_raw(picture.width, picture.height, values).unwrap(),
        );
        image.apply_orientation(image::metadata::Orientation::from_exif(orientation).unwrap());
        image.into_rgb8()
    };
    let first = upright(1);
    for orientation in 2..=8 {
        let other = upright(orientation);
        assert_eq!(first.dimensions(), other.dimensions());
        let most = first
            .as_raw()
            .iter()
            .zip(other.as_raw())
            .map(|(a, b)| a.abs_diff(*b))
            .max()
            .unwrap();
        // The local tone's preview and single precision may move a rounding.
        assert!(most <= 2, "orientation {orientation} differs by {most}");
    }
}

/// The pixel that a coordinate lies in.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "within the picture"
)]
fn whole(coordinate: f64) -> usize {
    coordinate as usize
}

/// The quadrilaterals lie on what is drawn: the mean of each patch's inner pixels is that patch's colour.
#[test]
fn quads_lie_on_their_patches() {
    let mut spec = SceneSpec::draw(Mixture::Flawless, Split::Study, 5);
    (spec.camera.shot_noise, spec.camera.read_noise, spec.mottle) = (0.0, 0.0, 0.0001);
    let picture = spec.build().render_small(800);
    let Pixels::U8(values) = &picture.pixels else {
        unreachable!()
    };
    for patch in &picture.truth.patches {
        let middle = [0, 1].map(|i| patch.quad.iter().map(|it| it[i]).sum::<f64>() / 4.0);
        let toward = |corner: [f64; 2]| [0, 1].map(|i| middle[i] + 0.7 * (corner[i] - middle[i]));
        let at = |[x, y]: [f64; 2]| {
            let index = (whole(y) * picture.width as usize + whole(x)) * 3;
            [values[index], values[index + 1], values[index + 2]]
        };
        let centre = at(middle);
        for corner in patch.quad {
            let other = at(toward(corner));
            let most = centre
                .iter()
                .zip(other)
                .map(|(a, b)| a.abs_diff(b))
                .max()
                .unwrap();
            assert!(
                most <= 25,
                "{} {:?}: {centre:?} {other:?}",
                patch.id,
                patch.half
            );
        }
    }
}
