"""Draws small HEIC files and writes what another decoder makes of them: tests/data/photo/heic/.

Encoder and decoder are x265, libde265 and libheif, as pillow-heif carries them. What its encoder does not write is patched in:
EXIF's own word on the orientation, colour boxes taken away, a bit stream that says nothing of colour.

With a folder of phone files as argument the decoder's word on those is written, too; the files stay where they are:

    python tests/oracle/heic_files.py [../shared/real-formats]
"""

import io
import struct
import sys
from pathlib import Path

import numpy as np
import pillow_heif
from PIL import Image

OUT = Path(__file__).parent.parent / "data/photo/heic"
P3 = (Path(__file__).parent.parent / "data/photo/p3.icc").read_bytes()
SIZE = (200, 150)


def picture():
    """Smooth colour with grain, so that ways of chroma upsampling hardly differ, and a corner that says which way is up."""
    width, height = SIZE
    y, x = np.mgrid[0:height, 0:width].astype(float)
    it = np.stack(
        [
            0.50 + 0.35 * np.sin(x / 47) * np.cos(y / 53),
            0.48 + 0.30 * np.cos(x / 69 - 1) * np.sin(y / 49 + 1),
            0.45 + 0.30 * np.sin((x + y) / 71 + 2),
        ],
        axis=2,
    )
    fade = np.clip(1.5 - np.hypot(x - 20, y - 15) / 60, 0, 1)[..., None]
    it = it * (1 - fade) + fade * np.array([0.85, 0.15, 0.15])
    grain = np.random.default_rng(20).normal(0, 0.004, (height, width, 1))
    return np.clip(it + grain, 0, 1)


def tags(orientation=1):
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Larch", "Workshop 1", orientation
    return exif


def encode(bits=8, **options):
    """A file's bytes. `exif` may state an orientation, which the encoder turns into the container's own words."""
    values = picture()
    if bits == 8:
        image = pillow_heif.from_pillow(Image.fromarray((values * 255 + 0.5).astype(np.uint8)))
    else:
        data = (values * 65535 + 0.5).astype("<u2").tobytes()
        image = pillow_heif.from_bytes("RGB;16", SIZE, data)
    file = io.BytesIO()
    image.save(file, quality=70, **options)
    return file.getvalue()


def with_exif_orientation(data, tag):
    """Lets EXIF state an orientation, whatever the container says."""
    entry = struct.pack("<HHI", 0x0112, 3, 1)
    big = struct.pack(">HHI", 0x0112, 3, 1)
    for pattern, value in [(entry, struct.pack("<H", tag)), (big, struct.pack(">H", tag))]:
        at = data.find(pattern)
        if at >= 0:
            return data[: at + 8] + value + data[at + 10 :]
    raise ValueError("no orientation in EXIF")


def without_colour_box(data):
    """The box is still there, under a name that means nothing."""
    assert b"colr" in data
    return data.replace(b"colr", b"none")


def without_stated_colour(data):
    """Takes the colour out of the bit stream's own description, which keeps its length: an extension that says nothing."""
    at = data.index(b"\x42\x01\x01")
    (length,) = struct.unpack(">H", data[at - 2 : at])
    escaped = data[at : at + length]
    plain = escaped.replace(b"\0\0\3", b"\0\0")
    text = "".join(f"{byte:08b}" for byte in plain)
    place = usability_flag(text)
    # No usability information; an extension of reserved bits, and those.
    kept = text[:place] + "0" + "1" + "00000001"
    for size in range(len(plain), len(plain) + 9):
        bits = kept + "1" * (8 * size - len(kept))
        body = bytes(int(bits[i : i + 8], 2) for i in range(0, len(bits), 8))
        again = bytearray()
        for byte in body:
            if byte <= 3 and again[-2:] == b"\0\0":
                again.append(3)
            again.append(byte)
        if len(again) == length:
            return data[:at] + bytes(again) + data[at + length :]
    raise ValueError("no description of the same length")


def usability_flag(text):
    """Where vui_parameters_present_flag stands in a sequence parameter set of x265 (ITU-T H.265, 7.3.2.2)."""
    at = 0

    def take(count):
        nonlocal at
        at += count
        return int(text[at - count : at], 2)

    def golomb():
        zeros = 0
        while take(1) == 0:
            zeros += 1
        return (1 << zeros) - 1 + (take(zeros) if zeros else 0)

    take(16 + 4)
    assert take(3) == 0, "sub-layers"
    take(1 + 88 + 8)
    golomb(), golomb(), golomb(), golomb()
    if take(1):
        golomb(), golomb(), golomb(), golomb()
    golomb(), golomb(), golomb()
    take(1)
    for _ in range(3 + 6):
        golomb()
    assert take(1) == 0, "scaling lists"
    take(2)
    assert take(1) == 0, "plain blocks"
    assert golomb() == 0 and take(1) == 0, "references"
    take(2)
    return at


