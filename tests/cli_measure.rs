//! `masstone measure` as a user meets it: arguments, files, messages, exit status.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod workshop;

use masstone::record::{Record, json, schema};
use std::fs;
use std::io::Read;
use std::process::Stdio;
use std::time::{Duration, Instant};
use workshop::{PHOTOS, Workshop};

/// A file in the workshop.
fn write(workshop: &Workshop, name: &str, content: impl AsRef<[u8]>) {
    fs::write(workshop.path(name), content).unwrap();
}

/// Readings of one photo: 25 patches with two halves.
const READINGS: usize = 50;

#[test]
fn readings_are_written_in_each_form_and_hold_to_the_schema() {
    let workshop = Workshop::new();
    for out in ["r.csv", "r.json", "r.jsonl"] {
        workshop
            .run(&format!(
                "measure 1.jpg 2.jpg --panel panel.toml --hours 168 --out {out}"
            ))
            .exits(0)
            .says(&["2 photos measured (100 readings), 0 refused", out]);
    }
    let csv = workshop.read("r.csv");
    assert_eq!(csv.lines().count(), 1 + 2 * READINGS);
    assert!(
        csv.lines()
            .nth(1)
            .unwrap()
            .starts_with("1.jpg,panel-15,A1,masked,168.000,")
    );

    let judge: serde_json::Value = serde_json::from_str(schema::COMMITTED).unwrap();
    let judge = jsonschema::validator_for(&judge).unwrap();
    let record: serde_json::Value = serde_json::from_str(&workshop.read("r.json")).unwrap();
    judge.validate(&record).unwrap();
    let lines = workshop.read("r.jsonl");
    assert_eq!(lines.lines().count(), 2, "a line a photo");
    for line in lines.lines() {
        judge
            .validate(&serde_json::from_str(line).unwrap())
            .unwrap();
    }
    let record = json::read(&workshop.path("r.json")).unwrap();
    assert_eq!(record, json::read(&workshop.path("r.jsonl")).unwrap());
    assert_eq!(record.photos[0].hours, Some(168.0));
    every_cell_is_that_of_the_record(&csv, &record);
}

/// The CSV is a view of the record: the same numbers, to three decimals.
fn every_cell_is_that_of_the_record(csv: &str, record: &Record) {
    let mut rows = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), record.readings.len());
    for (row, reading) in rows.iter().zip(&record.readings) {
        assert_eq!(row[2], reading.patch);
        for (cell, value) in [
            (5, reading.l),
            (6, reading.a),
            (7, reading.b),
            (17, reading.u95),
        ] {
            let cell: Option<f64> = row[cell].parse().ok();
            assert_eq!(cell.is_some(), value.is_some(), "{row:?}");
            let apart = (cell.unwrap_or(0.0) - value.unwrap_or(0.0)).abs();
            assert!(apart <= 0.0005 + 1e-9, "{row:?}: {value:?}");
        }
    }
}

#[test]
fn what_is_doubtful_of_every_photo_is_said_once_and_kept_for_each() {
    let workshop = Workshop::new();
    let ran = workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --out r.json")
        .exits(0)
        .says(&[
            "note: in 2 photos the camera's tone curve was assumed",
            "hint: U95 allows for it.",
        ]);
    assert_eq!(ran.stderr.matches("tone curve was").count(), 1, "{ran:#?}");
    let record = json::read(&workshop.path("r.json")).unwrap();
    for photo in &record.photos {
        let doubts: Vec<_> = photo
            .doubts
            .iter()
            .filter(|it| it.contains("tone curve"))
            .collect();
        assert_eq!(doubts.len(), 1, "{photo:#?}");
    }
    // Where nothing is assumed nothing is said.
    let ran = workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --out t.json --tone none")
        .exits(0);
    assert!(!ran.stderr.contains("tone curve"), "{ran:#?}");
}

#[test]
fn hours_are_unknown_unless_given() {
    let workshop = Workshop::new();
    let csv = workshop
        .run("measure 1.jpg --panel panel.toml --out -")
        .exits(0)
        .stdout;
    assert!(
        csv.lines()
            .nth(1)
            .unwrap()
            .starts_with("1.jpg,panel-15,A1,masked,,"),
        "{csv}"
    );
}

