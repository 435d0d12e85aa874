//! Photos that must not be measured: `masstone measure` says why and what to do, and writes no colour.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod real;
mod workshop;

use image::{Rgb, RgbImage};
use masstone_simulator::{FileKind, SceneSpec, Split, Trouble, Truth};
use std::fs;
use workshop::{Ran, Workshop};

/// Measures a photo that must be refused; nothing may be left behind.
#[track_caller]
fn refused(workshop: &Workshop, arguments: &str) -> Ran {
    let before = workshop.names();
    let ran = workshop
        .run(&format!("measure {arguments} --out r.csv"))
        .exits(1)
        .says(&["refused: ", "hint: ", "0 photos measured"]);
    assert!(!ran.stderr.contains("panicked"), "{ran:#?}");
    assert_eq!(workshop.names(), before);
    assert_eq!(ran.stdout, "");
    ran
}

/// Ordinary scenes with one thing wrong on purpose.
#[test]
fn a_scene_that_leaves_doubt_is_refused() {
    for (trouble, word) in [
        (Trouble::NoWitness, "which way is up"),
        (Trouble::WrongPanel, "the layout does not fit"),
        (Trouble::NoCard, ""),
        (Trouble::TwoPanels, ""),
        (Trouble::NoPanel, "no panel"),
    ] {
        let workshop = Workshop::empty();
        let scene = SceneSpec::troubled(trouble, Split::Test, 1).build();
        let size = scene.stored_size(1000);
        scene
            .write(&workshop.path("photo.jpg"), FileKind::Jpeg, size)
            .unwrap();
        scene.write_panel(&workshop.path(".")).unwrap();
        refused(&workshop, "photo.jpg --panel panel.toml").says(&[word]);
    }
}

/// The first photo with the card painted over.
fn with_card(workshop: &Workshop, name: &str, colour: Rgb<u8>) {
    let truth: Truth = serde_json::from_str(&workshop.read("1.jpg.truth.json")).unwrap();
    let corners = truth.cards[0].corners;
    let inside = |x: f64, y: f64| {
        (0..4).all(|i| {
            let ([ax, ay], [bx, by]) = (corners[i], corners[(i + 1) % 4]);
            (bx - ax) * (y - ay) - (by - ay) * (x - ax) >= 0.0
        })
    };
    let mut picture: RgbImage = image::open(workshop.path("1.jpg")).unwrap().into_rgb8();
    let mut painted = 0;
    for (x, y, pixel) in picture.enumerate_pixels_mut() {
        if inside(f64::from(x) + 0.5, f64::from(y) + 0.5) {
            *pixel = colour;
            painted += 1;
        }
    }
    assert!(painted > 500, "the card was found: {painted} pixels");
    workshop.copy("1.jpg", name);
    picture.save(workshop.path(name)).unwrap();
}

#[test]
fn a_card_that_says_nothing_is_refused() {
    let workshop = Workshop::new();
    with_card(&workshop, "clipped.png", Rgb([255; 3]));
    with_card(&workshop, "shadow.png", Rgb([1; 3]));
    for (photo, word) in [("clipped.png", "clipped"), ("shadow.png", "almost black")] {
        refused(&workshop, &format!("{photo} --panel panel.toml")).says(&[word]);
    }
}

#[test]
fn corners_that_make_no_sense_are_refused() {
    let workshop = Workshop::new();
    for corners in [
        "0,0,0,0,0,0,0,0",
        "0,0,1,1,2,2,3,3",
        "-5000,-5000,-4000,-5000,-4000,-4000,-5000,-4000",
        "1e300,0,1e300,1e300,0,1e300,0,0",
    ] {
        refused(
            &workshop,
            &format!("1.jpg --panel panel.toml --corners {corners}"),
        )
        .says(&["corners given by hand"]);
    }
}

/// A real photograph of pots in a grid, without any reference in view.
#[test]
fn a_real_photo_without_a_card_is_refused() {
    let Some(photos) = real::folder("real-photos") else {
        return;
    };
    let workshop = Workshop::new();
    fs::copy(photos.join("pots-no-card.jpg"), workshop.path("pots.jpg")).unwrap();
    refused(&workshop, "pots.jpg --panel panel.toml");
}
