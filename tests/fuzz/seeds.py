#!/usr/bin/env python3
"""Writes the seeds of the fuzz targets, a folder for each, from the fixtures: fixtures/packings, club files, index files of the demo.

    tests/fuzz/seeds.py FOLDER
"""

import json
import pathlib
import sys

ROOT = pathlib.Path(__file__).parent.parent.parent
PACKINGS = [0, 2, 3, 4, 40, 41, 42]
# Octets of each template from octet 12 of section 5 on, as src/packing.rs has them.
TEMPLATES = {0: 10, 2: 36, 3: 38, 4: 1, 40: 12, 41: 10, 42: 14}


def messages(octets):
    while octets:
        length = int.from_bytes(octets[8:16], "big")
        yield octets[:length]
        octets = octets[length:]


def sections(message):
    """Each section by its number; every message here has one field."""
    found, at = {}, 16
    while message[at : at + 4] != b"7777":
        length = int.from_bytes(message[at : at + 4], "big")
        found[message[at + 4]] = message[at : at + length]
        at += length
    return found


def octets_of_packing(parts):
    """Template and octets as src/packing.rs reads them; none where the grid is larger than it makes them."""
    grid, representation, bitmap = parts[3], parts[5], parts[6]
    columns, rows = (int.from_bytes(grid[at : at + 4], "big") for at in (30, 34))
    if columns > 64 or rows > 64:
        return None
    template = int.from_bytes(representation[9:11], "big")
    has_bitmap = bitmap[5] == 0
    head = bytes([columns - 1, rows - 1, grid[71] | has_bitmap])
    of_template = representation[11 : 11 + TEMPLATES[template]]
    return template, head + of_template + (bitmap[6:] if has_bitmap else b"") + parts[7][5:]


def seeds():
    """Target and octets of each seed."""
    fields = b"".join((ROOT / "fixtures/packings" / name).read_bytes() for name in ("fields.grib2", "images.grib2"))
    for message in messages(fields):
        # A mutation of a small message says as much, in less time.
        if len(message) > 2000:
            continue
        yield "message", message
        made = octets_of_packing(sections(message))
        if made:
            yield f"packing-{made[0]}", made[1]
    for message in messages((ROOT / "fixtures/packings/grids.grib2").read_bytes()):
        yield "message", message
    for path in sorted((ROOT / "fixtures").glob("club/*.toml")) + [ROOT / "fixtures/demo/club.toml"]:
        yield "club-file", path.read_bytes()
    indices = sorted((ROOT / "fixtures/demo/feeds").rglob("*.idx"))
    # One of each kind of file.
    for path in {"".join(letter for letter in path.name if not letter.isdigit()): path for path in indices}.values():
        yield "noaa-index", path.read_bytes()
    for line in [
        {"domain": "g", "date": "20300513", "time": "0000", "expver": "0001", "class": "od", "type": "fc", "stream": "oper", "step": "3", "levtype": "sfc", "param": "10u", "_offset": 0, "_length": 609069},
        {"domain": "g", "date": "20300513", "time": "0000", "expver": "0001", "class": "od", "type": "pf", "stream": "enfo", "step": "0-6", "levelist": "850", "levtype": "pl", "number": "7", "param": "t", "_offset": 609069, "_length": 500},
    ]:
        yield "ecmwf-index", (json.dumps(line) + "\n").encode()


def main(folder):
    for number, (target, octets) in enumerate(seeds()):
        (folder / target).mkdir(parents=True, exist_ok=True)
        (folder / target / f"{number:04}").write_bytes(octets)


main(pathlib.Path(sys.argv[1]))
