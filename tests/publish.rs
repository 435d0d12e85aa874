//! `masstone publish`, as a user meets it: what is in the folder, what is refused, and what stays.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod shelved;
#[allow(dead_code, reason = "not every test needs all of it")]
mod workshop;

use masstone::library::Library;
use masstone::publish::folder::LIST;
use shelved::{run, shelved};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;
use workshop::{PHOTOS, Workshop};

/// Every file below a folder with its bytes.
fn all(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn go(folder: &Path, before: &str, all: &mut BTreeMap<String, Vec<u8>>) {
        for it in fs::read_dir(folder).unwrap() {
            let it = it.unwrap();
            let name = format!("{before}{}", it.file_name().to_str().unwrap());
            if it.path().is_dir() {
                go(&it.path(), &format!("{name}/"), all);
            } else {
                all.insert(name, fs::read(it.path()).unwrap());
            }
        }
    }
    let mut found = BTreeMap::new();
    go(folder, "", &mut found);
    found
}

/// Notes how a swatch's specimen cured.
fn note(workshop: &Workshop, swatch: i64, word: &str) {
    let library = Library::open(&workshop.path("swatches.sqlite")).unwrap();
    let specimen = library.specimens(swatch).unwrap().remove(0);
    let note = ["note", &specimen.panel, &specimen.patch, word];
    let more = ["--date", "2026-05-01", "--text", "seen after a day"];
    run(workshop, &[&note[..], &more[..]].concat()).exits(0);
}

fn page(workshop: &Workshop, name: &str) -> String {
    workshop.read(&format!("site/{name}"))
}

