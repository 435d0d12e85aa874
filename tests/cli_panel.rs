//! `masstone panel new` and `masstone panel show`, from the outside.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]
#![expect(
    clippy::float_cmp,
    reason = "millimetres are taken over as they are written"
)]

use assert_cmd::Command;
use masstone::panel::{self, Place, Side};
use std::fs;
use std::path::Path;

/// Exit status, standard output and standard error of a run in a folder.
fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("masstone")
        .unwrap()
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|it| it.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_new_panel_file_is_a_panel_with_everything_that_was_asked() {
    let folder = tempfile::tempdir().unwrap();
    let (status, out, err) = run(
        folder.path(),
        &[
            "panel",
            "new",
            "--rows",
            "3",
            "--columns",
            "4",
            "--patch-mm",
            "60,50",
            "--pitch-mm",
            "70.5,62",
            "--board-mm",
            "350,250",
            "--masked",
            "top",
            "--card",
            "grey-18:above",
            "--card",
            "chart-24:anywhere",
            "--title",
            "Ochres \"& co\"",
            "--out",
            "ochres.toml",
        ],
    );
    assert_eq!((status, out.as_str(), err.as_str()), (0, "", ""));
    let panel = panel::read(&folder.path().join("ochres.toml")).unwrap();
    assert_eq!(
        (panel.id.as_str(), panel.title.as_deref()),
        ("ochres", Some("Ochres \"& co\""))
    );
    let grid = panel.grid.unwrap();
    assert_eq!((grid.rows, grid.columns), (3, 4));
    assert_eq!((grid.patch_mm, grid.pitch_mm), ([60.0, 50.0], [70.5, 62.0]));
    assert_eq!(panel.masked, Some(Side::Top));
    // In the middle: (350 − 3 × 70.5 − 60) / 2 = 39.25, to a tenth; (250 − 2 × 62 − 50) / 2 = 38.
    let board = panel.board.unwrap();
    assert!(
        (board.x + 39.3).abs() < 1e-9 && (board.y + 38.0).abs() < 1e-9,
        "{board:?}"
    );
    let cards: Vec<_> = panel
        .cards
        .iter()
        .map(|it| (it.card.id.as_str(), it.place))
        .collect();
    assert_eq!(
        cards,
        [
            ("grey-18", Place::Beside(Side::Top)),
            ("chart-24", Place::Anywhere)
        ]
    );

    // Every line that is to be filled in is right as it stands, once its # is taken away.
    let text = fs::read_to_string(folder.path().join("ochres.toml")).unwrap();
    let filled = text
        .replace("# name = \"\"", "name = \"x\"")
        .replace("# pigments", "pigments")
        .replace("# coats", "coats");
    fs::write(folder.path().join("filled.toml"), filled).unwrap();
    let panel = panel::read(&folder.path().join("filled.toml")).unwrap();
    assert_eq!(panel.coats, Some(3.0));
    assert!(
        panel
            .patches
            .iter()
            .all(|it| it.pigments[0].pigment == "PY42")
    );
}

#[test]
fn the_commented_lines_of_a_new_panel_file_are_all_valid() {
    let folder = tempfile::tempdir().unwrap();
    let (_, text, _) = run(
        folder.path(),
        &[
            "panel",
            "new",
            "--rows",
            "1",
            "--columns",
            "1",
            "--patch-mm",
            "60,60",
        ],
    );
    // Comments that look like `key = value` belong to the table above them, but for the extra keys of a patch.
    let mut extra = Vec::new();
    let mut lines = Vec::new();
    for line in text.lines() {
        let bare = line.strip_prefix("# ").unwrap_or(line);
        let is_key = bare.split_once(" = ").is_some_and(|it| !it.0.contains(' '));
        let key = bare.split(' ').next().unwrap_or_default();
        if ["id", "lot", "wet_g_per_m2", "lab", "uncertainty"].contains(&key)
            && line.starts_with('#')
        {
            extra.push(bare);
        } else if line.starts_with('#') && is_key && !["control", "empty", "name"].contains(&key)
            || bare == "[board]"
        {
            lines.push(bare);
        } else {
            lines.push(line);
        }
    }
    lines.extend(extra);
    fs::write(folder.path().join("all.toml"), lines.join("\n")).unwrap();
    let panel = panel::read(&folder.path().join("all.toml")).unwrap();
    assert!(panel.upright && panel.board.is_some() && panel.masked.is_some());
    let patch = panel.patch("PR101-12").unwrap();
    assert_eq!(patch.lot.as_deref(), Some("0312"));
    assert_eq!(patch.known.as_ref().unwrap().u95, Some(0.5));
    assert_eq!(panel.grid.unwrap().pitch_mm, [75.0, 75.0]);
}

