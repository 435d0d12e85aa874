"""Makes the small pictures and the vectors of this folder: `python make_vectors.py`, in this folder.

General-purpose libraries stand for the outside: libjpeg-turbo, libtiff and Pillow 13.0, which carries them, decode the
pictures, Little CMS 2.19 (the library file inside Pillow's wheel, called through ctypes in double precision) takes RGB
through the ICC profiles to XYZ. Needs: `pip install pillow==13.0.0 numpy`.

decoded.csv    file, x, y, r, g, b: every pixel of each picture as Pillow reads it
profiles.csv   file, x, y, r, g, b, X, Y, Z: code values of each PNG and its XYZ (relative colorimetric, D50, Y = 1)
"""

import ctypes
import glob
import os
import struct
import zlib

import numpy
import PIL
from PIL import Image, ImageCms, features

# --- pictures -------------------------------------------------------------------------------------------------------


def scene(width, height, seed, grain):
    """Smooth colour with grain: smooth enough that ways of chroma upsampling hardly differ."""
    y, x = numpy.mgrid[0:height, 0:width].astype(float)
    channels = [
        120 + 90 * numpy.sin(x / 17 + seed) * numpy.cos(y / 23),
        130 + 80 * numpy.cos(x / 29 - seed) * numpy.sin(y / 19 + 1),
        110 + 70 * numpy.sin((x + y) / 31 + 2 * seed),
    ]
    noise = numpy.random.default_rng(seed).normal(0, grain, (height, width))
    return numpy.clip(numpy.stack(channels, 2) + noise[..., None], 0, 255).round().astype(numpy.uint8)


def pictures():
    small, large = Image.fromarray(scene(26, 18, 1, 2.0)), Image.fromarray(scene(200, 150, 2, 12.0))
    kinds = {
        "baseline-444.jpg": (small, dict(subsampling=0)),
        "baseline-422.jpg": (small, dict(subsampling=1)),
        "baseline-420.jpg": (small, dict(subsampling=2)),
        "progressive-420.jpg": (small, dict(subsampling=2, progressive=True)),
        "baseline-rgb.jpg": (small, dict(keep_rgb=True)),
        "palette.png": (small.quantize(32), {}),
        "lzw.tif": (small, dict(compression="tiff_lzw", tiffinfo={317: 2})),
        "deflate.tif": (small, dict(compression="tiff_adobe_deflate")),
        "large-baseline.jpg": (large, dict(subsampling=2)),
        "large-restarts.jpg": (large, dict(subsampling=2, restart_marker_rows=1)),
        "large-progressive.jpg": (large, dict(subsampling=2, progressive=True)),
        "grey.jpg": (small.convert("L"), {}),
        "cmyk.jpg": (small.convert("CMYK"), {}),
        "one-pixel.jpg": (small.crop((0, 0, 1, 1)), {}),
        "eight-pixels.jpg": (small.crop((0, 0, 8, 8)), {}),
    }
    with open("decoded.csv", "w", newline="\n") as out:
        out.write(f"# Pillow {PIL.__version__}, libjpeg-turbo {features.version('libjpeg_turbo')}\n")
        out.write("file,x,y,r,g,b\n")
        for name, (picture, options) in kinds.items():
            quality = dict(quality=92) if name.endswith("jpg") else {}
            picture.save(name, **quality, **options)
            if not name.startswith(("large", "grey", "cmyk")):
                decoded = numpy.asarray(Image.open(name).convert("RGB"))
                for (y, x), _ in numpy.ndenumerate(decoded[..., 0]):
                    out.write(f"{name},{x},{y},{','.join(map(str, decoded[y, x]))}\n")


def chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def write_png(name, codes, icc=None, extra=b""):
    """RGB or RGBA of 8 or 16 bits, as the array's type says."""
    height, width, channels = codes.shape
    bits, kind = 8 * codes.itemsize, {3: 2, 4: 6}[channels]
    rows = b"".join(b"\0" + row.astype(codes.dtype.newbyteorder(">")).tobytes() for row in codes)
    data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bits, kind, 0, 0, 0))
    if icc:
        data += chunk(b"iCCP", b"profile\0\0" + zlib.compress(icc, 9))
    data += extra + chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")
    with open(name, "wb") as out:
        out.write(data)


# --- profiles (ICC.1:2022) ------------------------------------------------------------------------------------------


def fixed(value):
    return struct.pack(">i", round(value * 65536))


def para(kind, *parameters):
    return b"para" + bytes(4) + struct.pack(">HH", kind, 0) + b"".join(map(fixed, parameters))


def curv(values):
    return b"curv" + bytes(4) + struct.pack(">I", len(values)) + b"".join(struct.pack(">H", v) for v in values)


def xyz(values):
    return b"XYZ " + bytes(4) + b"".join(map(fixed, values))


def text(words):
    body = words.encode("utf-16-be")
    return b"mluc" + bytes(4) + struct.pack(">II", 1, 12) + b"enUS" + struct.pack(">II", len(body), 28) + body


