//! The photos of a series, and those that a slip of the hand gives.

use super::Series;
use crate::draw::{clutter, table};
use crate::layout::Place;
use crate::paint::Recipe;
use crate::random::stream;
use crate::spec::SceneSpec;

/// Photos that no exposure has as many of.
const SLIPS: u64 = 1000;

impl Series {
    /// The photos of an exposure: in other light and by another phone than every other, several of them from one place.
    #[must_use]
    pub fn shots(&self, exposure: usize) -> Vec<SceneSpec> {
        let first = self.scene(exposure, 0);
        let again = (1..self.photos[exposure]).map(|i| first.reshoot(i));
        std::iter::once(first.clone()).chain(again).collect()
    }

    /// A photo of an exposure with the board the other way up: beside a card that lies where the panel file says, or, where the
    /// file says that photos are upright, upside down in the picture. A measurer that goes by these witnesses alone names each patch
    /// by the one that lies opposite, and takes masked halves for exposed ones.
    #[must_use]
    pub fn turned(&self, exposure: usize) -> SceneSpec {
        let mut spec = self.scene(exposure, SLIPS);
        spec.pose.turn += 180.0;
        let layout = &mut spec.layout;
        let middle = [0, 1].map(|k| layout.board[k] / 2.0 - layout.first[k]);
        for card in &mut layout.cards {
            // Told by its place, it lies where it always does on the table: opposite on the board.
            if card.place != Place::Anywhere {
                card.centre = [0, 1].map(|k| 2.0 * middle[k] - card.centre[k]);
                card.angle += 180.0;
            }
        }
        let seed = self.scene_seed(exposure, SLIPS);
        spec.clutter = clutter(seed, spec.mixture, &spec.layout);
        (spec.table, spec.table_seed) = table(seed, spec.mixture, &spec.layout, spec.substrate);
        spec
    }

    /// A photo with another board of the same layout, other colours on it, as far exposed.
    #[must_use]
    pub fn other_board(&self, exposure: usize) -> SceneSpec {
        let mut spec = self.scene(exposure, SLIPS + 1);
        let mut rng = stream(self.seed, 33);
        for recipe in spec.layout.recipes.iter_mut().flatten() {
            *recipe = Recipe::draw(&mut rng);
        }
        spec.panel_seed ^= 0x6f74_6865_7220_626f;
        spec
    }

    fn scene_seed(&self, exposure: usize, which: u64) -> u64 {
        let step = exposure as u64 * 2 * SLIPS + which + 1;
        self.seed ^ step.wrapping_mul(0xd6e8_feb8_6659_fd93)
    }

    fn scene(&self, exposure: usize, which: u64) -> SceneSpec {
        let mut spec = self.spec.elsewhere(self.scene_seed(exposure, which));
        spec.ageing = Some(self.ageing(self.doses[exposure]));
        spec
    }
}
