//! Panel and card files: what is read from good ones, and what is said of bad ones.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]
#![expect(
    clippy::float_cmp,
    reason = "millimetres are taken over as they are written"
)]

use masstone::colour::{difference, lab};
use masstone::drawing::{Anchor, Shape, text_width};
use masstone::geometry::Rect;
use masstone::panel::{self, Control, Panel, PanelError, Place, Side, Start};
use std::path::Path;

/// Reads a panel from a folder that holds these files; the first is the panel.
fn read(files: &[(&str, &str)]) -> Result<Panel, PanelError> {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    panel::read(&folder.path().join(files[0].0))
}

/// What is said of a bad panel, without the folder's path.
fn complaint(files: &[(&str, &str)]) -> String {
    let error = read(files).expect_err(files[0].1);
    let whole = error.to_string();
    let start = whole.find(files[0].0).unwrap_or(0);
    let folder = &whole[..start];
    whole.replace(folder, "")
}

/// The panel file of the documentation, whole.
const LARCH: &str = r#"
id = "larch-2026-03"
title = "Mineral pigments on larch"
substrate = "planed larch"
coating = "clear exterior coating, two-part"
coats = 3
upright = false

[board]
size_mm = [520, 370]
first_patch_mm = [40, 40]
lab = [78.1, 5.2, 21.0]

[grid]
rows = 4
columns = 6
patch_mm = [60, 60]
pitch_mm = [75, 75]
masked = "left"

[[card]]
card = "grey-18"
place = "right"

[[card]]
card = "white-grey-black"
at_mm = [500, 0]
turned = 90

[[patch]]
at = "A1"
id = "PR101-12"
name = "blue-shade red iron oxide"
lot = "0312"
pigments = [{ pigment = "PR101", load = 12.0 }]
wet_g_per_m2 = 240

[[patch]]
at = "D6"
control = "clear-on-white"
masked = "top"
coats = 2
coating = "another"
substrate = "white board"

[[patch]]
at = "C3"
empty = true

[[patch]]
at_mm = [-35, 10]
size_mm = [30, 20]
id = "spot"
lab = [38.2, 41.0, 26.5]
uncertainty = 0.4
"#;

#[test]
fn the_panel_of_the_documentation_is_read_whole() {
    let panel = read(&[("larch.toml", LARCH)]).unwrap();
    assert_eq!(panel.id, "larch-2026-03");
    assert_eq!(panel.coats, Some(3.0));
    assert!(!panel.upright);
    let board = Rect {
        x: -40.0,
        y: -40.0,
        width: 520.0,
        height: 370.0,
    };
    assert_eq!(panel.board, Some(board));
    assert!((panel.board_colour.as_ref().unwrap().lab.l - 78.1).abs() < 1e-12);
    assert_eq!(panel.patches.len(), 25);
    let ids: Vec<&str> = panel.patches.iter().map(|it| it.id.as_str()).collect();
    assert_eq!(ids[..3], ["PR101-12", "A2", "A3"]);
    assert_eq!(ids[23..], ["D6", "spot"]);

    let first = panel.patch("PR101-12").unwrap();
    assert_eq!(first.position().unwrap(), "A1");
    assert_eq!(first.pigments[0].pigment, "PR101");
    assert_eq!(
        (first.pigments[0].load, first.wet_g_per_m2),
        (12.0, Some(240.0))
    );
    assert_eq!(panel.coats_of(first), Some(3.0));
    let half = |x| Rect {
        x,
        y: 0.0,
        width: 30.0,
        height: 60.0,
    };
    assert_eq!(first.masked_half(), Some(half(0.0)));
    assert_eq!(first.exposed_half(), Some(half(30.0)));

    let last = panel.patch("D6").unwrap();
    assert_eq!(last.control, Some(Control::ClearOnWhite));
    assert_eq!((last.rect.x, last.rect.y), (375.0, 225.0));
    let top = last.masked_half().unwrap();
    assert_eq!((top.y, top.width, top.height), (225.0, 60.0, 30.0));
    assert_eq!(last.exposed_half().unwrap().y, 255.0);
    assert_eq!(panel.coats_of(last), Some(2.0));
    assert_eq!(panel.coating_of(last), Some("another"));
    assert_eq!(panel.substrate_of(last), Some("white board"));
    assert!(panel.patch("C3").unwrap().empty);

    let spot = panel.patch("spot").unwrap();
    assert_eq!((spot.cell, spot.masked), (None, Some(Side::Left)));
    assert_eq!(spot.known.as_ref().unwrap().u95, Some(0.4));

    assert_eq!(panel.cards[0].card.id, "grey-18");
    assert_eq!(panel.cards[0].place, Place::Beside(Side::Right));
    assert_eq!(panel.cards[1].place, Place::AtMm([500.0, 0.0]));
    // Three zones of 50 × 100 in a row, turned by a quarter.
    assert_eq!(panel.cards[1].size(), [100.0, 150.0]);
}

