//! Kinds of dose: units of radiant exposure, and the band that it is of.
//!
//! One kind is written one way: whatever unit a file states becomes MJ/m² of the same band, or kJ/m² a nanometre where the exposure is
//! of one wavelength. Bands are never turned into each other, since what share one has of another depends on the sky.

use crate::panel::source::{nearest, words};
use crate::record::significant;

/// What a radiant exposure counts.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct DoseKind {
    /// Unit and band as records have them, such as `MJ/m2 UV 295-385 nm`.
    pub name: String,
    /// As the file states it, with blanks and signs put in order.
    pub stated: String,
    /// How many of the record's unit one of the file's is.
    factor: f64,
    /// Whether it is ultraviolet, or all of the sunlight; none for what is neither.
    pub part: Option<Part>,
}

/// Parts of sunlight whose strength is known well enough to find a slip in a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    Ultraviolet,
    Total,
}

/// Units of radiant exposure, in MJ/m². 1 kWh = 3.6 MJ.
const OF_A_BAND: [(&str, f64); 5] = [
    ("MJ/m2", 1.0),
    ("kJ/m2", 1e-3),
    ("J/m2", 1e-6),
    ("kWh/m2", 3.6),
    ("Wh/m2", 3.6e-3),
];
/// Units of spectral radiant exposure, in kJ/m² a nanometre.
const OF_A_WAVELENGTH: [(&str, f64); 5] = [
    ("kJ/m2/nm", 1.0),
    ("J/m2/nm", 1e-3),
    ("MJ/m2/nm", 1e3),
    ("Wh/m2/nm", 3.6),
    ("kWh/m2/nm", 3.6e3),
];
/// Wavelengths that sun and lamps have anything of, nm.
const LEAST_NM: f64 = 200.0;
const MOST_NM: f64 = 4000.0;
/// Up to where a band can be called ultraviolet, nm: it ends at 400, radiometers reach a little further.
const LAST_UV_NM: f64 = 420.0;

/// How the kinds are written, for hints.
pub(super) const EXAMPLES: &str = "Write the unit, then the band: \"MJ/m2 UV 295-385 nm\", \"kWh/m2 total\", \"kJ/m2/nm 340 nm\".";

impl DoseKind {
    /// Reads unit and band.
    ///
    /// # Errors
    /// What is wrong with them, as the end of a sentence.
    pub(super) fn parse(text: &str) -> Result<Self, String> {
        let plain = text
            .replace('²', "2")
            .replace("m^2", "m2")
            .replace(['–', '—', '−'], "-")
            .replace(['(', ')'], " ");
        let mut parts = plain.split_whitespace();
        let unit = parts.next().unwrap_or_default();
        let rest = parts.collect::<Vec<_>>().join(" ");
        let factor = |units: &[(&str, f64)]| units.iter().find(|it| it.0 == unit).map(|it| it.1);
        let (factor, unit_of_record, band) = match (factor(&OF_A_BAND), factor(&OF_A_WAVELENGTH)) {
            (Some(factor), _) => (factor, OF_A_BAND[0].0, Band::parse(&rest)?),
            (_, Some(factor)) => (factor, OF_A_WAVELENGTH[0].0, Band::wavelength(&rest)?),
            _ => return Err(unknown_unit(unit)),
        };
        Ok(Self {
            name: format!("{unit_of_record} {}", band.name),
            stated: format!("{unit} {}", band.name),
            factor,
            part: band.part,
        })
    }

    /// A value of the file in the record's unit, without the last bits that only the conversion makes.
    pub(super) fn convert(&self, value: f64) -> f64 {
        significant(value * self.factor)
    }
}

fn unknown_unit(unit: &str) -> String {
    let known: Vec<&str> = OF_A_BAND
        .iter()
        .chain(&OF_A_WAVELENGTH)
        .map(|it| it.0)
        .collect();
    let meant = nearest(unit, &known).map_or(String::new(), |it| format!("; did you mean {it}?"));
    let unit = crate::panel::source::shown(unit);
    format!(
        "starts with \"{unit}\", which is no unit of radiant exposure{meant} (known: {})",
        words(&known)
    )
}

/// The wavelengths that are counted.
struct Band {
    name: String,
    part: Option<Part>,
}

impl Band {
    fn parse(text: &str) -> Result<Self, String> {
        let text = text.to_lowercase();
        let name: String = text.chars().take_while(|it| it.is_alphabetic()).collect();
        let range = text[name.len()..].trim();
        let (name, part) = match &*name {
            "total" => ("total", Some(Part::Total)),
            "uv" => ("UV", Some(Part::Ultraviolet)),
            "visible" => ("visible", None),
            "" if range.is_empty() => {
                return Err(
                    "states no band, and a dose of UV is another than a dose of all light"
                        .to_owned(),
                );
            }
            "" if range.contains('-') => {
                return Err(
                    "states limits, but not of what: write UV, visible or total before them"
                        .to_owned(),
                );
            }
            "" | "at" => {
                return Err(
                    "names one wavelength, of which the exposure is per nanometre: kJ/m2/nm"
                        .to_owned(),
                );
            }
            other => {
                return Err(format!(
                    "names the band \"{}\"; known: UV, visible and total",
                    crate::panel::source::shown(other)
                ));
            }
        };
        if range.is_empty() {
            if part == Some(Part::Total) {
                return Ok(Self {
                    name: name.to_owned(),
                    part,
                });
            }
            // By a third in UV (ASTM G173-03, global tilt): 35.3 W/m² from 295 to 385 nm, 46.1 from 300 to 400.
            return Err(format!(
                "states no limits for {name}, and the figure depends on them: write what the radiometer counts, as UV 295-385 nm or UV 300-400 nm"
            ));
        }
        let limits = range
            .strip_suffix("nm")
            .and_then(|it| it.trim_end().split_once('-'))
            .and_then(|(low, high)| Some([nanometres(low)?, nanometres(high)?]));
        let Some([low, high]) = limits.filter(|it| it[0] < it[1]) else {
            return Err(format!(
                "has no limits of a band in \"{}\"; write them as 295-385 nm, from {LEAST_NM} to {MOST_NM}",
                crate::panel::source::shown(range)
            ));
        };
        if part == Some(Part::Ultraviolet) && high > LAST_UV_NM {
            return Err(format!("calls light up to {high} nm UV, which ends at 400"));
        }
        Ok(Self {
            name: format!("{name} {low}-{high} nm"),
            part,
        })
    }

