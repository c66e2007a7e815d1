"""A session's call on a club's own website: a page of another origin with the element and with the frame.

The reader's clock is set forward in the browser, so that nothing waits. The service's own clock stands.
"""

import datetime
import email.utils
import urllib.request

import scene
import service
from selenium.webdriver.common.by import By

WORDS = {"go": "Go", "marginal": "Marginal", "no-go": "No-go", "no-call": "No call"}
OLD = "Old: no call"
# A reader's clock that tests set forward: as after a sleep, timers that have become due run once. Short ones run as ever. And a service that can be taken away.
CLOCK = """
(() => {
  const real = {now: Date.now.bind(Date), steady: performance.now.bind(performance), timeout: setTimeout.bind(window)};
  let ahead = 0, next = 1e9;
  const timers = new Map();
  const now = () => real.now() + ahead;
  Date = class extends Date { constructor(...of) { of.length ? super(...of) : super(now()); } static now() { return now(); } };
  performance.now = () => real.steady() + ahead;
  window.setTimeout = (run, after = 0, ...of) => {
    if (after < 100) return real.timeout(run, after, ...of);
    timers.set(next, {run: () => run(...of), at: now() + after});
    return next++;
  };
  const clear = clearTimeout.bind(window);
  window.clearTimeout = (timer) => { timers.delete(timer) || clear(timer); };
  const ask = window.fetch.bind(window);
  window.fetch = (...of) => window.serviceGone ? Promise.reject(new TypeError("gone")) : ask(...of);
  window.passTime = (milliseconds) => {
    ahead += milliseconds;
    for (const [timer, {run, at}] of [...timers]) if (at <= now()) { timers.delete(timer); run(); }
  };
})();
"""
ELEMENT = """<!doctype html><html lang="en"><title>Sailing with us</title><h1>Sailing with us</h1>
<script src="{service}/embed.js" async></script>
<cringle-session club="{club}" session="{session}"><a href="{service}/">The club's sessions</a></cringle-session>"""
FRAME = """<!doctype html><html lang="en"><title>Sailing with us</title><h1>Sailing with us</h1>
<iframe src="{service}/embed/sessions/{session}" title="The next session" width="360" height="480"></iframe>"""


class Embed(scene.InBrowser):
    def setUp(self):
        super().setUp()
        self.session = next(one for one in self.service.sessions() if one["call"] == "marginal")
        told = {"service": self.service.address, "club": self.service.club, "session": self.session["id"]}
        files = {"/element": ELEMENT.format(**told), "/frame": FRAME.format(**told)}
        self.site = self.enterContext(service.other_origin(files))
        script = self.browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": CLOCK})
        self.addCleanup(self.browser.execute_cdp_cmd, "Page.removeScriptToEvaluateOnNewDocument", script)
        self.addCleanup(self.browser.switch_to.default_content)

    def service_is_gone(self):
        self.browser.execute_script("window.serviceGone = true")

    def show(self, page):
        self.browser.get(self.site + page)
        if page == "/frame":
            self.browser.switch_to.frame(self.browser.find_element(By.TAG_NAME, "iframe"))
        self.wait_for("word", WORDS[self.session["call"]])

    def said(self, part):
        return self.browser.execute_script(
            "const card = document.querySelector('cringle-session')?.shadowRoot?.querySelector('article:not([hidden])');"
            "return card?.querySelector('.' + arguments[0])?.textContent",
            part,
        )

    def all_said(self):
        return self.browser.execute_script("return document.querySelector('cringle-session').shadowRoot.textContent")

    def wait_for(self, part, words):
        self.browser.wait(lambda _: words in (self.said(part) or ""), f"{part} says {words}")

    def pass_time(self, seconds):
        self.browser.execute_script("passTime(1000 * arguments[0])", seconds)

    def seconds_left(self):
        """From the moment the service's answers bear to the end of the call."""
        with urllib.request.urlopen(self.service.address + "/healthz") as answer:
            said = email.utils.parsedate_to_datetime(answer.headers["date"])
        return (datetime.datetime.fromisoformat(self.session["valid_until"]) - said).total_seconds()

    def test_the_element_and_the_frame_show_the_call_on_another_origin(self):
        for page in ("/element", "/frame"):
            with self.subTest(page=page):
                self.show(page)
                self.assertIn(self.session["boat"]["name"], self.said("who"))
                self.assertIn("The skipper on the water decides.", self.all_said())
                self.browser.switch_to.default_content()

    def test_past_valid_until_it_says_old_by_itself(self):
        for page in ("/element", "/frame"):
            with self.subTest(page=page):
                self.show(page)
                self.service_is_gone()
                self.pass_time(self.seconds_left() + 5)
                # At once, before anything could be asked: the very next look.
                self.assertEqual(self.said("word"), OLD)
                self.assertEqual(self.said("out"), "", "the way out goes with the call")
                self.browser.switch_to.default_content()

    def test_a_service_that_is_gone_leaves_the_call_till_valid_until_and_no_longer(self):
        for page in ("/element", "/frame"):
            with self.subTest(page=page):
                self.show(page)
                self.service_is_gone()
                left = self.seconds_left()
                self.pass_time(left - 120)
                self.browser.wait(lambda _: "The service was not reached just now." in self.all_said())
                self.assertEqual(self.said("word"), WORDS[self.session["call"]])
                self.pass_time(125)
                self.wait_for("word", OLD)
                self.browser.switch_to.default_content()

    def test_without_scripts_the_frame_shows_the_call_and_the_page_its_link(self):
        without = scene.browser(scripts=False)
        self.addCleanup(without.switch_to.default_content)
        without.get(self.site + "/element")
        self.assertTrue(without.find_element(By.LINK_TEXT, "The club's sessions").is_displayed())
        without.get(self.site + "/frame")
        without.switch_to.frame(without.find_element(By.TAG_NAME, "iframe"))
        self.assertEqual(without.find_element(By.CSS_SELECTOR, ".word").text, WORDS[self.session["call"]])

    def test_nothing_is_kept_and_nothing_is_asked_elsewhere(self):
        self.browser.events(), self.browser.complaints()
        self.show("/element")
        asked = [e["params"]["request"]["url"] for e in self.browser.events() if e["method"] == "Network.requestWillBeSent"]
        self.assertTrue(any("/v1/" in url for url in asked))
        at_home = (self.site + "/", self.service.address + "/")
        self.assertEqual([url for url in asked if not url.startswith(at_home)], [])
        kept = "return [document.cookie, localStorage.length, sessionStorage.length]"
        self.assertEqual(self.browser.execute_script(kept), ["", 0, 0])
        every = self.browser.execute_cdp_cmd("Network.getAllCookies", {})["cookies"]
        self.assertEqual(every, [])
        # A browser asks any site for its icon; that this one has none is not ours.
        self.assertEqual([said for said in self.browser.complaints() if "favicon" not in said], [])

    def test_the_card_is_as_open_to_all_as_the_pages(self):
        self.show("/element")
        self.assertEqual(self.browser.axe(["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]), [])
