//! Proposed trials as a panel that is to be painted.

use super::{Kind, Next, Proposal};
use crate::mix::shelf::{PerCoat, WHITE as INERT};
use crate::panel::{Control, Meant, PigmentLoad, Place, Side, Start};

/// How the panel is to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Its id.
    pub id: String,
    /// The coating.
    pub coating: String,
    /// What most patches lie on.
    pub substrate: String,
    /// What one coat weighs.
    pub per_coat: PerCoat,
    /// Width and height of a patch, mm.
    pub patch_mm: [f64; 2],
    /// A card that lies beside it.
    pub card: String,
}

/// Patches in a row.
const IN_A_ROW: usize = 4;
/// Bare substrate between patches, mm: what hand-laid edges and the light's fit need (common practice, no source).
const BETWEEN_MM: f64 = 15.0;
/// Amounts this near to a whole number of coats are so many coats.
const WHOLE: f64 = 0.02;

/// The panel, for [`crate::panel::template`].
#[must_use]
pub fn start(next: &Next, board: &Board) -> Start {
    let count = next.proposals.len().max(1);
    let columns = count.min(IN_A_ROW);
    let all = next.proposals.iter();
    let in_coats = |it: &Proposal| it.coat.g_per_m2 / board.per_coat.g_per_m2;
    let coats = all.clone().next().map(|it| in_coats(it).round().max(1.0));
    Start {
        id: board.id.clone(),
        title: Some("Trials that would tell most".to_owned()),
        spreadsheet: None,
        rows: count.div_ceil(IN_A_ROW),
        columns,
        patch_mm: board.patch_mm,
        pitch_mm: Some(board.patch_mm.map(|it| it + BETWEEN_MM)),
        board_mm: None,
        first_mm: None,
        masked: None,
        cards: vec![(board.card.clone(), Place::Beside(Side::Right))],
        substrate: Some(board.substrate.clone()),
        coating: Some(board.coating.clone()),
        coats,
        patches: all
            .map(|it| {
                let is_whole = coats.is_some_and(|coats| (in_coats(it) - coats).abs() <= WHOLE);
                meant(it, board, !is_whole && !board.per_coat.is_nominal())
            })
            .collect(),
    }
}

fn meant(it: &Proposal, board: &Board, weighed: bool) -> Meant {
    let after = if it.mean_u95.is_finite() {
        format!(" Mean U95 after it: {:.2}.", it.mean_u95)
    } else {
        String::new()
    };
    let loads = it.coat.pigments.iter().map(|it| PigmentLoad {
        pigment: it.pigment.clone(),
        load: it.load,
    });
    let is_inert = it.coat.ground == INERT;
    Meant {
        note: format!("{}{after}", it.why),
        pigments: loads.collect(),
        control: (it.kind == Kind::Control).then_some(if is_inert {
            Control::ClearOnWhite
        } else {
            Control::Clear
        }),
        substrate: (it.coat.ground != board.substrate && !is_inert).then(|| it.coat.ground.clone()),
        wet_g_per_m2: weighed.then_some(it.coat.g_per_m2),
    }
}
