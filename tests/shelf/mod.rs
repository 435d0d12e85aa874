//! Records made by a generator: panels of patches with pigments, photographed again and again.

use masstone::colour::{Lab, Matrix, srgb, uncertainty};
use masstone::record::{
    Half, PanelEntry, PatchEntry, PhotoRecord, PigmentEntry, Reading, RectEntry, SideEntry,
};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore as _, SeedableRng as _};

const PIGMENTS: [(&str, [f64; 3]); 12] = [
    ("PR101", [34.0, 32.0, 20.0]),
    ("PY42", [54.0, 14.0, 43.0]),
    ("PY43", [46.0, 14.0, 29.0]),
    ("PBr7", [29.0, 7.0, 10.0]),
    ("PBr6", [23.0, 9.0, 7.0]),
    ("PBk11", [20.0, 0.0, 1.0]),
    ("PW6", [89.0, -1.0, 2.0]),
    ("PB29", [25.0, 6.0, -40.0]),
    ("PB28", [40.0, -5.0, -42.0]),
    ("PG17", [38.0, -16.0, 15.0]),
    ("PG18", [36.0, -28.0, 4.0]),
    ("PBr24", [58.0, 18.0, 46.0]),
];

/// Draws records with the history of another; the same seed draws the same.
pub(crate) struct Generator {
    template: PhotoRecord,
    random: ChaCha8Rng,
    photos: u64,
}

impl Generator {
    pub(crate) fn new(template: PhotoRecord, seed: u64) -> Self {
        Self {
            template,
            random: ChaCha8Rng::seed_from_u64(seed),
            photos: seed << 32,
        }
    }

    /// Evenly between 0 and 1.
    fn unit(&mut self) -> f64 {
        f64::from(self.random.next_u32()) / f64::from(u32::MAX)
    }

    /// About normal, of standard deviation 1 (the sum of twelve).
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }

    /// A panel of patches with halves, no two of one recipe: numbered from `first`.
    pub(crate) fn panel(&mut self, first: usize, patches: usize) -> PanelEntry {
        let mut panel = self.template.photo.panel.clone();
        panel.id = format!("panel-{first}");
        panel.masked = Some(SideEntry::Left);
        let mould = panel.patches[0].clone();
        panel.patches = (0..patches).map(|k| patch(&mould, first + k, k)).collect();
        panel
    }

    /// A photo of a panel after so many hours.
    pub(crate) fn photo(&mut self, panel: &PanelEntry, hours: f64) -> PhotoRecord {
        self.photos += 1;
        let number = self.photos;
        let mut photo = self.template.photo.clone();
        photo.sha256 = format!("{number:064x}");
        photo.path = format!("photos/{number}.jpg");
        photo.hours = Some(hours);
        photo.panel = panel.clone();
        photo.metadata.taken = None;
        let common = [
            self.normal() * 0.6,
            self.normal() * 0.6,
            self.normal() * 0.6,
        ];
        let mut readings = Vec::with_capacity(2 * panel.patches.len());
        for (index, patch) in panel.patches.iter().enumerate() {
            for half in [Half::Masked, Half::Exposed] {
                let aged = if half == Half::Exposed {
                    hours / 1500.0
                } else {
                    0.0
                };
                let centre = truth(patch);
                let at = [
                    centre[0] + 1.5 * aged + common[0] + 0.2 * self.normal(),
                    centre[1] - 1.0 * aged + common[1] + 0.2 * self.normal(),
                    centre[2] + 2.0 * aged + common[2] + 0.2 * self.normal(),
                ];
                let mould = &self.template.readings[index % self.template.readings.len()];
                readings.push(reading(
                    mould,
                    &photo.path,
                    &panel.id,
                    &patch.id,
                    half,
                    hours,
                    at,
                ));
            }
        }
        PhotoRecord { photo, readings }
    }
}