#[test]
fn threads_order_and_names_of_arguments_change_nothing() {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg 2.jpg 3.jpg 4.jpg --panel panel.toml --threads 1 --out a.json")
        .exits(0);
    workshop
        .run("measure 3.jpg 4.jpg 2.jpg 1.jpg --panel panel.toml --threads 2 --out b.json")
        .exits(0);
    workshop
        .run("measure [1-4].jpg --panel panel.toml --threads 3 --out c.json")
        .exits(0);
    let first = workshop.read("a.json");
    assert!(first == workshop.read("b.json"), "order and threads");
    assert!(first == workshop.read("c.json"), "a pattern");
}

#[test]
fn a_folder_stands_for_its_photos_and_names_need_not_be_ascii() {
    let workshop = Workshop::new();
    fs::create_dir(workshop.path("Lärche")).unwrap();
    workshop.copy("1.jpg", "Lärche/Tafel №1.JPG");
    workshop.copy("2.jpg", "Lärche/=2.jpg");
    let csv = workshop
        .run("measure Lärche --panel panel.toml --out -")
        .exits(0)
        .stdout;
    let photos: Vec<&str> = csv
        .lines()
        .skip(1)
        .map(|it| it.split(',').next().unwrap())
        .collect();
    assert_eq!(photos.len(), 2 * READINGS);
    assert_eq!(
        [photos[0], photos[READINGS]],
        ["Lärche/=2.jpg", "Lärche/Tafel №1.JPG"]
    );
}

#[test]
fn no_cell_is_a_formula() {
    let workshop = Workshop::new();
    workshop.copy("1.jpg", "=1+1.jpg");
    workshop.copy("2.jpg", "@sum.jpg");
    workshop
        .run("measure =1+1.jpg @sum.jpg --panel panel.toml --out r.csv")
        .exits(0);
    let csv = workshop.read("r.csv");
    assert!(
        csv.lines()
            .skip(1)
            .all(|it| it.starts_with("'=1+1.jpg,") || it.starts_with("'@sum.jpg,"))
    );
    // Numbers are never touched.
    assert!(csv.contains(",-"), "some a* or b* is negative");
    assert!(!csv.contains("'-"));
    // The record holds the name itself.
    workshop
        .run("measure =1+1.jpg --panel panel.toml --out r.json")
        .exits(0);
    assert_eq!(
        json::read(&workshop.path("r.json")).unwrap().photos[0].path,
        "=1+1.jpg"
    );
}

#[test]
fn the_same_bytes_are_measured_once() {
    let workshop = Workshop::new();
    workshop.copy("1.jpg", "copy of 1.jpg");
    let ran = workshop
        .command("measure 1.jpg 1.jpg 2.jpg --panel panel.toml --out r.csv")
        .arg("copy of 1.jpg")
        .output()
        .unwrap();
    workshop::Ran::from(ran).exits(0).says(&[
        "1.jpg is given twice",
        "copy of 1.jpg holds the same bytes as 1.jpg",
        "2 photos measured",
    ]);
    assert_eq!(workshop.read("r.csv").lines().count(), 1 + 2 * READINGS);
}

#[test]
fn a_bad_photo_costs_only_itself() {
    let workshop = Workshop::new();
    let whole = fs::read(workshop.path("3.jpg")).unwrap();
    write(&workshop, "cut.jpg", &whole[..whole.len() / 2]);
    workshop
        .run("measure 1.jpg cut.jpg 2.jpg none.jpg --panel panel.toml --out r.csv")
        .exits(1)
        .says(&[
            "refused: cut.jpg:",
            "refused: none.jpg:",
            "2 photos measured",
            "2 refused",
            "hint:",
        ]);
    assert_eq!(workshop.read("r.csv").lines().count(), 1 + 2 * READINGS);
}

