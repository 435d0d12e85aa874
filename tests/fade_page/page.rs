//! The page: well formed, self-contained, whole, and with the report's numbers.

use crate::example::{self, LONG, NASTY};
use crate::markup::{self, Page, Tag};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use masstone::fade::page::{self, Crop};
use masstone::fade::report::{Change, FadeFlag, Report};
use masstone::fade::wording;
use masstone::record::Half;

fn read(report: &Report, crops: &[Crop]) -> Page {
    markup::read(&page::of(report, crops)).unwrap_or_else(|it| panic!("{it}"))
}

type Number = fn(&Change) -> f64;

/// The part of a page that is about one patch: from its place on to the next.
fn of_patch(page: &str, number: usize) -> &str {
    let start = page.find(&format!("<article id=\"b1p{number}\">")).unwrap();
    let end = page[start..].find("</article>").unwrap();
    &page[start..start + end]
}

/// `MASSTONE_LOOK=FILE.html cargo test --test fade_page` writes the page, to be looked at.
#[test]
fn the_page_is_well_formed_and_always_the_same() {
    let (report, crops) = (example::report(), example::crops());
    let page = page::of(&report, &crops);
    if let Some(file) = std::env::var_os("MASSTONE_LOOK") {
        std::fs::write(file, &page).unwrap();
    }
    assert_eq!(page, page::of(&report, &crops));
    markup::read(&page).unwrap_or_else(|it| panic!("{it}"));
}

#[test]
fn it_loads_nothing_runs_nothing_and_its_links_lead_somewhere() {
    let page = read(&example::report(), &example::crops());
    let mut links = 0;
    for tag in &page.tags {
        let allowed = [
            "html",
            "head",
            "meta",
            "title",
            "style",
            "body",
            "main",
            "section",
            "article",
            "h1",
            "h2",
            "h3",
            "p",
            "ul",
            "li",
            "dl",
            "dt",
            "dd",
            "div",
            "span",
            "b",
            "a",
            "abbr",
            "table",
            "caption",
            "thead",
            "tbody",
            "tr",
            "th",
            "td",
            "figure",
            "figcaption",
            "img",
            "svg",
            "rect",
            "polygon",
            "polyline",
            "circle",
            "text",
        ];
        assert!(allowed.contains(&tag.name.as_str()), "{tag:?}");
        for (name, value) in &tag.attributes {
            assert!(!name.starts_with("on"), "{tag:?}");
            match name.as_str() {
                "href" => {
                    links += 1;
                    let target = value.strip_prefix('#').unwrap();
                    let leads = |it: &Tag| it.attribute("id") == Some(target);
                    assert_eq!(
                        page.tags.iter().filter(|it| leads(it)).count(),
                        1,
                        "{value}"
                    );
                }
                "src" => assert!(value.starts_with("data:image/png;base64,"), "{value}"),
                "xmlns" => assert_eq!(value, "http://www.w3.org/2000/svg"),
                _ => assert!(!value.contains("://") && !value.contains("url("), "{tag:?}"),
            }
        }
    }
    // Every colour of the range that could be measured where others are compared; neither controls, nor the spoilt patch.
    assert_eq!(links, 18 - 2 - 2);
    let whole = page::of(&example::report(), &example::crops());
    let style = &whole[whole.find("<style>").unwrap()..whole.find("</style>").unwrap()];
    assert!(
        !style.contains("url(") && !style.contains("@import"),
        "{style}"
    );
}

#[test]
fn what_people_wrote_stays_text() {
    let mut report = example::report();
    let board = &mut report.boards[0];
    let nasty = || format!("{NASTY}\u{1}");
    board.panel = nasty();
    board.dose_kind = nasty();
    board.conditions[0].name = nasty();
    board.conditions[1].value = nasty();
    board.exposures[1].photos[0] = nasty();
    board.notes[0] = nasty();
    let patch = &mut board.patches[3];
    patch.patch = nasty();
    patch.made_of = nasty();
    patch.changes[5].words[0] = nasty();
    patch.changes[0].grade = nasty();
    patch.changes[0].why_no_yellowness = nasty();
    board.title = Some(NASTY.to_owned());
    board.patches[3].start_hex = Some(NASTY.to_owned());
    report.notes.push(NASTY.to_owned());
    let page = page::of(&report, &example::crops());
    assert!(!page.contains("<script") && !page.contains('\u{1}'));
    let read = markup::read(&page).unwrap_or_else(|it| panic!("{it}"));
    // In text as it was written; none of them is left out.
    assert!(
        read.text.matches(NASTY).count() >= 12,
        "{}",
        read.text.matches(NASTY).count()
    );
    assert!(read.text.contains(LONG));
    assert!(
        read.tags
            .iter()
            .all(|it| it.attribute("fill") != Some(NASTY))
    );
}

