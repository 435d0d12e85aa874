"""What other readers make of the DNG files in tests/data/photo/dng: truth.json beside them.

The files are the simulator's (cargo run -p masstone-simulator --bin dng-samples -- tests/data/photo/dng). Sensor values are read by two
libraries that share no code: LibRaw, as rawpy carries it, and tifffile with imagecodecs. White points and matrices are
colour-hdri's, which follows DNG 1.4, chapter 6. With a folder as argument LibRaw's renderings are written there as PNG, to look at.

    python tests/oracle/dng_files.py [FOLDER]
"""

import hashlib
import json
import re
import sys
import warnings
from importlib.metadata import version
from pathlib import Path

import numpy as np
import rawpy
import tifffile
from PIL import Image

warnings.simplefilter("ignore")
from colour import temperature  # noqa: E402
from colour_hdri import (  # noqa: E402
    camera_neutral_to_xy,
    matrix_camera_space_to_XYZ,
    matrix_XYZ_to_camera_space,
    xy_to_camera_neutral,
)
from colour_hdri.models import CCT_ILLUMINANTS_ADOBEDNG, LIGHT_SOURCE_TAG_TO_DNG_ILLUMINANTS  # noqa: E402

DATA = Path(__file__).parent.parent / "data/photo/dng"
COLUMNS, ROWS = 4, 3
# Correlated colour temperatures, kelvin, and distances from the locus (CIE 1960 uv).
LIGHTS = [(kelvin, 0.0) for kelvin in [2000, 2400, 2850, 3200, 3600, 4100, 4600, 5000, 5500, 6000, 6500, 7000, 8000, 10000]]
LIGHTS += [(kelvin, duv) for kelvin in [2700, 4000, 5500] for duv in [-0.012, 0.012]]
COLOUR_OF = ["phone.dng", "calibrated-unit.dng", "no-forward-lamp.dng", "one-light.dng"]


def tag(pages, code):
    """A tag's value from the first directory that has it, or none."""
    found = [page.tags[code] for page in pages if code in page.tags]
    return found[0] if found else None


def numbers(entry):
    """A tag's numbers; tifffile gives rationals as numerators and denominators in turn."""
    values = np.atleast_1d(np.array(entry.value, float))
    if entry.dtype in (tifffile.DATATYPE.RATIONAL, tifffile.DATATYPE.SRATIONAL):
        values = values[0::2] / values[1::2]
    return values


def means(values, area):
    """Means over cells of the active area, row by row: of the four places of a 2 × 2 filter array, or of the samples."""
    top, left, bottom, right = area
    active = values[top:bottom, left:right].astype(float)
    height, width = active.shape[:2]
    out = []
    for row in range(ROWS):
        for column in range(COLUMNS):
            y0, y1 = height * row // ROWS, height * (row + 1) // ROWS
            x0, x1 = width * column // COLUMNS, width * (column + 1) // COLUMNS
            cell = active[y0:y1, x0:x1]
            if active.ndim == 3:
                planes = [cell[..., i] for i in range(cell.shape[2])]
            else:
                # The first place of the array is the first pixel of the active area.
                planes = [cell[(dy + y0) % 2 :: 2, (dx + x0) % 2 :: 2] for dy in (0, 1) for dx in (0, 1)]
            out.append([round(float(plane.mean()), 4) for plane in planes])
    return out


def digest(values):
    """SHA-256 of all stored samples, masked pixels too, as little-endian 16-bit words row by row."""
    return hashlib.sha256(np.ascontiguousarray(values, "<u2").tobytes()).hexdigest()


def raw_page(file):
    """The directory that is no smaller version of another."""
    first = file.pages[0]
    return next(it for it in [first, *(first.pages or [])] if it.tags[254].value == 0)


def by_tifffile(path):
    with tifffile.TiffFile(path) as file:
        page = raw_page(file)
        values = page.asarray()
        table = tag([page], 50712)
        if table is not None:
            values = np.array(table.value)[values]
        area = [int(it) for it in tag([page], 50829).value]
        return values, area


def by_libraw(path, values):
    with rawpy.imread(str(path)) as raw:
        own = raw.raw_image
        # The room for a fourth channel is empty where there are three.
        own = own[..., :3] if own.ndim == 3 else own
        assert np.array_equal(own, values), f"{path.name}: LibRaw and tifffile differ"
        sizes = raw.sizes
        return {
            "raw_size": [sizes.raw_width, sizes.raw_height],
            "visible": {"left": sizes.left_margin, "top": sizes.top_margin, "size": [sizes.width, sizes.height]},
            "flip": sizes.flip,
            "channels": raw.color_desc.decode(),
            "pattern": None if raw.raw_pattern is None else raw.raw_pattern.tolist(),
            "black": list(raw.black_level_per_channel),
            "white": raw.white_level,
            "as_shot_gains": [round(it, 6) for it in raw.camera_whitebalance],
            "camera_to_srgb": np.round(raw.color_matrix.astype(float), 6).tolist(),
        }


