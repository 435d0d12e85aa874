//! Ageing through the film, against films that lost colorant by other mathematics.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]
#![expect(clippy::print_stdout, reason = "figures that are quoted elsewhere")]

mod truth;

use masstone::colour::difference::delta_e_2000;
use masstone::colour::uncertainty;
use masstone::colour::{Lab, Matrix};
use masstone::mix::Model;
use masstone::mix::age::{AgeError, Aged, AgedModel, age};
use nalgebra::Vector3;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::f64::consts::TAU;
use truth::{Dye, State, coat, dyes, fitted, larch, model, seen, white};

fn vector(it: Lab) -> Vector3<f64> {
    Vector3::new(it.l, it.a, it.b)
}

fn moved(it: Lab, by: Vector3<f64>) -> Lab {
    Lab::new(it.l + by.x, it.a + by.y, it.b + by.z)
}

fn aged(parts: &[(&str, f64)], ground: &str, change: Vector3<f64>) -> Aged {
    Aged {
        name: format!("{parts:?} on {ground}"),
        coat: coat(parts, ground),
        inert: ground == "white",
        change,
        covariance: Matrix::identity() * 0.04,
    }
}

fn fresh() -> State {
    State {
        left: 1.0,
        body: 1.0,
        coating: Box::new(|_| 0.0),
        ground: larch,
    }
}

/// A coating that yellows.
fn yellowed(nm: f64) -> f64 {
    5e-4 * (-(nm - 380.0) / 60.0).exp()
}

/// Wood that darkens.
fn weathered(nm: f64) -> f64 {
    larch(nm) * 0.85
}

/// How a coat changes in truth.
fn change(from: &State, to: &State, parts: &[(&Dye, f64)]) -> Vector3<f64> {
    vector(seen(to, parts, 150.0)) - vector(seen(from, parts, 150.0))
}

fn off(model: &AgedModel, parts: &[(&str, f64)], truth: Vector3<f64>) -> f64 {
    let it = model.colour(&coat(parts, "larch")).unwrap();
    delta_e_2000(it.aged, moved(it.fresh, truth))
}

#[test]
fn what_was_measured_comes_back_exactly() {
    let dyes = dyes();
    let model = model(&dyes);
    let changes = [
        Vector3::new(4.0, -6.0, 3.0),
        Vector3::new(-2.0, 1.0, 5.0),
        Vector3::new(1.0, -2.0, -4.0),
    ];
    for dye in &dyes {
        for change in changes {
            for load in [12.0, 3.0] {
                let mut one = aged(&[(dye.id, load)], "larch", change);
                one.covariance /= 400.0;
                let control = aged(&[], "white", Vector3::new(-1.0, -0.5, 3.0));
                let own = aged(&[], "larch", Vector3::new(-3.0, 1.0, 2.0));
                let all = [one.clone(), control.clone(), own.clone()];
                let aged = age(&model, &all);
                for it in &all {
                    let found = aged.colour(&it.coat).unwrap();
                    let target = moved(found.fresh, it.change);
                    let off = delta_e_2000(found.aged, target);
                    let said = found.notes.iter().any(|it| it.contains("absorption alone"));
                    assert!(off < 0.01 || said, "{}: {off} {:?}", it.name, found.notes);
                    // Where the film follows, the interval is the measurement's own.
                    if off < 0.01 {
                        let more = found.covariance - it.covariance;
                        assert!(more.amax() < 0.01, "{}: {more}", it.name);
                    }
                }
            }
        }
    }
}

#[test]
fn dose_0_changes_nothing() {
    let dyes = dyes();
    let model = model(&dyes);
    let none = Vector3::zeros();
    let mut all = vec![aged(&[], "white", none), aged(&[], "larch", none)];
    all.extend(dyes.iter().map(|it| aged(&[(it.id, 12.0)], "larch", none)));
    for it in &mut all {
        it.covariance = Matrix::zeros();
    }
    let aged = age(&model, &all);
    let mixture = coat(&[("red", 3.0), ("blue", 2.0)], "larch");
    let it = aged.colour(&mixture).unwrap();
    assert!(delta_e_2000(it.fresh, it.aged) < 1e-9);
    assert!(it.covariance.amax() < 1e-9, "{}", it.covariance);
    assert_eq!(Some(it.fresh), model.colour(&mixture));
}

