//! What `publish` makes, in a real browser: that pages open from a disk and from a server, paint what was measured, can be used by everybody,
//! and run nothing that is not theirs.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[path = "shelf/mod.rs"]
mod shelf;

use image::RgbImage;
use masstone::colour::{Lab, lab, srgb};
use masstone::library::Library;
use masstone::measure::{self, Aids, Job, Pictures};
use masstone::publish::{self, Range, Settings as Said, Shows};
use masstone::record::{Dose, Settings};
use masstone_browser::{Browser, Key, Media, Page, Paper, Site, audit, pdf};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore as _, SeedableRng as _};
use serde_json::json;
use shelf::{Generator, set_colour};
use std::fs;
use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

/// What a name can hold at worst: it must stay a name.
const NASTY: &str = "<script>window.ran=1</script>\"><img src=x onerror=window.ran=2><style>*{display:none}</style> ]]>--> &quot; &amp; & שָׁלוֹם 🎨";

/// Colours drawn from all over, among them what no screen shows.
const WILD: usize = 50;

/// A site: the demo board after two exposures, and a board of wild colours with nasty names.
struct Made {
    folder: tempfile::TempDir,
    range: Range,
}

impl Made {
    fn site(&self) -> PathBuf {
        self.folder.path().join("site")
    }

    fn on_disk(&self, page: &str) -> String {
        format!("file://{}/{page}", self.site().display())
    }
}

fn made() -> &'static Made {
    static MADE: OnceLock<Made> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("swatches.sqlite");
        let mut library = Library::open_or_begin(&path).unwrap();
        for hours in ["0", "1500"] {
            let measured = measured(hours);
            library.add(std::slice::from_ref(&measured.record)).unwrap();
            library.add_crops(&measured.record, &measured.crops).unwrap();
        }
        let record = measured("0").record;
        let mut generator = Generator::new(record, 7);
        let mut panel = generator.panel(0, WILD);
        for (number, it) in panel.patches.iter_mut().enumerate() {
            it.name = Some(format!("{NASTY} {number}"));
        }
        panel.title = Some(NASTY.to_owned());
        let mut photo = generator.photo(&panel, 0.0);
        let mut random = ChaCha8Rng::seed_from_u64(3);
        for pair in photo.readings.chunks_mut(2) {
            let mut unit = || f64::from(random.next_u32()) / f64::from(u32::MAX);
            let wild = [5.0 + 92.0 * unit(), 180.0 * unit() - 90.0, 180.0 * unit() - 90.0];
            for it in pair {
                set_colour(it, wild);
            }
        }
        library.add(&[photo]).unwrap();
        drop(library);
        let settings = folder.path().join("site.toml");
        let text = format!(
            "title = '''{NASTY}'''\ntext = '''{NASTY}'''\naccent = \"#ffe000\"\nhome = \"https://example.org/\"\n\
             [[swatch]]\nswatch = 1\ntext = '''{NASTY}'''\nshop = \"https://example.org/1\"\n[[pigment]]\npigment = \"PR101\"\npack_g = 250\n"
        );
        fs::write(&settings, text).unwrap();
        publish::build(&path, Some(&settings), &folder.path().join("site")).unwrap();
        let said = Said::read(&settings).unwrap();
        let range = Range::gather(&Library::open(&path).unwrap(), &said).unwrap();
        Made { folder, range }
    })
}

