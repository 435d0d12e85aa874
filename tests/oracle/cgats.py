"""Reads tests/data/publish/swatches.cgats.txt with Little CMS and writes what it read beside it.

Little CMS (a general-purpose colour library, Debian's liblcms2-2) has a reader of CGATS.17 tables; Python calls it as it is. All values are taken as text.
"""

import ctypes
import ctypes.util
import hashlib
import json
import pathlib

FOLDER = pathlib.Path("tests/data/publish")
lcms = ctypes.CDLL(ctypes.util.find_library("lcms2"))
lcms.cmsIT8LoadFromMem.restype = ctypes.c_void_p
lcms.cmsIT8LoadFromMem.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_uint32]
for function, arguments in [
    ("cmsIT8GetProperty", [ctypes.c_void_p, ctypes.c_char_p]),
    ("cmsIT8GetDataRowCol", [ctypes.c_void_p, ctypes.c_int, ctypes.c_int]),
    ("cmsIT8GetSheetType", [ctypes.c_void_p]),
]:
    getattr(lcms, function).restype = ctypes.c_char_p
    getattr(lcms, function).argtypes = arguments
lcms.cmsIT8EnumDataFormat.argtypes = [ctypes.c_void_p, ctypes.POINTER(ctypes.POINTER(ctypes.c_char_p))]
lcms.cmsIT8EnumProperties.argtypes = [ctypes.c_void_p, ctypes.POINTER(ctypes.POINTER(ctypes.c_char_p))]
lcms.cmsIT8EnumProperties.restype = ctypes.c_uint32

content = (FOLDER / "swatches.cgats.txt").read_bytes()
table = lcms.cmsIT8LoadFromMem(None, content, len(content))
assert table, "it can't be read"
assert lcms.cmsIT8GetSheetType(table) == b"CGATS.17"
names = ctypes.POINTER(ctypes.c_char_p)()
fields = [names[it].decode() for it in range(lcms.cmsIT8EnumDataFormat(table, ctypes.byref(names)))]
properties = [names[it].decode() for it in range(lcms.cmsIT8EnumProperties(table, ctypes.byref(names)))]
rows = int(lcms.cmsIT8GetProperty(table, b"NUMBER_OF_SETS"))
value = lambda row, column: lcms.cmsIT8GetDataRowCol(table, row, column).decode()
sets = [{field: value(row, column) for column, field in enumerate(fields)} for row in range(rows)]
keywords = {it: lcms.cmsIT8GetProperty(table, it.encode()) for it in properties}
read = {
    "reader": f"Little CMS {lcms.cmsGetEncodedCMMversion()}",
    "sha256": hashlib.sha256(content).hexdigest(),
    "keywords": {key: it.decode() for key, it in keywords.items() if it is not None},
    "sets": sets,
}
(FOLDER / "cgats-read.json").write_text(json.dumps(read, indent=1) + "\n")
