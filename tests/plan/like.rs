//! What a job takes from its swatch, and what it says where it takes something else.

use crate::planned::{close, coating, mix, settings};
use masstone::plan::job::{JobPlan, Order, plan};
use masstone::plan::like::{Asked, Compared, Job, Like, LotLeft, Weighed};
use masstone::plan::{Coating, Limits, PlanError};

/// Two specimens of 231 and 249 g/m² in three coats, of one lot, on larch.
fn swatch() -> Like {
    let weighed = |of: &str, g_per_m2: f64| Weighed {
        of: of.to_owned(),
        g_per_m2,
    };
    Like {
        called: "3".to_owned(),
        name: Some("red".to_owned()),
        source: "swatch 3 of the library".to_owned(),
        recipe: mix(&[("PR101", 12.0)]),
        substrate: Some("planed larch".to_owned()),
        coats: Some(3.0),
        weighed: vec![weighed("larch/A1", 231.0), weighed("larch/A2", 249.0)],
        lots: vec!["0312".to_owned()],
        stock: Vec::new(),
        compared: Vec::new(),
    }
}

/// One coat takes 80 g/m².
fn usual() -> Coating {
    let mut coating = coating();
    coating.coat_g_per_m2 = Some(80.0);
    coating
}

fn job(like: &Like, asked: Asked) -> Job {
    let asked = Asked {
        area_m2: 7.5,
        ..asked
    };
    like.job(&asked, &like.recipe, &usual()).unwrap()
}

/// A job of that swatch with everything that a plan can say of it.
pub(crate) fn planned_job() -> JobPlan {
    let mut like = swatch();
    like.compared = vec![apart()];
    let with = like.with_lots(&[("PR101".to_owned(), "0400".to_owned())], &[]);
    let with = with.unwrap();
    let mut coating = usual();
    coating.pot_life_min = Some(60.0);
    let asked = Asked {
        area_m2: 7.5,
        ..Asked::default()
    };
    let job = like.job(&asked, &with.recipe, &coating).unwrap();
    plan(&Order {
        surface: &job.surface,
        coating: &coating,
        pigments: &[],
        limits: &Limits::default(),
        settings: &settings(0.2, 5.0),
        currency: Some("EUR"),
        pace_m2_per_h: 5.0,
        largest_batch_g: None,
        tint_part: Some(0),
        like: Some(&like),
        taken: &job.taken,
        notes: &with.notes,
    })
    .unwrap()
}

/// Two lots that are apart.
fn apart() -> Compared {
    Compared {
        old: "0312".to_owned(),
        new: "0400".to_owned(),
        delta_e: 2.5,
        told_apart: Some(true),
        factor: Some(0.9),
        left: Some(0.4),
    }
}

fn has(notes: &[String], what: &str) -> bool {
    notes.iter().any(|it| it.contains(what))
}

#[track_caller]
fn from(job: &Job, what: &str) -> String {
    let taken = job.taken.iter().find(|it| it.what == what);
    let taken = taken.unwrap_or_else(|| panic!("nothing is said of {what}: {:#?}", job.taken));
    format!("{} | {}", taken.value, taken.from)
}

#[test]
fn what_was_weighed_on_the_swatch_is_put_on() {
    // (231 + 249) ÷ 2 = 240 g/m²; three coats of this coating usually take 3 × 60 = 180.
    let mut thin = usual();
    thin.coat_g_per_m2 = Some(60.0);
    let asked = Asked {
        area_m2: 7.5,
        ..Asked::default()
    };
    let planned = swatch().job(&asked, &swatch().recipe, &thin).unwrap();
    close(planned.surface.wet_g_per_m2, 240.0);
    assert_eq!(planned.surface.coats, 3);
    assert_eq!(
        from(&planned, "wet coating"),
        "240 g/m² in all | the mean of 2 weighed specimens, 231 to 249 g/m²"
    );
    assert_eq!(from(&planned, "coats"), "3 | swatch 3 of the library");
    assert!(
        !has(&planned.notes, "another colour"),
        "{:?}",
        planned.notes
    );

    let mut apart = swatch();
    apart.weighed[1].g_per_m2 = 300.0;
    assert!(has(&job(&apart, Asked::default()).notes, "231 to 300 g/m²"));
    let mut one = swatch();
    one.weighed.truncate(1);
    let planned = job(&one, Asked::default());
    close(planned.surface.wet_g_per_m2, 231.0);
    assert_eq!(
        from(&planned, "wet coating"),
        "231 g/m² in all | weighed on larch/A1"
    );
}

