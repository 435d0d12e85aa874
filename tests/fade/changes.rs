//! The change is the double difference, with all that it rests on.

use super::series::{
    Colour, NOISE, PATCHES, between, changed_by, colour, panel, plus, put_right, shot, with_drift,
    with_part, with_word, without,
};
use super::{board, only, patch};
use masstone::colour::difference::delta_e_2000;
use masstone::colour::srgb::{RgbSpace, decode, encode};
use masstone::colour::{Lab, Xyz, lab};
use masstone::correct::ComponentName;
use masstone::fade::report::{Change, FadeFlag};
use masstone::fade::{Options, Report, assess};
use masstone::flag::Flag;
use masstone::record::{Half, PhotoRecord};
use nalgebra::Vector3;

const NONE: Colour = [0.0; 3];

/// Other for each patch; the first ones don't change.
fn change(patch: usize) -> Colour {
    let x = f64::from(u8::try_from(patch).unwrap());
    if patch < 3 {
        NONE
    } else {
        [0.3 * x, 0.5 - 0.2 * x, 0.1 * x - 1.5]
    }
}

fn moved(it: &Change) -> Colour {
    [it.dl, it.da, it.db]
}

fn close(one: Colour, other: Colour, within: f64) -> bool {
    (0..3).all(|i| (one[i] - other[i]).abs() <= within)
}

#[test]
fn halves_that_differ_before_any_sun_and_other_photos_cancel() {
    let panel = panel("b-1");
    // The whole photo is off by this, both halves of every patch alike.
    let off = [1.5, -2.0, 3.0];
    let mut halves = changed_by(change);
    for it in halves.iter_mut().flatten() {
        *it = plus(*it, off);
    }
    let records = [
        shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)),
        shot(&panel, "1.jpg", 500.0, &halves),
    ];
    let report = assess(&records, &Options::default()).unwrap();
    let patches = &board(&report).patches;
    assert_eq!(patches.len(), PATCHES);
    for (i, it) in patches.iter().enumerate() {
        let [l, a, b] = colour(i);
        let start = it.start.unwrap();
        assert!(close(start, colour(i), 1e-9), "{start:?}");
        let [found] = &it.changes[..] else {
            panic!("{:?}", it.changes);
        };
        let truth = change(i);
        assert!(close(moved(found), truth, 1e-6), "{i}: {found:?}");
        let de_ab = truth.iter().map(|it| it * it).sum::<f64>().sqrt();
        let end = Lab::new(l + truth[0], a + truth[1], b + truth[2]);
        let de_00 = delta_e_2000(Lab::new(l, a, b), end);
        assert!((found.de_ab - de_ab).abs() < 1e-6 && (found.de_00 - de_00).abs() < 1e-5);
        // Chroma and hue differences and that of L* make up ΔE*ab.
        let parts = found.dl.powi(2) + found.dc.powi(2) + found.dh.powi(2);
        assert!((parts.sqrt() - de_ab).abs() < 1e-6);
        assert_eq!(
            (found.dose, found.hours, found.photos),
            (500.0, Some(500.0), 1)
        );
        if i < 3 {
            assert!(!found.significant && found.words.is_empty() && found.grade == "5");
        }
        // Four readings' noise at the least.
        let least = 4.0 * NOISE * NOISE;
        assert!((0..3).all(|k| found.covariance[k][k] >= least - 1e-9));
        assert_eq!(found.flags, [FadeFlag::SinglePhoto]);
        assert!(
            it.course.is_none(),
            "one exposure is a difference and no curve"
        );
    }
    assert!(patches[15].changes[0].significant);
}

