//! From surfaces to mixings: which coat, which coating, which cups, within the pot life.

use super::limit::Limits;
use super::material::{Coating, Recipe};
use super::ways;
use super::{Add, Need, PlanError, Round, Session, Settings, Surface, balance, weigh};

/// Mixings beyond the fewest that are tried …
const MORE_MIXINGS: usize = 2;
/// … and taken where that saves this share of everything that is mixed (common practice, no source).
const WORTH_A_MIXING: f64 = 0.1;

/// Plans the mixings of all coats.
///
/// # Errors
/// If a surface's coating is not among `coatings`, or a number can't be what it stands for.
pub fn sessions(
    surfaces: &[Surface],
    coatings: &[Coating],
    limits: &Limits,
    settings: &Settings,
) -> Result<Vec<Round>, PlanError> {
    settings.check()?;
    if surfaces.is_empty() {
        return Err(PlanError::Nothing);
    }
    surfaces.iter().try_for_each(check)?;
    let mut rounds = Vec::new();
    let mut names: Vec<&str> = Vec::new();
    for it in surfaces {
        if !names.contains(&it.recipe.coating.as_str()) {
            names.push(&it.recipe.coating);
        }
    }
    for name in names {
        let coating =
            coatings
                .iter()
                .find(|it| it.name == name)
                .ok_or_else(|| PlanError::NoRatio {
                    coating: name.to_owned(),
                })?;
        let mine: Vec<&Surface> = surfaces
            .iter()
            .filter(|it| it.recipe.coating == name)
            .collect();
        rounds.extend(rounds_of(&mine, coating, limits, settings));
    }
    Ok(rounds)
}

pub(super) fn check(surface: &Surface) -> Result<(), PlanError> {
    let numbers = [
        ("area in m²", surface.area_m2, 1e6),
        ("wet coating in g/m²", surface.wet_g_per_m2, 1e5),
        ("number of coats", f64::from(surface.coats), 100.0),
    ];
    let loads = surface.recipe.loads.iter().map(|it| ("load", it.load, 1e3));
    for (what, value, most) in numbers.into_iter().chain(loads) {
        if !(value.is_finite() && 0.0 < value && value <= most) {
            return Err(PlanError::Number {
                what: format!("{}: the {what}", surface.id),
                value,
                must: format!("above 0 and at most {most}"),
            });
        }
    }
    Ok(())
}

/// A coating that has to be mixed is mixed anew for each coat, for the surfaces that get that coat.
fn rounds_of(
    surfaces: &[&Surface],
    coating: &Coating,
    limits: &Limits,
    settings: &Settings,
) -> Vec<Round> {
    let keeps = !coating.is_mixed() && coating.pot_life_min.is_none();
    let most = surfaces.iter().map(|it| it.coats).max().unwrap_or(1);
    if keeps {
        let all: Vec<(&Surface, f64)> = surfaces.iter().map(|it| (*it, it.wet_g())).collect();
        let sessions = mixings(&all, coating, limits, settings);
        return vec![Round {
            first_coat: 1,
            last_coat: most,
            at_once: true,
            sessions,
        }];
    }
    let mut ends: Vec<u32> = surfaces.iter().map(|it| it.coats).collect();
    ends.sort_unstable();
    ends.dedup();
    let mut first_coat = 1;
    let mut rounds = Vec::new();
    for last_coat in ends {
        let coated: Vec<(&Surface, f64)> = surfaces
            .iter()
            .filter(|it| it.coats >= last_coat)
            .map(|it| (*it, it.wet_g() / f64::from(it.coats)))
            .collect();
        let sessions = mixings(&coated, coating, limits, settings);
        rounds.push(Round {
            first_coat,
            last_coat,
            at_once: false,
            sessions,
        });
        first_coat = last_coat + 1;
    }
    rounds
}

