//! Real weights: what the balance can show, and what that does to the loads.
//!
//! Takes cups with their ways; gives every weighing in whole steps of the balance, and the loads that they come to. The
//! smallest weighing of a cup is set first, then the others are made to fit it, so that rounding does least to the loads. A
//! load that was within the tested limits stays within them: more coating is taken where rounding would lead beyond.

use super::balance::{Balance, tidy};
use super::limit::Limits;
use super::material::{Coating, Load, PigmentName, Recipe};
use super::mixing::Content;
use super::ways::{Way, Ways};
use super::{Add, Cup, CupLoad, Need, Settings, Weighing};
use std::collections::BTreeMap;

/// Rounds of making stocks larger until what is poured from them is there. Two are usual.
const TRIES: usize = 40;

/// Lowest and highest load of each pigment, each weighing off by half a step.
type Spans = BTreeMap<PigmentName, [f64; 2]>;

/// A cup that was weighed.
#[derive(Clone, Debug)]
struct Weighed {
    adds: Vec<Add>,
    content: Content,
    spans: Spans,
}

/// Weighs out the cups; how they are made may be changed to the one way that never fails.
pub(super) fn cups(needs: &[Need], ways: &Ways, limits: &Limits, settings: &Settings) -> Vec<Cup> {
    let weighed = try_ways(needs, ways, limits, settings);
    let weighed = weighed.or_else(|| try_ways(needs, &Ways::all_dry(needs), limits, settings));
    let weighed = weighed.expect("cups that nothing is poured from are always large enough");
    let mut poured = vec![0.0; needs.len()];
    for add in weighed.iter().flat_map(|it| &it.adds) {
        if let Add::Cup { from, grams } = add {
            poured[*from - 1] += grams;
        }
    }
    let all = needs.iter().zip(weighed).zip(poured).enumerate();
    all.map(|(index, ((need, weighed), poured))| cup(index, need, weighed, poured, limits))
        .collect()
}

fn cup(index: usize, need: &Need, weighed: Weighed, poured_g: f64, limits: &Limits) -> Cup {
    let Weighed {
        adds,
        content,
        spans,
    } = weighed;
    let loads = need.recipe.loads.iter().map(|it| {
        let [low, high] = spans.get(&it.pigment).copied().unwrap_or([it.load; 2]);
        CupLoad {
            pigment: it.pigment.clone(),
            wanted: it.load,
            weighed: content.load(&it.pigment),
            low,
            high,
        }
    });
    Cup {
        number: index + 1,
        recipe: need.recipe.clone(),
        patches: need.patches.clone(),
        adds,
        loads: loads.collect(),
        coating_g: content.coating_g,
        wet_g: content.wet_g(),
        poured_g: tidy(poured_g),
        needed_g: need.wet_g,
        spare_g: content.wet_g() - poured_g - need.wet_g,
        standing: limits.standing(&as_weighed(&need.recipe, &content)),
    }
}

/// All cups by these ways; none if a stock can't be made large enough for what is poured from it.
fn try_ways(
    needs: &[Need],
    ways: &Ways,
    limits: &Limits,
    settings: &Settings,
) -> Option<Vec<Weighed>> {
    let mut coating = ways.coating(needs, settings);
    for _ in 0..TRIES {
        let mut done: Vec<Option<Weighed>> = vec![None; needs.len()];
        for &cup in &ways.order {
            let it = weigh(
                needs,
                cup,
                &ways.ways[cup],
                coating[cup],
                &done,
                limits,
                settings,
            );
            done[cup] = Some(it);
        }
        let done: Vec<Weighed> = done.into_iter().flatten().collect();
        let mut short = false;
        for (cup, need) in needs.iter().enumerate() {
            let poured = |it: &Weighed| -> f64 {
                it.adds
                    .iter()
                    .map(|add| match add {
                        Add::Cup { from, grams } if *from == cup + 1 => *grams,
                        _ => 0.0,
                    })
                    .sum()
            };
            let missing =
                need.wet_g + done.iter().map(poured).sum::<f64>() - done[cup].content.wet_g();
            if missing > 1e-9 {
                coating[cup] += missing + settings.balance.step_g();
                short = true;
            }
        }
        if !short {
            return Some(done);
        }
    }
    None
}

