//! Errors of predictions, in numbers.

use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;

/// A prediction beside the truth.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    /// What it is, for people.
    pub(crate) name: String,
    pub(crate) predicted: Lab,
    pub(crate) u95: f64,
    /// What straight lines in Lab say, where they say anything.
    pub(crate) straight: Option<Lab>,
    pub(crate) truth: Lab,
    /// The truth of a patch that was laid by hand, where one was.
    pub(crate) laid: Option<Lab>,
    pub(crate) kind: Kind,
}

/// What a film is like.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Kind {
    /// ΔE00 of less than 10 from the clear coating.
    pub(crate) pale: bool,
    /// L* below 20.
    pub(crate) near_black: bool,
    /// Y over black is less than half of Y over white.
    pub(crate) translucent: bool,
    /// It is at least 0.98 of it.
    pub(crate) hiding: bool,
}

impl Case {
    pub(crate) fn error(&self) -> f64 {
        delta_e_2000(self.predicted, self.truth)
    }
}

/// Figures over some cases.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Figures {
    pub(crate) cases: usize,
    pub(crate) mean: f64,
    pub(crate) median: f64,
    pub(crate) p95: f64,
    /// Mean of ΔE00 to the films that were laid.
    pub(crate) of_laid: Option<f64>,
    /// Mean error by that of straight lines.
    pub(crate) ratio: Option<f64>,
    /// Share of truths within U95, and mean U95.
    pub(crate) inside: f64,
    pub(crate) u95: f64,
    /// What U95 is to be multiplied by to hold 95 % of these truths: below 1 where it is too wide.
    pub(crate) enough: f64,
}

impl Figures {
    /// None of no case.
    pub(crate) fn of<'a>(cases: impl IntoIterator<Item = &'a Case>) -> Option<Self> {
        let cases: Vec<&Case> = cases.into_iter().collect();
        if cases.is_empty() {
            return None;
        }
        let mut errors: Vec<f64> = cases.iter().map(|it| it.error()).collect();
        let inside = (cases.iter().zip(&errors)).filter(|(it, e)| **e <= it.u95);
        let inside = inside.count() as f64 / cases.len() as f64;
        let mut enough: Vec<f64> = (cases.iter().zip(&errors))
            .map(|(it, error)| error / it.u95)
            .collect();
        enough.sort_by(f64::total_cmp);
        let straight: Vec<f64> = (cases.iter())
            .filter_map(|it| Some(delta_e_2000(it.straight?, it.truth)))
            .collect();
        let laid: Vec<f64> = (cases.iter())
            .filter_map(|it| Some(delta_e_2000(it.predicted, it.laid?)))
            .collect();
        errors.sort_by(f64::total_cmp);
        let mean_of = |it: &[f64]| it.iter().sum::<f64>() / it.len() as f64;
        let mean = mean_of(&errors);
        let place = |per_cent: usize| (errors.len() * per_cent / 100).min(errors.len() - 1);
        let at = |per_cent: usize| errors[place(per_cent)];
        Some(Self {
            cases: cases.len(),
            mean,
            median: at(50),
            p95: at(95),
            of_laid: (laid.len() == cases.len()).then(|| mean_of(&laid)),
            ratio: (straight.len() == cases.len()).then(|| mean / mean_of(&straight)),
            inside,
            enough: enough[place(95)],
            u95: cases.iter().map(|it| it.u95).sum::<f64>() / cases.len() as f64,
        })
    }
}
