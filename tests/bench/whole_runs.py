"""The same job as a script: values at 100 places out of every message of an ensemble run, `crates/grid` against ecCodes and against
cfgrib with xarray, each a process of its own: processor time, wall time, peak memory, and the values compared; then two of ours at once.

    pip install eccodes numpy cfgrib xarray scipy && python3 tests/bench/whole_runs.py [--steps 4] [--rounds 3]

Full-size messages (0.25 degrees, full_size_pool.py) of 31 members by some steps and five parameters in packing 5.3, like GEFS', and of 51 members in
packing 5.42, like ECMWF's ensemble. Whole runs have 81 and 61 steps; the time grows with the messages. Memory of the ecCodes side does not.
"""

import argparse
import json
import pathlib
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time

import eccodes
import numpy

import full_size_pool as pool
from grib_fields import machine, some_places, spread
from grib_places import ROOT, Grid

RUNS = {"GEFS-like, 5.3": ("grid_complex_spatial_differencing", 31), "ENS-like, 5.42": ("grid_ccsds", 51)}
# Short names of the pool's parameters with where they lie.
LEVELS = {pool.U: ("heightAboveGround", 10), pool.V: ("heightAboveGround", 10), pool.AIR: ("heightAboveGround", 2),
          pool.GUST: ("surface", 0), pool.PRESSURE: ("meanSea", 0)}  # fmt: skip


def write_run(path, kind, members, steps):
    """Every message of the run; how many there are. Fields repeat, their heads do not."""
    count = 0
    with open(path, "wb") as file:
        for seed, (codes, (level, height)) in enumerate(LEVELS.items()):
            octets, _ = pool.message(codes, kind, pool.values(codes, seed))
            handle = eccodes.codes_new_from_message(octets)
            eccodes.codes_set(handle, "productDefinitionTemplateNumber", 1)
            eccodes.codes_set(handle, "typeOfLevel", level)
            if level == "heightAboveGround":
                eccodes.codes_set(handle, "level", height)
            for member in range(members):
                for step in range(steps):
                    eccodes.codes_set(handle, "perturbationNumber", member)
                    eccodes.codes_set(handle, "step", 3 * step)
                    file.write(eccodes.codes_get_message(handle))
                    count += 1
            eccodes.codes_release(handle)
    return count


def by_eccodes(path, places):
    """What a careful script does: each field decoded whole, cells looked for once."""
    cells, rows = None, []
    with open(path, "rb") as file:
        while (handle := eccodes.codes_grib_new_from_file(file)) is not None:
            cells = cells or Grid(handle).corners(places)
            indices, weights = cells
            rows.append((eccodes.codes_get_array(handle, "values")[indices] * weights).sum(1))
            eccodes.codes_release(handle)
    return numpy.array(rows)


def by_xarray(path, places):
    """What most scripts do; the index is kept in memory and not beside the file."""
    import cfgrib
    import xarray

    lats, lons = (xarray.DataArray(list(axis), dims="place") for axis in zip(*places))
    found = {}
    for dataset in cfgrib.open_datasets(str(path), backend_kwargs={"indexpath": ""}):
        for name, field in dataset.data_vars.items():
            at = field.interp(latitude=lats, longitude=lons % 360)
            found[name] = at.transpose("number", ..., "place").values.reshape(-1, len(places))
    names = ["u10", "v10", "t2m", "gust", "prmsl"]
    assert set(found) <= {*names, "fg10", "i10fg", "msl"} or len(found) == len(names), sorted(found)
    order = [next(found[name] for name in aliases if name in found) for aliases in
             (("u10",), ("v10",), ("t2m",), ("gust", "fg10", "i10fg"), ("prmsl", "msl"))]  # fmt: skip
    return numpy.concatenate(order)


