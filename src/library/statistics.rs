//! Means of readings, and the parts of their uncertainty: pure numbers, no file.
//!
//! Readings of one specimen differ by what is their own, by what their photos have in common, and by what differs between photos
//! beyond both; specimens of one swatch differ by how they were mixed and laid. [`estimate`] keeps these parts apart. What a photo
//! has in common with itself (correction, card, camera) is taken as the same error in every photo of the same camera and card: it does
//! not average out there, which is the cautious side.

mod scatter;

pub use scatter::{Known, Scatter, Sharing, beyond_shared, scatter, weighted_mean};

use super::distribution::{NORMAL_95, chi_square_beyond, float, student_95};
use crate::colour::{Lab, Matrix, uncertainty};
use nalgebra::{Matrix3, Vector3};
use scatter::LEAST;

/// One reading as the mean sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Which specimen: any number, the same for the same.
    pub specimen: i64,
    /// Which photo.
    pub photo: i64,
    /// Which camera and cards: photos of one group share the common part's error.
    pub group: u64,
    /// L*, a*, b*.
    pub lab: Vector3<f64>,
    /// Covariance of its own.
    pub own: Matrix,
    /// Covariance common to the photo.
    pub common: Matrix,
}

/// The parts of the covariance of a mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    /// From within the photos: noise, unevenness, light where the patch lies.
    pub within_photo: Matrix,
    /// Common to a photo: correction, card, camera.
    pub common_to_photo: Matrix,
    /// From photo to photo, beyond what the readings have of their own.
    pub between_photos: Matrix,
    /// From specimen to specimen, beyond all these. Zero with one specimen, of which nobody can say.
    pub between_specimens: Matrix,
}

impl Parts {
    /// All of them.
    #[must_use]
    pub fn total(&self) -> Matrix {
        self.within_photo + self.common_to_photo + self.between_photos + self.between_specimens
    }
}

/// A mean of readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The colour.
    pub lab: Lab,
    /// Covariance of the colour, part by part.
    pub parts: Parts,
    /// Variance of one specimen about the mean of all, by channel; `None` with one specimen.
    pub specimen_scatter: Option<Vector3<f64>>,
    /// Variance of one photo about the mean of all, by channel; `None` where no specimen has two photos.
    pub photo_scatter: Option<Vector3<f64>>,
    /// How many specimens, and photos of them.
    pub specimens: usize,
    /// Readings of a specimen in a photo (its halves are one).
    pub photos: usize,
    /// Each point's weight, in the order given; they add up to 1.
    pub weights: Vec<f64>,
    /// The points that disagree with the others of their specimen beyond their uncertainty.
    pub disagreeing: Vec<usize>,
}

/// The fewest specimens that tell how much another would differ (common practice, no source).
pub const FEWEST: usize = 4;

impl Estimate {
    /// U95 of the colour itself: of this specimen if there is one, of the mean of all.
    #[must_use]
    pub fn u95(&self) -> Option<f64> {
        uncertainty::u95(self.lab, &self.parts.total())
    }

    /// U95 for one more specimen, made by the same people in the same way; `None` below [`FEWEST`] specimens, which may agree by chance:
    /// then the scatter beyond what their readings explain is estimated as nothing, which no factor widens.
    ///
    /// # Source
    /// The variance between specimens is known from few: it is widened by Student's t, JCGM 100:2008, G.3 and table G.2.
    #[must_use]
    pub fn u95_of_another(&self) -> Option<f64> {
        let scatter = self.specimen_scatter.filter(|_| self.specimens >= FEWEST)?;
        let widened = scatter * (student_95(self.specimens - 1) / NORMAL_95).powi(2);
        uncertainty::u95(
            self.lab,
            &(self.parts.total() + Matrix::from_diagonal(&widened)),
        )
    }
}

