//! Series files: what they hold, and what is said of bad ones.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

use masstone::measure::photos::Photos;
use masstone::record::{Dose, ExposureKind, Fact, PhotoEntry};
use masstone::series::{self, Series, SeriesError, Why};
use std::fs;
use std::path::Path;

/// A board of two patches with masks, and one that stays indoors.
const PANEL: &str = r#"
id = "board-7"
[grid]
rows = 1
columns = 2
patch_mm = [60, 60]
pitch_mm = [75, 75]
masked = "left"
[[card]]
card = "grey-18"
[[patch]]
id = "W1"
at_mm = [200, 0]
size_mm = [60, 60]
[[patch]]
at = "A2"
empty = true
"#;

/// Panel, kind and dose, so that a test adds only what it is about.
const TOP: &str = "panel = \"panel.toml\"\nkind = \"sun\"\n";

fn folder(text: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("panel.toml"), PANEL).unwrap();
    fs::write(folder.path().join("s.toml"), text).unwrap();
    folder
}

fn read(text: &str) -> Result<Series, SeriesError> {
    series::read(&folder(text).path().join("s.toml"))
}

#[track_caller]
fn good(text: &str) -> Series {
    read(text).unwrap_or_else(|it| panic!("{text}\n{it}"))
}

/// What is said of a bad file, without the folder's path.
#[track_caller]
fn complaint(text: &str) -> String {
    let folder = folder(text);
    let error = series::read(&folder.path().join("s.toml")).expect_err(text);
    error
        .to_string()
        .replace(&format!("{}/", folder.path().display()), "")
}

fn amounts(series: &Series) -> Vec<f64> {
    let amounts = series.shots.iter().map(|it| it.dose.amount().unwrap());
    amounts.collect()
}

fn fact(name: &str, value: &str) -> Fact {
    Fact {
        name: name.into(),
        value: value.into(),
    }
}

/// A file with everything that can be said of the sun.
const COMPLETE: &str = r#"
panel = "panel.toml"
kind = "sun"
dose_kind = "kWh/m2 UV 295-385 nm"
dose_from = "radiometer beside the boards, calibrated 2025-11"
start = 2026-04-01
site = "roof of the workshop"
latitude = 48.2
longitude = 16.4
altitude_m = 190
climate = "temperate, no frost below -15 °C"
tilt = 45
azimuth = 180
glass = false
wetness = "rain, not counted"
backing = "open"
mask = "aluminium sheet, screwed on, taken off for each reading"
washing = "rinsed with clear water, dried over night"
deviations = "two days indoors in May"
notes = "board 7 of 12"
witness = ["W1"]

[[shot]]
dose = 12.5
hours = 700
read = "2026-07-01"
photos = ["july/*.jpg", "extra.png"]

[[shot]]
dose = 0
read = 2026-04-01
photos = "start"
notes = "before the boards went out"

[[shot]]
dose = 25
"#;

