"""Extracts the open spectral data that the simulator is built on, and the vectors that its colorimetry is tested with.

Run:  pip install colour-science==0.4.7 && python extract.py
Everything comes from colour-science 0.4.7 (BSD-3-Clause), which names the original sources of each table.
All spectra are brought to 380-730 nm in steps of 5 nm by linear interpolation; outside a table's own range the end value
is held for reflectances, and zero is taken for sensitivities.
"""

import csv
import warnings
from pathlib import Path

warnings.filterwarnings("ignore")

import colour  # noqa: E402
import numpy as np  # noqa: E402

HERE = Path(__file__).parent
GRID = np.arange(380, 731, 5)
LICENCE = "colour-science 0.4.7, BSD-3-Clause"


def on_grid(sd, outside_zero=False):
    """One spectrum on the common grid."""
    x, y = np.asarray(sd.wavelengths), np.asarray(sd.values)
    ends = {"left": 0.0, "right": 0.0} if outside_zero else {}
    return np.interp(GRID, x, y, **ends)


def write(name, lines, columns, digits):
    """Columns (name, values) against wavelength, after `#` lines of provenance."""
    with open(HERE / name, "w", newline="\n", encoding="utf-8") as out:
        for line in lines:
            out.write(f"# {line}\n")
        table = csv.writer(out, lineterminator="\n")
        table.writerow(["nm"] + [title for title, _ in columns])
        for i, nm in enumerate(GRID):
            table.writerow([nm] + [f"{values[i]:.{digits}g}" for _, values in columns])


def chart():
    """The 24 measured reflectances of ISO 17321-1, in reading order."""
    collections = [getattr(colour.characterisation, name) for name in dir(colour.characterisation) if name.startswith("SDS_")]
    sets = [it for it in collections if hasattr(it, "keys") and "ISO 17321-1" in it.keys()]
    return list(sets[0]["ISO 17321-1"].values())


def main():
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    write(
        "observer.csv",
        [f"CIE 1931 2 degree colour-matching functions, no unit. {LICENCE}; original: CIE 15."],
        [(n, np.interp(GRID, cmfs.wavelengths, cmfs.values[:, i])) for i, n in enumerate("xyz")],
        8,
    )
    basis = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    write(
        "daylight.csv",
        [f"CIE daylight components S0 S1 S2, relative power. {LICENCE}; original: CIE 15."],
        [(n, on_grid(basis[n])) for n in ("S0", "S1", "S2")],
        7,
    )
    lights = ["A", "D50", "D65"] + [f"FL{i}" for i in range(1, 13)]
    lights += ["LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-V1", "LED-V2"]
    write(
        "lights.csv",
        [
            f"CIE illuminants, relative power, each table's own scale. {LICENCE}; original: CIE 15:2004 and CIE 15:2018.",
        ],
        [(n, on_grid(colour.SDS_ILLUMINANTS[n])) for n in lights],
        7,
    )
    columns = []
    for camera, (_, ms) in enumerate(colour.MSDS_CAMERA_SENSITIVITIES.items(), 1):
        for i, channel in enumerate("rgb"):
            values = np.interp(GRID, ms.wavelengths, ms.values[:, i], left=0.0, right=0.0)
            columns.append((f"{channel}{camera}", np.clip(values, 0.0, None)))
    write(
        "cameras.csv",
        [
            "Relative spectral sensitivities of two cameras, measured at the National Physical Laboratory.",
            f"{LICENCE}; its data set MSDS_CAMERA_SENSITIVITIES, in its order; original: Darrodi et al. 2015.",
            "Camera 2 has no values outside 400-680 nm: zero is taken there.",
        ],
        columns,
        6,
    )
    patches = chart()
    names = [f"{'ABCD'[i // 6]}{i % 6 + 1}" for i in range(24)]
    write(
        "chart-24.csv",
        [
            "Reflectance factors (0-1) of the 24 patches given in ISO 17321-1, in reading order (D: white to black).",
            f"{LICENCE}.",
        ],
        [(n, on_grid(sd)) for n, sd in zip(names, patches)],
        6,
    )
    vectors(cmfs, names, patches)


def vectors(cmfs, names, patches):
    """Lab of the patches as colour-science computes it, at 5 nm over 380-730 nm by plain summation (ASTM E308's sums)."""
    shape = colour.SpectralShape(380, 730, 5)
    observer = cmfs.copy().align(shape)
    d50 = colour.SDS_ILLUMINANTS["D50"].copy().align(shape)
    white = colour.sd_to_XYZ(colour.sd_ones(shape), observer, d50, method="Integration")
    xy = colour.XYZ_to_xy(white)
    with open(HERE / "check-lab.csv", "w", newline="\n", encoding="utf-8") as out:
        out.write("# CIELAB D50/2 degree of the chart's patches by colour-science 0.4.7: sd_to_XYZ (method Integration,\n")
        out.write("# 380-730 nm, 5 nm) and XYZ_to_Lab with the white of the same sums. Units: CIELAB.\n")
        out.write("patch,L,a,b\n")
        for name, sd in zip(names, patches):
            values = colour.SpectralDistribution(on_grid(sd), GRID)
            xyz = colour.sd_to_XYZ(values, observer, d50, method="Integration") / white[1]
            lab = colour.XYZ_to_Lab(xyz, xy)
            out.write(f"{name}," + ",".join(f"{v:.5f}" for v in lab) + "\n")
    with open(HERE / "check-daylight.csv", "w", newline="\n", encoding="utf-8") as out:
        out.write("# CIE daylight by colour-science 0.4.7: CCT_to_xy_CIE_D and sd_CIE_illuminant_D_series (no rounding of M1, M2).\n")
        out.write("# Relative power, 100 at 560 nm.\n")
        out.write("kelvin,x,y,s400,s450,s500,s600,s700\n")
        for kelvin in (4000, 5003, 6504, 9000):
            x, y = colour.temperature.CCT_to_xy_CIE_D(kelvin)
            sd = colour.sd_CIE_illuminant_D_series([x, y], M1_M2_rounding=False)
            row = [sd[float(nm)] for nm in (400, 450, 500, 600, 700)]
            out.write(f"{kelvin},{x:.6f},{y:.6f}," + ",".join(f"{v:.4f}" for v in row) + "\n")


if __name__ == "__main__":
    main()
