//! What readings of simulated photos come to, beside the plain method's.

use crate::scene::{Measured, mean, of_halves};

/// Clipped in no more than this share of its pixels a patch can be measured; others are counted apart.
const READABLE: f64 = 0.25;

/// Figures over the readable patches of some photos.
#[derive(Clone, Debug)]
pub(crate) struct Figures {
    pub(crate) photos: usize,
    pub(crate) readings: usize,
    /// Mean ΔE00 to the truth and its 95th percentile.
    pub(crate) ours: f64,
    pub(crate) p95: f64,
    /// Mean ΔE00 of the plain method, and of the camera itself.
    pub(crate) plain: f64,
    pub(crate) camera: f64,
    /// Mean U95, and the share of truths inside it.
    pub(crate) u95: f64,
    pub(crate) inside: f64,
    /// Mean errors of the difference between halves, ours and the plain method's.
    pub(crate) halves: Option<[f64; 2]>,
    /// Patches that are clipped, of all.
    pub(crate) clipped: usize,
}

impl Figures {
    /// None where nothing could be read.
    pub(crate) fn of<'a>(photos: impl Iterator<Item = &'a Vec<Measured>>) -> Option<Self> {
        let photos: Vec<&[Measured]> = photos.map(Vec::as_slice).collect();
        let all = || photos.iter().flat_map(|it| it.iter());
        let read: Vec<&Measured> = all()
            .filter(|it| it.clipped < READABLE && it.ours.is_some())
            .collect();
        if read.is_empty() {
            return None;
        }
        let errors: Vec<f64> = read.iter().filter_map(|it| it.error()).collect();
        let mut sorted = errors.clone();
        sorted.sort_by(f64::total_cmp);
        let inside = read
            .iter()
            .zip(&errors)
            .map(|(it, e)| f64::from(u8::from(*e <= it.u95)));
        Some(Self {
            photos: photos.len(),
            readings: read.len(),
            ours: mean(errors.iter().copied()),
            p95: sorted[(sorted.len() * 95 / 100).min(sorted.len() - 1)],
            plain: mean(read.iter().map(|it| it.plain_error())),
            camera: mean(read.iter().map(|it| it.camera_error())),
            u95: mean(read.iter().map(|it| it.u95)),
            inside: mean(inside),
            halves: of_halves(&photos),
            clipped: all().filter(|it| it.clipped >= READABLE).count(),
        })
    }

    /// Ours over the plain method's.
    pub(crate) fn ratio(&self) -> f64 {
        self.ours / self.plain
    }

    pub(crate) fn line(&self, name: &str) -> String {
        let halves = self.halves.map_or_else(String::new, |[ours, plain]| {
            format!("  halves {ours:4.2} / {plain:4.2} = {:4.2}", ours / plain)
        });
        format!(
            "{name:<20} photos {:>4} n {:>5} ({:>3} clipped)  ours {:5.2} (p95 {:5.2})  plain {:5.2}  ratio {:4.2}  camera {:4.2}  U95 {:5.2} holds {:5.1} %{halves}",
            self.photos,
            self.readings,
            self.clipped,
            self.ours,
            self.p95,
            self.plain,
            self.ratio(),
            self.camera,
            self.u95,
            100.0 * self.inside,
        )
    }
}