#[test]
fn a_panel_survives_json_without_a_changed_bit() {
    let panel = read(&[
        ("p.toml", "id = \"é\"\n[[card]]\ncard = \"chart-24\"\nplace = \"above\"\n[grid]\npatch_mm = [0.1, 1e-3]\n\
          [[patch]]\nat = \"A1\"\nxyz = [20.1234567890123, 18.333333333333332, 3.0000000000000004]\n"),
    ])
    .unwrap();
    let json = serde_json::to_string(&panel).unwrap();
    let back: Panel = serde_json::from_str(&json).unwrap();
    assert_eq!(back, panel);
    assert!(
        panel.cards[0].card.patches[0]
            .known
            .as_ref()
            .unwrap()
            .reflectance
            .is_some()
    );
}

#[test]
fn the_cards_of_the_program_are_sound_and_are_panels_too() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibration");
    for (name, zones) in [("grey-18", 1), ("white-grey-black", 3), ("chart-24", 24)] {
        let card = panel::read(&folder.join(format!("{name}.toml"))).unwrap();
        assert_eq!(card.id, name);
        assert_eq!(card.patches.len(), zones);
        assert!(card.patches.iter().all(|it| it.known.is_some()), "{name}");
    }
    assert_eq!(
        panel::built_in_cards(),
        ["chart-24", "grey-18", "white-grey-black"]
    );
    let zones = panel::read(&folder.join("white-grey-black.toml")).unwrap();
    let l: Vec<f64> = zones
        .patches
        .iter()
        .map(|it| it.known.as_ref().unwrap().lab.l)
        .collect();
    assert!(
        l[0] > 85.0 && (40.0..60.0).contains(&l[1]) && l[2] < 30.0,
        "{l:?}"
    );
    let chart = panel::read(&folder.join("chart-24.toml")).unwrap();
    let outer = chart.outer();
    assert_eq!(
        (outer.width, outer.height, outer.x, outer.y),
        (280.0, 195.0, -7.5, -10.0)
    );
    assert_eq!(chart.patch("D6").unwrap().rect.x, 225.0);
}

#[test]
fn known_colours_may_be_given_in_three_ways() {
    let known = |colour: &str| {
        let text =
            format!("id = \"k\"\n[grid]\npatch_mm = [9, 9]\n[[patch]]\nat = \"A1\"\n{colour}\n");
        read(&[("k.toml", &text)]).unwrap().patches[0]
            .known
            .clone()
            .unwrap()
    };
    // ISO/CIE 11664-4: a neutral with Y = 18.4187 % has L* = 50 (here Y = 100 (66/116)³).
    let y = 100.0 * (66.0_f64 / 116.0).powi(3);
    let by_xyz = known(&format!("xyz = [{}, {y}, {}]", 0.96422 * y, 0.82521 * y));
    assert!((by_xyz.lab.l - 50.0).abs() < 1e-9, "{:?}", by_xyz.lab);
    assert!(difference::delta_e_2000(by_xyz.lab, known("lab = [50, 0, 0]").lab) < 1e-3);
    let values = vec![(y / 100.0).to_string(); 36].join(", ");
    let by_spectrum = known(&format!(
        "reflectance = {{ start_nm = 380, step_nm = 10, values = [{values}] }}\nuncertainty = 1"
    ));
    assert!((by_spectrum.lab.l - 50.0).abs() < 1e-9 && by_spectrum.lab.a.abs() < 1e-9);
    assert_eq!(by_spectrum.u95, Some(1.0));
    assert_eq!(by_spectrum.reflectance.unwrap().values.len(), 36);
    assert!((lab::to_xyz(by_spectrum.lab).y - y / 100.0).abs() < 1e-12);
}