#[test]
fn a_complete_file_says_all_of_it() {
    let folder = folder(COMPLETE);
    let series = series::read(&folder.path().join("s.toml")).unwrap();
    assert_eq!(series.panel.id, "board-7");
    assert_eq!(series.kind, ExposureKind::Sun);
    assert_eq!(series.dose_kind, "MJ/m2 UV 295-385 nm");
    assert_eq!(series.witness, ["W1"]);
    assert_eq!(series.warnings, [""; 0]);
    assert_eq!(
        series.conditions,
        [
            fact("site", "roof of the workshop"),
            fact("latitude", "48.2°"),
            fact("longitude", "16.4°"),
            fact("altitude", "190 m"),
            fact("climate", "temperate, no frost below -15 °C"),
            fact("tilt from horizontal", "45°"),
            fact("azimuth, clockwise from north", "180°"),
            fact("glass", "open"),
            fact(
                "dose from",
                "radiometer beside the boards, calibrated 2025-11"
            ),
            fact("wetness", "rain, not counted"),
            fact("backing", "open"),
            fact(
                "mask",
                "aluminium sheet, screwed on, taken off for each reading"
            ),
            fact(
                "washing before reading",
                "rinsed with clear water, dried over night"
            ),
            fact("deviations", "two days indoors in May"),
            fact("notes", "board 7 of 12"),
            fact("dose stated in", "kWh/m2 UV 295-385 nm"),
            fact("start", "2026-04-01"),
        ]
    );
    // By dose, in one unit; nothing is exposed without light.
    let kind = || Some("MJ/m2 UV 295-385 nm".to_owned());
    let dose = |hours, dose| Dose {
        hours,
        dose: Some(dose),
        dose_kind: kind(),
    };
    let doses: Vec<Dose> = series.shots.iter().map(|it| it.dose.clone()).collect();
    assert_eq!(
        doses,
        [
            dose(Some(0.0), 0.0),
            dose(Some(700.0), 45.0),
            dose(None, 90.0)
        ]
    );
    let at = |name: &str| folder.path().join(name);
    assert_eq!(series.shots[0].photos, [at("start")]);
    assert_eq!(series.shots[1].photos, [at("july/*.jpg"), at("extra.png")]);
    assert!(series.shots[2].photos.is_empty());
    assert_eq!(series.shots[1].spot.line, Some(23));

    let exposure = series.exposure(&series.shots[0]);
    assert_eq!(exposure.kind, ExposureKind::Sun);
    assert_eq!(exposure.conditions, series.conditions);
    assert_eq!(exposure.witness, ["W1"]);
    assert_eq!(
        exposure.shot,
        [
            fact("read", "2026-04-01"),
            fact("notes", "before the boards went out")
        ]
    );
    assert!(series.exposure(&series.shots[2]).shot.is_empty());
}

#[test]
fn a_lamp_is_stated_with_its_cycle() {
    let lamp = "panel = \"panel.toml\"\nkind = \"lamp\"\n";
    let rest = "lamp = \"UVA-340\"\ncycle = \"8 h light at 60 °C, 4 h condensation at 50 °C\"\n";
    let shots = "[[shot]]\nhours = 0\n[[shot]]\nhours = 500\n";
    let series = good(&format!("{lamp}{rest}filter = \"none\"\n{shots}"));
    assert_eq!(series.kind, ExposureKind::Lamp);
    assert_eq!(series.dose_kind, "hours");
    assert_eq!(
        series.conditions,
        [
            fact("lamp", "UVA-340"),
            fact("filter", "none"),
            fact("cycle", "8 h light at 60 °C, 4 h condensation at 50 °C"),
        ]
    );
    let said = series.warnings.join("\n");
    assert!(
        said.contains("device, irradiance, black_panel, backing, mask and washing"),
        "{said}"
    );
    let said = complaint(&format!("{lamp}{shots}"));
    assert!(
        said.contains("`lamp` is missing") && said.contains("`cycle` is missing"),
        "{said}"
    );
    let said = complaint(&format!("{lamp}{rest}tilt = 45\n{shots}"));
    assert!(
        said.contains("s.toml, line 5, column 8: `tilt` is stated of the sun, and this board is exposed to a lamp"),
        "{said}"
    );
}

#[test]
fn glass_is_there_or_not_or_named() {
    for (text, value) in [
        ("true", "behind glass"),
        ("false", "open"),
        ("\"window glass, 3 mm\"", "window glass, 3 mm"),
    ] {
        let series = good(&format!("{TOP}glass = {text}\n[[shot]]\nhours = 0\n"));
        assert_eq!(series.conditions, [fact("glass", value)]);
    }
}

