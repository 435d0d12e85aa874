//! The library: keys, conflicts, history, what counts, copies, limits, documents; records by the real measuring among them.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod shelf;

use masstone::library::catalog::{Coating, Lot, Part, Pigment, Stock};
use masstone::library::document::{self, Document};
use masstone::library::find::{Filter, Range, Sort};
use masstone::library::limits::Verdict;
use masstone::library::near::Target;
use masstone::library::notes::Note;
use masstone::library::recipe::{Ingredient, Recipe};
use masstone::library::{Exposure, Library, LibraryError, load};
use masstone::measure::{self, Aids, Job, Pictures};
use masstone::plan::facts::{Given, Said, facts};
use masstone::record::{Dose, Half, PhotoRecord, Settings, json};
use shelf::{Generator, set_colour, set_uncertainty};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Before any exposure.
const FRESH: Exposure = Exposure {
    masked: false,
    hours: Some(0.0),
    photo: None,
};

/// A real photo of the demo board, measured; and its crops.
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

/// Both demo photos, measured once.
fn demo() -> &'static [measure::Measured; 2] {
    static DEMO: OnceLock<[measure::Measured; 2]> = OnceLock::new();
    DEMO.get_or_init(|| [measured("0"), measured("1500")])
}

fn records() -> Vec<PhotoRecord> {
    demo().iter().map(|it| it.record.clone()).collect()
}

/// A library in a folder of its own.
struct Shelf {
    folder: tempfile::TempDir,
}

impl Shelf {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn open(&self) -> Library {
        Library::open_or_begin(&self.path("swatches.sqlite")).unwrap()
    }

    fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        std::fs::write(self.path(name), content).unwrap();
        self.path(name)
    }
}

fn text(photos: Vec<PhotoRecord>) -> String {
    let mut out = Vec::new();
    json::write(&masstone::record::Record::new(photos), &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

fn document(library: &Library) -> String {
    let mut out = Vec::new();
    library.export(&mut out).unwrap();
    String::from_utf8(out).unwrap()
}

#[track_caller]
fn is_well(library: &Library) {
    assert_eq!(library.check().unwrap().faults, []);
}

#[test]
fn what_goes_in_comes_out_in_every_bit() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let report = library.add(&records()).unwrap();
    assert_eq!((report.photos, report.readings), (2, 96));
    is_well(&library);
    let there: Document = serde_json::from_str(&document(&library)).unwrap();
    for (measurement, record) in there.measurements.iter().zip(records()) {
        assert_eq!(
            measurement.record,
            masstone::record::Record::new(vec![record])
        );
    }
    // As text, every digit.
    let again: Vec<PhotoRecord> = (there.measurements.iter())
        .flat_map(|it| json::by_photo(it.record.clone()))
        .collect();
    assert_eq!(text(again), text(records()));
}

#[test]
fn the_same_again_changes_nothing() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let before = document(&library);
    let mut moved = records();
    moved[0].rename("elsewhere/the-same.jpg");
    moved[0].photo.panel.file = Some("other/place.toml".into());
    let report = library.add(&moved).unwrap();
    assert_eq!((report.photos, report.same, report.readings), (0, 2, 0));
    assert!(
        report.conflicts.is_empty() && report.notes.is_empty(),
        "{report:?}"
    );
    assert_eq!(document(&library), before);
}

#[test]
fn other_hours_facts_or_numbers_are_a_conflict_and_nothing_changes() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let before = document(&library);
    let with = |change: &dyn Fn(&mut PhotoRecord)| {
        let mut record = records().remove(1);
        change(&mut record);
        record
    };
    let hours = with(&|it| {
        it.photo.hours = Some(1600.0);
        it.readings
            .iter_mut()
            .for_each(|it| it.hours = Some(1600.0));
    });
    let facts = with(&|it| it.photo.panel.patches[0].pigments[0].load = 13.0);
    let numbers = with(&|it| set_colour(&mut it.readings[3], [40.0, 10.0, 10.0]));
    for (record, says) in [
        (hours, "hours: 1500 in the library, 1600 here"),
        (
            facts,
            "patch A1, pigment PR101, load: 12 in the library, 13 here",
        ),
        (numbers, "patch A2 exposed: L* "),
    ] {
        let report = library.add(&[record]).unwrap();
        assert_eq!((report.photos, report.same), (0, 0));
        let [conflict] = &report.conflicts[..] else {
            panic!("{report:?}");
        };
        assert!(
            conflict.differences.iter().any(|it| it.contains(says)),
            "{conflict:?}"
        );
        assert_eq!(document(&library), before);
    }
}

#[test]
fn amending_keeps_the_old_value() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let mut note = Note {
        panel: "larch-2026-03".into(),
        patch: "A1".into(),
        word: "cured".into(),
        date: "2026-03-04".into(),
        ..Note::default()
    };
    library.note(&note).unwrap();
    let mut right = records();
    for it in &mut right {
        it.photo.panel.patches[0].pigments[0].load = 10.5;
    }
    let old = library.find_swatch("larch-2026-03/A1").unwrap();
    let report = library.amend(&right, Some("weighed wrongly")).unwrap();
    assert_eq!(report.photos, 2);
    is_well(&library);
    let new = library.find_swatch("larch-2026-03/A1").unwrap();
    assert!((new.recipe.pigments[0].load - 10.5).abs() < 1e-12);
    assert_ne!(new.id, old.id, "a number is never given to another swatch");
    assert!(library.swatch(old.id).is_err(), "no reading is left of it");
    // What was noted of the patch is noted of it still.
    assert_eq!(library.notes(new.id).unwrap(), [note.clone()]);
    let history: Document = serde_json::from_str(&document(&library)).unwrap();
    assert_eq!(history.history.len(), 2);
    assert_eq!(history.history[0].why.as_deref(), Some("weighed wrongly"));
    let before = &history.history[0].before;
    assert_eq!(
        before["photos"][0]["panel"]["patches"][0]["pigments"][0]["load"],
        12.0
    );

    // A name that was written wrongly: the swatch has the right one, and all is well.
    for it in &mut right {
        it.photo.panel.patches[0].name = Some("barn door".into());
    }
    library.amend(&right, None).unwrap();
    is_well(&library);
    let named = library.find_swatch("larch-2026-03/A1").unwrap();
    assert_eq!(
        (named.id, named.name.as_deref()),
        (new.id, Some("barn door"))
    );

    let hash = &records()[1].photo.sha256[..12];
    assert_eq!(library.amend_hours(hash, Some(1600.0), None).unwrap(), 1);
    assert_eq!(library.amend_hours(hash, Some(1600.0), None).unwrap(), 0);
    is_well(&library);
    let ages: Vec<Option<f64>> = library
        .show(new.id)
        .unwrap()
        .ages
        .iter()
        .map(|it| it.exposure.hours)
        .collect();
    assert_eq!(ages, [Some(0.0), Some(1600.0), Some(1600.0)]);
    assert!(library.amend_hours("0000000000", None, None).is_err());
    note.patch = "no-such".into();
    assert!(matches!(
        library.note(&note),
        Err(LibraryError::Unknown(..))
    ));
}

