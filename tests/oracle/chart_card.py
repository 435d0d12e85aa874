"""Writes the card of a 24-patch chart, with the measured reflectances that colour-science ships as open data."""

import pathlib

import colour
import numpy as np

OUT = pathlib.Path("calibration/chart-24.toml")
# The spectra are keyed by the standard in whose annex they stand; the names of the patches are our own plain ones.
EDITION = "ISO 17321-1"
NAMES = [
    "dark brown", "pale pinkish tan", "greyish blue", "dull leaf green", "violet blue", "pale blue green",
    "orange", "strong blue", "pinkish red", "dark purple", "yellow green", "amber yellow",
    "dark blue", "mid green", "strong red", "bright yellow", "red purple", "green blue",
    "white", "light grey", "grey", "mid grey", "dark grey", "black",
]  # fmt: skip


def spectra():
    """The 24 reflectances, 380-780 nm at 5 nm, in the chart's order."""
    for name in dir(colour):
        sets = getattr(colour, name)
        if name.startswith("SDS_") and hasattr(sets, "keys") and EDITION in sets:
            return list(sets[EDITION].values())
    raise SystemExit(f"no data set {EDITION}")


HEAD = """\
# A chart of 24 patches in four rows of six, each described by its reflectance.
#
# Written by tests/oracle/chart_card.py. The reflectances are those of one chart; yours differs a little, most in older
# editions. To use your own data sheet: copy this file beside your panel file, give it another id, edition and source,
# and replace each patch's `reflectance` with yours, or with `lab` (CIELAB, D50, 2°) or `xyz` (D50, 2°, white Y = 100). Check
# the sizes with a ruler: patches (width, height), the distance from patch to patch, and from the board's corner to the
# first patch.
id = "chart-24"
title = "Chart of 24 patches"
edition = "ISO 17321-1"
source = "measured reflectances of the 24 patches in ISO 17321-1:2006, as open data in colour-science 0.4.7; uncertainties: common practice, no source (copies of such a chart differ by about 1 ΔE00, dark ones by more)"

[board]
size_mm = [280, 195]
first_patch_mm = [7.5, 10]

[grid]
rows = 4
columns = 6
patch_mm = [40, 40]
pitch_mm = [45, 45]
"""

lines = [HEAD]
for index, sd in enumerate(spectra()):
    assert np.array_equal(sd.wavelengths, np.arange(380, 781, 5))
    # Every second value, 10 nm: what data sheets print; the test compares with all of them.
    values = ", ".join(f"{it:.10g}" for it in sd.values[::2])
    dark = index == 23
    lines.append(
        f"[[patch]]\n"
        f'at = "{"ABCD"[index // 6]}{index % 6 + 1}"\n'
        f'name = "{NAMES[index]}"\n'
        f"reflectance = {{ start_nm = 380, step_nm = 10, values = [{values}] }}\n"
        f"uncertainty = {1.5 if dark else 1.0}\n"
    )
OUT.write_text("\n".join(lines), encoding="utf-8")