    fn wavelength(text: &str) -> Result<Self, String> {
        let text = text.to_lowercase();
        let number = text.strip_prefix("at ").unwrap_or(&text);
        let nm = number.strip_suffix("nm").and_then(nanometres);
        let nm = nm.ok_or_else(|| {
            format!(
                "counts per nanometre, so it needs the wavelength, as 340 nm, and not \"{}\"",
                crate::panel::source::shown(&text)
            )
        })?;
        Ok(Self {
            name: format!("{nm} nm"),
            part: None,
        })
    }
}

fn nanometres(text: &str) -> Option<f64> {
    let nm: f64 = text.trim().parse().ok()?;
    (LEAST_NM..=MOST_NM).contains(&nm).then_some(nm)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind(text: &str) -> DoseKind {
        DoseKind::parse(text).unwrap_or_else(|it| panic!("{text}: {it}"))
    }

    #[test]
    fn one_kind_is_one_whatever_its_unit() {
        for (text, name, of_100) in [
            ("MJ/m2 UV 295-385 nm", "MJ/m2 UV 295-385 nm", 100.0),
            ("MJ/m² UV (295–385 nm)", "MJ/m2 UV 295-385 nm", 100.0),
            ("kWh/m2  uv 295 - 385nm", "MJ/m2 UV 295-385 nm", 360.0),
            ("Wh/m^2 UV 295-385 nm", "MJ/m2 UV 295-385 nm", 0.36),
            ("kJ/m2 total", "MJ/m2 total", 0.1),
            ("J/m2 total 300-3000 nm", "MJ/m2 total 300-3000 nm", 1e-4),
            ("kJ/m2/nm at 340 nm", "kJ/m2/nm 340 nm", 100.0),
            ("Wh/m2/nm 420 nm", "kJ/m2/nm 420 nm", 360.0),
        ] {
            let kind = kind(text);
            assert_eq!(kind.name, name, "{text}");
            assert_eq!(
                kind.convert(100.0).to_string(),
                f64::to_string(&of_100),
                "{text}"
            );
        }
        // What a file states in one unit and another in the other is one dose, to the last bit.
        let (kwh, mj) = (kind("kWh/m2 total"), kind("MJ/m2 total"));
        for tenth in 0..2000 {
            let value = f64::from(tenth) / 10.0;
            let stated = format!("{:.2}", value * 3.6).parse::<f64>().unwrap();
            assert_eq!(
                kwh.convert(value).to_bits(),
                mj.convert(stated).to_bits(),
                "{value}"
            );
        }
    }

    #[test]
    fn irradiance_over_time_is_exposure() {
        // 0.35 W/m² nm at 340 nm for 1000 h is 1260 kJ/m² nm, at 0.51 it is 1836 (the figures that lamp cycles are quoted with).
        let watt_hours = kind("Wh/m2/nm 340 nm");
        for (irradiance, exposure) in [(0.35, 1260.0), (0.51, 1836.0)] {
            let value = watt_hours.convert(irradiance * 1000.0);
            assert!((value - exposure).abs() < 1e-9, "{value}");
        }
        // 50 W/m² of UV for 8 hours on 365 days is 525.6 MJ/m².
        let value = kind("Wh/m2 UV 300-400 nm").convert(50.0 * 8.0 * 365.0);
        assert!((value - 525.6).abs() < 1e-9, "{value}");
    }

    #[test]
    fn what_is_not_told_is_asked_for() {
        for (bad, why) in [
            ("", "no unit of radiant exposure"),
            ("mJ/m2 total", "did you mean MJ/m2?"),
            ("W/m2 total", "no unit of radiant exposure"),
            ("hours", "no unit of radiant exposure"),
            ("MJ/m2", "states no band"),
            ("MJ/m2 UV", "states no limits for UV"),
            ("MJ/m2 visible", "states no limits for visible"),
            ("MJ/m2 300-400 nm", "not of what"),
            ("MJ/m2 340 nm", "per nanometre"),
            ("MJ/m2 UVA 315-400 nm", "the band \"uva\""),
            ("MJ/m2 UV 385-295 nm", "no limits of a band"),
            ("MJ/m2 UV 295-385", "no limits of a band"),
            ("MJ/m2 UV nan-385 nm", "no limits of a band"),
            ("MJ/m2 UV 295-3850 nm", "which ends at 400"),
            ("kJ/m2/nm", "needs the wavelength"),
            ("kJ/m2/nm UV 295-385 nm", "needs the wavelength"),
            ("kJ/m2/nm 34 nm", "needs the wavelength"),
        ] {
            let said = DoseKind::parse(bad).expect_err(bad);
            assert!(said.contains(why), "{bad}: {said}");
        }
    }
}