fn measured(hours: &str) -> measure::Measured {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let panel = masstone::panel::read(&samples.join("larch-2026-03.toml")).unwrap();
    let job = Job {
        path: samples.join(format!("larch-2026-03-{hours}h.jpg")),
        dose: Dose::of_hours(Some(hours.parse().unwrap())),
        exposure: None,
        settings: Settings {
            upright: false,
            linear: false,
            tone: masstone::correct::Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
    };
    let pictures = Pictures {
        proof: false,
        crops: true,
    };
    measure::photo_with(&job, &panel, &Aids::default(), pictures).unwrap()
}

/// A page in the browser that all tests share.
struct Tab {
    page: Page,
    _browser: Arc<Browser>,
}

impl Deref for Tab {
    type Target = Page;

    fn deref(&self) -> &Page {
        &self.page
    }
}

fn page() -> Tab {
    let browser = Browser::shared().unwrap();
    Tab {
        page: browser.page().unwrap(),
        _browser: browser,
    }
}

/// Nothing was complained of, nothing asked for elsewhere, nothing ran that is not the site's.
#[track_caller]
fn sound(page: &Page, allowed: &str) {
    let seen = page.seen().unwrap();
    assert!(seen.complaints.is_empty(), "{:#?}", seen.complaints);
    assert_eq!(seen.requests_beyond(allowed), Vec::<&str>::new());
    let failed = seen.failed_requests();
    assert!(failed.is_empty(), "{failed:#?}");
    assert_eq!(
        page.evaluate("typeof window.ran").unwrap(),
        json!("undefined")
    );
}

const PAGES: [&str; 5] = [
    "index.html",
    "swatches/1.html",
    "swatches/30.html",
    "reading.html",
    "sheet.html",
];

#[test]
fn every_page_is_sound_and_can_be_used_by_everybody() {
    let site = Site::serve(made().site()).unwrap();
    for (width, height, scheme) in [
        (360, 780, "light"),
        (1440, 900, "dark"),
        (1440, 900, "light"),
    ] {
        let page = page();
        page.viewport(width, height, 1.0).unwrap();
        page.emulate(Media::Screen, &[("prefers-color-scheme", scheme)])
            .unwrap();
        for name in PAGES {
            page.open(&site.url(name)).unwrap();
            let audit = audit(&page).unwrap();
            assert!(
                audit.violations.is_empty(),
                "{name} at {width} px, {scheme}:\n{audit}"
            );
            assert!(
                audit.passes.iter().any(|it| it.id == "color-contrast"),
                "{name}"
            );
            let wide = page
                .evaluate("document.scrollingElement.scrollWidth - innerWidth")
                .unwrap();
            assert!(
                wide.as_f64().unwrap() <= 0.0,
                "{name} is {wide} px wider than {width}"
            );
            sound(&page, &site.url(""));
        }
    }
}

#[test]
fn pages_open_from_a_disk_and_without_scripts() {
    let page = page();
    page.viewport(1440, 900, 1.0).unwrap();
    for name in PAGES {
        page.open(&made().on_disk(name)).unwrap();
        sound(&page, "file://");
        // The styles came: the ground is neutral, and not the browser's white.
        let ground = page
            .evaluate("getComputedStyle(document.body).backgroundColor")
            .unwrap();
        assert_eq!(ground, json!("rgb(243, 243, 243)"), "{name}");
    }
    page.open(&made().on_disk("index.html")).unwrap();
    // All crops come when they are scrolled to.
    let missing = page
        .evaluate(
            "(async () => { const all = [...document.images]; for (const it of all) { it.loading = 'eager'; await it.decode(); }
               return [all.length, all.filter((it) => !it.naturalWidth).length]; })()",
        )
        .unwrap();
    assert_eq!(missing[1], json!(0));
    assert!(missing[0].as_u64().unwrap() >= 20, "{missing}");
    page.run_scripts(false).unwrap();
    page.open(&made().on_disk("index.html")).unwrap();
    page.run_scripts(true).unwrap();
    let entries = page
        .evaluate("document.querySelectorAll('.key li a').length")
        .unwrap();
    assert_eq!(entries, json!(made().range.swatches.len()));
    let finder = page
        .evaluate("document.getElementById('finder').hidden")
        .unwrap();
    assert_eq!(
        finder,
        json!(true),
        "what needs the script isn't offered without it"
    );
}

/// The middles of elements in page coordinates.
fn middles(page: &Page, selector: &str) -> Vec<(u32, u32)> {
    let found = page
        .evaluate(&format!(
            "[...document.querySelectorAll('{selector}')].map((it) => {{ const r = it.getBoundingClientRect();
               return [r.x + r.width / 2 + scrollX, r.y + r.height / 2 + scrollY]; }})"
        ))
        .unwrap();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place on a page"
    )]
    let whole = |it: &serde_json::Value| it.as_f64().unwrap() as u32;
    (found.as_array().unwrap().iter())
        .map(|it| (whole(&it[0]), whole(&it[1])))
        .collect()
}

