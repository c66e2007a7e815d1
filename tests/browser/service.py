"""The program under test, started and stopped; and a second origin, as a club's own website is one.

Owns: processes and ports. Must not know: what any page shows.
"""

import contextlib
import functools
import http.server
import json
import os
import queue
import re
import subprocess
import tempfile
import threading
import urllib.parse
import urllib.request
from pathlib import Path

PROGRAM = os.environ["CRINGLE_BROWSER_PROGRAM"]
WORK = Path(os.environ["CRINGLE_BROWSER_WORK"])
FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
# A moment inside the bundled run: the demo's clock.
CLOCK = "2030-05-13T15:00:00Z"
CALLS = ("go", "marginal", "no-go", "no-call")


class Service:
    """One running program and where it answers."""

    def __init__(self, process, address):
        self.process = process
        self.address = address

    def read(self, path, **headers):
        asked = urllib.request.Request(self.address + path, headers=headers)
        with urllib.request.urlopen(asked, timeout=60) as answer:
            return answer.read().decode()

    def json(self, path):
        return json.loads(self.read(path))

    def stop(self):
        self.process.terminate()
        self.process.wait(timeout=30)

    @functools.cached_property
    def club(self):
        return self.json("/v1/clubs")["clubs"][0]["slug"]

    def sessions(self, query=""):
        return self.json(f"/v1/clubs/{self.club}/sessions?limit=50{query}")["sessions"]

    @functools.cached_property
    def examples(self):
        """What stands in the braces of `pages.PAGES`."""
        known = self.sessions()
        found = {"day": known[0]["leaves"][:10], "series": known[0]["id"].split("@")[0]}
        for call in CALLS:
            those = [session["id"] for session in known if session["call"] == call]
            if those:
                found[call] = urllib.parse.quote(those[0], safe="")
        return found

    def page(self, path):
        return self.address + re.sub(r"\{([a-z-]+)\}", lambda name: self.examples[name[1]], path)


def said_address(process, log):
    """Waits until the program says where it answers."""
    said = queue.Queue()

    def listen():
        for line in process.stdout:
            said.put(line)
        said.put("")

    threading.Thread(target=listen, daemon=True).start()
    text = ""
    with contextlib.suppress(queue.Empty):
        while line := said.get(timeout=120):
            text += line
            if found := re.search(r"http://[0-9.]+:[0-9]+", line):
                return found[0]
    raise AssertionError(f"the program did not say its address: {text}\n{log.read_text()}")


def start(*arguments, settings=None):
    """Starts the program on a port of its own, with the limiter raised and further settings by their variables."""
    folder = Path(tempfile.mkdtemp(dir=WORK))
    log = folder / "complained"
    environment = dict(os.environ, CRINGLE__SERVE__REQUESTS_A_MINUTE="600000", **(settings or {}))
    with log.open("w") as complaints:
        process = subprocess.Popen(
            [PROGRAM, *arguments],
            stdout=subprocess.PIPE,
            stderr=complaints,
            env=environment,
            cwd=folder,
            text=True,
        )
    try:
        address = said_address(process, log)
    except BaseException:
        process.kill()
        raise
    return Service(process, address)


@contextlib.contextmanager
def demo():
    service = start("demo", "--listen", "127.0.0.1:0")
    try:
        yield service
    finally:
        service.stop()


def start_with_mail(port, digest_at, now=CLOCK, folder=None):
    """Starts the service of the demo's club at a moment, its clock going on, with a mail server at a port of this machine; the store
    lies in the folder.
    """
    folder = Path(folder or tempfile.mkdtemp(dir=WORK))
    text = (FIXTURES / "demo/club.toml").read_text()
    text, replaced = re.subn(r'digest_at = "[0-9:]+"', f'digest_at = "{digest_at}"', text)
    assert replaced == 1
    (folder / "club.toml").write_text(text)
    given = ("--club", folder / "club.toml", "--feeds", FIXTURES / "demo/feeds", "--store", folder / "store.db")
    mail = {"HOST": "127.0.0.1", "PORT": str(port), "TLS": "none", "FROM": "office@sailing.example"}
    settings = {f"CRINGLE__MAIL__{key}": value for key, value in mail.items()}
    settings["CRINGLE__SERVE__PUBLIC_ADDRESS"] = "https://sailing.example"
    return start("serve", *map(str, given), "--now", now, "--listen", "127.0.0.1:0", settings=settings)


@contextlib.contextmanager
def with_mail():
    """The same with nobody at the mail server's port (RFC 863 names it discard): its pages need none."""
    service = start_with_mail(9, "06:30")
    try:
        yield service
    finally:
        service.stop()


@contextlib.contextmanager
def other_origin(files):
    """Serves texts by path (`{"/": "<html>"}`) from a port of its own: to a browser another origin."""

    class Answers(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            text = files.get(urllib.parse.urlsplit(self.path).path)
            self.send_response(200 if text is not None else 404)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.end_headers()
            self.wfile.write((text or "").encode())

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
