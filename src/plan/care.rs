//! What to beware of. Printed on every plan.

use super::material::{Coating, Pigment};

/// The usual cautions for these materials. They say where to look, not what is safe.
pub(crate) fn cautions(coatings: &[Coating], pigments: &[Pigment], outdoors: bool) -> Vec<String> {
    let mut all = vec![
        "Dry pigments are dusts: some hold silica, umbers hold manganese, others heavy metals. Weigh and stir them in without raising dust; wear the mask and gloves that the safety data sheet names; wipe up wet, don't sweep.".to_owned(),
    ];
    let pigments = pigments.iter().map(|it| (it.name.to_string(), &it.hazard));
    let coatings_too = coatings.iter().map(|it| (it.name.clone(), &it.hazard));
    let hazards = pigments.chain(coatings_too);
    all.extend(hazards.filter_map(|(name, it)| Some(format!("{name}: {}", it.as_ref()?))));
    if coatings.iter().any(Coating::is_mixed) {
        all.push("The parts of a two-part coating can sensitise skin and lungs, for good. No bare skin, fresh air, no food. Mixed coating that is left in a cup can get hot: spread it out to harden.".to_owned());
    }
    if outdoors {
        all.push("Sun and the lamps of exposure cabinets harm eyes and skin; dark patches get hot enough to burn.".to_owned());
    }
    all.push("The makers' safety data sheets and data sheets, your local codes (also for waste), and what is reserved to licensed people go before this sheet. It says nothing about whether a coating is safe, durable or permitted.".to_owned());
    all
}

/// How pigments are wetted out: as their makers say where that is known.
pub(super) fn wetting(pigments: &[Pigment]) -> Vec<String> {
    let mut all: Vec<String> = pigments
        .iter()
        .filter_map(|it| Some(format!("{}: {}", it.name, it.wetting.as_ref()?)))
        .collect();
    all.push("Wet each pigment out beforehand as its maker allows: rubbed to a paste with a little of the coating that is weighed for it, or with the maker's own liquid, which is not counted in the load. Stir again before each use: pigment settles.".to_owned());
    all
}

/// Luminous reflectance, 0–1, below which a colour counts as dark outdoors (common practice for exterior work, no source).
const DARK: f64 = 0.2;

/// What to beware of in the sun, for a colour of luminous reflectance `y`, 0–1; none where it isn't dark.
pub(crate) fn heat(y: f64) -> Option<String> {
    (y < DARK).then(|| {
        format!(
            "Dark (Y {:.0} %): in the sun it gets hot, wood and joints move more, resin may come out. Y sees nothing of the infrared half of sunlight: \
             another pigment of this colour may run hotter or cooler. Ask the coating's maker how dark it may be.",
            100.0 * y
        )
    })
}
