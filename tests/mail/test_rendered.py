"""The day's mail in headless Chromium, 600 and 320 px wide, light and dark. Pictures are kept for people to look at.

Sources: WCAG 2.2, 1.4.10 (reflow at 320 CSS px) and, by axe-core, levels A and AA.
"""

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


class Rendered(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        PICTURES.mkdir(parents=True, exist_ok=True)
        cls.browser = chromium.Browser()
        cls.addClassCleanup(cls.browser.quit)
        cls.confirmation, cls.digest = story.two_subscribers().letters(story.ANNA, 2)

    def look(self, name, mail):
        file = program.WORK / f"{name}.html"
        file.write_text(mail.shown())
        self.browser.get(file.as_uri())
        for width, scheme in itertools.product((600, 320), ("light", "dark")):
            self.browser.wide(width)
            self.browser.media(scheme)
            with self.subTest(mail=name, width=width, scheme=scheme):
                self.browser.picture(PICTURES / f"mail-{name}-{width}-{scheme}.png")
                scrolled, inner = self.browser.execute_script(WIDE)
                self.assertLessEqual(scrolled, inner)
                loaded = self.browser.execute_script(LOADED)
                self.assertTrue(all(complete and size > 0 for complete, size in loaded), loaded)
                self.assertEqual(self.browser.axe(AXE_TAGS), [])
        return loaded

    def test_the_digest_holds_at_both_widths(self):
        self.assertEqual(len(self.look("digest", self.digest)) >= 2, True)

    def test_the_mail_to_confirm_holds_at_both_widths(self):
        self.look("confirm", self.confirmation)