#[test]
fn a_new_panel_file_takes_its_size_from_a_spreadsheet_and_refers_to_it() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("patches.csv"),
        "at;name;pigment1;load1\nB3;Ocker;PY42;12,5\nA1;;;\n",
    )
    .unwrap();
    let new = [
        "panel",
        "new",
        "--csv",
        "patches.csv",
        "--patch-mm",
        "20,20",
        "--out",
        "new/p.toml",
    ];
    let (status, _, err) = run(folder.path(), &new);
    assert_eq!(status, 1, "{err}");
    fs::create_dir(folder.path().join("new")).unwrap();
    assert_eq!(run(folder.path(), &new).0, 0);
    let panel = panel::read(&folder.path().join("new/p.toml")).unwrap();
    assert_eq!(panel.patches.len(), 6);
    assert_eq!(panel.patches[5].name.as_deref(), Some("Ocker"));

    let (status, out, _) = run(
        folder.path(),
        &[
            "panel",
            "new",
            "--csv",
            "patches.csv",
            "--patch-mm",
            "20,20",
        ],
    );
    assert_eq!(status, 0);
    assert!(out.contains("\npatches = \"patches.csv\"\n"), "{out}");

    fs::write(folder.path().join("bad.csv"), "at,name\nA1,x\nA1,y,z\n").unwrap();
    let (status, out, err) = run(
        folder.path(),
        &["panel", "new", "--csv", "bad.csv", "--patch-mm", "20,20"],
    );
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("bad.csv, line 3: 3 cells"), "{err}");
}

#[test]
fn nothing_is_overwritten_and_nothing_senseless_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    fs::write(&path, "precious").unwrap();
    let base = [
        "panel",
        "new",
        "--rows",
        "2",
        "--columns",
        "2",
        "--patch-mm",
        "60,60",
    ];
    let with = |more: &[&str]| {
        let all: Vec<&str> = base.iter().chain(more).copied().collect();
        run(folder.path(), &all)
    };
    let (status, _, err) = with(&["--out", "mine.toml"]);
    assert_eq!(status, 1);
    assert!(
        err.contains("mine.toml is there already and was left alone"),
        "{err}"
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), "precious");

    for (more, expected) in [
        (
            &["--pitch-mm", "50,60"][..],
            "`pitch_mm` goes from patch to patch",
        ),
        (&["--board-mm", "100,100"], "does not fit on the board"),
        (&["--card", "nonesuch"], "there is no card \"nonesuch\""),
        (&["--card", "grey-18:under"], "\"under\" is no place"),
        (&["--id", "=x"], "can't start with"),
        (&["--rows", "0"], "cannot be used multiple times"),
        (&["--pitch-mm", "60"], "two numbers with a comma"),
        (&["--pitch-mm", "60,nan"], "two numbers with a comma"),
    ] {
        let (status, out, err) = with(&[more, &["--out", "other.toml"]].concat());
        assert_eq!((status, out.as_str()), (2, ""), "{more:?}\n{err}");
        assert!(err.contains(expected), "{more:?} gave\n{err}");
    }
    let (status, _, err) = run(
        folder.path(),
        &[
            "panel",
            "new",
            "--rows",
            "0",
            "--columns",
            "2",
            "--patch-mm",
            "60,60",
        ],
    );
    assert_eq!(status, 2);
    assert!(err.contains("`rows` is 0"), "{err}");
    assert_eq!(names(folder.path()), ["mine.toml"]);
}

const PANEL: &str = "id = \"larch\"\ntitle = \"Minerals\"\n[board]\nsize_mm = [200, 100]\nfirst_patch_mm = [20, 20]\n\
    [grid]\ncolumns = 2\npatch_mm = [60, 60]\npitch_mm = [75, 60]\nmasked = \"left\"\n[[card]]\ncard = \"grey-18\"\nplace = \"below\"\n\
    [[patch]]\nat = \"A1\"\nid = \"red\"\nname = \"<Rot> & grün\\u001b[31m אדום\"\nlot = \"7\"\npigments = [{ pigment = \"PR101\", load = 12.5 }, { pigment = \"PBr7\", load = 1 }]\n\
    [[patch]]\nat = \"A2\"\nlab = [50, -0.001, 3]\nuncertainty = 0.4\n";

