"""Writes tests/data/colour-*.csv: colour mathematics by libraries that are not ours."""

import pathlib

import colour
import coloraide
import coloraide.everything
import numpy as np
import skimage.color

DATA = pathlib.Path("tests/data")
RANDOM = np.random.default_rng(20260101)
EDITION = "ISO 17321-1"
# The program's own constants, so that what is compared are the formulas.
D50 = np.array([0.96422, 1.0, 0.82521])
D65 = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])


def write(name, notes, header, rows):
    """A CSV with its provenance on top."""
    lines = [f"# {it}" for it in notes]
    lines.append(",".join(header))
    lines += [",".join(it if isinstance(it, str) else f"{it:.12g}" for it in row) for row in rows]
    (DATA / f"colour-{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def random_lab(n):
    """Colours over the whole of what paint can be."""
    return np.column_stack([RANDOM.uniform(5, 98, n), RANDOM.uniform(-70, 70, n), RANDOM.uniform(-60, 90, n)])


def differences():
    """Far and near pairs; the two libraries must agree before anything is written."""
    one = random_lab(200)
    other = np.where(np.arange(200)[:, None] < 100, random_lab(200), one + RANDOM.normal(0, 1.5, (200, 3)))
    de2000 = colour.delta_E(one, other, method="CIE 2000")
    assert np.allclose(de2000, skimage.color.deltaE_ciede2000(one, other), atol=1e-9)
    de76 = colour.delta_E(one, other, method="CIE 1976")
    rows = np.column_stack([one, other, de2000, de76])
    notes = [
        "Colour differences of random pairs, 100 far and 100 near: colour-science 0.4.7; scikit-image 0.26.0 agrees to 1e-9.",
        "Written by tests/oracle/colour_vectors.py. Twelve significant digits.",
    ]
    write("differences", notes, ["l1", "a1", "b1", "l2", "a2", "b2", "de2000", "de76"], rows)


def xyz_lab():
    """XYZ relative to D50 and CIELAB, from near black to beyond white."""
    xyz = RANDOM.uniform(0, 1.1, (100, 3)) * D50
    xyz[:25] *= 0.01
    xyy = [D50[0] / D50.sum(), D50[1] / D50.sum()]
    lab = colour.XYZ_to_Lab(xyz, xyy)
    lch = colour.models.Lab_to_LCHab(lab)
    notes = [
        "XYZ (Y = 1) to CIELAB, C* and hue, white (0.96422, 1, 0.82521): colour-science 0.4.7.",
        "Written by tests/oracle/colour_vectors.py. Twelve significant digits; the first 25 are near black.",
    ]
    write("xyz-lab", notes, ["x", "y", "z", "l", "a", "b", "c", "h"], np.column_stack([xyz, lab, lch[:, 1:]]))


def adaptation():
    """Matrices between lamps, daylights and the program's white."""
    rows = []
    for name in ("A", "C", "D65", "FL2", "FL11", "LED-B3"):
        xy = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
        white = colour.xy_to_XYZ(xy)
        for transform in ("Bradford", "CAT16"):
            matrix = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, D50, transform=transform)
            rows.append([name, transform, *white, *matrix.ravel()])
    notes = [
        "Adaptation matrices from an illuminant's white to (0.96422, 1, 0.82521): colour-science 0.4.7.",
        "Written by tests/oracle/colour_vectors.py. Twelve significant digits, rows of the matrix one after another.",
    ]
    header = ["illuminant", "cones", "x", "y", "z", *(f"m{i}{j}" for i in range(3) for j in range(3))]
    write("adaptation", notes, header, rows)