#[test]
fn hours_follow_from_dates() {
    let series = good(&format!(
        "{TOP}start = 2027-12-31\nhours_a_day = 7.5\n\
         [[shot]]\nread = 2028-12-31\n[[shot]]\nread = 2027-12-31\n[[shot]]\nread = 2028-03-01\n"
    ));
    // 2028 is a leap year: 366 and 61 days.
    assert_eq!(amounts(&series), [0.0, 457.5, 2745.0]);
    assert_eq!(series.dose_kind, "hours");
    assert_eq!(
        series.conditions,
        [
            fact("start", "2027-12-31"),
            fact("hours", "counted as 7.5 a day from the start")
        ]
    );
    // Beside a radiant exposure they are kept, and are not what is counted.
    let series = good(&format!(
        "{TOP}dose_kind = \"MJ/m2 total\"\nstart = 2026-04-01\nhours_a_day = 10\n\
         [[shot]]\ndose = 0\nread = 2026-04-01\n[[shot]]\ndose = 300\nread = 2026-05-01\n"
    ));
    assert_eq!(series.shots[1].dose.hours, Some(300.0));
    assert_eq!(series.shots[1].dose.dose, Some(300.0));
    assert_eq!(series.shots[1].dose.kind(), "MJ/m2 total");
}

#[test]
fn one_dose_is_one_whatever_unit_it_is_stated_in() {
    let of = |unit: &str, value: &str| {
        let text = format!(
            "{TOP}dose_kind = \"{unit} total\"\n[[shot]]\ndose = 0\n[[shot]]\ndose = {value}\n"
        );
        good(&text).shots[1].dose.clone()
    };
    let first = of("MJ/m2", "0.36");
    for (unit, value) in [
        ("kWh/m²", "0.1"),
        ("Wh/m2", "100"),
        ("kJ/m2", "360"),
        ("J/m2", "360_000"),
    ] {
        assert_eq!(of(unit, value), first, "{unit}");
    }
}

