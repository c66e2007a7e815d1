"""Octets, memory and processor time of pulls of full-size messages over loopback, as a Markdown table.

    pip install eccodes numpy && python3 tests/bench/fetch_full_size.py [--steps 81] [--rounds 3] [--only PACKING]

Makes the messages (full_size_pool.py, in a temporary folder), builds services/fetcher/examples/fetch_full_size in release,
starts the replica as a process of its own and pulls from it: 31 members, five parameters, 100 places in 45-60 N, 12 W-25 E.
The whole run (81 steps, GEFS' own packing 5.3) is pulled once; five steps of it in each packing, from a paced replica, and
with a parameter left out between others, in several rounds of which the median and range are printed.

Memory and processor time are read from /proc, every 20 ms, of the fetching process and of its decoding children apart. The
octets are counted by the client and, independently, by the server. Values that were kept are compared with ecCodes' own.
Decides nothing but that: wrong or missing values end it.
"""

import argparse
import json
import os
import pathlib
import platform
import statistics
import subprocess
import sys
import tempfile
import time

import eccodes

import full_size_pool as pool

ROOT = pathlib.Path(__file__).resolve().parents[2]
SHARED = pathlib.Path(os.environ.get("CRINGLE_SHARED", ROOT.parent / "shared"))
RUN, MEMBERS, PARAMETERS, SHORT = "2030-05-13T00:00:00Z", 31, 5, 5
PACE = 10_000_000
# 1 Gbit/s, octets a second of all bodies together.
GIGABIT = 125_000_000
TICKS = os.sysconf("SC_CLK_TCK")
CODES = {
    "gust": pool.GUST, "air-temperature": pool.AIR, "wind-u": pool.U, "wind-v": pool.V, "pressure": pool.PRESSURE,
}  # fmt: skip


def build():
    command = ["cargo", "build", "--release", "-p", "fetcher", "--example", "fetch_full_size", "--message-format=json"]
    lines = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()
    made = [json.loads(line) for line in lines]
    return next(m["executable"] for m in made if m.get("executable") and m["target"]["name"] == "fetch_full_size")