#[test]
fn without_dose_0_the_halves_own_difference_is_in_the_covariance() {
    let (one, other) = (panel("b-1"), panel("b-2"));
    let late = |it| {
        [
            shot(
                it,
                &format!("{}-1.jpg", it.id),
                100.0,
                &changed_by(|_| NONE),
            ),
            shot(it, &format!("{}-2.jpg", it.id), 300.0, &changed_by(change)),
        ]
    };
    let options = Options {
        patches: vec!["A1".into()],
        ..Options::default()
    };
    let alone = assess(&late(&one), &options).unwrap();
    assert!(board(&alone).notes[0].contains("no photo before any sun"));
    assert!(board(&alone).not_shown > 0);
    let first = |report: &Report| {
        let board = report.boards.iter().find(|it| it.panel == "b-1").unwrap();
        board.patches[0].changes[0].clone()
    };
    let found = first(&alone);
    assert!(found.flags.contains(&FadeFlag::NoStart));
    assert!(close(moved(&found), between(0), 1e-9), "{found:?}");
    // The earliest masked half.
    assert!(close(
        board(&alone).patches[0].start.unwrap(),
        colour(0),
        1e-9
    ));
    // What is usual of hand-laid coats: 1, 0.6 and 0.8.
    let usual = [1.0, 0.36, 0.64];
    let within = |found: &Change, expected: Colour| {
        (0..3).all(|k| {
            let more = found.covariance[k][k] - expected[k];
            (2.0 * NOISE * NOISE..0.2).contains(&more)
        })
    };
    assert!(within(&found, usual), "{:?}", found.covariance);

    // Another board shows how halves differ.
    let mut records = late(&one).to_vec();
    records.extend(late(&other));
    records.push(shot(&other, "0.jpg", 0.0, &changed_by(|_| NONE)));
    let shown = assess(&records, &options).unwrap();
    let n = f64::from(u8::try_from(PATCHES).unwrap());
    let mean = |i: usize, j: usize| {
        (0..PATCHES)
            .map(|p| between(p)[i] * between(p)[j])
            .sum::<f64>()
            / n
    };
    let found = first(&shown);
    assert!(found.flags.contains(&FadeFlag::NoStart));
    assert!(
        within(&found, [0, 1, 2].map(|k| mean(k, k))),
        "{:?}",
        found.covariance
    );
    assert!((found.covariance[0][1] - mean(0, 1)).abs() < 0.02);
    // And says the same when only the one is asked for.
    let options = Options {
        panel: Some("b-1".into()),
        ..options
    };
    assert_eq!(first(&assess(&records, &options).unwrap()), found);
}

#[test]
fn photos_of_one_dose_are_averaged() {
    let panel = panel("b-1");
    let off = |by: f64| {
        let mut halves = changed_by(change);
        for it in &mut halves {
            it[1] = plus(it[1], [by, -by, 2.0 * by]);
        }
        halves
    };
    let start = |name: &str| shot(&panel, name, 0.0, &changed_by(|_| NONE));
    let records = [
        start("a.jpg"),
        start("b.jpg"),
        shot(&panel, "c.jpg", 500.0, &off(0.3)),
        shot(&panel, "d.jpg", 500.0, &off(-0.3)),
    ];
    let options = only("B2");
    let both = assess(&records, &options).unwrap();
    let found = &patch(&both, "B2").changes[0];
    assert!(close(moved(found), change(5), 1e-6), "{found:?}");
    assert_eq!(
        (found.photos, found.flags.len()),
        (2, 0),
        "{:?}",
        found.flags
    );
    let single = assess(&[records[0].clone(), records[2].clone()], &options).unwrap();
    let single = &patch(&single, "B2").changes[0];
    assert!(found.covariance[0][0] < 0.8 * single.covariance[0][0]);
    assert_eq!(board(&both).exposures[1].photos, ["c.jpg", "d.jpg"]);
}

#[test]
fn what_one_photo_lacks_the_others_give() {
    let panel = panel("b-1");
    let records = [
        without(
            shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)),
            "A2",
            Half::Exposed,
        ),
        without(
            shot(&panel, "1.jpg", 100.0, &changed_by(change)),
            "A3",
            Half::Masked,
        ),
        shot(&panel, "2.jpg", 100.0, &changed_by(change)),
        without(
            shot(&panel, "3.jpg", 200.0, &changed_by(change)),
            "A3",
            Half::Exposed,
        ),
    ];
    let options = Options {
        patches: ["A1", "A2", "A3"].map(Into::into).to_vec(),
        ..Options::default()
    };
    let report = assess(&records, &options).unwrap();
    let of = |id: &str| {
        let changes = patch(&report, id).changes.iter();
        changes
            .map(|it| (it.dose, it.photos, it.flags.contains(&FadeFlag::NoStart)))
            .collect::<Vec<_>>()
    };
    assert_eq!(of("A1"), [(100.0, 2, false), (200.0, 1, false)]);
    assert_eq!(of("A2"), [(100.0, 2, true), (200.0, 1, true)]);
    assert_eq!(of("A3"), [(100.0, 1, false)]);
    let missing = "at 200 hours no photo shows both halves of A3";
    assert!(board(&report).notes.iter().any(|it| it.contains(missing)));
}

