//! Comma-separated values: swatches by exposure, changes, readings.
//!
//! RFC 4180 with line feeds, UTF-8, decimal points, empty where nothing is known. Columns are named as in the lists of the library and in the fade report.
//! Text that a spreadsheet would take for a formula has an apostrophe before it.

use super::values::{Derived, ages, fixed, shows};
use crate::publish::{Age, Change, Exposed, Range, Reading, Swatch};
use crate::record::csv::{as_stated, number, text, word};

/// The columns of the swatches, in order.
///
/// `swatch` is the number in the library; loads are grams per 100 g of coating; `half` is the part of the patches that the colour is of, `masked`
/// whether that lay under the mask while the other half was exposed; `hours` is empty where nobody knows; L to h are CIELAB, D50, 2°; `hex` is sRGB, mapped into
/// its gamut; `shows` is the smallest gamut that shows the colour itself; `Y` is the luminous reflectance, 0–1, and `U95_Y` its U95;
/// `U95_of_another` is that of one more specimen; `photos` are readings of a specimen in a photo; `as_made` is whether it is the swatch's colour as made.
pub const SWATCHES: [&str; 28] = [
    "swatch",
    "name",
    "pigments",
    "loads",
    "coating",
    "substrate",
    "coats",
    "g_per_m2",
    "control",
    "half",
    "masked",
    "hours",
    "L",
    "a",
    "b",
    "C",
    "h",
    "hex",
    "shows",
    "Y",
    "U95_Y",
    "U95",
    "U95_of_another",
    "specimens",
    "photos",
    "disagree",
    "cure",
    "as_made",
];

/// The columns of the changes, in order.
///
/// `dose` counts what `dose_kind` says; `dE00` lies, in 95 % of cases, within `U95_dE00` of the true one, which lies between `from_dE00` and `to_dE00`;
/// `significant` is whether a change is told from none.
pub const CHANGES: [&str; 15] = [
    "swatch",
    "name",
    "panel",
    "patch",
    "hours",
    "dose",
    "dose_kind",
    "dE00",
    "U95_dE00",
    "from_dE00",
    "to_dE00",
    "detection_limit",
    "grade",
    "significant",
    "words",
];

/// The columns of the readings, in order.
///
/// `photo` is a file name, `sha256` of its bytes; `taken` and `camera` are what the photo says; `counts` is whether it counts in the swatch's colour.
pub const READINGS: [&str; 16] = [
    "swatch",
    "name",
    "panel",
    "patch",
    "half",
    "hours",
    "photo",
    "sha256",
    "taken",
    "camera",
    "L",
    "a",
    "b",
    "U95",
    "correction",
    "counts",
];

/// The swatches, a row for each of their colours by exposure: as made first.
#[must_use]
pub fn swatches(range: &Range) -> String {
    let rows = range.swatches.iter().flat_map(|swatch| {
        ages(swatch)
            .map(|(age, as_made)| colour(swatch, age, as_made))
            .collect::<Vec<_>>()
    });
    table(&SWATCHES, rows)
}

fn colour(swatch: &Swatch, age: &Age, as_made: bool) -> [String; 28] {
    let recipe = &swatch.recipe;
    let tone = &age.tone;
    let derived = Derived::of(tone);
    let optional = |it: &Option<String>| text(it.as_deref().unwrap_or_default());
    let stated = |it: Option<f64>| it.map(|it| it.to_string()).unwrap_or_default();
    let all = |each: Vec<String>| each.join(" + ");
    let pigments = recipe.pigments.iter();
    [
        swatch.id.to_string(),
        text(&swatch.name),
        text(&all(pigments
            .clone()
            .map(|it| it.pigment.clone())
            .collect())),
        // A number alone is left as it is; several are text.
        all(pigments.map(|it| it.load.to_string()).collect()),
        optional(&recipe.coating),
        optional(&recipe.substrate),
        stated(recipe.coats),
        stated(recipe.g_per_m2),
        recipe.control.as_ref().map(word).unwrap_or_default(),
        word(&age.half),
        age.masked.to_string(),
        stated(age.hours),
        number(Some(tone.lab.l)),
        number(Some(tone.lab.a)),
        number(Some(tone.lab.b)),
        number(Some(derived.c)),
        number(Some(derived.h)),
        tone.hex(),
        shows(tone.shows()).to_owned(),
        fixed(derived.xyz[1], 6),
        fixed(derived.u95_y, 6),
        number(tone.u95),
        number(tone.u95_of_another),
        tone.specimens.to_string(),
        tone.photos.to_string(),
        tone.disagree.to_string(),
        text(&swatch.cure.join(" ")),
        as_made.to_string(),
    ]
}

/// What exposure changed, a row for each specimen and dose.
#[must_use]
pub fn changes(range: &Range) -> String {
    let rows = range.swatches.iter().flat_map(|swatch| {
        let exposed = swatch.exposed.iter();
        exposed.flat_map(move |of| of.changes.iter().map(move |it| change(swatch, of, it)))
    });
    table(&CHANGES, rows)
}

fn change(swatch: &Swatch, of: &Exposed, it: &Change) -> [String; 15] {
    [
        swatch.id.to_string(),
        text(&swatch.name),
        text(&of.panel),
        text(&of.patch),
        it.hours.map(as_stated).unwrap_or_default(),
        as_stated(it.dose),
        text(&of.dose_kind),
        number(Some(it.de_00)),
        number(Some(it.u95)),
        number(Some(it.interval[0])),
        number(Some(it.interval[1])),
        number(Some(it.detection_limit)),
        text(&it.grade),
        it.told.to_string(),
        text(&it.words.join(" ")),
    ]
}

/// All readings, whether they count or not.
#[must_use]
pub fn readings(range: &Range) -> String {
    let rows = (range.swatches.iter())
        .flat_map(|swatch| swatch.readings.iter().map(move |it| reading(swatch, it)));
    table(&READINGS, rows)
}

fn reading(swatch: &Swatch, it: &Reading) -> [String; 16] {
    let optional = |it: &Option<String>| text(it.as_deref().unwrap_or_default());
    let channel = |of: usize| number(it.lab.map(|it| it[of]));
    [
        swatch.id.to_string(),
        text(&swatch.name),
        text(&it.panel),
        text(&it.patch),
        word(&it.half),
        it.hours.map(as_stated).unwrap_or_default(),
        text(&it.photo),
        it.sha256.clone(),
        optional(&it.taken),
        optional(&it.camera),
        channel(0),
        channel(1),
        channel(2),
        number(it.u95),
        text(&it.correction),
        it.counts.to_string(),
    ]
}

fn table<const N: usize>(header: &[&str; N], rows: impl Iterator<Item = [String; N]>) -> String {
    let mut csv = ::csv::Writer::from_writer(Vec::new());
    // Rows of one length in memory: neither of what writing can fail of.
    let written = "a row as long as the header, in memory";
    csv.write_record(header).expect(written);
    for row in rows {
        csv.write_record(row).expect(written);
    }
    let bytes = csv.into_inner().expect(written);
    String::from_utf8(bytes).expect("it is made of strings")
}