def profile(name, curves, colorants, extra=()):
    tags = [(b"desc", text(name)), (b"cprt", text("no rights reserved")), (b"wtpt", xyz((0.9642, 1.0, 0.8249)))]
    tags += [(tag, xyz(it)) for tag, it in zip((b"rXYZ", b"gXYZ", b"bXYZ"), colorants)]
    tags += list(zip((b"rTRC", b"gTRC", b"bTRC"), curves)) + list(extra)
    table, body, start = b"", b"", 128 + 4 + 12 * len(tags)
    for tag, data in tags:
        table += tag + struct.pack(">II", start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    rest = struct.pack(">I", len(tags)) + table + body
    header = struct.pack(">I", 128 + len(rest)) + b"lcms" + b"\x04\x40\0\0" + b"mntrRGB XYZ "
    header += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    header += fixed(0.9642) + fixed(1.0) + fixed(0.8249) + bytes(48)
    assert len(header) == 128
    return header + rest


def undated(icc):
    """With a fixed date in place of the present one, so that each run makes the same file."""
    return icc[:24] + struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + icc[36:]


P3 = ((0.51512, 0.2412, -0.00105), (0.29198, 0.69225, 0.04189), (0.1571, 0.06657, 0.78407))
WIDE = ((0.60974, 0.31111, 0.01947), (0.20528, 0.62567, 0.06087), (0.14918, 0.06322, 0.74456))
SRGB = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
TABLE = [round(65535 * (i / 255) ** 1.8) for i in range(256)]
SHORT = [0, 9000, 21000, 40000, 65535]

PROFILES = {
    "srgb": undated(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()),
    "p3-para3": profile("P3, function type 3", [para(3, *SRGB)] * 3, P3),
    "para0": profile("function type 0", [para(0, 2.2)] * 3, P3),
    "para1": profile("function type 1", [para(1, 2.2, 1.05, -0.05)] * 3, P3),
    "para2": profile("function type 2", [para(2, 2.0, 0.95, -0.05, 0.19)] * 3, P3),
    "para4": profile("function type 4", [para(4, 2.4, 0.94, 0.05, 0.08, 0.05, 0.01, 0.002)] * 3, P3),
    "gamma": profile("gamma in u8Fixed8", [curv([563])] * 3, WIDE),
    "table-256": profile("256 samples", [curv(TABLE)] * 3, WIDE),
    "table-5": profile("five samples", [curv(SHORT)] * 3, WIDE),
    "identity": profile("linear", [curv([])] * 3, WIDE),
    "mixed": profile("three curves", [para(0, 1.8), curv(SHORT), curv([512])], WIDE),
}


class LittleCms:
    """RGB to XYZ in double precision, which Pillow's own interface does not offer."""

    RGB_DBL = (1 << 22) | (4 << 16) | (3 << 3)
    XYZ_DBL = (1 << 22) | (9 << 16) | (3 << 3)

    def __init__(self):
        folder = os.path.join(os.path.dirname(os.path.dirname(PIL.__file__)), "pillow.libs")
        self.lib = ctypes.CDLL(glob.glob(os.path.join(folder, "liblcms2*"))[0])
        for name in ("cmsOpenProfileFromMem", "cmsCreateXYZProfile", "cmsCreateTransform"):
            getattr(self.lib, name).restype = ctypes.c_void_p

    def to_xyz(self, icc, rgb):
        lib, pointer = self.lib, ctypes.c_void_p
        source = pointer(lib.cmsOpenProfileFromMem(icc, len(icc)))
        target = pointer(lib.cmsCreateXYZProfile())
        no_optimisation, relative = 0x0100, 1
        transform = pointer(
            lib.cmsCreateTransform(source, self.RGB_DBL, target, self.XYZ_DBL, relative, no_optimisation)
        )
        assert transform.value, "Little CMS refuses the profile"
        values, result = numpy.ascontiguousarray(rgb, dtype=float), numpy.empty(rgb.shape)
        lib.cmsDoTransform(
            transform, values.ctypes.data_as(pointer), result.ctypes.data_as(pointer), ctypes.c_uint32(len(rgb))
        )
        return result


def profiles():
    cms = LittleCms()
    eight = [(0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 255, 0), (0, 0, 255), (128, 128, 128), (10, 11, 12)]
    eight += [(198, 93, 6), (115, 82, 68), (1, 254, 127), (250, 240, 30), (64, 32, 200)]
    eight = numpy.array(eight, dtype=numpy.uint8).reshape(3, 4, 3)
    sixteen = numpy.random.default_rng(7).integers(0, 65536, (2, 4, 3)).astype(numpy.uint16)
    with open("profiles.csv", "w", newline="\n") as out:
        out.write(f"# Little CMS {features.version('littlecms2')}, relative colorimetric, doubles\n")
        out.write("file,x,y,r,g,b,X,Y,Z\n")
        for name, icc in PROFILES.items():
            for codes in (eight, sixteen):
                file = f"icc-{name}-{8 * codes.itemsize}.png"
                write_png(file, codes, icc)
                flat = codes.reshape(-1, 3)
                for index, (rgb, values) in enumerate(zip(flat, cms.to_xyz(icc, flat / numpy.iinfo(codes.dtype).max))):
                    y, x = divmod(index, codes.shape[1])
                    row = [file, x, y, *rgb] + [f"{it:.7f}" for it in values]
                    out.write(",".join(map(str, row)) + "\n")
    lut = b"mft2" + bytes(4) + bytes([3, 3, 2, 0]) + b"".join(map(fixed, (1, 0, 0, 0, 1, 0, 0, 0, 1)))
    lut += struct.pack(">HH", 2, 2) + struct.pack(">6H", *(0, 65535) * 3)
    lut += struct.pack(">24H", *range(24)) + struct.pack(">6H", *(0, 65535) * 3)
    tables = profile("with tables", [para(3, *SRGB)] * 3, P3, [(b"A2B0", lut)])
    write_png("icc-with-tables.png", eight, tables)
    with open("p3.icc", "wb") as out:
        out.write(PROFILES["p3-para3"])


pictures()
profiles()
