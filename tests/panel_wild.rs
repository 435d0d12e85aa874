//! Panel files, spreadsheets and starting files of any kind: read or refused, never a panic.

#![expect(
    clippy::float_cmp,
    reason = "millimetres are taken over as they are written"
)]

mod panel_text;

use masstone::drawing::{Anchor, Shape, text_width};
use masstone::panel::{self, Panel, Place, Side, Start};
use panel_text::{GREY, read};
use proptest::prelude::*;
use std::path::Path;

/// The panel file of the documentation, whole.
const LARCH: &str = include_str!("panel_text/larch.toml");

/// A good panel with some of its bytes replaced, left out or repeated.
fn mutated() -> impl Strategy<Value = String> {
    let snippets = prop::sample::select(vec![
        "",
        "\n",
        "[",
        "]",
        "\"",
        "=",
        "nan",
        "-inf",
        "1e308",
        "-1",
        "0",
        "99999999999999999999",
        "true",
        "[[patch]]",
        "[grid]",
        "\u{0}",
        "\u{feff}",
        "ß",
        "🎨",
        "#",
        "{",
        "}",
        ",",
        "'''",
        "A1",
        "lab = [1, 2, 3]\n",
        "at = \"B2\"\n",
        "\\u0000",
        "rows = 9999\n",
        "card = \"chart-24\"\n",
        "turned = 270\n",
        "1979-05-27",
        "'=1'",
    ]);
    let edit = (any::<prop::sample::Index>(), 0usize..12, snippets);
    prop::collection::vec(edit, 1..6).prop_map(|edits| {
        let mut text: Vec<char> = LARCH.chars().collect();
        for (at, gone, new) in edits {
            let start = at.index(text.len());
            let end = (start + gone).min(text.len());
            text.splice(start..end, new.chars());
        }
        text.into_iter().collect()
    })
}

fn length() -> impl Strategy<Value = f64> {
    prop_oneof![1.0..200.0, 1e-6..20_000.0, Just(1.0 / 3.0)]
}

fn start() -> impl Strategy<Value = Start> {
    let sizes = (
        1usize..12,
        1usize..30,
        [length(), length()],
        [0.0..50.0, 0.0..50.0],
    );
    let masked = prop::sample::select(vec![
        None,
        Some(Side::Left),
        Some(Side::Right),
        Some(Side::Top),
        Some(Side::Bottom),
    ]);
    let card = prop::sample::select(panel::built_in_cards()).prop_map(str::to_owned);
    let place = prop_oneof![
        Just(Place::Anywhere),
        prop::sample::select(vec![Side::Left, Side::Right, Side::Top, Side::Bottom])
            .prop_map(Place::Beside),
        [-20_000.0..-300.0, -5000.0..5000.0].prop_map(Place::AtMm),
    ];
    let cards = prop::collection::vec((card, place), 1..3);
    let text = prop::option::of("[^\\p{Cc}\\s]\\PC{0,40}");
    (sizes, any::<bool>(), any::<bool>(), masked, cards, text).prop_map(
        |(sizes, pitch, board, masked, cards, title)| {
            let (rows, columns, patch_mm, gap) = sizes;
            let pitch_mm = [patch_mm[0] + gap[0], patch_mm[1] + gap[1]];
            Start {
                id: "p".to_owned(),
                title,
                spreadsheet: None,
                rows,
                columns,
                patch_mm,
                pitch_mm: pitch.then_some(pitch_mm),
                board_mm: board.then_some([20_000.0, 20_000.0]),
                first_mm: None,
                masked,
                cards,
                substrate: None,
                coating: None,
                coats: None,
                patches: Vec::new(),
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_mutated_panel_is_read_or_refused_with_a_place(text in mutated()) {
        match read(&[("p.toml", &text)]) {
            Ok(panel) => {
                let json = serde_json::to_string(&panel).unwrap();
                prop_assert_eq!(serde_json::from_str::<Panel>(&json).unwrap(), panel);
            }
            Err(error) => {
                prop_assert!(!error.problems().is_empty());
                for problem in error.problems() {
                    prop_assert!(problem.spot.line.is_some() || problem.message.contains("no patches"), "{}", problem);
                }
            }
        }
    }

    #[test]
    fn a_starting_file_holds_what_it_was_made_from_and_can_be_drawn(start in start()) {
        let panel = match panel::read_text(&panel::template(&start), Path::new("p.toml")) {
            Ok(panel) => panel,
            Err(error) => {
                let told = error.to_string();
                let expected = ["overlap", "limit is", "does not fit", "would cover"];
                prop_assert!(expected.iter().any(|it| told.contains(it)), "{}", told);
                return Ok(());
            }
        };
        let grid = panel.grid.unwrap();
        prop_assert_eq!((grid.rows, grid.columns, grid.patch_mm), (start.rows, start.columns, start.patch_mm));
        prop_assert_eq!(grid.pitch_mm, start.pitch_mm.unwrap_or(start.patch_mm));
        prop_assert_eq!((&panel.title, panel.masked), (&start.title, start.masked));
        let cards: Vec<_> = panel.cards.iter().map(|it| (it.card.id.clone(), it.place)).collect();
        prop_assert_eq!(cards, start.cards);
        prop_assert_eq!(panel.board.is_some(), start.board_mm.is_some());

        let sheet = panel::sheet(&panel);
        let paper = [sheet.drawing.width, sheet.drawing.height];
        for shape in &sheet.drawing.shapes {
            let points: &[[f64; 2]] = match shape {
                Shape::Polygon { points, .. } | Shape::Line { points, .. } => points,
                Shape::Circle { centre, .. } => std::slice::from_ref(centre),
                Shape::Text(text) => std::slice::from_ref(&text.at),
            };
            for point in points {
                for axis in [0, 1] {
                    prop_assert!((-1e-6..=paper[axis] + 1e-6).contains(&point[axis]), "{:?} off {:?}", shape, paper);
                }
            }
            if let Shape::Text(text) = shape {
                let right = match text.anchor {
                    _ if text.turned != 0.0 => continue,
                    Anchor::Start => 1.0,
                    Anchor::Middle => 0.5,
                    Anchor::End => 0.0,
                };
                let width = text_width(&text.text, text.size);
                let left = text.at[0] - (1.0 - right) * width;
                prop_assert!(left > -1e-6 && left + width < paper[0] + 1e-6, "{:?} off {:?}", text, paper);
            }
        }
        let most = paper[0].max(paper[1]) * sheet.pixels_per_mm;
        prop_assert!((300.0..=8001.0).contains(&most), "{}", most);
    }

    #[test]
    fn any_spreadsheet_is_read_or_refused(csv in "(at|id|L|load1|[;,\t\"\n\r']|A1|[0-9],|\\PC){0,60}") {
        let panel = format!("id = \"p\"\npatches = \"t.csv\"\n{GREY}[grid]\npatch_mm = [9, 9]\n");
        if let Err(error) = read(&[("p.toml", &panel), ("t.csv", &csv)]) {
            prop_assert!(!error.problems().is_empty());
        }
    }
}