#[test]
fn editing_a_panel_later_relabels_nothing() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let [first, mut second] = <[PhotoRecord; 2]>::try_from(records()).unwrap();
    library.add(&[first]).unwrap();
    second.photo.panel.patches[0].pigments[0].load = 10.0;
    let report = library.add(&[second]).unwrap();
    assert!(
        report
            .notes
            .iter()
            .any(|it| it.contains("says other things of A1")),
        "{report:?}"
    );
    is_well(&library);
    let of = |load| Filter {
        pigments: vec!["PR101".into()],
        load: Range {
            from: Some(load),
            to: Some(load),
        },
        ..Filter::default()
    };
    let fresh = library.list(&of(12.0), Sort::Number).unwrap();
    assert_eq!(fresh.len(), 1);
    assert_eq!((fresh[0].exposure.hours, fresh[0].readings), (Some(0.0), 2));
    let aged = library.list(&of(10.0), Sort::Number).unwrap();
    // "blue-shade red iron oxide" has 10 g, too, and stays a swatch of its own only where its recipe differs.
    assert!(aged.iter().any(|it| it.readings > 0));
    assert!(matches!(
        library.find_swatch("larch-2026-03/A1"),
        Err(LibraryError::Unknown(text, _)) if text.contains("any of the swatches")
    ));
}

#[test]
fn of_one_photo_the_reading_with_the_smaller_u95_counts() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let first = records().remove(0);
    library.add(std::slice::from_ref(&first)).unwrap();
    let colour =
        |library: &Library| library.list(&Filter::default(), Sort::Number).unwrap()[0].clone();
    let before = colour(&library);
    let better = |factor: f64, l: f64| {
        let mut other = first.clone();
        other.photo.settings.blank = Some(format!("{l:.0}").repeat(32));
        for it in &mut other.readings {
            let lab = it.lab().unwrap();
            set_colour(it, [l, lab.a, lab.b]);
            it.u95 = it.u95.map(|u95| (u95 * factor * 1e6).round() / 1e6);
        }
        other
    };
    // Larger: kept, but it does not count.
    assert_eq!(library.add(&[better(1.5, 70.0)]).unwrap().photos, 1);
    assert_eq!(colour(&library), before);
    is_well(&library);
    // Smaller: it counts instead; the photo is still one photo.
    assert_eq!(library.add(&[better(0.5, 60.0)]).unwrap().photos, 1);
    let after = colour(&library);
    assert!((after.lab.l - 60.0).abs() < 1e-9, "{after:?}");
    assert_eq!(after.readings, before.readings);
    is_well(&library);
}

#[test]
fn copies_of_a_shot_are_told_and_count_once() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let mut first = records().remove(0);
    first.photo.metadata.taken = Some("2026-03-01T10:00:00+01:00".into());
    let as_copy = |number: u64| {
        let mut copy = first.clone();
        copy.photo.sha256 = format!("{number:064x}");
        copy.rename("sent-by-messenger.jpg");
        for it in &mut copy.readings {
            let lab = it.lab().unwrap();
            set_colour(it, [lab.l + 0.1, lab.a, lab.b - 0.1]);
        }
        copy
    };
    library.add(std::slice::from_ref(&first)).unwrap();
    let before = library.list(&Filter::default(), Sort::Number).unwrap();
    let report = library.add(&[as_copy(1)]).unwrap();
    assert!(
        report.notes[0].contains("shows the same shot as"),
        "{report:?}"
    );
    let after = library.list(&Filter::default(), Sort::Number).unwrap();
    assert_eq!(after, before, "the copy adds nothing");
    is_well(&library);

    // A second shot from another place is none; nor is one of another time.
    let mut shot = as_copy(2);
    for it in &mut shot.readings {
        it.outline.iter_mut().for_each(|corner| corner[0] += 60.0);
    }
    let mut later = as_copy(3);
    later.photo.metadata.taken = Some("2026-03-01T10:00:07+01:00".into());
    let report = library.add(&[shot, later]).unwrap();
    assert_eq!((report.photos, report.notes.len()), (2, 0), "{report:?}");
    let counted = library.list(&Filter::default(), Sort::Number).unwrap();
    assert_eq!(counted[0].readings, 3 * before[0].readings);
}

#[test]
fn incomplete_recipes_stay_with_their_panel() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let first = records().remove(0);
    let on = |panel: &str, number: u64, coats: Option<f64>| {
        let mut it = first.clone();
        it.photo.sha256 = format!("{number:064x}");
        it.photo.panel.id = panel.into();
        it.photo.panel.coats = coats;
        it.photo.metadata.taken = None;
        it.rename(&format!("{number}.jpg"));
        it.readings
            .iter_mut()
            .for_each(|it| it.panel = panel.into());
        it
    };
    library
        .add(&[on("one", 1, Some(3.0)), on("two", 2, Some(3.0))])
        .unwrap();
    let swatches = library.list(&Filter::default(), Sort::Number).unwrap();
    assert_eq!(swatches.len(), 24);
    assert!(
        swatches.iter().all(|it| it.specimens == 2),
        "the same recipe on two panels"
    );
    library
        .add(&[on("three", 3, None), on("four", 4, None)])
        .unwrap();
    let swatches = library.list(&Filter::default(), Sort::Number).unwrap();
    assert_eq!(
        swatches.len(),
        72,
        "nobody knows whether coats that aren't stated are the same"
    );
    assert!(
        swatches[24..]
            .iter()
            .all(|it| it.specimens == 1 && it.swatch.only_panel.is_some())
    );
    is_well(&library);
}