/// Held against the codes that come from the published Lab through IEC 61966-2-1 and CSS Color 4's matrices, rounded.
#[test]
fn chromium_paints_what_was_measured() {
    let page = page();
    page.viewport(1440, 900, 1.0).unwrap();
    page.open(&made().on_disk("sheet.html")).unwrap();
    let places = middles(&page, ".sheet i");
    let picture: RgbImage = page.screenshot_all().unwrap();
    let swatches = &made().range.swatches;
    assert_eq!(places.len(), swatches.len());
    let (mut shown, mut beyond) = (0, 0);
    for (it, (x, y)) in swatches.iter().zip(places) {
        let painted = picture.get_pixel(x, y).0;
        let right = srgb::to_rgb8(it.tone.lab);
        let off = painted
            .iter()
            .zip(right)
            .map(|(a, b)| a.abs_diff(b))
            .max()
            .unwrap();
        assert!(
            off <= 1,
            "swatch {}: {:?} is painted as {painted:?}, not {right:?}",
            it.id,
            it.tone.lab
        );
        if it.tone.shows() == Shows::Srgb {
            shown += 1;
        } else {
            beyond += 1;
        }
    }
    assert!(
        shown >= 35 && beyond >= 10,
        "{shown} in sRGB, {beyond} beyond"
    );
    // What a screen can't show is marked on its page.
    let outside = swatches
        .iter()
        .find(|it| it.tone.shows() == Shows::Neither)
        .unwrap();
    page.open(&made().on_disk(&format!("swatches/{}.html", outside.id)))
        .unwrap();
    let text = page
        .evaluate("document.querySelector('.mark').textContent")
        .unwrap();
    assert!(
        text.as_str()
            .unwrap()
            .contains("More colourful than screens can show"),
        "{text}"
    );
}

/// The colours as custom properties, read by the browser.
#[test]
fn the_style_file_is_read_back() {
    let page = page();
    let folder = tempfile::tempdir().unwrap();
    fs::copy(
        made().site().join("data/swatches.css"),
        folder.path().join("swatches.css"),
    )
    .unwrap();
    let mut html = "<!doctype html><html lang=en><title>t</title><link rel=stylesheet href=swatches.css><body style=margin:0>".to_owned();
    for it in &made().range.swatches {
        html += &format!(
            "<div style=\"height:8px;background:var(--swatch-{})\"></div>",
            it.id
        );
    }
    fs::write(folder.path().join("t.html"), html).unwrap();
    page.viewport(100, 900, 1.0).unwrap();
    page.open(&format!("file://{}/t.html", folder.path().display()))
        .unwrap();
    sound(&page, "file://");
    let picture = page.screenshot_all().unwrap();
    for (row, it) in (0..).zip(&made().range.swatches) {
        let painted = picture.get_pixel(50, 8 * row + 4).0;
        let right = srgb::to_rgb8(it.tone.lab);
        let off = painted
            .iter()
            .zip(right)
            .map(|(a, b)| a.abs_diff(b))
            .max()
            .unwrap();
        assert!(off <= 1, "swatch {}: {painted:?}, not {right:?}", it.id);
    }
}

/// How many entries are to be seen.
fn entries(page: &Page) -> u64 {
    let found = page.evaluate(
        "[...document.querySelectorAll('.key li')].filter((it) => it.checkVisibility()).length",
    );
    found.unwrap().as_u64().unwrap()
}

/// Chooses an option as the keyboard does: by its first letters.
fn choose(page: &Page, id: &str, letters: &str) {
    page.evaluate(&format!("document.getElementById('{id}').focus()"))
        .unwrap();
    page.type_text(letters).unwrap();
}

/// Goes back to the first option.
fn first(page: &Page, id: &str) {
    page.evaluate(&format!("document.getElementById('{id}').focus()"))
        .unwrap();
    page.press(Key::Home).unwrap();
}