/// Everything that can be wrong, with what is said of it.
#[test]
fn bad_files_are_refused_with_their_place_and_what_would_be_right() {
    let shots = "[[shot]]\nhours = 0\nphotos = \"a.jpg\"\n[[shot]]\nhours = 500\n";
    for (text, expected) in [
        (
            String::new(),
            "s.toml, line 1, column 1: `panel` is missing in the series",
        ),
        (
            TOP.to_owned(),
            "no [[shot]]: a series is of photos at several doses",
        ),
        (
            format!("{TOP}tlit = 45\n{shots}"),
            "s.toml, line 3, column 1: unknown key `tlit` in the series; did you mean `tilt`?",
        ),
        (
            format!("{TOP}[[shot]]\nhuors = 0\n"),
            "s.toml, line 4, column 1: unknown key `huors` in [[shot]]; did you mean `hours`?",
        ),
        (
            format!("{TOP}{shots}site = \"roof\"\n"),
            "line 8, column 1: unknown key `site` in [[shot]]. `site` belongs to the top of the file",
        ),
        (
            format!("{TOP}{shots}[[shots]]\n"),
            "unknown key `shots` in the series; did you mean `shot`?",
        ),
        (
            format!("{TOP}shot = 3\n"),
            "`shot` must be a list in [ ], not a number. Write [[shot]] with two brackets.",
        ),
        (
            "kind = sun\n".into(),
            "s.toml, line 1, column 8: not readable as TOML",
        ),
        (
            "panel = \"other.toml\"\nkind = \"sun\"\n[[shot]]\nhours = 0\n".into(),
            "s.toml, line 1, column 9: there is no file other.toml. The path is relative to the series file.",
        ),
        (
            "panel = \"s.toml\"\nkind = \"sun\"\n[[shot]]\nhours = 0\n".into(),
            "s.toml, line 1, column 1: unknown key `panel` in the panel",
        ),
        (
            format!("panel = \"panel.toml\"\n{shots}"),
            "`kind` is missing in the series: \"sun\", or \"lamp\" with its `cycle`",
        ),
        (
            format!("panel = \"panel.toml\"\nkind = \"san\"\n{shots}"),
            "`kind` can't be \"san\"; did you mean \"sun\"?",
        ),
        (
            format!("{TOP}cycle = \"wet\"\n{shots}"),
            "`cycle` is stated of a lamp, and this board is exposed to the sun",
        ),
        (
            format!("{TOP}latitude = 91\n{shots}"),
            "`latitude` is 91; it must be from -90 to 90",
        ),
        (
            format!("{TOP}azimuth = \"south\"\n{shots}"),
            "`azimuth` must be a number, not text in quotes",
        ),
        (format!("{TOP}site = \"\"\n{shots}"), "`site` is empty"),
        // Doses: one kind, stated once each.
        (
            format!("{TOP}[[shot]]\nphotos = \"a.jpg\"\n"),
            "s.toml, line 3, column 1: the [[shot]] tables state no dose. State `hours`; or `dose`, with",
        ),
        (
            format!("{TOP}[[shot]]\nhours = 0\n[[shot]]\nphotos = \"a.jpg\"\n"),
            "line 5, column 1: `hours` is missing in [[shot]]: the other shots",
        ),
        (
            format!("{TOP}[[shot]]\nhours = -1\n"),
            "`hours` is -1; it must be from 0 to",
        ),
        (
            format!("{TOP}[[shot]]\nhours = nan\n"),
            "`hours` must be a finite number",
        ),
        (
            format!("{TOP}[[shot]]\nhours = \"12\"\n"),
            "`hours` must be a number, not text in quotes",
        ),
        (
            format!("{TOP}[[shot]]\ndose = 3\n"),
            "s.toml, line 4, column 8: `dose` without `dose_kind`: nobody knows what it counts. Write the unit",
        ),
        (
            format!("{TOP}dose_kind = \"MJ/m2\"\n[[shot]]\ndose = 3\n"),
            "s.toml, line 3, column 13: `dose_kind` states no band",
        ),
        (
            format!("{TOP}dose_kind = \"MJ/m2 UV\"\n[[shot]]\ndose = 3\n"),
            "states no limits for UV",
        ),
        (
            format!("{TOP}dose_kind = \"mJ/m2 total\"\n[[shot]]\ndose = 3\n"),
            "did you mean MJ/m2?",
        ),
        (
            format!("{TOP}dose_kind = \"hours\"\n[[shot]]\nhours = 3\n"),
            "hours are no radiant exposure. Leave `dose_kind` out",
        ),
        (
            format!("{TOP}dose_kind = \"MJ/m2 total\"\n[[shot]]\ndose = 0\n[[shot]]\nhours = 3\n"),
            "line 6, column 1: `dose` is missing in [[shot]]: `dose_kind` says",
        ),
        (
            format!("{TOP}dose_kind = \"MJ/m2 total\"\n[[shot]]\ndose = 2e6\n"),
            "the limit is 1000000",
        ),
        (
            format!("{TOP}dose_kind = \"kWh/m2 total\"\n[[shot]]\ndose = 300000\n"),
            "`dose` is 300000, which is 1080000 MJ/m2 total; the limit is 1000000",
        ),
        (
            format!("{TOP}dose_kind = \"MJ/m2 total\"\n[[shot]]\ndose = 0\nhours = 3\n"),
            "`dose` is 0 after 3 hours: either both are 0 or none is",
        ),
        (
            format!("{TOP}dose_kind = \"MJ/m2 total\"\n[[shot]]\ndose = 3\nhours = 0\n"),
            "`dose` is 3 after 0 hours",
        ),
        (
            format!("{TOP}[[shot]]\nhours = 500\n[[shot]]\nhours = 0\n[[shot]]\nhours = 500.0\n"),
            "s.toml, line 7, column 1: 500 h is there twice, first in line 3. One dose is one exposure: put the photos of both into one [[shot]].",
        ),
        (
            format!("{TOP}[[shot]]\nhours = 0\n[[shot]]\nhours = -0.0\n"),
            "0 h is there twice",
        ),
        // Dates.
        (
            format!("{TOP}hours_a_day = 8\n[[shot]]\nread = 2026-05-01\n"),
            "`hours_a_day` counts from a day that is not stated. Add `start`",
        ),
        (
            format!("{TOP}start = 2026-04-01\nhours_a_day = 25\n{shots}"),
            "`hours_a_day` is 25; the limit is 24",
        ),
        (
            format!("{TOP}start = 2026-04-01\nhours_a_day = 0\n{shots}"),
            "`hours_a_day` is 0; it must be above 0",
        ),
        (
            format!("{TOP}start = 2026-04-01\nhours_a_day = 8\n{shots}"),
            "`hours` are stated, and follow from `start` and `hours_a_day`, too. Keep one of the two.",
        ),
        (
            format!(
                "{TOP}start = 2026-04-01\nhours_a_day = 8\n[[shot]]\nread = 2026-05-01\n[[shot]]\nphotos = \"a.jpg\"\n"
            ),
            "line 7, column 1: `read` is missing in [[shot]]",
        ),
        (
            format!("{TOP}start = 2026-04-01\nhours_a_day = 8\n[[shot]]\nread = 2026-03-31\n"),
            "`read` is 2026-03-31, before the exposure began (2026-04-01)",
        ),
        (
            format!("{TOP}start = \"1 April\"\n{shots}"),
            "s.toml, line 3, column 9: \"1 April\" is no date. Write year, month and day, as 2026-04-01",
        ),
        (
            format!("{TOP}start = 2026-04-01T08:00:00\n{shots}"),
            "is no date",
        ),
        (
            format!("{TOP}start = 20260401\n{shots}"),
            "`start` must be a date, as 2026-04-01, not a number",
        ),
        (
            format!(
                "{TOP}[[shot]]\nhours = 0\nread = 2026-05-01\n[[shot]]\nhours = 9\n[[shot]]\nhours = 500\nread = 2026-04-01\n"
            ),
            "s.toml, line 8, column 1: 500 h was read on 2026-04-01, before the shot of 0 h (line 3) on 2026-05-01, which had less",
        ),
        (
            format!(
                "{TOP}dose_kind = \"MJ/m2 total\"\n[[shot]]\ndose = 10\nhours = 90\n[[shot]]\ndose = 20\nhours = 80\n"
            ),
            "80 hours after the shot of 10 MJ/m2 total (line 4), which had 90",
        ),
        // Photos and the panel.
        (
            format!("{TOP}[[shot]]\nhours = 0\nphotos = []\n"),
            "`photos` is empty. Leave it out while the photos are still to be taken.",
        ),
        (
            format!("{TOP}[[shot]]\nhours = 0\nphotos = [\"a.jpg\", 3]\n"),
            "s.toml, line 5, column 20: `photos` must be text in quotes, not a number",
        ),
        (
            format!("{TOP}[[shot]]\nhours = 0\nphotos = [\"a\\nb.jpg\"]\n"),
            "is no name of photos",
        ),
        (
            format!("{TOP}witness = [\"W2\"]\n{shots}"),
            "s.toml, line 3, column 12: the witness W2 is no patch of the panel board-7. A witness is a patch of the panel file that stays indoors and is laid beside the board; off its grid the panel has W1.",
        ),
        (
            format!("{TOP}witness = [\"W1\", \"W1\"]\n{shots}"),
            "the witness W1 is named twice",
        ),
        (
            format!("{TOP}witness = [\"A2\"]\n{shots}"),
            "the witness A2 is an empty patch",
        ),
        (
            format!("{TOP}witness = \"W1\"\n{shots}"),
            "`witness` must be a list in [ ], not text in quotes",
        ),
    ] {
        let said = complaint(&text);
        assert!(
            said.contains(expected),
            "{text}\ngave\n{said}\nwanted\n{expected}"
        );
    }
}

