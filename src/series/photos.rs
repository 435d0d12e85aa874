//! The photos of a series, shot by shot.

use super::{Series, SeriesError};
use crate::measure::files;
use crate::measure::photos::{Photos, expand};
use crate::panel::Problem;
use std::path::PathBuf;

impl Series {
    /// Finds the photos of each shot, in the order of the shots. What is named and not there is among the refused.
    ///
    /// # Errors
    /// If a photo is in two shots, by its name or by its bytes.
    pub fn photos(&self) -> Result<Vec<Photos>, SeriesError> {
        let found: Vec<Photos> = self.shots.iter().map(|it| expand(&it.photos)).collect();
        let owners: Vec<usize> = found
            .iter()
            .enumerate()
            .flat_map(|(shot, it)| std::iter::repeat_n(shot, it.paths.len()))
            .collect();
        let paths: Vec<PathBuf> = found.iter().flat_map(|it| it.paths.clone()).collect();
        let mut problems = Vec::new();
        for (index, twin) in files::twins(&paths).into_iter().enumerate() {
            if let Some(twin) = twin.filter(|twin| owners[*twin] != owners[index]) {
                problems.push(self.twice((twin, index), &paths, &owners));
            }
        }
        if problems.is_empty() {
            Ok(found)
        } else {
            Err(SeriesError { problems })
        }
    }

    fn twice(&self, (one, other): (usize, usize), paths: &[PathBuf], owners: &[usize]) -> Problem {
        let [first, second] = [one, other].map(|it| &self.shots[owners[it]]);
        let again = if paths[one] == paths[other] {
            String::new()
        } else {
            format!(" (the same bytes as {})", paths[one].display())
        };
        let message = format!(
            "the photo {}{again} is in two shots, of {} and of {}",
            paths[other].display(),
            first.dose,
            second.dose
        );
        Problem::new(second.spot.clone(), message)
            .with_hint("A photo shows the board at one dose: name it in that shot only.")
    }
}