/// Bad files, each with a word of what is said of it.
#[test]
fn every_bad_file_is_named_with_the_way_out_and_nothing_is_written() {
    let workshop = Workshop::new();
    let picture = |side, kind| {
        let mut bytes = std::io::Cursor::new(Vec::new());
        image::RgbImage::from_fn(side, side, |x, y| {
            image::Rgb([x.to_le_bytes()[0], y.to_le_bytes()[0], 90])
        })
        .write_to(&mut bytes, kind)
        .unwrap();
        bytes.into_inner()
    };
    let half = |bytes: Vec<u8>| bytes[..bytes.len() / 2].to_vec();
    let (jpeg, png, tiff) = (
        image::ImageFormat::Jpeg,
        image::ImageFormat::Png,
        image::ImageFormat::Tiff,
    );
    write(&workshop, "cut.jpg", half(picture(64, jpeg)));
    write(&workshop, "cut.png", half(picture(64, png)));
    write(&workshop, "cut.tif", half(picture(64, tiff)));
    let mut corrupt = picture(64, png);
    corrupt[60] ^= 0xff;
    write(&workshop, "corrupt.png", corrupt);
    // A header that claims 100,000 × 100,000 pixels, with its checksum put right.
    let mut bomb = picture(8, png);
    bomb[16..24].copy_from_slice(&[0, 1, 0x86, 0xa0, 0, 1, 0x86, 0xa0]);
    let sum = crc32(&bomb[12..29]).to_be_bytes();
    bomb[29..33].copy_from_slice(&sum);
    write(&workshop, "bomb.png", bomb);
    write(&workshop, "text.jpg", "not a photo");
    write(&workshop, "empty.jpg", "");
    write(
        &workshop,
        "phone.heic",
        b"\0\0\0\x18ftypheic\0\0\0\0heicmif1",
    );
    write(&workshop, "one.png", picture(1, png));
    write(&workshop, "eight.png", picture(8, png));
    for (name, word) in [
        ("cut.jpg", "cut short"),
        ("cut.png", "cut short"),
        ("cut.tif", "cut short"),
        ("corrupt.png", "damaged"),
        ("bomb.png", "megapixels"),
        ("text.jpg", "text"),
        ("empty.jpg", "empty"),
        ("phone.heic", "cut short"),
        ("one.png", "too small"),
        ("eight.png", "too small"),
        ("none.jpg", "no such file"),
    ] {
        let before = workshop.names();
        let ran = workshop
            .run(&format!("measure {name} --panel panel.toml --out r.csv"))
            .exits(1)
            .says(&[
                &format!("refused: {name}: "),
                word,
                "hint: ",
                "r.csv is not written",
            ]);
        assert!(!ran.stderr.contains("panicked"), "{ran:#?}");
        assert_eq!(workshop.names(), before, "{name} left something");
    }
}

/// Where the user may not read, the rest is measured all the same.
#[cfg(unix)]
#[test]
fn what_may_not_be_read_is_refused_by_name() {
    use std::os::unix::fs::PermissionsExt;
    let workshop = Workshop::new();
    fs::create_dir(workshop.path("locked")).unwrap();
    workshop.copy("1.jpg", "own.jpg");
    let set = |mode: u32| {
        for name in ["locked", "own.jpg"] {
            fs::set_permissions(workshop.path(name), fs::Permissions::from_mode(mode)).unwrap();
        }
    };
    set(0o000);
    let nothing_is_hidden = fs::read(workshop.path("own.jpg")).is_ok();
    let ran = workshop.run("measure locked own.jpg 2.jpg --panel panel.toml --out r.csv");
    set(0o755);
    if nothing_is_hidden {
        // The superuser reads everything; the folder is then just empty.
        ran.exits(1).says(&["refused: locked: "]);
        return;
    }
    ran.exits(1).says(&[
        "refused: locked: can't read the folder",
        "refused: own.jpg: can't be read",
        "hint: ",
        "1 photo measured",
    ]);
}

/// The PNG standard's checksum, bit by bit (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    let shift = |crc: u32| {
        if crc & 1 == 1 {
            0xedb8_8320 ^ (crc >> 1)
        } else {
            crc >> 1
        }
    };
    !bytes.iter().fold(!0, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |it, _| shift(it))
    })
}

#[test]
fn a_panel_that_makes_no_sense_is_wrong_usage() {
    let workshop = Workshop::new();
    write(&workshop, "r.csv", "what was measured before");
    let grid = "id = \"p\"\n[grid]\nrows = 1\ncolumns = 2\npatch_mm = [60, 60]\n";
    let card = "[[card]]\ncard = \"grey-18\"\n";
    for (panel, place, words) in [
        (grid.to_owned(), "bad.toml", "card"),
        (
            format!(
                "{grid}{card}[[patch]]\nat = \"A1\"\nid = \"x\"\n[[patch]]\nat = \"A2\"\nid = \"x\"\n"
            ),
            "line",
            "x",
        ),
        (
            format!("{}{card}", grid.replace("[60, 60]", "[-60, 60]")),
            "line 5",
            "-60",
        ),
        (
            format!("{}{card}", grid.replace("[60, 60]", "[nan, 60]")),
            "line 5",
            "finite",
        ),
        (format!("{grid}{card}colour = 1\n"), "line 8", "colour"),
        (
            format!("{grid}[[card]]\ncard = \"no-such-card\"\n"),
            "line 7",
            "grey-18",
        ),
    ] {
        write(&workshop, "bad.toml", &panel);
        let ran = workshop
            .run("measure 1.jpg --panel bad.toml --out r.csv")
            .exits(2)
            .says(&["error: bad.toml", place]);
        assert!(
            ran.stderr.to_lowercase().contains(words),
            "{panel}\n{ran:#?}"
        );
    }
    workshop
        .run("measure 1.jpg --panel none.toml --out r.csv")
        .exits(2)
        .says(&["none.toml"]);
    assert_eq!(workshop.read("r.csv"), "what was measured before");
    assert!(
        !workshop
            .names()
            .iter()
            .any(|it| it.contains("partial") || it.contains("bak"))
    );
}

