//! Changes at a dose, from reports made by hand.

use masstone::colour::{Lab, Matrix};
use masstone::fade::kinetics::{self, Point, Points};
use masstone::fade::report::{Board, Change, Fact, Patch, Report, SCHEMA};
use masstone::mix::age::age;
use masstone::mix::bands::BANDS;
use masstone::mix::fades::{Coats, Fades, FadesError, Laid, at, common_hours, fastness};
use masstone::mix::{Coat, Ground, Known, Load, Model, Optics, Pigment};
use masstone::record::Program;
use nalgebra::Vector3;

const START: [f64; 3] = [45.0, 30.0, 20.0];
const SD: f64 = 0.2;

fn change(dose: f64, [dl, da, db]: [f64; 3]) -> Change {
    let mut covariance = [[0.0; 3]; 3];
    for (axis, row) in covariance.iter_mut().enumerate() {
        row[axis] = SD * SD;
    }
    Change {
        dose,
        hours: Some(dose),
        photos: 1,
        dl,
        da,
        db,
        dc: 0.0,
        dh: 0.0,
        de_ab: 0.0,
        de_00: 0.0,
        u95_de_00: 0.0,
        interval_de_00: [0.0; 2],
        detection_limit: 0.0,
        significant: true,
        p: 0.0,
        covariance,
        words: Vec::new(),
        grade: String::new(),
        band: String::new(),
        yellowness: None,
        why_no_yellowness: String::new(),
        unevenness: None,
        parts: None,
        flags: Vec::new(),
    }
}

/// A patch whose change is `full` times `share` of each dose.
fn patch(id: &str, full: [f64; 3], doses: &[f64], share: impl Fn(f64) -> f64) -> Patch {
    let at = |dose: f64| full.map(|it| it * share(dose));
    let points = doses.iter().map(|dose| Point {
        dose: *dose,
        change: at(*dose),
        covariance: Matrix::identity() * SD * SD,
    });
    Patch {
        patch: id.into(),
        name: None,
        made_of: String::new(),
        control: None,
        start: Some(START),
        start_hex: None,
        changes: doses.iter().map(|it| change(*it, at(*it))).collect(),
        course: kinetics::course(&Points {
            start: Lab::new(START[0], START[1], START[2]),
            points: points.collect(),
            shared: Matrix::zeros(),
            scale: [0.0; 3],
            leak: 0.0,
        }),
    }
}

fn board(panel: &str, kind: &str, patches: Vec<Patch>) -> Board {
    Board {
        panel: panel.into(),
        title: None,
        dose_kind: kind.into(),
        conditions: Vec::new(),
        exposures: Vec::new(),
        patches,
        not_shown: 0,
        notes: Vec::new(),
    }
}

fn report(boards: Vec<Board>) -> Report {
    Report {
        schema: SCHEMA,
        program: Program::this(),
        boards,
        swatches: Vec::new(),
        notes: Vec::new(),
    }
}

fn coat(pigment: &str) -> Coat {
    Coat {
        pigments: vec![Load {
            pigment: pigment.into(),
            load: 10.0,
        }],
        g_per_m2: 200.0,
        ground: "larch".into(),
    }
}

/// Patch ids are their pigments.
fn coats(report: &Report) -> Coats {
    let boards = report.boards.iter();
    let all = boards.flat_map(|board| board.patches.iter().map(|it| (&board.panel, &it.patch)));
    all.map(|(panel, patch)| {
        let laid = Laid {
            coat: coat(patch),
            inert: false,
        };
        ((panel.clone(), patch.clone()), laid)
    })
    .collect()
}

fn ask(report: &Report, hours: f64) -> Result<Fades, FadesError> {
    at(report, hours, &coats(report))
}

const FULL: [f64; 3] = [6.0, -9.0, 3.0];
const DOSES: [f64; 6] = [100.0, 200.0, 400.0, 600.0, 800.0, 1000.0];

#[test]
fn between_exposures_the_course_is_followed() {
    // First order, nearly done at the end.
    let share = |dose: f64| 1.0 - (-dose / 300.0_f64).exp();
    let report = report(vec![board(
        "p",
        "hours",
        vec![patch("red", FULL, &DOSES, share)],
    )]);
    let mut spread = 0.0;
    for hours in [50.0, 300.0, 700.0, 1000.0, 1400.0] {
        let found = ask(&report, hours).unwrap();
        let it = &found.changes[0];
        let truth = Vector3::from(FULL) * share(hours);
        assert!(
            (it.change - truth).amax() < 0.4,
            "{hours}: {} {truth}",
            it.change
        );
        assert!(found.notes.is_empty() && it.name.contains("red of panel p"));
        if hours > 900.0 {
            assert!(it.covariance.trace() >= spread, "{hours}");
            spread = it.covariance.trace();
        }
    }
}

#[test]
fn one_exposure_is_a_straight_line_with_a_doubt() {
    let report = report(vec![board(
        "p",
        "hours",
        vec![patch("red", FULL, &[800.0], |_| 1.0)],
    )]);
    assert!(report.boards[0].patches[0].course.is_none());
    let of = |hours| ask(&report, hours).unwrap().changes[0].clone();
    let none = of(0.0);
    assert!(none.change.amax() < 1e-12 && none.covariance.amax() < 1e-12);
    let whole = of(800.0);
    assert!((whole.change - Vector3::from(FULL)).amax() < 1e-12);
    assert!((whole.covariance - Matrix::identity() * SD * SD).amax() < 1e-12);
    let half = of(400.0);
    assert!((half.change - Vector3::from(FULL) / 2.0).amax() < 1e-12);
    // Between the square and the square root: 0.25 and 0.71 of it.
    let doubt = half.covariance[(1, 1)].sqrt();
    assert!((1.5..3.0).contains(&doubt), "{doubt}");
    assert!(of(1200.0).covariance.trace() > whole.covariance.trace());
    let error = ask(&report, 1201.0).unwrap_err();
    assert_eq!(
        error,
        FadesError::Beyond {
            hours: 1201.0,
            limit: 1200.0
        }
    );
    assert!(error.to_string().contains("beyond 1200 hours"), "{error}");
}

