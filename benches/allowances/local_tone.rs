//! Local tone mapping: how often it is found, and whether what is stated of it holds.

use super::scene::mean;
use super::{Study, log_luminance, log_sd, quantile, spread};
use masstone::correct::{ComponentName, Tone};

/// Strengths of local tone mapping to look for: none, the ordinary mixture's ends and middle, the hard one's.
const STRENGTHS: [f64; 5] = [0.0, 0.05, 0.085, 0.12, 0.2];

impl Study {
    /// Local tone mapping against none, everything else as drawn: how often it is found, and whether what is stated of it holds.
    pub(super) fn local_tone(&self) {
        let scenes = self.scenes(None);
        let with = |strength: f64| {
            let mut scenes = scenes.clone();
            for it in &mut scenes {
                it.camera.local_tone = strength;
            }
            self.all(&scenes, Tone::Auto)
        };
        let without = with(0.0);
        println!("== local tone mapping: {} photos", scenes.len());
        for strength in STRENGTHS {
            let read = if strength > 0.0 {
                with(strength)
            } else {
                without.clone()
            };
            let told: Vec<_> = read
                .iter()
                .flatten()
                .filter_map(|it| it.1.correction.local_tone)
                .collect();
            if std::env::args().any(|it| it == "verbose") {
                for (spec, read) in scenes.iter().zip(&read) {
                    if let Some(it) = read.as_ref().and_then(|it| it.1.correction.local_tone) {
                        println!(
                            "  {:+.3} ± {:.3} ({:+.1}) range {:.2} masked {:?} {:?} cards {} shadows {} highlights {} mottle {:.3} second {}",
                            it.strength,
                            it.sd,
                            (it.strength - strength) / it.sd,
                            it.range,
                            spec.layout.masked,
                            spec.substrate,
                            spec.layout.cards.len(),
                            spec.shadows.len(),
                            spec.highlights.len(),
                            spec.mottle,
                            spec.second.is_some()
                        );
                    }
                }
            }
            let off = told.iter().map(|it| (it.strength - strength) / it.sd);
            let (mut moved, mut normal) = (Vec::new(), Vec::new());
            for ((a, _), (b, outcome)) in without
                .iter()
                .zip(&read)
                .filter_map(|(a, b)| a.as_ref().zip(b.as_ref()))
            {
                for (a, b) in a.iter().zip(b).filter(|it| it.1.clipped < 0.05) {
                    let Some(stated) = b
                        .ours
                        .and_then(|_| log_sd(outcome, b, ComponentName::LocalTone))
                    else {
                        continue;
                    };
                    if let (Some(a), Some(b)) = (a.ours, b.ours) {
                        let off = log_luminance(b) - log_luminance(a);
                        moved.push(off);
                        normal.push(off / stated);
                    }
                }
            }
            println!(
                "strength {strength:.2}: seen in {:.1} % of {} photos; found {:.3} ± {:.3}, off by {:.2} ± {:.2} of the stated sd; light moved by {:.4} (95 %: {:.4}), over the stated 95 % within {:.2}",
                100.0 * mean(told.iter().map(|it| f64::from(u8::from(it.is_seen())))),
                told.len(),
                mean(told.iter().map(|it| it.strength)),
                mean(told.iter().map(|it| it.sd)),
                mean(off.clone()),
                spread(&off.collect::<Vec<_>>())[1],
                mean(moved.iter().map(|it| it * it)).sqrt(),
                quantile(moved.iter().copied(), 0.95),
                quantile(normal.iter().copied(), 0.95),
            );
        }
    }
}