/// The mean of readings: weighted by what is known of each, first within specimens, then over them. `None` without any.
#[must_use]
pub fn estimate(points: &[Point]) -> Option<Estimate> {
    if points.is_empty() {
        return None;
    }
    let shots = shots(points);
    let mut specimens: Vec<i64> = shots.iter().map(|it| it.specimen).collect();
    specimens.sort_unstable();
    specimens.dedup();
    let of = |specimen: i64| -> Vec<usize> {
        (0..shots.len())
            .filter(|it| shots[*it].specimen == specimen)
            .collect()
    };
    let members: Vec<Vec<usize>> = specimens.iter().map(|it| of(*it)).collect();

    let photo_scatter = channels(&members, |shot| {
        (shots[shot].lab, shots[shot].own.diagonal())
    });
    let between_photos = photo_scatter.unwrap_or_default();
    // Within a specimen, photos by all that is known of them; the common part counts too: a photo with a poor card says less.
    let size = |shot: &Shot| (shot.own + shot.common).trace() + between_photos.sum();
    let mut weights = vec![0.0; shots.len()];
    for group in &members {
        let all: f64 = group.iter().map(|it| 1.0 / size(&shots[*it])).sum();
        for it in group {
            weights[*it] = 1.0 / size(&shots[*it]) / all;
        }
    }
    let means: Vec<Spread> = members
        .iter()
        .map(|group| spread(group, &shots, &weights, &between_photos))
        .collect();
    let specimen_scatter = (means.len() > 1).then(|| {
        let beyond = |channel: usize| {
            let values: Vec<Sharing> = (means.iter().zip(&members))
                .map(|(mean, group)| Sharing {
                    value: mean.lab[channel],
                    own: mean.own[(channel, channel)],
                    shares: of_photos(group, &shots, &weights),
                })
                .collect();
            beyond_shared(&values, between_photos[channel])
        };
        Vector3::from_fn(|channel, _| beyond(channel))
    });
    let between_specimens = specimen_scatter.unwrap_or_default();
    let size = |it: &Spread| (it.own + it.photos + it.common).trace() + between_specimens.sum();
    let sum: f64 = means.iter().map(|it| 1.0 / size(it)).sum();
    let shares: Vec<f64> = means.iter().map(|it| 1.0 / size(it) / sum).collect();
    for (group, share) in members.iter().zip(&shares) {
        for it in group {
            weights[*it] *= share;
        }
    }
    let every: Vec<usize> = (0..shots.len()).collect();
    let mean = spread(&every, &shots, &weights, &between_photos);
    let squares: f64 = shares.iter().map(|it| it * it).sum();
    Some(Estimate {
        lab: Lab::new(mean.lab.x, mean.lab.y, mean.lab.z),
        parts: Parts {
            within_photo: mean.own,
            common_to_photo: mean.common,
            between_photos: mean.photos,
            between_specimens: Matrix::from_diagonal(&(between_specimens * squares)),
        },
        specimen_scatter,
        photo_scatter,
        specimens: specimens.len(),
        photos: shots.len(),
        weights: {
            let mut of_points = vec![0.0; points.len()];
            for (shot, weight) in shots.iter().zip(&weights) {
                for (point, share) in &shot.points {
                    of_points[*point] = weight * share;
                }
            }
            of_points
        },
        disagreeing: disagreeing(&members, &shots),
    })
}

