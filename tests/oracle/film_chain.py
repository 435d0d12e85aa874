"""Writes tests/data/film-chain.csv: films from absorption and scattering to a screen's code, by libraries that are not ours.

No step is taken from the program: the film is Kubelka and Munk's differential equation integrated (scipy), the surface is Saunderson's
formula as published, the rest is colour-science.
"""

import pathlib

import colour
import numpy as np
from scipy.integrate import solve_ivp

CHART = pathlib.Path("tests/data/colour-chart-24.csv")
OUT = pathlib.Path("tests/data/film-chain.csv")
BANDS = np.arange(380, 781, 10)
FINE = colour.SpectralShape(380, 780, 5)
CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(FINE)
# The program's own constants, so that what is compared are the formulas.
D50 = np.array([0.96422, 1.0, 0.82521])
XY = D50[:2] / D50.sum()
OUTSIDE, INSIDE = 0.04, 0.596346
SRGB = colour.RGB_COLOURSPACES["sRGB"].copy()
# The matrix to all digits, not the standard's four.
SRGB.use_derived_transformation_matrices(True)


def chart():
    """Every 10 nm from 380 to 780 nm."""
    rows = [line.split(",") for line in CHART.read_text().splitlines() if not line.startswith("#")][1:]
    return {row[0]: np.array(row[-81:], dtype=float)[::2] for row in rows}


def film(kx, sx, ground):
    """dR/dx = S - 2 (K + S) R + S R^2 from the ground up, x from 0 to 1."""
    slope = lambda _, r: sx - 2 * (kx + sx) * r + sx * r**2
    return solve_ivp(slope, (0, 1), [ground], method="DOP853", rtol=1e-13, atol=1e-14).y[0, -1]


def xyz(reflectance, light):
    """Sums at 5 nm, relative to their own white; between the bands straight lines."""
    light = colour.SDS_ILLUMINANTS[light].copy().align(FINE)
    values = np.interp(FINE.wavelengths, BANDS, reflectance)
    seen, white = (
        colour.sd_to_XYZ(colour.SpectralDistribution(it, FINE.wavelengths), CMFS, light, method="Integration", shape=FINE)
        for it in (values, np.ones_like(values))
    )
    return seen / white


def lab(reflectance, light):
    return colour.XYZ_to_Lab(xyz(reflectance, light), [1 / 3, 1 / 3])


def screen(reflectance):
    """Eight-bit codes; Bradford from D50 to D65."""
    of_d50 = xyz(reflectance, "D50") * D50
    codes = colour.XYZ_to_RGB(of_d50, SRGB, XY, chromatic_adaptation_transform="Bradford", apply_cctf_encoding=True)
    return codes * 255


rows = []
all_patches = chart()
names = list(all_patches)
for index, name in enumerate(names):
    ground_name = names[(7 * index + 5) % 24]
    strength, level = [0.3, 1.0, 3.0][index % 3], [0.05, 0.5, 2.0, 8.0][index % 4]
    kx = strength * -np.log(all_patches[name])
    sx = level * 560 / BANDS
    ground = all_patches[ground_name]
    within = np.array([film(*it) for it in zip(kx, sx, ground)])
    seen = (1 - OUTSIDE) * (1 - INSIDE) * within / (1 - INSIDE * within)
    bare = (1 - OUTSIDE) * (1 - INSIDE) * ground / (1 - INSIDE * ground)
    d50, d65 = lab(seen, "D50"), lab(seen, "D65")
    de = colour.delta_E(d50, lab(bare, "D50"), method="CIE 2000")
    codes = screen(seen)
    inside = np.all((codes > 0) & (codes < 255))
    sure = np.all(np.abs(codes % 1 - 0.5) > 0.01)
    hexed = "#" + "".join(f"{round(it):02X}" for it in codes) if inside and sure else "-"
    rows.append([name, ground_name, hexed, *(f"{it:.12g}" for it in (strength, level, *d50, *d65, de))])

notes = [
    "Films of KX = strength x -ln R of a chart's patch and SX = level x 560 nm / wavelength, on another patch as ground (both within the",
    "coating; reflectances in colour-chart-24.csv, every 10 nm), seen without gloss through a surface that reflects 0.04 from outside and",
    "0.596346 from inside: Kubelka and Munk's equation integrated by scipy 1.17.1 (DOP853), Saunderson's formula in numpy 2.4.6; then",
    "colour-science 0.4.7: CIELAB under D50 and D65 (2 degrees, sums at 5 nm), sRGB code by Bradford (- where it is outside the gamut or a",
    "hundredth from another code), CIEDE2000 to the ground without a film. Written by tests/oracle/film_chain.py. Twelve significant digits.",
]
header = "patch,ground,hex,strength,level,l_d50,a_d50,b_d50,l_d65,a_d65,b_d65,de2000"
OUT.write_text("\n".join([f"# {it}" for it in notes] + [header] + [",".join(it) for it in rows]) + "\n", encoding="utf-8")