#[test]
fn near_ranks_by_difference_and_says_what_cannot_be_told_apart() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let all = library.list(&Filter::default(), Sort::Number).unwrap();
    let wanted = masstone::colour::Lab::new(45.0, 20.0, 25.0);
    let near = library
        .near(
            &Target::Colour(wanted, masstone::colour::Matrix::zeros()),
            &Filter::default(),
            5,
        )
        .unwrap();
    let mut by_hand: Vec<(f64, i64)> = all
        .iter()
        .map(|it| {
            (
                masstone::colour::difference::delta_e_2000(wanted, it.lab),
                it.swatch.id,
            )
        })
        .collect();
    by_hand.sort_by(|a, b| a.0.total_cmp(&b.0));
    let found: Vec<i64> = near.iter().map(|it| it.listed.swatch.id).collect();
    assert_eq!(
        found,
        by_hand[..5].iter().map(|it| it.1).collect::<Vec<_>>()
    );
    // Its own colour, with its own uncertainty, can't be told from it; the swatch is not near itself.
    let first = &all[0];
    let itself = library
        .near(
            &Target::Colour(first.lab, first.covariance),
            &Filter::default(),
            1,
        )
        .unwrap();
    assert_eq!(itself[0].listed.swatch.id, first.swatch.id);
    assert!(!itself[0].told_apart && itself[0].delta_e < 1e-9);
    let others = library
        .near(&Target::Swatch(first.swatch.id), &Filter::default(), 100)
        .unwrap();
    assert_eq!(others.len(), 23);
    assert!(
        others
            .iter()
            .all(|it| it.listed.swatch.id != first.swatch.id)
    );
    // Black and white are told apart whatever U95.
    assert!(others.last().unwrap().told_apart);
    let aged = Filter {
        hours: Some(1500.0),
        ..Filter::default()
    };
    let aged = library
        .near(&Target::Swatch(first.swatch.id), &aged, 100)
        .unwrap();
    assert!(
        aged.iter()
            .all(|it| it.listed.exposure.hours == Some(1500.0) && !it.listed.exposure.masked)
    );
    let pairs = library
        .overlaps(&Filter::default(), 4.0, true, 100)
        .unwrap();
    let count = (0..all.len())
        .flat_map(|a| (a + 1..all.len()).map(move |b| (a, b)))
        .filter(|(a, b)| {
            masstone::colour::difference::delta_e_2000(all[*a].lab, all[*b].lab) <= 4.0
        })
        .count();
    assert_eq!(pairs.len(), count);
    let gaps = library.gaps(&Filter::default(), 10.0, 60.0).unwrap();
    assert!(
        gaps.iter().any(|it| it.name.contains("violet")),
        "the demo has no violet"
    );
    assert!(
        gaps.iter()
            .all(|it| it.nearest.is_some_and(|it| it > 10.0) && it.share > 0.0)
    );
}

#[test]
fn filters_hold() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let names = |filter: Filter| -> Vec<String> {
        let list = library.list(&filter, Sort::Number).unwrap();
        list.into_iter().filter_map(|it| it.swatch.name).collect()
    };
    let range = |from, to| Range { from, to };
    assert_eq!(
        names(Filter {
            pigments: vec!["PR101".into(), "PW6".into()],
            ..Filter::default()
        }),
        ["red iron oxide in white"]
    );
    assert_eq!(
        names(Filter {
            pigments: vec!["PY42".into()],
            load: range(Some(6.0), None),
            ..Filter::default()
        })
        .len(),
        3
    );
    assert_eq!(
        names(Filter {
            lightness: range(Some(85.0), None),
            ..Filter::default()
        }),
        ["white"]
    );
    let blue = names(Filter {
        hue: range(Some(240.0), Some(300.0)),
        chroma: range(Some(20.0), None),
        ..Filter::default()
    });
    assert!(blue.contains(&"ultramarine".to_owned()), "{blue:?}");
    assert!(range(Some(350.0), Some(20.0)).holds_angle(5.0));
    assert!(!range(Some(350.0), Some(20.0)).holds_angle(180.0));
    assert_eq!(
        names(Filter {
            substrate: Some("oak".into()),
            ..Filter::default()
        }),
        [""; 0]
    );
    assert_eq!(
        names(Filter {
            substrate: Some("planed larch".into()),
            ..Filter::default()
        })
        .len(),
        24
    );
}

#[test]
fn limits_come_from_how_specimens_cured_and_mixtures_add_up() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let coating = "clear exterior coating, two-part";
    let mut noted = 0;
    let mut note = |library: &mut Library, patch: &str, word: &str| {
        noted += 1;
        let note = Note {
            panel: "larch-2026-03".into(),
            patch: patch.into(),
            word: word.into(),
            date: format!("2026-03-{noted:02}"),
            ..Note::default()
        };
        library.note(&note).unwrap();
        // The very same again changes nothing.
        library.note(&note).unwrap();
    };
    // PY42 at 1.2, 6 and 12; PR101 at 1.2, 6, 10 and 12.
    note(&mut library, "B2", "cured");
    note(&mut library, "B1", "soft");
    note(&mut library, "A5", "slow");
    let limit = |library: &Library, pigment: &str| {
        let all = library.limits(coating).unwrap();
        all.into_iter()
            .find(|it| it.pigment == pigment && it.lot.is_none())
    };
    let py42 = limit(&library, "PY42").unwrap();
    assert_eq!(
        (py42.highest_cured, py42.lowest_failed, py42.contradictory),
        (Some(6.0), Some(12.0), false)
    );
    assert_eq!(limit(&library, "PR101").unwrap().highest_cured, Some(10.0));
    let mixture = |one: f64, other: f64| Recipe {
        pigments: vec![
            Ingredient {
                pigment: "PR101".into(),
                load: one,
            },
            Ingredient {
                pigment: "PY42".into(),
                load: other,
            },
        ],
        coating: Some(coating.into()),
        ..Recipe::default()
    };
    // By hand: 5/10 + 3/6 = 1; 5/10 + 3.6/6 = 1.1.
    assert_eq!(
        library.judge(&mixture(5.0, 3.0)).unwrap(),
        Verdict::Within(Some(1.0))
    );
    assert!(
        matches!(library.judge(&mixture(5.0, 3.6)).unwrap(), Verdict::Beyond(sum) if (sum - 1.1).abs() < 1e-12)
    );
    // B6 is PR101 3 + PY42 8: beyond by the sum, until that very mixture was tested.
    assert!(matches!(
        library.judge(&mixture(3.0, 8.0)).unwrap(),
        Verdict::Beyond(_)
    ));
    note(&mut library, "B6", "cured");
    assert!(
        matches!(library.judge(&mixture(3.0, 8.0)).unwrap(), Verdict::Within(Some(sum)) if sum > 1.0)
    );
    note(&mut library, "B6", "cracked");
    assert_eq!(library.judge(&mixture(3.0, 8.0)).unwrap(), Verdict::Failed);
    // Nor does any with as much of each; less of one is another matter.
    assert_eq!(library.judge(&mixture(3.1, 8.1)).unwrap(), Verdict::Failed);
    assert!(matches!(
        library.judge(&mixture(2.9, 8.1)).unwrap(),
        Verdict::Beyond(_)
    ));
    // A plan is told of it, though it asks for other loads, and though a user says that the pigments bear more.
    let load = |pigment: &str, load: f64| masstone::plan::Load {
        pigment: masstone::plan::PigmentName {
            pigment: pigment.into(),
            lot: None,
        },
        load,
    };
    let wanted = masstone::plan::Recipe {
        coating: coating.into(),
        loads: vec![load("PR101", 3.05), load("PY42", 8.05)],
    };
    let given = Given {
        ratios: vec![Said {
            of: None,
            value: vec![4.0, 1.0],
        }],
        limits: vec![("PR101".into(), 20.0), ("PY42".into(), 20.0)],
        ..Given::default()
    };
    let known = facts(std::slice::from_ref(&wanted), Some(&library), &given).unwrap();
    let standing = known.limits.standing(&wanted);
    assert_eq!(standing.verdict, masstone::plan::Verdict::Beyond);
    assert_eq!(standing.mixture, Some(false));
    // PY42 was soft at 12, and stays so.
    for (py42, verdict) in [
        (12.0, masstone::plan::Verdict::Beyond),
        (11.0, masstone::plan::Verdict::Within),
    ] {
        let alone = masstone::plan::Recipe {
            coating: coating.into(),
            loads: vec![load("PY42", py42)],
        };
        assert_eq!(known.limits.standing(&alone).verdict, verdict, "{py42}");
    }
    let untested = Recipe {
        pigments: vec![Ingredient {
            pigment: "PB29".into(),
            load: 1.0,
        }],
        ..mixture(1.0, 1.0)
    };
    assert_eq!(
        library.judge(&untested).unwrap(),
        Verdict::Untested(vec!["PB29".into()])
    );
    // A lower load that failed later: the cautious half of contradictory tests counts.
    note(&mut library, "A2", "foamed");
    let pr101 = limit(&library, "PR101").unwrap();
    assert_eq!(
        (
            pr101.highest_cured,
            pr101.lowest_failed,
            pr101.contradictory
        ),
        (None, Some(6.0), true)
    );
    let cured = Filter {
        cure: Some("cracked".into()),
        ..Filter::default()
    };
    assert_eq!(library.list(&cured, Sort::Number).unwrap().len(), 1);
    is_well(&library);
    for (word, date, grade) in [
        ("rotten", "2026-03-01", None),
        ("cured", "2026-02-30", None),
        ("dirt", "2026-03-01", Some(7.0)),
        ("cured", "2026-03-01", Some(1.0)),
    ] {
        let bad = Note {
            panel: "larch-2026-03".into(),
            patch: "A1".into(),
            word: word.into(),
            date: date.into(),
            grade,
            ..Note::default()
        };
        assert!(
            matches!(library.note(&bad), Err(LibraryError::Senseless(..))),
            "{word} {date}"
        );
    }
}