def chart():
    """The measured reflectances of the 24-patch chart under three illuminants."""
    for name in dir(colour):
        sets = getattr(colour, name)
        if name.startswith("SDS_") and hasattr(sets, "keys") and EDITION in sets:
            spectra = list(sets[EDITION].values())
            break
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    shape = colour.SpectralShape(380, 780, 5)
    rows = []
    for index, sd in enumerate(spectra):
        row = [f"{'ABCD'[index // 6]}{index % 6 + 1}"]
        # The same sums as ours at 5 nm, and the standard practice of ASTM E308 at 1 nm, each relative to its own white.
        for method in ("integration", "astm"):
            for name in ("D50", "D65", "A"):
                light = colour.SDS_ILLUMINANTS[name]
                perfect = colour.sd_ones(sd.shape)
                if method == "integration":
                    options = {"method": "Integration", "shape": shape}
                    observer = cmfs.copy().align(shape)
                    it, white = (
                        colour.sd_to_XYZ(which.copy().align(shape), observer, light.copy().align(shape), **options)
                        for which in (sd, perfect)
                    )
                else:
                    options = {"method": "ASTM E308", "use_practice_range": False}
                    it, white = (
                        colour.sd_to_XYZ(which.copy(), cmfs, light.copy(), **options) for which in (sd, perfect)
                    )
                row += list(colour.XYZ_to_Lab(it / white, [1 / 3, 1 / 3]))
        rows.append(row + list(sd.values))
    notes = [
        "CIELAB of the 24 measured reflectances of ISO 17321-1:2006 (open data in colour-science 0.4.7) under D50, D65 and A,",
        "2 degrees, each relative to that method's own white: by sums over 380-780 nm at 5 nm (sum_), by ASTM E308 (astm_);",
        "then the reflectances, 380-780 nm at 5 nm. Written by tests/oracle/colour_vectors.py.",
    ]
    header = ["patch"]
    header += [f"{m}_{i}_{c}" for m in ("sum", "astm") for i in ("d50", "d65", "a") for c in "lab"]
    header += [f"r{nm:.0f}" for nm in shape.wavelengths]
    write("chart-24", notes, header, rows)


def interpolation():
    """Sprague's interpolation of a 10 nm spectrum, at 1 nm near its ends and at 5 nm between."""
    values = 0.5 + 0.4 * np.sin(np.arange(31) / 3) * np.exp(-np.arange(31) / 40)
    nm = np.arange(400, 701, 10)
    wanted = np.unique(np.concatenate([np.arange(400, 431), np.arange(430, 671, 5), np.arange(670, 701)]))
    there = colour.SpragueInterpolator(nm, values)(wanted)
    notes = [
        "Sprague's interpolation (CIE 167:2005) of 0.5 + 0.4 sin(i/3) exp(-i/40), i = 0..30, 400-700 nm at 10 nm:",
        "colour-science 0.4.7. Written by tests/oracle/colour_vectors.py. Twelve significant digits.",
    ]
    write("interpolation", notes, ["nm", "value"], np.column_stack([wanted, there]))


def gamut():
    """CIELAB D50 to what sRGB can show, by the method of CSS Color 4."""

    class Color(coloraide.everything.ColorAll):
        """With every space registered."""

    rows = []
    for l, a, b in np.vstack([random_lab(120), random_lab(40) * [0.4, 1.2, 1.2]]):
        it = Color("lab", [l, a, b])
        inside = it.in_gamut("srgb", tolerance=1e-6)
        mapped = it.convert("srgb").fit("srgb", method="oklch-chroma", jnd=0.02) if not inside else it.convert("srgb")
        rows.append([f"{v:.9g}" for v in (l, a, b)] + [str(int(inside)), *(f"{v:.9g}" for v in mapped.coords())])
    notes = [
        "CIELAB D50 to encoded sRGB, mapped by chroma reduction in Oklch with local clipping at 0.02 (CSS Color 4) where it",
        "is outside: coloraide 8.13.1, method oklch-chroma. Written by tests/oracle/colour_vectors.py.",
    ]
    write("gamut", notes, ["l", "a", "b", "inside", "red", "green", "blue"], rows)


for it in (differences, xyz_lab, adaptation, chart, interpolation, gamut):
    it()
