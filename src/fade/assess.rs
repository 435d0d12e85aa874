//! From records to a report.

use super::Report;
use crate::record::PhotoRecord;

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FadeError {
    /// The parts that work it out are not there.
    #[error("not assembled")]
    NotAssembled,
}

impl FadeError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotAssembled => "Use a version that has all parts.",
        }
    }
}

/// How every colour changed.
///
/// # Errors
///
/// If the records say nothing of it.
pub fn assess(_records: &[PhotoRecord]) -> Result<Report, FadeError> {
    Err(FadeError::NotAssembled)
}