#[test]
fn a_mixture_with_a_pigment_at_a_load_that_failed_alone_is_beyond() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let note = |library: &mut Library, patch: &str, word: &str, day: u32| {
        let note = Note {
            panel: "larch-2026-03".into(),
            patch: patch.into(),
            word: word.into(),
            date: format!("2026-03-{day:02}"),
            ..Note::default()
        };
        library.note(&note).unwrap();
    };
    let recipe = |loads: &[(&str, f64)]| Recipe {
        pigments: (loads.iter())
            .map(|(pigment, load)| Ingredient {
                pigment: (*pigment).into(),
                load: *load,
            })
            .collect(),
        coating: Some("clear exterior coating, two-part".into()),
        ..Recipe::default()
    };
    let failed = |library: &Library, loads: &[(&str, f64)]| match library.judge(&recipe(loads)) {
        Ok(Verdict::BeyondFailure(failed)) => failed,
        other => panic!("{loads:?}: {other:?}"),
    };
    // PR101 at 6 foamed, and at no load is it known to have cured; PB29 was never tested.
    note(&mut library, "A2", "foamed", 1);
    let said = failed(&library, &[("PB29", 1.0), ("PR101", 6.0)]);
    assert_eq!(said.len(), 1);
    assert_eq!(said[0].pigment, "PR101");
    assert!((said[0].lowest_failed - 6.0).abs() < 1e-12 && (said[0].load - 6.0).abs() < 1e-12);
    failed(&library, &[("PR101", 12.0)]);
    // Below it nobody knows.
    assert_eq!(
        library
            .judge(&recipe(&[("PB29", 1.0), ("PR101", 5.9)]))
            .unwrap(),
        Verdict::Untested(vec!["PB29".into(), "PR101".into()])
    );
    // Once 1.2 cured, twice that is beyond by itself, whatever nobody knows of the other.
    note(&mut library, "A3", "cured", 1);
    assert!(matches!(
        library.judge(&recipe(&[("PB29", 1.0), ("PR101", 2.4)])).unwrap(),
        Verdict::Beyond(sum) if (sum - 2.0).abs() < 1e-12
    ));
    // B6 is PR101 3 + PY42 8: beyond a failure of PY42 at 6, until that very mixture cured.
    note(&mut library, "B2", "soft", 1);
    failed(&library, &[("PR101", 3.0), ("PY42", 8.0)]);
    note(&mut library, "B6", "cured", 1);
    assert_eq!(
        library
            .judge(&recipe(&[("PR101", 3.0), ("PY42", 8.0)]))
            .unwrap(),
        Verdict::Within(None)
    );
}

/// A patch that foamed and was scraped off, at a load of its own: noted with the panel file as it was then.
#[test]
fn a_patch_that_was_never_photographed_counts_for_the_limit() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let coating = "clear exterior coating, two-part";
    let note = |patch: &str, word: &str, date: &str| Note {
        panel: "larch-2026-03".into(),
        patch: patch.into(),
        word: word.into(),
        date: date.into(),
        ..Note::default()
    };
    let limit = |library: &Library| {
        let all = library.limits(coating).unwrap();
        let mut all = all.into_iter();
        let it = all.find(|it| it.pigment == "PR101" && it.lot.is_none());
        it.map(|it| (it.highest_cured, it.lowest_failed))
    };
    let mut before = records()[0].photo.panel.clone();
    before.patches[0].pigments[0].load = 20.0;
    before.patches[0].wet_g_per_m2 = Some(310.0);
    let foamed = note("A1", "foamed", "2026-02-20");
    let scraped = library.note_on(&before, &foamed).unwrap();
    assert_eq!(limit(&library), Some((None, Some(20.0))));
    is_well(&library);
    // What the word PANEL/PATCH means is the one that can be seen; its notes are its own.
    let seen = library.find_swatch("larch-2026-03/A1").unwrap();
    assert_ne!(seen.id, scraped);
    let cured = library.note(&note("A1", "cured", "2026-03-04")).unwrap();
    assert_eq!(cured, seen.id);
    assert_eq!(limit(&library), Some((Some(12.0), Some(20.0))));
    // The panel as it is: the same specimen.
    let panel = &records()[0].photo.panel;
    let again = library.note_on(panel, &note("A1", "slow", "2026-03-03"));
    assert_eq!(again.unwrap(), seen.id);
    assert_eq!(library.specimens(seen.id).unwrap().len(), 1);
    // An amended label takes the notes of its own specimen along, and leaves the scraped one's where they are.
    let mut right = records();
    for it in &mut right {
        it.photo.panel.patches[0].pigments[0].load = 10.5;
    }
    library.amend(&right, None).unwrap();
    assert_eq!(limit(&library), Some((Some(10.5), Some(20.0))));
    assert_eq!(library.notes(scraped).unwrap(), [foamed]);
    is_well(&library);
    // All of it comes through a document.
    let first = document(&library);
    let mut other = Library::open_or_begin(&shelf.path("other.sqlite")).unwrap();
    other
        .import(&serde_json::from_str(&first).unwrap())
        .unwrap();
    assert_eq!(document(&other), first);
    assert_eq!(limit(&other), limit(&library));
    let weighed = |library: &Library| library.specimens(scraped).unwrap()[0].g_per_m2;
    assert_eq!(
        (weighed(&library), weighed(&other)),
        (Some(310.0), Some(310.0))
    );
    is_well(&other);
    let empty = {
        let mut panel = panel.clone();
        panel.patches[0].empty = true;
        panel
    };
    for (panel, patch) in [(panel, "Z9"), (&empty, "A1")] {
        assert!(matches!(
            library.note_on(panel, &note(patch, "soft", "2026-03-03")),
            Err(LibraryError::Unknown(..))
        ));
    }
}