/// The difference of the means of two sets of readings (the second less the first), and its covariance. `None` if one is empty.
///
/// What a photo has in common with itself cancels as far as both means rest on the same photo; in different photos, of whatever camera, it is
/// taken as different errors. For a mean the cautious side is the other one.
#[must_use]
pub fn contrast(one: &[Point], other: &[Point]) -> Option<(Vector3<f64>, Matrix)> {
    let (first, second) = (estimate(one)?, estimate(other)?);
    let signed = |points: &[Point], of: &Estimate, sign: f64| -> Vec<(Point, f64)> {
        let weights = of.weights.iter().map(|it| sign * it);
        points.iter().copied().zip(weights).collect()
    };
    let mut all = signed(one, &first, -1.0);
    all.extend(signed(other, &second, 1.0));
    let mut apart = Vector3::zeros();
    let mut covariance = first.parts.between_specimens + second.parts.between_specimens;
    let mut roots: Vec<(i64, Matrix)> = Vec::new();
    for (point, weight) in &all {
        apart += point.lab * *weight;
        covariance += point.own * weight.powi(2);
        let root = square_root(&point.common) * *weight;
        match roots.iter_mut().find(|it| it.0 == point.photo) {
            Some(it) => it.1 += root,
            None => roots.push((point.photo, root)),
        }
    }
    covariance += roots
        .iter()
        .map(|it| it.1 * it.1.transpose())
        .sum::<Matrix>();
    // What is between photos is the same error in both means, too, where they rest on the same photo.
    let (first_points, second_points) = all.split_at(one.len());
    let mut shifts: Vec<(i64, Vector3<f64>)> = Vec::new();
    for (points, of) in [(first_points, &first), (second_points, &second)] {
        let sd = of.photo_scatter.unwrap_or_default().map(f64::sqrt);
        for (point, weight) in points {
            match shifts.iter_mut().find(|it| it.0 == point.photo) {
                Some(it) => it.1 += sd * *weight,
                None => shifts.push((point.photo, sd * *weight)),
            }
        }
    }
    for (_, shift) in shifts {
        covariance += Matrix::from_diagonal(&shift.component_mul(&shift));
    }
    Some((apart, covariance))
}

/// A specimen in a photo: its halves, where both were fresh, are one.
struct Shot {
    specimen: i64,
    photo: i64,
    group: u64,
    lab: Vector3<f64>,
    own: Matrix,
    common: Matrix,
    /// Its points with their shares.
    points: Vec<(usize, f64)>,
}

fn shots(points: &[Point]) -> Vec<Shot> {
    let mut shots: Vec<Shot> = Vec::new();
    for (index, it) in points.iter().enumerate() {
        let same = |shot: &&mut Shot| shot.specimen == it.specimen && shot.photo == it.photo;
        match shots.iter_mut().find(same) {
            Some(shot) => shot.points.push((index, 0.0)),
            None => shots.push(Shot {
                specimen: it.specimen,
                photo: it.photo,
                group: it.group,
                lab: it.lab,
                own: it.own,
                common: it.common,
                points: vec![(index, 1.0)],
            }),
        }
    }
    for shot in shots.iter_mut().filter(|it| it.points.len() > 1) {
        let size = |point: usize| (points[point].own + points[point].common).trace();
        let all: f64 = shot.points.iter().map(|it| 1.0 / size(it.0)).sum();
        shot.lab = Vector3::zeros();
        shot.own = Matrix::zeros();
        let mut root = Matrix::zeros();
        for (point, share) in &mut shot.points {
            *share = 1.0 / size(*point) / all;
            shot.lab += points[*point].lab * *share;
            shot.own += points[*point].own * share.powi(2);
            root += square_root(&points[*point].common) * *share;
        }
        shot.common = root * root.transpose();
    }
    shots
}

/// A weighted mean of shots and the parts of its covariance.
struct Spread {
    lab: Vector3<f64>,
    own: Matrix,
    common: Matrix,
    photos: Matrix,
}

fn spread(
    which: &[usize],
    shots: &[Shot],
    weights: &[f64],
    between_photos: &Vector3<f64>,
) -> Spread {
    let sum: f64 = which.iter().map(|it| weights[*it]).sum();
    let mut mean = Spread {
        lab: Vector3::zeros(),
        own: Matrix::zeros(),
        common: Matrix::zeros(),
        photos: Matrix::zeros(),
    };
    // One error a group of photos; errors of different groups are independent.
    let mut roots: Vec<(u64, Matrix)> = Vec::new();
    for it in which {
        let (shot, share) = (&shots[*it], weights[*it] / sum);
        mean.lab += shot.lab * share;
        mean.own += shot.own * share.powi(2);
        let root = square_root(&shot.common) * share;
        match roots.iter_mut().find(|other| other.0 == shot.group) {
            Some(other) => other.1 += root,
            None => roots.push((shot.group, root)),
        }
    }
    mean.common = roots.iter().map(|it| it.1 * it.1.transpose()).sum();
    // Patches of one photo share what is between photos, too.
    let of_photos = of_photos(which, shots, weights);
    let squares: f64 = of_photos.iter().map(|it| it.1.powi(2)).sum();
    mean.photos = Matrix::from_diagonal(&(between_photos * squares));
    mean
}

