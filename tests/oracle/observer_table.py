"""Writes the observer and illuminants as a Rust table, from colour-science's copies of the CIE tables."""

import pathlib

import colour

OUT = pathlib.Path("src/colour/spectrum/table.rs")
SHAPE = colour.SpectralShape(380, 780, 5)

observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
illuminants = [colour.SDS_ILLUMINANTS[it] for it in ("D50", "D65", "A")]

lines = [
    "//! The CIE 1931 2° standard observer and illuminants D50, D65 and A at 5 nm, 380–780 nm.",
    "//!",
    "//! Written by `tests/oracle/observer_table.py` from colour-science 0.4.7, whose tables are those of CIE 15",
    "//! (ISO/CIE 11664-1 and 11664-2). Every 5 nm value is the table's own: none is interpolated.",
    "",
    "/// First wavelength of the table, nm.",
    "pub(super) const START_NM: f64 = 380.0;",
    "/// Step of the table, nm.",
    "pub(super) const STEP_NM: f64 = 5.0;",
    "",
    "/// A row a wavelength: x̄, ȳ, z̄, and the relative power of D50, D65, A (100 at 560 nm).",
    "#[rustfmt::skip]",
    "pub(super) const ROWS: [[f64; 6]; 81] = [",
]
for wavelength in SHAPE.wavelengths:
    row = [*observer[wavelength], *(it[wavelength] for it in illuminants)]
    lines.append("    [" + ", ".join(f"{it:.10g}" if "." in f"{it:.10g}" or "e" in f"{it:.10g}" else f"{it:.1f}" for it in row) + f"], // {wavelength:.0f}")
lines.append("];")
OUT.parent.mkdir(exist_ok=True)
OUT.write_text("\n".join(lines) + "\n", encoding="utf-8")
