//! A workshop whose library holds letdowns of pigments with spectra of their own, worked out as films on larch: by the same equations
//! that the model has, since what commands say is tested with it. What the model is worth is tested on films of another kind.

use crate::made;
use crate::shelf::{reading, set_colour, set_uncertainty};
use crate::workshop::Workshop;
use masstone::colour::Lab;
use masstone::library::Library;
use masstone::library::catalog::{Coating, Part, Pigment, Stock};
use masstone::library::notes::Note;
use masstone::mix::bands::{self, BANDS, Spectrum};
use masstone::mix::directed;
use masstone::mix::surface::COATING;
use masstone::panel::{Control, Grid, Panel, Patch, PigmentLoad, Side};
use masstone::record::{Half, PanelEntry, PhotoRecord, Reading};

/// What everything is coated with.
pub(crate) const CLEAR: &str = "clear exterior coating, two-part";
/// Wet coating of a coat, g/m².
pub(crate) const COAT: f64 = 80.0;
/// Coats of every patch.
pub(crate) const COATS: f64 = 3.0;

/// A patch: its id, pigments with loads, and what control it is.
pub(crate) type Meant<'a> = (&'a str, &'a [(&'a str, f64)], Option<Control>);

/// Four pigments at several loads, a mixture of two, and a control.
pub(crate) const LETDOWNS: [Meant<'static>; 15] = [
    ("A1", &[], Some(Control::Clear)),
    ("A2", &[("PR101", 0.5)], None),
    ("A3", &[("PR101", 2.0)], None),
    ("A4", &[("PR101", 6.0)], None),
    ("A5", &[("PR101", 12.0)], None),
    ("B1", &[("PY42", 1.0)], None),
    ("B2", &[("PY42", 4.0)], None),
    ("B3", &[("PY42", 12.0)], None),
    ("B4", &[("PBk11", 0.1)], None),
    ("B5", &[("PBk11", 0.5)], None),
    ("C1", &[("PBk11", 4.0)], None),
    ("C2", &[("PW6", 2.0)], None),
    ("C3", &[("PW6", 10.0)], None),
    ("C4", &[("PR101", 4.0), ("PBk11", 0.3)], None),
    ("C5", &[("PBr7", 5.0)], None),
];

fn nm(band: usize) -> f64 {
    380.0 + 10.0 * f64::from(u8::try_from(band).unwrap())
}

/// A step from `low` to `high` at a wavelength, as iron oxides have.
fn step(low: f64, high: f64, at: f64, width: f64) -> Spectrum {
    std::array::from_fn(|band| low + (high - low) / (1.0 + ((at - nm(band)) / width).exp()))
}

/// Absorption and scattering of a pigment, by gram and square metre.
fn optics(pigment: &str) -> [Spectrum; 2] {
    let (k, s) = match pigment {
        "PR101" => (
            step(0.30, 0.012, 575.0, 14.0),
            step(0.05, 0.11, 590.0, 25.0),
        ),
        "PY42" => (
            step(0.22, 0.006, 500.0, 16.0),
            step(0.05, 0.10, 540.0, 30.0),
        ),
        "PBk11" => ([0.9; BANDS], [0.03; BANDS]),
        "PW6" => (step(0.3, 0.0005, 395.0, 5.0), [0.45; BANDS]),
        "PBr7" => (step(0.25, 0.05, 560.0, 40.0), step(0.03, 0.06, 580.0, 40.0)),
        other => panic!("no spectrum of {other}"),
    };
    [k, s]
}

/// The colour of a coat on larch, as the film's equations have it.
pub(crate) fn truth(pigments: &[(&str, f64)], g_per_m2: f64) -> Lab {
    truth_with(pigments, g_per_m2, &|_| 1.0)
}

/// The same where of each pigment's absorption a share is left.
pub(crate) fn truth_with(
    pigments: &[(&str, f64)],
    g_per_m2: f64,
    left: &dyn Fn(&str) -> f64,
) -> Lab {
    let larch = step(0.18, 0.62, 520.0, 55.0);
    let total: f64 = pigments.iter().map(|it| it.1).sum();
    let mixed = g_per_m2 / (1.0 + total / 100.0);
    let (mut kx, mut sx) = (
        step(8e-4, 5e-5, 430.0, 18.0).map(|it| it * mixed),
        [2e-5 * mixed; BANDS],
    );
    for (pigment, load) in pigments {
        let [k, s] = optics(pigment);
        for band in 0..BANDS {
            kx[band] += mixed * load / 100.0 * k[band] * left(pigment);
            sx[band] += mixed * load / 100.0 * s[band];
        }
    }
    let seen: Spectrum = std::array::from_fn(|band| {
        COATING.seen(directed::reflectance(
            kx[band],
            sx[band],
            COATING.within(larch[band]),
        ))
    });
    bands::to_lab(&seen)
}