#[test]
fn each_patch_has_a_limit_of_its_own() {
    let all = vec![
        board(
            "long",
            "hours",
            vec![patch("red", FULL, &DOSES, |it| it / 1e3)],
        ),
        board(
            "short",
            "hours",
            vec![patch("blue", FULL, &[100.0, 200.0], |it| it / 1e3)],
        ),
    ];
    let report = report(all);
    let found = ask(&report, 400.0).unwrap();
    assert_eq!(found.changes.len(), 1);
    assert!(
        found.notes[0].contains("blue of panel short") && found.notes[0].contains("300"),
        "{:?}",
        found.notes
    );
    assert_eq!(common_hours(&report, &coats(&report)), Some(200.0));
}

#[test]
fn other_doses_are_not_hours() {
    let sun = || {
        board(
            "sun",
            "MJ/m2 UV 295-385 nm",
            vec![patch("red", FULL, &DOSES, |it| it / 1e3)],
        )
    };
    let error = ask(&report(vec![sun()]), 100.0).unwrap_err();
    assert!(matches!(&error, FadesError::OtherDose { kinds } if kinds.len() == 1));
    assert!(
        error.to_string().contains("MJ/m2") && error.hint().contains("hours"),
        "{error}"
    );
    let both = report(vec![
        sun(),
        board(
            "p",
            "hours",
            vec![patch("blue", FULL, &DOSES, |it| it / 1e3)],
        ),
    ]);
    let found = ask(&both, 100.0).unwrap();
    assert_eq!(found.changes.len(), 1);
    assert!(found.notes[0].contains("Panel sun"), "{:?}", found.notes);
}

#[test]
fn ways_of_exposure_are_not_pooled() {
    let lamp = Board {
        conditions: vec![Fact {
            name: "lamp".into(),
            value: "xenon".into(),
        }],
        ..board(
            "lamp",
            "hours",
            vec![patch("red", FULL, &DOSES, |it| it / 1e3)],
        )
    };
    let two = |id: &str| {
        board(
            id,
            "hours",
            vec![
                patch("red", FULL, &DOSES, |it| it / 2e3),
                patch("blue", FULL, &DOSES, |it| it / 2e3),
            ],
        )
    };
    for all in [vec![lamp.clone(), two("sun")], vec![two("sun"), lamp]] {
        let found = ask(&report(all), 500.0).unwrap();
        assert_eq!(found.changes.len(), 2);
        assert!(found.changes.iter().all(|it| it.name.contains("sun")));
        assert!(
            found.notes[0].contains("Panel lamp was exposed in another way than sun"),
            "{:?}",
            found.notes
        );
    }
}

#[test]
fn what_cannot_be_said_is_said() {
    let good = report(vec![board(
        "p",
        "hours",
        vec![patch("red", FULL, &DOSES, |it| it / 1e3)],
    )]);
    for hours in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(ask(&good, hours), Err(FadesError::Hours { .. })));
    }
    assert_eq!(at(&good, 100.0, &Coats::new()), Err(FadesError::Nothing));
    assert_eq!(ask(&report(Vec::new()), 100.0), Err(FadesError::Nothing));
    let mut unknown = good.clone();
    unknown.boards[0].patches[0].start = None;
    let found = ask(&unknown, 100.0).unwrap();
    assert!(found.changes.is_empty() && found.notes[0].contains("isn't known"));
    assert_eq!(common_hours(&report(Vec::new()), &Coats::new()), None);
}

#[test]
fn what_fades_least_comes_first() {
    let optics = |k: f64| Optics {
        k: [k; BANDS],
        s: [0.05; BANDS],
    };
    let pigment = |id: &str| Pigment {
        id: id.into(),
        optics: optics(0.3),
        known: Known::Both,
        loads: vec![10.0],
    };
    let model = Model::of_optics(
        Optics {
            k: [0.0; BANDS],
            s: [0.0; BANDS],
        },
        vec![pigment("blue"), pigment("red"), pigment("new")],
        vec![Ground {
            name: "larch".into(),
            reflectance: [0.6; BANDS],
        }],
    );
    let patches = vec![
        patch("red", [5.0, 0.0, 1.0], &DOSES, |it| it / 1e3),
        patch("blue", [1.0, 0.2, 0.0], &DOSES, |it| it / 1e3),
    ];
    let report = report(vec![board("p", "hours", patches)]);
    let aged = age(&model, &ask(&report, 1000.0).unwrap().changes);
    let all = fastness(&aged);
    let names: Vec<&str> = all.iter().map(|it| it.pigment.as_str()).collect();
    assert_eq!(names, ["blue", "red"]);
    assert!(
        all[0].de_00 > 0.5 && all[1].de_00 > 3.0 * all[0].de_00,
        "{all:?}"
    );
    assert!((all[1].load - 10.0).abs() < 1e-12);
}