class Server:
    """The replica, a process of its own; it tells what it sent when its input ends."""

    def __init__(self, program, *arguments):
        self.process = subprocess.Popen(
            [program, *map(str, arguments)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.address = json.loads(self.process.stdout.readline())["address"]

    def end(self):
        self.process.stdin.close()
        told = json.loads(self.process.stdout.readline())
        self.process.wait()
        return told


class Watched:
    """Memory and processor time of one process as it was last seen."""

    def __init__(self, pid):
        self.pid, self.resident, self.peak, self.seconds = pid, 0, 0, 0.0

    def look(self):
        try:
            status = pathlib.Path(f"/proc/{self.pid}/status").read_text()
            stat = pathlib.Path(f"/proc/{self.pid}/stat").read_text()
        except OSError:
            self.resident = 0
            return
        lines = dict(line.split(":", 1) for line in status.splitlines() if ":" in line)
        if "VmRSS" not in lines:  # ended, not yet waited for
            self.resident = 0
        else:
            self.resident = int(lines["VmRSS"].split()[0]) * 1024
            self.peak = max(self.peak, int(lines["VmHWM"].split()[0]) * 1024)
        user, system = stat.rsplit(")", 1)[1].split()[11:13]
        self.seconds = (int(user) + int(system)) / TICKS


def children_of(pid):
    for entry in os.listdir("/proc"):
        if entry.isdigit():
            try:
                stat = pathlib.Path(f"/proc/{entry}/stat").read_text()
            except OSError:
                continue
            if int(stat.rsplit(")", 1)[1].split()[1]) == pid:
                yield int(entry)


def measured(command):
    """Runs a command: what it printed and what it and its children took."""
    began = time.monotonic()
    process = subprocess.Popen([str(word) for word in command], stdout=subprocess.PIPE, text=True)
    parent, children, together, turn = Watched(process.pid), {}, 0, 0
    while process.poll() is None:
        if turn % 5 == 0:
            for pid in children_of(process.pid):
                children.setdefault(pid, Watched(pid))
        turn += 1
        for one in (parent, *children.values()):
            one.look()
        together = max(together, parent.resident + sum(child.resident for child in children.values()))
        time.sleep(0.02)
    printed = process.stdout.read()
    if process.returncode:
        sys.exit(f"{command}: {printed}")
    return json.loads(printed) | {
        "wall": time.monotonic() - began,
        "parent": parent.seconds,
        "children": sum(child.seconds for child in children.values()),
        "parent_peak": parent.peak,
        "child_peak": max((child.peak for child in children.values()), default=0),
        "together": together,
    }


def check_values(program, store, fields, codes):
    """What was kept at one node is what ecCodes reads there out of a message of the pool."""
    kept = json.loads(subprocess.run([program, "look", RUN, store], check=True, capture_output=True, text=True).stdout)
    for name, of_parameter in kept["fields"].items():
        right = [float(field[kept["row"], kept["column"]]) for field in fields[CODES[name]]]
        near = lambda value: any(abs(value - one) <= 1e-6 * max(1, abs(one)) for one in right)
        if of_parameter["gaps"] or not of_parameter["values"] or not all(map(near, of_parameter["values"])):
            sys.exit(f"{name}: {of_parameter} where ecCodes reads {right}")
    if set(kept["fields"]) != set(codes):
        sys.exit(f"kept are {sorted(kept['fields'])}")


def ensemble(program, folder, made, packing, steps, pace=0, line=0, mode="pull"):
    codes = [name for name in CODES if mode == "pull" or name != "air-temperature"]
    server = Server(program, "serve", RUN, MEMBERS, steps, folder / packing, pace, line)
    with tempfile.TemporaryDirectory() as kept:
        store = f"{kept}/store.db"
        took = measured([program, mode, server.address, RUN, 3 * (steps - 1), store])
        took |= server.end()
        expected = MEMBERS * steps * len(codes)
        if (took["messages"], took["missing"]) != (expected, 0):
            sys.exit(f"{took['messages']} of {expected} messages were read, {took['missing']} are missing")
        check_values(program, store, made[packing][1], codes)
        took["store"] = os.path.getsize(store)
    return took


def download(program, folder, packing, steps):
    """Wall time of the same octets over the same line, of which nothing is made."""
    server = Server(program, "serve", RUN, MEMBERS, steps, folder / packing, 0, GIGABIT)
    took = measured([program, "download", server.address, RUN, 3 * (steps - 1)])
    return took | server.end()


def beside_the_download(program, folder, made, packing, steps, rounds):
    """Pull and download in turns."""
    pulls, longer = [], []
    for _ in range(rounds):
        alone = download(program, folder, packing, steps)
        pulls.append(ensemble(program, folder, made, packing, steps, line=GIGABIT))
        longer.append(pulls[-1]["wall"] / alone["wall"])
        of_line = alone["octets_received"] / GIGABIT
        if alone["octets_received"] != pulls[-1]["octets_received"]:
            sys.exit(f"{alone['octets_received']:,} octets alone, {pulls[-1]['octets_received']:,} by the pull")
    row(f"{packing}, {steps} steps, over a line of 1 Gbit/s", pulls)
    print(f"\n{packing}: the download alone took {alone['wall']:.1f} s ({of_line:.1f} s by the line's rate, {alone['parent']:.1f} s of "
          f"processor time); the pull {statistics.median(longer):.2f} ({min(longer):.2f}-{max(longer):.2f}) times that.\n")  # fmt: skip


def subset(program):
    """One venue's GFS run through the subset endpoint; none without the shared trees."""
    tree = SHARED / "grib-synthetic" / "noaa-gfs"
    if not tree.is_dir():
        return None
    server = Server(program, "serve-folder", tree, "2030-05-13T05:00:00Z")
    with tempfile.TemporaryDirectory() as kept:
        took = measured([program, "pull-subset", server.address, "2030-05-13T09:00:00Z", f"{kept}/store.db"])
    return took | server.end()


def spread(rounds, figure, digits):
    values = sorted(figure(took) for took in rounds)
    middle = f"{statistics.median(values):,.{digits}f}"
    return middle if len(values) == 1 else f"{middle} ({values[0]:,.{digits}f}-{values[-1]:,.{digits}f})"


def row(name, rounds):
    per_message = lambda key: lambda took: 1000 * took[key] / took["messages"]
    cells = [
        name,
        f"{rounds[0]['messages']:,}",
        f"{rounds[0]['octets_wanted'] / 1e9:.2f}",
        f"{max(took['octets_received'] / took['octets_wanted'] for took in rounds):.4f}",
        f"{max(took['body_octets'] / took['octets_wanted'] for took in rounds):.4f}",
        spread(rounds, lambda took: took["parent_peak"] / 1e6, 0),
        spread(rounds, lambda took: took["child_peak"] / 1e6, 0),
        spread(rounds, lambda took: took["together"] / 1e6, 0),
        spread(rounds, per_message("parent"), 2),
        spread(rounds, per_message("children"), 2),
        spread(rounds, lambda took: took["wall"], 1),
        spread(rounds, lambda took: (took["parent"] + took["children"]) / took["wall"], 2),
    ]
    print("| " + " | ".join(cells) + " |", flush=True)


def machine():
    model = next((l.split(":")[1].strip() for l in open("/proc/cpuinfo") if l.startswith("model name")), "?")
    rust = subprocess.run(["rustc", "--version"], capture_output=True, text=True).stdout.split()[1]
    versions = f"Rust {rust}, ecCodes {eccodes.codes_get_api_version()}, Python {platform.python_version()}"
    return f"{time.strftime('%d %B %Y')}, {os.cpu_count()} cores ({model}), Linux {platform.release()}, {versions}."


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--steps", type=int, default=81, help="steps of the whole run")
    options.add_argument("--rounds", type=int, default=3, help="rounds of the short pulls")
    options.add_argument("--gigabit", action="store_true", help="the pull at 1 Gbit/s against its download alone, and nothing else")
    options.add_argument("--only", choices=pool.PACKINGS, help="the short pull of one packing and nothing else")
    chosen = options.parse_args()
    program = build()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        made = pool.make(folder)
        print(machine() + "\n\nMessages of the pool, octets: ", end="")
        print("; ".join(f"{name} {min(sizes):,}-{max(sizes):,}" for name, (sizes, _) in made.items()) + ".\n")
        print(
            "| pull | messages | wanted GB | received / wanted, client | the same, server | peak MB, fetching | "
            "peak MB, largest child | peak MB, all at once | CPU ms a message, fetching | CPU ms a message, children | "
            "wall s | CPU s / wall s |\n" + "| --- " * 12 + "|"
        )
        rounds = lambda **how: [ensemble(program, folder, made, **how) for _ in range(chosen.rounds)]
        if chosen.gigabit:
            steps = min(chosen.steps, 2 * SHORT)
            for packing in ("5.3", "5.42"):
                beside_the_download(program, folder, made, packing, steps, chosen.rounds)
            return
        for packing in [chosen.only] if chosen.only else pool.PACKINGS:
            row(f"{packing}, {SHORT} steps", rounds(packing=packing, steps=SHORT))
        if chosen.only:
            return
        row("5.3, four of five parameters", rounds(packing="5.3", steps=SHORT, mode="pull-four"))
        row(f"5.3, paced, {PACE // 1_000_000} MB/s a body", rounds(packing="5.3", steps=SHORT, pace=PACE))
        row(f"5.3, whole run, {chosen.steps} steps", [ensemble(program, folder, made, "5.3", chosen.steps)])
    took = subset(program)
    if took is None:
        print("\nskipped: the subset service needs ../shared/grib-synthetic")
    else:
        print(
            f"\nOne venue's GFS run through the subset service: {took['messages']:,} messages, "
            f"{took['octets_received']:,} octets received by the client's count, {took['body_octets']:,} by the server's, "
            f"in {took['requests']:,} requests."
        )


if __name__ == "__main__":
    main()