#[test]
fn colours_are_found_and_put_in_order() {
    let page = page();
    page.viewport(1440, 900, 1.0).unwrap();
    page.open(&made().on_disk("index.html")).unwrap();
    let range = &made().range;
    let all = u64::try_from(range.swatches.len()).unwrap();
    assert_eq!(entries(&page), all);
    page.click("#f-text").unwrap();
    page.type_text("red iron oxide").unwrap();
    let red = range
        .swatches
        .iter()
        .filter(|it| it.name.contains("red iron oxide"))
        .count();
    assert!(red > 1);
    assert_eq!(entries(&page), u64::try_from(red).unwrap());
    let said = page
        .evaluate("document.getElementById('found').textContent")
        .unwrap();
    assert_eq!(said, json!(format!("{red} colours of {all}")));
    let dimmed = page
        .evaluate("document.querySelectorAll('.board .out').length")
        .unwrap();
    assert_eq!(dimmed, json!(all - u64::try_from(red).unwrap()));
    page.evaluate("document.getElementById('finder').reset(), document.getElementById('finder').dispatchEvent(new Event('input'))").unwrap();
    assert_eq!(entries(&page), all);

    choose(&page, "f-light", "dark");
    let dark = range
        .swatches
        .iter()
        .filter(|it| it.tone.lab.l < 35.0)
        .count();
    assert_eq!(entries(&page), u64::try_from(dark).unwrap());
    first(&page, "f-light");
    choose(&page, "f-band", "none");
    let still = range
        .swatches
        .iter()
        .filter(|it| it.band() == publish::Band::NoneTold)
        .count();
    assert!(still > 0);
    assert_eq!(entries(&page), u64::try_from(still).unwrap());
    first(&page, "f-band");

    choose(&page, "f-order", "most");
    assert_eq!(entries(&page), all);
    let order = page
        .evaluate("[...document.querySelectorAll('#flat li b')].map((it) => +it.textContent)")
        .unwrap();
    let chroma = |id: i64| {
        lab::chroma(
            range
                .swatches
                .iter()
                .find(|it| it.id == id)
                .unwrap()
                .tone
                .lab,
        )
        .round()
    };
    let order: Vec<i64> = order
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it.as_i64().unwrap())
        .collect();
    assert_eq!(order.len(), range.swatches.len());
    assert!(
        order.windows(2).all(|it| chroma(it[0]) >= chroma(it[1])),
        "{order:?}"
    );
    first(&page, "f-order");
    assert_eq!(entries(&page), all);
    let back = page
        .evaluate("document.querySelectorAll('#boards .key li').length")
        .unwrap();
    assert_eq!(back, json!(all));
    // A number is a swatch's before it is anything else.
    page.click("#f-text").unwrap();
    page.type_text("12").unwrap();
    let first = page.evaluate("[...document.querySelectorAll('.key li')].filter((it) => it.checkVisibility()).map((it) => it.querySelector('b').textContent)");
    assert!(first.unwrap().as_array().unwrap().contains(&json!("12")));
    assert!(entries(&page) < 8, "values are no words to search");
    let named = page
        .evaluate("document.querySelector('.board a').getAttribute('aria-label')")
        .unwrap();
    assert!(
        named.as_str().unwrap().starts_with("1 red iron oxide"),
        "{named}"
    );
    sound(&page, "file://");
}

#[test]
fn up_to_four_are_held_beside_each_other() {
    for (width, height) in [(360, 780), (1440, 900)] {
        let page = page();
        page.viewport(width, height, 1.0).unwrap();
        page.open(&made().on_disk("index.html")).unwrap();
        let focus = |number: usize| {
            page.evaluate(&format!(
                "document.querySelectorAll('.key button')[{number}].focus()"
            ))
            .unwrap();
        };
        for number in 0..4 {
            focus(number);
            page.press(if number % 2 == 0 {
                Key::Enter
            } else {
                Key::Space
            })
            .unwrap();
        }
        let strips = "[...document.querySelectorAll('#held > div')]";
        assert_eq!(
            page.evaluate(&format!("{strips}.length")).unwrap(),
            json!(4)
        );
        let fifth = page
            .evaluate("document.querySelectorAll('.key button')[4].disabled")
            .unwrap();
        assert_eq!(fifth, json!(true), "four is all that is compared");
        // Edge to edge: nothing between two strips.
        let gaps = page
            .evaluate(&format!(
                "{strips}.slice(1).map((it, n) => {{ const a = {strips}[n].getBoundingClientRect(), b = it.getBoundingClientRect();
                   return Math.min(Math.abs(b.left - a.right), Math.abs(b.top - a.bottom)); }})"
            ))
            .unwrap();
        assert!(
            gaps.as_array()
                .unwrap()
                .iter()
                .all(|it| it.as_f64().unwrap() < 0.01),
            "{gaps}"
        );
        let audit = audit(&page).unwrap();
        assert!(audit.violations.is_empty(), "{width} px:\n{audit}");
        // Put back by the keyboard, one after the other; the focus stays where it is of use.
        page.evaluate("document.querySelector('#held button').focus()")
            .unwrap();
        for left in (0..4).rev() {
            page.press(Key::Enter).unwrap();
            assert_eq!(
                page.evaluate(&format!("{strips}.length")).unwrap(),
                json!(left)
            );
        }
        let hidden = page
            .evaluate("document.getElementById('held').hidden")
            .unwrap();
        assert_eq!(hidden, json!(true));
        let focused = page.evaluate("document.activeElement.tagName").unwrap();
        assert_eq!(focused, json!("BUTTON"));
        sound(&page, "file://");
    }
}