#[test]
fn everything_that_is_wrong_is_said_at_once() {
    let error = read(&format!(
        "{TOP}tilt = 200\nstart = \"soon\"\nwitness = [\"W9\"]\n[[shot]]\nhours = 0\n[[shot]]\nhours = 0\n"
    ))
    .unwrap_err();
    let lines: Vec<_> = error.problems().iter().map(|it| it.spot.line).collect();
    assert_eq!(lines, [Some(3), Some(5), Some(4), Some(8)]);
    assert_eq!(error.to_string().lines().count(), 4);
}

#[test]
fn a_panel_without_masks_is_no_board_of_a_series() {
    let folder = folder(&format!("{TOP}[[shot]]\nhours = 0\n"));
    let bare = PANEL.replace("masked = \"left\"\n", "");
    fs::write(folder.path().join("panel.toml"), bare).unwrap();
    let said = series::read(&folder.path().join("s.toml"))
        .unwrap_err()
        .to_string();
    assert!(
        said.contains("s.toml, line 1, column 9: no patch of the panel board-7 has a masked half"),
        "{said}"
    );
}

#[test]
fn what_costs_something_is_warned_of() {
    let warned = |text: &str, words: &str| {
        let warnings = good(text).warnings.join("\n");
        assert!(warnings.contains(words), "{text}\ngave\n{warnings}");
        warnings
    };
    let two = warned(
        &format!("{TOP}[[shot]]\nhours = 500\n[[shot]]\nhours = 250\n"),
        "No shot has dose 0; the least is 250 h. What the halves differed by before any exposure is then unknown",
    );
    assert!(!two.contains("one shot"), "{two}");
    warned(
        &format!("{TOP}[[shot]]\nhours = 0\n"),
        "The series has one shot: no change can be told",
    );
    warned(
        &format!(
            "{TOP}dose_kind = \"MJ/m2 UV 300-400 nm\"\n[[shot]]\ndose = 0\n[[shot]]\ndose = 100\nhours = 100\n"
        ),
        "100 MJ/m2 UV 300-400 nm in 100 hours is 278 W/m2, more than the sun gives (92 at most)",
    );
    warned(
        &format!("{TOP}tilt = 45\n[[shot]]\nhours = 0\n"),
        "doesn't state: site, latitude, azimuth, glass, backing, mask and washing.",
    );
    let radiant = warned(
        &format!(
            "{TOP}dose_kind = \"MJ/m2 total\"\n[[shot]]\ndose = 0\n[[shot]]\ndose = 100\nhours = 100\n"
        ),
        "dose_from",
    );
    // 278 W/m² of all sunlight is a dull day.
    assert!(!radiant.contains("W/m2"), "{radiant}");
}

