//! A spectrum on the common grid, and the open tables.

use std::collections::BTreeMap;
use std::sync::LazyLock;

/// First wavelength of the grid, nm.
pub(crate) const START_NM: f64 = 380.0;
/// Step of the grid, nm.
pub(crate) const STEP_NM: f64 = 5.0;
/// Number of bands: 380 to 730 nm.
pub(crate) const BANDS: usize = 71;

/// One value a band; what it means (reflectance 0–1, relative power, sensitivity) is said where it is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spectrum(pub [f64; BANDS]);

impl Spectrum {
    /// A function of the wavelength in nm.
    pub fn from_nm(value: impl Fn(f64) -> f64) -> Self {
        Self(std::array::from_fn(|i| value(wavelength(i))))
    }

    /// The same value everywhere.
    #[must_use]
    pub fn flat(value: f64) -> Self {
        Self([value; BANDS])
    }

    /// Band by band.
    pub fn map(&self, change: impl Fn(f64) -> f64) -> Self {
        Self(self.0.map(change))
    }

    /// Band by band with another.
    pub fn zip(&self, other: &Self, join: impl Fn(f64, f64) -> f64) -> Self {
        Self(std::array::from_fn(|i| join(self.0[i], other.0[i])))
    }

    /// `self·(1 − share) + other·share`.
    #[must_use]
    pub fn lerp(&self, other: &Self, share: f64) -> Self {
        self.zip(other, |a, b| a + (b - a) * share)
    }

    /// Product.
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        self.zip(other, |a, b| a * b)
    }

    /// Sum over the bands of the product with another.
    #[must_use]
    pub fn dot(&self, other: &Self) -> f64 {
        self.0.iter().zip(&other.0).map(|(a, b)| a * b).sum()
    }

    /// Value at a wavelength between bands, ends held.
    #[must_use]
    pub fn at(&self, nm: f64) -> f64 {
        let place = ((nm - START_NM) / STEP_NM).clamp(0.0, 70.0);
        let share = place.fract();
        let i = (0..BANDS).take_while(|&i| as_f64(i) <= place).count() - 1;
        self.0[i] * (1.0 - share) + self.0[(i + 1).min(BANDS - 1)] * share
    }
}

/// Wavelength of a band, nm.
#[must_use]
pub(crate) fn wavelength(band: usize) -> f64 {
    START_NM + STEP_NM * as_f64(band)
}

/// A small count as a number.
pub(crate) fn as_f64(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}

/// The columns of a committed table by name.
type Table = BTreeMap<&'static str, Spectrum>;

/// Reads a committed table: `#` lines, a header, 71 rows. It is part of the program, so a fault in it is a bug.
fn table(text: &'static str) -> Table {
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let names: Vec<&str> = lines.next().expect("a header").split(',').skip(1).collect();
    let rows: Vec<Vec<f64>> = lines
        .map(|line| {
            line.split(',')
                .skip(1)
                .map(|cell| cell.parse().expect("a number"))
                .collect()
        })
        .collect();
    assert_eq!(rows.len(), BANDS, "a table has one row a band");
    let column = |c: usize| Spectrum(std::array::from_fn(|i| rows[i][c]));
    names
        .iter()
        .enumerate()
        .map(|(c, name)| (*name, column(c)))
        .collect()
}

static OBSERVER: LazyLock<Table> = LazyLock::new(|| table(include_str!("../data/observer.csv")));
static DAYLIGHT: LazyLock<Table> = LazyLock::new(|| table(include_str!("../data/daylight.csv")));
static LIGHTS: LazyLock<Table> = LazyLock::new(|| table(include_str!("../data/lights.csv")));
static CAMERAS: LazyLock<Table> = LazyLock::new(|| table(include_str!("../data/cameras.csv")));
static CHART: LazyLock<Table> = LazyLock::new(|| table(include_str!("../data/chart-24.csv")));

/// The colour-matching functions of the CIE 1931 2° observer.
#[must_use]
pub fn observer() -> [Spectrum; 3] {
    ["x", "y", "z"].map(|name| OBSERVER[name])
}

/// The three components of CIE daylight.
pub(crate) fn daylight_components() -> [Spectrum; 3] {
    ["S0", "S1", "S2"].map(|name| DAYLIGHT[name])
}

/// A tabulated CIE illuminant by its name, such as `D50` or `LED-B3`.
#[must_use]
pub fn illuminant(name: &str) -> Option<Spectrum> {
    LIGHTS.get(name).copied()
}

/// The sensitivities (red, green, blue) of measured camera 1 or 2.
pub(crate) fn measured_camera(number: usize) -> [Spectrum; 3] {
    ["r", "g", "b"].map(|channel| CAMERAS[format!("{channel}{number}").as_str()])
}

/// The 24 reflectances of ISO 17321-1 in reading order: A1 … A6, B1 … D6.
///
/// # Panics
///
/// Never: the committed table has 24 columns.
#[must_use]
pub fn chart_24() -> [Spectrum; 24] {
    // The names A1 … D6 sort in reading order.
    let mut patches = CHART.values();
    std::array::from_fn(|_| *patches.next().expect("24 columns"))
}