def colour(path):
    with tifffile.TiffFile(path) as file:
        pages = [file.pages[0], raw_page(file)]

        def matrices(codes, otherwise):
            found = [tag(pages, code) for code in codes]
            return [otherwise if it is None else numbers(it).reshape(3, 3) for it in found]

        lights = [tag(pages, code) for code in (50778, 50779)]
        kelvin = [
            None if it is None else CCT_ILLUMINANTS_ADOBEDNG[LIGHT_SOURCE_TAG_TO_DNG_ILLUMINANTS[it.value]] for it in lights
        ]
        sets = list(zip(matrices((50721, 50722), None), matrices((50723, 50724), np.eye(3)), matrices((50964, 50965), np.eye(3))))
        # One light is two alike, and the cooler comes first for colour-hdri.
        if kelvin[1] is None:
            kelvin, sets = [kelvin[0], kelvin[0] + 1], [sets[0], sets[0]]
        if kelvin[0] > kelvin[1]:
            kelvin, sets = kelvin[::-1], sets[::-1]
        balance = tag(pages, 50727)
        balance = np.ones(3) if balance is None else numbers(balance)
        as_shot = numbers(tag(pages, 50728))
    (cm1, cc1, fm1), (cm2, cc2, fm2) = sets
    common = (*kelvin, cm1, cm2, cc1, cc2, balance)

    def row(neutral):
        neutral = np.round(neutral, 6)
        xy = camera_neutral_to_xy(neutral, *common, epsilon=1e-12)
        to_camera = matrix_XYZ_to_camera_space(xy, *common)
        # An identity stands for a forward matrix that is not there.
        none = np.eye(3)
        plain = matrix_camera_space_to_XYZ(xy, *common, none, none)
        it = {
            "neutral": neutral.tolist(),
            "xy": np.round(xy, 8).tolist(),
            "kelvin": round(float(kelvin_of(xy)), 3),
            "xyz_to_camera": np.round(to_camera, 8).tolist(),
            "to_d50_by_colour_matrix": scaled(plain, neutral),
        }
        if not np.allclose(fm1, none):
            it["to_d50_by_forward_matrix"] = scaled(matrix_camera_space_to_XYZ(xy, *common, fm1, fm2), neutral)
        return it

    listed = [xy_to_camera_neutral(xy_of(*light), *common) for light in LIGHTS]
    listed = [it for it in listed if it.min() > 0]
    return {"as_shot": row(as_shot), "others": [row(it) for it in listed]}


def scaled(matrix, neutral):
    """So that the neutral gets Y = 1."""
    return np.round(matrix / (matrix @ neutral)[1], 8).tolist()


def xy_of(kelvin, duv):
    u, v = temperature.CCT_to_uv_Robertson1968(np.array([kelvin, duv]))
    return np.array([3 * u, 2 * v]) / (2 * u - 8 * v + 4)


def kelvin_of(xy):
    x, y = xy
    uv = np.array([4 * x, 6 * y]) / (-2 * x + 12 * y + 3)
    return temperature.uv_to_CCT_Robertson1968(uv)[0]


def main():
    if len(sys.argv) > 1:
        for path in sorted(DATA.glob("*.dng")):
            with rawpy.imread(str(path)) as raw:
                image = raw.postprocess(use_camera_wb=True, no_auto_bright=True)
            Image.fromarray(image).save(Path(sys.argv[1]) / f"{path.stem}.png")
    libraw = ".".join(map(str, rawpy.libraw_version))
    truth = {
        "written_by": "tests/oracle/dng_files.py",
        "libraw": f"LibRaw {libraw} through rawpy {rawpy.__version__}",
        "tifffile": f"tifffile {tifffile.__version__} with imagecodecs {version('imagecodecs')}",
        "colour": f"colour-hdri {version('colour-hdri')} with colour-science {version('colour-science')}",
        "cells": f"{COLUMNS} × {ROWS} over the active area, row by row, cell i of n from size·i/n, rounded down; means of linearised "
        "values before black, of the four places of the filter array from the active area's first pixel, row by row, or of the samples",
        "values": "sha256, means: by LibRaw and by tifffile alike, value by value",
        "files": {},
        "colours": {},
    }
    for path in sorted(DATA.glob("*.dng")):
        values, area = by_tifffile(path)
        truth["files"][path.name] = {
            "active_area": area,
            "sha256": digest(values),
            "means": means(values, area),
            # That its values are the same is asserted, so that means and digest are both libraries'.
            "libraw": by_libraw(path, values),
        }
    for name in COLOUR_OF:
        truth["colours"][name] = colour(DATA / name)
    text = json.dumps(truth, indent=1, ensure_ascii=False)
    # One line for each list of numbers.
    (DATA / "truth.json").write_text(compact(text) + "\n")


def compact(text):
    return re.sub(r"\[\s+((?:-?[\d.e-]+,?\s+)+)\]", lambda it: "[" + " ".join(it.group(1).split()) + "]", text)


if __name__ == "__main__":
    main()
