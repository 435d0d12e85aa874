//! The proof shows what was measured where it is, the same way up however the camera stored it.

#![expect(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "coordinates that lie inside a small picture"
)]

mod shot;

use image::{ImageDecoder, ImageReader, RgbImage};
use masstone::colour::Lab;
use masstone::colour::srgb::to_rgb8;
use masstone::correct::{Options, Outcome, Tone, correct};
use masstone::geometry::{PlaneMap, Point};
use masstone::photo::Pixels;
use masstone::picture::{LONGEST_SIDE, proof, write_jpeg};
use masstone::reference::references;
use masstone::sample::Samples;
use masstone_simulator as sim;
use nalgebra::Matrix3;
use shot::{Shot, points, shoot};

/// Where the photo's view begins on the sheet.
const PHOTO_AT: [f64; 2] = [24.0, 58.0];

fn scene(seed: u64) -> sim::SceneSpec {
    let mut spec = sim::SceneSpec::draw(sim::Mixture::Flawless, sim::Split::Test, seed);
    spec.pose.turn = 2.0;
    spec.pose.fill = 0.85;
    spec.stored_as = 1;
    spec.tag = Some(1);
    spec.highlights.clear();
    spec
}

fn corrected(shot: &Shot, samples: &Samples) -> Outcome {
    let known = references(&shot.panel, samples);
    correct(samples, &known, &Options { tone: Tone::Auto }).unwrap()
}

fn draw(shot: &Shot) -> RgbImage {
    let samples = shot.samples();
    let outcome = corrected(shot, &samples);
    proof(
        &shot.photo,
        &shot.panel,
        &shot.located,
        &samples,
        &outcome.correction,
        &outcome.readings,
    )
}

/// Where a stored pixel of an upright photo lies on the sheet.
fn on_sheet(shot: &Shot, p: Point) -> Point {
    let longest = shot.photo.width.max(shot.photo.height) as f64;
    let scale = LONGEST_SIDE as f64 / longest;
    Point::new(PHOTO_AT[0] + p.x * scale, PHOTO_AT[1] + p.y * scale)
}

fn pixel(sheet: &RgbImage, p: Point) -> [i32; 3] {
    sheet.get_pixel(p.x as u32, p.y as u32).0.map(i32::from)
}

#[test]
fn outlines_lie_inside_the_true_patches_and_are_drawn_there() {
    let mut spec = scene(11);
    spec.layout.masked = Some(sim::Side::Left);
    let shot = shoot(&spec, 2400);
    let (samples, sheet) = (shot.samples(), draw(&shot));
    assert_eq!(samples.patches.len(), shot.truth.patches.len());
    for (region, truth) in samples.patches.iter().zip(&shot.truth.patches) {
        let unit = masstone::geometry::Rect {
            x: 0.0,
            y: 0.0,
            width: 1.0,
            height: 1.0,
        };
        let inside = PlaneMap::fit(&points(&truth.quad), &unit.corners()).unwrap();
        let corners = region.outline.map(|it| Point::new(it[0], it[1]));
        for corner in corners {
            let at = inside.map(corner);
            let from_edge = [at.x, 1.0 - at.x, at.y, 1.0 - at.y];
            let nearest = from_edge.into_iter().fold(1.0, f64::min);
            assert!(
                nearest > 0.02 && nearest < 0.25,
                "{} {:?}: {at}",
                truth.id,
                truth.half
            );
        }
        // The line itself: brighter or more coloured than what it lies on, in the middle of the left edge.
        let expected: [i32; 3] = match truth.half {
            sim::Half::Exposed => [255, 200, 40],
            _ => [110, 190, 255],
        };
        let shares = (1..200).map(|k| f64::from(k) / 200.0);
        let drawn = shares.filter(|share| {
            let p = on_sheet(&shot, corners[0] + (corners[3] - corners[0]) * *share);
            let seen = pixel(&sheet, p);
            seen.iter().zip(expected).all(|(a, b)| (a - b).abs() < 60)
        });
        // A dashed line has gaps, and a letter may cross it. Places close together, so that the count doesn't hang on where
        // the dashes begin.
        let drawn = drawn.count();
        assert!(
            drawn >= 74,
            "no outline on {} {:?}: {drawn} of 199 places",
            truth.id,
            truth.half
        );
    }
}

