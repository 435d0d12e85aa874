//! Predicted colours against films that another model makes: `benches/mix` in short.
//!
//! Truth is worked out by radiative transfer in the simulator; trials carry a hand's and a photo's errors. Shelves 1 to 4 of the test family were looked at while
//! this was written; those that are asked for here were not.

#![expect(clippy::print_stdout, reason = "a test says what it found")]

#[expect(dead_code, reason = "the bench uses the rest")]
mod films;
mod real;

use films::Stand;
use films::asked::{left_out, other_amounts, pairs, pale, predicted};
use films::figures::{Case, Figures};
use films::oils;
use films::watercolours::{Told, Watercolours, Way};
use masstone::mix::surface::COATING;
use masstone::mix::{Known, fit};
use masstone_simulator::{FilmGround, ShelfPlan, Split};
use std::collections::BTreeSet;

/// As many trials as a small workshop has.
const PLAN: ShelfPlan = ShelfPlan {
    pigments: 4,
    loads: 4,
    grounds: 1,
};
const SHELVES: std::ops::RangeInclusive<u64> = 11..=16;
/// What intervals are to hold at least.
const HELD: f64 = 0.90;
/// An interval that would hold 95 % of its truths if it were so small a part of itself says too little. Of few cases nearly all may lie within one that is right
/// (98 % of up to 441 can't be told from all), so that width is judged by this.
const WIDE: f64 = 0.5;

/// Whether these can be from intervals that hold what they are to, within three standard deviations of a count, and aren't much wider than need be. Cases of one
/// shelf err together, so that this is narrower than chance alone would have it.
fn is_held(it: &Figures) -> bool {
    let n = it.cases as f64;
    let sd = (HELD * (1.0 - HELD) / n).sqrt();
    it.inside >= HELD - 3.0 * sd && it.enough >= WIDE
}

fn figures(what: &str, cases: &[Case]) -> Figures {
    let it = Figures::of(cases).expect("cases");
    println!("{what}: {it:?}");
    it
}

/// Loads left out, tints paler than any trial, and mixtures that no trial has.
#[test]
fn what_was_not_shown_is_met_and_its_interval_holds() {
    let (mut loads, mut tints, mut mixed) = (Vec::new(), Vec::new(), Vec::new());
    for seed in SHELVES {
        let it = Stand::draw(Split::Test, seed, PLAN);
        let model = fit(&it.trials).expect("a shelf's trials are sound");
        loads.extend(left_out(&it).between);
        tints.extend(predicted(&it, &model, &pale(&it)));
        mixed.extend(predicted(&it, &model, &pairs(&it, FilmGround::Larch)));
    }
    let all: Vec<Case> = [&loads[..], &tints, &mixed].concat();
    // Tints have no goal of their own: they are to beat straight lines, as all are.
    for (what, cases, at_most) in [
        ("loads", &loads, 1.5),
        ("half the lowest load", &tints, f64::INFINITY),
        ("mixtures", &mixed, 3.0),
        ("all of them", &all, f64::INFINITY),
    ] {
        let it = figures(what, cases);
        assert!(it.mean <= at_most, "{what}");
        assert!(it.ratio.expect("straight lines") < 1.0, "{what}");
        assert!(is_held(&it), "{what}");
    }
    assert_eq!(all.len(), 72 + 24 + 216);
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
    assert!(it.ratio.expect("straight lines") < 1.0);
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
    // Among the first five the width of intervals was set, so that they prove nothing of it.
    assert_eq!(found.set_on.len(), 60);
    for (what, cases, count) in [
        ("one of the first five with another", &found.across, 150),
        ("among the other five", &found.apart, 60),
        ("after ten mixtures of other pairs", &found.after, 420),
    ] {
        let it = figures(what, cases);
        assert_eq!(it.cases, count);
        assert!(it.mean <= 3.0 && it.ratio.expect("straight lines") < 1.0);
        assert!(is_held(&it), "{what}");
    }
}

