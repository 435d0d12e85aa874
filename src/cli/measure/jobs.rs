//! From photo files and the plan to what is measured: each file once, each with its settings.

use super::super::failure::Failure;
use super::args::Plan;
use super::corners::{self, Corners};
use super::subject::Shot;
use masstone::measure::photos::CORNERS_SUFFIX;
use masstone::measure::{Job, Refusal, files};
use masstone::record::Settings;
use std::path::{Path, PathBuf};

/// What is to be measured, and what is not.
#[derive(Debug)]
pub(super) struct Jobs {
    pub(super) jobs: Vec<Job>,
    pub(super) refused: Vec<Refusal>,
    pub(super) notes: Vec<String>,
}

impl Jobs {
    /// Wrong usage if one set of corners is given for several photos.
    pub(super) fn new(shots: &[Shot], plan: &Plan) -> Result<Self, Failure> {
        let photos: Vec<(&Path, &Shot)> = shots
            .iter()
            .flat_map(|shot| shot.photos.paths.iter().map(move |it| (it.as_path(), shot)))
            .collect();
        let paths: Vec<PathBuf> = photos.iter().map(|it| it.0.to_owned()).collect();
        let twins = files::twins(&paths);
        let mut jobs = Self {
            jobs: Vec::new(),
            refused: shots
                .iter()
                .flat_map(|it| it.photos.refused.clone())
                .collect(),
            notes: shots
                .iter()
                .flat_map(|it| it.photos.notes.clone())
                .collect(),
        };
        for ((path, shot), twin) in photos.into_iter().zip(&twins) {
            match twin.map(|it| &paths[it]) {
                Some(earlier) if earlier == path => {
                    jobs.notes.push(format!(
                        "{} is given twice: it is measured once",
                        path.display()
                    ));
                }
                Some(earlier) => jobs.notes.push(format!(
                    "{} holds the same bytes as {}: they are measured once, under that name",
                    path.display(),
                    earlier.display()
                )),
                // It lies in the same folder as often as not.
                None if plan.settings.blank.is_some()
                    && files::sha256(path).ok() == plan.settings.blank =>
                {
                    jobs.notes.push(format!(
                        "{} is the blank: it is not measured",
                        path.display()
                    ));
                }
                None => match corners::beside(path) {
                    Ok(beside) => jobs.add(path, shot, beside, plan),
                    Err(refusal) => jobs.refused.push(refusal),
                },
            }
        }
        if plan.settings.corners.is_some() && jobs.jobs.len() > 1 {
            return Err(Failure::usage(
                anyhow::anyhow!(
                    "--corners is for one photo, and there are {}",
                    jobs.jobs.len()
                ),
                format!("Put a file PHOTO{CORNERS_SUFFIX} beside each photo instead."),
            ));
        }
        Ok(jobs)
    }

    fn add(&mut self, path: &Path, shot: &Shot, beside: Option<Corners>, plan: &Plan) {
        if beside.is_some() && plan.settings.corners.is_some() {
            self.notes.push(format!(
                "{}: the corners in the command are used, not those in the file beside it",
                path.display()
            ));
        }
        self.jobs.push(Job {
            path: path.to_owned(),
            dose: shot.dose.clone(),
            exposure: shot.exposure.clone(),
            settings: Settings {
                corners: plan.settings.corners.or(beside.map(|it| it.0)),
                ..plan.settings.clone()
            },
        });
    }
}
