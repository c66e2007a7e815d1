"""How the processor time of reading an ensemble run grows: with places, members and steps, one at a time, `crates/grid` in a process of its own.

    pip install eccodes numpy && python3 tests/bench/growth.py [--rounds 5]

Full-size messages of packing 5.3 (full_size_pool.py), five parameters. Reading the file is in the time. The last column says how linear it is:
the time a unit of this row over that of the first one: 1 is linear, less is better than linear. Each value is compared with
what ecCodes reads. Growth with clubs is told by `cargo bench -p api --bench uncached`, with venues by `cargo bench -p rules`.
"""

import argparse
import pathlib
import random
import statistics
import tempfile

import eccodes
import numpy

import full_size_pool as pool
from eccodes_in_c import Reader
from grib_fields import machine, some_places
from grib_places import Grid
from whole_runs import LEVELS, RUNS, measured, our_program, write_run

KIND, _ = RUNS["GEFS-like, 5.3"]
# Places (in a region), members, steps: one grows, the others stay.
GROWTH = {
    "places": [(count, 31, 1) for count in (10, 100, 1_000, 10_000)],
    "members": [(100, count, 2) for count in (10, 20, 40, 80)],
    "steps": [(100, 5, count) for count in (4, 8, 16, 32)],
}


def expected(places):
    """What ecCodes reads of each parameter's field: the same in every member and step."""
    rows = []
    for seed, codes in enumerate(LEVELS):
        message, _ = pool.message(codes, KIND, pool.values(codes, seed))
        handle = eccodes.codes_new_from_message(message)
        reader = Reader(pool.NI * pool.NJ, *Grid(handle).corners(places))
        eccodes.codes_release(handle)
        rows.append(reader.ask(message)[1])
    return numpy.array(rows)


def timed(program, folder, places, members, steps, rounds):
    """Median and range of the processor time in ms, and how many messages there were."""
    path, out = folder / "run.grib2", folder / "values.txt"
    count = write_run(path, KIND, members, steps)
    command = [program, path, *(f"{lat!r},{lon!r}" for lat, lon in places)]
    took = [1000 * measured(command, out)[0] for _ in range(rounds + 1)][1:]
    rows = numpy.loadtxt(out).reshape(len(LEVELS), members * steps, len(places))
    assert numpy.allclose(rows, expected(places)[:, None, :], rtol=2e-6, atol=1e-4), "not what ecCodes reads"
    return took, count


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--rounds", type=int, default=5)
    rounds = arguments.parse_args().rounds
    program, chance = our_program(), random.Random(7)
    print(f"{machine()}; medians (range) of {rounds} rounds.\n")
    print("| what grows | places | members | steps | messages | processor ms | ms a unit | of the first row's, a unit |")
    print("|---|---|---|---|---|---|---|---|")
    for what, rows in GROWTH.items():
        first = None
        for places, members, steps in rows:
            unit = {"places": places, "members": members, "steps": steps}[what]
            with tempfile.TemporaryDirectory() as folder:
                wanted = some_places("region", places, chance)
                took, messages = timed(program, pathlib.Path(folder), wanted, members, steps, rounds)
            middle = statistics.median(took)
            first = first or middle / unit
            spread = f"{middle:.0f} ({min(took):.0f}-{max(took):.0f})"
            print(f"| {what} | {places:,} | {members} | {steps} | {messages} | {spread} | {middle / unit:.3f} | {middle / unit / first:.2g} |", flush=True)


if __name__ == "__main__":
    main()