#[test]
fn a_panel_is_shown_as_a_table() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("p.toml");
    fs::write(&path, PANEL.replace("\\u001b[31m", "")).unwrap();
    let (status, out, err) = run(folder.path(), &["panel", "show", "p.toml"]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(
        out,
        "larch: Minerals\n\
         board: 200 × 100 mm; A1 is 20 mm from its left and 20 mm from its top edge\n\
         grid: 1 × 2 patches (rows × columns) of 60 × 60 mm, 75 mm across and 60 mm down from patch to patch\n\
         card: grey-18, 100 × 100 mm, below the grid\n\
         \n\
         at  id   name               pigments (g per 100 g)  lot  known L* a* b*             masked\n\
         A1  red  <Rot> & grün אדום  PR101 12.5 + PBr7 1     7                               left\n\
         A2  A2                                                   50.00 0.00 3.00 (U95 0.4)  left\n"
    );
}

#[test]
fn a_panel_is_drawn_to_scale() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("p.toml");
    fs::write(&path, PANEL.replace("\\u001b[31m", "")).unwrap();
    let (status, _, err) = run(
        folder.path(),
        &[
            "panel", "show", "p.toml", "--svg", "p.svg", "--png", "p.png",
        ],
    );
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(names(folder.path()), ["p.png", "p.svg", "p.toml"]);
    let svg = fs::read_to_string(folder.path().join("p.svg")).unwrap();
    for text in [
        "&lt;Rot&gt;",
        "red",
        "PR101 12.5 g",
        ">20<",
        ">80<",
        ">95<",
        ">155<",
        ">200 mm<",
        ">100 mm<",
        ">up<",
        "card grey-18",
        "left one of each patch (30 × 60 mm)",
    ] {
        assert!(svg.contains(text), "{text} is missing");
    }
    // One unit is a millimetre: there are rectangles as large as the board, a patch, a half and the card.
    let sizes: Vec<[f64; 2]> = svg
        .lines()
        .filter_map(|it| it.strip_prefix("<polygon points=\"")?.split('"').next())
        .map(|it| {
            let points: Vec<f64> = it.split([' ', ',']).map(|it| it.parse().unwrap()).collect();
            let span = |axis: usize| {
                let values = || points.iter().skip(axis).step_by(2).copied();
                values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
            };
            [span(0), span(1)]
        })
        .collect();
    for size in [[200.0, 100.0], [60.0, 60.0], [30.0, 60.0], [100.0, 100.0]] {
        let found = sizes
            .iter()
            .any(|it| (it[0] - size[0]).abs() < 0.002 && (it[1] - size[1]).abs() < 0.002);
        assert!(found, "nothing is {size:?} mm");
    }
    let png = image::open(folder.path().join("p.png")).unwrap().to_rgb8();
    assert!(png.width() > 1000 && png.width() < 8001, "{}", png.width());
    // The card's grey and the board's ground are there, and lettering.
    let count = |wanted: &dyn Fn([u8; 3]) -> bool| png.pixels().filter(|it| wanted(it.0)).count();
    assert!(count(&|it| it == [243, 240, 234]) > 50_000);
    assert!(count(&|it| it.iter().all(|it| *it < 60)) > 5_000);
    let again = folder.path().join("again.svg");
    run(
        folder.path(),
        &["panel", "show", "p.toml", "--svg", again.to_str().unwrap()],
    );
    assert_eq!(fs::read_to_string(again).unwrap(), svg);
}

#[test]
fn a_panel_that_makes_no_sense_is_shown_by_its_errors() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("p.toml"), PANEL).unwrap();
    let (status, out, err) = run(
        folder.path(),
        &["panel", "show", "p.toml", "--png", "p.png"],
    );
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(
        err.contains("p.toml, line 17, column 8: `name` has control characters"),
        "{err}"
    );
    let (status, _, err) = run(folder.path(), &["panel", "show", "none.toml"]);
    assert_eq!(status, 2);
    assert!(err.contains("none.toml: can't read it"), "{err}");
    assert_eq!(names(folder.path()), ["p.toml"]);

    fs::write(
        folder.path().join("q.toml"),
        PANEL.replace("\\u001b[31m", ""),
    )
    .unwrap();
    let (status, _, err) = run(
        folder.path(),
        &["panel", "show", "q.toml", "--png", "nowhere/p.png"],
    );
    assert_eq!(status, 1);
    assert!(err.contains("can't write nowhere/p.png"), "{err}");
}