/// Changes that grow with the dose over five exposures; masked halves are a little off, each its own way and another at each dose. The masks of
/// `leaks` let half of the change through.
fn series(leaks: &[usize]) -> Vec<PhotoRecord> {
    leaking(leaks, 0.5)
}

/// The same with another part of the change that comes through.
fn leaking(leaks: &[usize], part: f64) -> Vec<PhotoRecord> {
    let panel = panel("b-1");
    let later = (1..=5_u8).map(|k| {
        let grown = f64::from(k) / 5.0;
        let mut halves = changed_by(|i| change(i).map(|it| it * grown));
        for (i, it) in halves.iter_mut().enumerate() {
            let x =
                0.1 * (f64::from(u8::try_from((i * 7 + usize::from(k) * 3) % 5).unwrap()) - 2.0);
            // A half is read apart on both sides of the mask.
            *it = it.map(|half| plus(half, [x, -x, x]));
            if leaks.contains(&i) {
                it[0] = plus(it[0], change(i).map(|it| part * it * grown));
            }
        }
        let name = format!("{k}.jpg");
        with_word(shot(&panel, &name, 100.0 * f64::from(k), &halves), |i| {
            Some(colour(i))
        })
    });
    std::iter::once(shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)))
        .chain(later)
        .collect()
}

#[test]
fn a_masked_half_that_moved_is_named_and_its_share_is_added() {
    let options = Options {
        patches: ["C2", "D3", "D4"].map(Into::into).to_vec(),
        ..Options::default()
    };
    let named = |report: &Report| -> Vec<String> {
        let notes = board(report).notes.iter();
        notes
            .filter(|it| it.contains("masked half of"))
            .cloned()
            .collect()
    };
    let sound = assess(&series(&[]), &options).unwrap();
    assert!(named(&sound).is_empty(), "{:?}", named(&sound));
    let report = assess(&series(&[14]), &options).unwrap();
    let names = named(&report);
    assert_eq!(names.len(), 1, "{names:?}");
    assert!(
        names[0].contains("masked half of D3") && names[0].contains("did its mask leak"),
        "{names:?}"
    );
    for it in &patch(&report, "D3").changes {
        assert!(it.flags.contains(&FadeFlag::MaskedMoved));
        let truth = change(14).map(|x| x * it.dose / 500.0);
        assert!(close(moved(it), truth, 0.4), "{it:?} {truth:?}");
    }
    let last = |report: &Report| patch(report, "D3").changes[4].covariance[0][0];
    assert!(last(&report) > last(&sound));
    // Of others hardly more is told than that their own masks may leak.
    let others = patch(&report, "C2").changes.iter();
    for (it, sound) in others.zip(&patch(&sound, "C2").changes) {
        assert!(close(moved(it), moved(sound), 1e-9), "{it:?} {sound:?}");
        assert!(
            (it.u95_de_00 / sound.u95_de_00 - 1.0).abs() < 0.05,
            "{it:?} {sound:?}"
        );
    }
}

#[test]
fn what_puts_both_halves_right_hides_no_half_that_moved() {
    let as_read = series(&[14]);
    let mut records = as_read.clone();
    // All that was left of each half, a leak's part with it, another at each dose.
    for (k, it) in records.iter_mut().enumerate().skip(1) {
        let x = f64::from(u8::try_from(k).unwrap());
        *it = put_right(
            it.clone(),
            |i| {
                let y = f64::from(u8::try_from(i).unwrap());
                let leak = if i == 14 { [-0.4, 0.9, 0.3] } else { [0.1; 3] };
                [leak[0] * x, leak[1] * x - 0.05 * y, leak[2] * x]
            },
            0.6 * x,
        );
    }
    assert_ne!(records, as_read);
    let options = only("D3");
    let (one, other) = (
        assess(&records, &options).unwrap(),
        assess(&as_read, &options).unwrap(),
    );
    assert_eq!(board(&one).notes, board(&other).notes);
    for (one, other) in patch(&one, "D3")
        .changes
        .iter()
        .zip(&patch(&other, "D3").changes)
    {
        assert!(one.flags.contains(&FadeFlag::MaskedMoved));
        assert!(close(moved(one), moved(other), 1e-6), "{one:?} {other:?}");
    }
}