/// Half of the colorant lost, measured at full load only, on white. At full load next to no light of the dye's own colour is left to take
/// away, so that loss hardly shows; tints show it. A shift of Lab can't know.
#[test]
fn lost_colorant_shows_more_in_tints() {
    let dyes = dyes();
    let model = model(&dyes);
    let whole = State {
        ground: white,
        ..fresh()
    };
    let faded = State {
        left: 0.5,
        ground: white,
        ..fresh()
    };
    let (mut by_film, mut by_shift) = (Vec::new(), Vec::new());
    for dye in &dyes {
        let full = change(&whole, &faded, &[(dye, 12.0)]);
        let all = [
            aged(&[(dye.id, 12.0)], "white", full),
            aged(&[], "white", Vector3::zeros()),
        ];
        let aged = age(&model, &all);
        for load in [6.0, 3.0, 1.5] {
            let truth = change(&whole, &faded, &[(dye, load)]);
            let it = aged.colour(&coat(&[(dye.id, load)], "white")).unwrap();
            let target = moved(it.fresh, truth);
            let off = |it: Lab| delta_e_2000(it, target);
            let (film, shift) = (off(it.aged), off(moved(it.fresh, full)));
            let predicted = delta_e_2000(it.fresh, it.aged);
            let shifted = delta_e_2000(it.fresh, moved(it.fresh, full));
            let changed = delta_e_2000(it.fresh, target);
            if load > 5.0 {
                // To whichever side the truth lies.
                assert_eq!(
                    predicted > shifted,
                    changed > shifted,
                    "{} {predicted} {shifted}",
                    dye.id
                );
            }
            by_film.push(film);
            by_shift.push(shift);
        }
    }
    let (film, shift) = (mean(&by_film), mean(&by_shift));
    assert!(film < 0.5 * shift, "film {film}, shift {shift}");
}

fn mean(it: &[f64]) -> f64 {
    it.iter().sum::<f64>() / it.len() as f64
}

/// Coating, wood and pigment all age; what each did is told from controls and one patch, and holds for tints and mixtures.
#[test]
fn coating_wood_and_pigments_are_told_apart() {
    let dyes = dyes();
    let model = model(&dyes);
    let old = |left, ground| State {
        left,
        body: 1.0,
        coating: Box::new(yellowed),
        ground,
    };
    let on_white = |it: State| State {
        ground: white,
        ..it
    };
    let mut all = vec![
        aged(
            &[],
            "white",
            change(&on_white(fresh()), &old(1.0, white), &[]),
        ),
        aged(&[], "larch", change(&fresh(), &old(1.0, weathered), &[])),
    ];
    let faded = old(0.6, weathered as fn(f64) -> f64);
    all.extend(dyes.iter().map(|it| {
        aged(
            &[(it.id, 12.0)],
            "larch",
            change(&fresh(), &faded, &[(it, 12.0)]),
        )
    }));
    let found = age(&model, &all);
    assert!(found.notes().is_empty(), "{:?}", found.notes());
    let (mut film, mut shift) = (Vec::new(), Vec::new());
    for (i, one) in dyes.iter().enumerate() {
        for other in &dyes[i + 1..] {
            let parts = [(one, 3.0), (other, 2.0)];
            let truth = change(&fresh(), &faded, &parts);
            let names = [(one.id, 3.0), (other.id, 2.0)];
            film.push(off(&found, &names, truth));
            let mean = (all[i + 2].change * 3.0
                + all
                    .iter()
                    .find(|it| {
                        it.coat
                            .pigments
                            .first()
                            .is_some_and(|it| it.pigment == other.id)
                    })
                    .unwrap()
                    .change
                    * 2.0)
                / 5.0;
            let it = found.colour(&coat(&names, "larch")).unwrap();
            shift.push(delta_e_2000(moved(it.fresh, mean), moved(it.fresh, truth)));
        }
    }
    assert!(mean(&film) < 0.5 * mean(&shift), "{film:?} {shift:?}");
}

