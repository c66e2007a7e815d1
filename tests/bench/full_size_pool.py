"""Full-size messages for the replica's virtual tree: eight fields a packing, 1440 by 721 nodes, made by ecCodes (PyPI).

    pip install eccodes numpy && python3 tests/bench/full_size_pool.py FOLDER

Smooth waves with noise, so that no packing makes them small: each message must have at least 400 kB. Fields are of no weather.
"""

import pathlib
import sys

import eccodes
import numpy

NI, NJ = 1440, 721
SMALLEST = 400_000
BITS = 10
PACKINGS = {
    "5.0": "grid_simple",
    "5.3": "grid_complex_spatial_differencing",
    "5.40": "grid_jpeg",
    "5.42": "grid_ccsds",
}
# Category, number: base, swing of the waves, noise. Eight fields: two each of those that come in several levels.
GUST, AIR, U, V, PRESSURE = (2, 22), (0, 0), (2, 2), (2, 3), (3, 1)
SHAPES = {GUST: (14, 8, 1), AIR: (285, 20, 1), U: (0, 9, 1), V: (0, 9, 1), PRESSURE: (101_300, 1_500, 100)}
FIELDS = [GUST, GUST, AIR, U, U, V, V, PRESSURE]


def values(codes, seed):
    base, swing, noise = SHAPES[codes]
    waves = 3 + seed % 5
    along = numpy.sin(2 * numpy.pi * (waves * numpy.arange(NI) / NI + seed / 8))
    down = numpy.sin(2 * numpy.pi * (waves / 2 * numpy.arange(NJ) / NJ + 0.1))
    chance = numpy.random.default_rng(seed).uniform(-1, 1, (NJ, NI))
    return base + swing * numpy.outer(down, along) + noise * chance


def message(codes, packing, field):
    """The octets, and the values that ecCodes itself reads out of them."""
    handle = eccodes.codes_grib_new_from_samples("regular_ll_pl_grib2")
    keys = {
        "Ni": NI, "Nj": NJ, "shapeOfTheEarth": 6,
        "latitudeOfFirstGridPointInDegrees": 90, "latitudeOfLastGridPointInDegrees": -90,
        "longitudeOfFirstGridPointInDegrees": 0, "longitudeOfLastGridPointInDegrees": 359.75,
        "iDirectionIncrementInDegrees": 0.25, "jDirectionIncrementInDegrees": 0.25,
        "parameterCategory": codes[0], "parameterNumber": codes[1],
    }  # fmt: skip
    for key, value in keys.items():
        eccodes.codes_set(handle, key, value)
    # Values first: a packing of no values is changed back to the simple one.
    for kind in ("grid_simple", packing):
        eccodes.codes_set(handle, "packingType", kind)
        eccodes.codes_set(handle, "bitsPerValue", BITS)
        eccodes.codes_set_values(handle, field.ravel())
    octets, read = eccodes.codes_get_message(handle), eccodes.codes_get_values(handle)
    template = eccodes.codes_get(handle, "dataRepresentationTemplateNumber")
    eccodes.codes_release(handle)
    if len(octets) < SMALLEST or f"5.{template}" not in PACKINGS or PACKINGS[f"5.{template}"] != packing:
        sys.exit(f"{packing}: {len(octets)} octets in template 5.{template}")
    return octets, read.reshape(NJ, NI)


def make(folder):
    """Writes a folder of eight messages for each packing; gives {packing: (sizes, {codes: [fields]})}."""
    made = {}
    for name, packing in PACKINGS.items():
        of_packing = folder / name
        of_packing.mkdir(parents=True, exist_ok=True)
        sizes, fields = [], {}
        for seed, codes in enumerate(FIELDS):
            octets, read = message(codes, packing, values(codes, seed))
            (of_packing / f"{seed}.grib2").write_bytes(octets)
            sizes.append(len(octets))
            fields.setdefault(codes, []).append(read)
        made[name] = sizes, fields
    return made


if __name__ == "__main__":
    for name, (sizes, _) in make(pathlib.Path(sys.argv[1])).items():
        print(f"{name}: {len(sizes)} messages of {min(sizes):,} to {max(sizes):,} octets")