#[test]
fn a_mask_that_may_have_leaked_makes_its_change_less_sure() {
    // Too little to be beyond chance: halves are read apart by more, another way at each dose.
    let records = |leaks: &[usize]| {
        let mut records = series(leaks);
        for (k, record) in records.iter_mut().enumerate().skip(1) {
            for (i, reading) in record.readings.iter_mut().enumerate() {
                let x = (i / 2 * 5 + k * 4) % 7;
                let x = 0.28 * (f64::from(u8::try_from(x).unwrap()) - 3.0);
                reading.l = reading.l.map(|it| it + x);
            }
        }
        records
    };
    let of = |leaks: &[usize]| {
        let report = assess(&records(leaks), &only("D3")).unwrap();
        let notes = board(&report).notes.iter();
        let may: Vec<String> = notes
            .filter(|it| it.contains("may have leaked"))
            .cloned()
            .collect();
        (patch(&report, "D3").changes[4].clone(), may)
    };
    let (sound, of_sound) = of(&[]);
    let (leaking, of_leaking) = of(&[14]);
    assert!(of_sound.is_empty(), "{of_sound:?}");
    assert!(
        of_leaking.len() == 1 && of_leaking[0].contains("mask of D3 may have leaked"),
        "{of_leaking:?}"
    );
    assert!(
        !leaking.flags.contains(&FadeFlag::MaskedMoved),
        "{leaking:?}"
    );
    assert!(
        sound.u95_de_00 + 0.5 < leaking.u95_de_00,
        "{sound:?} {leaking:?}"
    );
    // Half of it came through, and more than half of it is told.
    assert!(moved(&leaking)[0] > 0.53 * moved(&sound)[0], "{leaking:?}");
    // That it changed at all is as sure as of a half that has changed as much.
    assert!(leaking.significant && leaking.detection_limit < 1.5 * sound.detection_limit);
}

#[test]
fn halves_that_moved_together_are_named_and_nothing_is_added() {
    let named = |records: &[PhotoRecord]| -> Vec<String> {
        let report = assess(records, &only("D4")).unwrap();
        let notes = board(&report).notes.iter();
        let named = notes.filter(|it| it.contains("moved together"));
        named.cloned().collect()
    };
    assert!(named(&series(&[])).is_empty());
    // Nine tenths came through: nine times what lies between the halves.
    let through = leaking(&[15], 0.9);
    let names = named(&through);
    assert!(
        names.len() == 1 && names[0].contains("halves of D4") && names[0].contains("mask come off"),
        "{names:?}"
    );
    let report = assess(&through, &only("D4")).unwrap();
    let changes = &patch(&report, "D4").changes;
    assert!(
        changes
            .iter()
            .all(|it| !it.flags.contains(&FadeFlag::MaskedMoved))
    );
    assert!(moved(changes.last().unwrap())[0].abs() < 0.2 * change(15)[0]);
}

#[test]
fn where_no_others_carried_the_scale_that_is_said() {
    let mut records = series(&[5]);
    for it in &mut records {
        it.photo.settings.masked = None;
    }
    let report = assess(&records, &only("B2")).unwrap();
    let changes = &patch(&report, "B2").changes;
    assert!(
        changes
            .iter()
            .all(|it| it.flags.contains(&FadeFlag::OwnScaleOnly))
    );
    assert!(
        changes
            .iter()
            .all(|it| !it.flags.contains(&FadeFlag::MaskedMoved))
    );
}

#[test]
fn a_drift_of_all_is_told_where_the_cards_show_it() {
    let panel = panel("b-1");
    let told = |lab: Colour, sd: f64| {
        let records = [
            shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)),
            shot(&panel, "1.jpg", 100.0, &changed_by(change)),
            with_drift(shot(&panel, "2.jpg", 500.0, &changed_by(change)), lab, sd),
        ];
        let report = assess(&records, &only("B2")).unwrap();
        let flags: Vec<bool> = (patch(&report, "B2").changes.iter())
            .map(|it| it.flags.contains(&FadeFlag::CommonDrift))
            .collect();
        let notes = board(&report).notes.clone();
        (flags, notes.into_iter().find(|it| it.contains("drifted")))
    };
    let (flags, note) = told([-0.2, 0.3, 3.0], 0.3);
    assert_eq!(flags, [false, true]);
    let note = note.unwrap();
    assert!(
        note.contains("at 500 hours") && note.contains("Δb* +3.0"),
        "{note}"
    );
    // Within its uncertainty; and beyond it, but too small for anyone to see.
    for (lab, sd) in [
        ([-0.2, 0.3, 3.0], 2.0),
        ([0.0, 0.0, 0.5], 0.05),
        (NONE, 0.0),
    ] {
        assert_eq!(told(lab, sd), (vec![false, false], None), "{lab:?} {sd}");
    }
}

