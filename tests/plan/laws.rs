//! What holds for all plans.

use crate::planned::{all, coating, gram, limit, load, mix, pour};
use masstone::plan::job::{self, Order};
use masstone::plan::{
    Add, Balance, Coating, Limits, PlanError, Recipe, Session, Settings, Surface, Verdict, sessions,
};
use proptest::prelude::*;

const PIGMENTS: [&str; 4] = ["PR101", "PY42", "PW6", "PBk11"];

/// One to three pigments, each once.
fn recipe() -> impl Strategy<Value = Recipe> {
    let loads = prop::collection::btree_map(0..PIGMENTS.len(), 0.3..14.0_f64, 0..=3);
    loads.prop_map(|loads| {
        let loads: Vec<(&str, f64)> = loads
            .into_iter()
            .map(|(at, load)| (PIGMENTS[at], (load * 100.0).round() / 100.0))
            .collect();
        mix(&loads)
    })
}

fn surfaces() -> impl Strategy<Value = Vec<Surface>> {
    let one = (recipe(), 0.001..0.05_f64, 60.0..400.0_f64, 1..4_u32);
    prop::collection::vec(one, 1..9).prop_map(|all| {
        let all = all.into_iter().enumerate();
        all.map(|(at, (recipe, area_m2, wet_g_per_m2, coats))| Surface {
            id: format!("P{at}"),
            name: None,
            recipe,
            area_m2,
            wet_g_per_m2,
            coats,
        })
        .collect()
    })
}

fn workshop() -> impl Strategy<Value = Settings> {
    let step = prop::sample::select(vec![0.001, 0.01, 0.02, 0.1]);
    (step, 0.0..0.5_f64, 0.0..10.0_f64).prop_map(|(step, overage, least_cup_g)| Settings {
        overage,
        least_cup_g,
        ..Settings::usual(Balance::new(step, None).unwrap())
    })
}

fn with_pot_life(minutes: Option<f64>) -> Coating {
    let mut coating = coating();
    coating.pot_life_min = minutes;
    coating
}

/// Limits, some of them just at a load that is asked for.
fn limits() -> impl Strategy<Value = Limits> {
    let cured = prop::collection::vec((0..PIGMENTS.len(), 1.0..30.0_f64), 0..4);
    cured.prop_map(|all| Limits {
        single: all
            .into_iter()
            .map(|(at, cured)| limit(PIGMENTS[at], cured))
            .collect(),
        ..Limits::default()
    })
}