#[test]
fn every_patch_and_exposure_is_there_with_the_report_s_numbers() {
    let report = example::report();
    let board = &report.boards[0];
    let page = page::of(&report, &example::crops());
    for (index, patch) in board.patches.iter().enumerate() {
        let part = of_patch(&page, index + 1);
        if patch.changes.is_empty() {
            assert!(!part.contains("ΔE00") && !part.contains("No course"));
            continue;
        }
        // Row by row: the cells of every dose, dose 0 included, in order.
        let cells = |name: &str| -> Vec<String> {
            let row = part.find(&format!(">{name}</abbr></th>")).unwrap();
            let row = &part[row..row + part[row..].find("</tr>").unwrap()];
            let cells = row.split("<td class=\"number\">").skip(1);
            cells
                .map(|it| it[..it.find("</td>").unwrap()].to_owned())
                .collect()
        };
        let rows: [(&str, Number); 9] = [
            ("ΔL*", |it| it.dl),
            ("Δa*", |it| it.da),
            ("Δb*", |it| it.db),
            ("ΔC*", |it| it.dc),
            ("ΔH*", |it| it.dh),
            ("ΔE*ab", |it| it.de_ab),
            ("ΔE00", |it| it.de_00),
            ("± U95", |it| it.u95_de_00),
            ("noise", |it| it.detection_limit),
        ];
        for (name, value) in rows {
            let cells = cells(name);
            assert_eq!(cells.len(), 7, "{} {name}", patch.patch);
            assert_eq!(cells[0], "", "nothing changed at dose 0");
            for (cell, exposure) in cells.iter().zip(&board.exposures).skip(1) {
                match patch.at(exposure.dose) {
                    None => assert!(cell.contains("could not be measured"), "{cell}"),
                    Some(change) => {
                        let read: f64 = cell.replace('−', "-").parse().unwrap();
                        assert!(
                            (read - value(change)).abs() <= 0.005 + 1e-9,
                            "{name} {cell}"
                        );
                    }
                }
            }
        }
        let words = |name: &str, value: fn(&Change) -> &str| {
            for (cell, exposure) in cells(name).iter().zip(&board.exposures).skip(1) {
                if let Some(change) = patch.at(exposure.dose) {
                    assert_eq!(cell, value(change), "{} {name}", patch.patch);
                }
            }
        };
        words("grade", |it| &it.grade);
        words("band", |it| &it.band);
        words("told", |it| if it.significant { "yes" } else { "no" });
        for it in patch.changes.iter().filter(|it| it.significant) {
            assert!(
                part.contains(&wording::direction(it)),
                "{} at {}",
                patch.patch,
                it.dose
            );
        }
        assert_eq!(part.contains("No course"), patch.course.is_none());
        if let Some(course) = &patch.course {
            let first = wording::threshold(&course.thresholds[0], course, "hours");
            assert!(part.contains(&first[1..]), "{first}");
        }
    }
    assert!(
        of_patch(&page, 18)
            .contains("Could not be measured after 100, 200, 400, 800, 1200, 1500 hours.")
    );
}

#[test]
fn pictures_stand_where_they_are_and_blocks_say_that_they_are_blocks() {
    let (report, crops) = (example::report(), example::crops());
    let page = page::of(&report, &crops);
    let given: usize = crops.iter().filter(|it| it.picture.is_some()).count();
    assert!(given > 100);
    assert_eq!(page.matches("<img ").count(), given);
    let first = STANDARD.encode(crops[0].picture.as_ref().unwrap());
    assert!(of_patch(&page, 1).contains(&format!(
        "src=\"data:image/png;base64,{first}\" alt=\"masked half at 0 hours\""
    )));
    // The fourth has all pictures but those at 800 hours, the second has none, the last not even colours.
    let (fourth, second, last) = (of_patch(&page, 4), of_patch(&page, 2), of_patch(&page, 18));
    assert_eq!(fourth.matches("<img ").count(), 12);
    assert_eq!(
        fourth.matches("measured colour #").count(),
        2 * 2,
        "aria-label and title of each"
    );
    assert!(fourth.contains("◇: no picture is at hand"));
    assert_eq!(second.matches("measured colour #").count(), 2 * 14);
    assert!(second.contains("No pictures are at hand"));
    assert_eq!(last.matches(": not measured").count(), 14);
    assert!(!last.contains("◇"));
}

#[test]
fn only_pictures_become_pictures() {
    let report = example::report();
    let crop = |picture: &[u8], hex: &str| Crop {
        panel: "larch-2026-03".to_owned(),
        patch: "PR101-12".to_owned(),
        half: Half::Masked,
        dose_kind: "hours".to_owned(),
        dose: 0.0,
        picture: Some(picture.to_vec()),
        hex: Some(hex.to_owned()),
    };
    let svg = page::of(&report, &[crop(b"<svg onload=\"x\">", "#aa1100")]);
    assert!(!svg.contains("<img") && of_patch(&svg, 1).contains("fill=\"#aa1100\""));
    let neither = page::of(&report, &[crop(b"", "zebra\"><b>")]);
    assert!(!neither.contains("<img") && !neither.contains("zebra"));
    let jpeg = page::of(&report, &[crop(&[0xff, 0xd8, 0xff, 0xe0], "")]);
    assert_eq!(
        jpeg.matches("src=\"data:image/jpeg;base64,/9j/4A==\"")
            .count(),
        1
    );
    // Of another board, or of another kind of dose, it is not shown.
    let mut other = crop(&[0xff, 0xd8, 0xff], "#aa1100");
    "MJ/m2 UV".clone_into(&mut other.dose_kind);
    assert!(!page::of(&report, &[other]).contains("<img"));
}

