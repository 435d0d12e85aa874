//! What a reader of a prediction must know.

use super::doubt::ANY;
use super::ground::Wetted;
use super::group::Group;
use super::model::{Coat, Known, Model, Pigment};
use super::reach::short;
use super::residual::Contradiction;
use super::trial::Trial;

/// Trials predicted from the others may be off by this many times what was said, in variances, before it is worth a note.
const OFF: f64 = 2.0;

/// Films that are off by this many times what films usually are, are worth a note.
const OWN_WAY: f64 = 3.0;

/// Coats thicker than the controls by this are worth a note.
const THICKER: f64 = 1.3;

impl Model {
    /// What the trials don't determine or say against each other, as full sentences: of all pigments.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let of_pigments = self.pigments.iter().filter_map(|it| self.determined(it));
        let of_groups = self.evidence.groups.iter().flat_map(|it| self.trouble(it));
        let of_mixed = self.of_mixed(|_| true);
        let of_controls = self.evidence.grounds.iter().flat_map(among_controls);
        (of_pigments.chain(of_groups).chain(of_mixed))
            .chain(self.scatter())
            .chain(of_controls)
            .collect()
    }

    /// The same of the pigments of a coat, and of its ground and amount.
    pub(super) fn notes_on(&self, coat: &Coat) -> Vec<String> {
        let own = coat
            .pigments
            .iter()
            .filter_map(|it| self.pigment(&it.pigment));
        let mut out: Vec<String> = own.filter_map(|it| self.determined(it)).collect();
        out.extend(self.groups_of(coat).flat_map(|it| self.trouble(it)));
        out.extend(self.of_mixed(|it| has_any(it, coat)));
        out.extend(self.scatter().filter(|_| coat.pigments.len() > 1));
        for it in &coat.pigments {
            let mut trials = self.evidence.trials.iter();
            let here = trials.any(|trial| {
                trial.ground == coat.ground
                    && trial
                        .pigments
                        .iter()
                        .any(|other| other.pigment == it.pigment)
            });
            if !here && !self.evidence.trials.is_empty() {
                out.push(format!(
                    "{} was never measured on {}: it is predicted from other grounds.",
                    it.pigment, coat.ground
                ));
            }
        }
        let ground = self
            .evidence
            .grounds
            .iter()
            .find(|it| it.name == coat.ground);
        out.extend(ground.into_iter().flat_map(among_controls));
        if let Some(it) =
            ground.filter(|it| !it.coating_known && coat.g_per_m2 > THICKER * it.g_per_m2)
        {
            out.push(format!(
                "What the coating itself absorbs is not known, since its controls on {} have one amount, {} g/m²: so much more of it may look yellower than predicted.",
                it.name,
                short(it.g_per_m2)
            ));
        }
        out
    }

    /// Mean ΔE00 of the trials of a coat's pigments, each from the others; of the controls nothing is left out.
    pub(super) fn left_out(&self, coat: &Coat) -> Option<f64> {
        let of_groups = self
            .groups_of(coat)
            .flat_map(|it| it.trials.iter().zip(&it.left_out));
        let of_mixed =
            (self.evidence.mixed.iter()).flat_map(|it| it.trials.iter().zip(&it.left_out));
        let all: Vec<f64> = (of_groups.chain(of_mixed))
            .filter(|(trial, _)| has_any(&self.evidence.trials[**trial], coat))
            .map(|it| *it.1)
            .collect();
        (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    }

    /// Contradictions among mixtures.
    fn of_mixed(&self, keep: impl Fn(&Trial) -> bool) -> Vec<String> {
        let Some(mixed) = &self.evidence.mixed else {
            return Vec::new();
        };
        (mixed.contradicts.iter())
            .map(|it| (&self.evidence.trials[mixed.trials[it.which]], it))
            .filter(|it| keep(it.0))
            .map(|(trial, it)| contradiction(&trial.name, it, "the other trials"))
            .collect()
    }

    /// How far mixtures are off, where that is worth a note.
    fn scatter(&self) -> Option<String> {
        let wider = self.evidence.mixed.as_ref()?.widening(1.0);
        (wider > OFF).then(|| {
            format!(
                "Mixtures are off from what the trials say of them more than their uncertainties allow: intervals of mixtures are up to {:.1} times as wide.",
                wider.sqrt()
            )
        })
    }

    fn groups_of<'a>(&'a self, coat: &'a Coat) -> impl Iterator<Item = &'a Group> {
        self.evidence.groups.iter().filter(|group| {
            let mut pigments = coat.pigments.iter();
            pigments.any(|it| group.pigments.contains(&it.pigment))
        })
    }

    fn trouble(&self, group: &Group) -> Vec<String> {
        let mut out: Vec<String> = (group.contradicts.iter())
            .map(|it| {
                let trial = &self.evidence.trials[group.trials[it.which]];
                contradiction(&trial.name, it, "the other trials")
            })
            .collect();
        if group.any > OWN_WAY * ANY {
            let names = group.pigments.join(", ");
            let far = group.any;
            let mut note = format!(
                "Films of {names} differ by about {far:.1} in L*, a* and b* from what the model makes of the others: predictions near such a trial follow it, and mixtures are less sure."
            );
            let trials = group.trials.iter().zip(&group.left_out);
            if let Some((which, off)) = trials.max_by(|a, b| a.1.total_cmp(b.1)) {
                let name = &self.evidence.trials[*which].name;
                note += &format!(
                    " {name} is the farthest off, by {off:.1} ΔE00: if its load or its reading may be wrong, measure it again."
                );
            }
            out.push(note);
        }
        // By what others tell nothing is said of these.
        if group.told.alone() > OFF {
            let names = group.pigments.join(", ");
            let wider = group.factor.sqrt();
            out.push(format!(
                "Trials of {names} are off from what the others say of them more than their uncertainties allow: intervals are up to {wider:.1} times as wide."
            ));
        }
        out
    }

    /// What of a pigment isn't determined.
    fn determined(&self, it: &Pigment) -> Option<String> {
        let id = &it.id;
        match it.known {
            Known::Both => None,
            Known::Single => Some(format!(
                "{id} was measured {}: its scattering is taken as about alike in all bands and as pigments usually have it. A second load, about a third of this, would tell.",
                self.at_one_load(it)
            )),
            Known::Ratio => Some(format!(
                "The trials of {id} nearly hide the ground: how its absorption and its scattering compare is known, how much of it hides is a guess. A paler load or a second ground would tell."
            )),
        }
    }

    /// The only load of a pigment, mixtures set apart; where it was laid more than once, the first.
    fn at_one_load(&self, it: &Pigment) -> String {
        let with = |trial: &&Trial| trial.pigments.iter().any(|load| load.pigment == it.id);
        let all: Vec<&Trial> = self.evidence.trials.iter().filter(with).collect();
        let by_itself = all.iter().find_map(|trial| match &trial.pigments[..] {
            [only] => Some(short(only.load)),
            _ => None,
        });
        match (by_itself, &it.loads[..]) {
            (Some(load), _) if all.iter().all(|it| it.pigments.len() == 1) => {
                format!("at one load alone, {load}")
            }
            (_, [only]) => format!("at one load alone, {}", short(*only)),
            (Some(load), _) => {
                format!("by itself at one load alone, {load}, and else in mixtures")
            }
            (None, _) => "in mixtures only".to_owned(),
        }
    }
}

fn has_any(trial: &Trial, coat: &Coat) -> bool {
    let mut pigments = trial.pigments.iter();
    pigments.any(|it| {
        coat.pigments
            .iter()
            .any(|other| other.pigment == it.pigment)
    })
}

/// Who contradicts whom, by how much, and what to do.
fn contradiction(name: &str, it: &Contradiction, others: &str) -> String {
    format!(
        "{name} contradicts {others}: from them it should look another way by {:.1} ΔE00, where their doubt allows {:.1}. It counts for less; measure or make it again.",
        it.off, it.doubt
    )
}

/// The same among the controls of a ground.
fn among_controls(ground: &Wetted) -> Vec<String> {
    let name = &ground.name;
    if let ([(one, it), (other, _)], 2) = (&ground.contradicts[..], ground.controls) {
        return vec![format!(
            "The controls {one} and {other} contradict each other: {name} looks different by {:.1} ΔE00, where their doubt allows {:.1}. Their mean counts, and all on {name} is as much less sure; measure both again, and if the ground does differ keep it as two substrates.",
            it.off, it.doubt
        )];
    }
    let others = format!("the other controls on {name}");
    (ground.contradicts.iter())
        .map(|(one, it)| contradiction(one, it, &others))
        .collect()
}