BT_709_LIMITED = dict(matrix_coefficients=1, full_range_flag=0, color_primaries=1, transfer_characteristics=13)
P3_NCLX = dict(matrix_coefficients=6, full_range_flag=1, color_primaries=12, transfer_characteristics=13)


def files():
    """All files, by name."""
    turned = encode(exif=tags(6).tobytes(), icc_profile=P3, tile_size=64)
    yield "tiles-turned-icc.heic", with_exif_orientation(turned, 6)
    yield "mirrored.heic", with_exif_orientation(encode(exif=tags(7).tobytes()), 7)
    yield "exif-turned-only.heic", with_exif_orientation(encode(exif=tags(1).tobytes()), 3)
    yield "ten-bit-icc.heic", encode(bits=10, icc_profile=P3)
    yield "p3-box.heic", encode(**P3_NCLX)
    yield "limited-box.heic", encode(**BT_709_LIMITED)
    yield "limited-stream.heic", without_colour_box(encode(**BT_709_LIMITED))
    yield "silent.heic", without_stated_colour(without_colour_box(encode()))
    yield "four-two-two.heic", encode(chroma=422)
    yield "several.heic", several()


def several():
    """Three pictures, of which the second is the main one, and a thumbnail of it."""
    small = Image.fromarray((picture()[:80, :90] * 255 + 0.5).astype(np.uint8))
    whole = Image.fromarray((picture() * 255 + 0.5).astype(np.uint8))
    images = pillow_heif.from_pillow(small)
    images.add_from_pillow(whole)
    images.add_from_pillow(small)
    file = io.BytesIO()
    images.save(file, quality=60, primary_index=1, thumbnails=[64])
    return file.getvalue()


def board():
    """The demo board's photo, smaller, its pixels turned so that the container has to turn them back."""
    image = Image.open(Path(__file__).parent.parent.parent / "samples/larch-2026-03-0h.jpg")
    exif = image.getexif()
    exif[0x0112] = 6
    turned = image.resize((1800, 1350), Image.LANCZOS).rotate(90, expand=True)
    file = io.BytesIO()
    pillow_heif.from_pillow(turned).save(
        file, quality=66, tile_size=512, exif=exif.tobytes(), icc_profile=image.info["icc_profile"]
    )
    return file.getvalue()


def decoded(source):
    """The main picture as displayed, RGB, codes of 8 bits or of 10 (as 16)."""
    file = pillow_heif.open_heif(source, convert_hdr_to_8bit=False)
    image = file[file.primary_index]
    values = np.asarray(image)
    return (values >> 6) if values.dtype == np.uint16 else values


def rows(name, values, step):
    height, width, _ = values.shape
    for y in range(step // 2, height, step):
        for x in range(step // 2, width, step):
            yield ",".join([name, *map(str, [x, y, *values[y, x]])])


def main():
    OUT.mkdir(exist_ok=True)
    libraries = f"libheif {pillow_heif.libheif_version()} through pillow-heif {pillow_heif.__version__}"
    header = f"# Pixels as displayed, by {libraries}: tests/oracle/heic_files.py. Codes of 8 bits, or of 10."
    table = [header, "file,x,y,r,g,b"]
    for name, data in files():
        (OUT / name).write_bytes(data)
        # What is not read, and what that decoder takes as limited range (src/photo/heif/colour.rs).
        if name not in ["four-two-two.heic", "silent.heic"]:
            table += rows(name, decoded(io.BytesIO(data)), 11)
        print(name, len(data))
    (OUT / "larch-board.heic").write_bytes(board())
    (OUT / "decoded.csv").write_text("\n".join(table) + "\n")
    if len(sys.argv) > 1:
        table = [header, "file,x,y,r,g,b"]
        for path in sorted(Path(sys.argv[1]).glob("heic_*.heic")):
            table += rows(path.name, decoded(path), 127)
        (OUT / "phones.csv").write_text("\n".join(table) + "\n")


if __name__ == "__main__":
    main()