fn every_session(
    surfaces: &[Surface],
    coating: &Coating,
    limits: &Limits,
    settings: &Settings,
) -> Vec<Session> {
    let rounds = sessions(surfaces, std::slice::from_ref(coating), limits, settings).unwrap();
    rounds.into_iter().flat_map(|it| it.sessions).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn masses_are_conserved_and_suffice(surfaces in surfaces(), settings in workshop(), minutes in prop::option::of(8.0..90.0_f64)) {
        for session in every_session(&surfaces, &with_pot_life(minutes), &Limits::default(), &settings) {
            let poured = pour(&session);
            let in_cups = all(&poured.left);
            let clear: f64 = poured.clear.values().sum();
            prop_assert!((poured.taken - in_cups - clear).abs() < 1e-6, "{} in, {in_cups} + {clear} out", poured.taken);
            prop_assert!((clear - session.left_g).abs() < 1e-6);
            for (cup, left) in session.cups.iter().zip(&poured.left) {
                let left: f64 = left.values().sum();
                prop_assert!(left >= cup.needed_g - 1e-6, "{left} g are left of {cup:#?}");
                prop_assert!((left - cup.needed_g - cup.spare_g).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn every_surface_is_coated_once_a_coat(surfaces in surfaces(), settings in workshop(), minutes in prop::option::of(8.0..90.0_f64)) {
        let coating = with_pot_life(minutes);
        let rounds = sessions(&surfaces, &[coating], &Limits::default(), &settings).unwrap();
        for surface in &surfaces {
            let mut wet = 0.0;
            for round in &rounds {
                let cups: Vec<_> = round.sessions.iter().flat_map(|it| &it.cups).filter(|it| it.patches.contains(&surface.id)).collect();
                let due = surface.coats >= round.last_coat;
                prop_assert_eq!(cups.len(), usize::from(due));
                if due {
                    wet += f64::from(round.times());
                }
            }
            prop_assert!((wet - f64::from(surface.coats)).abs() < 1e-9);
        }
        // What all cups are for is what all surfaces take.
        let needed: f64 = rounds.iter().map(|round| {
            f64::from(round.times()) * round.sessions.iter().flat_map(|it| &it.cups).map(|it| it.needed_g).sum::<f64>()
        }).sum();
        let wanted: f64 = surfaces.iter().map(|it| it.wet_g() * (1.0 + settings.overage)).sum();
        prop_assert!((needed - wanted).abs() < 1e-6 * wanted.max(1.0));
    }

    #[test]
    fn a_mixing_is_used_up_within_its_pot_life(surfaces in surfaces(), settings in workshop(), minutes in 4.0..90.0_f64) {
        for session in every_session(&surfaces, &with_pot_life(Some(minutes)), &Limits::default(), &settings) {
            let count = f64::from(u32::try_from(session.cups.len()).unwrap());
            prop_assert!((session.minutes - count * settings.minutes_per_cup).abs() < 1e-9);
            prop_assert!(
                session.minutes <= minutes * settings.worked_share + 1e-6 || session.cups.len() == 1,
                "{} minutes of {minutes}: {session:#?}", session.minutes
            );
        }
    }

    #[test]
    fn nothing_is_weighed_that_the_balance_cannot_weigh(surfaces in surfaces(), settings in workshop(), limits in limits()) {
        let balance = settings.balance;
        for session in every_session(&surfaces, &with_pot_life(None), &limits, &settings) {
            let adds = session.cups.iter().flat_map(|it| &it.adds).map(gram);
            for it in adds.chain(session.parts.iter().map(|it| it.grams)) {
                prop_assert!(it >= balance.least_g() - 1e-9, "{it} g is below {} g", balance.least_g());
                let steps = it / balance.step_g();
                prop_assert!((steps - steps.round()).abs() < 1e-4, "{it} g is {steps} steps");
            }
        }
    }

    #[test]
    fn dilution_gives_the_wanted_load(surfaces in surfaces(), settings in workshop()) {
        let step = settings.balance.step_g();
        for session in every_session(&surfaces, &with_pot_life(None), &Limits::default(), &settings) {
            let poured = pour(&session);
            for (cup, filled) in session.cups.iter().zip(&poured.filled) {
                for it in &cup.loads {
                    let got = load(filled, &it.pigment.to_string());
                    prop_assert!((got - it.weighed).abs() < 1e-6, "stated {}, poured {got}: {cup:#?}", it.weighed);
                    // Nearest weights are half a step off, and clear coating goes up by up to a step, in this cup and in those
                    // that it is poured from.
                    let coating = session.cups.iter().map(|it| it.coating_g).fold(f64::INFINITY, f64::min);
                    let slack = 1.0 + 3.0 * step / coating;
                    prop_assert!(it.wanted <= it.high * slack && it.wanted >= it.low / slack, "{it:?} of {cup:#?}");
                    // 20 steps are the least that is weighed, so half a step is 2.5 %; a stock adds as much.
                    prop_assert!(it.rounding().abs() < 0.06, "{it:?}");
                }
            }
            for (part, share) in session.parts.iter().zip([0.8, 0.2]) {
                let whole: f64 = session.parts.iter().map(|it| it.grams).sum();
                prop_assert!((part.grams / whole / share - 1.0).abs() <= session.ratio_off + 1e-9);
                prop_assert!(session.ratio_off < 0.05);
            }
        }
    }

    #[test]
    fn rounding_never_leads_beyond_a_tested_limit(surfaces in surfaces(), settings in workshop(), limits in limits(), at_limit in any::<bool>()) {
        let mut limits = limits;
        if at_limit {
            // The sharpest case: a mixture's shares of its limits are just 1 together.
            if let Some(it) = surfaces.iter().map(|it| &it.recipe.loads).max_by_key(|it| it.len()) {
                let pigments = f64::from(u32::try_from(it.len()).unwrap());
                limits.single = it.iter().map(|it| limit(&it.pigment.pigment, it.load * pigments)).collect();
            }
        }
        for session in every_session(&surfaces, &with_pot_life(None), &limits, &settings) {
            let poured = pour(&session);
            for (cup, filled) in session.cups.iter().zip(&poured.filled) {
                let wanted = limits.standing(&cup.recipe);
                if wanted.verdict != Verdict::Within {
                    continue;
                }
                prop_assert_eq!(cup.standing.verdict, Verdict::Within, "{:#?}", cup);
                // Added up here from what was poured, lowest limit of each pigment.
                let share: f64 = cup.recipe.loads.iter().map(|it| {
                    let lowest = limits.single.iter().filter(|there| there.pigment == it.pigment.pigment);
                    let lowest = lowest.filter_map(|it| it.cured).fold(f64::INFINITY, f64::min);
                    load(filled, &it.pigment.to_string()) / lowest
                }).sum();
                prop_assert!(share <= 1.0 + 1e-6, "{share}: {cup:#?}");
            }
        }
    }

    #[test]
    fn no_way_of_making_the_cups_wastes_more_than_all_dry(surfaces in surfaces(), settings in workshop()) {
        for session in every_session(&surfaces, &with_pot_life(None), &Limits::default(), &settings) {
            let mixed: f64 = pour(&session).taken - session.left_g;
            // By hand: each cup alone, large enough for its smallest weighing.
            let least = settings.balance.least_g();
            let dry: f64 = session.cups.iter().filter(|it| !it.patches.is_empty()).map(|it| {
                let total = 1.0 + it.recipe.total_load() / 100.0;
                let smallest = it.recipe.loads.iter().map(|it| it.load / 100.0).fold(1.0, f64::min);
                (it.needed_g / total).max(settings.least_cup_g / total).max(least / smallest) * total
            }).sum();
            // Rounding up the smallest weighing of a cup makes all of it larger by up to a twentieth.
            prop_assert!(mixed <= 1.06 * dry + 1.0, "{mixed} g instead of {dry} g");
        }
    }

    #[test]
    fn batches_are_alike_and_sum_to_the_whole(
        recipe in recipe(), area_m2 in 0.5..200.0_f64, coats in 1..4_u32, pot_life in 20.0..240.0_f64, tint in prop::option::of(0..2_usize),
        settings in workshop(), limits in limits(), largest in prop::option::of(100.0..5000.0_f64), at_limit in any::<bool>(),
    ) {
        let limits = if at_limit {
            let pigments = f64::from(u32::try_from(recipe.loads.len()).unwrap());
            let single = recipe.loads.iter().map(|it| limit(&it.pigment.pigment, it.load * pigments));
            Limits { single: single.collect(), ..Limits::default() }
        } else {
            limits
        };
        let surface = Surface { id: "job".to_owned(), name: None, recipe, area_m2, wet_g_per_m2: 80.0 * f64::from(coats), coats };
        let coating = with_pot_life(Some(pot_life));
        let planned = job::plan(&Order {
            surface: &surface, coating: &coating, pigments: &[], limits: &limits, settings: &settings, currency: None,
            pace_m2_per_h: 6.0, largest_batch_g: largest, tint_part: tint, like: None, taken: &[], notes: &[],
        });
        let plan = match planned {
            Ok(plan) => plan,
            Err(PlanError::TooLittle { .. }) => return Ok(()),
            Err(other) => return Err(TestCaseError::fail(other.to_string())),
        };
        if let Some(largest) = largest {
            prop_assert!(plan.batch_wet_g <= largest + 1e-5, "{} g of {largest} g at most", plan.batch_wet_g);
        }
        let step = settings.balance.step_g();
        let batches = f64::from(plan.times) * f64::from(u32::try_from(plan.batches).unwrap());
        let each: f64 = plan.batch.iter().map(|it| it.grams).sum();
        prop_assert!((each - plan.batch_wet_g).abs() < 1e-5, "{each} {plan:#?}");
        let left = plan.tinted.as_ref().map_or(0.0, |it| it.left_g);
        prop_assert!(left >= -1e-9, "the can holds all batches: {plan:#?}");
        let totals: f64 = plan.totals.iter().map(|it| it.grams).sum();
        prop_assert!((totals - batches * each - left).abs() < 1e-4, "{totals} is not {batches} × {each} + {left}");
        prop_assert!(totals >= plan.needed_g - 3.0 * step * batches, "{totals} g of {} g", plan.needed_g);
        prop_assert!(plan.batch_minutes.unwrap() <= pot_life * settings.worked_share + 1e-6);
        for it in plan.batch.iter().chain(plan.tinted.iter().flat_map(|it| &it.weigh)) {
            prop_assert!(it.grams >= settings.balance.least_g() - 1e-6, "{it:?}");
        }
        for it in &plan.loads {
            prop_assert!(it.rounding().abs() < 0.06, "{it:?}");
        }
        if limits.standing(&surface.recipe).verdict == Verdict::Within {
            prop_assert_eq!(plan.standing.verdict, Verdict::Within);
        }
    }
}

#[test]
fn the_same_input_gives_the_same_plan() {
    let surfaces = [
        Surface {
            id: "A1".to_owned(),
            name: None,
            recipe: mix(&[("PR101", 12.0)]),
            area_m2: 0.0036,
            wet_g_per_m2: 240.0,
            coats: 3,
        },
        Surface {
            id: "A2".to_owned(),
            name: None,
            recipe: mix(&[("PR101", 1.2)]),
            area_m2: 0.0036,
            wet_g_per_m2: 240.0,
            coats: 3,
        },
    ];
    let settings = Settings::usual(Balance::new(0.01, None).unwrap());
    let plan = || sessions(&surfaces, &[coating()], &Limits::default(), &settings).unwrap();
    let first = plan();
    assert_eq!(first, plan());
    assert!(
        first[0].sessions[0].cups[1]
            .adds
            .iter()
            .any(|it| matches!(it, Add::Cup { .. }))
    );
}
