//! What can't be searched, and what is said of it.

use super::task;
use super::tinted::{library, model};
use masstone::colour::Lab;
use masstone::mix::search::{Candidate, Removed, SearchError, Task, search};
use masstone::plan::Balance;

const WANTED: Lab = Lab {
    l: 50.0,
    a: 10.0,
    b: 20.0,
    white_point: std::marker::PhantomData,
};

fn refused(change: impl Fn(&mut Task<'_>), candidates: &[Candidate]) -> (SearchError, String) {
    let (model, _) = library(4, 8000);
    let mut task = task(&model, candidates, WANTED);
    change(&mut task);
    let error = search(&task).expect_err("it is refused");
    let said = format!("{error}. {}", error.hint());
    (error, said)
}

fn four() -> Vec<Candidate> {
    library(4, 8000).1
}

#[test]
fn a_base_that_is_not_there_has_the_nearest_names() {
    let (_, said) = refused(|it| it.base = Some("P3"), &four());
    assert!(
        said.starts_with("there is no pigment \"P3\". The nearest are: P03; "),
        "{said}"
    );
    let mut gone = four();
    gone[3].in_stock = false;
    let (error, said) = refused(
        |it| {
            it.base = Some("P03");
            it.in_stock = true;
        },
        &gone,
    );
    assert!(matches!(
        error,
        SearchError::BaseRemoved {
            why: Removed::OutOfStock,
            ..
        }
    ));
    assert!(
        said.contains("P03 was to be in every recipe, and can't be taken: not in stock"),
        "{said}"
    );
}

#[test]
fn a_colour_that_no_surface_has_is_refused() {
    for wanted in [
        Lab::new(50.0, 300.0, 0.0),
        Lab::new(500.0, 0.0, 0.0),
        Lab::new(f64::NAN, 0.0, 0.0),
        Lab::new(50.0, f64::NAN, 0.0),
    ] {
        let (error, said) = refused(|it| it.wanted = wanted, &four());
        assert!(matches!(error, SearchError::Wanted(_)), "{said}");
    }
    let (_, said) = refused(|it| it.wanted = Lab::new(50.0, 300.0, 0.0), &four());
    assert!(
        said.contains("C* of 300.0") && said.contains("D50"),
        "{said}"
    );
}

#[test]
fn constraints_that_leave_nothing_are_counted() {
    let mut none = four();
    none[0].in_stock = false;
    none[1].in_stock = false;
    for it in &mut none[2..] {
        it.limit = None;
    }
    none.push(Candidate {
        id: "P99".to_owned(),
        ..none[0].clone()
    });
    let (_, said) = refused(|it| it.in_stock = true, &none);
    assert!(
        said.contains(
            "1 × not measured in this coating, 2 × not in stock, 2 × no load of it is known to cure"
        ),
        "{said}"
    );
    let (error, _) = refused(|_| (), &[]);
    assert_eq!(error, SearchError::NoneLeft(Vec::new()));
}

#[test]
fn a_batch_too_small_to_weigh_says_how_much_would_do() {
    let (error, said) = refused(
        |it| {
            it.batch_g = 5.0;
            it.balance = Balance::new(0.1, None).unwrap();
        },
        &four(),
    );
    let SearchError::BatchTooSmall { enough_g, .. } = error else {
        panic!("{said}")
    };
    let (model, _) = library(4, 8000);
    let four = four();
    let mut task = task(&model, &four, WANTED);
    task.balance = Balance::new(0.1, None).unwrap();
    task.batch_g = enough_g;
    assert!(search(&task).is_ok(), "{said}");
    task.batch_g = enough_g - 1.0;
    assert!(matches!(
        search(&task),
        Err(SearchError::BatchTooSmall { .. })
    ));
}

#[test]
fn numbers_that_cannot_be_are_refused() {
    type Change = fn(&mut Task<'_>);
    let changes: [Change; 9] = [
        |it| it.batch_g = 0.0,
        |it| it.batch_g = f64::INFINITY,
        |it| it.g_per_m2 = -1.0,
        |it| it.g_per_m2 = f64::NAN,
        |it| it.most_pigments = 0,
        |it| it.most_pigments = 4,
        |it| it.count = 0,
        |it| it.coating_per_kg = Some(-1.0),
        |it| it.covariance[(1, 1)] = -1.0,
    ];
    for change in changes {
        let (error, said) = refused(change, &four());
        assert!(matches!(error, SearchError::Number { .. }), "{said}");
    }
    type OfOne = fn(&mut Candidate);
    let of_one: [OfOne; 5] = [
        |it| it.limit = Some(0.0),
        |it| it.limit = Some(f64::NAN),
        |it| it.lowest_failed = it.limit,
        |it| it.per_kg = Some(f64::NEG_INFINITY),
        |it| it.fastness.as_mut().unwrap().delta_e = -1.0,
    ];
    for change in of_one {
        let mut four = four();
        change(&mut four[2]);
        let (error, said) = refused(|_| (), &four);
        assert!(
            matches!(error, SearchError::Number { .. }) && said.contains("P02"),
            "{said}"
        );
    }
}

#[test]
fn what_the_model_lacks_is_said() {
    let empty = model(Vec::new());
    let four = four();
    let none = search(&task(&empty, &four, WANTED)).unwrap_err();
    assert_eq!(none, SearchError::NoModel);
    let (_, said) = refused(|it| it.ground = "oak", &four);
    assert!(
        said.contains("nothing was measured on \"oak\". There are: larch."),
        "{said}"
    );
    let mut twice = four.clone();
    twice.push(four[0].clone());
    let (error, _) = refused(|_| (), &twice);
    assert_eq!(error, SearchError::Twice("P00".to_owned()));
}