/// What a patch looks like in truth: its pigments' colours, washed out by small loads.
fn truth(patch: &PatchEntry) -> [f64; 3] {
    let all: f64 = patch.pigments.iter().map(|it| it.load).sum();
    let mut lab = [0.0; 3];
    for it in &patch.pigments {
        let masstone = PIGMENTS
            .iter()
            .find(|p| p.0 == it.pigment)
            .map_or([50.0, 0.0, 0.0], |p| p.1);
        for channel in 0..3 {
            lab[channel] += masstone[channel] * it.load / all;
        }
    }
    let wash = (-all / 6.0).exp();
    let board = [78.0, 5.0, 21.0];
    std::array::from_fn(|channel| lab[channel] + wash * (board[channel] - lab[channel]))
}

/// The recipe of this number: every number another.
fn patch(mould: &PatchEntry, number: usize, index: usize) -> PatchEntry {
    let count = PIGMENTS.len();
    let (one, other) = (number % count, number / count % (count - 1));
    let other = (one + 1 + other) % count;
    let step = number / (count * (count - 1));
    #[expect(clippy::cast_precision_loss, reason = "small numbers")]
    let loads = [
        1.0 + (step % 30) as f64 * 0.5,
        0.5 + (step / 30) as f64 * 0.5,
    ];
    let (row, column) = (index / 10, index % 10);
    #[expect(clippy::cast_precision_loss, reason = "small numbers")]
    let at = [75.0 * column as f64, 75.0 * row as f64];
    PatchEntry {
        id: format!("P{number}"),
        cell: Some([row, column]),
        rect: RectEntry {
            at_mm: at,
            size_mm: [60.0, 60.0],
        },
        name: Some(format!("swatch {number}")),
        pigments: vec![
            PigmentEntry {
                pigment: PIGMENTS[one].0.to_owned(),
                load: loads[0],
            },
            PigmentEntry {
                pigment: PIGMENTS[other].0.to_owned(),
                load: loads[1],
            },
        ],
        masked: Some(SideEntry::Left),
        control: None,
        empty: false,
        known: None,
        ..mould.clone()
    }
}

/// A reading with the history of another and a colour of its own.
pub(crate) fn reading(
    mould: &Reading,
    photo: &str,
    panel: &str,
    patch: &str,
    half: Half,
    hours: f64,
    lab: [f64; 3],
) -> Reading {
    let mut it = mould.clone();
    it.photo = photo.to_owned();
    it.panel = panel.to_owned();
    it.patch = patch.to_owned();
    it.half = half;
    it.hours = Some(hours);
    set_colour(&mut it, lab);
    it
}

/// Gives a reading another colour, with all that follows from it.
pub(crate) fn set_colour(it: &mut Reading, lab: [f64; 3]) {
    let [l, a, b] = lab.map(|it| (it * 1e6).round() / 1e6);
    let colour = Lab::new(l, a, b);
    it.l = Some(l);
    it.a = Some(a);
    it.b = Some(b);
    it.c = Some((a.hypot(b) * 1e6).round() / 1e6);
    it.h = Some((masstone::colour::lab::hue_degrees(colour) * 1e6).round() / 1e6 % 360.0);
    it.hex = Some(srgb::to_hex(colour));
}

/// Gives a reading other covariances (multiples of the unit matrix), with the U95 that follows.
#[allow(dead_code, reason = "not every test that uses this module does")]
pub(crate) fn set_uncertainty(it: &mut Reading, own: f64, common: f64) {
    let unit = |of: f64| {
        std::array::from_fn(|row| {
            std::array::from_fn(|column| if row == column { of } else { 0.0 })
        })
    };
    it.cov_own = Some(unit(own));
    it.cov_common = Some(unit(common));
    let lab = it.lab().expect("it has a colour");
    let u95 = uncertainty::u95(lab, &(Matrix::identity() * (own + common))).expect("it is finite");
    it.u95 = Some((u95 * 1e6).round() / 1e6);
}
