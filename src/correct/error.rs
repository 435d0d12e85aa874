//! Why a photo can't be corrected, and what to do about it.

use super::blank::BlankError;
use super::saved::Unfit;

/// A photo whose colours can't be calibrated.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CorrectError {
    /// Nothing of known colour was sampled.
    #[error("nothing of known colour could be read in the photo")]
    NoReference,
    /// No neutral or near-neutral reference to balance the channels with.
    #[error(
        "no reference balances the channels: none of the {count} known colours has all three channels above black"
    )]
    NoBalance {
        /// How many references there are.
        count: usize,
    },
    /// A reference is at the top of the encoding.
    #[error("{:.0} % of {name} is clipped (limit {:.0} %)", share * 100.0, limit * 100.0)]
    Clipped {
        /// Which reference.
        name: String,
        /// Share of its pixels, 0–1.
        share: f64,
        /// The limit, 0–1.
        limit: f64,
    },
    /// A reference is almost black though its stated colour isn't.
    #[error("{name} is almost black: linear value {value:.4} where at least {limit:.4} is needed")]
    TooDark {
        /// Which reference.
        name: String,
        /// Greatest mean linear channel, 0–1.
        value: f64,
        /// The limit.
        limit: f64,
    },
    /// Two neutrals are seen in the wrong order of lightness.
    #[error(
        "{lighter} is seen darker than {darker}, though it is stated lighter (L* {stated:.0} against {other:.0})"
    )]
    Contradiction {
        /// Stated lighter.
        lighter: String,
        /// Stated darker.
        darker: String,
        /// Stated L* of the lighter.
        stated: f64,
        /// Stated L* of the darker.
        other: f64,
    },
    /// The fit to the references is worse than the neutrals alone.
    #[error(
        "the known colours don't fit the photo: left out in turn they are off by {left_out:.1} ΔE00 on average, the \
         neutrals alone leave {neutral:.1}"
    )]
    WrongReferences {
        /// Mean leave-one-out ΔE00 of the best fit.
        left_out: f64,
        /// Mean ΔE00 with the neutrals alone.
        neutral: f64,
    },
    /// A shadow's edge parts the references.
    #[error(
        "a shadow's edge crosses the known colours: {} of {of} get {:.0} % less light than the rest ({})",
        shaded.len(),
        less * 100.0,
        some(shaded)
    )]
    Shadowed {
        /// Names of those that get less light.
        shaded: Vec<String>,
        /// How many references there are.
        of: usize,
        /// By how much less, 0–1.
        less: f64,
    },
    /// A saved correction doesn't serve this photo.
    #[error(transparent)]
    Unfit(#[from] Unfit),
    /// A blank doesn't show this photo's light.
    #[error(transparent)]
    Blank(#[from] BlankError),
}

impl CorrectError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Unfit(unfit) => unfit.hint(),
            Self::Blank(blank) => blank.hint(),
            Self::NoReference => {
                "Photograph the board with a card of known colour beside it, wholly in the picture."
            }
            Self::NoBalance { .. } => {
                "Lay a grey or white card beside the board: saturated colours alone can't show the light's colour."
            }
            Self::Clipped { .. } => {
                "Shoot again with less exposure (about one stop), and without glare on the card."
            }
            Self::TooDark { .. } => {
                "Shoot again with more light on the card, or move what casts a shadow on it."
            }
            Self::Contradiction { .. } => {
                "Check that the card in the photo is the one the panel file names and lies the way it says, and that no shadow or glare crosses it."
            }
            Self::Shadowed { .. } => {
                "Move what casts the shadow, or board and chart out of it, and shoot again: all of them in one light."
            }
            Self::WrongReferences { .. } => {
                "Check that the chart's edition and the panel file belong to what is in the photo, which way up it lies, and that no shadow crosses it."
            }
        }
    }
}

/// The first of some names, and that there are more.
fn some(names: &[String]) -> String {
    let first = names.iter().take(3).cloned().collect::<Vec<_>>().join(", ");
    if names.len() > 3 {
        format!("{first} …")
    } else {
        first
    }
}