/// A colour in light that is mixed with its own grey, so that `vivid` of its colour is left: CIELAB's and D50's definitions alone.
fn faded(it: Colour, vivid: f64) -> Colour {
    let [l, a, b] = it;
    let Xyz { x, y, z, .. } = lab::to_xyz(Lab::new(l, a, b));
    let mixed = |it: f64, white: f64| y * white + vivid * (it - y * white);
    let Lab { l, a, b, .. } = lab::from_xyz(Xyz::new(mixed(x, 0.9642), y, mixed(z, 0.8251)));
    [l, a, b]
}

/// With so many stated colours.
fn with_stated(mut record: PhotoRecord, stated: usize) -> PhotoRecord {
    let references = &mut record.photo.correction.references;
    for _ in 1..stated {
        references.push(references[0].clone());
    }
    record
}

/// The change of C2 as it is.
const VIVID: Colour = [3.0, -6.0, 8.0];

/// The change of C2 where three later photos see all masked halves `less` vivid, each by so many stated colours.
fn on_the_scale_of_all(less: f64, stated: usize) -> Colour {
    let panel = panel("b-1");
    let changes = |i: usize| if i == 9 { VIVID } else { change(i) };
    let late = |name: &str, hours| {
        let record = with_word(shot(&panel, name, hours, &changed_by(changes)), |i| {
            // Another balance, too.
            Some(plus(faded(colour(i), less), [3.0, 2.0, -4.0]))
        });
        with_stated(record, stated)
    };
    let records = [
        shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)),
        late("1.jpg", 100.0),
        late("2.jpg", 200.0),
        late("3.jpg", 300.0),
    ];
    let report = assess(&records, &only("C2")).unwrap();
    moved(&patch(&report, "C2").changes[0])
}

#[test]
fn changes_go_by_the_scale_on_which_photos_agree() {
    let start = plus(colour(9), between(9));
    let minus = |one: Colour, other: Colour| [0, 1, 2].map(|i| one[i] - other[i]);
    let size = |it: Colour| it.map(|it| it * it).iter().sum::<f64>().sqrt();
    let less = minus(faded(plus(start, VIVID), 0.8), faded(start, 0.8));
    // Three photos with a card say 0.8, one with a card says 1. With charts they count for ten times as much: 30 to 1.
    for (stated, count) in [(1, 3.0), (24, 30.0)] {
        let expected = [0, 1, 2].map(|i| (VIVID[i] + count * less[i]) / (1.0 + count));
        let found = on_the_scale_of_all(0.8, stated);
        let effect = size(minus(expected, VIVID));
        assert!(effect > 1.5, "{effect}");
        let off = size(minus(found, expected));
        assert!(
            off < 0.2 * effect,
            "{found:?} {expected:?}: {off} of {effect}"
        );
    }
    assert!(close(on_the_scale_of_all(1.0, 1), VIVID, 1e-6));
}

#[test]
fn a_photo_that_lacks_some_halves_makes_no_scale_of_its_balance() {
    let panel = panel("b-1");
    // One photo is 6 in b* off as a whole, and has no word on the yellow halves.
    let yellow = |i: usize| colour(i)[2] > 4.0;
    let records = [
        shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)),
        shot(&panel, "1.jpg", 100.0, &changed_by(change)),
        with_word(shot(&panel, "2.jpg", 200.0, &changed_by(change)), |i| {
            (!yellow(i)).then(|| plus(colour(i), [0.0, 0.0, 6.0]))
        }),
    ];
    let report = assess(&records, &only("D3")).unwrap();
    let found = &patch(&report, "D3").changes[0];
    assert!(
        close(moved(found), change(14), 0.05),
        "{found:?} {:?}",
        change(14)
    );
}

/// How the variance of the last change in L* of a patch grows when one half of one of the photos is less sure by 1.
fn less_sure(records: &[PhotoRecord], of: &str, photo: usize, name: ComponentName) -> f64 {
    let variance = |records: &[PhotoRecord]| {
        let report = assess(records, &only(of)).unwrap();
        patch(&report, of).changes.last().unwrap().covariance[0][0]
    };
    let mut other = records.to_vec();
    other[photo] = with_part(other[photo].clone(), of, Half::Exposed, (name, 1.0));
    variance(&other) - variance(records)
}