#[test]
fn pixels_that_were_left_out_are_tinted_and_no_others() {
    let mut spec = scene(11);
    spec.layout.masked = None;
    let layout = &spec.layout;
    let centre = [0, 1].map(|k| layout.cell(0)[k] + layout.patch[k] * 0.25);
    let size = layout.patch.map(|it| 0.1 * it);
    let is_tint = |p: &[i32; 3]| p[0] > 190 && p[1] < 120 && p[2] > 140;
    let count = |shot: &Shot, sheet: &RgbImage, quad: &sim::Quad| {
        let [a, _, c, _] = points(quad).map(|it| on_sheet(shot, it));
        let mut tinted = 0;
        for y in a.y as u32..c.y as u32 {
            for x in a.x as u32..c.x as u32 {
                tinted += usize::from(is_tint(&sheet.get_pixel(x, y).0.map(i32::from)));
            }
        }
        tinted
    };
    let plain = shoot(&spec, 2400);
    let sheet = draw(&plain);
    let before = count(&plain, &sheet, &plain.truth.patches[0].quad);
    spec.highlights = vec![sim::Highlight {
        at: centre,
        size,
        angle: 0.0,
        peak: 0.8,
    }];
    let shot = shoot(&spec, 2400);
    let sheet = draw(&shot);
    let after = count(&shot, &sheet, &shot.truth.patches[0].quad);
    assert!(before < 20, "{before} tinted without a highlight");
    assert!(after > 200, "{after} tinted");
    // The highlight's middle itself.
    let map = PlaneMap::fit(&shot.panel.extent().corners(), &points(&shot.truth.grid)).unwrap();
    let middle = on_sheet(&shot, map.map(Point::new(centre[0], centre[1])));
    assert!(
        is_tint(&pixel(&sheet, middle)),
        "{:?}",
        pixel(&sheet, middle)
    );
    // A patch at the other end has none.
    let last = shot.truth.patches.last().unwrap();
    assert!(count(&shot, &sheet, &last.quad) < 20);
}

/// The shot as a camera held in one of eight ways stores it: stored pixels moved, every map with them.
fn stored(shot: &Shot, way: usize) -> Shot {
    let (width, height) = (shot.photo.width, shot.photo.height);
    let (w, h) = (width as f64, height as f64);
    // New pixel coordinates of an old point, homogeneous.
    let matrix = [
        Matrix3::identity(),
        Matrix3::new(-1.0, 0.0, w, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0),
        Matrix3::new(-1.0, 0.0, w, 0.0, -1.0, h, 0.0, 0.0, 1.0),
        Matrix3::new(1.0, 0.0, 0.0, 0.0, -1.0, h, 0.0, 0.0, 1.0),
        Matrix3::new(0.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0),
        Matrix3::new(0.0, -1.0, h, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0),
        Matrix3::new(0.0, -1.0, h, -1.0, 0.0, w, 0.0, 0.0, 1.0),
        Matrix3::new(0.0, 1.0, 0.0, -1.0, 0.0, w, 0.0, 0.0, 1.0),
    ][way];
    let mut photo = shot.photo.clone();
    (photo.width, photo.height) = if way < 4 {
        (width, height)
    } else {
        (height, width)
    };
    let (Pixels::U8(from), Pixels::U8(to)) = (&shot.photo.pixels, &mut photo.pixels) else {
        panic!("8 bits")
    };
    for y in 0..height {
        for x in 0..width {
            let at = matrix * nalgebra::Vector3::new(x as f64 + 0.5, y as f64 + 0.5, 1.0);
            let new = 3 * (at.y as usize * photo.width + at.x as usize);
            let old = 3 * (y * width + x);
            to[new..new + 3].copy_from_slice(&from[old..old + 3]);
        }
    }
    let moved = |map: &PlaneMap| PlaneMap::new(matrix * map.homography);
    let mut located = shot.located.clone();
    located.panel = moved(&shot.located.panel);
    for card in &mut located.cards {
        card.map = moved(&card.map);
    }
    Shot {
        photo,
        panel: shot.panel.clone(),
        located,
        truth: shot.truth.clone(),
    }
}

