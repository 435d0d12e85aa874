//! Changes beside their truth and beside the plain method's.

use super::board::{Run, Seen};
use masstone::colour::Lab;
use masstone::fade::report::Change;
use masstone_simulator::Half;
use nalgebra::{Matrix3, Vector3};

/// Clipped in no more than this share of its pixels a half can be measured.
pub(crate) const READABLE: f64 = 0.25;

/// One patch at one exposure.
pub(crate) struct Compared {
    pub(crate) patch: String,
    pub(crate) exposure: usize,
    pub(crate) truth: Vector3<f64>,
    pub(crate) truth_e: f64,
    pub(crate) plain: Vector3<f64>,
    pub(crate) ours: Option<Ours>,
}

/// What the report says of it.
pub(crate) struct Ours {
    pub(crate) change: Vector3<f64>,
    pub(crate) covariance: Matrix3<f64>,
    pub(crate) de_00: f64,
    pub(crate) u95: f64,
    pub(crate) significant: bool,
}

impl Ours {
    fn of(it: &Change) -> Self {
        Self {
            change: Vector3::new(it.dl, it.da, it.db),
            covariance: Matrix3::from_fn(|r, c| it.covariance[r][c]),
            de_00: it.de_00,
            u95: it.u95_de_00,
            significant: it.significant,
        }
    }
}

/// Every patch at every exposure after 0 that some photo of it and some photo of hour 0 shows unclipped.
pub(crate) fn compared(run: &Run) -> Vec<Compared> {
    let ids = run.series.ids();
    let courses = run.series.courses(&run.series.doses);
    let mut out = Vec::new();
    for (i, id) in ids.iter().enumerate() {
        if plain_apart(&run.seen, 0, i).is_none() {
            continue;
        }
        for (exposure, (truth, truth_e)) in courses[i].iter().enumerate().skip(1) {
            let Some(plain) = plain_apart(&run.seen, exposure, i) else {
                continue;
            };
            out.push(Compared {
                patch: id.clone(),
                exposure,
                truth: (*truth).into(),
                truth_e: *truth_e,
                plain,
                ours: run.change(id, exposure).map(Ours::of),
            });
        }
    }
    out
}

/// The plain method's exposed − masked half of a patch, the mean over the photos of an exposure that show both unclipped.
fn plain_apart(seen: &[Seen], exposure: usize, patch: usize) -> Option<Vector3<f64>> {
    let vector = |it: Lab| Vector3::new(it.l, it.a, it.b);
    let all: Vec<Vector3<f64>> = seen
        .iter()
        .filter(|it| it.exposure == exposure)
        .filter_map(|it| {
            // Masked before exposed.
            let halves = [2 * patch, 2 * patch + 1];
            let [masked, exposed] = halves.map(|k| it.plain[k]);
            assert!(it.truth[halves[1]].half == Half::Exposed, "masked, exposed");
            let readable = halves.iter().all(|k| it.truth[*k].clipped < READABLE);
            readable.then(|| vector(exposed) - vector(masked))
        })
        .collect();
    (!all.is_empty()).then(|| all.iter().sum::<Vector3<f64>>() / all.len() as f64)
}
