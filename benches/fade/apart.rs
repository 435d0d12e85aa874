//! What each exposure of a board is off by: where a season is read badly, and whether all patches of a photo are off together.

use super::board::{Run, Seen};
use super::compared::{Compared, Ours, compared};
use super::scale::{key, off};
use masstone::record::PhotoRecord;
use masstone_simulator::PatchTruth;
use nalgebra::Vector3;

/// Prints a board: its changes by exposure, then its photos with how far their colours moved since hour 0 that did not.
pub(crate) fn print(run: &Run) {
    let spec = &run.series.spec;
    println!(
        "-- {} (seed {}), leak {:?}, drift {}",
        spec.layout.id,
        run.series.seed,
        run.series.leak.map(|it| it.patch),
        run.series.drift.is_some()
    );
    let all = compared(run);
    for exposure in 1..run.series.doses.len() {
        let told: Vec<_> = all
            .iter()
            .filter(|it| it.exposure == exposure)
            .filter_map(|it| Some((it, it.ours.as_ref()?)))
            .collect();
        let ours: Vec<_> = told.iter().map(|(is, it)| it.change - is.truth).collect();
        let plain: Vec<_> = told.iter().map(|(is, _)| is.plain - is.truth).collect();
        println!(
            "   exposure {exposure}, changes: ours {}; plain {}",
            words(&ours),
            words(&plain)
        );
        worst(&told);
    }
    let start: Vec<_> = run.seen.iter().filter(|it| it.exposure == 0).collect();
    for seen in &run.seen {
        println!(
            "   photo of exposure {}: given {}; alone {}",
            seen.exposure,
            words(&only(moved(&start, seen, &seen.given))),
            words(&only(moved(&start, seen, &seen.alone)))
        );
        for (is, off) in farthest(&start, seen) {
            println!(
                "      {} {:?}, true {:.1?}, off {:+.1?}",
                is.id,
                is.half,
                is.lab,
                off.as_slice()
            );
        }
        if let Ok(it) = &seen.given {
            if let Some(drift) = &it.photo.correction.drift {
                println!(
                    "      drift {:+.2?}, covariance {:.2?}",
                    drift.lab, drift.covariance
                );
            }
            println!(
                "      {:?}, tone {:?}, left out {:?}, neutral alone {:?}",
                it.photo.correction.kind,
                it.photo.correction.tone,
                it.photo.correction.leave_one_out,
                it.photo.correction.neutral_alone
            );
        }
    }
}

/// Prints the changes that are farthest off.
fn worst(told: &[(&Compared, &Ours)]) {
    let mut all = told.to_vec();
    all.sort_by(|a, b| far(b).total_cmp(&far(a)));
    let falsely = |(is, it): &(&Compared, &Ours)| it.significant && is.truth_e < 0.05;
    let shown = all
        .iter()
        .enumerate()
        .filter(|(i, it)| *i < 4 || falsely(it));
    for (_, (is, it)) in shown {
        println!(
            "      {} change {:.2?}, told {:.2?}, plain {:.2?}; U95 {:.2}{}",
            is.patch,
            is.truth.as_slice(),
            it.change.as_slice(),
            is.plain.as_slice(),
            it.u95,
            if it.significant { ", changed" } else { "" }
        );
    }
}

fn far((is, it): &(&Compared, &Ours)) -> f64 {
    (it.change - is.truth).norm()
}

/// Errors of a photo's colours less the mean errors of the same halves at hour 0.
fn moved<'a>(
    start: &[&Seen],
    seen: &'a Seen,
    record: &Result<PhotoRecord, String>,
) -> Vec<(&'a PatchTruth, Vector3<f64>)> {
    off(seen, record)
        .into_iter()
        .filter_map(|(is, off)| {
            let same: Vec<_> = start
                .iter()
                .flat_map(|it| self::off(it, &it.alone))
                .filter(|it| key(it.0) == key(is))
                .map(|it| it.1)
                .collect();
            let zero = same.iter().sum::<Vector3<f64>>() / same.len() as f64;
            (!same.is_empty()).then(|| (is, off - zero))
        })
        .collect()
}

fn only(all: Vec<(&PatchTruth, Vector3<f64>)>) -> Vec<Vector3<f64>> {
    all.into_iter().map(|it| it.1).collect()
}

/// The halves that moved farthest.
fn farthest<'a>(start: &[&Seen], seen: &'a Seen) -> Vec<(&'a PatchTruth, Vector3<f64>)> {
    let mut all = moved(start, seen, &seen.given);
    all.sort_by(|a, b| b.1.norm().total_cmp(&a.1.norm()));
    all.truncate(3);
    all
}

/// The mean length, the mean of all (what they have in common) and the longest.
fn words(all: &[Vector3<f64>]) -> String {
    if all.is_empty() {
        return "none".to_owned();
    }
    let lengths: Vec<f64> = all.iter().map(|it| it.norm()).collect();
    let common = all.iter().sum::<Vector3<f64>>() / all.len() as f64;
    format!(
        "{:.2} (common {:+.2} {:+.2} {:+.2}; most {:.2}; {})",
        lengths.iter().sum::<f64>() / lengths.len() as f64,
        common.x,
        common.y,
        common.z,
        lengths.iter().copied().fold(0.0, f64::max),
        all.len()
    )
}
