"""Marks of HTML in every name a club can give: they are read as they were written, and none becomes an element."""

import re
import tempfile
from pathlib import Path

import scene
import service

HOSTILE = """<img src=x onerror=window.ran=1></title></svg></p>"&'<b id=hostile>{}</b>"""
ADDRESSES = ("/", "/sessions/{session}", "/openings", "/about-the-data", "/decide/{session}", "/embed/sessions/{session}", "/embed/next")
NAMES = {"Small Pontoon Sailing": "club", "The Roadstead": "venue", "Tern": "boat", "Beginners": "level"}


def club_of_hostile_names():
    """The club of thirty lines, its names replaced; TOML's quotes and backslashes are escaped as TOML asks."""
    text = (service.FIXTURES / "club/small.toml").read_text()
    for name, which in NAMES.items():
        hostile = HOSTILE.format(which).replace("\\", "\\\\").replace('"', '\\"')
        text, replaced = re.subn(f'"{name}"', lambda _: f'"{hostile}"', text)
        assert replaced == 1, name
    return text


class Names(scene.InBrowser):
    def test_no_name_becomes_markup_and_each_reads_as_written(self):
        folder = Path(tempfile.mkdtemp(dir=service.WORK))
        (folder / "club.toml").write_text(club_of_hostile_names())
        given = ("--club", folder / "club.toml", "--feeds", service.FIXTURES / "demo/feeds", "--store", folder / "store.db")
        serving = service.start("serve", *map(str, given), "--now", service.CLOCK, "--listen", "127.0.0.1:0")
        self.addCleanup(serving.stop)
        self.browser.wait(lambda _: serving.sessions(), "the advisor has issued")
        session = serving.sessions()[0]["id"]
        for address in ADDRESSES:
            with self.subTest(page=address):
                self.browser.get(serving.address + address.format(session=session))
                self.assertEqual(
                    self.browser.execute_script("return [document.querySelectorAll('#hostile, img').length, window.ran ?? null]"),
                    [0, None],
                )
                read = self.browser.execute_script("return document.title + document.body.textContent")
                self.assertIn(HOSTILE.format("club"), read)