#[test]
fn a_range_is_published_and_left_alone_until_something_changes() {
    let workshop = shelved();
    workshop.run("publish --out site").exits(0).says(&[
        "clear (swatch 7): it has no pigment",
        "site/index.html: 24 colours on 1 board",
        "0 removed",
    ]);
    let first = all(&workshop.path("site"));
    assert_eq!(
        first
            .keys()
            .filter(|it| it.starts_with("swatches/"))
            .count(),
        24
    );
    assert_eq!(
        first.keys().filter(|it| it.starts_with("crops/")).count(),
        24
    );
    workshop
        .run("publish --out site")
        .exits(0)
        .says(&["nothing changed"]);
    // The same library gives the same bytes, in another folder and at another time.
    workshop.run("publish --out again").exits(0);
    assert_eq!(all(&workshop.path("again")), first);
    // No path and nobody's photo gets out but by its name.
    let folder = workshop.path("").to_str().unwrap().to_owned();
    for (name, bytes) in &first {
        assert!(
            !String::from_utf8_lossy(bytes).contains(&folder),
            "{name} names a folder"
        );
    }

    note(&workshop, 1, "cured");
    workshop
        .run("publish --out site")
        .exits(0)
        .says(&["0 removed"]);
    let second = all(&workshop.path("site"));
    let changed: Vec<&String> = (second.iter())
        .filter(|(name, bytes)| first.get(*name) != Some(bytes))
        .map(|it| it.0)
        .filter(|it| !it.starts_with("data/"))
        .collect();
    assert_eq!(
        changed,
        [LIST, "swatches/1.html"],
        "only what the note is on"
    );
    assert!(page(&workshop, "swatches/1.html").contains("seen after a day"));
    let left: Vec<String> = workshop
        .names()
        .into_iter()
        .filter(|it| it.starts_with('.'))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn what_did_not_cure_and_what_is_left_out_is_named_and_not_shown() {
    let workshop = shelved();
    note(&workshop, 2, "soft");
    fs::write(workshop.path("site.toml"), "leave_out = [3]\norder = [5]\n").unwrap();
    workshop
        .run("publish --settings site.toml --out site")
        .exits(0)
        .says(&[
            "(swatch 2): it did not cure well; `show` can name \"failed\"",
            "(swatch 3): the settings leave it out",
            "22 colours",
        ]);
    let index = page(&workshop, "index.html");
    assert!(!index.contains("swatches/2.html") && !index.contains("swatches/3.html"));
    let key = index.split("class=\"key\"").nth(1).unwrap();
    let first = key.split("swatches/").nth(1).unwrap();
    assert!(
        first.starts_with("5.html"),
        "the order of the settings comes first"
    );
    assert!(!workshop.path("site/swatches/2.html").exists());

    fs::write(workshop.path("site.toml"), "show = [\"failed\"]\n").unwrap();
    workshop
        .run("publish --settings site.toml --out site")
        .exits(0)
        .says(&["24 colours"]);
    assert!(page(&workshop, "swatches/2.html").contains("Noted of its specimens: soft"));
}

#[test]
fn a_folder_with_anything_else_is_refused_and_stays() {
    let workshop = shelved();
    fs::create_dir(workshop.path("site")).unwrap();
    fs::write(workshop.path("site/mine.txt"), "mine").unwrap();
    workshop.run("publish --out site").exits(2).says(&[
        "holds what this program didn't put there: mine.txt",
        "Nothing was changed",
    ]);
    assert_eq!(all(&workshop.path("site")).len(), 1);

    workshop.run("publish --out other").exits(0);
    let before = all(&workshop.path("other"));
    let edited = workshop.path("other/swatches/1.html");
    fs::write(&edited, "edited").unwrap();
    workshop
        .run("publish --out other")
        .exits(2)
        .says(&["was changed by hand", "swatches/1.html"]);
    assert_eq!(fs::read_to_string(&edited).unwrap(), "edited");
    // A page that is gone comes back.
    fs::remove_file(&edited).unwrap();
    workshop.run("publish --out other").exits(0);
    assert_eq!(all(&workshop.path("other")), before);

    fs::write(workshop.path("file"), "").unwrap();
    workshop
        .run("publish --out file")
        .exits(2)
        .says(&["can't be the site's folder"]);
    workshop
        .run("publish --out .")
        .exits(2)
        .says(&["the folder that you are in"]);
    workshop
        .run("publish --out no/such/place")
        .exits(1)
        .says(&["can't write"]);
}

#[test]
fn without_anything_to_publish_it_says_so() {
    let workshop = Workshop::empty();
    workshop
        .run("publish --out site")
        .exits(1)
        .says(&["there is no library at swatches.sqlite"]);
    drop(Library::open_or_begin(&workshop.path("swatches.sqlite")).unwrap());
    workshop.run("publish --out site").exits(2).says(&[
        "there is nothing to publish: no swatch is in the library",
        "Measure photos into it",
    ]);
    assert!(!workshop.path("site").exists());
}

#[test]
fn settings_that_name_what_is_not_there_are_refused_with_their_line() {
    let workshop = shelved();
    fs::write(
        workshop.path("site.toml"),
        "order = [\"nothing/A1\", 1]\n\n[[swatch]]\nswatch = 999\n\n[[pigment]]\npigment = \"PX9\"\n",
    )
    .unwrap();
    workshop
        .run("publish --settings site.toml --out site")
        .exits(2)
        .says(&[
            "site.toml, line 1",
            "there is no swatch nothing/A1",
            "line 4",
            "there is no swatch 999",
        ]);
    fs::write(
        workshop.path("site.toml"),
        "[[pigment]]\npigment = \"PX9\"\n",
    )
    .unwrap();
    workshop
        .run("publish --settings site.toml --out site")
        .exits(2)
        .says(&[
            "site.toml, line 2",
            "no swatch of the library holds the pigment PX9",
        ]);
    workshop
        .run("publish --settings nothere.toml --out site")
        .exits(2)
        .says(&["can't read nothere.toml", "Check the name"]);
    assert!(!workshop.path("site").exists());
}

#[test]
fn names_and_texts_stay_text() {
    let workshop = shelved();
    let nasty = r#"<script>alert(1)</script>" onload='x' --><style>*{display:none}</style> ../../x שלום 🎨"#;
    let toml = format!(
        "title = '''{nasty}'''\ntext = '''{nasty}'''\n[[swatch]]\nswatch = 1\nname = '''{nasty}'''\ntext = '''{nasty}'''\n"
    );
    fs::write(workshop.path("site.toml"), toml).unwrap();
    workshop
        .run("publish --settings site.toml --out site")
        .exits(0);
    for (name, bytes) in all(&workshop.path("site")) {
        if name.ends_with(".html") {
            let text = String::from_utf8(bytes).unwrap();
            assert!(!text.contains("<script>alert"), "{name}");
            assert!(!text.contains("<style>*{display"), "{name}");
            assert!(!text.contains("\" onload"), "{name}");
        }
        let plain = |it: char| it.is_ascii_alphanumeric() || "./-_".contains(it);
        assert!(name.chars().all(plain), "{name} is no safe name");
    }
    // The page keeps its name, whatever the swatch is called.
    assert!(page(&workshop, "swatches/1.html").contains("שלום 🎨"));
}

#[test]
fn killed_at_any_time_there_is_a_whole_site() {
    let workshop = shelved();
    workshop.run("publish --out site").exits(0);
    let old = all(&workshop.path("site"));
    note(&workshop, 1, "cured");
    workshop.run("publish --out right").exits(0);
    let new = all(&workshop.path("right"));
    assert!(old != new);
    let (mut killed, mut olds) = (0, 0);
    for wait in 0..40 {
        let mut build = workshop
            .command("publish --out site")
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(3 * wait));
        let _ = build.kill();
        killed += usize::from(!build.wait().unwrap().success());
        let there = all(&workshop.path("site"));
        assert!(
            there == old || there == new,
            "half a site after {} ms",
            3 * wait
        );
        olds += usize::from(there == old);
    }
    assert!(
        killed > 3 && olds > 1,
        "{killed} killed, {olds} times the old site"
    );
    workshop.run("publish --out site").exits(0);
    assert!(all(&workshop.path("site")) == new);
    let left: Vec<String> = (workshop.names().into_iter())
        .filter(|it| it.starts_with(".site"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn where_no_picture_was_kept_the_page_says_so() {
    let workshop = shelved();
    for photo in 1..=PHOTOS {
        fs::remove_file(workshop.path(&format!("{photo}.jpg"))).unwrap();
    }
    // The photos moved: what the library kept is shown.
    workshop.run("publish --out site").exits(0);
    assert!(page(&workshop, "swatches/1.html").contains("<img src=\"../crops/"));
    fs::remove_file(workshop.path("swatches.sqlite")).unwrap();
    workshop.run("library add fresh.json").exits(0);
    workshop.run("publish --out bare").exits(0);
    let bare = workshop.read("bare/swatches/1.html");
    assert!(bare.contains("No photo of the coat was kept") && !bare.contains("<img"));
}

#[test]
fn one_format_by_itself() {
    let workshop = shelved();
    workshop
        .run("publish --only css --out files")
        .exits(0)
        .says(&["swatches.css: 24 colours"]);
    let css = workshop.read("files/swatches.css");
    assert!(css.contains("--swatch-1:"));
    workshop
        .run("publish --only css --out files")
        .exits(0)
        .says(&["swatches.css: as before"]);
    fs::write(workshop.path("files/swatches.css"), "mine").unwrap();
    workshop
        .run("publish --only css --out files")
        .exits(0)
        .says(&["the one before is", "swatches.css.bak"]);
    assert_eq!(workshop.read("files/swatches.css.bak"), "mine");
    workshop.run("publish --only csv --out files").exits(0);
    assert_eq!(
        all(&workshop.path("files")).keys().collect::<Vec<_>>(),
        [
            "changes.csv",
            "readings.csv",
            "swatches.css",
            "swatches.css.bak",
            "swatches.csv"
        ]
    );
    workshop
        .run("publish --only pdf --out files")
        .exits(2)
        .says(&["known: csv, json, cgats, css, tokens"]);
    workshop.run("publish --out site").exits(0);
    workshop
        .run("publish --only css --out site")
        .exits(2)
        .says(&["is in a site's folder"]);
    workshop
        .run("publish --only css --out site/data")
        .exits(2)
        .says(&["is in a site's folder"]);
    let site = all(&workshop.path("site"));
    assert_eq!(
        site["data/swatches.css"],
        css.into_bytes(),
        "the site has the same file"
    );
}
