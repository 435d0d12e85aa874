//! Panel and card files: what is read from good ones.

#![expect(
    clippy::float_cmp,
    reason = "millimetres are taken over as they are written"
)]

mod panel_text;

use masstone::colour::{difference, lab};
use masstone::geometry::Rect;
use masstone::panel::{self, Control, Panel, Place, Side};
use panel_text::{GREY, read};
use std::path::Path;

/// The panel file of the documentation, whole.
const LARCH: &str = include_str!("panel_text/larch.toml");

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
fn where_a_cell_is_empty_another_patch_may_lie() {
    let text = format!(
        "id = \"p\"\n{GREY}[grid]\nrows = 1\ncolumns = 2\npatch_mm = [9, 9]\n[[patch]]\nat = \"A2\"\nempty = true\n\
        [[patch]]\nid = \"spot\"\nat_mm = [11, 1]\nsize_mm = [5, 5]\n"
    );
    let panel = read(&[("p.toml", &text)]).unwrap();
    let rect = panel.patch("spot").unwrap().rect;
    assert!(panel.patches[1].empty && panel.patches[1].rect.contains(&rect.centre()));
    let text = text.replace("empty = true\n", "");
    assert!(read(&[("p.toml", &text)]).is_err());
}
