"""Time for values at places out of one full-size field (1,038,240 points, 0.25 degrees), each packing: `crates/grid`, the `grib` crate
up to the last wanted value and in full, and ecCodes in C, in one run.

    pip install eccodes numpy && python3 tests/bench/grib_fields.py [--rounds 7]

Messages are made by ecCodes (full_size_pool.py) in a temporary folder. Every side reads the header, unpacks and interpolates, and knows the
places' cells beforehand, as whoever reads more than one message does; the column "found anew" is ours with the cells found in that time too.
All sides take turns in every round, each beginning one, and each value is compared while it is timed. "region": places in 45-60 N, 12 W-25 E; "world":
anywhere. Prints a Markdown table with the machine: only the ratios of one run count. Each side has one core at a time.
"""

import argparse
import os
import pathlib
import platform
import random
import statistics
import tempfile

import eccodes

import full_size_pool as pool
from eccodes_in_c import Reader
from grib_places import Grid, ask_ours, compare, our_side

WAYS = ("known", "anew", "lazy", "full")
CASES = [(where, count) for where in ("region", "world") for count in (1, 100, 10_000)]


def some_places(where, count, chance):
    south, north, west, east = (45, 60, -12, 25) if where == "region" else (-89, 89, -180, 180)
    return [(chance.uniform(south, north), chance.uniform(west, east)) for _ in range(count)]


def machine():
    with open("/proc/cpuinfo") as lines:
        model = next((line.split(":")[1].strip() for line in lines if line.startswith("model name")), "unknown")
    return f"{model}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, ecCodes {eccodes.__version__}, {platform.system()}"


def spread(ratios):
    return f"{statistics.median(ratios):.1f} ({min(ratios):.1f}-{max(ratios):.1f})"


def measure(process, path, message, places, rounds, name):
    handle = eccodes.codes_new_from_message(message)
    reader = Reader(pool.NI * pool.NJ, *Grid(handle).corners(places))
    eccodes.codes_release(handle)
    sides = ("ecCodes", *WAYS)
    took = {way: [] for way in sides}
    _, expected = reader.ask(message)
    for turn in range(rounds + 1):
        # Another side begins each round: whoever comes after ecCodes finds the processor's caches full of its values.
        for way in sides[turn % len(sides) :] + sides[: turn % len(sides)]:
            if way == "ecCodes":
                nanoseconds, found = reader.ask(message)
            else:
                nanoseconds, found = ask_ours(process, path, 0, len(message), places, way)
            compare(found, expected, f"{name} {way}")
            if turn:  # the first warms caches
                took[way].append(nanoseconds / 1e6)
    return took


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--rounds", type=int, default=7)
    rounds = arguments.parse_args().rounds
    process, chance = our_side(), random.Random(3)
    print(f"{machine()}; {rounds} alternating rounds; milliseconds are medians, ratios medians (range) of the rounds.\n")
    print("| packing | places | ecCodes ms | crate full ms | crate lazy ms | ours ms | ours, found anew ms | ecCodes / ours | ecCodes / ours, found anew | crate lazy / ours |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for packing, kind in pool.PACKINGS.items():
            message, _ = pool.message(pool.U, kind, pool.values(pool.U, 3))
            path = pathlib.Path(folder) / f"{kind}.grib2"
            path.write_bytes(message)
            for where, count in CASES:
                places = some_places(where, count, chance)
                took = measure(process, path, message, places, rounds, f"{packing} {where}")
                middle = {way: statistics.median(times) for way, times in took.items()}
                ratio = lambda way, of="known": spread([a / b for a, b in zip(took[way], took[of])])
                print(
                    f"| {packing} | {count:,} {where} | {middle['ecCodes']:.2f} | {middle['full']:.2f} | {middle['lazy']:.2f} "
                    f"| {middle['known']:.3f} | {middle['anew']:.3f} | {ratio('ecCodes')} | {ratio('ecCodes', 'anew')} | {ratio('lazy')} |",
                    flush=True,
                )
    process.stdin.close()
    process.wait()


if __name__ == "__main__":
    main()