/// What is said of the watercolours' table, and of what is asked of them.
#[test]
fn the_data_are_what_is_said_of_them() {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let found = Watercolours::read(&folder);
    let paints: BTreeSet<usize> = found.films.iter().map(|it| it.paint).collect();
    assert_eq!((paints.len(), found.films.len()), (13, 139));
    // Rows of one paint: the third film is that of the sum.
    assert_eq!((found.sums.len(), found.mixtures.len()), (708, 624));
    let known = found.sums.iter().filter_map(|it| Some((it.0, it.1?)));
    let (mut rows, mut highest) = (0, 0);
    for (films, third) in known {
        let sum: f64 = films.iter().map(|it| found.films[*it].quantity).sum();
        let third = &found.films[third];
        let sums = (sum - third.quantity).abs() < 1e-9;
        // One paint's film of 0.12 is that of 0.10 to the last digit.
        assert!(sums || ((sum - 0.12).abs() < 1e-9 && (third.quantity - 0.1).abs() < 1e-9));
        rows += 1;
        highest += usize::from(!sums);
    }
    assert_eq!((rows, highest), (600, 6));
    let (mut equal, mut all) = (0, 0);
    for paint in paints {
        let mut ladder: Vec<_> = found.films.iter().filter(|it| it.paint == paint).collect();
        ladder.sort_by(|a, b| a.quantity.total_cmp(&b.quantity));
        let mut quantities: Vec<f64> = ladder.iter().map(|it| it.quantity).collect();
        quantities.dedup();
        assert_eq!(quantities.len(), ladder.len());
        for pair in ladder.windows(2) {
            for (less, more) in pair[0].reflectance.iter().zip(&pair[1].reflectance) {
                assert!(more <= less);
                equal += usize::from(more >= less);
                all += 1;
            }
        }
    }
    assert_eq!((equal, all), (1584, 5166));
    let bare = found.missed_by_sums(|it| it, |it| it);
    let coated = found.missed_by_sums(|it| COATING.within(it), |it| COATING.seen(it));
    println!("summed K/S miss {bare:.4} of reflectance, with a surface {coated:.4}");
    assert!((0.038..0.041).contains(&bare) && (coated / bare - 1.0).abs() < 0.02);
}

/// Real films on paper: one paint's quantities and mixtures of two, by the paints' ladders and from three colours.
#[test]
fn watercolours_are_met_better_than_by_lines() {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let found = Watercolours::read(&folder);
    for (what, cases, count) in [
        ("loads left out", found.loads_left_out(), 39),
        ("mixtures", found.by_ladders(Told::None), 3120),
        ("from three", found.by_three_colours(10, Way::Model), 63),
    ] {
        let it = figures(what, &cases);
        assert_eq!(it.cases, count, "{what}");
        assert!(it.ratio.expect("straight lines") < 1.0, "{what}");
    }
    // The films are evened out, which favours lines.
    let it = figures("loads between", &found.loads_between());
    assert!(it.cases == 52 && it.mean <= 1.5 && is_held(&it));
    assert!(it.ratio.expect("straight lines") < 1.0);
}

/// Ladders that go their own way make their mixtures less sure, and mixtures that are measured tell how far off others are.
#[test]
fn measured_watercolours_widen_what_is_said_of_others() {
    let Some(folder) = real::folder("spectra") else {
        return;
    };
    let found = Watercolours::read(&folder);
    let none = figures("before", &found.by_ladders(Told::None));
    // As long as what ladders are off by was taken for wrong, 37 % were.
    assert!(none.inside > 0.75);
    for (what, told) in [
        ("after seven", Told::Seven),
        ("after thirteen", Told::Thirteen),
    ] {
        let it = figures(what, &found.by_ladders(told));
        assert!(it.mean < none.mean && it.ratio.expect("straight lines") < 1.0);
        // As long as they did not widen it, 43 % were, and 81 % while what ladders are off by was taken for wrong.
        assert!(it.inside > 0.85, "{what}");
    }
}