#[test]
fn where_nobody_weighed_it_is_coats_times_what_a_coat_takes() {
    let mut like = swatch();
    like.weighed.clear();
    let planned = job(&like, Asked::default());
    close(planned.surface.wet_g_per_m2, 240.0);
    assert_eq!(
        from(&planned, "wet coating"),
        "240 g/m² in all | 3 × 80 g/m², what a coat takes"
    );
    assert!(has(&planned.notes, "Nobody weighed"), "{:?}", planned.notes);
    // Neither weighed nor coats.
    like.coats = None;
    let refused = like
        .job(&Asked::default(), &like.recipe, &usual())
        .unwrap_err();
    assert!(matches!(refused, PlanError::NoAmount { .. }), "{refused}");
}

#[test]
fn other_coats_than_the_swatch_s_are_told_of() {
    let two = Asked {
        coats: Some(2),
        ..Asked::default()
    };
    let planned = job(&swatch(), two.clone());
    // Each coat as thick as there: 240 ÷ 3 × 2.
    close(planned.surface.wet_g_per_m2, 160.0);
    assert_eq!(
        from(&planned, "wet coating"),
        "160 g/m² in all | the mean of 2 weighed specimens, 231 to 249 g/m², each coat as there: × 2 ÷ 3"
    );
    assert!(
        has(
            &planned.notes,
            "240 g/m² in 3 coats, this job 160 g/m² in 2"
        ),
        "{:?}",
        planned.notes
    );
    // Of 240 g/m² in nobody knows how many coats, two coats are the same film.
    let mut unknown = swatch();
    unknown.coats = None;
    let planned = job(&unknown, two);
    close(planned.surface.wet_g_per_m2, 240.0);
    assert!(
        !has(&planned.notes, "another colour"),
        "{:?}",
        planned.notes
    );
    // What a coat takes was said for this job: 3 × 80 is what the swatch has, 3 × 60 is not.
    let stated = Asked {
        states_coats: true,
        ..Asked::default()
    };
    let mut thin = usual();
    thin.coat_g_per_m2 = Some(60.0);
    let planned = swatch().job(
        &Asked {
            area_m2: 7.5,
            ..stated
        },
        &swatch().recipe,
        &thin,
    );
    let planned = planned.unwrap();
    close(planned.surface.wet_g_per_m2, 180.0);
    assert!(has(&planned.notes, "another colour"), "{:?}", planned.notes);
}

#[test]
fn another_substrate_is_told_of() {
    let planned = job(&swatch(), Asked::default());
    assert_eq!(
        from(&planned, "substrate"),
        "planed larch | swatch 3 of the library"
    );
    assert!(has(&planned.notes, "that on planed larch"));
    let oak = Asked {
        substrate: Some("oak".to_owned()),
        ..Asked::default()
    };
    let planned = job(&swatch(), oak);
    assert!(
        has(
            &planned.notes,
            "The swatch is on planed larch, this job on oak"
        ),
        "{:?}",
        planned.notes
    );
    let mut unknown = swatch();
    unknown.substrate = None;
    assert!(has(
        &job(&unknown, Asked::default()).notes,
        "Nobody said what the swatch is on"
    ));
}

fn left(all: &[(&str, bool)]) -> Vec<LotLeft> {
    all.iter()
        .map(|(lot, is_there)| LotLeft {
            lot: (*lot).to_owned(),
            is_there: *is_there,
        })
        .collect()
}

/// The lot that is planned, and what is said.
fn lots(like: &Like, said: &[(&str, &str)]) -> (Option<String>, Vec<String>) {
    let said: Vec<(String, String)> = said
        .iter()
        .map(|it| (it.0.to_owned(), it.1.to_owned()))
        .collect();
    let with = like.with_lots(&said, &[]).unwrap();
    (with.recipe.loads[0].pigment.lot.clone(), with.notes)
}

#[test]
fn the_lot_of_the_swatch_is_taken_while_there_is_some() {
    let mut like = swatch();
    for stock in [
        left(&[]),
        left(&[("0312", true)]),
        left(&[("0312", true), ("0400", true)]),
    ] {
        like.stock = stock;
        let (lot, notes) = lots(&like, &[]);
        assert_eq!(lot.as_deref(), Some("0312"));
        assert_eq!(notes, ["The swatch was made with PR101, lot 0312."]);
    }
}