const GREY: &str = "[[card]]\ncard = \"grey-18\"\n";

#[test]
fn a_panel_without_a_grid_has_its_patches_where_they_are_put() {
    let text = format!(
        "id = \"loose\"\n{GREY}[[patch]]\nat_mm = [5, 6]\nsize_mm = [40, 30]\nid = \"left\"\nmasked = \"right\"\n\
        [[patch]]\nat_mm = [45, 6]\nsize_mm = [40, 30]\nid = \"touching\"\n"
    );
    let panel = read(&[("loose.toml", &text)]).unwrap();
    assert_eq!(panel.grid, None);
    let extent = panel.extent();
    assert_eq!(
        (extent.x, extent.y, extent.width, extent.height),
        (5.0, 6.0, 80.0, 30.0)
    );
    assert_eq!(panel.patches[0].exposed_half().unwrap().x, 5.0);
}

#[test]
fn a_turned_card_lays_its_zones_where_a_turned_card_has_them() {
    let panel = read(&[("larch.toml", LARCH)]).unwrap();
    let card = &panel.cards[1];
    let corner = [500.0, 0.0];
    let zone = |i: usize| card.lay(&card.card.patches[i].rect, corner);
    // A quarter clockwise: what was left is on top.
    assert_eq!(
        (zone(0).x, zone(0).y, zone(0).width, zone(0).height),
        (500.0, 0.0, 100.0, 50.0)
    );
    assert_eq!(zone(2).y, 100.0);
    for turned in [None, Some(0), Some(90), Some(180), Some(270)] {
        let card = panel::PlacedCard {
            turned,
            ..card.clone()
        };
        assert_eq!(
            card.lay(&card.card.outer(), corner),
            card.outer().unwrap(),
            "{turned:?}"
        );
    }
    let quarter = panel::PlacedCard {
        turned: Some(270),
        ..card.clone()
    };
    assert_eq!(quarter.lay(&card.card.patches[0].rect, corner).y, 100.0);
    let half = panel::PlacedCard {
        turned: Some(180),
        ..card.clone()
    };
    assert_eq!(half.lay(&card.card.patches[0].rect, corner).x, 600.0);
}

#[test]
fn a_card_is_sought_at_its_path_then_beside_the_panel_then_in_the_program() {
    let mine = |id: &str| {
        format!(
            "id = \"{id}\"\n[grid]\npatch_mm = [50, 50]\n[[patch]]\nat = \"A1\"\nlab = [60, 0, 0]\n"
        )
    };
    let (beside, deep) = (mine("beside"), mine("deep"));
    let used = |card: &str| {
        let text = format!("id = \"p\"\n[grid]\npatch_mm = [9, 9]\n[[card]]\ncard = \"{card}\"\n");
        let files = [
            ("p.toml", &*text),
            ("grey-18.toml", &*beside),
            ("cards/deep.toml", &*deep),
        ];
        read(&files).unwrap().cards[0].card.id.clone()
    };
    assert_eq!(used("grey-18"), "beside");
    assert_eq!(used("cards/deep.toml"), "deep");
    assert_eq!(used("./grey-18.toml"), "beside");
    assert_eq!(used("chart-24"), "chart-24");
}