/// A panel of these patches, in rows of five.
pub(crate) fn panel(id: &str, meant: &[Meant<'_>]) -> Panel {
    let template = made::panel();
    let grid = Grid {
        rows: meant.len().div_ceil(5),
        columns: 5,
        patch_mm: [30.0, 30.0],
        pitch_mm: [40.0, 40.0],
    };
    let patches = meant
        .iter()
        .enumerate()
        .map(|(i, (id, pigments, control))| Patch {
            id: (*id).to_owned(),
            cell: Some((i / 5, i % 5)),
            rect: grid.cell(i / 5, i % 5),
            name: None,
            pigments: (pigments.iter())
                .map(|(pigment, load)| PigmentLoad {
                    pigment: (*pigment).to_owned(),
                    load: *load,
                })
                .collect(),
            control: *control,
            masked: None,
            ..template.patches[0].clone()
        });
    Panel {
        id: id.to_owned(),
        substrate: Some("larch".to_owned()),
        coating: Some(CLEAR.to_owned()),
        coats: Some(COATS),
        grid: Some(grid),
        masked: None,
        patches: patches.collect(),
        ..template
    }
}

/// A photo of a panel after so many hours, each patch of the colour that `colour` says.
pub(crate) fn photo(panel: &Panel, hours: f64, colour: impl Fn(usize) -> Lab) -> PhotoRecord {
    let path = format!("{}-{hours}.jpg", panel.id);
    let mut record = made::measured(&path);
    let photo = &mut record.photo;
    let hash = (path.bytes()).fold(14_695_981_039_346_656_037_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(1_099_511_628_211)
    });
    photo.sha256 = format!("{hash:064x}");
    photo.hours = Some(hours);
    photo.panel = PanelEntry::from(panel);
    let mould = record.readings.iter().find(|it| it.l.is_some());
    let mould = mould.unwrap().clone();
    record.readings = (panel.patches.iter().enumerate())
        .map(|(i, patch)| {
            let Lab { l, a, b, .. } = colour(i);
            let lab = [l, a, b];
            let mut it = reading(&mould, &path, &panel.id, &patch.id, Half::Whole, hours, lab);
            set_uncertainty(&mut it, 0.01, 0.04);
            it
        })
        .collect();
    record
}

/// The records of a panel of letdowns as made.
pub(crate) fn as_made(panel: &Panel, meant: &[Meant<'_>]) -> PhotoRecord {
    photo(panel, 0.0, |i| truth(meant[i].1, COATS * COAT))
}

/// Photos of a panel, left halves masked, at hour 0 and after so many hours.
pub(crate) fn season(
    panel: &Panel,
    hours: f64,
    fresh: impl Fn(usize) -> Lab,
    aged: impl Fn(usize) -> Lab,
) -> [PhotoRecord; 2] {
    let mut masked = panel.clone();
    masked.masked = Some(Side::Left);
    for it in &mut masked.patches {
        it.masked = Some(Side::Left);
    }
    [0.0, hours].map(|at| {
        let mut record = photo(&masked, at, &fresh);
        let wholes = std::mem::take(&mut record.readings);
        for (i, whole) in wholes.into_iter().enumerate() {
            for half in [Half::Masked, Half::Exposed] {
                let mut it = Reading {
                    half,
                    ..whole.clone()
                };
                if half == Half::Exposed && at > 0.0 {
                    let Lab { l, a, b, .. } = aged(i);
                    set_colour(&mut it, [l, a, b]);
                    set_uncertainty(&mut it, 0.01, 0.04);
                }
                record.readings.push(it);
            }
        }
        record
    })
}

/// The library of a workshop.
pub(crate) fn library(workshop: &Workshop) -> Library {
    Library::open_or_begin(&workshop.path("swatches.sqlite")).unwrap()
}

/// What was seen of a patch's cure.
pub(crate) fn cure(library: &mut Library, panel: &str, patch: &str, word: &str) {
    let note = Note {
        panel: panel.to_owned(),
        patch: patch.to_owned(),
        word: word.to_owned(),
        date: "2026-03-14".to_owned(),
        ..Note::default()
    };
    library.note(&note).unwrap();
}

/// With the letdowns, materials with prices, and notes that everything cured.
pub(crate) fn letdowns() -> Workshop {
    let workshop = Workshop::empty();
    let mut library = library(&workshop);
    let panel = panel("letdowns", &LETDOWNS);
    library.add(&[as_made(&panel, &LETDOWNS)]).unwrap();
    let part = |name: &str, by_mass: f64, price: f64| Part {
        name: name.to_owned(),
        by_mass,
        price_per_kg: Some(price),
    };
    library
        .set_coating(&Coating {
            parts: vec![part("base", 80.0, 35.0), part("hardener", 20.0, 60.0)],
            coat_g_per_m2: Some(COAT),
            hazard: Some("isocyanates".to_owned()),
            ..Coating::named(CLEAR)
        })
        .unwrap();
    for (id, price, stock) in [
        ("PR101", 30.0, Stock::Here),
        ("PY42", 25.0, Stock::Here),
        ("PBk11", 20.0, Stock::Here),
        ("PW6", 15.0, Stock::Gone),
    ] {
        library
            .set_pigment(&Pigment {
                price_per_kg: Some(price),
                stock,
                ..Pigment::named(id)
            })
            .unwrap();
    }
    for (id, pigments, _) in LETDOWNS {
        if !pigments.is_empty() {
            cure(&mut library, "letdowns", id, "cured");
        }
    }
    workshop
}
