"""Time for the values at 100 places out of one real field: `crates/grid` against ecCodes, in one run.

    pip install eccodes numpy && python3 tests/bench/grib_places.py [--rounds 15]

ecCodes (PyPI) decodes the whole field and the four nodes around each place are indexed, which is the fastest it can be asked.
Both sides read the header, find the cells, unpack and interpolate; rounds alternate; each value is compared while it is timed.
The files are those of ../shared/grib-real on regular latitude-longitude grids; places lie in 45-60 N, 12 W-25 E where the
grid covers that, otherwise in the middle half of the grid. Prints a Markdown table: only the ratios of one run count.
"""

import argparse
import json
import os
import pathlib
import random
import statistics
import subprocess
import time

import eccodes
import numpy

ROOT = pathlib.Path(__file__).resolve().parents[2]
FILES = pathlib.Path(os.environ.get("CRINGLE_SHARED", ROOT.parent / "shared")) / "grib-real"
PLACES = 100


def our_side():
    """Builds crates/grid/benches/places.rs with the release profile and starts it."""
    build = ["cargo", "bench", "-p", "grid", "--bench", "places", "--no-run", "--message-format=json"]
    lines = subprocess.run(build, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines()
    made = [json.loads(line) for line in lines]
    program = next(m["executable"] for m in made if m.get("executable") and m["target"]["name"] == "places")
    return subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def fields():
    """The first field of each file and packing on a regular latitude-longitude grid: (file, offset, message)."""
    seen = set()
    for path in sorted(FILES.glob("*.grib2")):
        with open(path, "rb") as file:
            while (handle := eccodes.codes_grib_new_from_file(file)) is not None:
                packing = eccodes.codes_get(handle, "dataRepresentationTemplateNumber")
                usual = eccodes.codes_get(handle, "gridType") == "regular_ll" and packing != 4
                if usual and (path.name, packing) not in seen and eccodes.codes_get(handle, "bitsPerValue") > 0:
                    seen.add((path.name, packing))
                    yield path, eccodes.codes_get(handle, "offset", int), eccodes.codes_get_message(handle), packing
                eccodes.codes_release(handle)


class Grid:
    """Where the nodes lie, from the same keys of ecCodes."""

    def __init__(self, handle):
        get = lambda key: eccodes.codes_get(handle, key)
        self.ni, self.nj = get("Ni"), get("Nj")
        self.lat, last_lat = get("latitudeOfFirstGridPointInDegrees"), get("latitudeOfLastGridPointInDegrees")
        self.lon, last_lon = get("longitudeOfFirstGridPointInDegrees"), get("longitudeOfLastGridPointInDegrees")
        self.dlat = (last_lat - self.lat) / (self.nj - 1)
        self.dlon = ((last_lon - self.lon) % 360) / (self.ni - 1)
        self.wraps = abs(self.ni * self.dlon - 360) < self.dlon / 2
        self.alternating = get("alternativeRowScanning")

    def places(self, chance):
        south, north = sorted((self.lat, self.lat + (self.nj - 1) * self.dlat))
        covers = self.wraps or ((-12 - self.lon) % 360 < (25 - self.lon) % 360 <= (self.ni - 1) * self.dlon)
        if covers and south <= 45 and north >= 60:
            return [(chance.uniform(45, 60), chance.uniform(-12, 25)) for _ in range(PLACES)]
        lat = lambda: south + (north - south) * chance.uniform(0.25, 0.75)
        lon = lambda: (self.lon + (self.ni - 1) * self.dlon * chance.uniform(0.25, 0.75) + 180) % 360 - 180
        return [(lat(), lon()) for _ in range(PLACES)]

    def corners(self, places):
        """Indices into the values and weights, places by four."""
        lat, lon = numpy.array(places).T
        row, column = (lat - self.lat) / self.dlat, ((lon - self.lon) % 360) / self.dlon
        j, i = numpy.floor(row).astype(int), numpy.floor(column).astype(int)
        y, x = row - j, column - i
        rows, columns = numpy.stack([j, j, j + 1, j + 1], 1), numpy.stack([i, i + 1, i, i + 1], 1) % self.ni
        if self.alternating:
            columns = numpy.where(rows % 2 == 1, self.ni - 1 - columns, columns)
        return rows * self.ni + columns, numpy.stack([(1 - x) * (1 - y), x * (1 - y), (1 - x) * y, x * y], 1)


def ask_eccodes(message, places):
    started = time.perf_counter_ns()
    handle = eccodes.codes_new_from_message(message)
    eccodes.codes_set(handle, "missingValue", 1e30)
    indices, weights = Grid(handle).corners(places)
    nodes = eccodes.codes_get_array(handle, "values")[indices]
    values = (nodes * weights).sum(1)
    values[(nodes >= 1e30).any(1)] = numpy.nan
    eccodes.codes_release(handle)
    return time.perf_counter_ns() - started, values


def ask_ours(process, path, offset, length, places, way="anew"):
    words = [way, str(path), str(offset), str(length), "1"] + [f"{lat!r},{lon!r}" for lat, lon in places]
    process.stdin.write("\t".join(words) + "\n")
    process.stdin.flush()
    took, *values = process.stdout.readline().split()
    return int(took), numpy.array([numpy.nan if value == "-" else float(value) for value in values])


def compare(ours, theirs, name):
    assert len(ours) == len(theirs) and (numpy.isnan(ours) == numpy.isnan(theirs)).all(), name
    known = theirs[~numpy.isnan(theirs)]
    # Single precision, and a step of 0.166667 degrees in a few files: a thousandth of the field's spread.
    allowed = 1e-6 * numpy.abs(known).max(initial=0) + 1e-3 * (numpy.ptp(known) if len(known) else 0) + 1e-6
    assert numpy.nanmax(numpy.abs(ours - theirs), initial=0) <= allowed, name


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--rounds", type=int, default=15)
    rounds = arguments.parse_args().rounds
    process, chance = our_side(), random.Random(2)
    print("| file | packing | points | ecCodes ms | crates/grid ms | ecCodes / grid, median (range) | values compared |")
    print("|---|---|---|---|---|---|---|")
    for path, offset, message, packing in fields():
        handle = eccodes.codes_new_from_message(message)
        grid = Grid(handle)
        eccodes.codes_release(handle)
        places, theirs, ours = grid.places(chance), [], []
        for turn in range(rounds + 2):
            their_time, their_values = ask_eccodes(message, places)
            our_time, our_values = ask_ours(process, path, offset, len(message), places)
            compare(our_values, their_values, f"{path.name} 5.{packing}")
            if turn >= 2:  # the first rounds warm caches
                theirs.append(their_time / 1e6)
                ours.append(our_time / 1e6)
        ratios = [their / our for their, our in zip(theirs, ours)]
        print(
            f"| {path.name} | 5.{packing} | {grid.ni * grid.nj:,} | {statistics.median(theirs):.3f} "
            f"| {statistics.median(ours):.3f} | {statistics.median(ratios):.2f} ({min(ratios):.2f}-{max(ratios):.2f}) "
            f"| {PLACES * rounds} |",
            flush=True,
        )
    process.stdin.close()
    process.wait()


if __name__ == "__main__":
    main()
