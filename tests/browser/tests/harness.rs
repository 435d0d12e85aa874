//! The browser of the tests, held against pages of which it is known what is right.

use image::Rgb;
use masstone_browser::{
    Browser, Complaint, Key, Media, Modifier, Outcome, Page, Paper, Site, audit, pdf,
};
use serde_json::json;
use std::fs;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A folder of written pages, served, and a page to open them in.
struct Desk {
    folder: TempDir,
    site: Site,
    page: Page,
    _browser: Arc<Browser>,
}

impl Desk {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let site = Site::serve(folder.path()).expect("a site");
        let browser = Browser::shared().expect("Chromium");
        let page = browser.page().expect("a page");
        Self {
            folder,
            site,
            page,
            _browser: browser,
        }
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.folder.path().join(name), text).expect("written");
    }

    /// Opens a page with this body.
    fn show(&self, body: &str) {
        self.show_with("", body);
    }

    /// Opens a page with this body, and this in its head.
    fn show_with(&self, head: &str, body: &str) {
        self.write(
            "page.html",
            &format!(
                "<!doctype html><html lang=en><meta charset=utf-8><title>Boards</title><link rel=icon href=data:,>{head}\
                 <body>{body}"
            ),
        );
        self.page.open(&self.site.url("page.html")).expect("opened");
    }

    fn ask(&self, expression: &str) -> serde_json::Value {
        self.page.evaluate(expression).expect(expression)
    }
}

#[test]
fn a_page_in_order_has_nothing_to_complain_of() {
    let desk = Desk::new();
    desk.show("<p>Larch, two coats");
    let seen = desk.page.seen().unwrap();
    assert_eq!(seen.complaints, []);
    let asked: Vec<&str> = seen.requests.iter().map(|it| it.url.as_str()).collect();
    assert_eq!(asked[0], desk.site.url("page.html"));
    assert_eq!(seen.requests_beyond(&desk.site.url("")), Vec::<&str>::new());
    assert!(seen.failed_requests().is_empty(), "{seen:?}");
    assert_eq!(seen.requests[0].outcome, Outcome::Answered(200));
}

#[test]
fn errors_of_all_kinds_are_noticed() {
    let desk = Desk::new();
    desk.show(
        "<script>console.error('no hue', 3); console.log('fine')</script><script>throw new Error('too thick')</script>\
         <script>Promise.reject(new Error('never dried'))</script><script>alert('wet')</script><img src=none.png alt=''>",
    );
    let seen = desk.page.seen().unwrap();
    let has = |wanted: &dyn Fn(&Complaint) -> bool| {
        assert_eq!(
            seen.complaints.iter().filter(|it| wanted(it)).count(),
            1,
            "{seen:#?}"
        );
    };
    has(&|it| *it == Complaint::Console("no hue 3".into()));
    has(&|it| matches!(it, Complaint::Uncaught(it) if it.contains("too thick")));
    has(&|it| matches!(it, Complaint::Uncaught(it) if it.contains("never dried")));
    has(&|it| *it == Complaint::Dialog("wet".into()));
    has(&|it| matches!(it, Complaint::Log(it) if it.contains("404") && it.contains("none.png")));
    assert_eq!(seen.complaints.len(), 5, "{seen:#?}");
    assert_eq!(seen.failed_requests()[0].outcome, Outcome::Answered(404));

    desk.page.forget_seen().unwrap();
    assert_eq!(desk.page.seen().unwrap().complaints, []);
}

#[test]
fn what_a_policy_forbids_is_noticed() {
    let desk = Desk::new();
    desk.show_with(
        "<meta http-equiv=content-security-policy content=\"default-src 'none'\">",
        "<script>document.title = 'x'</script>\
         <img src=http://dye.example/a.png alt=''>",
    );
    let seen = desk.page.seen().unwrap();
    let policies: Vec<&str> = seen
        .complaints
        .iter()
        .filter_map(|it| {
            if let Complaint::Policy(it) = it {
                Some(it.as_str())
            } else {
                None
            }
        })
        .collect();
    assert_eq!(policies.len(), 2, "{seen:#?}");
    assert!(
        policies.iter().any(|it| it.starts_with("script-src")),
        "{policies:?}"
    );
    assert!(
        policies.contains(&"img-src: http://dye.example/a.png"),
        "{policies:?}"
    );
    assert_eq!(desk.ask("document.title"), "Boards");
}

#[test]
fn what_is_asked_of_others_is_listed_and_goes_nowhere() {
    let desk = Desk::new();
    desk.write(
        "frame.html",
        "<script>fetch('http://wood.example/frame').catch(() => {})</script>",
    );
    desk.show(
        "<link rel=stylesheet href=https://fonts.example/face.css><iframe src=frame.html></iframe>\
         <iframe src=http://other.example/></iframe><script>fetch('http://localhost:9/count').catch(() => {})</script>",
    );
    let seen = desk.page.seen().unwrap();
    let mut beyond = seen.requests_beyond(&desk.site.url(""));
    beyond.sort_unstable();
    assert_eq!(
        beyond,
        [
            "http://localhost:9/count",
            "http://other.example/",
            "http://wood.example/frame",
            "https://fonts.example/face.css",
        ]
    );
    for it in seen.failed_requests() {
        assert!(matches!(it.outcome, Outcome::Failed(_)), "{it:?}");
    }
    assert_eq!(seen.failed_requests().len(), 4);
}

