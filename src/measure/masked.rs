//! What a board was before any sun, as references for its later photos.

use crate::colour::{Lab, Matrix};
use crate::flag::UNSURE;
use crate::panel::{Before, Panel};
use crate::record::{Half, PanelEntry, PhotoRecord, Reading};
use crate::sample::float;
use nalgebra::{Matrix3, Vector3};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// The colours of a board's masked halves, and of its patches that stay indoors, at dose 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Masked {
    board: PanelEntry,
    halves: BTreeMap<String, Before>,
    digest: String,
}

impl Masked {
    /// From records of photos at dose 0 of one board: masked halves, and whole patches whose id is among `indoors`. Records of other boards
    /// than the first, and of later doses, are passed over, and so is the same photo when it comes again; none if nothing can serve. The order
    /// of one board's records changes nothing.
    #[must_use]
    pub fn of(records: &[PhotoRecord], indoors: &[String]) -> Option<Self> {
        let mut fresh: Vec<&PhotoRecord> = records
            .iter()
            .filter(|it| it.photo.stated_dose().is_start())
            .collect();
        let board = fresh.first()?.photo.panel.clone();
        fresh.retain(|it| it.photo.panel.same_board(&board));
        fresh.sort_by_key(|it| &it.photo.sha256);
        fresh.dedup_by_key(|it| &it.photo.sha256);
        let mut seen: BTreeMap<String, Vec<&Reading>> = BTreeMap::new();
        for record in fresh {
            let serves = |it: &&Reading| match it.half {
                Half::Masked => true,
                Half::Whole => indoors.contains(&it.patch),
                Half::Exposed => false,
            };
            let sure = |it: &&Reading| !UNSURE.iter().any(|flag| it.has(*flag));
            for reading in record.readings.iter().filter(serves).filter(sure) {
                seen.entry(reading.patch.clone()).or_default().push(reading);
            }
        }
        let halves: BTreeMap<String, Before> = seen
            .into_iter()
            .filter_map(|(patch, readings)| Some((patch, mean(&readings)?)))
            .collect();
        (!halves.is_empty()).then(|| Self {
            digest: digest(&halves),
            board,
            halves,
        })
    }

    /// SHA-256 of the colours, lower-case hexadecimal.
    #[must_use]
    pub fn digest(&self) -> &str {
        &self.digest
    }

    /// The panel with what its patches were; as it is if it is another board.
    pub(super) fn onto(&self, panel: &Panel) -> Panel {
        let mut panel = panel.clone();
        if self.board.same_board(&PanelEntry::from(&panel)) {
            for patch in &mut panel.patches {
                patch.before = self.halves.get(&patch.id).copied();
            }
        }
        panel
    }
}

/// What photos share is not less in their mean.
fn mean(readings: &[&Reading]) -> Option<Before> {
    let n = float(readings.len());
    let (mut lab, mut own, mut common) = (Vector3::zeros(), Matrix::zeros(), Matrix::zeros());
    for it in readings {
        let colour = it.lab()?;
        lab += Vector3::new(colour.l, colour.a, colour.b) / n;
        own += matrix(it.cov_own?) / (n * n);
        common += matrix(it.cov_common?) / n;
    }
    Some(Before {
        lab: Lab::new(lab.x, lab.y, lab.z),
        own,
        common,
    })
}

fn matrix(rows: [[f64; 3]; 3]) -> Matrix {
    Matrix3::from_fn(|row, column| rows[row][column])
}

fn digest(halves: &BTreeMap<String, Before>) -> String {
    let mut text = String::new();
    for (patch, it) in halves {
        let Lab { l, a, b, .. } = it.lab;
        // Writing to a string can't fail.
        let _ = writeln!(text, "{patch:?} {l:.6} {a:.6} {b:.6} {:?}", it.own.trace());
    }
    let mut hex = String::new();
    for byte in Sha256::digest(text.as_bytes()) {
        let _ = write!(hex, "{byte:02x}");
    }
    hex
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::Side;
    use crate::sample::tests_support::panel_2x2;

    fn reading(l: f64) -> Reading {
        let diagonal =
            |it: f64| [0, 1, 2].map(|i| [0, 1, 2].map(|j| if i == j { it } else { 0.0 }));
        serde_json::from_value(serde_json::json!({
            "photo": "0.jpg", "panel": "test", "patch": "A1", "half": "masked", "hours": 0.0,
            "L": l, "a": 1.0, "b": 2.0, "C": 2.2, "h": 63.0, "hex": "#777777",
            "sd_L": 0.1, "sd_a": 0.1, "sd_b": 0.1, "unevenness": 0.1, "pixels": 900, "left_out": 0.0,
            "U95": 1.0, "correction": "neutral", "flags": [], "outline": [[0, 0], [1, 0], [1, 1], [0, 1]],
            "cov_own": diagonal(0.4), "cov_common": diagonal(0.9), "components": [],
        }))
        .unwrap()
    }

    #[test]
    fn photos_make_a_mean_surer_but_not_what_they_share() {
        let found = mean(&[&reading(50.0), &reading(52.0)]).unwrap();
        assert!((found.lab.l - 51.0).abs() < 1e-12 && (found.lab.b - 2.0).abs() < 1e-12);
        assert!((found.own - Matrix::identity() * 0.2).amax() < 1e-12);
        assert!((found.common - Matrix::identity() * 0.9).amax() < 1e-12);
        let unsure = Reading {
            cov_own: None,
            ..reading(50.0)
        };
        assert!(mean(&[&reading(50.0), &unsure]).is_none());
    }

    #[test]
    fn only_the_same_board_gets_what_its_patches_were() {
        let mut panel = panel_2x2();
        for it in &mut panel.patches {
            it.masked = Some(Side::Left);
        }
        let before = mean(&[&reading(50.0)]).unwrap();
        let halves = BTreeMap::from([("A1".to_owned(), before)]);
        let masked = Masked {
            board: PanelEntry::from(&panel),
            digest: digest(&halves),
            halves,
        };
        let with = masked.onto(&panel);
        assert_eq!(with.patches[0].before, Some(before));
        assert!(with.patches[1..].iter().all(|it| it.before.is_none()));
        let (place, _) = with.patches[0].unchanged().unwrap();
        assert_eq!(Some(place), with.patches[0].masked_half());
        // The name of its file is no other board, a mask on the other side is.
        let mut moved = panel.clone();
        moved.path = Some("elsewhere.toml".into());
        assert!(masked.onto(&moved).patches[0].before.is_some());
        moved.patches[3].masked = Some(Side::Right);
        assert_eq!(masked.onto(&moved), moved);
    }
}
