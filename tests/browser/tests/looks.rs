//! What a page looks like, on screens and on paper, and to everybody.

mod desk;

use desk::Desk;
use image::Rgb;
use masstone_browser::{Media, Paper, audit, pdf};

#[test]
fn colours_come_back_as_they_are() {
    let desk = Desk::new();
    desk.page.viewport(200, 100, 2.0).unwrap();
    desk.show(
        "<style>body { margin: 0; height: 150px; background: lab(52.3 40 60.1) } #low { position: absolute; top: 140px; \
         height: 10px; width: 50px; background: #123456 }</style><div id=low></div>",
    );
    let picture = desk.page.screenshot().unwrap();
    assert_eq!(picture.dimensions(), (400, 200));
    // CIELAB D50 to sRGB as CSS Color 4 has it; #c65d06.
    for (ours, theirs) in picture
        .get_pixel(200, 100)
        .0
        .iter()
        .zip([0xc6_u8, 0x5d, 0x06])
    {
        assert!(
            ours.abs_diff(theirs) <= 1,
            "{:?}",
            picture.get_pixel(200, 100)
        );
    }
    let all = desk.page.screenshot_all().unwrap();
    assert_eq!(all.dimensions(), (400, 300));
    assert_eq!(*all.get_pixel(50, 290), Rgb([0x12, 0x34, 0x56]));
    let low = desk.page.screenshot_of("#low").unwrap();
    assert_eq!(low.dimensions(), (100, 20));
    assert!(low.pixels().all(|it| *it == Rgb([0x12, 0x34, 0x56])));
}

#[test]
fn the_medium_is_what_the_test_says() {
    let desk = Desk::new();
    desk.show(
        "<style>p { color: black } @media (prefers-color-scheme: dark) { p { color: white } } @media print { p { color: red } } \
         @media (color-gamut: p3) { p { outline: 1px solid blue } }</style><p>Oak",
    );
    let style = |what: &str| {
        desk.ask(&format!(
            "getComputedStyle(document.querySelector('p')).{what}"
        ))
    };
    assert_eq!(style("color"), "rgb(0, 0, 0)");
    let dark = [("prefers-color-scheme", "dark")];
    desk.page.emulate(Media::Screen, &dark).unwrap();
    assert_eq!(style("color"), "rgb(255, 255, 255)");
    desk.page.emulate(Media::Print, &[]).unwrap();
    assert_eq!(style("color"), "rgb(255, 0, 0)");
    assert_eq!(style("outlineStyle"), "none");
    desk.page
        .emulate(Media::Screen, &[("color-gamut", "p3")])
        .unwrap();
    assert_eq!(style("outlineStyle"), "solid");
    assert_eq!(style("color"), "rgb(0, 0, 0)");
    for (name, value) in [
        ("prefers-reduced-motion", "reduce"),
        ("prefers-contrast", "more"),
        ("forced-colors", "active"),
    ] {
        desk.page.emulate(Media::Screen, &[(name, value)]).unwrap();
    }
    let error = desk
        .page
        .emulate(Media::Screen, &[("orientation", "portrait")])
        .unwrap_err();
    assert!(
        error
            .to_string()
            .contains("does not emulate (orientation: portrait)"),
        "{error}"
    );
}

#[test]
fn contrast_and_small_targets_are_found_and_a_good_page_passes() {
    let desk = Desk::new();
    let page = |colour: &str, size: u32| {
        format!(
            "<main><h1>Boards</h1><p style='color: {colour}'>Two coats</p>\
             <button style='width: {size}px; height: {size}px; padding: 0' aria-label=More></button>\
             <button style='width: {size}px; height: {size}px; padding: 0' aria-label=Less></button></main>"
        )
    };
    desk.show(&page("#222", 40));
    let good = audit(&desk.page).unwrap();
    assert!(good.violations.is_empty(), "{good}");
    for rule in [
        "color-contrast",
        "target-size",
        "html-has-lang",
        "landmark-one-main",
    ] {
        assert!(
            good.passes.iter().any(|it| it.id == rule),
            "{rule} was not applied"
        );
    }
    // #aaa on white: 2.3 to 1.
    desk.show(&page("#aaa", 12));
    let bad = audit(&desk.page).unwrap();
    let rules: Vec<&str> = bad.violations.iter().map(|it| it.id.as_str()).collect();
    assert_eq!(rules, ["color-contrast", "target-size"], "{bad}");
    assert!(bad.to_string().contains("Two coats"), "{bad}");
    assert_eq!(desk.page.seen().unwrap().complaints, []);
}

#[test]
fn paper_has_its_size_and_its_pages() {
    let desk = Desk::new();
    desk.show("<p>One<p style='break-before: page'>Two");
    for paper in [Paper::A4, Paper::Letter] {
        let printed = desk.page.pdf(paper).unwrap();
        assert!(printed.starts_with(b"%PDF"));
        let sizes = pdf::page_sizes(&printed);
        assert_eq!(sizes.len(), 2, "{sizes:?}");
        for (width, height) in sizes {
            let (wanted_width, wanted_height) = paper.points();
            // Chromium cuts to whole points.
            assert!(
                (width - wanted_width).abs() < 1.0 && (height - wanted_height).abs() < 1.0,
                "{width} {height}"
            );
        }
    }
    desk.show("<style>@page { size: A5 landscape }</style><p>One");
    let sizes = pdf::page_sizes(&desk.page.pdf(Paper::A4).unwrap());
    assert!(
        (sizes[0].0 - 595.3).abs() < 1.0 && (sizes[0].1 - 419.5).abs() < 1.0,
        "{sizes:?}"
    );
}

#[test]
fn backgrounds_are_printed_only_if_asked_for() {
    let desk = Desk::new();
    desk.show("<p style='background: #c65d06; height: 5cm'>One");
    let with = desk.page.pdf(Paper::A4).unwrap();
    let without = desk.page.pdf_without_backgrounds(Paper::A4).unwrap();
    assert!(without.starts_with(b"%PDF") && with.len() > without.len());
}