fn mixings(
    surfaces: &[(&Surface, f64)],
    coating: &Coating,
    limits: &Limits,
    settings: &Settings,
) -> Vec<Session> {
    let needs = by_family(needs(surfaces, settings));
    let most = most_cups(&needs, coating, settings);
    let fewest = needs.len().div_ceil(most);
    let split = |count| in_mixings(needs.clone(), count, most, coating, limits, settings);
    let mut best = split(fewest);
    // Cups that are only poured from take time, too: with one mixing more there may be time for them.
    for count in fewest + 1..=needs.len().min(fewest + MORE_MIXINGS) {
        if best.iter().all(|it| it.no_time_for.is_empty()) {
            break;
        }
        let other = split(count);
        if mixed_g(&other) < mixed_g(&best) * (1.0 - WORTH_A_MIXING) {
            best = other;
        }
    }
    best
}

/// The most cups that can be filled and used up while one mixing lasts; at least one.
fn most_cups(needs: &[Need], coating: &Coating, settings: &Settings) -> usize {
    let Some(pot_life) = coating.pot_life_min else {
        return usize::MAX;
    };
    let in_time = pot_life * settings.worked_share / settings.minutes_per_cup;
    // No more cups than these can be asked for: one for each need, and one to pour from for each pigment.
    let all = needs.len() + needs.iter().map(|it| it.recipe.loads.len()).sum::<usize>();
    (1..=all)
        .rev()
        .find(|it| few(*it) <= in_time * (1.0 + 1e-9))
        .unwrap_or(1)
}

/// So many mixings, one after the other, each of at most `most` cups.
fn in_mixings(
    needs: Vec<Need>,
    count: usize,
    most: usize,
    coating: &Coating,
    limits: &Limits,
    settings: &Settings,
) -> Vec<Session> {
    let mut rest = needs;
    let mut left = count;
    let mut sessions = Vec::new();
    while !rest.is_empty() {
        let later = rest.split_off(cut(&rest, left, most));
        sessions.push(mixing(rest, most, coating, limits, settings));
        rest = later;
        left -= 1;
    }
    sessions
}

/// Everything that is weighed out for these mixings, g.
fn mixed_g(sessions: &[Session]) -> f64 {
    let adds = sessions
        .iter()
        .flat_map(|it| &it.cups)
        .flat_map(|it| &it.adds);
    let pigments = adds.map(|it| match it {
        Add::Pigment { grams, .. } => *grams,
        _ => 0.0,
    });
    let parts = sessions.iter().flat_map(|it| &it.parts).map(|it| it.grams);
    pigments.chain(parts).sum()
}

/// How many of the cups go into the first of `left` mixings of at most `most` cups: where few that could be poured from it are
/// left for later ones, and about as many as in those.
fn cut(needs: &[Need], left: usize, most: usize) -> usize {
    let least = needs
        .len()
        .saturating_sub((left - 1).saturating_mul(most))
        .max(1);
    let even = needs.len().div_ceil(left);
    let parted = |at: usize| {
        let (now, later) = needs.split_at(at);
        let pigments = |need: &Need| -> Vec<String> {
            need.recipe
                .loads
                .iter()
                .map(|it| it.pigment.pigment.clone())
                .collect()
        };
        let stocks: Vec<String> = now
            .iter()
            .map(pigments)
            .filter(|it| it.len() == 1)
            .flatten()
            .collect();
        later
            .iter()
            .filter(|it| pigments(it).iter().any(|it| stocks.contains(it)))
            .count()
    };
    // Each of the later ones gets at least one cup.
    let largest = most.min(needs.len() - (left - 1).min(needs.len() - 1));
    (least..=largest)
        .min_by_key(|at| (parted(*at), at.abs_diff(even)))
        .unwrap_or(needs.len())
}

/// A number of cups as a float.
pub(super) fn few(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}

/// What each recipe takes, recipes in the order of their first surface.
fn needs(surfaces: &[(&Surface, f64)], settings: &Settings) -> Vec<Need> {
    let mut needs: Vec<Need> = Vec::new();
    for (surface, wet_g) in surfaces {
        let wet_g = wet_g * (1.0 + settings.overage);
        match needs
            .iter_mut()
            .find(|it| same(&it.recipe, &surface.recipe))
        {
            Some(need) => {
                need.wet_g += wet_g;
                need.patches.push(surface.id.clone());
            }
            None => needs.push(Need {
                recipe: surface.recipe.clone(),
                wet_g,
                patches: vec![surface.id.clone()],
            }),
        }
    }
    needs
}

