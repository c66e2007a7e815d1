"""The API under load: a cached advisory and a 304 against a bare handler with the same bytes, alternating in one run; then 1,000 keep-alive
clients beside a running fetch.

Needs wrk (Debian's package). Prints Markdown tables; decides nothing.

    python3 tests/bench/api.py [--rounds 5] [--seconds 3] [--clients 64] [--hold 60]
"""

import argparse, json, os, pathlib, re, signal, statistics, subprocess, tempfile, time, urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[2]
TARGET = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))


def build():
    run = lambda *words: subprocess.run(words, cwd=ROOT, check=True)
    # In one go: apart, each would build its dependencies with other features.
    run("cargo", "build", "--release", "-p", "cringle", "-p", "api", "--bin", "cringle", "--example", "bare")


def started(words, log, said="", **environment):
    """A server and the address it says first."""
    server = subprocess.Popen(words, stdout=open(log, "w"), stderr=subprocess.DEVNULL, cwd=ROOT, env={**os.environ, **environment})
    for _ in range(600):
        # The live demo says its feed server first, and then where its pages are.
        found = re.search(said + r"(http://[0-9.:]+/)", pathlib.Path(log).read_text())
        if found:
            return server, found.group(1)
        if server.poll() is not None:
            break
        time.sleep(0.1)
    raise SystemExit(f"{words[0]} said no address: {pathlib.Path(log).read_text()}")


def waited_for(words, log):
    for _ in range(600):
        if words in pathlib.Path(log).read_text():
            return
        time.sleep(0.1)
    raise SystemExit(f"it never said {words!r}")


def loaded(url, seconds, clients, headers=()):
    """Requests a second, p99 in ms and the lines of errors of one wrk run."""
    words = ["wrk", "-t2", f"-c{clients}", f"-d{seconds}s", "--latency"]
    for header in headers:
        words += ["-H", header]
    said = subprocess.run([*words, url], capture_output=True, text=True, check=True).stdout
    rate = float(re.search(r"Requests/sec:\s*([0-9.]+)", said).group(1))
    value, unit = re.search(r"99%\s*([0-9.]+)(us|ms|s)", said).groups()
    p99 = float(value) * {"us": 0.001, "ms": 1.0, "s": 1000.0}[unit]
    errors = re.findall(r"(?:Socket errors|Non-2xx or 3xx).*", said)
    return rate, p99, errors


def resident_kb(process):
    status = pathlib.Path(f"/proc/{process.pid}/status").read_text()
    return int(re.search(r"VmRSS:\s*(\d+)", status).group(1))


def spread(values):
    return f"{statistics.median(values):,.0f} ({min(values):,.0f}-{max(values):,.0f})"


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--seconds", type=int, default=3)
    asked.add_argument("--clients", type=int, default=64)
    asked.add_argument("--hold", type=int, default=60)
    asked.add_argument("--built", action="store_true", help="what was built before is measured")
    asked = asked.parse_args()
    asked.built or build()
    raised = {"CRINGLE__SERVE__REQUESTS_A_MINUTE": "600000000"}
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        cringle = str(TARGET / "release/cringle")
        service, address = started([cringle, "demo", "--listen", "127.0.0.1:0"], folder / "service", **raised)
        club = json.load(urllib.request.urlopen(address + "v1/clubs"))["clubs"][0]["slug"]
        session = json.load(urllib.request.urlopen(f"{address}v1/clubs/{club}/sessions"))["sessions"][0]["id"]
        url = f"{address}v1/clubs/{club}/sessions/{urllib.request.quote(session, safe='')}/advisory"
        answer = urllib.request.urlopen(url)
        (folder / "bytes").write_bytes(answer.read())
        tag = answer.headers["etag"]
        bare, bare_address = started([str(TARGET / "release/examples/bare"), "0", str(folder / "bytes")], folder / "bare")
        sides = {
            "bare handler, the same bytes": (bare_address, ()),
            "cached advisory": (url, ()),
            "304": (url, (f"If-None-Match: {tag}",)),
        }
        rates, tails, errors = ({side: [] for side in sides} for _ in range(3))
        for _ in range(asked.rounds):
            for side, (where, headers) in sides.items():
                rate, p99, wrong = loaded(where, asked.seconds, asked.clients, headers)
                rates[side].append(rate)
                tails[side].append(p99)
                errors[side] += wrong
        service.send_signal(signal.SIGINT)
        bare.kill()
        print(f"\n{(folder / 'bytes').stat().st_size:,} octets, {asked.clients} keep-alive clients, {asked.rounds} alternating rounds of {asked.seconds} s\n")
        print("| side | requests/s, median (range) | of the bare handler | p99 ms, median | of the bare handler | errors |")
        print("| --- | --- | --- | --- | --- | --- |")
        peer, peer_tail = (statistics.median(found["bare handler, the same bytes"]) for found in (rates, tails))
        for side in sides:
            rate, tail = statistics.median(rates[side]), statistics.median(tails[side])
            told = "; ".join(errors[side]) or "none"
            print(f"| {side} | {spread(rates[side])} | {rate / peer:.2f} | {tail:.2f} | {tail / peer_tail:.2f} | {told} |")

        # The demo that goes on fetching: the bundled run appears step by step meanwhile.
        live, address = started([cringle, "demo", "--live", "--listen", "127.0.0.1:0"], folder / "live", said="Pages: ", **raised)
        words = ["wrk", "-t2", "-c1000", f"-d{asked.hold}s", "--timeout", "10s", address]
        # Once it has fetched and advised: what grows from then on grows by its clients and by the fetch that goes on.
        waited_for("advised: ", folder / "live")
        holding = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
        time.sleep(10)
        early = resident_kb(live)
        time.sleep(max(0, asked.hold - 11))
        late = resident_kb(live)
        said = holding.communicate()[0]
        wrong = re.findall(r"(?:Socket errors|Non-2xx or 3xx).*", said) or ["none"]
        rate = re.search(r"Requests/sec:\s*([0-9.]+)", said).group(1)
        live.send_signal(signal.SIGINT)
        print(f"\n1,000 keep-alive clients for {asked.hold} s on the board beside a running fetch: {rate} requests/s; errors: {'; '.join(wrong)};")
        print(f"resident memory {early / 1024:.0f} MB at 10 s, {late / 1024:.0f} MB at {asked.hold} s, ratio {late / early:.2f}")


if __name__ == "__main__":
    main()