#[test]
fn a_spreadsheet_of_patches_is_understood_however_it_was_saved() {
    let panel_file = format!(
        "id = \"p\"\npatches = \"patches.csv\"\n{GREY}[grid]\nrows = 2\ncolumns = 2\npatch_mm = [9, 9]\n\
        [[patch]]\nat = \"A1\"\nwet_g_per_m2 = 200\n"
    );
    for csv in [
        "at,id,name,pigment1,load1,pigment2,load2,L,a,b,control,empty\n\
         A1,ochre,Ocker gelb,PY42,12.5,PBr7,0.5,60,10.5,30,,\n\
         A2,,,,,,,,,,clear,\n\
         B1,,,,,,,,,,,yes\n",
        "\u{feff}at;id;name;pigment1;load1;pigment2;load2;L;a;b;control;empty\r\n\
         A1;ochre;Ocker gelb;PY42;12,5;PBr7;0,5;60;10,5;30;;\r\n\
         A2;;;;;;;;;;clear;no\r\n\
         ;;;;;;;;;;;\r\n\
         b1;;;;;;;;;;;x\r\n",
        "at,id,name,pigment1,load1,pigment2,load2,L,a,b,control,empty\n\
         B1,,,,,,,,,,,TRUE\n\
         A1,ochre,Ocker gelb,PY42,\"12,5\",PBr7,\"0,5\",60,\"10,5\",30,,\n\
         A2,,,,,,,,,,clear,0\n",
        "at\tid\tname\tpigment1\tload1\tpigment2\tload2\tL\ta\tb\tcontrol\tempty\n\
         A1\tochre\tOcker gelb\tPY42\t12.5\tPBr7\t0.5\t60\t10.5\t30\t\t\n\
         A2\t\t\t\t\t\t\t\t\t\tclear\t\nB1\t\t\t\t\t\t\t\t\t\t\t1\n",
    ] {
        let panel = read(&[("p.toml", &panel_file), ("patches.csv", csv)]).unwrap();
        let first = &panel.patches[0];
        assert_eq!(
            (first.id.as_str(), first.name.as_deref()),
            ("ochre", Some("Ocker gelb"))
        );
        let loads: Vec<_> = first
            .pigments
            .iter()
            .map(|it| (it.pigment.as_str(), it.load))
            .collect();
        assert_eq!(loads, [("PY42", 12.5), ("PBr7", 0.5)]);
        assert!((first.known.as_ref().unwrap().lab.a - 10.5).abs() < 1e-12);
        // What the spreadsheet has no column for comes from the panel file.
        assert_eq!(first.wet_g_per_m2, Some(200.0));
        assert_eq!(panel.patches[1].control, Some(Control::Clear));
        let empty: Vec<bool> = panel.patches.iter().map(|it| it.empty).collect();
        assert_eq!(empty, [false, false, true, false]);
    }
}

#[test]
fn bad_spreadsheets_are_refused_with_their_line() {
    let panel_file = format!(
        "id = \"p\"\npatches = \"t.csv\"\n{GREY}[grid]\nrows = 2\ncolumns = 2\npatch_mm = [9, 9]\n\
        [[patch]]\nat = \"B2\"\nname = \"here\"\n"
    );
    for (csv, expected) in [
        ("", "t.csv: empty; the first line must name the columns"),
        (
            "at,nmae\n",
            "t.csv, line 1: unknown column `nmae`; did you mean `name`?",
        ),
        ("at,pigment4\n", "t.csv, line 1: unknown column `pigment4`"),
        ("at,at\n", "t.csv, line 1: the column `at` is there twice"),
        ("id,name\n", "t.csv, line 1: the column `at` is missing"),
        (
            "at,id\nA1,x,y\n",
            "t.csv, line 2: 3 cells, but the first line names 2 columns",
        ),
        (
            "at,id\n\nA9,x\n",
            "t.csv, line 3: A9 lies outside the grid, which ends at B2",
        ),
        (
            "at,id\nA1,x\nA1,y\n",
            "t.csv, line 3: A1 is described twice, first in",
        ),
        (
            "at,id\nfirst,x\n",
            "t.csv, line 2: \"first\" is no position",
        ),
        ("at,id\n,x\n", "t.csv, line 2: `at` is empty"),
        (
            "at,id\nA1,=x\n",
            "t.csv, line 2: `id` \"=x\" can't start with",
        ),
        (
            "at,pigment1,load1\nA1,PY42,\n",
            "t.csv, line 2: `pigment1` without `load1`",
        ),
        (
            "at,pigment1,load1\nA1,,3\n",
            "t.csv, line 2: `load1` without `pigment1`",
        ),
        (
            "at,pigment1,load1\nA1,PY42,-3\n",
            "t.csv, line 2: `load1` is -3; it must be above 0",
        ),
        (
            "at,pigment1,load1\nA1,PY42,nan\n",
            "t.csv, line 2: `load1` is \"nan\"; it must be a number",
        ),
        (
            "at;pigment1;load1\nA1;PY42;1.234,5\n",
            "t.csv, line 2: `load1` is \"1.234,5\"; it must be a number",
        ),
        (
            "at,L,a\nA1,3,3\n",
            "t.csv, line 2: a known colour needs all of",
        ),
        (
            "at,L,a,b\nA1,300,3,1\n",
            "t.csv, line 2: L* is 300; it must be from 0 to 100",
        ),
        (
            "at,empty\nA1,perhaps\n",
            "t.csv, line 2: `empty` can't be \"perhaps\"",
        ),
        (
            "at,control\nA1,clera\n",
            "t.csv, line 2: `control` can't be \"clera\"",
        ),
        (
            "at,name\nB2,there\n",
            "`name` of this patch is also stated in",
        ),
        (
            "at,empty,L,a,b\nA1,yes,50,0,0\n",
            "t.csv, line 2: a patch can't be empty and have a known colour",
        ),
    ] {
        let said = complaint(&[("p.toml", &panel_file), ("t.csv", csv)]);
        assert!(said.contains(expected), "{csv:?} gave\n{said}");
    }
    let said = complaint(&[("p.toml", &panel_file)]);
    assert!(
        said.starts_with("p.toml, line 2, column 11: the table of patches can't be used"),
        "{said}"
    );
}

