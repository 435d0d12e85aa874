//! How each cup is made: pigment weighed into it dry, or poured from a stronger cup and let down with clear coating.
//!
//! Takes what the cups of one mixing are for; gives a [`Way`] for each and how much coating it takes, before any rounding.
//! The strongest cup of a pigment (or of pigments in one proportion) is its *stock*. Whatever way is taken, no
//! weighing is below the least weighable amount: the cup is made larger than needed instead, and what is mixed beyond the
//! need is the waste that decides between ways. Where two waste the same, the one with fewer weighings of dry pigment is
//! taken: dust is handled once, and a larger amount is weighed more exactly.

use super::material::{Load, Recipe};
use super::mixing::{coating_in, wet_of};
use super::{Need, Settings};

/// Shares of coating this near to 0 are 0.
const NOTHING: f64 = 1e-9;
/// Sweeps over all cups; few are needed, and the best so far is kept.
const SWEEPS: usize = 12;
/// Pigments in a mixture up to which every choice of stocks is tried.
const FEW_PIGMENTS: usize = 4;

/// The load of a cup that is only poured from, unless a patch has a higher one: still easily stirred (common practice, no source).
const STOCK_LOAD: f64 = 12.0;

/// How a cup is made.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Way {
    /// Which of the recipe's pigments are weighed dry.
    pub(super) dry: Vec<usize>,
    /// Which cups are poured from.
    pub(super) draws: Vec<Draw>,
}

/// A part of a cup that comes from another.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Draw {
    /// The other cup.
    pub(super) from: usize,
    /// How much of this cup's coating comes along, 0–1, as the other's loads are meant.
    pub(super) share: f64,
}

/// A way for each cup.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Ways {
    pub(super) ways: Vec<Way>,
    /// Cups in an order in which each comes after those that it is poured from.
    pub(super) order: Vec<usize>,
}

impl Way {
    fn dry(recipe: &Recipe) -> Self {
        Self {
            dry: (0..recipe.loads.len()).collect(),
            draws: Vec::new(),
        }
    }

    /// The share of clear coating that is added.
    pub(super) fn clear(&self) -> f64 {
        let drawn: f64 = self.draws.iter().map(|it| it.share).sum();
        if drawn > 1.0 - NOTHING {
            0.0
        } else {
            1.0 - drawn
        }
    }

    /// The least coating of a cup with this way, so that each weighing can be trusted.
    fn least(&self, needs: &[Need], cup: usize, settings: &Settings) -> f64 {
        let least = settings.balance.least_g();
        let recipe = &needs[cup].recipe;
        let dry = self
            .dry
            .iter()
            .map(|it| 100.0 * least / recipe.loads[*it].load);
        let draws = self
            .draws
            .iter()
            .map(|it| least / wet_of(it.share, needs[it.from].recipe.total_load()));
        let clear = Some(self.clear())
            .filter(|it| *it > 0.0)
            .map(|it| least / it);
        dry.chain(draws).chain(clear).fold(0.0, f64::max)
    }
}

impl Ways {
    /// Everything dry: always possible.
    pub(super) fn all_dry(needs: &[Need]) -> Self {
        Self {
            ways: needs.iter().map(|it| Way::dry(&it.recipe)).collect(),
            order: (0..needs.len()).collect(),
        }
    }

    /// Mixed coating that each cup takes, with what is poured from it, g.
    pub(super) fn coating(&self, needs: &[Need], settings: &Settings) -> Vec<f64> {
        let mut coating: Vec<f64> = needs
            .iter()
            .map(|it| coating_in(it.wet_g, it.recipe.total_load()))
            .collect();
        // Those poured from come last, so that all draws are known.
        for &cup in self.order.iter().rev() {
            let way = &self.ways[cup];
            let in_cup = coating_in(settings.least_cup_g, needs[cup].recipe.total_load());
            coating[cup] = coating[cup]
                .max(in_cup)
                .max(way.least(needs, cup, settings));
            for draw in &way.draws {
                coating[draw.from] += coating[cup] * draw.share;
            }
        }
        coating
    }

    /// Everything that is mixed, g.
    pub(super) fn mixed_g(&self, needs: &[Need], settings: &Settings) -> f64 {
        let coating = self.coating(needs, settings);
        let cups = self.ways.iter().zip(needs).zip(coating);
        cups.map(|((way, need), coating)| {
            let dry: f64 = way
                .dry
                .iter()
                .map(|it| need.recipe.loads[*it].load / 100.0)
                .sum();
            coating * (way.clear() + dry)
        })
        .sum()
    }
}