fn same(one: &Recipe, other: &Recipe) -> bool {
    one.loads.len() == other.loads.len()
        && one.loads.iter().all(|it| {
            other
                .load_of(&it.pigment)
                .is_some_and(|load| (load - it.load).abs() < 1e-9)
        })
}

/// Cups of one pigment one after the other, the strongest first; mixtures where all of their pigments have been; clear last.
/// So a mixing that is split by the pot life keeps together what is poured from one cup.
fn by_family(needs: Vec<Need>) -> Vec<Need> {
    let (clear, tinted): (Vec<Need>, Vec<Need>) =
        needs.into_iter().partition(|it| it.recipe.loads.is_empty());
    let (mut single, mut mixed): (Vec<Need>, Vec<Need>) = tinted
        .into_iter()
        .partition(|it| it.recipe.loads.len() == 1);
    let mut all: Vec<Need> = Vec::new();
    while !single.is_empty() {
        let pigment = single[0].recipe.loads[0].pigment.clone();
        let (mut family, others): (Vec<Need>, Vec<Need>) = single
            .into_iter()
            .partition(|it| it.recipe.loads[0].pigment == pigment);
        family.sort_by(|a, b| b.recipe.total_load().total_cmp(&a.recipe.total_load()));
        all.append(&mut family);
        single = others;
        let is_ready = |it: &Need| {
            it.recipe.loads.iter().all(|load| {
                let there = |done: &Need| {
                    done.recipe
                        .loads
                        .iter()
                        .any(|it| it.pigment.pigment == load.pigment.pigment)
                };
                all.iter().any(there)
            })
        };
        let (mut ready, waiting): (Vec<Need>, Vec<Need>) = mixed.into_iter().partition(is_ready);
        all.append(&mut ready);
        mixed = waiting;
    }
    all.extend(mixed);
    all.extend(clear);
    all
}

/// One mixing.
fn mixing(
    needs: Vec<Need>,
    most: usize,
    coating: &Coating,
    limits: &Limits,
    settings: &Settings,
) -> Session {
    let ways::Chosen {
        needs,
        ways,
        no_time_for,
    } = ways::choose(needs, most, settings);
    let cups = weigh::cups(&needs, &ways, limits, settings);
    let clear = cups.iter().flat_map(|it| &it.adds).map(|it| match it {
        Add::Coating { grams } => *grams,
        _ => 0.0,
    });
    let taken_g = balance::tidy(clear.sum());
    let stays = if coating.is_mixed() {
        settings.cling_g
    } else {
        0.0
    };
    let parts = weigh::parts(coating, taken_g + stays, &settings.balance);
    let whole: f64 = parts.iter().map(|it| it.grams).sum();
    let off = coating
        .parts
        .iter()
        .zip(&parts)
        .map(|(part, it)| (it.grams / whole / part.share - 1.0).abs());
    Session {
        coating: coating.name.clone(),
        taken_g,
        left_g: balance::tidy(whole - taken_g),
        ratio_off: off.fold(0.0, f64::max),
        minutes: few(cups.len()) * settings.minutes_per_cup,
        pot_life_min: coating.pot_life_min,
        order: filling_order(&cups),
        no_time_for,
        parts,
        cups,
    }
}

/// Cups that nothing is poured into first, then each after those that it is poured from; by number among equals.
fn filling_order(cups: &[super::Cup]) -> Vec<usize> {
    let mut order: Vec<usize> = Vec::new();
    while order.len() < cups.len() {
        let ready = |it: &&super::Cup| {
            !order.contains(&it.number)
                && it.adds.iter().all(|add| match add {
                    Add::Cup { from, .. } => order.contains(from),
                    _ => true,
                })
        };
        let round: Vec<usize> = cups.iter().filter(ready).map(|it| it.number).collect();
        if round.is_empty() {
            break;
        }
        order.extend(round);
    }
    order
}
