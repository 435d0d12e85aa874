//! What predictions are wanted of, and what may be tried.

use super::{BLACK, Kind, Proposal, WHITE, Wish};
use crate::colour::Lab;
use crate::colour::difference::delta_e_2000;
use crate::mix::model::{Coat, Ground, Known, Model};
use crate::mix::trial::Load;

/// A pigment with its range.
#[derive(Clone, Debug)]
pub(super) struct Range {
    pub(super) pigment: String,
    pub(super) most: f64,
}

/// All pigments that may be used.
#[derive(Clone, Debug)]
pub(super) struct Ranges {
    pub(super) all: Vec<Range>,
}

/// A trial that may be made.
#[derive(Clone, Debug)]
pub(super) struct Tried {
    pub(super) coat: Coat,
    pub(super) kind: Kind,
    pub(super) why: String,
}

/// Loads of a pigment alone, as shares of its highest.
const ALONE: [f64; 4] = [1.0, 0.5, 0.25, 0.1];
/// Shares of two pigments' highest loads in a mixture.
const PAIRS: [[f64; 2]; 3] = [[0.3, 0.3], [0.6, 0.15], [0.15, 0.6]];
/// The same where colours near a target are sought.
const FINE: [f64; 6] = [0.03, 0.08, 0.18, 0.35, 0.6, 0.9];
/// Pairs at most: beyond, each pigment is paired with its nearest neighbours in the list only.
const MOST_PAIRS: usize = 60;
/// Colours near a target.
const NEAREST: usize = 16;
/// A load within this share of a measured one is measured.
const SAME: f64 = 0.15;
/// Internal reflectance of a black and of a white primer under clear coating: what they usually are, no source.
const PRIMERS: [(&str, f64); 2] = [(BLACK, 0.05), (WHITE, 0.9)];

impl Ranges {
    pub(super) fn of(wish: &Wish<'_>) -> Self {
        let known = |it: &(&String, &f64)| wish.model.pigment(it.0).is_some() && *it.1 > 0.0;
        let ranges = wish.most.iter().filter(known).map(|(pigment, most)| Range {
            pigment: pigment.clone(),
            most: *most,
        });
        Self {
            all: ranges.collect(),
        }
    }

    /// Pairs, near ones in the list first; all of them where they are few.
    fn pairs(&self) -> Vec<(&Range, &Range)> {
        let n = self.all.len();
        let mut pairs = Vec::new();
        for apart in 1..n {
            for one in 0..n - apart {
                if pairs.len() == MOST_PAIRS {
                    return pairs;
                }
                pairs.push((&self.all[one], &self.all[one + apart]));
            }
        }
        pairs
    }
}

/// Loads short enough to be weighed and read: two digits.
fn rounded(load: f64) -> f64 {
    if load <= 0.0 {
        return 0.0;
    }
    let unit = 10.0_f64.powf(load.log10().floor() - 1.0);
    // From the text, so that nothing is left of the division.
    let rounded = (load / unit).floor() * unit;
    format!("{rounded:.6}").parse().unwrap_or(load)
}

fn coat(wish: &Wish<'_>, loads: &[(&Range, f64)], ground: &str) -> Coat {
    Coat {
        pigments: (loads.iter())
            .map(|(range, share)| Load {
                pigment: range.pigment.clone(),
                load: rounded(range.most * share),
            })
            .collect(),
        g_per_m2: wish.g_per_m2,
        ground: ground.to_owned(),
    }
}

/// The coats whose prediction matters: every pigment alone from pale to full and mixtures of two, or those that come nearest to the target.
pub(super) fn interests(wish: &Wish<'_>, ranges: &Ranges) -> Vec<Coat> {
    let alone: &[f64] = if wish.target.is_some() { &FINE } else { &ALONE };
    let mut all = Vec::new();
    for range in &ranges.all {
        all.extend(
            alone
                .iter()
                .map(|it| coat(wish, &[(range, *it)], &wish.ground)),
        );
    }
    for (one, other) in ranges.pairs() {
        let mut pair = |a: f64, b: f64| all.push(coat(wish, &[(one, a), (other, b)], &wish.ground));
        if wish.target.is_none() {
            for [a, b] in PAIRS {
                pair(a, b);
            }
            continue;
        }
        for a in FINE {
            for b in FINE.into_iter().filter(|b| a + b <= 1.0) {
                pair(a, b);
            }
        }
    }
    let Some(target) = wish.target else {
        return all;
    };
    let off = |it: &Coat| {
        let colour = wish.model.colour(it);
        colour.map_or(f64::INFINITY, |it: Lab| delta_e_2000(it, target))
    };
    let mut near: Vec<(f64, Coat)> = all.into_iter().map(|it| (off(&it), it)).collect();
    near.sort_by(|one, other| one.0.total_cmp(&other.0));
    near.truncate(NEAREST);
    near.into_iter().map(|it| it.1).collect()
}

