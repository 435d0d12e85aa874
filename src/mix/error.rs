//! Why there is no model or no prediction, and what to do about it.

/// The trials can't be made a model of.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// There is nothing to fit.
    #[error("there are no trials of this coating")]
    NoTrials,
    /// What lies below is not known as the coating wets it.
    #[error("there is no control on {ground}")]
    NoControl {
        /// The ground's name.
        ground: String,
    },
    /// Something in a trial is no number that it can be.
    #[error("{trial}: {what} {value} is out of range; {range}")]
    Value {
        /// The trial's name.
        trial: String,
        /// Which figure.
        what: String,
        /// The value.
        value: f64,
        /// What it can be.
        range: &'static str,
    },
    /// A control of an impossible colour.
    #[error(
        "no surface has the colour L* {:.2}, a* {:.2}, b* {:.2} of the control on {ground}", lab[0], lab[1], lab[2]
    )]
    NoSurface {
        /// The ground's name.
        ground: String,
        /// CIELAB.
        lab: [f64; 3],
    },
    /// No answer was found.
    #[error("nothing explains the trials of {what}: they are too far from each other")]
    NoAnswer {
        /// Pigments' ids, or the trials' names.
        what: String,
    },
}

impl FitError {
    /// What to do about it, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::NoTrials => "Measure a control and patches at two or more loads.".to_owned(),
            Self::NoControl { ground } => format!(
                "Coat one patch of {ground} with the coating without pigment, and measure it: the bare ground is another colour."
            ),
            Self::Value { trial, .. } => format!("Correct {trial}, or leave it out."),
            Self::NoAnswer { .. } => {
                "Look for a wrong load, amount or colour among them, and correct it.".to_owned()
            }
            Self::NoSurface { ground, .. } => {
                format!("Measure the control on {ground} again, without glare.")
            }
        }
    }
}

/// A coat can't be predicted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PredictError {
    /// No trial has this pigment.
    #[error("no trial in this coating has the pigment {pigment}")]
    Pigment {
        /// As asked for.
        pigment: String,
        /// Those that there are, the nearest name first.
        known: Vec<String>,
    },
    /// No trial lies on this ground.
    #[error("no trial in this coating lies on {ground}")]
    Ground {
        /// As asked for.
        ground: String,
        /// Those that there are, the nearest name first.
        known: Vec<String>,
    },
    /// A load below 0, or no number.
    #[error("{pigment}: a load of {load} makes no sense; it must be 0 or more")]
    Load {
        /// Of which pigment.
        pigment: String,
        /// As asked for.
        load: f64,
    },
    /// No coat at all, or no number.
    #[error("{g_per_m2} g/m² makes no coat; it must be above 0")]
    Amount {
        /// As asked for.
        g_per_m2: f64,
    },
}

impl PredictError {
    /// What to do about it, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::Pigment { known, .. } => nearest("pigment", known),
            Self::Ground { known, .. } => nearest("ground", known),
            Self::Load { .. } => "Give the load in grams per 100 g of mixed coating.".to_owned(),
            Self::Amount { .. } => {
                "Give the wet coating in grams per square metre, all coats together.".to_owned()
            }
        }
    }
}

/// How many names a hint gives.
const NAMES: usize = 3;

fn nearest(what: &str, known: &[String]) -> String {
    if known.is_empty() {
        return format!("No {what} was measured in this coating yet.");
    }
    let names = known[..known.len().min(NAMES)].join(", ");
    format!("Nearest names: {names}.")
}

/// Names by how near they are to what was asked for, then by name.
pub(super) fn by_nearness<'a>(asked: &str, names: impl Iterator<Item = &'a str>) -> Vec<String> {
    let asked = asked.to_lowercase();
    let mut all: Vec<_> = names
        .map(|it| {
            let away = strsim::damerau_levenshtein(&it.to_lowercase(), &asked);
            (away, it.to_owned())
        })
        .collect();
    all.sort();
    all.into_iter().map(|it| it.1).collect()
}
