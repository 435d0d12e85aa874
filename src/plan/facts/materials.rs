//! One coating or pigment: what a user says of it, else what the library holds.

use super::given::{Given, named, said};
use crate::library::catalog::{self, Stock};
use crate::plan::taken::{HELD, SAID, Taken, said_or_held};
use crate::plan::{Coating, GONE, Part, Pigment, PigmentName, PlanError, Price};

/// A coating, and where what is known of it was taken from.
pub(super) fn coating(
    name: &str,
    held: Option<&catalog::Coating>,
    given: &Given,
    taken: &mut Vec<Taken>,
) -> Result<Coating, PlanError> {
    let mut coating = mixed(name, held, given, taken)?;
    let mut known = |what: &str, unit: &str, said: Option<f64>, held: Option<f64>| {
        let (value, from) = said_or_held(said, held)?;
        taken.push(Taken::new(
            format!("{what} of {name}"),
            format!("{value} {unit}"),
            from,
        ));
        Some(value)
    };
    coating.pot_life_min = known(
        "pot life",
        "minutes",
        said(&given.pot_lives, name).copied(),
        held.and_then(|it| it.pot_life_min),
    );
    coating.coat_g_per_m2 = known(
        "wet coating of a coat",
        "g/m²",
        said(&given.per_coat, name).copied(),
        held.and_then(|it| it.coat_g_per_m2),
    );
    coating.g_per_ml = known(
        "density",
        "g/ml",
        named(&given.densities, name),
        held.and_then(|it| it.density_g_per_cm3),
    );
    coating.price = price(&coating, held, given, taken)?;
    coating.hazard = held.and_then(|it| it.hazard.clone());
    coating.stock = held.and_then(|it| stock(it.stock));
    Ok(coating)
}

/// Its parts and their ratio by mass.
fn mixed(
    name: &str,
    held: Option<&catalog::Coating>,
    given: &Given,
    taken: &mut Vec<Taken>,
) -> Result<Coating, PlanError> {
    let densities = said(&given.densities_of_parts, name);
    let ratio = said(&given.ratios, name);
    let mut coating = match (ratio, densities, held) {
        (Some(ratio), densities, _) if given.by_volume => {
            Coating::by_volume(name, ratio, densities.map_or(&[], Vec::as_slice))?
        }
        (Some(ratio), _, _) => Coating::by_mass(name, ratio)?,
        // What comes in one tin has no parts there.
        (None, _, Some(held)) if held.parts.is_empty() => Coating::by_mass(name, &[1.0])?,
        (None, _, Some(held)) => {
            let ratio: Vec<f64> = held.parts.iter().map(|it| it.by_mass).collect();
            Coating::by_mass(name, &ratio)?
        }
        (None, _, None) => {
            return Err(PlanError::NoRatio {
                coating: name.to_owned(),
            });
        }
    };
    // Who states another ratio means the same parts.
    if let Some(held) = held.filter(|it| it.parts.len() == coating.parts.len()) {
        for (part, held) in coating.parts.iter_mut().zip(&held.parts) {
            part.name.clone_from(&held.name);
        }
    }
    if let (Some(densities), false) = (densities, given.by_volume) {
        if densities.len() != coating.parts.len() {
            return Err(PlanError::Densities {
                coating: name.to_owned(),
                parts: coating.parts.len(),
                densities: densities.len(),
            });
        }
        for (part, density) in coating.parts.iter_mut().zip(densities) {
            part.g_per_ml = Some(*density);
        }
    }
    if coating.is_mixed() {
        let parts = coating.parts.iter();
        let parts: Vec<String> = parts
            .map(|it| format!("{} {} %", it.name, (1e4 * it.share).round() / 100.0))
            .collect();
        taken.push(Taken::new(
            format!("mixing ratio of {name}, by mass"),
            parts.join(", "),
            if ratio.is_some() { SAID } else { HELD },
        ));
    } else if ratio.is_none() {
        // Who wrote down its price only may have left out that it is mixed from parts: then nothing would harden.
        taken.push(Taken::new(
            format!("mixing ratio of {name}"),
            "none: it comes ready in one tin",
            HELD,
        ));
    }
    Ok(coating)
}

/// What the coating's price is of. What a user says goes before what the library holds, and there the price as mixed goes before
/// those of the parts, as it does in the library itself.
fn price(
    coating: &Coating,
    held: Option<&catalog::Coating>,
    given: &Given,
    taken: &mut Vec<Taken>,
) -> Result<Price, PlanError> {
    let name = &coating.name;
    let said_whole = named(&given.prices, name);
    let said_of = |part: &Part| {
        let of_this = named(&given.prices, &format!("{name}: {}", part.name));
        of_this.or_else(|| named(&given.prices, &part.name))
    };
    // A coating of one part is its part.
    let parts: &[Part] = if coating.is_mixed() {
        &coating.parts
    } else {
        &[]
    };
    let said_part = parts.iter().find(|it| said_of(it).is_some());
    if let (Some(_), Some(part)) = (said_whole, said_part) {
        return Err(PlanError::TwoPrices {
            coating: name.clone(),
            part: part.name.clone(),
        });
    }
    let held_whole = held
        .and_then(|it| it.price_per_kg)
        .filter(|_| said_part.is_none());
    if let Some((price, from)) = said_or_held(said_whole, held_whole) {
        taken.push(Taken::new(
            format!("price of {name}, as mixed"),
            format!("{price} a kilogram"),
            from,
        ));
        return Ok(Price::Mixed(price));
    }
    let mut prices = Vec::new();
    for part in parts {
        let held = held.and_then(|it| it.parts.iter().find(|it| it.name == part.name));
        let known = said_or_held(said_of(part), held.and_then(|it| it.price_per_kg));
        if let Some((price, from)) = known {
            taken.push(Taken::new(
                format!("price of {name}: {}", part.name),
                format!("{price} a kilogram"),
                from,
            ));
        }
        prices.push(known.map(|it| it.0));
    }
    Ok(if prices.iter().any(Option::is_some) {
        Price::Parts(prices)
    } else {
        Price::Unknown
    })
}

/// What is known of a pigment, and where that was taken from.
pub(super) fn pigment(
    name: &PigmentName,
    held: Option<&catalog::Pigment>,
    given: &Given,
    taken: &mut Vec<Taken>,
) -> Pigment {
    let lot = held.and_then(|it| it.lots.iter().find(|it| Some(&it.lot) == name.lot.as_ref()));
    let price = said_or_held(
        named(&given.prices, &name.pigment),
        held.and_then(|it| it.price(name.lot.as_deref())),
    );
    if let Some((price, from)) = price {
        taken.push(Taken::new(
            format!("price of {name}"),
            format!("{price} a kilogram"),
            from,
        ));
    }
    Pigment {
        name: name.clone(),
        maker_name: held.and_then(|it| it.maker_name.clone()),
        price_per_kg: price.map(|it| it.0),
        g_per_ml: named(&given.densities, &name.pigment)
            .or(held.and_then(|it| it.density_g_per_cm3)),
        hazard: held.and_then(|it| it.hazard.clone()),
        wetting: held.and_then(|it| it.wetting.clone()),
        stock: lot
            .map(|it| it.stock)
            .or(held.map(|it| it.stock))
            .and_then(stock),
    }
}

/// How much there is, where that is a reason to look.
fn stock(stock: Stock) -> Option<String> {
    match stock {
        Stock::Here => None,
        Stock::RunningOut => Some("running out".to_owned()),
        Stock::Gone => Some(GONE.to_owned()),
    }
}
