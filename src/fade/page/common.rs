//! What holds for every patch of a board, so that it is said once.

use super::patch;
use crate::fade::kinetics::Course;
use crate::fade::report::{Board, Change, FadeFlag};
use crate::fade::rows::same_dose;
use crate::fade::wording;
use maud::{Markup, html};

/// What need not be said patch by patch.
#[derive(Debug)]
pub(super) struct Common<'a> {
    board: &'a Board,
    /// One course of many, where all have the same limit and kind of interval.
    course: Option<&'a Course>,
    /// Why there is no yellowness index.
    yellowness: Option<&'a str>,
    /// Flags that are at each dose on every patch or on none, with those doses.
    flags: Vec<(FadeFlag, Vec<f64>)>,
}

impl<'a> Common<'a> {
    pub(super) fn of(board: &'a Board) -> Self {
        let courses: Vec<&Course> = (board.patches.iter())
            .filter_map(|it| it.course.as_ref())
            .collect();
        let changes = || board.patches.iter().flat_map(|it| &it.changes);
        let reasons: Vec<&str> = changes().filter_map(patch::no_yellowness).collect();
        let mut all: Vec<FadeFlag> = changes().flat_map(|it| it.flags.clone()).collect();
        all.sort_unstable();
        all.dedup();
        let flags = all.into_iter().filter_map(|flag| {
            let mut doses = Vec::new();
            for exposure in board.exposed() {
                let mut here = changes().filter(|it| same_dose(it.dose, exposure.dose));
                let with = |it: &Change| it.flags.contains(&flag);
                let first = here.next().is_some_and(with);
                if here.any(|it| with(it) != first) {
                    return None;
                }
                if first {
                    doses.push(exposure.dose);
                }
            }
            Some((flag, doses))
        });
        let several = board.patches.len() > 1;
        Self {
            board,
            course: one_of(&courses, |a, b| {
                same_dose(a.limit_dose, b.limit_dose)
                    && a.limit_reason == b.limit_reason
                    && a.range_over_models == b.range_over_models
            })
            .filter(|_| several)
            .copied(),
            yellowness: one_of(&reasons, |a, b| a == b).filter(|_| several).copied(),
            flags: flags.filter(|_| several).collect(),
        }
    }

    /// Whether the limit of the courses was said.
    pub(super) fn has_limit(&self) -> bool {
        self.course.is_some()
    }

    /// Whether it was said why there is no yellowness index.
    pub(super) fn has_yellowness(&self) -> bool {
        self.yellowness.is_some()
    }

    /// Whether the flag was explained.
    pub(super) fn has_flag(&self, flag: FadeFlag) -> bool {
        self.flags.iter().any(|it| it.0 == flag)
    }

    /// All of it.
    pub(super) fn list(&self) -> Markup {
        let unit = wording::unit(&self.board.dose_kind);
        let doses = |all: &[f64]| {
            let all: Vec<String> = all.iter().map(f64::to_string).collect();
            format!("{} {unit}", all.join(", "))
        };
        html! {
            @if self.course.is_some() || self.yellowness.is_some() || !self.flags.is_empty() {
                h3 { "For every patch" }
                ul {
                    @if let Some(it) = self.course { li { (patch::limit(it, &self.board.dose_kind)) } }
                    @if let Some(it) = self.yellowness { li { "Where there is no yellowness index: " (patch::ended(it)) } }
                    @for (flag, at) in &self.flags { li { b { (flag.name()) } " (" (doses(at)) "): " (wording::flag(*flag)) } }
                }
            }
        }
    }
}

/// The first, if all are the same.
fn one_of<T>(all: &[T], same: impl Fn(&T, &T) -> bool) -> Option<&T> {
    let first = all.first()?;
    all.iter().all(|it| same(first, it)).then_some(first)
}
