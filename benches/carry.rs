//! Scratch.
#![expect(clippy::print_stdout, reason = "a command that prints its table")]
#[path = "../tests/correction/scene.rs"]
mod scene;
use masstone::colour::{Lab, Matrix, difference};
use masstone::correct::{Options, Outcome, Tone, correct};
use masstone::panel::Before;
use masstone::reference::references;
use masstone::sample::{RegionKind, sample};
use masstone_simulator as sim;
use nalgebra::Vector3;
use rayon::prelude::*;
use scene::{Kind, Shot, kind, plain, shoot};
use std::collections::BTreeMap;

fn v(l: Lab) -> Vector3<f64> {
    Vector3::new(l.l, l.a, l.b)
}
type Key = (String, bool);
fn outcome(shot: &Shot) -> Option<Outcome> {
    let s = sample(&shot.photo, &shot.panel, &shot.located);
    correct(
        &s,
        &references(&shot.panel, &s),
        &Options { tone: Tone::Auto },
    )
    .ok()
}
fn read(shot: &Shot, o: &Outcome) -> BTreeMap<Key, (Lab, Matrix, Matrix)> {
    let mut m = BTreeMap::new();
    for r in &o.readings {
        let (p, exposed) = match r.kind {
            RegionKind::Masked { patch } => (patch, false),
            RegionKind::Exposed { patch } => (patch, true),
            _ => continue,
        };
        if let Some(l) = r.lab {
            m.insert(
                (shot.panel.patches[p].id.clone(), exposed),
                (l, r.cov_own, r.cov_common),
            );
        }
    }
    m
}
fn truth(shot: &Shot) -> BTreeMap<Key, Vector3<f64>> {
    shot.truth
        .patches
        .iter()
        .map(|t| {
            (
                (t.id.clone(), t.half == sim::Half::Exposed),
                Vector3::from(t.lab),
            )
        })
        .collect()
}
fn plains(shot: &Shot) -> BTreeMap<Key, Vector3<f64>> {
    shot.truth
        .patches
        .iter()
        .zip(plain(shot))
        .map(|(t, l)| ((t.id.clone(), t.half == sim::Half::Exposed), v(l)))
        .collect()
}
fn main() {
    let n: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let (count, first, side) = (
        n.first().copied().unwrap_or(20),
        n.get(1).copied().unwrap_or(90_000),
        n.get(2).copied().unwrap_or(1200) as u32,
    );
    let specs: Vec<(u64, sim::SceneSpec)> = (0..)
        .map(|i| first + i)
        .map(|s| {
            (
                s,
                sim::SceneSpec::draw(sim::Mixture::Ordinary, sim::Split::Study, s),
            )
        })
        .filter(|it| {
            kind(&it.1) == Some(Kind::Grey)
                && it.1.layout.masked.is_some()
                && it.1.layout.cards.len() == 1
        })
        .take(count as usize)
        .collect();
    let rows: Vec<_> = specs
        .into_par_iter()
        .filter_map(|(seed, mut spec)| {
            spec.exposure = 0.0;
            let mut before: BTreeMap<Key, (Vector3<f64>, Matrix, Matrix)> = BTreeMap::new();
            let mut t0 = BTreeMap::new();
            for k in 0..2 {
                let shot = shoot(&spec.reshoot(k), side, false)?;
                t0 = truth(&shot);
                let o = outcome(&shot)?;
                for (key, (lab, own, common)) in read(&shot, &o) {
                    let e = before.entry(key).or_insert((
                        Vector3::zeros(),
                        Matrix::zeros(),
                        Matrix::zeros(),
                    ));
                    e.0 += v(lab) / 2.0;
                    e.1 += own / 4.0;
                    e.2 += common / 2.0;
                }
            }
            let mut later = spec.elsewhere(seed + 50_000_000);
            later.exposure = 0.4;
            let mut shot = shoot(&later, side, false)?;
            if shot.truth.cards.is_empty() {
                return None;
            }
            let alone = outcome(&shot)?;
            let alone = read(&shot, &alone);
            let pl = plains(&shot);
            let th = truth(&shot);
            for p in &mut shot.panel.patches {
                if let Some((lab, own, common)) = before.get(&(p.id.clone(), false)) {
                    p.before = Some(Before {
                        lab: Lab::new(lab.x, lab.y, lab.z),
                        own: *own,
                        common: *common,
                    });
                }
            }
            let o = outcome(&shot)?;
            let with = read(&shot, &o);
            // errors
            let mut rel = [Vec::new(), Vec::new()];
            let mut dd = [Vec::new(), Vec::new(), Vec::new(), Vec::new()];
            let mut size = Vec::new();
            for (key, t) in &th {
                let (Some(b), Some(t0v)) = (before.get(key), t0.get(key)) else {
                    continue;
                };
                let true_rel = t - t0v;
                let met = |d: Vector3<f64>| d.norm();
                if let Some(w) = with.get(key) {
                    rel[0].push((key.1, met(v(w.0) - b.0 - true_rel)));
                }
                if let Some(a) = alone.get(key) {
                    rel[1].push((key.1, met(v(a.0) - b.0 - true_rel)));
                }
                if key.1 {
                    let mk = (key.0.clone(), false);
                    let (Some(tm), Some(tm0), Some(bm)) =
                        (th.get(&mk), t0.get(&mk), before.get(&mk))
                    else {
                        continue;
                    };
                    let td = (t - tm) - (t0v - tm0);
                    let d = |m: &BTreeMap<Key, (Lab, Matrix, Matrix)>| {
                        Some(v(m.get(key)?.0) - v(m.get(&mk)?.0) - (b.0 - bm.0))
                    };
                    if let (Some(w), Some(a)) = (d(&with), d(&alone)) {
                        dd[0].push((w - td).norm());
                        dd[1].push((a - td).norm());
                        let p = pl[key] - pl[&mk];
                        dd[2].push((p - td).norm());
                        // exposed only, on the carried scale
                        let own = v(with[key].0) - b.0;
                        dd[3].push((own - td).norm());
                        size.push(td.norm());
                    }
                }
            }
            Some((
                seed,
                o.correction.kind,
                o.correction.leave_one_out,
                o.correction.neutral_alone,
                rel,
                dd,
                size,
                o.correction.drift,
            ))
        })
        .collect();
    let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len().max(1) as f64;
    let (mut r0, mut r1, mut d) = (vec![], vec![], [vec![], vec![], vec![], vec![]]);
    for (seed, kind, loo, neutral, rel, dd, size, drift) in &rows {
        let get = |i: usize, e: bool| {
            rel[i]
                .iter()
                .filter(|x| x.0 == e)
                .map(|x| x.1)
                .collect::<Vec<_>>()
        };
        println!(
            "{seed} {kind:?} loo {loo:.2?} neutral {neutral:.2?}: rel masked {:.2}/{:.2} exposed {:.2}/{:.2}; dd {:.2} alone {:.2} plain {:.2} expo-only {:.2} (size {:.2}); drift {:?} d2 {:.1}",
            mean(&get(0, false)),
            mean(&get(1, false)),
            mean(&get(0, true)),
            mean(&get(1, true)),
            mean(&dd[0]),
            mean(&dd[1]),
            mean(&dd[2]),
            mean(&dd[3]),
            mean(size),
            drift.map(|x| x.lab.map(|v| (v * 100.0).round() / 100.0)),
            drift.map_or(-1.0, |x| x.distance())
        );
        r0.extend(rel[0].iter().map(|x| x.1));
        r1.extend(rel[1].iter().map(|x| x.1));
        for i in 0..4 {
            d[i].extend(dd[i].iter().copied());
        }
    }
    println!(
        "relative: with {:.3} alone {:.3} ratio {:.3}; dd with {:.3} alone {:.3} plain {:.3} exposed-only {:.3} ratio {:.3}",
        mean(&r0),
        mean(&r1),
        mean(&r0) / mean(&r1),
        mean(&d[0]),
        mean(&d[1]),
        mean(&d[2]),
        mean(&d[3]),
        mean(&d[0]) / mean(&d[2])
    );
    let _ = difference::delta_e_2000;
}
