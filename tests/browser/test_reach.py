"""Who can use the pages: axe-core's rules, narrow screens, large fingers, forced colours, a zoomed page.

Sources: WCAG 2.2 (W3C Recommendation, 5 October 2023), by axe-core's rules of its levels A and AA and axe-core's own best practices.
"""

import itertools
import scene
from selenium.webdriver.common.by import By

AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# WCAG 2.2, 2.5.8: at least 24 by 24 CSS px, but for links in running text.
SMALL_TARGETS = """
return [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')].filter(target => {
    const box = target.getBoundingClientRect();
    if (!box.width || !box.height || target.classList.contains('skip')) return false;
    const line = target.closest('p, li, td, dd, span');
    const in_text = target.tagName === 'A' && line && line.textContent.trim().length > target.textContent.trim().length;
    return !in_text && (box.width < 23.99 || box.height < 23.99);
}).map(target => `${target.outerHTML.slice(0, 90)}: ${target.getBoundingClientRect().width} x ${target.getBoundingClientRect().height}`);
"""
# What sticks out, and what holds it is not a box that scrolls by itself.
TOO_WIDE = """
const all = [...document.body.querySelectorAll('*')].filter(one => one.getBoundingClientRect().right > innerWidth + 0.5);
return [document.documentElement.scrollWidth, innerWidth, all.slice(0, 4).map(one => one.outerHTML.slice(0, 120))];
"""


class Reach(scene.InBrowser):
    def test_axe_finds_no_violation_light_and_dark_narrow_and_wide(self):
        for width, scheme in itertools.product((390, 1280), ("light", "dark")):
            self.browser.wide(width)
            self.browser.media(scheme)
            with self.subTest(width=width, scheme=scheme):
                self.on_each_page(lambda: self.assertEqual(self.browser.axe(AXE_TAGS), []))

    def test_no_page_scrolls_sideways_at_320_px(self):
        # WCAG 2.2, 1.4.10: reflow at 320 CSS px.
        self.browser.wide(320)
        self.on_each_page(lambda: self.assert_not_too_wide(320))

    def test_targets_are_large_enough(self):
        self.browser.wide(390)
        self.on_each_page(lambda: self.assertEqual(self.browser.execute_script(SMALL_TARGETS), []))

    def test_twice_as_large_nothing_is_lost(self):
        # WCAG 2.2, 1.4.4: text at 200 %. A window of 1280 px zoomed to 200 % has 640 CSS px.
        self.browser.wide(640, scale=2)
        self.on_each_page(lambda: self.assert_not_too_wide(640))

    def test_forced_colours_keep_word_and_mark(self):
        self.browser.media(forced=True)
        self.open("/sessions/{marginal}")
        self.assertTrue(self.browser.execute_script("return matchMedia('(forced-colors: active)').matches"))
        self.assertTrue(self.browser.find_element(By.TAG_NAME, "h1").is_displayed())
        fill = "return getComputedStyle(document.querySelector('svg.mark path:not(.bg)')).fill"
        text = "return getComputedStyle(document.querySelector('h1')).color"
        self.assertEqual(self.browser.execute_script(fill), self.browser.execute_script(text), "the mark is drawn as text is")

    def assert_not_too_wide(self, window):
        wide, found, what = self.browser.execute_script(TOO_WIDE)
        self.assertEqual(found, window)
        self.assertLessEqual(wide, window, what)
        self.assertTrue(self.browser.find_element(By.TAG_NAME, "main").is_displayed())
