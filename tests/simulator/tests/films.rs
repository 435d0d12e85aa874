//! Shelves of films: what is drawn, and what is stated of it.

use masstone_simulator::{FilmGround, PigmentKind, Shelf, ShelfPlan, Split, ciede2000};
use nalgebra::{Matrix3, Vector3};

const PLAN: ShelfPlan = ShelfPlan {
    pigments: 3,
    loads: 3,
    grounds: 1,
};

#[test]
fn the_same_draw_is_the_same_shelf() {
    let [one, two] = [(); 2].map(|()| Shelf::draw(Split::Test, 5, PLAN).patches());
    // A control and three loads of each pigment.
    assert_eq!(one.len(), 10);
    for (one, two) in one.iter().zip(&two) {
        assert_eq!(one.film, two.film);
        assert_eq!(
            one.measured.map(f64::to_bits),
            two.measured.map(f64::to_bits)
        );
    }
    let more = ShelfPlan { loads: 5, ..PLAN };
    let more = Shelf::draw(Split::Test, 5, more);
    let fewer = Shelf::draw(Split::Test, 5, PLAN);
    for pigment in 0..3 {
        assert_eq!(more.loads(pigment)[2..], fewer.loads(pigment));
    }
}

#[test]
fn the_families_have_other_pigments() {
    let [study, test] = [Split::Study, Split::Test].map(|it| Shelf::draw(it, 5, PLAN));
    for pigment in 0..3 {
        let film = |shelf: &Shelf| shelf.film(vec![(pigment, 4.0)], FilmGround::Larch);
        let apart = ciede2000(study.lab(&film(&study)), test.lab(&film(&test)));
        assert_eq!(study.pigments[pigment].kind, test.pigments[pigment].kind);
        assert!(apart > 0.5, "{apart}");
    }
}

#[test]
fn more_of_a_white_is_lighter_and_hides_more() {
    let plan = ShelfPlan {
        pigments: 9,
        ..PLAN
    };
    let shelf = Shelf::draw(Split::Study, 3, plan);
    let white = (0..9).find(|i| shelf.pigments[*i].kind == PigmentKind::White);
    let white = white.expect("nine kinds of nine pigments");
    let films = [0.0, 1.0, 4.0, 16.0].map(|load| {
        let film = shelf.film(vec![(white, load)], FilmGround::Larch);
        (shelf.lab(&film)[0], shelf.contrast_ratio(&film))
    });
    for pair in films.windows(2) {
        assert!(pair[1].0 > pair[0].0 && pair[1].1 > pair[0].1, "{films:?}");
    }
}

/// The stated covariance is that of the errors: its squared distance averages to three, over boards, since those on one share a part.
#[test]
fn errors_are_as_stated() {
    let plan = ShelfPlan {
        pigments: 1,
        ..PLAN
    };
    let shelf = Shelf::draw(Split::Study, 8, plan);
    let film = shelf.film(vec![(0, 2.0)], FilmGround::Larch);
    let boards = 400;
    let mean: f64 = (0..boards)
        .map(|number| {
            let it = &shelf.board(number, std::slice::from_ref(&film))[0];
            let off = Vector3::from(it.measured) - Vector3::from(it.laid);
            let inverse = Matrix3::from(it.covariance).try_inverse();
            off.dot(&(inverse.expect("a covariance") * off))
        })
        .sum::<f64>()
        / f64::from(u32::try_from(boards).expect("small"));
    // Its standard error is √(6/400).
    assert!((mean - 3.0).abs() < 0.4, "{mean}");
}