#[test]
fn wrong_usage_says_what_would_be_right() {
    let workshop = Workshop::new();
    for (arguments, words) in [
        ("measure --panel panel.toml", "PHOTO"),
        ("measure 1.jpg", "--panel"),
        ("measure 1.jpg --panel panel.toml --out r.xls", ".jsonl"),
        ("measure 1.jpg --panel panel.toml --out r", ".csv"),
        ("measure 1.jpg --panel panel.toml --hours -1", "0 or more"),
        ("measure 1.jpg --panel panel.toml --hours NaN", "0 or more"),
        ("measure 1.jpg --panel panel.toml --threads 0", "1..=256"),
        (
            "measure 1.jpg --panel panel.toml --corners 1,2,3",
            "eight numbers",
        ),
        ("measure 1.jpg --panel panel.toml --tone some", "auto"),
        (
            "measure 1.jpg 2.jpg --panel panel.toml --corners 1,2,3,4,5,6,7,8",
            ".corners.toml",
        ),
    ] {
        workshop.run(arguments).exits(2).says(&[words]);
    }
}

#[test]
fn a_side_file_that_makes_no_sense_refuses_its_photo() {
    let workshop = Workshop::new();
    write(
        &workshop,
        "1.jpg.corners.toml",
        "corners = [[0, 0], [1, 1]]",
    );
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --out r.csv")
        .exits(1)
        .says(&[
            "refused: 1.jpg: ",
            "1.jpg.corners.toml",
            "line 1",
            "1 photo measured",
        ]);
}

#[test]
fn an_output_that_can_not_be_written_is_found_before_the_work_and_leaves_nothing() {
    let workshop = Workshop::new();
    write(&workshop, "file", "");
    fs::create_dir(workshop.path("folder.csv")).unwrap();
    let before = workshop.names();
    for out in ["none/r.csv", "folder.csv", "file/r.csv"] {
        let ran = workshop
            .run(&format!("measure 1.jpg --panel panel.toml --out {out}"))
            .exits(1)
            .says(&["error: can't write", out, "hint:"]);
        assert!(!ran.stderr.contains("measured"), "{ran:#?}");
    }
    workshop
        .run("measure 1.jpg --panel panel.toml --out r.csv --proof file")
        .exits(1)
        .says(&["can't write proofs to file"]);
    assert_eq!(workshop.names(), before);
}

#[test]
fn what_was_there_is_kept() {
    let workshop = Workshop::new();
    write(&workshop, "r.csv", "what was measured before");
    workshop
        .run("measure 1.jpg --panel panel.toml --out r.csv")
        .exits(0)
        .says(&["r.csv.bak"]);
    assert_eq!(workshop.read("r.csv.bak"), "what was measured before");
    assert_eq!(workshop.read("r.csv").lines().count(), 1 + READINGS);
}

#[test]
fn a_stopped_run_goes_on_where_it_was() {
    let workshop = Workshop::new();
    let arguments = "measure 1.jpg 2.jpg 3.jpg 4.jpg --panel panel.toml --threads 1";
    workshop
        .run(&format!("{arguments} --out whole.json"))
        .exits(0);

    // Killed hard, as by a power cut, as soon as the first photo is on disk.
    let partial = workshop.path("stopped.json.partial.jsonl");
    let mut run = workshop
        .command(&format!("{arguments} --out stopped.json"))
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let patience = Instant::now() + Duration::from_secs(120);
    while !fs::read(&partial).is_ok_and(|it| it.contains(&b'\n')) {
        assert!(Instant::now() < patience, "no photo was kept");
        std::thread::sleep(Duration::from_millis(1));
    }
    run.kill().unwrap();
    run.wait().unwrap();
    let kept = fs::read(&partial)
        .unwrap()
        .iter()
        .filter(|it| **it == b'\n')
        .count();
    assert!(
        (1..PHOTOS).contains(&kept),
        "it was stopped midway: {kept} photos were kept"
    );
    assert!(!workshop.path("stopped.json").exists());

    let ran = workshop
        .run(&format!("{arguments} --out stopped.json"))
        .exits(0);
    assert!(
        ran.stderr
            .contains(&format!("going on after an earlier run: {kept} photo")),
        "{ran:#?}"
    );
    let measured = ran
        .stderr
        .lines()
        .filter(|it| it.starts_with("measured:"))
        .count();
    assert_eq!(measured, PHOTOS - kept);
    assert!(
        workshop.read("stopped.json") == workshop.read("whole.json"),
        "the same bytes"
    );
    assert!(!partial.exists());
}