#[test]
fn a_note_that_was_wrong_is_withdrawn_and_nothing_rests_on_it() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let coating = "clear exterior coating, two-part";
    let note = |word: &str, text: Option<&str>| Note {
        panel: "larch-2026-03".into(),
        patch: "A1".into(),
        word: word.into(),
        date: "2026-03-04".into(),
        text: text.map(str::to_owned),
        ..Note::default()
    };
    library.note(&note("cured", None)).unwrap();
    library.note(&note("soft", Some("at the edge"))).unwrap();
    library.note(&note("soft", Some("all over"))).unwrap();
    let before = document(&library);
    assert_eq!(
        library.limits(coating).unwrap()[0].lowest_failed,
        Some(12.0)
    );
    // Two are meant, or none: nothing changes.
    for wrong in [
        note("soft", None),
        note("soft", Some("no")),
        note("slow", None),
    ] {
        assert!(matches!(
            library.withdraw(&wrong, None),
            Err(LibraryError::Unknown(..))
        ));
        assert_eq!(document(&library), before);
    }
    for text in ["at the edge", "all over"] {
        library
            .withdraw(&note("soft", Some(text)), Some("another patch"))
            .unwrap();
    }
    let limit = library.limits(coating).unwrap().remove(0);
    assert_eq!(
        (limit.highest_cured, limit.lowest_failed),
        (Some(12.0), None)
    );
    is_well(&library);
    let after = document(&library);
    let history: Document = serde_json::from_str(&after).unwrap();
    assert_eq!(history.notes.len(), 1);
    assert_eq!(history.history.len(), 2);
    assert_eq!(history.history[1].why.as_deref(), Some("another patch"));
    assert_eq!(history.history[1].before["note"]["text"], "all over");
    // An earlier document does not bring it back; noting it again does.
    let report = library
        .import(&serde_json::from_str(&before).unwrap())
        .unwrap();
    assert_eq!(report.notes.len(), 2, "{report:?}");
    assert_eq!(document(&library), after);
    library.note(&note("soft", Some("all over"))).unwrap();
    assert_eq!(
        library.limits(coating).unwrap()[0].lowest_failed,
        Some(12.0)
    );
    is_well(&library);
}

/// Who says "as this swatch" means what was measured of it.
#[test]
fn what_was_scraped_off_has_no_part_in_a_job() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let mut all = records();
    for it in &mut all {
        it.photo.panel.patches[0].wet_g_per_m2 = Some(240.0);
    }
    library.add(&all).unwrap();
    let mut scraped = all[0].photo.panel.clone();
    scraped.id = "scraped".into();
    scraped.patches[0].wet_g_per_m2 = Some(900.0);
    let foamed = Note {
        patch: "A1".into(),
        word: "foamed".into(),
        date: "2026-02-20".into(),
        ..Note::default()
    };
    let swatch = library.note_on(&scraped, &foamed).unwrap();
    assert_eq!(library.find_swatch("larch-2026-03/A1").unwrap().id, swatch);
    assert_eq!(library.specimens(swatch).unwrap().len(), 2);
    // The note said nothing of the panel: it is the specimen's.
    assert_eq!(library.notes(swatch).unwrap()[0].panel, "scraped");
    is_well(&library);
    let weighed = |word: &str| -> Vec<f64> {
        let like = masstone::plan::facts::of_swatch(&library, word).unwrap();
        like.weighed.iter().map(|it| it.g_per_m2).collect()
    };
    assert_eq!(weighed(&swatch.to_string()), [240.0]);
    // Who names it means it all the same.
    assert_eq!(weighed("scraped/A1"), [900.0]);
}

/// Today may be tomorrow's date fourteen hours east; what is later nobody has seen.
#[test]
fn a_note_of_a_day_to_come_is_refused() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    let clock = rusqlite::Connection::open_in_memory().unwrap();
    let day = |ahead: u32| -> String {
        let sql = format!("SELECT date('now', '+{ahead} days')");
        clock.query_row(&sql, [], |row| row.get(0)).unwrap()
    };
    let note = |date: String| Note {
        panel: "larch-2026-03".into(),
        patch: "A1".into(),
        word: "cured".into(),
        date,
        ..Note::default()
    };
    for ahead in [0, 1] {
        library.note(&note(day(ahead))).unwrap();
    }
    for date in [day(3), "2999-01-01".into()] {
        match library.note(&note(date.clone())) {
            Err(LibraryError::Senseless(text, _)) => {
                assert!(text.starts_with(&date) && text.contains(&day(0)), "{text}");
            }
            other => panic!("{date}: {other:?}"),
        }
    }
}

