//! A swatch's numbers, where they come from, and what a pack does.

use super::tint;
use crate::colour::lab;
use crate::library::catalog::Stock;
use crate::library::notes::Note;
use crate::plan::care::heat;
use crate::publish::range::{Age, Pack, Reading, Shows, Swatch};
use crate::record::Half;
use maud::{Markup, html};

/// What it is coated with and on, as the end of a line.
pub(super) fn ground(it: &Swatch) -> Markup {
    let recipe = &it.recipe;
    let coats = recipe.coats.map(|it| {
        let plural = if (it - 1.0).abs() < 1e-9 {
            "coat"
        } else {
            "coats"
        };
        format!(", {it} {plural}")
    });
    let film = recipe.g_per_m2.map(|it| format!(", {it} g/m²"));
    html! {
        @if !recipe.pigments.is_empty() { " g per 100 g of coating" }
        @if let Some(it) = &recipe.coating { ", in " bdi { (it) } }
        @if let Some(it) = &recipe.substrate { ", on " bdi { (it) } }
        (coats.unwrap_or_default()) (film.unwrap_or_default())
        @if let Some(it) = &it.only_panel {
            ". The panel file says no more, so it counts for the board " bdi { (it) } " only"
        }
    }
}

/// The colour in numbers.
pub(super) fn numbers(it: &Swatch) -> Markup {
    let tone = &it.tone;
    let (y, y_u95) = tone.luminous();
    let of_another = tone.u95_of_another.map(|it| format!("±{it:.1} ΔE00"));
    html! {
        dl.numbers {
            div { dt { "L* a* b*" } dd { (format!("{:.1} / {:.1} / {:.1}", tone.lab.l, tone.lab.a, tone.lab.b)) small { "CIELAB, D50, 2°" } } }
            div { dt { "how sure" } dd {
                @match tone.u95 { Some(it) => (format!("±{it:.1} ΔE00")), None => "not known" }
                small { "U95: farther off in 5 of 100 cases" }
            } }
            div { dt { "one more coat" } dd {
                @match of_another { Some(it) => (it), None => "not known" }
                small { @if tone.u95_of_another.is_some() { "U95 of one made in the same way" } @else { "it takes four specimens to tell" } }
            } }
            div { dt { "C* and hue" } dd { (format!("{:.1}, {:.0}°", lab::chroma(tone.lab), lab::hue_degrees(tone.lab))) } }
            div { dt { "reflects" } dd { (format!("{:.1} ± {:.1} %", 100.0 * y, 100.0 * y_u95)) small { "of the visible light (Y)" } } }
            div { dt { "on a screen" } dd { code { (tone.hex()) } small {
                @if tone.shows() == Shows::Srgb { "sRGB; CSS " code { (tint::lab(tone)) } } @else { "the nearest sRGB; CSS " code { (tint::lab(tone)) } }
            } } }
        }
    }
}

/// What must be known beside the numbers.
pub(super) fn words(it: &Swatch) -> Markup {
    html! {
        @if let Some(words) = tint::beyond(&it.tone) { p.mark { (words) } }
        @if let Some(words) = hot(it.tone.luminous()) { p.caution { strong { "Heat. " } (words) } }
        @if !made_fresh(it) { p.mark { (stands_for(it)) } }
        @if !it.cure.is_empty() && it.cure.iter().any(|it| it != "cured") {
            p.caution { strong { "Cure. " } "Noted of its specimens: " (it.cure.join(", ")) "." }
        }
    }
}

fn made_fresh(it: &Swatch) -> bool {
    it.hours.is_some_and(|it| it <= 0.0)
}

/// What the colour is of, where nobody photographed it fresh.
fn stands_for(it: &Swatch) -> String {
    match it.hours {
        None => "Nobody stated the hours of exposure of the photo that it is from.".to_owned(),
        Some(hours) => {
            let masked = (it.ages.iter()).any(|age| age.masked && age.hours == Some(hours));
            let how = if masked {
                "the half under the mask"
            } else {
                "the coat"
            };
            format!("It was not photographed fresh: this is {how} after {hours} hours.")
        }
    }
}