#[test]
fn photos_of_an_earlier_run_that_do_not_serve_are_set_aside() {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 5 --out r.jsonl")
        .exits(0);
    let earlier = workshop.read("r.jsonl");
    write(&workshop, "r.csv.partial.jsonl", &earlier);
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 6 --out r.csv")
        .exits(0)
        .says(&[
            "2 finished photos in r.csv.partial.jsonl",
            "kept in r.csv.partial-1.jsonl",
        ]);
    assert_eq!(workshop.read("r.csv.partial-1.jsonl"), earlier);
    assert!(
        workshop
            .read("r.csv")
            .lines()
            .skip(1)
            .all(|it| it.contains(",6.000,"))
    );
}

#[test]
fn a_photo_without_the_proof_that_is_asked_for_is_not_done() {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg --panel panel.toml --out r.jsonl")
        .exits(0);
    write(&workshop, "r.csv.partial.jsonl", workshop.read("r.jsonl"));
    let ran = workshop
        .run("measure 1.jpg --panel panel.toml --out r.csv --proof proofs")
        .exits(0);
    assert!(!ran.stderr.contains("going on"), "{ran:#?}");
    assert_eq!(fs::read_dir(workshop.path("proofs")).unwrap().count(), 1);
    // Now there is one.
    write(&workshop, "r.csv.partial.jsonl", workshop.read("r.jsonl"));
    workshop
        .run("measure 1.jpg --panel panel.toml --out r.csv --proof proofs")
        .exits(0)
        .says(&["going on after an earlier run: 1 photo"]);
}

#[test]
fn photos_of_one_name_have_proofs_of_their_own() {
    let workshop = Workshop::new();
    for folder in ["a", "b"] {
        fs::create_dir(workshop.path(folder)).unwrap();
    }
    workshop.copy("1.jpg", "a/board.jpg");
    workshop.copy("2.jpg", "b/board.jpg");
    workshop
        .run("measure a b --panel panel.toml --out r.json --proof proofs")
        .exits(0);
    let record = json::read(&workshop.path("r.json")).unwrap();
    for photo in record.photos {
        let proof = format!("proofs/board-{}.jpg", &photo.sha256[..8]);
        let picture = image::open(workshop.path(&proof)).unwrap();
        assert!(picture.width() > 300, "{proof}");
    }
}

#[test]
fn a_reader_that_stops_reading_is_success() {
    let workshop = Workshop::new();
    for arguments in [
        "measure 1.jpg --panel panel.toml --out -",
        "measure 1.jpg --panel panel.toml",
        "measure --help",
    ] {
        let mut run = workshop
            .command(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(run.stdout.take());
        let mut stderr = String::new();
        run.stderr
            .take()
            .unwrap()
            .read_to_string(&mut stderr)
            .unwrap();
        assert_eq!(run.wait().unwrap().code(), Some(0), "{arguments}: {stderr}");
        assert!(
            !stderr.contains("error") && !stderr.contains("panicked"),
            "{stderr}"
        );
    }
}

#[test]
fn without_an_output_there_is_a_table_for_people() {
    let workshop = Workshop::new();
    let ran = workshop.run("measure 1.jpg --panel panel.toml").exits(0);
    let lines: Vec<&str> = ran.stdout.lines().collect();
    assert_eq!(lines[0], "1.jpg");
    let head = lines.iter().position(|it| it.starts_with("patch")).unwrap();
    for column in ["half", "name", "L*", "a*", "b*", "U95", "flags"] {
        assert!(lines[head].contains(column), "{}", lines[head]);
    }
    assert_eq!(lines.len() - head - 1, READINGS);
    assert!(
        !ran.stdout.contains('\u{1b}'),
        "no colour where there is no terminal"
    );
    // Nothing but what was there.
    assert!(!workshop.names().iter().any(|it| it.contains("partial")));
}