def measured(command, out):
    """Processor and wall seconds, and peak memory in MB, of a process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    with open(out, "wb") as file:
        process = subprocess.Popen(["/usr/bin/time", "-f", "%M", *map(str, command)], stdout=file, stderr=subprocess.PIPE, text=True)
        _, words = process.communicate()
    wall = time.perf_counter() - began
    if process.returncode:
        sys.exit(words)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return processor, wall, int(words.split()[-1]) / 1024


def two_at_once(command, folder):
    """How many times faster two of them run side by side than one after the other: 2 on two free cores."""

    def wall(count):
        began = time.perf_counter()
        running = []
        for number in range(count):
            with open(folder / f"{number}.out", "wb") as file:
                running.append(subprocess.Popen(list(map(str, command)), stdout=file))
        assert all(process.wait() == 0 for process in running)
        return time.perf_counter() - began

    return 2 * wall(1) / wall(2)


def our_program():
    build = ["cargo", "build", "--quiet", "--release", "-p", "grid", "--example", "places_of_file", "--message-format=json"]
    lines = subprocess.run(build, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()
    made = [json.loads(line) for line in lines]
    return next(m["executable"] for m in made if m.get("executable") and m["target"]["name"] == "places_of_file")


def sides(path, places, folder):
    own = [sys.executable, __file__]
    spec = folder / "places.json"
    spec.write_text(json.dumps(places))
    return {
        "ours": ([our_program(), path, *(f"{lat!r},{lon!r}" for lat, lon in places)], folder / "ours.txt"),
        "ecCodes": ([*own, "--side", "eccodes", path, spec], folder / "eccodes.npy"),
        "cfgrib + xarray": ([*own, "--side", "xarray", path, spec], folder / "xarray.npy"),
    }


def compare(asked):
    ours, theirs = numpy.loadtxt(asked["ours"][1]), numpy.load(asked["ecCodes"][1])
    assert ours.shape == theirs.shape and numpy.allclose(ours, theirs, rtol=2e-6, atol=1e-4), "ecCodes"
    xarray = numpy.load(asked["cfgrib + xarray"][1])
    assert numpy.allclose(ours, xarray, rtol=1e-4, atol=1e-2), "xarray"


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--steps", type=int, default=4)
    arguments.add_argument("--rounds", type=int, default=3)
    arguments.add_argument("--side", nargs=3)
    given = arguments.parse_args()
    if given.side:
        side, path, spec = given.side
        places = [tuple(place) for place in json.loads(pathlib.Path(spec).read_text())]
        found = {"eccodes": by_eccodes, "xarray": by_xarray}[side](path, places)
        numpy.save(sys.stdout.buffer, found)
        return
    places = some_places("region", 100, random.Random(5))
    print(f"{machine()}; {given.rounds} alternating rounds; medians, ratios of the rounds with their range.\n")
    print("| run | messages | side | processor s | wall s | peak MB | processor / ours | memory / ours |")
    print("|---|---|---|---|---|---|---|---|")
    for name, (kind, members) in RUNS.items():
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            path = folder / "run.grib2"
            count = write_run(path, kind, members, given.steps)
            asked = sides(path, places, folder)
            took = {side: [] for side in asked}
            for _ in range(given.rounds):
                for side, (command, out) in asked.items():
                    took[side].append(measured(command, out))
                compare(asked)
            faster = [two_at_once(asked["ours"][0], folder) for _ in range(given.rounds)]
            for side, rounds in took.items():
                processor, wall, memory = (statistics.median(column) for column in zip(*rounds))
                ratio = lambda at: spread([theirs[at] / ours[at] for theirs, ours in zip(rounds, took["ours"])])
                print(
                    f"| {name} | {count:,} | {side} | {processor:.2f} | {wall:.2f} | {memory:.0f} | {ratio(0)} | {ratio(2)} |",
                    flush=True,
                )
            print(f"| {name} | {2 * count:,} | two of ours at once | | | | as fast as {spread(faster)} of one | |")


if __name__ == "__main__":
    main()
