//! Why nothing can be said of how colours changed.

/// Why there is no report.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FadeError {
    /// No records.
    #[error("there is no measured photo to compare")]
    NoRecords,
    /// The panel isn't among them.
    #[error("no photo of panel `{panel}` is among the records{}", there(have))]
    NoPanel {
        /// Asked for.
        panel: String,
        /// What there is.
        have: Vec<String>,
    },
    /// A patch isn't on any panel.
    #[error("no board has a patch `{patch}` with a masked half{}", there(have))]
    NoPatch {
        /// Asked for.
        patch: String,
        /// What there is.
        have: Vec<String>,
    },
    /// Nothing is half masked.
    #[error("no patch of {} has a masked half, so that no change can be told from the camera's", panels.join(", "))]
    NoMask {
        /// The panels.
        panels: Vec<String>,
    },
    /// No dose.
    #[error("no photo of {} states a dose after zero", panels.join(", "))]
    NoDose {
        /// The panels.
        panels: Vec<String>,
    },
}

fn there(have: &[String]) -> String {
    if have.is_empty() {
        String::new()
    } else {
        format!("; there are {}", have.join(", "))
    }
}

impl FadeError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoRecords => {
                "Measure the photos first: masstone measure --series FILE --out readings.json."
            }
            Self::NoPanel { .. } => "Check the panel's id, or leave --panel out.",
            Self::NoPatch { .. } => {
                "`masstone panel show` lists the ids of a panel's patches. Without a masked half no change can be told from the camera's."
            }
            Self::NoMask { .. } => {
                "State in the panel file which half was masked (masked = \"left\"), and measure the photos again."
            }
            Self::NoDose { .. } => {
                "Measure the later photos with --hours, or all of them with a series file (--series)."
            }
        }
    }
}