/// What may be tried: each pigment alone, pairs, and another ground for those of which only a ratio is known. For a target, the coats
/// near it, too.
pub(super) fn candidates(wish: &Wish<'_>, ranges: &Ranges) -> Vec<Tried> {
    let mut all = Vec::new();
    let mut add = |coat: Coat, kind: Kind, why: String| {
        let is_new = !measured(wish, &coat) && !all.iter().any(|it: &Tried| it.coat == coat);
        if is_new {
            all.push(Tried { coat, kind, why });
        }
    };
    for range in &ranges.all {
        let known = wish.model.pigment(&range.pigment);
        // One coat that was laid again is one load, whatever the hand's error makes of the figures.
        let loads = known.map_or(0, |it| match it.known {
            Known::Single => 1,
            _ => it.loads.len(),
        });
        let why = match loads {
            0 => format!("{} was never measured alone.", range.pigment),
            1 => format!("Of {} one load is measured.", range.pigment),
            n => format!(
                "{n} loads of {} are measured; this is where it is least sure.",
                range.pigment
            ),
        };
        for share in ALONE {
            add(
                coat(wish, &[(range, share)], &wish.ground),
                Kind::Alone,
                why.clone(),
            );
        }
        if known.is_some_and(|it| it.known != Known::Both) {
            for (ground, _) in PRIMERS {
                let why = format!(
                    "What {} hides isn't known: on a second ground absorption and scattering are told apart.",
                    range.pigment
                );
                for share in [1.0, 0.25] {
                    add(
                        coat(wish, &[(range, share)], ground),
                        Kind::OtherGround,
                        why.clone(),
                    );
                }
            }
        }
    }
    for (one, other) in ranges.pairs() {
        for [a, b] in PAIRS {
            let why = format!(
                "It speaks of {} and {} at once.",
                one.pigment, other.pigment
            );
            let coat = coat(wish, &[(one, a), (other, b)], &wish.ground);
            add(coat, Kind::Mixture, why);
        }
    }
    if wish.target.is_some() {
        for it in interests(wish, ranges) {
            let kind = if it.pigments.len() > 1 {
                Kind::Mixture
            } else {
                Kind::Alone
            };
            add(it, kind, "It comes near the wanted colour.".to_owned());
        }
    }
    all
}

/// Whether a trial is as good as this coat.
fn measured(wish: &Wish<'_>, coat: &Coat) -> bool {
    let near = |one: f64, other: f64| (one / other - 1.0).abs() <= SAME;
    wish.trials.iter().any(|trial| {
        trial.ground == coat.ground
            && near(trial.g_per_m2, coat.g_per_m2)
            && trial.pigments.len() == coat.pigments.len()
            && coat.pigments.iter().all(|it| {
                let mut there = trial.pigments.iter();
                there.any(|other| other.pigment == it.pigment && near(other.load, it.load))
            })
    })
}

/// The model with the primers that it hasn't got.
pub(super) fn with_primers(model: &Model) -> Model {
    let mut model = model.clone();
    for (name, reflectance) in PRIMERS {
        if model.ground(name).is_none() {
            model.grounds.push(Ground {
                name: name.to_owned(),
                reflectance: [reflectance; crate::mix::bands::BANDS],
            });
        }
    }
    model
}

/// Controls that are missing, those for which most swatches wait first.
pub(super) fn controls(wish: &Wish<'_>) -> Vec<Proposal> {
    let mut missing: Vec<&(String, usize)> = (wish.missing.iter())
        .filter(|it| wish.model.ground(&it.0).is_none())
        .collect();
    missing.sort_by(|one, other| other.1.cmp(&one.1).then_with(|| one.0.cmp(&other.0)));
    let controls = missing
        .into_iter()
        .take(wish.count)
        .map(|(ground, count)| Proposal {
            why: match count {
                1 => {
                    format!("A swatch on {ground} can't be used, as nothing shows what lies below.")
                }
                _ => format!(
                    "{count} swatches on {ground} can't be used, as nothing shows what lies below."
                ),
            },
            ..control(wish.g_per_m2, ground)
        });
    controls.collect()
}

/// The control that a coat on a new ground needs.
pub(super) fn control_of(it: &Coat, mean_u95: f64) -> Proposal {
    Proposal {
        mean_u95,
        why: format!(
            "The next patch needs it: what {} looks like under clear coating.",
            it.ground
        ),
        ..control(it.g_per_m2, &it.ground)
    }
}

fn control(g_per_m2: f64, ground: &str) -> Proposal {
    Proposal {
        coat: Coat {
            pigments: Vec::new(),
            g_per_m2,
            ground: ground.to_owned(),
        },
        kind: Kind::Control,
        expected: None,
        mean_u95: f64::INFINITY,
        why: String::new(),
    }
}

/// What is not looked at.
pub(super) fn notes(wish: &Wish<'_>, ranges: &Ranges) -> Vec<String> {
    let mut notes = Vec::new();
    let n = ranges.all.len();
    if n * n.saturating_sub(1) / 2 > MOST_PAIRS {
        notes.push(format!(
            "Of the mixtures of two pigments {MOST_PAIRS} pairs are looked at: neighbours in the list of pigments."
        ));
    }
    if wish.target.is_some() {
        notes.push(format!(
            "Reckoned over the {NEAREST} coats of one or two pigments that come nearest to the wanted colour."
        ));
    }
    notes
}