#[test]
fn the_keyboard_reaches_everything_and_shows_where_it_is() {
    let page = page();
    page.viewport(1440, 900, 1.0).unwrap();
    page.open(&made().on_disk("index.html")).unwrap();
    page.press(Key::Tab).unwrap();
    let first = page.evaluate("document.activeElement.className").unwrap();
    assert_eq!(first, json!("skip"));
    page.press(Key::Enter).unwrap();
    page.press(Key::Tab).unwrap();
    let next = page.evaluate("document.activeElement.id").unwrap();
    assert_eq!(
        next,
        json!("f-text"),
        "the jump leads past the pages' links"
    );
    let outline = page
        .evaluate("getComputedStyle(document.activeElement).outlineStyle")
        .unwrap();
    assert_eq!(outline, json!("solid"));
    page.press(Key::Tab).unwrap();
    let next = page.evaluate("document.activeElement.id").unwrap();
    assert_eq!(next, json!("f-hue"));
}

#[test]
fn it_prints_on_either_paper() {
    let page = page();
    page.open(&made().on_disk("sheet.html")).unwrap();
    for paper in [Paper::A4, Paper::Letter] {
        let sizes = pdf::page_sizes(&page.pdf(paper).unwrap());
        let (width, height) = paper.points();
        assert!(
            !sizes.is_empty() && sizes.len() <= 4,
            "{} sheets",
            sizes.len()
        );
        let same = |it: &(f64, f64)| (it.0 - width).abs() < 1.5 && (it.1 - height).abs() < 1.5;
        assert!(sizes.iter().all(same), "{sizes:?} is not {paper:?}");
    }
    page.emulate(Media::Print, &[]).unwrap();
    page.open(&made().on_disk("index.html")).unwrap();
    let finder = page
        .evaluate("document.getElementById('finder').checkVisibility()")
        .unwrap();
    assert_eq!(finder, json!(false));
    let ground = page
        .evaluate("getComputedStyle(document.body).backgroundColor")
        .unwrap();
    assert_eq!(ground, json!("rgb(255, 255, 255)"));
    // Both halves are on paper.
    page.open(&made().on_disk("swatches/1.html")).unwrap();
    for row in ["tr.top", "tr.bottom"] {
        let seen = page.evaluate(&format!(
            "document.querySelector('.sun {row}').checkVisibility()"
        ));
        assert_eq!(seen.unwrap(), json!(true), "{row}");
    }
    page.open(&made().on_disk("index.html")).unwrap();
    // On paper the colours are printed though a browser saves ink.
    let adjust = page
        .evaluate("getComputedStyle(document.querySelector('.board a')).printColorAdjust")
        .unwrap();
    assert_eq!(adjust, json!("exact"));
}

#[test]
fn a_wide_screen_gets_the_colour_itself() {
    let range = &made().range;
    let Some(it) = range
        .swatches
        .iter()
        .find(|it| it.tone.shows() == Shows::DisplayP3)
    else {
        panic!("no wild colour lies between the two gamuts");
    };
    let page = page();
    let paint = |page: &Page| {
        page.open(&made().on_disk(&format!("swatches/{}.html", it.id)))
            .unwrap();
        let found = page
            .evaluate("getComputedStyle(document.querySelector('.field')).backgroundColor")
            .unwrap();
        found.as_str().unwrap().to_owned()
    };
    page.emulate(Media::Screen, &[("color-gamut", "srgb")])
        .unwrap();
    let plain = paint(&page);
    assert!(plain.starts_with("rgb("), "{plain}");
    page.emulate(Media::Screen, &[("color-gamut", "p3")])
        .unwrap();
    let wide = paint(&page);
    let numbers: Vec<f64> = wide
        .trim_start_matches("lab(")
        .trim_end_matches(')')
        .split_whitespace()
        .map(|it| it.parse().unwrap())
        .collect();
    let Lab { l, a, b, .. } = it.tone.lab;
    for (read, right) in numbers.iter().zip([l, a, b]) {
        assert!((read - right).abs() < 2e-3, "{wide} is not {l} {a} {b}");
    }
}