#[test]
fn stock_of_another_lot_is_warned_of_with_what_the_library_says() {
    let mut like = swatch();
    for stock in [
        left(&[("0312", false), ("0400", true)]),
        // The library doesn't know the swatch's lot at all.
        left(&[("0400", true)]),
    ] {
        like.stock = stock;
        let (lot, notes) = lots(&like, &[]);
        assert_eq!(lot.as_deref(), Some("0400"));
        assert!(
            has(
                &notes,
                "lot 0312, of which there is none any more: there is lot 0400"
            ),
            "{notes:?}"
        );
        assert!(has(&notes, "no comparison"), "{notes:?}");
    }
    like.compared = vec![apart()];
    let (_, notes) = lots(&like, &[]);
    // 0.9 × 12.
    assert!(
        has(
            &notes,
            "lot 0400 against 0312: 2.50 ΔE00 apart; use 0.90 times as much of it, which leaves 0.40 ΔE00 (--load PR101=10.80 instead of 12)"
        ),
        "{notes:?}"
    );
    assert!(!has(&notes, "no comparison"), "{notes:?}");
    // The other way round it is 1 ÷ 0.9 as much, and nobody knows what that leaves.
    like.lots = vec!["0400".to_owned()];
    let (_, notes) = lots(&like, &[("PR101", "0312")]);
    assert!(
        has(
            &notes,
            "lot 0312 against 0400: 2.50 ΔE00 apart; use 1.11 times as much of it (--load PR101=13.33 instead of 12)."
        ),
        "{notes:?}"
    );
    // None is there, or several others: nothing is chosen, unless the swatch's has to be bought again.
    like.lots = vec!["0312".to_owned()];
    like.stock = left(&[("0312", false)]);
    let (lot, notes) = lots(&like, &[]);
    assert_eq!(lot.as_deref(), Some("0312"));
    assert!(has(&notes, "no lot of it is there"), "{notes:?}");
    like.stock = left(&[("0400", true), ("0500", true)]);
    let (lot, notes) = lots(&like, &[]);
    assert_eq!(lot, None);
    assert!(has(&notes, "lot 0400 against 0312") && has(&notes, "Lot 0500 of PR101 is another"));
}

#[test]
fn a_swatch_of_several_lots_or_none_asks_for_a_choice() {
    let mut like = swatch();
    like.lots.push("0400".to_owned());
    let (lot, notes) = lots(&like, &[]);
    assert_eq!(lot, None);
    assert!(has(&notes, "--lot PR101=LOT"), "{notes:?}");
    like.lots.clear();
    let (lot, notes) = lots(&like, &[]);
    assert_eq!((lot, notes.len()), (None, 0));
    like.stock = left(&[("0400", true)]);
    let (lot, notes) = lots(&like, &[]);
    assert_eq!(lot.as_deref(), Some("0400"));
    assert!(has(&notes, "Nobody said which lot"), "{notes:?}");

    // A patch states one lot, and not of which pigment.
    let mixture = Like {
        recipe: mix(&[("PR101", 3.0), ("PY42", 5.0)]),
        ..swatch()
    };
    let (lot, notes) = lots(&mixture, &[]);
    assert_eq!(lot, None);
    assert!(has(&notes, "without saying of which"), "{notes:?}");
    let (lot, _) = lots(&mixture, &[("PR101", "0312")]);
    assert_eq!(lot.as_deref(), Some("0312"));
    let refused = mixture
        .with_lots(&[("PB29".to_owned(), "1".to_owned())], &[])
        .unwrap_err();
    assert!(matches!(refused, PlanError::NoPigment { .. }), "{refused}");
}

#[test]
fn another_load_is_taken_where_it_is_asked_for_and_told_of() {
    let with = swatch()
        .with_lots(&[], &[("PR101".to_owned(), 10.8)])
        .unwrap();
    close(with.recipe.loads[0].load, 10.8);
    assert_eq!(with.recipe.loads[0].pigment.lot.as_deref(), Some("0312"));
    assert!(has(&with.notes, "load 12 of PR101, this job 10.8"));
    let refused = swatch().with_lots(&[], &[("PB29".to_owned(), 1.0)]);
    assert!(matches!(refused, Err(PlanError::NoPigment { .. })));
}