#[test]
fn a_new_lot_is_held_against_the_old() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let first = records().remove(0);
    // Two panels of one pigment at three loads: the new lot looks at 6 as the old does at 7.5 (linear in the log of the load).
    let lab = |load: f64| [60.0 - 8.0 * load.ln(), 20.0, 20.0 + 2.0 * load.ln()];
    let panel = |id: &str, lot: &str, strength: f64, number: u64| {
        let mut it = first.clone();
        it.photo.sha256 = format!("{number:064x}");
        it.photo.panel.id = id.into();
        it.photo.metadata.taken = None;
        it.photo.panel.patches.truncate(3);
        let loads = [3.0, 6.0, 12.0];
        for (patch, load) in it.photo.panel.patches.iter_mut().zip(loads) {
            patch.pigments.truncate(1);
            patch.pigments[0].pigment = "PY42".into();
            patch.pigments[0].load = load;
            patch.lot = Some(lot.into());
        }
        it.readings.truncate(6);
        for (index, reading) in it.readings.iter_mut().enumerate() {
            reading.panel = id.into();
            set_colour(reading, lab(loads[index / 2] * strength));
            set_uncertainty(reading, 0.01, 0.01);
        }
        it.rename(&format!("{number}.jpg"));
        it
    };
    let photos = [
        panel("old", "0311", 1.0, 1),
        panel("new", "0412", 1.25, 2),
        panel("same", "0513", 1.0, 3),
    ];
    library.add(&photos).unwrap();
    let swatch = library.find_swatch("old/A2").unwrap();
    // How much coats of one lot differ is not known from one.
    let lots = library.show(swatch.id).unwrap().lots;
    assert_eq!(lots.len(), 2);
    for it in &lots {
        assert!(it.told_apart.is_none() && it.advice.is_none(), "{it:?}");
    }
    let more = [
        panel("old-2", "0311", 1.0, 4),
        panel("new-2", "0412", 1.25, 5),
        panel("same-2", "0513", 1.0, 6),
    ];
    library.add(&more).unwrap();
    let lots = library.show(swatch.id).unwrap().lots;
    assert_eq!(lots.len(), 2);
    assert!(
        lots[0].told_apart == Some(true) && lots[0].new == "0412",
        "{lots:?}"
    );
    let advice = lots[0].advice.unwrap();
    assert!(
        (advice.factor - 0.8).abs() < 0.01 && advice.left < 0.1,
        "{advice:?}"
    );
    assert!(lots[1].told_apart == Some(false) && lots[1].advice.is_none());
}

#[test]
fn corrected_hours_keep_the_better_crop() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    library.add(&records()).unwrap();
    for it in demo() {
        library.add_crops(&it.record, &it.crops).unwrap();
    }
    let hash = &records()[1].photo.sha256[..12];
    library.amend_hours(hash, Some(0.0), None).unwrap();
    is_well(&library);
    let mut kept = [0, 0];
    for crop in &demo()[0].crops {
        let same = |it: &&masstone::record::Reading| it.patch == crop.patch && it.half == crop.half;
        let u95 = demo()
            .each_ref()
            .map(|it| it.record.readings.iter().find(same).unwrap().u95.unwrap());
        let better = usize::from(u95[1] < u95[0]);
        let meant = demo()[better]
            .crops
            .iter()
            .find(|it| it.patch == crop.patch && it.half == crop.half)
            .unwrap();
        let specimen = library.find_swatch(&format!("larch-2026-03/{}", crop.patch));
        let specimen = library.specimens(specimen.unwrap().id).unwrap();
        let there = library.crop(specimen[0].id, crop.half, FRESH).unwrap();
        assert!(
            there.as_ref() == Some(&meant.jpeg),
            "{} {:?}",
            crop.patch,
            crop.half
        );
        kept[better] += 1;
    }
    assert!(kept[0] > 0, "no photo is better throughout: {kept:?}");
}

#[test]
fn crops_stay_small_and_the_better_photo_keeps_its_own() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let it = &demo()[0];
    assert_eq!(it.crops.len(), 48, "each half of each patch");
    library.add(std::slice::from_ref(&it.record)).unwrap();
    assert_eq!(library.add_crops(&it.record, &it.crops).unwrap(), 48);
    assert_eq!(
        library.add_crops(&it.record, &it.crops).unwrap(),
        0,
        "no better one"
    );
    let swatch = library.find_swatch("larch-2026-03/A1").unwrap();
    let specimen = library.specimens(swatch.id).unwrap().remove(0);
    let jpeg = library
        .crop(specimen.id, Half::Masked, FRESH)
        .unwrap()
        .unwrap();
    assert!(jpeg.len() <= masstone::picture::CROP_BYTES);
    // It shows the colour that was measured.
    let picture = image::load_from_memory(&jpeg).unwrap().to_rgb8();
    let mut mean = [0.0; 3];
    for pixel in picture.pixels() {
        for (sum, value) in mean.iter_mut().zip(pixel.0) {
            *sum += masstone::colour::srgb::decode(f64::from(value) / 255.0);
        }
    }
    let pixels = f64::from(picture.width() * picture.height());
    let shown = masstone::colour::srgb::RgbSpace::Srgb.lab(mean.map(|it| it / pixels));
    let reading = it
        .record
        .readings
        .iter()
        .find(|it| it.patch == "A1" && it.half == Half::Masked)
        .unwrap();
    let apart = masstone::colour::difference::delta_e_2000(shown, reading.lab().unwrap());
    assert!(apart < 2.0, "{apart} {shown:?}");
    let stranger = PhotoRecord {
        photo: masstone::record::PhotoEntry {
            sha256: "0".repeat(64),
            ..it.record.photo.clone()
        },
        readings: Vec::new(),
    };
    assert!(library.add_crops(&stranger, &it.crops).is_err());
    is_well(&library);
}

/// Everything that a library can hold, with names that would break a careless program.
fn full(shelf: &Shelf) -> Library {
    let mut library = shelf.open();
    let mut all = records();
    for it in &mut all {
        it.photo.panel.patches[1].name = Some("=1+1 \"red\"\n'; DROP TABLE swatch; -- 🎨".into());
    }
    library.add(&all).unwrap();
    library.add_crops(&all[0], &demo()[0].crops).unwrap();
    let mut generator = Generator::new(all[0].clone(), 1);
    let panel = generator.panel(0, 10);
    let photos = [generator.photo(&panel, 0.0), generator.photo(&panel, 500.0)];
    library.add(&photos).unwrap();
    library
        .amend_hours(&photos[1].photo.sha256, Some(510.0), Some("read the log"))
        .unwrap();
    library
        .note(&Note {
            panel: "larch-2026-03".into(),
            patch: "A1".into(),
            word: "slow".into(),
            date: "2026-03-02".into(),
            text: Some("tacky for two days, \"cold\"".into()),
            temperature_c: Some(9.5),
            humidity_percent: Some(80.0),
            ..Note::default()
        })
        .unwrap();
    let lot = Lot {
        lot: "0312".into(),
        stock: Stock::RunningOut,
        price_per_kg: Some(31.0),
    };
    library
        .set_pigment(&Pigment {
            price_per_kg: Some(28.5),
            density_g_per_cm3: Some(5.1),
            hazard: Some("dust: see the safety data sheet".into()),
            lots: vec![lot],
            ..Pigment::named("PR101")
        })
        .unwrap();
    library
        .set_coating(&Coating {
            parts: vec![
                Part {
                    name: "base".into(),
                    by_mass: 100.0,
                    price_per_kg: Some(20.0),
                },
                Part {
                    name: "hardener".into(),
                    by_mass: 50.0,
                    price_per_kg: Some(35.0),
                },
            ],
            pot_life_min: Some(45.0),
            coat_g_per_m2: Some(90.0),
            ..Coating::named("clear exterior coating, two-part")
        })
        .unwrap();
    library
}