#[test]
fn a_broad_highlight_on_one_half_makes_its_change_as_unsure() {
    let records = series(&[]);
    for photo in [0, 5] {
        let more = less_sure(&records, "D3", photo, ComponentName::Glare);
        assert!((more - 1.0).abs() < 0.05, "{photo}: {more}");
        // What both halves share adds nothing.
        let more = less_sure(&records, "D3", photo, ComponentName::Camera);
        assert!(more.abs() < 1e-9, "{photo}: {more}");
    }
}

#[test]
fn what_is_off_at_the_start_grows_with_the_share_of_a_half_that_moved() {
    let more = less_sure(&series(&[]), "D3", 0, ComponentName::Glare);
    let leaking = less_sure(&series(&[14]), "D3", 0, ComponentName::Glare);
    // Half of the change came through: what lies between the halves is counted twice.
    assert!((leaking / more - 4.0).abs() < 0.4, "{leaking} {more}");
}

#[test]
fn where_light_colours_come_apart_what_is_off_at_a_lighter_end_counts_for_more() {
    let panel = panel("b-1");
    // Later photos, with charts, see light colours farther apart, and dark ones closer together: by an exponent on each encoded channel.
    let bent = |i: usize| {
        let [l, a, b] = colour(i);
        let space = RgbSpace::Srgb.linear_to_xyz_d50();
        let Xyz { x, y, z, .. } = lab::to_xyz(Lab::new(l, a, b));
        let rgb = space.try_inverse().unwrap() * Vector3::new(x, y, z);
        let [x, y, z] = (space * rgb.map(|it| decode(encode(it.max(1e-4)).powf(1.3)))).into();
        let Lab { l, a, b, .. } = lab::from_xyz(Xyz::new(x, y, z));
        Some([l, a, b])
    };
    let more = |by: f64| {
        let changed = |i: usize| if i == 8 { [by, 0.0, 0.0] } else { NONE };
        let mut records = vec![shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE))];
        for (k, name) in ["1.jpg", "2.jpg", "3.jpg"].iter().enumerate() {
            let hours = 100.0 * (k as f64 + 1.0);
            let seen = shot(&panel, name, hours, &changed_by(changed));
            records.push(with_stated(with_word(seen, bent), 24));
        }
        less_sure(&records, "C1", 3, ComponentName::Glare)
    };
    let (darker, lighter) = (more(-20.0), more(20.0));
    assert!(lighter > 1.2 * darker, "{darker} {lighter}");
}

#[test]
fn a_photo_has_no_word_on_halves_that_glare_nor_a_scale_of_a_few() {
    let panel = panel("b-1");
    let truth = changed_by(change);
    // Of two photos one glares on half of the patches, and sees those too vivid.
    let vivid = |i: usize| colour(i).map(|it| if i < 8 { 1.5 * it } else { it });
    let mut glaring = with_word(shot(&panel, "2.jpg", 100.0, &truth), |i| Some(vivid(i)));
    for it in &mut glaring.readings {
        let of_those = panel.patches[..8].iter().any(|patch| patch.id == it.patch);
        if of_those && it.half == Half::Masked {
            it.flags.push(Flag::Glare);
        }
    }
    // Of the next only a few have a word, which says half.
    let few = with_word(shot(&panel, "3.jpg", 200.0, &truth), |i| {
        (i > 10).then(|| colour(i).map(|it| 0.5 * it))
    });
    let records = [
        shot(&panel, "0.jpg", 0.0, &changed_by(|_| NONE)),
        shot(&panel, "1.jpg", 100.0, &truth),
        glaring,
        few,
    ];
    let report = assess(&records, &only("D3")).unwrap();
    for found in &patch(&report, "D3").changes {
        assert!(close(moved(found), change(14), 0.02), "{found:?}");
    }
}

#[test]
fn the_limit_of_detection_is_that_of_noise_however_large_the_change() {
    let report = assess(&series(&[]), &only("D4")).unwrap();
    let changes = &patch(&report, "D4").changes;
    let (first, last) = (&changes[0], &changes[4]);
    // The scale's own error grows with the change, and so does its covariance.
    assert!(last.covariance[0][0] > first.covariance[0][0]);
    assert!((last.detection_limit - first.detection_limit).abs() < 1e-9);
}