/// The cups of a mixing with the ways that waste least.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Chosen {
    /// What the cups are for: as asked, then those that are only poured from.
    pub(super) needs: Vec<Need>,
    /// How each is made.
    pub(super) ways: Ways,
    /// Pigments for which a cup to pour from would waste less, but is one more than there is time for.
    pub(super) no_time_for: Vec<String>,
}

/// The ways that waste least, with a cup more where one that is only poured from saves more than stays on its walls, and there
/// are at most `most` cups in all: each takes its time, and all are used up while the coating lasts.
pub(super) fn choose(needs: Vec<Need>, most: usize, settings: &Settings) -> Chosen {
    let (mut best, mut waste) = ways(&needs, settings);
    let mut needs = needs;
    let mut no_time_for = Vec::new();
    for extra in stocks_to_try(&needs) {
        let pigment = extra.recipe.loads[0].pigment.to_string();
        let mut more = needs.clone();
        more.push(extra);
        let (other, its) = ways(&more, settings);
        if its.mixed_g >= waste.mixed_g - settings.cling_g {
            continue;
        }
        if more.len() > most {
            no_time_for.push(pigment);
        } else {
            (needs, best, waste) = (more, other, its);
        }
    }
    Chosen {
        needs,
        ways: best,
        no_time_for,
    }
}

/// Cups that no surface needs, one for each pigment that has no cup of its own that is as strong.
fn stocks_to_try(needs: &[Need]) -> Vec<Need> {
    let mut extra: Vec<Need> = Vec::new();
    for need in needs {
        for it in &need.recipe.loads {
            let same = |other: &&Load| other.pigment == it.pigment;
            let loads = || {
                needs
                    .iter()
                    .filter(|it| it.recipe.coating == need.recipe.coating)
            };
            let strongest = loads()
                .flat_map(|it| &it.recipe.loads)
                .filter(same)
                .map(|it| it.load);
            let load = strongest.fold(STOCK_LOAD, f64::max);
            let alone = |need: &Need| {
                need.recipe.loads.len() == 1 && need.recipe.loads[0].pigment == it.pigment
            };
            let there = loads().any(|it| alone(it) && it.recipe.total_load() >= load);
            if there || extra.iter().any(alone) {
                continue;
            }
            extra.push(Need {
                recipe: Recipe {
                    coating: need.recipe.coating.clone(),
                    loads: vec![Load {
                        pigment: it.pigment.clone(),
                        load,
                    }],
                },
                wet_g: 0.0,
                patches: Vec::new(),
            });
        }
    }
    extra
}

/// The ways that waste least for these cups.
fn ways(needs: &[Need], settings: &Settings) -> (Ways, Waste) {
    let ranks = ranks(needs);
    let mut order: Vec<usize> = (0..needs.len()).collect();
    order.sort_by_key(|it| ranks[*it]);
    let dry = Ways {
        order,
        ..Ways::all_dry(needs)
    };
    let candidates: Vec<Vec<Way>> = (0..needs.len())
        .map(|it| candidates(needs, &ranks, it))
        .collect();
    let mut poured = dry.clone();
    for (way, candidates) in poured.ways.iter_mut().zip(&candidates) {
        *way = candidates
            .last()
            .expect("dry is always a candidate")
            .clone();
    }
    let [from_dry, from_poured] = [dry, poured].map(|it| improve(it, &candidates, needs, settings));
    if from_poured.1.is_less(&from_dry.1, settings) {
        from_poured
    } else {
        from_dry
    }
}

/// Changes one cup at a time as long as that helps.
fn improve(
    mut ways: Ways,
    candidates: &[Vec<Way>],
    needs: &[Need],
    settings: &Settings,
) -> (Ways, Waste) {
    let mut best = Waste::of(&ways, needs, settings);
    for _ in 0..SWEEPS {
        let mut improved = false;
        // Where there is only one way there is nothing to choose.
        for (cup, candidates) in candidates.iter().enumerate().filter(|it| it.1.len() > 1) {
            for way in candidates {
                if ways.ways[cup] == *way {
                    continue;
                }
                let before = std::mem::replace(&mut ways.ways[cup], way.clone());
                let other = Waste::of(&ways, needs, settings);
                if other.is_less(&best, settings) {
                    best = other;
                    improved = true;
                } else {
                    ways.ways[cup] = before;
                }
            }
        }
        if !improved {
            break;
        }
    }
    (ways, best)
}