#[test]
fn the_proof_is_the_same_way_up_however_the_camera_stored_it() {
    let upright = shoot(&scene(11), 1000);
    let expected = draw(&upright);
    for way in 1..8 {
        let sheet = draw(&stored(&upright, way));
        assert_eq!(sheet.dimensions(), expected.dimensions(), "way {way}");
        let differences = sheet.pixels().zip(expected.pixels()).map(|(a, b)| {
            let parts = a.0.iter().zip(b.0).map(|(x, y)| f64::from(x.abs_diff(y)));
            parts.sum::<f64>() / 3.0
        });
        let mean = differences.sum::<f64>() / f64::from(sheet.width() * sheet.height());
        assert!(mean < 0.5, "way {way}: {mean} codes");
    }
    // The measure means something: a sheet of another way up differs by far more.
    let other = image::imageops::rotate180(&expected);
    let differences = other.pixels().zip(expected.pixels());
    let mean = differences
        .map(|(a, b)| f64::from(a.0[1].abs_diff(b.0[1])))
        .sum::<f64>()
        / f64::from(other.width() * other.height());
    assert!(mean > 5.0, "{mean}");
}

#[test]
fn a_board_turned_in_the_frame_stands_upright() {
    for turn in [90_u16, 180, 270] {
        let mut spec = scene(11);
        spec.layout.masked = None;
        spec.pose.turn = f64::from(turn);
        let shot = shoot(&spec, 1000);
        let sheet = draw(&shot);
        // The photo's view is as large as the stored picture, turned if the board is.
        let [w, h] = [shot.photo.width, shot.photo.height];
        let view = if turn == 180 { [w, h] } else { [h, w] };
        // A1's id is written in the upper left: its true colour is found there after undoing the turn.
        let truth = &shot.truth.patches[0];
        let quad = points(&truth.quad);
        let p = quad[0] + (quad[2] - quad[0]) * 0.2;
        let (x, y) = (p.x, p.y);
        let at = match turn {
            90 => [y, w as f64 - x],
            180 => [w as f64 - x, h as f64 - y],
            _ => [h as f64 - y, x],
        };
        assert!(
            at[0] < view[0] as f64 / 2.0 && at[1] < view[1] as f64 / 2.0,
            "{turn}"
        );
        let seen = pixel(&sheet, Point::new(PHOTO_AT[0] + at[0], PHOTO_AT[1] + at[1]));
        let [sx, sy] = [x as usize, y as usize];
        let expected = shot.photo.code(sx, sy).map(i32::from);
        let close = seen.iter().zip(expected).all(|(a, b)| (a - b).abs() < 40);
        assert!(close, "{turn}: {seen:?} for {expected:?}");
    }
}

#[test]
fn ids_that_cannot_be_read_on_their_patches_give_way_to_positions() {
    let mut shot = shoot(&scene(11), 1000);
    let mut by_position = shot.panel.clone();
    for patch in &mut by_position.patches {
        patch.id = patch.position().unwrap();
    }
    for (index, patch) in shot.panel.patches.iter_mut().enumerate() {
        patch.id = format!("an-identifier-that-no-patch-could-ever-hold-{index:03}");
    }
    let long = draw(&shot);
    shot.panel = by_position;
    let short = draw(&shot);
    // The views are the same; the lines below tell.
    assert_eq!(long.width(), short.width());
    let below = PHOTO_AT[1] as u32 + shot.photo.height as u32;
    let differing = |rows: std::ops::Range<u32>| {
        let places = rows.flat_map(|y| (0..long.width()).map(move |x| (x, y)));
        places
            .filter(|(x, y)| long.get_pixel(*x, *y) != short.get_pixel(*x, *y))
            .count()
    };
    assert_eq!(differing(0..below), 0);
    assert!(differing(below..long.height().min(short.height())) > 100);
}

