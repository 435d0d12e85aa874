//! What the numbers of a report say, in plain words: one wording for the page and the terminal.

use super::kinetics::{Course, Threshold};
use super::report::{Change, FadeFlag};

/// A unit as a dose's kind begins with it, for people.
#[must_use]
pub fn unit(dose_kind: &str) -> String {
    let first = dose_kind.split_whitespace().next().unwrap_or_default();
    first.replace("m2", "m²")
}

/// A stated dose with its unit: all of its digits.
#[must_use]
pub fn dose(value: f64, dose_kind: &str) -> String {
    format!("{value} {}", unit(dose_kind)).trim_end().to_owned()
}

/// An estimated dose, to three significant digits: its interval is far wider.
#[must_use]
pub fn about(value: f64) -> String {
    if !value.is_finite() || value <= 0.0 {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{value:.2e}").parse().unwrap_or(value);
    rounded.to_string()
}

/// What a ΔE00 of 1, 2 or 5 is to people looking (common practice, no source).
#[must_use]
pub fn seen(de_00: f64) -> &'static str {
    if de_00 < 1.5 {
        "a change that a trained eye sees side by side"
    } else if de_00 < 3.5 {
        "a change most people see"
    } else {
        "a change seen without comparing"
    }
}

/// When a threshold is reached, as a sentence.
#[must_use]
pub fn threshold(it: &Threshold, course: &Course, dose_kind: &str) -> String {
    let unit = unit(dose_kind);
    let what = format!("{} (ΔE00 {})", seen(it.de_00), it.de_00);
    let limit = about(course.limit_dose);
    // Not before the limit is not by the limit.
    let from = it.low.filter(|low| *low < course.limit_dose);
    match (it.dose, from, it.high) {
        (Some(best), Some(low), Some(high)) => format!(
            "reaches {what} after {} to {} {unit}, most likely {}",
            about(low),
            about(high),
            about(best)
        ),
        (Some(best), None, Some(high)) => format!(
            "reaches {what} by {} {unit}, most likely after {}; how early can't be said",
            about(high),
            about(best)
        ),
        (Some(best), Some(low), None) => format!(
            "reaches {what} after {} {unit} or later, most likely {}; it may not have by {limit}, and beyond that nothing can be said",
            about(low),
            about(best)
        ),
        (Some(best), None, None) => format!(
            "most likely reaches {what} after {} {unit}; how early, and whether by {limit} at all, can't be said",
            about(best)
        ),
        (None, Some(low), _) => format!(
            "does not reach {what} before {} {unit}, and most likely not by {limit}; beyond that nothing can be said",
            about(low)
        ),
        (None, None, _) => {
            format!("does not reach {what} by {limit} {unit}; beyond that nothing can be said")
        }
    }
}

/// The same for a table's cell: `600 (400–900)`.
#[must_use]
pub fn threshold_in_short(it: &Threshold, course: &Course) -> String {
    let limit = about(course.limit_dose);
    let from = it.low.map_or("0".to_owned(), about);
    let low = it.low.filter(|low| *low < course.limit_dose);
    match (it.dose, low, it.high) {
        (Some(best), _, Some(high)) => format!("{} ({from}–{})", about(best), about(high)),
        (Some(best), _, None) => format!("{} ({from} to beyond {limit})", about(best)),
        (None, Some(low), _) => format!("not before {}", about(low)),
        (None, None, _) => format!("not by {limit}"),
    }
}

/// A change of a patch in words: where it went, by how much, and whether it is told from none at all.
#[must_use]
pub fn change(it: &Change) -> String {
    let amount = format!("ΔE00 {:.2} ± {:.2}", it.de_00, it.u95_de_00);
    if !it.significant {
        return format!(
            "no change told from none ({amount}; noise alone stays below {:.2})",
            it.detection_limit
        );
    }
    format!("{} ({amount})", direction(it))
}

/// Where a change went; empty unless it is told from none.
#[must_use]
pub fn direction(it: &Change) -> String {
    match (it.significant, &it.words[..]) {
        (false, _) => String::new(),
        (true, []) => "changed".to_owned(),
        (true, words) => words.join(", "),
    }
}

/// A flag of a change as a sentence.
#[must_use]
pub fn flag(it: FadeFlag) -> &'static str {
    match it {
        FadeFlag::NoStart => {
            "There is no photo before any sun: how much the halves differed then is unknown, and is in the uncertainty."
        }
        FadeFlag::MaskedMoved => {
            "The masked half changed by itself (heat, or a mask that leaked). The change is against its first colour, by way of the other masked halves."
        }
        FadeFlag::CommonDrift => {
            "All masked halves drifted against the card, as coatings do in the dark, too. The change is against the masked half: what happened to both halves alike is not in it."
        }
        FadeFlag::OwnScaleOnly => {
            "No other masked half carries the scale from photo to photo: each photo's own correction stands alone."
        }
        FadeFlag::DoubtfulReading => {
            "A reading behind it is clipped: its colour is beyond what the photo's file can hold."
        }
        FadeFlag::SinglePhoto => {
            "Only one photo of this exposure, or of the first one: a slip in it would not show."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course() -> Course {
        Course {
            models: Vec::new(),
            range_over_models: false,
            thresholds: Vec::new(),
            limit_dose: 2250.0,
            limit_reason: String::new(),
            curve: Vec::new(),
        }
    }

    fn at(dose: Option<f64>, low: Option<f64>, high: Option<f64>) -> Threshold {
        Threshold {
            de_00: 2.0,
            dose,
            low,
            high,
        }
    }

    #[test]
    fn doses_keep_their_unit_and_estimates_three_digits() {
        assert_eq!(dose(1500.0, "hours"), "1500 hours");
        assert_eq!(dose(12.5, "MJ/m2 UV 295-385 nm"), "12.5 MJ/m²");
        assert_eq!(dose(3.0, ""), "3");
        for (value, text) in [
            (612.4, "612"),
            (1234.5, "1230"),
            (999.6, "1000"),
            (99.96, "100"),
            (12.34, "12.3"),
            (9.996, "10"),
            (0.5, "0.5"),
            (75.0, "75"),
            (0.012_345, "0.0123"),
            (0.0, "0"),
            (f64::NAN, "0"),
        ] {
            assert_eq!(about(value), text, "{value}");
        }
    }

    #[test]
    fn every_openness_of_a_threshold_has_its_sentence() {
        let course = course();
        let say = |dose, low, high| threshold(&at(dose, low, high), &course, "hours");
        assert_eq!(
            say(Some(612.0), Some(400.0), Some(900.0)),
            "reaches a change most people see (ΔE00 2) after 400 to 900 hours, most likely 612"
        );
        assert!(say(Some(612.0), Some(400.0), None).contains("may not have by 2250"));
        assert!(
            say(None, Some(1800.0), None)
                .contains("not reach a change most people see (ΔE00 2) before 1800 hours")
        );
        assert!(say(None, None, None).contains("by 2250 hours; beyond that nothing can be said"));
        let short = |dose, low, high| threshold_in_short(&at(dose, low, high), &course);
        assert_eq!(
            short(Some(612.0), Some(400.0), Some(900.0)),
            "612 (400–900)"
        );
        assert_eq!(short(Some(612.0), None, Some(900.0)), "612 (0–900)");
        assert_eq!(short(None, Some(1800.0), None), "not before 1800");
        assert_eq!(short(None, None, None), "not by 2250");
        assert_eq!(short(None, Some(2250.0), None), "not by 2250");
        assert_eq!(say(None, Some(2250.0), None), say(None, None, None));
    }
}