#[test]
fn a_document_holds_everything_and_goes_back_without_loss() {
    let shelf = Shelf::new();
    let library = full(&shelf);
    is_well(&library);
    let written = document(&library);
    let read: Document = serde_json::from_str(&written).unwrap();
    let mut other = Library::open_or_begin(&shelf.path("other.sqlite")).unwrap();
    other.import(&read).unwrap();
    is_well(&other);
    assert_eq!(document(&other), written);
    let all = |library: &Library| library.list(&Filter::default(), Sort::Number).unwrap();
    assert_eq!(all(&other), all(&library));
    // Once more changes nothing.
    let report = other.import(&read).unwrap();
    assert_eq!((report.photos, report.same), (0, read.measurements.len()));
    assert_eq!(document(&other), written);

    let schema: serde_json::Value = serde_json::from_str(document::COMMITTED).unwrap();
    let judge = jsonschema::validator_for(&schema).unwrap();
    let value: serde_json::Value = serde_json::from_str(&written).unwrap();
    let errors: Vec<String> = judge
        .iter_errors(&value)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect();
    assert_eq!(errors, [""; 0]);
    let mut wrong = value;
    wrong["notes"][0]["note"]["word"] = serde_json::json!(7);
    assert!(!judge.is_valid(&wrong));

    // A document with a senseless reading is not taken, nor any part of it.
    let mut bad = read;
    bad.measurements[0].record.readings[0].left_out = 7.0;
    let mut empty = Library::open_or_begin(&shelf.path("empty.sqlite")).unwrap();
    assert!(empty.import(&bad).is_err());
    assert_eq!(all(&empty), []);
}

#[test]
fn the_committed_schema_is_that_of_the_types() {
    let place = concat!(env!("CARGO_MANIFEST_DIR"), "/src/library/schema.json");
    if std::env::var_os("MASSTONE_RENEW_SCHEMA").is_some() {
        std::fs::write(place, document::schema()).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(place).unwrap(),
        document::schema(),
        "run the test with MASSTONE_RENEW_SCHEMA=1 if the change is meant"
    );
}

#[test]
fn materials_are_kept_and_their_old_facts_too() {
    let shelf = Shelf::new();
    let mut library = full(&shelf);
    let coating = library
        .coating("clear exterior coating, two-part")
        .unwrap()
        .unwrap();
    // By hand: (100 · 20 + 50 · 35) / 150.
    assert!((coating.price().unwrap() - 25.0).abs() < 1e-12);
    assert!((coating.shares()[0] - 2.0 / 3.0).abs() < 1e-12);
    let mut pigment = library.pigment("PR101").unwrap().unwrap();
    assert_eq!(pigment.price(Some("0312")), Some(31.0));
    assert_eq!(pigment.price(Some("0999")), Some(28.5));
    pigment.stock = Stock::Gone;
    library.set_pigment(&pigment).unwrap();
    assert_eq!(library.pigments().unwrap(), [pigment.clone()]);
    let kept: Document = serde_json::from_str(&document(&library)).unwrap();
    assert_eq!(kept.history.last().unwrap().what, "pigment PR101");
    pigment.price_per_kg = Some(f64::NAN);
    assert!(matches!(
        library.set_pigment(&pigment),
        Err(LibraryError::Senseless(..))
    ));
    assert!(library.set_coating(&Coating::named("  ")).is_err());
}

/// Who wrote down its price only may have left out its parts: the plan says what it took for granted.
#[test]
fn a_coating_without_parts_is_planned_as_one_tin_and_that_is_said() {
    let shelf = Shelf::new();
    let mut library = shelf.open();
    let name = "clear exterior coating, two-part";
    let mut coating = Coating {
        price_per_kg: Some(42.0),
        ..Coating::named(name)
    };
    let recipe = masstone::plan::Recipe {
        coating: name.into(),
        loads: Vec::new(),
    };
    let ratio = |library: &Library| -> Vec<String> {
        let facts = facts(
            std::slice::from_ref(&recipe),
            Some(library),
            &Given::default(),
        );
        let taken = facts.unwrap().taken.into_iter();
        let of_it = taken.filter(|it| it.what.starts_with("mixing ratio of"));
        of_it.map(|it| it.value).collect()
    };
    library.set_coating(&coating).unwrap();
    assert_eq!(ratio(&library), ["none: it comes ready in one tin"]);
    let part = |name: &str, by_mass: f64| Part {
        name: name.into(),
        by_mass,
        price_per_kg: None,
    };
    coating.parts = vec![part("base", 4.0), part("hardener", 1.0)];
    library.set_coating(&coating).unwrap();
    assert_eq!(ratio(&library), ["base 80 %, hardener 20 %"]);
}

#[test]
fn one_bad_reading_does_not_lose_the_good_ones() {
    let shelf = Shelf::new();
    let whole = text(vec![records().remove(0)]);
    let mut value: serde_json::Value = serde_json::from_str(&whole).unwrap();
    let at = |value: &mut serde_json::Value, index: usize, key: &str, to: serde_json::Value| {
        value["readings"][index][key] = to;
    };
    value["readings"][0]
        .as_object_mut()
        .unwrap()
        .remove("pixels");
    at(&mut value, 1, "L", 500.0.into());
    at(&mut value, 2, "patch", "no-such".into());
    at(&mut value, 3, "hours", 7.0.into());
    at(
        &mut value,
        4,
        "cov_own",
        serde_json::json!([[1, 0, 0], [0, -1, 0], [0, 0, 1]]),
    );
    at(&mut value, 5, "C", 99.0.into());
    at(&mut value, 6, "left_out", (-0.5).into());
    at(&mut value, 7, "half", "whole".into());
    value["readings"][9] = value["readings"][8].clone();
    at(&mut value, 10, "a", serde_json::Value::Null);
    let written = format!("{value:#}");
    // NaN, which other programs write.
    let line = written
        .lines()
        .position(|it| it.contains("\"b\":"))
        .unwrap();
    let eleventh = written.match_indices("\"b\":").nth(11).unwrap().0;
    let end = eleventh + written[eleventh..].find(',').unwrap();
    let written = format!("{}\"b\": NaN{}", &written[..eleventh], &written[end..]);
    assert!(line > 0);
    let loaded = load::load(&shelf.write("bad.json", &written)).unwrap();
    let told: Vec<String> = loaded.bad.iter().map(ToString::to_string).collect();
    assert_eq!(loaded.bad.len(), 11, "{told:#?}");
    assert_eq!(loaded.photos[0].readings.len(), 48 - 11);
    for (index, says) in [
        "missing field `pixels`",
        "no surface has that colour",
        "has no patch no-such",
        "its hours (7) are not those of its photo (0)",
        "cov_own is no covariance",
        "C does not follow",
        "left_out is -0.5",
        "the patch is half masked",
        "another reading of the same patch and half",
        "a part of a colour only",
        "NaN and Infinity are no numbers",
    ]
    .iter()
    .enumerate()
    {
        assert!(told[index].contains(says), "{}", told[index]);
        // Each with its place: the file, a line and a column, where it stands.
        let mut place = loaded.bad[index].place.rsplitn(3, ':');
        let (column, line): (usize, usize) = (
            place.next().unwrap().parse().unwrap(),
            place.next().unwrap().parse().unwrap(),
        );
        assert!(place.next().unwrap().ends_with("bad.json") && column > 0);
        assert!(line <= written.lines().count());
    }
    let nan = loaded
        .bad
        .iter()
        .find(|it| it.reason.starts_with("NaN"))
        .unwrap();
    let line: usize = nan.place.rsplit(':').nth(1).unwrap().parse().unwrap();
    assert!(written.lines().nth(line - 1).unwrap().contains("NaN"));
    let mut library = shelf.open();
    assert_eq!(library.add(&loaded.photos).unwrap().readings, 37);
    is_well(&library);
    // The whole record completes what was missing, and nothing is in conflict.
    let report = library.add(&[records().remove(0)]).unwrap();
    assert_eq!(
        (report.readings, report.conflicts.len()),
        (11, 0),
        "{report:?}"
    );
    is_well(&library);
}

