//! What the nearest recipe lacks where nothing reaches the wanted colour, and what stands in the way.

use super::allowed::Choice;
use super::combinations::Spot;
use crate::colour::difference::{delta_e_2000, parts};
use crate::colour::{Lab, lab};
use std::fmt;

/// How the nearest recipe falls short.
#[derive(Clone, Debug, PartialEq)]
pub struct Shortfall {
    /// ΔE00 of the nearest to the wanted colour.
    pub delta_e: f64,
    /// In words, the largest part first: `not dark enough`, `not red enough`.
    pub words: Vec<&'static str>,
    /// What stands in the way; nothing where these pigments have no such colour at any load.
    pub bounds: Vec<Bound>,
}

/// What stands in the way of a nearer colour.
#[derive(Clone, Debug, PartialEq)]
pub enum Bound {
    /// A pigment at the highest load that cured: its id and that load, grams per 100 g.
    Limit(String, f64),
    /// A pigment that may go beyond its limit and goes as far as is proposed: its id and the load.
    Beyond(String, f64),
    /// A pigment of which nobody tested a limit, at the highest load that was measured and did not fail: its id and the load.
    Measured(String, f64),
    /// Pigments with loads whose shares of the limits add up to 1.
    Sum(Vec<(String, f64)>),
    /// A pigment of which the balance can't weigh less into the batch: its id and the load.
    Least(String, f64),
    /// A pigment kept below a mixture that did not cure: its id and the load.
    FailedMixture(String, f64),
}

impl fmt::Display for Bound {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Limit(id, limit) => write!(to, "{id} is at its limit {}", grams(*limit)),
            Self::Beyond(id, load) => write!(
                to,
                "{id} is at {}, beyond its limit as far as is proposed",
                grams(*load)
            ),
            Self::Measured(id, load) => write!(
                to,
                "{id} is at {}, the highest load that was measured; no limit was tested",
                grams(*load)
            ),
            Self::Sum(loads) => {
                let loads: Vec<String> = loads
                    .iter()
                    .map(|(id, load)| format!("{id} {}", grams(*load)))
                    .collect();
                write!(
                    to,
                    "{} are at the most that they may have together",
                    loads.join(" and ")
                )
            }
            Self::Least(id, load) => {
                write!(
                    to,
                    "{id} is at {}, the least that the balance can weigh into the batch",
                    grams(*load)
                )
            }
            Self::FailedMixture(id, load) => {
                write!(
                    to,
                    "{id} is kept at {}, below a mixture that did not cure",
                    grams(*load)
                )
            }
        }
    }
}

/// To the milligram, without zeros that say nothing.
fn grams(load: f64) -> String {
    format!("{}", (load * 1000.0).round() / 1000.0)
}

/// A part of the difference counts from this share of the whole ΔE00 on.
const COUNTS: f64 = 0.35;

/// What the nearest lacks.
pub(super) fn shortfall(spot: &Spot, wanted: Lab, choice: &Choice<'_>) -> Shortfall {
    Shortfall {
        delta_e: spot.best.off,
        words: words(wanted, spot.shifted(spot.best.seen.lab)),
        bounds: bounds(spot, choice),
    }
}

/// The parts of the difference that count, in words, the largest first. Each is the ΔE00 of the wanted colour to one that is off in this part alone.
fn words(wanted: Lab, found: Lab) -> Vec<&'static str> {
    let whole = delta_e_2000(wanted, found);
    let by = parts(wanted, found);
    let (chroma, hue) = (lab::chroma(wanted), lab::hue_degrees(wanted).to_radians());
    let polar = |chroma: f64, hue: f64| Lab::new(wanted.l, chroma * hue.cos(), chroma * hue.sin());
    let (found_chroma, found_hue) = (lab::chroma(found), lab::hue_degrees(found).to_radians());
    let lightness = delta_e_2000(wanted, Lab::new(found.l, wanted.a, wanted.b));
    let saturation = delta_e_2000(wanted, polar(found_chroma, hue));
    // Beside a neutral there is no hue: then it counts in the chroma that both have.
    let of_hue = delta_e_2000(
        polar(chroma.min(found_chroma), hue),
        polar(chroma.min(found_chroma), found_hue),
    );
    let mut said = [
        (
            lightness,
            if by.lightness > 0.0 {
                "not dark enough"
            } else {
                "not light enough"
            },
        ),
        (
            saturation,
            if by.chroma < 0.0 {
                "not saturated enough"
            } else {
                "too saturated"
            },
        ),
        (of_hue, lacking(found, by.hue)),
    ];
    said.sort_by(|a, b| b.0.total_cmp(&a.0));
    let largest = said[0].0;
    (said.into_iter())
        .filter(|it| it.0 >= COUNTS * whole || it.0 >= largest)
        .map(|it| it.1)
        .collect()
}

