"""The program under test with mail set up: its settings, its store, its rounds, and how somebody subscribes.

Owns: processes, folders, requests. Must not know: what a mail should say, how it is sent.
"""

import contextlib
import html.parser
import os
import re
import subprocess
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import post_office

PROGRAM = os.environ["CRINGLE_BROWSER_PROGRAM"]
WORK = Path(os.environ["CRINGLE_BROWSER_WORK"])
FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
# Where the mails say that the pages are; the tests ask the program itself for them.
PUBLIC = "https://sailing.example"
SENDER = "digest@sailing.example"
CLUB = "vanterholm"
# Inside the bundled run, before the club's hour for its mail, 16:10 on Madeira, where summer time is UTC+1.
MORNING = "2030-05-13T15:00:00Z"
BEFORE_HOUR = "2030-05-13T15:09:57Z"
AFTER_HOUR = "2030-05-13T15:10:30Z"
LATER = "2030-05-13T16:00:00Z"
# Advisories are a day old then: the mail waits a few minutes for newer ones, and goes without.
NEXT_DAY = "2030-05-14T15:20:00Z"
SECONDS_AT_MOST = 60


class Place:
    """A club, a store and settings in a folder of their own."""

    def __init__(self, port, roots, **mail):
        self.folder = Path(tempfile.mkdtemp(dir=WORK))
        club = (FIXTURES / "demo/club.toml").read_text()
        club, changed = re.subn(r'^digest_at = "[0-9:]+"', 'digest_at = "16:10"', club, flags=re.M)
        assert changed == 1, "the demo's club has a mail"
        (self.folder / "club.toml").write_text(club)
        self.mail = {"host": "localhost", "port": port, "from": SENDER, "user": post_office.USER, **mail}
        if roots:
            self.mail["tls_roots"] = str(roots)
        self.password = post_office.PASSWORD
        self.said = []

    @property
    def store(self):
        return self.folder / "store.db"

    @property
    def out(self):
        return self.folder / "out"

    def has_advised(self):
        """Waits until the serving program has fetched everything and advised on it."""
        wait(lambda: re.search(r" fetched: (?s:.*) advised: ", self.out.read_text()), "advisories")

    def command(self, now, *words):
        lines = [f"[serve]\npublic_address = '{PUBLIC}'\n[mail]"]
        lines += [f"{key} = {value if isinstance(value, int) else repr(value)}" for key, value in self.mail.items()]
        settings = self.folder / "settings.toml"
        settings.write_text("\n".join(lines))
        first, *rest = words
        where = ["--club", self.folder / "club.toml", "--feeds", FIXTURES / "demo/feeds", "--store", self.store]
        return [PROGRAM, "--config", settings, "--now", now, first, *where, *rest]

    def environment(self):
        raised = {"CRINGLE__SERVE__REQUESTS_A_MINUTE": "600000", "RUST_LOG": "trace"}
        secret = {"CRINGLE__MAIL__PASSWORD": self.password} if self.password else {}
        return dict(os.environ, **raised, **secret)

    def run(self, now, *words):
        """One command to its end: what it said and its exit code."""
        ended = subprocess.run(
            self.command(now, *words), env=self.environment(), capture_output=True, text=True, timeout=300
        )
        self.said.append(ended.stdout + ended.stderr)
        return ended

    def round(self, now):
        """One round of the digest, as a timer would run it."""
        return self.run(now, "digest")

    def edit(self, before, after):
        """Changes the club's file."""
        file = self.folder / "club.toml"
        text = file.read_text()
        assert before in text, before
        file.write_text(text.replace(before, after))

    def sends(self, now):
        """A round that goes as it should; what it said."""
        ended = self.round(now)
        if ended.returncode != 0:
            raise AssertionError(f"{ended.stdout}{ended.stderr[-2000:]}")
        return ended.stdout

    @contextlib.contextmanager
    def serving(self, now):
        """The program keeps serving, its clock beginning at a moment."""
        out, complaints = self.out, self.folder / "complaints"
        with out.open("w") as stdout, complaints.open("w") as stderr:
            process = subprocess.Popen(
                self.command(now, "serve", "--listen", "127.0.0.1:0"), env=self.environment(), stdout=stdout, stderr=stderr
            )
        try:
            address = wait(lambda: re.search(r"http://[0-9.]+:[0-9]+", out.read_text()), "the program's address", process)[0]
            yield Pages(address)
        finally:
            process.terminate()
            process.wait(timeout=60)
            self.said.append(out.read_text() + complaints.read_text())


def wait(ask, what, process=None):
    """Asks until there is an answer."""
    until = time.monotonic() + SECONDS_AT_MOST
    while time.monotonic() < until:
        if answer := ask():
            return answer
        if process and process.poll() is not None:
            break
        time.sleep(0.05)
    raise AssertionError(f"waited in vain for {what}")


class Pages:
    """The program as a browser or a mail's host asks it."""

    def __init__(self, address):
        self.address = address

    def ask(self, path, body=None, **headers):
        """Status and text of the answer."""
        path = path.removeprefix(PUBLIC)
        asked = urllib.request.Request(self.address + path, data=body, headers={k.replace("_", "-"): v for k, v in headers.items()})
        try:
            with urllib.request.urlopen(asked, timeout=60) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as answer:
            return answer.code, answer.read().decode()

    def submit(self, path, **typed):
        """Fills the page's form that posts, as a browser without scripts does, and sends it."""
        status, text = self.ask(path)
        assert status == 200, (path.split("/")[1], status)
        form = next(form for form in Forms(text).all if form["method"].lower() == "post" and set(typed) <= set(form["names"]))
        values = [(name, value) for name, value in form["values"] if name not in typed]
        values += [(name, one) for name, given in typed.items() for one in (given if isinstance(given, list) else [given])]
        target = urllib.parse.urljoin(PUBLIC + path.removeprefix(PUBLIC), form["action"])
        same_origin = {"Sec_Fetch_Site": "same-origin", "Origin": self.address}
        return self.ask(target, urllib.parse.urlencode(values).encode(), **same_origin)


class Forms(html.parser.HTMLParser):
    """The forms of a page with what they would send untouched."""

    def __init__(self, text):
        super().__init__()
        self.all = []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        if tag == "form":
            form = {"method": attributes.get("method", "get"), "action": attributes.get("action", ""), "names": [], "values": []}
            self.all.append(form)
        name = attributes.get("name")
        if tag not in ("input", "button", "select", "textarea") or not name or not self.all:
            return
        form, kind = self.all[-1], attributes.get("type", "text")
        form["names"].append(name)
        if kind not in ("checkbox", "radio") or "checked" in attributes:
            form["values"].append((name, attributes.get("value", "on" if kind == "checkbox" else "")))