#[test]
fn files_that_are_no_records() {
    let shelf = Shelf::new();
    let whole = text(vec![records().remove(0)]);
    for (name, content, says) in [
        (
            "schema.json",
            whole.replacen("\"schema\": 1", "\"schema\": 2", 1),
            "its schema is 2, and this program reads 1",
        ),
        ("cut.json", whole[..whole.len() / 2].to_owned(), "EOF"),
        ("empty.json", String::new(), "EOF"),
        ("list.json", "[]".to_owned(), "invalid"),
        (
            "lacks.json",
            "{\"schema\": 1, \"photos\": []}".to_owned(),
            "missing field `readings`",
        ),
        (
            "more.json",
            "{\"schema\": 1, \"photos\": [], \"readings\": [], \"x\": 1}".to_owned(),
            "unknown field `x`",
        ),
    ] {
        let loaded = load::load(&shelf.write(name, content)).unwrap();
        assert!(loaded.photos.is_empty());
        assert!(
            loaded.bad.len() == 1 && loaded.bad[0].reason.contains(says),
            "{name}: {:?}",
            loaded.bad
        );
        assert!(loaded.bad[0].place.contains(name));
    }
    let loaded = load::load(&shelf.write("bytes.json", [0x7b, 0xff, 0xfe])).unwrap();
    assert!(loaded.bad[0].reason.contains("UTF-8"));
    assert!(load::load(&shelf.path("missing.json")).is_err());
    // A photo that makes no sense is named once, not with each of its readings.
    // A dose without its kind is a number of nothing.
    let mut half = records();
    half.truncate(1);
    half[0].photo.dose = Some(120.0);
    let loaded = load::load(&shelf.write("dose.json", text(half.clone()))).unwrap();
    assert_eq!((loaded.photos.len(), loaded.bad.len()), (0, 1));
    assert!(loaded.bad[0].reason.contains("one of dose and dose_kind"));
    half[0].photo.dose_kind = Some("MJ/m2 total".into());
    let loaded = load::load(&shelf.write("dose.json", text(half.clone()))).unwrap();
    assert_eq!((loaded.photos, loaded.bad), (half, Vec::new()));
    let bad = whole.replacen(&records()[0].photo.sha256, "XYZ", 1);
    let loaded = load::load(&shelf.write("hash.json", bad)).unwrap();
    assert_eq!(
        (loaded.photos.len(), loaded.bad.len()),
        (0, 1),
        "{:?}",
        loaded.bad
    );
    // Lines: a bad one does not lose the others.
    let mut lines = Vec::new();
    json::write_lines(&masstone::record::Record::new(records()), &mut lines).unwrap();
    lines.splice(0..0, *b"{\"schema\": 1,\n");
    let loaded = load::load(&shelf.write("lines.jsonl", lines)).unwrap();
    assert_eq!((loaded.photos.len(), loaded.bad.len()), (2, 1));
    assert!(loaded.bad[0].place.contains("lines.jsonl:1"));
}

#[test]
fn an_aged_colour_has_the_u95_of_its_covariance() {
    let shelf = Shelf::new();
    let library = full(&shelf);
    let aged = Filter {
        hours: Some(1500.0),
        ..Filter::default()
    };
    let listed = library.list(&aged, Sort::Number).unwrap();
    assert!(listed.len() > 5, "{}", listed.len());
    for it in listed {
        let meant = masstone::colour::uncertainty::u95(it.lab, &it.covariance).unwrap();
        // The covariance is kept in 32 bits.
        let there = it.u95.unwrap();
        assert!((there / meant - 1.0).abs() < 1e-3, "{there} {meant}");
    }
}

#[test]
fn what_is_derived_is_checked_and_made_anew() {
    let shelf = Shelf::new();
    let library = full(&shelf);
    let path = library.path().to_owned();
    drop(library);
    let spoil = |sql: &str| {
        let raw = rusqlite::Connection::open(&path).unwrap();
        assert!(raw.execute(sql, []).unwrap() > 0, "{sql}");
    };
    spoil("UPDATE colour SET l = l + 1 WHERE swatch = 3");
    spoil("UPDATE colour SET u95 = NULL WHERE swatch = 4 AND masked = 0 AND hours > 0");
    spoil("UPDATE reading SET current = 0 WHERE specimen = 5");
    let mut library = Library::open(&path).unwrap();
    let faults = library.check().unwrap().faults;
    assert!(
        faults.len() >= 3 && faults.iter().all(|it| it.derived),
        "{faults:?}"
    );
    for swatch in ["swatch 3", "swatch 4"] {
        assert!(
            faults.iter().any(|it| it.what.contains(swatch)),
            "{faults:?}"
        );
    }
    library.derive_anew().unwrap();
    is_well(&library);
    drop(library);
    // What was measured is not derived.
    spoil("UPDATE reading SET u95 = u95 + 0.000001 WHERE specimen = 7 AND half = 1");
    let faults = Library::open(&path).unwrap().check().unwrap().faults;
    assert!(
        faults
            .iter()
            .any(|it| !it.derived && it.what.contains("digest")),
        "{faults:?}"
    );
    spoil("UPDATE specimen SET swatch = 1 WHERE id = 9");
    let faults = Library::open(&path).unwrap().check().unwrap().faults;
    assert!(
        faults
            .iter()
            .any(|it| it.what.contains("under another swatch")),
        "{faults:?}"
    );
}