#[test]
fn a_file_is_opened_without_a_server() {
    let desk = Desk::new();
    desk.write("file.html", "<!doctype html><title>From disk</title>");
    let url = format!("file://{}/file.html", desk.folder.path().display());
    desk.page.open(&url).unwrap();
    assert_eq!(desk.ask("document.title"), "From disk");
    assert_eq!(
        desk.page.seen().unwrap().requests_beyond("file://"),
        Vec::<&str>::new()
    );
    let error = desk
        .page
        .open("http://nowhere.example/")
        .unwrap_err()
        .to_string();
    assert!(error.contains("ERR_NAME_NOT_RESOLVED"), "{error}");
}

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
fn keys_and_clicks_are_real_ones() {
    let desk = Desk::new();
    desk.show(
        "<button id=a onclick='log(event)'>A</button><label>Name <input id=name></label><div style='height: 2000px'></div>\
         <button id=low onclick='log(event)'>Low</button><a href=next.html>Next</a>\
         <div style='position: relative'><button id=under>Under</button><i style='position: absolute; inset: 0'></i></div>\
         <script>var trusted = []; function log(event) { trusted.push([event.target.id, event.isTrusted]) }</script>",
    );
    desk.write("next.html", "<!doctype html><title>Next</title>");
    let page = &desk.page;
    page.press(Key::Tab).unwrap();
    page.press(Key::Enter).unwrap();
    page.press(Key::Space).unwrap();
    page.press(Key::Tab).unwrap();
    page.type_text("Ochré 3").unwrap();
    assert_eq!(desk.ask("document.getElementById('name').value"), "Ochré 3");
    page.press(Key::Backspace).unwrap();
    page.press(Key::ArrowLeft).unwrap();
    page.type_text("!").unwrap();
    assert_eq!(desk.ask("document.getElementById('name').value"), "Ochré! ");
    page.press_with(&[Modifier::Shift], Key::Tab).unwrap();
    assert_eq!(desk.ask("document.activeElement.id"), "a");
    assert_eq!(
        desk.ask("document.activeElement.matches(':focus-visible')"),
        true
    );
    page.click("#low").unwrap();
    assert_eq!(
        desk.ask("trusted"),
        json!([["a", true], ["a", true], ["low", true]])
    );
    assert!(
        page.click("#under")
            .unwrap_err()
            .to_string()
            .contains("meets <i")
    );
    assert!(
        page.click("#none")
            .unwrap_err()
            .to_string()
            .contains("no element #none")
    );
    page.click("a").unwrap();
    page.wait_until("document.title == 'Next'").unwrap();
}

#[test]
fn answers_are_values_or_errors() {
    let desk = Desk::new();
    desk.show("");
    assert_eq!(
        desk.ask("Promise.resolve({a: [1, 'x', null]})"),
        json!({"a": [1, "x", null]})
    );
    assert_eq!(desk.ask("undefined"), json!(null));
    for (expression, says) in [
        ("0 / 0", "NaN has no JSON"),
        ("null.hue", "TypeError"),
        ("Promise.reject(new Error('no'))", "Error: no"),
        ("throw 1", "1 in: throw 1"),
        ("(", "SyntaxError"),
    ] {
        let error = desk.page.evaluate(expression).unwrap_err().to_string();
        assert!(error.contains(says), "{expression}: {error}");
    }
}

#[test]
fn a_page_without_scripts_can_be_asked() {
    let desk = Desk::new();
    desk.page.run_scripts(false).unwrap();
    desk.show("<noscript><p>Plain</p></noscript><script>document.title = 'x'</script>");
    assert_eq!(desk.ask("document.title"), "Boards");
    assert_eq!(
        desk.ask("document.querySelector('noscript p').textContent"),
        "Plain"
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

#[test]
fn what_never_comes_is_given_up() {
    let desk = Desk::new();
    desk.show("");
    desk.page.give_up_after(Duration::from_millis(300));
    let start = Instant::now();
    let error = desk
        .page
        .evaluate("new Promise(() => {})")
        .unwrap_err()
        .to_string();
    assert!(error.contains("no answer within 0.3 s"), "{error}");
    assert!(start.elapsed() < Duration::from_secs(5));
    let error = desk.page.wait_until("false").unwrap_err().to_string();
    assert!(error.contains("not within 0.3 s: false"), "{error}");
    // And the page can still be asked.
    assert_eq!(desk.ask("1 + 1"), 2);
}
