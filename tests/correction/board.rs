//! Boards whose own colour is stated.

use super::scene::Shot;
use masstone::colour::Lab;
use masstone::panel::KnownColour;
use masstone_simulator as sim;

/// The same shot with the board's colour stated, as measured beforehand.
pub(crate) fn stating_board(mut shot: Shot) -> Shot {
    let (mean, _) = shot.truth.spec.substrate.surface();
    let [l, a, b] = sim::lab(&sim::xyz_d50(&mean));
    shot.panel.board_colour = Some(KnownColour {
        lab: Lab::new(l, a, b),
        u95: Some(0.5),
        reflectance: None,
    });
    shot
}