#[test]
fn bad_panels_are_refused_with_their_place_and_what_would_be_right() {
    // `$` stands for a good grid and card, one line each.
    let good =
        "grid = { rows = 2, columns = 2, patch_mm = [9, 9] }\ncard = [{ card = \"grey-18\" }]\n";
    for (text, expected) in [
        ("$", "p.toml, line 1, column 1: `id` is missing"),
        (
            "id = \"p\"\n$coat = 3\n",
            "p.toml, line 4, column 1: unknown key `coat` in the panel; did you mean `coats`?",
        ),
        (
            "id = \"p\"\nid = \"q\"\n$",
            "p.toml, line 2, column 1: not readable as TOML: duplicate key",
        ),
        ("id = \"p\n$", "p.toml, line 1, column"),
        (
            "id = 7\n$",
            "p.toml, line 1, column 6: `id` must be text in quotes, not a number",
        ),
        ("id = \"\"\n$", "p.toml, line 1, column 6: `id` is empty"),
        ("id = \"=p\"\n$", "`id` \"=p\" can't start with"),
        ("id = \"+p\"\n$", "can't start with"),
        ("id = \"-p\"\n$", "can't start with"),
        ("id = \"@p\"\n$", "can't start with"),
        ("id = \"\\tp\"\n$", "has control characters"),
        ("id = \"\\rp\"\n$", "has control characters"),
        ("id = \"p\\u0000\"\n$", "has control characters"),
        ("id = \" p\"\n$", "has blanks at its start or end"),
        (
            "id = \"p\"\ncoats = -1\n$",
            "p.toml, line 2, column 9: `coats` is -1; it must be above 0",
        ),
        (
            "id = \"p\"\nupright = \"yes\"\n$",
            "`upright` must be true or false, not text in quotes",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml: neither a card nor a known colour",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\n",
            "p.toml: no patches",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"gray-18\"\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 3, column 8: there is no card \"gray-18\"",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"nowhere/x.toml\"\n[grid]\npatch_mm = [9, 9]\n",
            "there is no card file \"nowhere/x.toml\"",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"p.toml\"\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 2, column 1: a card can't name cards itself",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nplace = \"top\"\n[grid]\npatch_mm = [9, 9]\n",
            "`place` can't be \"top\"",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nplace = \"left\"\nat_mm = [1, 1]\n[grid]\npatch_mm = [9, 9]\n",
            "`place` and `at_mm` both say",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nturned = 45\n[grid]\npatch_mm = [9, 9]\n",
            "`turned` is 45; it must be 0, 90, 180 or 270",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nat_mm = [5, 5]\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 2, column 1: the card grey-18 would cover patch A1",
        ),
        (
            "id = \"p\"\n[[card]]\ncard = \"grey-18\"\nat_mm = [20, 0]\n[[card]]\ncard = \"grey-18\"\nat_mm = [50, 50]\n[grid]\npatch_mm = [9, 9]\n",
            "p.toml, line 5, column 1: the cards grey-18 and grey-18 overlap",
        ),
        ("id = \"p\"\ncard = 3\n", "`card` must be a list"),
        (
            "id = \"p\"\n[card]\ncard = \"grey-18\"\n[grid]\npatch_mm = [9, 9]\n",
            "Write [[card]] with two brackets",
        ),
        (
            "id = \"p\"\n[board]\npatches = \"x.csv\"\n",
            "`patches` belongs to the top of the file",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [100, 100]\n",
            "`first_patch_mm` is missing in [board]",
        ),
        (
            "id = \"p\"\n$[board]\nfirst_patch_mm = [1, 1]\n",
            "`size_mm` is missing in [board]",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [18, 17]\nfirst_patch_mm = [0, 0]\n",
            "patch B1 does not fit on the board",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [180, 170]\nfirst_patch_mm = [-1, 0]\n",
            "patch A1 does not fit on the board",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [18, nan]\nfirst_patch_mm = [0, 0]\n",
            "`size_mm` must be a finite number",
        ),
        (
            "id = \"p\"\n$[board]\nsize_mm = [18]\nfirst_patch_mm = [0, 0]\n",
            "`size_mm` must be [width, height], not 1 values",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 2\n",
            "p.toml, line 2, column 1: `patch_mm` is missing in [grid]",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 0\npatch_mm = [9, 9]\n",
            "`rows` is 0; it must be a whole number from 1 to 10000",
        ),
        (
            "id = \"p\"\n[grid]\nrows = -2\npatch_mm = [9, 9]\n",
            "`rows` is -2; it must be a whole number",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 2.0\npatch_mm = [9, 9]\n",
            "`rows` must be a whole number, not a number",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 99999999999999999999999\npatch_mm = [9, 9]\n",
            "it must be a whole number from 1 to 10000",
        ),
        (
            "id = \"p\"\n[grid]\nrows = 9999\ncolumns = 9999\npatch_mm = [9, 9]\n",
            "more than the 10000 patches",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [0, 9]\n",
            "p.toml, line 3, column 13: `patch_mm` is 0; it must be above 0",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [-9, 9]\n",
            "`patch_mm` is -9; it must be above 0",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [inf, 9]\n",
            "`patch_mm` must be a finite number",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [1e300, 9]\n",
            "the limit is 20000",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\npitch_mm = [9, 8]\n",
            "p.toml, line 4, column 12: `pitch_mm` goes from patch to patch",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\nmasked = \"above\"\n",
            "`masked` can't be \"above\"",
        ),
        (
            "id = \"p\"\n$[[patch]]\nname = \"x\"\n",
            "say where the patch is",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"C1\"\n",
            "p.toml, line 4, column 1: C1 lies outside the grid, which ends at B2",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"1A\"\n",
            "p.toml, line 5, column 6: \"1A\" is no position",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\n[[patch]]\nat = \"a1\"\n",
            "p.toml, line 6, column 1: A1 is described twice, first in p.toml, line 4",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nid = \"B2\"\n",
            "the id \"B2\" is used twice: by A1 (line 4) and by B2",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nat_mm = [50, 50]\n",
            "`at` and `at_mm` both say",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nsize_mm = [50, 50]\n",
            "`size_mm` is for patches off the grid",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat_mm = [50, 50]\nid = \"x\"\n",
            "`size_mm` is missing in [[patch]]",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat_mm = [50, 50]\nsize_mm = [5, 5]\n",
            "give it an `id`",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat_mm = [5, 5]\nsize_mm = [5, 5]\nid = \"x\"\n",
            "p.toml, line 4, column 1: patch x overlaps patch A1",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", load = 0 }]\n",
            "`load` is 0; it must be above 0",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", load = 60 }, { pigment = \"PR101\", load = 60 }]\n",
            "the loads add up to 120",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", load = 1 }, { pigment = \"PY42\", load = 2 }]\n",
            "PY42 is there twice",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\" }]\n",
            "`load` is missing",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\npigments = [{ pigment = \"PY42\", laod = 1 }]\n",
            "unknown key `laod` in `pigments`; did you mean `load`?",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\ncontrol = \"clear\"\npigments = [{ pigment = \"PY42\", load = 1 }]\n",
            "a control is coating without pigment",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\nxyz = [20, 20, 20]\n",
            "`lab` and `xyz` both state the colour; keep one",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [101, 0, 0]\n",
            "L* is 101; it must be from 0 to 100",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 200, 0]\n",
            "a* is 200; no surface lies beyond",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 0]\n",
            "`lab` must be [L*, a*, b*], not 2 values",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [nan, 0, 0]\n",
            "`lab` must be a finite number",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nxyz = [0.18, 0.18, 0.15]\n",
            "looks as if white had Y = 1",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nxyz = [18, 118, 15]\n",
            "Y is at most 100",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nuncertainty = 1\n",
            "`uncertainty` without a colour",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\nuncertainty = 0\n",
            "`uncertainty` is 0; it must be above 0",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nreflectance = { start_nm = 400, step_nm = 10, values = [50] }\n",
            "the spectrum covers 400–400 nm",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nempty = true\nlab = [50, 0, 0]\n",
            "a patch can't be empty and have a known colour",
        ),
        (
            "id = \"p\"\n$[[patch]]\nat = \"A1\"\nname = \"\"\n",
            "`name` is empty; leave it out instead",
        ),
        (
            "id = \"p\"\n[grid]\npatch_mm = [9, 9]\n[[patch]]\nat = \"A1\"\nempty = true\n[[card]]\ncard = \"grey-18\"\n",
            "every patch is empty",
        ),
        (
            "id = \"p\"\n[[patch]]\nat = \"A1\"\nlab = [50, 0, 0]\n",
            "A1 is a position in a grid, but there is no [grid]",
        ),
    ] {
        let said = complaint(&[("p.toml", &text.replace('$', good))]);
        assert!(
            said.contains(expected),
            "{text}\ngave\n{said}\nnot\n{expected}"
        );
        let line = text.contains("neither") || expected.starts_with("p.toml: ");
        assert!(
            line || said.contains(", line "),
            "{text}\ngave no line\n{said}"
        );
    }
}