/// Whether intervals hold what the film gets wrong, over noise and truths, in some of which scattering goes with the colorant. The model is a
/// fitted one, which has errors of its own.
#[test]
fn intervals_hold() {
    /// How far scattering goes with absorption: not at all, a quarter, half.
    const BODY: [f64; 3] = [0.0, 0.25, 0.5];
    let dyes = dyes();
    for (name, model) in [("exact", model(&dyes)), ("fitted", fitted(&dyes))] {
        let (mut held, mut asked, mut widths) = (0, 0, 0.0);
        let (mut film, mut shift) = (Vec::new(), Vec::new());
        let mut random = ChaCha8Rng::seed_from_u64(8511);
        let mut uniform = || (f64::from(random.next_u32()) + 0.5) / 2.0_f64.powi(32);
        for round in 0..12 {
            let left = 0.4 + 0.5 * uniform();
            let yellow = 6e-4 * uniform();
            let body = left.powf(BODY[round % BODY.len()]);
            let old = |ground| State {
                left,
                body,
                coating: Box::new(move |nm: f64| yellow * (-(nm - 380.0) / 60.0).exp()),
                ground,
            };
            let mut noisy = |it: Vector3<f64>| {
                let mut normal = || (-2.0 * uniform().ln()).sqrt() * (TAU * uniform()).cos();
                it + Vector3::new(normal(), normal(), normal()) * 0.2
            };
            let fresh_white = State {
                ground: white,
                ..fresh()
            };
            let mut all = vec![
                aged(&[], "white", noisy(change(&fresh_white, &old(white), &[]))),
                aged(&[], "larch", noisy(change(&fresh(), &old(weathered), &[]))),
            ];
            let faded = old(weathered);
            for it in &dyes {
                let change = noisy(change(&fresh(), &faded, &[(it, 12.0)]));
                all.push(aged(&[(it.id, 12.0)], "larch", change));
            }
            let found = age(&model, &all);
            for (i, one) in dyes.iter().enumerate() {
                let other = &dyes[(i + 1) % dyes.len()];
                for parts in [
                    vec![(one, 6.0)],
                    vec![(one, 2.0)],
                    vec![(one, 4.0), (other, 3.0)],
                ] {
                    let truth = change(&fresh(), &faded, &parts);
                    let names: Vec<_> = parts.iter().map(|it| (it.0.id, it.1)).collect();
                    let it = found.colour(&coat(&names, "larch")).unwrap();
                    let u95 = uncertainty::u95(it.aged, &it.covariance).unwrap();
                    let target = moved(it.fresh, truth);
                    let off = delta_e_2000(it.aged, target);
                    asked += 1;
                    held += usize::from(off <= u95);
                    widths += u95;
                    film.push(off);
                    shift.push(delta_e_2000(moved(it.fresh, all[i + 2].change), target));
                }
            }
        }
        let share = held as f64 / f64::from(asked);
        let (film, shift) = (mean(&film), mean(&shift));
        println!(
            "{name}: held {share:.3} of {asked}, mean U95 {:.2}; film off {film:.2}, shift {shift:.2}, ratio {:.2}",
            widths / f64::from(asked),
            film / shift
        );
        assert!(share >= 0.9, "{name}: {share}");
        assert!(film < 0.5 * shift, "{name}: {film} {shift}");
    }
}

/// A prediction after the dose is the fresh one, moved, and no surer than it.
#[test]
fn predictions_move_with_the_film() {
    let dyes = dyes();
    let model = fitted(&dyes);
    let fades = [
        aged(&[], "white", Vector3::new(-1.0, -0.5, 3.0)),
        aged(&[("red", 12.0)], "larch", Vector3::new(3.0, -4.0, 0.0)),
    ];
    let found = age(&model, &fades);
    let meant = coat(&[("red", 5.0)], "larch");
    let (fresh, later) = (
        model.predict(&meant).unwrap(),
        found.predict(&meant).unwrap(),
    );
    let film = found.colour(&meant).unwrap();
    let moved = vector(later.lab) - vector(fresh.lab);
    assert!((moved - (vector(film.aged) - vector(film.fresh))).amax() < 1e-9);
    assert!((later.covariance - fresh.covariance - film.covariance).amax() < 1e-9);
    assert!(later.u95 > fresh.u95);
    assert!(
        later
            .notes
            .iter()
            .any(|it| it.contains("How this substrate ages")),
        "{:?}",
        later.notes
    );
    let error = found.predict(&coat(&[("red", -1.0)], "larch")).unwrap_err();
    assert!(matches!(error, AgeError::Fresh(_)), "{error}");
    assert!(found.predict(&coat(&[("blue", 1.0)], "larch")).is_err());
}