/// One cup with at least this much coating.
fn weigh(
    needs: &[Need],
    cup: usize,
    way: &Way,
    coating_g: f64,
    done: &[Option<Weighed>],
    limits: &Limits,
    settings: &Settings,
) -> Weighed {
    let balance = &settings.balance;
    let recipe = &needs[cup].recipe;
    let source = |from: usize| {
        done[from]
            .as_ref()
            .expect("cups come after those that they are poured from")
    };
    // Grams of each for one gram of coating.
    let dry = way.dry.iter().map(|it| recipe.loads[*it].load / 100.0);
    let draws = way.draws.iter().map(|draw| {
        let from = &source(draw.from).content;
        let brought: f64 = from.pigments_g.values().sum();
        let wanted: f64 = recipe
            .loads
            .iter()
            .filter(|it| brings(from, it))
            .map(|it| it.load)
            .sum();
        wanted / 100.0 * from.wet_g() / brought
    });
    let each: Vec<f64> = dry.chain(draws).collect();
    let smallest = each.iter().copied().fold(f64::INFINITY, f64::min);
    let coating_g = if each.is_empty() {
        coating_g
    } else {
        balance.up(coating_g * smallest).max(balance.least_g()) / smallest
    };
    let mut adds = Vec::new();
    for (load, per_g) in way.dry.iter().zip(&each) {
        let pigment = recipe.loads[*load].pigment.clone();
        adds.push(Add::Pigment {
            pigment,
            grams: balance.nearest(per_g * coating_g),
        });
    }
    for (draw, per_g) in way.draws.iter().zip(&each[way.dry.len()..]) {
        adds.push(Add::Cup {
            from: draw.from + 1,
            grams: balance.nearest(per_g * coating_g),
        });
    }
    let mut content = Content::default();
    for add in &adds {
        match add {
            Add::Pigment { pigment, grams } => {
                content.add_pigment(&lot_of(pigment, recipe), *grams)
            }
            Add::Cup { from, grams } => {
                pour_named(&mut content, &source(*from - 1).content, *grams, recipe)
            }
            Add::Coating { .. } => {}
        }
    }
    let brought = content.coating_g;
    let mut clear = if way.clear() > 0.0 {
        balance.up(coating_g - brought).max(balance.least_g())
    } else {
        0.0
    };
    content.coating_g = brought + clear;
    while !limits.allow(recipe, &as_weighed(recipe, &content)) {
        clear = balance
            .up((clear + content.coating_g / 1000.0).max(clear + balance.step_g()))
            .max(balance.least_g());
        content.coating_g = brought + clear;
    }
    if clear > 0.0 {
        adds.push(Add::Coating { grams: clear });
    }
    let spans = spans(recipe, &adds, &content, done, balance);
    Weighed {
        adds,
        content,
        spans,
    }
}

/// Whether a cup brings this pigment.
fn brings(from: &Content, load: &Load) -> bool {
    from.pigments_g
        .keys()
        .any(|it| it.pigment == load.pigment.pigment)
}

/// The name under which a recipe knows a pigment: a mixture without lots takes the lot that there is.
fn lot_of(pigment: &PigmentName, recipe: &Recipe) -> PigmentName {
    let same = recipe
        .loads
        .iter()
        .find(|it| it.pigment.pigment == pigment.pigment);
    same.map_or_else(|| pigment.clone(), |it| it.pigment.clone())
}

fn pour_named(content: &mut Content, from: &Content, grams: f64, recipe: &Recipe) {
    let pigments = from
        .pigments_g
        .iter()
        .map(|(pigment, grams)| (lot_of(pigment, recipe), *grams));
    let named = Content {
        coating_g: from.coating_g,
        pigments_g: pigments.collect(),
    };
    content.pour(&named, grams);
}

/// The recipe with the loads that were weighed.
fn as_weighed(recipe: &Recipe, content: &Content) -> Recipe {
    let loads = recipe.loads.iter().map(|it| Load {
        pigment: it.pigment.clone(),
        load: content.load(&it.pigment),
    });
    Recipe {
        coating: recipe.coating.clone(),
        loads: loads.collect(),
    }
}

/// How far each load can be off when each weighing is off by half a step in the worst direction.
fn spans(
    recipe: &Recipe,
    adds: &[Add],
    content: &Content,
    done: &[Option<Weighed>],
    balance: &Balance,
) -> Spans {
    let half = balance.step_g() / 2.0;
    let extreme = |pigment: &PigmentName, sign: f64| -> f64 {
        let (mut top, mut coating) = (0.0, 0.0);
        let mine = content.load(pigment);
        for add in adds {
            match add {
                Add::Pigment { pigment: it, grams } => {
                    if it.pigment == pigment.pigment {
                        top += grams + sign * half;
                    }
                }
                Add::Coating { grams } => coating += grams - sign * half,
                Add::Cup { from, grams } => {
                    let Some(source) = &done[*from - 1] else {
                        continue;
                    };
                    let side = usize::from(sign > 0.0);
                    let loads = source.spans.iter();
                    let loads: Vec<(bool, f64)> = loads
                        .map(|(it, span)| (it.pigment == pigment.pigment, span[side]))
                        .collect();
                    let all: f64 = loads.iter().map(|it| it.1).sum();
                    let its: f64 = loads.iter().filter(|it| it.0).map(|it| it.1).sum();
                    let grams = grams
                        + if its >= mine {
                            sign * half
                        } else {
                            -sign * half
                        };
                    top += grams * its / (100.0 + all);
                    coating += grams * 100.0 / (100.0 + all);
                }
            }
        }
        if coating > 0.0 {
            100.0 * top / coating
        } else {
            mine
        }
    };
    let loads = recipe.loads.iter();
    loads
        .map(|it| {
            (
                it.pigment.clone(),
                [extreme(&it.pigment, -1.0), extreme(&it.pigment, 1.0)],
            )
        })
        .collect()
}

/// The parts for at least this much mixed coating: the smallest first, the others in its ratio.
pub(super) fn parts(coating: &Coating, grams: f64, balance: &Balance) -> Vec<Weighing> {
    let smallest = coating.parts.iter().map(|it| it.share).fold(1.0, f64::min);
    let whole = balance.up(grams * smallest).max(balance.least_g()) / smallest;
    let mut all: Vec<Weighing> = coating
        .parts
        .iter()
        .map(|it| Weighing {
            what: it.name.clone(),
            grams: balance.nearest(whole * it.share),
        })
        .collect();
    let sum: f64 = all.iter().map(|it| it.grams).sum();
    // Half a step that the others were rounded down by is made up for where it does least to the ratio.
    if let Some(largest) = all.iter_mut().max_by(|a, b| a.grams.total_cmp(&b.grams))
        && sum < grams - 1e-9
    {
        largest.grams = balance.up(largest.grams + grams - sum);
    }
    all
}
