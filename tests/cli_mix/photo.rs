//! `mix match --photo`: a spot beside a card.

use crate::letdowns::{COAT, COATS, letdowns, truth};
use crate::workshop::Workshop;
use crate::{json, lab};
use image::{ImageFormat, Rgb, RgbImage, imageops};
use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;
use masstone::colour::srgb::to_rgb8;
use std::io::Cursor;

const BOXES: &str = "--card-at 120,220,160,160 --spot 510,260,100,100";

/// A table with a grey card and a sample on it, as upright pixels.
fn picture(sample: Lab) -> RgbImage {
    let within = |x: u32, y: u32, left: u32, top: u32, side: u32| {
        (left..left + side).contains(&x) && (top..top + side).contains(&y)
    };
    let [table, grey, sample] = [
        Lab::new(72.0, 6.0, 20.0),
        Lab::new(49.496, 0.0, 0.0),
        sample,
    ]
    .map(to_rgb8);
    RgbImage::from_fn(900, 600, |x, y| {
        Rgb(if within(x, y, 100, 200, 200) {
            grey
        } else if within(x, y, 500, 250, 120) {
            sample
        } else {
            table
        })
    })
}

fn as_png(workshop: &Workshop, name: &str, sample: Lab) {
    picture(sample)
        .save_with_format(workshop.path(name), ImageFormat::Png)
        .unwrap();
}

/// Stored a quarter turn to the left, with the tag that turns it upright.
fn as_turned_jpeg(workshop: &Workshop, name: &str, sample: Lab) {
    let mut bytes = Vec::new();
    imageops::rotate270(&picture(sample))
        .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Jpeg)
        .unwrap();
    // Exif: little-endian TIFF with one entry, tag 274 (orientation), a SHORT of 6.
    let mut exif =
        b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0".to_vec();
    let length = u16::try_from(exif.len() + 2).unwrap().to_be_bytes();
    let mut segment = vec![0xff, 0xe1, length[0], length[1]];
    segment.append(&mut exif);
    bytes.splice(2..2, segment);
    std::fs::write(workshop.path(name), bytes).unwrap();
}

#[test]
fn a_sample_is_measured_within_its_u95_whichever_way_the_photo_is_stored() {
    let workshop = letdowns();
    let sample = truth(&[("PR101", 3.0)], COATS * COAT);
    as_png(&workshop, "sample.png", sample);
    as_turned_jpeg(&workshop, "turned.jpg", sample);
    let of = |photo: &str| {
        json(workshop.run(&format!("mix match --photo {photo} {BOXES} --format json")))
    };
    let colours = ["sample.png", "turned.jpg"].map(|photo| {
        let answer = of(photo);
        let wanted = lab(&answer["wanted"]);
        let u95 = answer["wanted"]["U95"].as_f64().unwrap();
        let off = delta_e_2000(wanted, sample);
        assert!(u95 > 0.3 && off <= u95, "{photo}: {off} beyond {u95}");
        assert_eq!(answer["groups"][0][0]["reaches"], true, "{answer:#}");
        wanted
    });
    assert!(delta_e_2000(colours[0], colours[1]) < 0.7, "{colours:?}");
}

#[test]
fn a_sample_is_kept_as_a_swatch_of_unknown_pigments() {
    let workshop = letdowns();
    as_png(&workshop, "sample.png", Lab::new(45.0, 25.0, 25.0));
    let run = || {
        workshop.run(&format!(
            "mix match --photo sample.png {BOXES} --save chair"
        ))
    };
    run()
        .exits(0)
        .says(&["1 photo saved (1 reading), 0 there already"]);
    run()
        .exits(0)
        .says(&["0 photos saved (0 readings), 1 there already"]);
    let shown = workshop.run("library show chair/spot").exits(0).stdout;
    assert!(shown.contains("not stated"), "{shown}");
    // As a target it is what was measured, and nobody is told that it is no trial.
    let again = workshop.run("mix match chair/spot").exits(0);
    assert!(
        again.stdout.contains("Wanted: chair/spot") || again.stdout.contains("Wanted: swatch"),
        "{again:?}"
    );
    assert!(!again.stderr.contains("left out"), "{again:?}");
    // By the name that it was given, too.
    workshop.run("mix match chair").exits(0);
    // The same name for another place is a conflict, and nothing is lost.
    workshop
        .run("mix match --photo sample.png --card-at 120,220,160,160 --spot 30,30,40,40 --save chair")
        .exits(1)
        .says(&["in conflict"]);
}

#[test]
fn a_box_with_two_colours_in_it_is_doubted() {
    let workshop = letdowns();
    as_png(&workshop, "sample.png", Lab::new(45.0, 25.0, 25.0));
    let of = |spot: &str| {
        workshop
            .run(&format!(
                "mix match --photo sample.png --card-at 120,220,160,160 --spot {spot}"
            ))
            .stdout
    };
    let says = "The spot is not of one colour.";
    assert!(of("440,260,120,100").contains(says));
    assert!(!of("510,260,100,100").contains(says));
}

#[test]
fn boxes_that_cannot_be_are_refused() {
    let workshop = letdowns();
    as_png(&workshop, "sample.png", Lab::new(45.0, 25.0, 25.0));
    let run = |boxes: &str| workshop.run(&format!("mix match --photo sample.png {boxes}"));
    for (boxes, says) in [
        (
            "--card-at 120,220,160,160 --spot 850,260,100,100",
            "not within the picture of 900 × 600 pixels",
        ),
        ("--card-at 120,220,160,160 --spot 510,260,5,5", "too small"),
        (
            "--card-at 120,220,160,160 --spot 200,260,100,100",
            "the spot lies on the card",
        ),
        (
            "--card-at 120,220,160,160 --spot 510,260",
            "X,Y,WIDTH,HEIGHT",
        ),
        (
            "--card-at 120,220,160,160 --spot 510,260,100,100 --card gray",
            "there is no card \"gray\"",
        ),
    ] {
        run(boxes).exits(2).says(&[says]);
    }
    workshop
        .run(&format!("mix match --photo none.png {BOXES}"))
        .exits(1)
        .says(&["none.png"]);
    // A card that is black in the photo is none.
    let mut dark = picture(Lab::new(45.0, 25.0, 25.0));
    for y in 200..400 {
        for x in 100..300 {
            dark.put_pixel(x, y, Rgb([2, 2, 2]));
        }
    }
    dark.save(workshop.path("dark.png")).unwrap();
    workshop
        .run(&format!("mix match --photo dark.png {BOXES}"))
        .exits(1)
        .says(&["almost black"]);
}
