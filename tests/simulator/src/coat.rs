//! Coats as laid and as aged: what every half of a patch reflects, and the board between them.

use crate::ageing::Wear;
use crate::layout::Xy;
use crate::paint::{Recipe, Substrate};
use crate::random::{between, normal, stream};
use crate::spec::SceneSpec;
use crate::spectrum::{Spectrum, as_f64};
use crate::surface::Material;

/// One patch as its two halves were laid by hand.
#[derive(Clone, Debug)]
pub(crate) struct Laid<'a> {
    pub id: String,
    pub at: Xy,
    pub size: Xy,
    pub recipe: &'a Recipe,
    /// Film of the masked and the exposed half, 1 as the recipe says.
    pub films: [f64; 2],
    /// What has happened to them.
    pub wear: [Wear; 2],
}

impl Laid<'_> {
    /// What a half reflects, worn like this.
    pub(crate) fn material(&self, spec: &SceneSpec, half: usize, wear: Wear) -> Material {
        coat(spec, self.recipe, self.films[half], wear)
    }
}

/// The patches of the grid in cell order, then those off the grid; without the empty ones.
pub(crate) fn laid(spec: &SceneSpec) -> Vec<Laid<'_>> {
    let layout = &spec.layout;
    let mut rng = stream(spec.panel_seed, 11);
    let grid = layout.recipes.iter().enumerate().map(|(i, recipe)| {
        (
            layout.name(i),
            layout.cell(i),
            layout.patch,
            recipe.as_ref(),
        )
    });
    let off = layout
        .off
        .iter()
        .map(|it| (it.id.clone(), it.at, it.size, Some(&it.recipe)));
    let mut out = Vec::new();
    for (id, at, size, recipe) in grid.chain(off) {
        // An empty cell draws, too: what is laid elsewhere doesn't depend on it.
        let films = [(); 2].map(|()| 1.0 + normal(&mut rng, spec.half_difference));
        let (fade, twist) = (between(&mut rng, 0.2, 1.0), normal(&mut rng, 1.0));
        let Some(recipe) = recipe else { continue };
        let wear = match &spec.ageing {
            Some(ageing) => ageing.patches.get(out.len()).copied().unwrap_or_default(),
            None => [Wear::default(), faded_by(fade * spec.exposure, twist)],
        };
        out.push(Laid {
            id,
            at,
            size,
            recipe,
            films,
            wear,
        });
    }
    out
}

/// Colour is lost, and the coating yellows and then bleaches: where nothing but an exposure is said.
fn faded_by(fade: f64, twist: f64) -> Wear {
    let twist = twist.clamp(-1.5, 1.5);
    Wear {
        fading: fade,
        yellowing: fade * (0.30 + 0.20 * twist),
        lightening: 0.12 * fade * twist,
        ground: 0.0,
    }
}

/// A coat of a recipe on its ground, worn.
fn coat(spec: &SceneSpec, recipe: &Recipe, film: f64, wear: Wear) -> Material {
    let (mean, grain) = if recipe.on_white {
        (Substrate::WhiteBoard.surface().0, Spectrum::flat(0.0))
    } else {
        let (mean, grain) = spec.substrate.surface();
        (mean.lerp(&weathered(), wear.ground), grain)
    };
    let ground = mean.zip(&grain, |m, g| m + spec.grain * g);
    let other = mean.zip(&grain, |m, g| m - spec.grain * g);
    let mut faded = recipe.clone();
    for (pigment, load) in &mut faded.pigments {
        let sensitive = 0.3 + 0.7 * as_f64((*pigment * 7) % 5) / 4.0;
        *load *= 1.0 - 0.85 * wear.fading * sensitive;
    }
    let yellowed = Spectrum::from_nm(|nm| {
        let blue = (-((nm - 400.0) / 70.0).powi(2)).exp();
        1.0 - wear.yellowing * blue + wear.lightening
    });
    let laid = |film: f64, ground: &Spectrum| {
        faded
            .over(ground, film)
            .times(&yellowed)
            .map(|it| it.clamp(0.002, 0.98))
    };
    let (late, early) = (laid(film, &ground), laid(film, &other));
    let base = late.lerp(&early, 0.5);
    let grain = late.zip(&early, |l, e| 0.5 * (l - e));
    let thicker = laid(film * (1.0 + 4.0 * spec.mottle), &mean);
    let thinner = laid(film * (1.0 - 4.0 * spec.mottle).max(0.3), &mean);
    let mottle = thicker
        .zip(&thinner, |a, b| 0.5 * (a - b))
        .zip(&base, |film, level| film + spec.mottle * level);
    Material {
        base,
        mottle,
        grain,
    }
}

/// What wood becomes outdoors.
fn weathered() -> Spectrum {
    Spectrum::from_nm(|nm| 0.20 + 0.00015 * (nm - 380.0))
}

/// Wood greys and darkens; boards of other kinds hardly change.
pub(crate) fn aged_substrate(wood: &Material, substrate: Substrate, exposure: f64) -> Material {
    let amount = match substrate {
        Substrate::Larch | Substrate::PaleWood => 0.45,
        Substrate::StainedWood => 0.25,
        _ => 0.06,
    } * exposure;
    Material {
        base: wood.base.lerp(&weathered(), amount),
        ..*wood
    }
}
