//! Drawing a series: a board, its doses, and how each patch changes.

use super::{Change, Drift, Fault, Leak, Series, Truths, double_difference, from_start};
use crate::ageing::{Course, Wear};
use crate::colorimetry::{Lab, ciede2000};
use crate::layout::{CardKind, Place};
use crate::light::Split;
use crate::paint::Recipe;
use crate::random::{between, chance, normal, stream, weighted};
use crate::spec::{Mixture, SceneSpec};
use crate::spectrum::as_f64;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Largest true change at the last dose, ΔE00.
const LARGEST: f64 = 12.0;
/// Share of the patches that don't change at all.
const UNCHANGED: f64 = 0.25;
/// A mask leaks that hides something: least change of its patch at the last dose, ΔE00.
const WORTH_LEAKING: f64 = 4.0;
/// Ways for a patch to change that are tried before it is left unchanged.
const TRIES: u64 = 40;

impl Series {
    /// Draws a board with `exposures` doses after 0 and one to `most_photos` photos of each. The same arguments always give the same
    /// series.
    #[must_use]
    pub fn draw(split: Split, seed: u64, fault: Fault, exposures: usize, most_photos: u64) -> Self {
        let mut spec = board(split, seed);
        let mut rng = stream(seed, 31);
        let controls = add_controls(&mut rng, &mut spec);
        let last = (between(&mut rng, 1000.0, 4000.0) / 100.0).round() * 100.0;
        let bend = between(&mut rng, 1.0, 1.6);
        let doses: Vec<f64> = (0..=exposures)
            .map(|i| {
                let share = as_f64(i) / as_f64(exposures.max(1));
                (last * share.powf(bend)).round()
            })
            .collect();
        let photos = doses
            .iter()
            .map(|_| rng.random_range(1..=most_photos.max(1)))
            .collect();
        let substrate = {
            let exposed = between(&mut rng, 0.3, 1.0);
            let masked = exposed * between(&mut rng, 0.05, 0.15);
            let rate = between(&mut rng, 1.0, 4.0);
            ([masked, exposed], Course::Plateau { rate })
        };
        let mut series = Self {
            spec,
            seed,
            doses,
            photos,
            changes: Vec::new(),
            leak: None,
            drift: None,
            substrate,
        };
        if fault == Fault::Drift {
            series.drift = Some(drift(&mut rng, &series.spec));
        }
        series.changes = changes(&series, controls);
        if fault == Fault::Leak {
            series.leak = leak(&mut rng, &series);
        }
        series.spec.ageing = Some(series.ageing(0.0));
        series
    }
}

/// A board such as a workshop exposes: three to six rows, masks, one grey card or three zones, and something in the panel file that
/// says which way is up.
fn board(split: Split, seed: u64) -> SceneSpec {
    let mut rng = stream(seed, 30);
    loop {
        let spec = SceneSpec::draw(Mixture::Ordinary, split, rng.random());
        let layout = &spec.layout;
        let [card] = layout.cards.as_slice() else {
            continue;
        };
        let up = layout.upright || card.place != Place::Anywhere;
        let usual = (3..=6).contains(&layout.rows) && (4..=8).contains(&layout.columns);
        if layout.masked.is_some() && card.kind != CardKind::Chart24 && up && usual {
            let mut spec = SceneSpec {
                exposure: 0.0,
                ..spec
            };
            spec.layout.id = format!("series-{seed}");
            "Simulated exposure series".clone_into(&mut spec.layout.title);
            return spec;
        }
    }
}

/// Puts coating without pigment on the panel's substrate and on an inert white, in two cells; gives the two patches' indices.
fn add_controls(rng: &mut ChaCha8Rng, spec: &mut SceneSpec) -> [usize; 2] {
    let recipes = &mut spec.layout.recipes;
    let count = recipes.len();
    let mut cells = [0; 2];
    for (k, on_white) in [false, true].into_iter().enumerate() {
        cells[k] = loop {
            let cell = rng.random_range(0..count);
            if recipes[cell].is_some() && !(k == 1 && cell == cells[0]) {
                break cell;
            }
        };
        recipes[cells[k]] = Some(Recipe {
            name: None,
            pigments: Vec::new(),
            film: 1.0,
            on_white,
        });
    }
    cells.map(|cell| recipes[..cell].iter().flatten().count())
}

/// The coating yellows in the dark: all masked halves by 1.5–3 ΔE00 in the mean.
fn drift(rng: &mut ChaCha8Rng, spec: &SceneSpec) -> Drift {
    let target = between(rng, 1.5, 3.0);
    let course = Course::Plateau {
        rate: between(rng, 1.0, 3.0),
    };
    let truths = Truths::new(spec);
    let count = truths.laid.len();
    let worn = |amount: f64| Wear {
        yellowing: amount,
        ..Wear::default()
    };
    let masked = |amount: f64| -> Vec<Lab> {
        let all = (0..count).into_par_iter();
        all.map(|i| truths.half(i, 0, worn(amount))).collect()
    };
    let before = masked(0.0);
    let mean = |amount: f64| {
        let after = masked(amount);
        let moved = before.iter().zip(&after).map(|(a, b)| ciede2000(*a, *b));
        moved.sum::<f64>() / as_f64(count)
    };
    Drift {
        last: worn(first_reach(mean, target, 0.8).unwrap_or(0.8)),
        course,
        target,
    }
}