#[test]
fn a_pigment_whose_fade_is_unknown_has_no_aged_colour() {
    let dyes = dyes();
    let model = model(&dyes);
    let fades = [aged(
        &[("red", 12.0)],
        "larch",
        Vector3::new(3.0, -4.0, 0.0),
    )];
    let aged = age(&model, &fades);
    assert!(aged.knows("red") && !aged.knows("blue"));
    let error = aged
        .colour(&coat(&[("red", 2.0), ("blue", 1.0)], "larch"))
        .unwrap_err();
    assert_eq!(
        error,
        AgeError::NoFade {
            pigment: "blue".into(),
            known: vec!["red".into()]
        }
    );
    assert!(
        error.to_string().contains("blue") && error.to_string().contains("red"),
        "{error}"
    );
    assert!(
        aged.colour(&coat(&[("red", 2.0), ("blue", 0.0)], "larch"))
            .is_ok()
    );
    let error = aged.colour(&coat(&[("mauve", 2.0)], "larch")).unwrap_err();
    assert_eq!(
        error,
        AgeError::NotThere {
            what: "mauve".into()
        }
    );
    let error = aged.colour(&coat(&[("red", 2.0)], "oak")).unwrap_err();
    assert_eq!(error, AgeError::NotThere { what: "oak".into() });
}

#[test]
fn what_is_not_told_apart_is_said() {
    let dyes = dyes();
    let model = model(&dyes);
    let red = aged(&[("red", 12.0)], "larch", Vector3::new(3.0, -4.0, 0.0));
    let own = aged(&[], "larch", Vector3::new(-3.0, 1.0, 2.0));
    let on_white = aged(&[], "white", Vector3::new(-1.0, -0.5, 3.0));
    let coat = coat(&[("red", 3.0)], "larch");
    let notes = |changes: &[Aged]| {
        let aged = age(&model, changes);
        let mut notes = aged.colour(&coat).unwrap().notes;
        notes.extend(aged.notes().to_vec());
        notes.join(" ")
    };
    let red = || red.clone();
    assert!(notes(&[red()]).contains("No control was exposed"));
    assert!(notes(&[red(), own.clone()]).contains("only one control"));
    assert!(notes(&[red(), on_white.clone()]).contains("How this substrate ages isn't known"));
    assert_eq!(notes(&[red(), on_white.clone(), own.clone()]), "");
    // With one control, the doubt is in the interval.
    let spread = |changes: &[Aged]| {
        age(&model, changes)
            .colour(&coat)
            .unwrap()
            .covariance
            .trace()
    };
    assert!(spread(&[red(), own.clone()]) > spread(&[red(), own, on_white]));
}

#[test]
fn nothing_panics_on_absurd_changes() {
    let dyes = dyes();
    let model: Model = model(&dyes[..1]);
    for size in [0.0, 1e-9, 50.0, 1e4, 1e300, f64::NAN, f64::INFINITY] {
        for direction in [Vector3::x(), -Vector3::x(), Vector3::y(), -Vector3::z()] {
            for parts in [&[("red", 12.0)][..], &[]] {
                let mut one = aged(parts, "larch", direction * size);
                let found = age(&model, std::slice::from_ref(&one));
                if let Ok(it) = found.colour(&coat(&[("red", 3.0)], "larch")) {
                    assert!(
                        it.aged.l.is_finite() && it.covariance.iter().all(|it| it.is_finite()),
                        "{size}"
                    );
                }
                one.coat.g_per_m2 = 0.0;
                assert_eq!(age(&model, &[one]).notes().len(), 2);
            }
        }
    }
    assert!(!age(&model, &[]).knows("red"));
}
