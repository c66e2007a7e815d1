"""The day's mail in headless Chromium, 600 and 320 px wide, light and dark. Pictures are kept for people to look at.

Sources: WCAG 2.2, 1.4.10 (reflow at 320 CSS px) and, by axe-core, levels A and AA.
"""

import atexit
import functools
import itertools
import os
import unittest
from pathlib import Path

import chromium
import program
import story

PICTURES = Path(os.environ["CRINGLE_MAIL_PICTURES"])
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
LOADED = "return [...document.images].map(one => [one.complete, one.naturalWidth]);"
WIDE = "return [document.documentElement.scrollWidth, innerWidth];"


@functools.cache
def browser():
    PICTURES.mkdir(parents=True, exist_ok=True)
    started = chromium.Browser()
    atexit.register(started.quit)
    return started


def look(test, name, mail):
    """Looks at a mail in every breadth and scheme; how wide its pictures are."""
    file = program.WORK / f"{name}.html"
    file.write_text(mail.shown())
    browser().get(file.as_uri())
    for width, scheme in itertools.product((600, 320), ("light", "dark")):
        browser().wide(width)
        browser().media(scheme)
        with test.subTest(mail=name, width=width, scheme=scheme):
            browser().picture(PICTURES / f"mail-{name}-{width}-{scheme}.png")
            scrolled, inner = browser().execute_script(WIDE)
            test.assertLessEqual(scrolled, inner)
            loaded = browser().execute_script(LOADED)
            test.assertTrue(all(complete and wide > 0 for complete, wide in loaded), loaded)
            test.assertEqual(browser().axe(AXE_TAGS), [])
    return [wide for _, wide in loaded]


class Rendered(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.confirmation, cls.digest = story.two_subscribers().letters(story.ANNA, 2)

    def test_the_digest_holds_at_both_widths(self):
        widths = look(self, "digest", self.digest)
        self.assertGreaterEqual(max(widths), 1000, "a chart is drawn for screens of many points")

    def test_the_mail_to_confirm_holds_at_both_widths(self):
        self.assertEqual(look(self, "confirm", self.confirmation), [])