/// How much of each photo is in the mean of these shots; the shares add up to 1.
fn of_photos(which: &[usize], shots: &[Shot], weights: &[f64]) -> Vec<(i64, f64)> {
    let sum: f64 = which.iter().map(|it| weights[*it]).sum();
    let mut photos: Vec<(i64, f64)> = Vec::new();
    for it in which {
        let (photo, share) = (shots[*it].photo, weights[*it] / sum);
        match photos.iter_mut().find(|other| other.0 == photo) {
            Some(other) => other.1 += share,
            None => photos.push((photo, share)),
        }
    }
    photos
}

fn square_root(covariance: &Matrix) -> Matrix {
    uncertainty::square_root(covariance).unwrap_or_else(Matrix::zeros)
}

/// The scatter beyond the known variances, channel by channel; `None` where no group has two.
fn channels(
    groups: &[Vec<usize>],
    known: impl Fn(usize) -> (Vector3<f64>, Vector3<f64>),
) -> Option<Vector3<f64>> {
    if groups.iter().all(|it| it.len() < 2) {
        return None;
    }
    let beyond = |channel: usize| {
        let groups: Vec<Vec<Known>> = groups
            .iter()
            .map(|group| {
                let known = group.iter().map(|it| known(*it));
                known
                    .map(|(value, variance)| Known {
                        value: value[channel],
                        variance: variance[channel].max(LEAST),
                    })
                    .collect()
            })
            .collect();
        scatter(&groups).beyond
    };
    Some(Vector3::from_fn(|channel, _| beyond(channel)))
}

/// How sure it must be that readings disagree, over all readings of a specimen together.
const BEYOND: f64 = 0.05;

/// Points that lie beyond the joint uncertainty from the mean of their specimen's other photos.
fn disagreeing(members: &[Vec<usize>], shots: &[Shot]) -> Vec<usize> {
    let mut found = Vec::new();
    for group in members.iter().filter(|it| it.len() > 1) {
        let mut values: Vec<(Vector3<f64>, Matrix)> = Vec::with_capacity(group.len());
        values.extend(
            group
                .iter()
                .map(|it| (shots[*it].lab, shots[*it].own + shots[*it].common)),
        );
        for (index, it) in group.iter().enumerate() {
            let others = values.iter().enumerate().filter(|other| other.0 != index);
            let (mut sum, mut mean, mut covariance) = (0.0, Vector3::zeros(), Matrix::zeros());
            for (_, (lab, variance)) in others {
                let weight = 1.0 / variance.trace().max(f64::MIN_POSITIVE);
                sum += weight;
                mean += lab * weight;
                covariance += variance * weight.powi(2);
            }
            let apart = values[index].0 - mean / sum;
            let joint = values[index].1 + covariance / (sum * sum);
            if chance(&apart, &joint) < BEYOND / float(group.len()) {
                found.extend(shots[*it].points.iter().map(|it| it.0));
            }
        }
    }
    found.sort_unstable();
    found
}

/// The chance of a difference at least this far out, if there is none in truth: 0–1. 0 where the covariance is singular and the
/// difference is not nothing.
#[must_use]
pub fn chance(difference: &Vector3<f64>, covariance: &Matrix) -> f64 {
    if difference.norm() < 1e-12 {
        return 1.0;
    }
    match (covariance + Matrix3::identity() * 1e-12).try_inverse() {
        Some(inverse) => chi_square_beyond(difference.dot(&(inverse * difference)), 3),
        None => 0.0,
    }
}