/// Photos in shots: a folder of a name that looks like a pattern, a pattern, a single one, and none.
#[test]
fn photos_are_found_shot_by_shot_and_missing_exposures_named() {
    let outer = tempfile::tempdir().unwrap();
    let folder = outer.path().join("boards [2026]");
    fs::create_dir_all(folder.join("start")).unwrap();
    fs::write(folder.join("panel.toml"), PANEL).unwrap();
    for name in ["start/b.jpg", "start/a.jpg", "m1.jpg", "m2.jpg", "[x].jpg"] {
        fs::write(folder.join(name), name).unwrap();
    }
    fs::write(
        folder.join("s.toml"),
        format!(
            "{TOP}[[shot]]\nhours = 500\nphotos = [\"m?.jpg\", \"[x].jpg\"]\n[[shot]]\nhours = 0\nphotos = \"start\"\n\
             [[shot]]\nhours = 1000\nphotos = \"later/*.jpg\"\n[[shot]]\nhours = 2000\n"
        ),
    )
    .unwrap();
    let series = series::read(&folder.join("s.toml")).unwrap();
    let found = series.photos().unwrap();
    let names = |it: &Photos| -> Vec<String> {
        let below = |it: &std::path::PathBuf| {
            it.strip_prefix(&folder)
                .unwrap()
                .to_str()
                .unwrap()
                .to_owned()
        };
        it.paths.iter().map(below).collect()
    };
    assert_eq!(names(&found[0]), ["start/a.jpg", "start/b.jpg"]);
    assert_eq!(names(&found[1]), ["[x].jpg", "m1.jpg", "m2.jpg"]);
    assert!(found[2].paths.is_empty() && found[2].refused[0].reason.contains("nothing matches"));
    assert_eq!(found[3], Photos::default());

    let all: Vec<&Photos> = found.iter().collect();
    let why = |measured: &[PhotoEntry]| -> Vec<(f64, Why)> {
        let missing = series.missing(&all, measured);
        missing
            .iter()
            .map(|it| (it.dose.amount().unwrap(), it.why))
            .collect()
    };
    assert_eq!(
        why(&[]),
        [
            (0.0, Why::Refused(2)),
            (500.0, Why::Refused(3)),
            (1000.0, Why::NotThere),
            (2000.0, Why::Planned)
        ]
    );
}