#[test]
fn the_ranking_says_by_what_and_what_cannot_be_told() {
    let report = example::report();
    let text = read(&report, &[]).text;
    let at = |it: &str| text.find(it).unwrap_or_else(|| panic!("{it} is missing"));
    let by_dose = at("By the dose after which most people see a change");
    let by_change = at("The others, by their change after 1500 hours");
    let unranked = at(
        "Not ranked, since it could not be measured where the others are compared: PY184-5, spoilt.",
    );
    let end = at("Coating, substrate and pigment");
    assert!(by_dose < by_change && by_change < unranked && unranked < end);
    // The fast before the slow; a black that doesn't change among the others.
    let listed = |name: &str, from: usize, to: usize| text[from..to].contains(name);
    assert!(listed("arylide yellow, a quarter", by_dose, by_change));
    assert!(listed("black iron oxide", by_change, unranked));
    assert!(
        !text[by_dose..end].contains("clear coating on larch"),
        "controls are not ranked"
    );
    assert!(text.contains("the order within cannot be told"));
}

#[test]
fn what_the_controls_say_is_said_with_figures_and_without_controls_that_too() {
    let mut report = example::report();
    let text = read(&report, &[]).text;
    let white = report.boards[0].patches[16].changes.last().unwrap().clone();
    let figures = format!("ΔE00 {:.2} ± {:.2}", white.de_00, white.u95_de_00);
    let at = text
        .find("The coating by itself, on an inert white")
        .unwrap();
    assert!(
        text[at..at + 200].contains(&figures),
        "{}",
        &text[at..at + 200]
    );
    assert!(text.contains("coating and substrate together"));
    assert!(text.contains("Cool colours show the coating's change most: a mean ΔE00 of "));
    for it in &mut report.boards[0].patches {
        it.control = None;
    }
    let text = read(&report, &[]).text;
    assert!(text.contains("There is no control on an inert white"));
    assert!(text.contains("There is no control of clear coating on the panel's substrate"));
    // A page of some patches can't say what the board lacks.
    report.boards[0].not_shown = 2;
    let text = read(&report, &[]).text;
    assert!(!text.contains("There is no control") && text.contains("Only some patches"));
}

#[test]
fn flags_are_explained_where_they_are() {
    let report = example::report();
    let page = page::of(&report, &[]);
    let moved = wording::flag(FadeFlag::MaskedMoved);
    assert_eq!(page.matches(moved).count(), 1);
    let ultramarine = of_patch(&page, 9);
    assert!(ultramarine.contains(moved) && ultramarine.contains("(800, 1200, 1500 hours)"));
    // What every patch has at the same doses is said once for the board, and once for the swatch.
    assert_eq!(
        page.matches(wording::flag(FadeFlag::CommonDrift)).count(),
        2
    );
}

#[test]
fn nothing_is_drawn_for_a_report_without_anything_and_nothing_fails() {
    let mut report = example::report();
    report.boards[0].patches.clear();
    report.boards[0].exposures.clear();
    assert!(
        read(&report, &[])
            .text
            .contains("No patch of this board has a masked half.")
    );
    report.boards.clear();
    report.swatches.clear();
    assert!(read(&report, &[]).text.contains("There is no board"));
    // Numbers that are none must not hang or break it.
    let mut report = example::report();
    let board = &mut report.boards[0];
    for it in &mut board.patches {
        for change in &mut it.changes {
            (change.de_00, change.dl, change.u95_de_00) = (f64::NAN, f64::INFINITY, f64::NAN);
            change.covariance = [[f64::NAN; 3]; 3];
        }
        if let Some(course) = &mut it.course {
            course.limit_dose = f64::INFINITY;
        }
    }
    read(&report, &[]);
}

/// Hour 0 missing, one exposure, a radiant exposure: as the report has it.
#[test]
fn a_series_of_one_in_another_unit() {
    let mut report = example::report();
    let board = &mut report.boards[0];
    "MJ/m2 UV 295-385 nm".clone_into(&mut board.dose_kind);
    board.exposures = board.exposures.drain(3..4).collect();
    board.exposures[0].dose = 52.5;
    for it in &mut board.patches {
        it.course = None;
        it.changes
            .retain(|it| it.dose.to_bits() == 400_f64.to_bits());
        for change in &mut it.changes {
            change.dose = 52.5;
            change.flags = vec![FadeFlag::NoStart];
        }
    }
    let text = read(&report, &[]).text;
    for it in [
        "MJ/m2 UV 295-385 nm",
        "By the change after 52.5 MJ/m²",
        "two points give a difference and no curve",
        "There is no photo before any sun",
    ] {
        assert!(text.contains(it), "{it}");
    }
}