#[test]
fn everything_that_is_wrong_is_said_at_once() {
    let many = format!("id = \"p\"\n[grid]\npatch_mm = [9, 9]\n{}", GREY.repeat(51));
    assert_eq!(
        complaint(&[("p.toml", &many)]),
        "p.toml, line 104, column 1: more than the 50 cards that a panel can have"
    );
    let error = read(&[("p.toml", "id = 3\ncoats = 0\n[grid]\nrows = 0\npatch_mm = [9, 9]\n[[patch]]\nat = \"?\"\n[[patch]]\nat = \"A1\"\nnaem = \"x\"\n")]).unwrap_err();
    let lines: Vec<_> = error.problems().iter().map(|it| it.spot.line).collect();
    assert_eq!(lines, [Some(1), Some(2), Some(4), Some(7), Some(10)]);
    assert_eq!(error.to_string().lines().count(), 5);
}

#[test]
fn files_that_are_no_panels_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let said = |path: &Path| panel::read(path).unwrap_err().to_string();
    assert!(said(&folder.path().join("none.toml")).contains("can't read it"));
    assert!(said(folder.path()).contains("can't read it"));
    let photo = folder.path().join("photo.toml");
    std::fs::write(&photo, b"a\n\xff\xd8\xff").unwrap();
    assert!(
        said(&photo).contains("photo.toml, line 2: not UTF-8 text"),
        "{}",
        said(&photo)
    );
    let latin = folder.path().join("latin.csv");
    std::fs::write(&latin, b"at,name\nA1,gr\xfcn\n").unwrap();
    let p = folder.path().join("p.toml");
    std::fs::write(
        &p,
        format!("id = \"p\"\npatches = \"latin.csv\"\n{GREY}[grid]\npatch_mm = [9, 9]\n"),
    )
    .unwrap();
    assert!(said(&p).contains("CSV UTF-8"), "{}", said(&p));
}

mod hostile {
    use super::*;
    use proptest::prelude::*;

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
}