#[test]
fn a_photo_in_two_shots_is_refused_by_name_and_by_bytes() {
    let folder = folder(&format!(
        "{TOP}[[shot]]\nhours = 0\nphotos = \"a.jpg\"\n[[shot]]\nhours = 500\nphotos = [\"b.jpg\", \"c.jpg\"]\n\
         [[shot]]\nhours = 900\nphotos = \"*.jpg\"\n"
    ));
    let write = |name: &str, bytes: &str| fs::write(folder.path().join(name), bytes).unwrap();
    write("a.jpg", "one");
    write("b.jpg", "two");
    write("c.jpg", "one");
    let series = series::read(&folder.path().join("s.toml")).unwrap();
    let said = series.photos().unwrap_err().to_string();
    let said = said.replace(&format!("{}/", folder.path().display()), "");
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines.len(), 4, "{said}");
    assert_eq!(
        lines[0],
        "s.toml, line 6, column 1: the photo c.jpg (the same bytes as a.jpg) is in two shots, of 0 h and of 500 h. \
         A photo shows the board at one dose: name it in that shot only."
    );
    assert!(
        lines[1].starts_with(
            "s.toml, line 9, column 1: the photo a.jpg is in two shots, of 0 h and of 900 h"
        ),
        "{said}"
    );
    assert!(
        lines[2].contains("the photo b.jpg is in two shots, of 500 h and of 900 h"),
        "{said}"
    );
    // Within one shot it is only measured once.
    fs::write(
        folder.path().join("s.toml"),
        format!("{TOP}[[shot]]\nhours = 0\nphotos = [\"a.jpg\", \"c.jpg\", \"*.jpg\"]\n"),
    )
    .unwrap();
    let series = series::read(&folder.path().join("s.toml")).unwrap();
    assert_eq!(series.photos().unwrap()[0].paths.len(), 5);
}

/// Whatever is cut off or put in, it is an error or a series, and never a panic.
#[test]
fn torn_files_end_in_words() {
    let mut series = 0;
    for end in (0..COMPLETE.len()).filter(|it| COMPLETE.is_char_boundary(*it)) {
        match read(&COMPLETE[..end]) {
            Ok(_) => series += 1,
            Err(error) => assert!(!error.problems().is_empty()),
        }
        let mut torn = COMPLETE.to_owned();
        torn.insert_str(end, "[\"");
        assert!(read(&torn).is_err(), "{torn}");
    }
    assert!(series > 0, "a file that ends after a whole shot is one");
}

#[test]
fn the_demo_series_is_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/larch-2026-03-series.toml");
    let series = series::read(&path).unwrap();
    assert_eq!(amounts(&series), [0.0, 1500.0, 3000.0]);
    assert_eq!(series.panel.id, "larch-2026-03");
    assert_eq!(series.warnings, [""; 0]);
    let found = series.photos().unwrap();
    let counts: Vec<usize> = found.iter().map(|it| it.paths.len()).collect();
    assert_eq!(counts, [1, 1, 0]);
}
