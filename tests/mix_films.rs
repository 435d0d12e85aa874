//! Predicted colours against films that another model makes: `benches/mix` in short.
//!
//! Truth is worked out by radiative transfer in the simulator; trials carry a hand's and a photo's errors. Shelves are the first of the test
//! family, whatever comes out.

#![expect(clippy::print_stdout, reason = "a test says what it found")]

mod films;
mod real;

use films::Stand;
use films::asked::{left_out, other_amounts, pairs, pale, predicted};
use films::figures::{Case, Figures};
use films::oils;
use films::watercolours::{self, Way};
use masstone::mix::{Known, fit};
use masstone_simulator::{FilmGround, ShelfPlan, Split};

/// As many trials as a small workshop has.
const PLAN: ShelfPlan = ShelfPlan {
    pigments: 4,
    loads: 4,
    grounds: 1,
};
const SHELVES: u64 = 3;

fn shelves() -> Vec<Stand> {
    (1..=SHELVES)
        .map(|seed| Stand::draw(Split::Test, seed, PLAN))
        .collect()
}

fn figures(what: &str, cases: &[Case]) -> Figures {
    let it = Figures::of(cases).expect("cases");
    println!("{what}: {it:?}");
    it
}

#[test]
fn loads_left_out_are_met() {
    let cases: Vec<Case> = shelves()
        .iter()
        .flat_map(|it| left_out(it).between)
        .collect();
    let it = figures("loads", &cases);
    assert_eq!(it.cases, 36);
    assert!(it.mean <= 1.5);
    assert!(it.ratio.expect("straight lines") < 1.0);
    assert!(it.inside >= 0.85);
}

#[test]
fn mixtures_and_pale_tints_that_were_never_shown_are_met() {
    let (mut mixed, mut tints) = (Vec::new(), Vec::new());
    for it in shelves() {
        let model = fit(&it.trials).expect("a shelf's trials are sound");
        mixed.extend(predicted(&it, &model, &pairs(&it, FilmGround::Larch)));
        tints.extend(predicted(&it, &model, &pale(&it)));
    }
    let it = figures("mixtures", &mixed);
    assert_eq!(it.cases, 108);
    assert!(it.mean <= 3.0);
    assert!(it.ratio.expect("straight lines") < 1.0);
    assert!((0.85..=1.0).contains(&it.inside));
    let it = figures("half the lowest load", &tints);
    assert!(it.ratio.expect("straight lines") < 1.0);
}

/// One load of each and nothing else: guesses, and so they say.
#[test]
fn one_load_alone_says_that_it_guesses() {
    let whole = Stand::draw(Split::Test, 1, PLAN);
    let one = whole.with_one_load();
    assert_eq!(one.trials.len(), 2 + 4);
    let model = fit(&one.trials).expect("a shelf's trials are sound");
    assert!(model.pigments.iter().all(|it| it.known == Known::Single));
    let films = pairs(&one, FilmGround::Larch);
    let guessed = figures("one load", &predicted(&one, &model, &films));
    let known = fit(&whole.trials).expect("a shelf's trials are sound");
    let known = figures("four loads", &predicted(&whole, &known, &films));
    assert!(guessed.u95 > known.u95);
}

/// Trials on two grounds tell what scatters: other amounts than the trials' are met better than as if nothing changed.
#[test]
fn other_amounts_are_predicted() {
    let plan = ShelfPlan {
        pigments: 3,
        grounds: 2,
        ..PLAN
    };
    let stand = Stand::draw(Split::Test, 1, plan);
    let model = fit(&stand.trials).expect("a shelf's trials are sound");
    let films = other_amounts(&stand, FilmGround::Larch);
    let it = figures("amounts", &predicted(&stand, &model, &films));
    // Straight lines know of loads only.
    assert!(it.ratio.expect("straight lines") < 0.8);
}

/// Measured spectra of real paints, films by Kubelka and Munk: what colours alone lose.
#[test]
fn oil_paints_are_met() {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let found = oils::cases(&folder);
    let it = figures("loads of oil paints", &found.loads);
    assert!(it.mean <= 1.5 && it.ratio.expect("straight lines") < 1.0);
    let it = figures("mixtures of oil paints", &found.pairs);
    assert!(it.mean <= 3.0 && it.ratio.expect("straight lines") < 1.0);
}

/// Real mixtures of two films on paper, from the three colours.
#[test]
fn watercolours_are_met_better_than_by_lines() {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let it = figures(
        "watercolours",
        &watercolours::cases(&folder, 20, Way::Model),
    );
    assert!(it.ratio.expect("straight lines") < 1.0);
}