/// What decides between ways.
#[derive(Clone, Copy, Debug)]
struct Waste {
    /// Everything that is mixed, g.
    mixed_g: f64,
    /// Weighings of dry pigment.
    dry: usize,
}

impl Waste {
    fn of(ways: &Ways, needs: &[Need], settings: &Settings) -> Self {
        Self {
            mixed_g: ways.mixed_g(needs, settings),
            dry: ways.ways.iter().map(|it| it.dry.len()).sum(),
        }
    }

    /// Less is mixed; or as much, with fewer weighings of dry pigment.
    fn is_less(&self, other: &Self, settings: &Settings) -> bool {
        let half_step = settings.balance.step_g() / 2.0;
        let saved = other.mixed_g - self.mixed_g;
        saved > half_step || (saved.abs() <= half_step && self.dry < other.dry)
    }
}

/// 0: the stock of one pigment. 1: that of pigments in one proportion. 2: everything else. A cup is poured from lower ranks.
fn ranks(needs: &[Need]) -> Vec<u8> {
    let is_stock = |cup: usize| {
        let mine = &needs[cup].recipe;
        let stronger = |(index, it): (usize, &Need)| {
            let (load, my_load) = (it.recipe.total_load(), mine.total_load());
            mine.is_letdown_of(&it.recipe) && (load > my_load || (load >= my_load && index < cup))
        };
        !needs
            .iter()
            .enumerate()
            .any(|it| it.0 != cup && stronger(it))
    };
    let rank = |cup: usize| match needs[cup].recipe.loads.len() {
        0 => 2,
        1 if is_stock(cup) => 0,
        2.. if is_stock(cup) => 1,
        _ => 2,
    };
    (0..needs.len()).map(rank).collect()
}

/// The ways that a cup can be made: dry first, most poured last.
fn candidates(needs: &[Need], ranks: &[u8], cup: usize) -> Vec<Way> {
    let recipe = &needs[cup].recipe;
    let mut ways = vec![Way::dry(recipe)];
    if ranks[cup] == 0 || recipe.loads.is_empty() {
        return ways;
    }
    let stock_of = |load: usize| -> Option<Draw> {
        let load = &recipe.loads[load];
        let stocks = (0..needs.len()).filter(|it| {
            ranks[*it] == 0 && *it != cup && needs[*it].recipe.coating == recipe.coating
        });
        let all: Vec<usize> = stocks
            .filter(|it| {
                let there = &needs[*it].recipe.loads[0].pigment;
                there.pigment == load.pigment.pigment
                    && (load.pigment.lot.is_none() || there.lot == load.pigment.lot)
            })
            .collect();
        // Of several lots none is meant.
        let [from] = all[..] else { return None };
        Some(Draw {
            from,
            share: load.load / needs[from].recipe.loads[0].load,
        })
    };
    if recipe.loads.len() > 1 {
        let stocks: Vec<Option<Draw>> = (0..recipe.loads.len()).map(stock_of).collect();
        for chosen in subsets(recipe.loads.len()) {
            let draws: Option<Vec<Draw>> = chosen.iter().map(|it| stocks[*it].clone()).collect();
            let dry = (0..recipe.loads.len())
                .filter(|it| !chosen.contains(it))
                .collect();
            ways.extend(draws.map(|draws| Way { dry, draws }).filter(can_be));
        }
    }
    let own_stock = (0..needs.len()).find(|it| {
        ranks[*it] < ranks[cup] && *it != cup && recipe.is_letdown_of(&needs[*it].recipe)
    });
    let letdown = own_stock.map(|from| Way {
        dry: Vec::new(),
        draws: vec![Draw {
            from,
            share: recipe.total_load() / needs[from].recipe.total_load(),
        }],
    });
    ways.extend(letdown.filter(can_be));
    ways
}

/// Stocks bring coating along: together not more than the cup is to have.
fn can_be(way: &Way) -> bool {
    way.draws.iter().map(|it| it.share).sum::<f64>() <= 1.0 + NOTHING
}

/// Sets of some of `n` things, small ones first; with many things only all of them.
fn subsets(n: usize) -> Vec<Vec<usize>> {
    if n > FEW_PIGMENTS {
        return vec![(0..n).collect()];
    }
    let mut sets: Vec<Vec<usize>> = (1_u32..1 << n)
        .map(|bits| (0..n).filter(|it| bits >> it & 1 == 1).collect())
        .collect();
    sets.sort_by_key(Vec::len);
    sets
}
