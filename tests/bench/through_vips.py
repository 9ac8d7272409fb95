#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The same frames through a general image library: decode, a table for every pixel, an ICC transform, crop, write.

    through_vips.py SCAN FOLDER [--in-memory] < frames        a frame per line: x0 y0 x1 y1

Calls Debian's libvips42 (of libvips-tools) directly. Threads by VIPS_CONCURRENCY. --in-memory: table and transform alone, of frames that are in
memory, into memory; prints the seconds they take, by the wall and of processors.
"""
import ctypes
import sys
import time

vips = ctypes.CDLL("libvips.so.42")
Image = ctypes.c_void_p
for name in ("vips_image_new_from_file", "vips_image_new_from_memory_copy", "vips_image_copy_memory", "vips_image_write_to_memory"):
    getattr(vips, name).restype = ctypes.c_void_p
END = ctypes.c_void_p(None)
USHORT = 2  # VIPS_FORMAT_USHORT


def check(failed):
    if failed:
        vips.vips_error_buffer.restype = ctypes.c_char_p
        sys.exit(vips.vips_error_buffer().decode())


def enum_value(kind, nick):
    vips.vips_enum_from_nick.restype = ctypes.c_int
    kinds = getattr(vips, f"vips_{kind}_get_type")
    kinds.restype = ctypes.c_size_t
    return vips.vips_enum_from_nick(b"bench", ctypes.c_size_t(kinds()), nick.encode())


def new():
    return ctypes.c_void_p()


def table():
    """Any curve will do: the time does not depend on it."""
    codes = (ctypes.c_uint16 * (3 * 65536))()
    for code in range(65536):
        inverted = round(65535 * (1 - code / 65535) ** (1 / 2.2))
        codes[3 * code] = codes[3 * code + 1] = codes[3 * code + 2] = inverted
    image = vips.vips_image_new_from_memory_copy(codes, ctypes.c_size_t(ctypes.sizeof(codes)), 65536, 1, 3, USHORT)
    return ctypes.c_void_p(image)


def positive(part, lut):
    mapped, transformed = new(), new()
    check(vips.vips_maplut(part, ctypes.byref(mapped), lut, END))
    check(vips.vips_icc_transform(mapped, ctypes.byref(transformed), b"srgb", b"input_profile", b"p3", b"depth", ctypes.c_int(16), END))
    vips.g_object_unref(mapped)
    return transformed


def main():
    scan, folder = sys.argv[1:3]
    in_memory = "--in-memory" in sys.argv
    check(vips.vips_init(b"bench"))
    vips.vips_cache_set_max(0)
    image = ctypes.c_void_p(vips.vips_image_new_from_file(scan.encode(), END))
    if not image:
        check(1)
    lut = table()
    deflate, horizontal = enum_value("foreign_tiff_compression", "deflate"), enum_value("foreign_tiff_predictor", "horizontal")
    wall = processor = 0
    for number, line in enumerate(sys.stdin):
        x0, y0, x1, y1 = map(int, line.split())
        part, colours = new(), new()
        check(vips.vips_extract_area(image, ctypes.byref(part), x0, y0, x1 - x0, y1 - y0, END))
        check(vips.vips_extract_band(part, ctypes.byref(colours), 0, b"n", ctypes.c_int(3), END))
        if in_memory:
            kept = ctypes.c_void_p(vips.vips_image_copy_memory(colours))
            begun, used = time.perf_counter(), time.process_time()
            made = positive(kept, lut)
            size = ctypes.c_size_t()
            vips.g_free(ctypes.c_void_p(vips.vips_image_write_to_memory(made, ctypes.byref(size))))
            wall += time.perf_counter() - begun
            processor += time.process_time() - used
            vips.g_object_unref(kept)
        else:
            made = positive(colours, lut)
            check(vips.vips_tiffsave(made, f"{folder}/{number}.tif".encode(), b"compression", ctypes.c_int(deflate), b"predictor",
                                     ctypes.c_int(horizontal), END))
        for used in (made, colours, part):
            vips.g_object_unref(used)
    if in_memory:
        print(wall, processor)


main()