/// How each patch changes, every one from draws of its own.
fn changes(series: &Series, [clear, on_white]: [usize; 2]) -> Vec<Change> {
    let truths = Truths::new(&series.spec);
    let dark = series.drift.map_or(Wear::default(), |it| it.last);
    // What does not depend on the sun: both halves before, the masked half after.
    let known: Vec<([Lab; 2], Lab)> = (0..truths.laid.len())
        .into_par_iter()
        .map(|i| {
            let before = truths.both(i, [Wear::default(); 2]);
            (before, truths.half(i, 0, dark))
        })
        .collect();
    let delta_e = |patch: usize, wear: Wear| {
        let (before, masked) = known[patch];
        let after = [masked, truths.half(patch, 1, wear.and(dark))];
        from_start(before[0], double_difference(&before, &after))
    };
    let rng_of = |patch: usize| stream(series.seed ^ (patch as u64).wrapping_mul(0x9e37_79b9), 32);
    let mut all: Vec<Change> = (0..truths.laid.len())
        .into_par_iter()
        .map(|patch| {
            let mut rng = rng_of(patch);
            let control = patch == on_white || patch == clear;
            if !control && chance(&mut rng, UNCHANGED) {
                return UNMOVED;
            }
            let course = course(&mut rng);
            for _ in 0..TRIES {
                let target = LARGEST * between(&mut rng, 0.0, 1.0).powf(1.6);
                let way = if control { YELLOWING } else { way(&mut rng) };
                let most = most_of(way, dark);
                let solved = first_reach(|it| delta_e(patch, way.scaled(it)), target, most);
                if let Some(amount) = solved {
                    return Change {
                        course,
                        last: way.scaled(amount),
                        target: Some(target),
                    };
                }
            }
            UNMOVED
        })
        .collect();
    // The same coating lies on both controls; on bare wood the wood below changes too, as far as that stays within what is usual.
    let mut ground = between(&mut rng_of(clear), 0.0, 0.3) * series.substrate.0[1];
    let coating = all[on_white];
    let with = |ground: f64| Wear {
        ground,
        ..coating.last
    };
    while ground > 1e-3 && delta_e(clear, with(ground)) > LARGEST {
        ground /= 2.0;
    }
    all[clear] = Change {
        last: with(ground),
        target: None,
        ..coating
    };
    all
}

const UNMOVED: Change = Change {
    course: Course::None,
    last: Wear {
        fading: 0.0,
        yellowing: 0.0,
        lightening: 0.0,
        ground: 0.0,
    },
    target: Some(0.0),
};

const YELLOWING: Wear = Wear {
    fading: 0.0,
    yellowing: 1.0,
    lightening: 0.0,
    ground: 0.0,
};

fn course(rng: &mut ChaCha8Rng) -> Course {
    match weighted(rng, &[0.3, 0.3, 0.2, 0.2]) {
        0 => Course::Linear,
        1 => Course::Plateau {
            rate: between(rng, 1.5, 6.0),
        },
        2 => Course::Power {
            exponent: between(rng, 0.4, 0.8),
        },
        _ => Course::SlowStart {
            start: between(rng, 0.15, 0.45),
        },
    }
}

/// What mainly happens to a patch: its pigment is lost, its coating yellows, it darkens, it bleaches; a little of the others with it.
fn way(rng: &mut ChaCha8Rng) -> Wear {
    let some = |rng: &mut ChaCha8Rng, most: f64| between(rng, 0.0, most);
    let either = normal(rng, 0.08);
    match weighted(rng, &[0.35, 0.3, 0.2, 0.15]) {
        0 => Wear {
            fading: 1.0,
            yellowing: some(rng, 0.3),
            lightening: either,
            ground: 0.0,
        },
        1 => Wear {
            fading: some(rng, 0.3),
            yellowing: 1.0,
            lightening: either,
            ground: 0.0,
        },
        2 => Wear {
            fading: some(rng, 0.2),
            yellowing: some(rng, 0.5),
            lightening: -1.0,
            ground: 0.0,
        },
        _ => Wear {
            fading: some(rng, 0.5),
            yellowing: some(rng, 0.1),
            lightening: 1.0,
            ground: 0.0,
        },
    }
}

/// How much of a way to change a coat bears beside a drift.
fn most_of(way: Wear, dark: Wear) -> f64 {
    let mut most = 1.1;
    while !way.scaled(most).and(dark).is_possible() {
        most *= 0.97;
    }
    most
}

/// The least amount at which a value reaches the target from below, by steps and then by the secant that keeps both sides (Illinois);
/// none up to `most`.
fn first_reach(value: impl Fn(f64) -> f64, target: f64, most: f64) -> Option<f64> {
    const STEPS: usize = 10;
    let mut low = (0.0, value(0.0) - target);
    let mut high = low;
    for i in 1..=STEPS {
        let amount = most * as_f64(i) / as_f64(STEPS);
        high = (amount, value(amount) - target);
        if high.1 >= 0.0 {
            break;
        }
        low = high;
    }
    if low.1 >= 0.0 || high.1 < 0.0 {
        return None;
    }
    let mut best = high;
    for _ in 0..40 {
        if best.1.abs() < 1e-9 {
            break;
        }
        let amount = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
        let at = (amount, value(amount) - target);
        if at.1 < 0.0 {
            if best.1 < 0.0 {
                high.1 /= 2.0;
            }
            low = at;
        } else {
            if best.1 >= 0.0 {
                low.1 /= 2.0;
            }
            high = at;
        }
        best = at;
    }
    Some(best.0)
}

/// The mask of a patch that changes much lets in a third to two thirds.
fn leak(rng: &mut ChaCha8Rng, series: &Series) -> Option<Leak> {
    let changes = series.delta_e(series.last());
    let largest = changes.iter().copied().fold(0.0, f64::max);
    let worth: Vec<usize> = (0..changes.len())
        .filter(|i| changes[*i] >= WORTH_LEAKING.min(largest))
        .collect();
    let patch = *worth.get(rng.random_range(0..worth.len().max(1)))?;
    Some(Leak {
        patch,
        share: between(rng, 0.33, 0.67),
    })
}