/// What packs of its pigments do.
pub(super) fn packs(it: &Swatch) -> Markup {
    let any = |it: &Pack| {
        it.pack_g.is_some() || it.shop.is_some() || it.stock.is_some() || it.price.is_some()
    };
    html! {
        @if it.packs.iter().any(any) || it.shop.is_some() {
            section {
                h2 { "To make it" }
                ul.packs { @for it in it.packs.iter().filter(|it| any(it)) { li { (pack(it)) } } }
                @if let Some(shop) = &it.shop { p { a href=(shop) rel="noopener" { "This colour in the shop" } } }
                p.faint {
                    "Dry pigments are dusts and two-part coatings can sensitise skin and lungs: follow the makers' safety data sheets and your local codes."
                }
            }
        }
    }
}

fn pack(it: &Pack) -> Markup {
    html! {
        strong { bdi { (it.pigment) } }
        @if let Some(name) = &it.maker_name { " (" bdi { (name) } ")" }
        @if let Some((pack, tints)) = it.pack_g.zip(it.tints_g) {
            ": a pack of " (tint::number(pack, 3)) " g tints " (amount(tints)) " of mixed coating at this load"
            @if let Some(m2) = it.covers_m2 { ", for about " (area(m2)) " with all coats" }
        }
        @if let Some(price) = &it.price { ", " bdi { (price) } }
        @if let Some(stock) = it.stock { ". " (self::stock(stock)) }
        @if let Some(shop) = &it.shop { ". " a href=(shop) rel="noopener" { "Shop" } }
    }
}

/// What a pack is good for: two digits, rounded down, since nobody wants to run out.
fn down(value: f64) -> String {
    let step = 10_f64.powf((value.log10()).floor() - 1.0);
    // What rounding leaves of 20.999… is 21.
    tint::number((value / step + 1e-9).floor() * step, 4)
}

fn amount(g: f64) -> String {
    if g >= 1000.0 {
        format!("{} kg", down(g / 1000.0))
    } else {
        format!("{} g", down(g))
    }
}

fn area(m2: f64) -> String {
    format!("{} m²", down(m2))
}

/// The caution for dark colours, for one that may be dark, too.
fn hot((y, u95): (f64, f64)) -> Option<String> {
    heat(y).or_else(|| {
        let least = y - u95;
        let dark = heat(least)?;
        let (_, why) = dark.split_once(": ")?;
        Some(format!(
            "It may count as dark (Y down to {:.0} %): {why}",
            100.0 * least.max(0.0)
        ))
    })
}

fn stock(it: Stock) -> &'static str {
    match it {
        Stock::Here => "In stock",
        Stock::RunningOut => "Running out",
        Stock::Gone => "Out of stock",
    }
}