/// What hue is lacking: where one would go from the found colour along its hue circle.
fn lacking(found: Lab, by_hue: f64) -> &'static str {
    let hue = lab::hue_degrees(found).to_radians();
    // Found minus wanted: back against it.
    let (a, b) = (by_hue.signum() * hue.sin(), -by_hue.signum() * hue.cos());
    match (a.abs() > b.abs(), a > 0.0, b > 0.0) {
        (true, true, _) => "not red enough",
        (true, false, _) => "not green enough",
        (false, _, true) => "not yellow enough",
        (false, _, false) => "not blue enough",
    }
}

/// What a pigment alone is at, where that is as much as it may have.
fn highest(id: String, load: f64, limit: Option<f64>) -> Bound {
    match limit {
        Some(limit) if load > limit * (1.0 + 1e-6) => Bound::Beyond(id, load),
        Some(_) => Bound::Limit(id, load),
        None => Bound::Measured(id, load),
    }
}

fn bounds(spot: &Spot, choice: &Choice<'_>) -> Vec<Bound> {
    /// How near to a bound is at it, as a share of the limit.
    const AT: f64 = 1e-6;
    if spot.tested {
        return Vec::new();
    }
    let (room, shares, loads) = (&spot.room, &spot.best.shares, spot.loads());
    let id = |it: usize| choice.pigments[spot.pigments[it]].candidate.id.clone();
    let mut bounds = Vec::new();
    if shares.sum() >= 1.0 - AT {
        if spot.count == 1 {
            let limit = choice.pigments[spot.pigments[0]].candidate.limit;
            bounds.push(highest(id(0), loads[0], limit));
        } else {
            bounds.push(Bound::Sum(
                (0..spot.count).map(|it| (id(it), loads[it])).collect(),
            ));
        }
    }
    for it in 0..spot.count {
        if shares[it] <= room.least[it] + AT {
            bounds.push(Bound::Least(id(it), loads[it]));
        } else if shares[it] >= room.most[it] - AT {
            bounds.push(Bound::FailedMixture(id(it), loads[it]));
        }
    }
    bounds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_beyond_what_cured_is_not_called_the_limit() {
        let said = |load, limit| highest("PR101".to_owned(), load, limit).to_string();
        assert_eq!(said(1.2, Some(1.2)), "PR101 is at its limit 1.2");
        assert_eq!(
            said(1.8, Some(1.2)),
            "PR101 is at 1.8, beyond its limit as far as is proposed"
        );
        assert_eq!(
            said(4.0, None),
            "PR101 is at 4, the highest load that was measured; no limit was tested"
        );
    }

    #[test]
    fn the_difference_is_in_words_from_what_was_wanted() {
        let said = |wanted: [f64; 3], found: [f64; 3]| {
            let lab = |it: [f64; 3]| Lab::new(it[0], it[1], it[2]);
            words(lab(wanted), lab(found))
        };
        assert_eq!(
            said([30.0, 20.0, 10.0], [50.0, 20.0, 10.0]),
            ["not dark enough"]
        );
        assert_eq!(
            said([60.0, 0.0, 0.0], [40.0, 0.0, 0.0]),
            ["not light enough"]
        );
        assert_eq!(
            said([50.0, 60.0, 0.0], [50.0, 20.0, 0.0]),
            ["not saturated enough"]
        );
        assert_eq!(
            said([50.0, 5.0, 5.0], [50.0, 40.0, 40.0]),
            ["too saturated"]
        );
        // Orange wanted: yellow is not red enough, red is not yellow enough.
        assert_eq!(
            said([50.0, 40.0, 40.0], [50.0, 0.0, 56.6]),
            ["not red enough"]
        );
        assert_eq!(
            said([50.0, 40.0, 40.0], [50.0, 56.6, 0.0]),
            ["not yellow enough"]
        );
        assert_eq!(
            said([50.0, -30.0, 10.0], [50.0, 0.0, 31.6]),
            ["not green enough"]
        );
        assert_eq!(
            said([50.0, 10.0, -30.0], [50.0, 31.6, 0.0]),
            ["not blue enough"]
        );
        let both = said([30.0, 40.0, 20.0], [45.0, 20.0, 10.0]);
        assert!(
            both.contains(&"not dark enough") && both.contains(&"not saturated enough"),
            "{both:?}"
        );
    }
}