#[test]
fn a_sheet_is_as_wide_as_the_words_above_its_views() {
    // A strip of a photo: 8 pixels by 1000.
    let mut shot = shoot(&scene(11), 1000);
    let (width, height) = (8, shot.photo.height);
    let Pixels::U8(pixels) = &shot.photo.pixels else {
        panic!("8 bits")
    };
    let rows = pixels.chunks_exact(3 * shot.photo.width);
    let strip = rows.flat_map(|it| it[..3 * width].to_vec()).collect();
    shot.photo.pixels = Pixels::U8(strip);
    (shot.photo.width, shot.photo.height) = (width, height);
    let samples = shot.samples();
    let whole = shoot(&scene(11), 1000);
    let outcome = corrected(&whole, &whole.samples());
    let sheet = proof(
        &shot.photo,
        &shot.panel,
        &shot.located,
        &samples,
        &outcome.correction,
        &outcome.readings,
    );
    // 31 and 44 letters of 19 px, about half as wide as high.
    assert!(sheet.width() > 600, "{}", sheet.width());
}

#[test]
fn the_calibrated_view_has_the_true_colours() {
    let mut spec = scene(11);
    spec.field.linear = [0.15, -0.1];
    spec.layout.masked = None;
    let shot = shoot(&spec, 2400);
    let samples = shot.samples();
    let readings = corrected(&shot, &samples).readings;
    let sheet = draw(&shot);
    // Pixels of the right half of the sheet, where the calibrated view lies, that have a colour within some codes.
    let shown = |lab: Lab, within: i32| {
        let expected = to_rgb8(lab).map(i32::from);
        let close = sheet.enumerate_pixels().filter(|(x, _, p)| {
            let seen = p.0.map(i32::from);
            let same = seen
                .iter()
                .zip(expected)
                .all(|(a, b)| (a - b).abs() <= within);
            *x > sheet.width() / 2 && same
        });
        close.count() >= 400
    };
    let (mut as_read, mut true_ones, mut all) = (0, 0, 0);
    for (reading, truth) in readings.iter().zip(&shot.truth.patches) {
        let lab = reading.lab.unwrap();
        if to_rgb8(lab).iter().any(|it| *it < 3 || *it > 252) {
            continue; // at the edge of sRGB the view clips
        }
        let [l, a, b] = truth.lab;
        all += 1;
        as_read += usize::from(shown(lab, 4));
        true_ones += usize::from(shown(Lab::new(l, a, b), 8));
    }
    assert!(all > 20, "{all}");
    assert_eq!(as_read, all, "the view doesn't show the readings");
    // One grey card leaves some colours off by what the camera can't tell apart.
    assert!(10 * true_ones >= 9 * all, "{true_ones} of {all}");
}

#[test]
fn pictures_state_srgb() {
    let picture = RgbImage::from_fn(40, 30, |x, y| image::Rgb([x as u8, y as u8, 7]));
    let mut file = Vec::new();
    write_jpeg(&picture, &mut file).unwrap();
    let mut decoder = ImageReader::new(std::io::Cursor::new(file))
        .with_guessed_format()
        .unwrap()
        .into_decoder()
        .unwrap();
    assert_eq!(decoder.dimensions(), (40, 30));
    let profile = decoder.icc_profile().unwrap().expect("a profile");
    let profile = moxcms::ColorProfile::new_from_slice(&profile).unwrap();
    let srgb = moxcms::ColorProfile::new_srgb();
    let (seen, stated) = (profile.rgb_to_xyz_matrix(), srgb.rgb_to_xyz_matrix());
    for (a, b) in seen.v.iter().flatten().zip(stated.v.iter().flatten()) {
        assert!((a - b).abs() < 1e-3, "{seen:?}");
    }
}