/// How it was measured.
pub(super) fn measured(it: &Swatch) -> Markup {
    let sorted = |of: fn(&Reading) -> Option<&String>| -> Vec<String> {
        // Of the colour above: other exposures have photos of their own.
        let of_it = it
            .readings
            .iter()
            .filter(|reading| reading.counts && reading.hours == it.hours);
        let mut all: Vec<String> = of_it.filter_map(of).cloned().collect();
        all.sort();
        all.dedup();
        all
    };
    let cameras = sorted(|it| it.camera.as_ref());
    let mut corrections: Vec<String> = (sorted(|it| Some(&it.correction)).iter())
        .map(|it| correction(it))
        .collect();
    corrections.dedup();
    let taken = sorted(|it| it.taken.as_ref());
    let mut patches: Vec<String> = it
        .patches
        .iter()
        .map(|it| format!("{} {}", it.0, it.1))
        .collect();
    patches.sort();
    patches.dedup();
    let ages: Vec<&Age> = it.ages.iter().collect();
    html! {
        section {
            h2 { "How it was measured" }
            p {
                "From " (plural(it.tone.photos, "reading", "readings")) " of " (plural(it.tone.specimens, "coated patch", "coated patches")) " ("
                @for (index, patch) in patches.iter().enumerate() { @if index > 0 { ", " } bdi { (patch) } }
                ")"
                @if let (Some(first), Some(last)) = (taken.first(), taken.last()) {
                    ", photographed " (day(first)) @if day(first) != day(last) { " to " (day(last)) }
                }
                @if !cameras.is_empty() { " with " bdi { (cameras.join(", ")) } }
                "; colour corrected by " (corrections.join(", or by ")) "."
                @if it.tone.disagree > 0 {
                    " " (plural(it.tone.disagree, "reading disagrees", "readings disagree")) " with the others beyond their uncertainty."
                }
            }
            @if ages.len() > 1 {
                div.scroll tabindex="0" role="region" aria-label="Colours by exposure" { table {
                    thead { tr { th { "half" } th { "hours" } th { "L*" } th { "a*" } th { "b*" } th { "U95" } } }
                    tbody { @for it in ages { tr {
                        th scope="row" { (if it.masked { "under the mask" } else { half(it) }) }
                        td { @match it.hours { Some(it) => (it), None => "not stated" } }
                        td { (format!("{:.1}", it.tone.lab.l)) } td { (format!("{:.1}", it.tone.lab.a)) } td { (format!("{:.1}", it.tone.lab.b)) }
                        td { @match it.tone.u95 { Some(it) => (format!("{it:.1}")), None => "" } }
                    } } }
                } }
                @if carried(it) {
                    p.faint {
                        "Under the mask, later colours are no fresh measurement: masked halves serve as references in later photos, and each is taken for what it was \
                         before any exposure, as far as it fits in with the others and with the cards. What lies between the halves is the change."
                    }
                }
            }
            p.faint { "All readings, for other programs: " a href="../reading.html#files" { "files" } "." }
        }
    }
}

/// Whether a colour under the mask rests on what the half was at dose 0.
fn carried(it: &Swatch) -> bool {
    let rests = |it: &Reading| {
        let later = it.half == Half::Masked && it.hours.is_some_and(|it| it > 0.0);
        it.counts && later && parts(&it.correction).any(|it| it == "masked")
    };
    it.readings.iter().any(rests)
}

fn half(it: &Age) -> &'static str {
    match it.half {
        Half::Exposed => "exposed",
        _ => "whole",
    }
}

/// The day of a time as cameras write it.
fn day(taken: &str) -> String {
    taken.get(..10).unwrap_or(taken).replace(':', "-")
}

/// The names of what a correction rests on, the kind of its map first.
fn parts(key: &str) -> impl Iterator<Item = &str> {
    let words = key.split_whitespace();
    words.map(|it| it.split(':').next().unwrap_or_default())
}

/// What a correction rests on, in words.
fn correction(key: &str) -> String {
    let mut parts = parts(key);
    let map = match parts.next().unwrap_or_default() {
        "neutral" => "the card's grey",
        "linear" => "a linear map fitted to references",
        "root-polynomial" => "a root-polynomial map fitted to references",
        other => other,
    };
    let mut words = map.to_owned();
    for it in parts {
        let more = match it {
            "masked" => ", with the masked halves as they were at first",
            "correction" => ", with a saved correction of the camera",
            "blank" => ", with a photo of a blank for the light",
            _ => continue,
        };
        words += more;
    }
    words
}

fn plural(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

/// What was noted of its specimens.
pub(super) fn seen(it: &Swatch) -> Markup {
    html! {
        @if !it.notes.is_empty() {
            section {
                h2 { "What was seen" }
                ul { @for it in &it.notes { li { (note(it)) } } }
            }
        }
    }
}

fn note(it: &Note) -> Markup {
    html! {
        (it.date) ", " bdi { (it.panel) " " (it.patch) } ": " (it.word.replace('-', " "))
        @if let Some(hours) = it.hours { " after " (hours) " h" }
        @if let Some(grade) = it.grade { ", grade " (grade) " of 5" }
        @if let Some(text) = &it.text { " – " bdi { (text) } }
    }
}
