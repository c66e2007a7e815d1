"""The element `<cringle-session>` on a page of another origin, before a service that grows old, lies, breaks off or is gone.

Sources: RFC 9110, sections 5.6.7 (Date) and 15 (statuses). What a card must never show is the project's own rule.
"""

import email.utils
import http.server
import json
import threading
import time
import urllib.parse

import chromium
import scene
import service

HOST = """<!doctype html><html lang="en"><title>A club</title><script src="{script}" async></script>
<cringle-session club="x" boat="b"><a href="{script}">The club's calls</a></cringle-session></html>"""
WORDS = """
const root = document.querySelector('cringle-session').shadowRoot, card = root && root.querySelector('.card');
if (!card || card.hidden) return null;
const seen = name => { const one = card.querySelector('.' + name); return one.hidden ? '' : one.textContent };
return Object.fromEntries(['word', 'who', 'line', 'out', 'until', 'club', 'stamp'].map(name => [name, seen(name)]));
"""
# Each reading of the steady clock is a millisecond later, and a timer fires `early` milliseconds before its time: at once by the true clock.
CLOCK_OF_READINGS = """
(() => {
  const wall = Date.now(), later = window.setTimeout;
  let clock = 0;
  performance.now = () => ++clock;
  Date.now = () => wall;
  const answer = () => (document.querySelector('cringle-session') || {}).answer;
  // Patience with the service is of the true clock, and so is all before its first answer.
  window.setTimeout = (look, time) => time === 10000 || !answer() ? later(look, time) : later(() => {
    clock += Math.max(time - (window.early || 0), 0);
    look();
    const { said, asked, found } = answer();
    const word = document.querySelector('cringle-session').shadowRoot.querySelector('.word').textContent;
    if (word.startsWith('Old') && !window.turned) window.turned = said + clock - asked.steady - found.until;
  }, 0);
})();
"""
MARKUP = "<img src=x onerror=\"document.title='run'\">&'"


def entry(seconds, **changed):
    """A list with one session whose call holds for so many seconds by the clock of `said`."""
    card = {
        "who": "Dunlin, Crew, Sound",
        "when": "Sat 17 Oct, 09:30 to 17:00",
        "line": "Leave with 1 reef.",
        "way_out": "Back by 14:15, then it is a go.",
        "decides": "The club decides by Sat 08:00",
        "valid": "Valid until 12:20.",
        "origin": "A run.",
    }
    one = {"id": "s", "call": "go", "old": False, "light": False, "decision": None, "card": card}
    one["valid_until"] = time.strftime("%Y-%m-%dT%H:%M:%S+00:00", time.gmtime(Lying.clock() + seconds))
    one.update(changed)
    return {"club": "A club", "sessions": [one], "next": None}


class Lying(http.server.BaseHTTPRequestHandler):
    """Answers what it is told to, by a clock three years behind the reader's."""

    script = ""
    answer = (200, "")
    asked = 0

    @staticmethod
    def clock():
        return int(time.time()) - 3 * 365 * 86400

    def do_GET(self):
        if self.path == "/embed.js":
            status, text, kind = 200, Lying.script, "text/javascript; charset=utf-8"
        else:
            Lying.asked += 1
            (status, text), kind = Lying.answer, "application/json"
        self.send_response_only(status)
        self.send_header("Date", email.utils.formatdate(Lying.clock(), usegmt=True))
        self.send_header("Content-Type", kind)
        self.send_header("Access-Control-Allow-Origin", "*")
        self.send_header("Access-Control-Expose-Headers", "date")
        self.end_headers()
        self.wfile.write(text.encode())

    def log_message(self, *_):
        pass


class EmbedFaults(scene.InBrowser):
    def setUp(self):
        super().setUp()
        Lying.script = self.service.read("/embed.js")
        Lying.asked = 0
        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Lying)
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        self.addCleanup(self.stop)

    def stop(self):
        self.server.shutdown()
        self.server.server_close()

    def card(self, answer, status=200):
        """The words of the card on another site, once it has any."""
        Lying.answer = (status, answer if isinstance(answer, str) else json.dumps(answer))
        script = f"http://127.0.0.1:{self.server.server_port}/embed.js"
        with service.other_origin({"/": HOST.format(script=script)}) as site:
            self.browser.get(site)
            return self.browser.wait(lambda browser: browser.execute_script(WORDS), "no card")

    def becomes(self, word):
        self.browser.wait(lambda browser: browser.execute_script(WORDS)["word"] == word, f"never {word}")
        return self.browser.execute_script(WORDS)

    def test_a_call_stands_by_the_services_clock_and_grows_old_without_the_service(self):
        words = self.card(entry(5))
        self.assertEqual(words["word"], "Go", "the reader's clock is three years ahead")
        self.assertEqual((words["line"], words["club"]), ("Leave with 1 reef.", "A club"))
        Lying.answer = (500, "")
        words = self.becomes("Old: no call")
        self.assertEqual(words["out"], "")
        self.assertNotIn("Leave with", words["line"])
        # Once it has turned it asks again by itself; if that request should come to nothing on the way, again after a minute.
        self.browser.wait(lambda _: Lying.asked >= 2, "never asked again", seconds=150)
        self.assertEqual(self.browser.execute_script(WORDS)["word"], "Old: no call")

    def test_no_instant_between_two_readings_of_a_clock_lets_a_call_stand(self):
        """By a clock that goes on at each reading, a call may turn old while it is looked at: the next look is soon all the same."""
        # A browser of its own: its clocks are of no use to others.
        self.browser = chromium.Browser()
        self.addCleanup(self.browser.quit)
        self.browser.before_load(CLOCK_OF_READINGS)
        late = []
        for early in range(12):
            self.browser.get("about:blank")
            self.browser.before_load(f"window.early = {early};")
            self.card(entry(20))
            late.append(self.browser.wait(lambda browser: browser.execute_script("return window.turned"), "never old"))
        self.assertLess(max(late), 1000, "milliseconds after the end of its time")

    def test_a_newer_call_takes_the_place_of_the_old_one(self):
        self.card(entry(4))
        Lying.answer = (200, json.dumps(entry(3600, call="marginal")))
        self.becomes("Marginal")

    def test_a_clock_that_jumps_ahead_ends_a_call(self):
        # As after a sleep in which the steady clock stood still.
        self.assertEqual(self.card(entry(3600))["word"], "Go")
        Lying.answer = (503, "")
        self.browser.execute_script("const now = Date.now; Date.now = () => now() + 7200e3; dispatchEvent(new Event('pageshow'))")
        self.becomes("Old: no call")

    def test_what_is_not_understood_is_never_a_go(self):
        for call in ("Go", "gone", "constructor", "__proto__"):
            with self.subTest(call=call):
                words = self.card(entry(3600, call=call))
                self.assertEqual(words["word"], "No call")
                self.assertNotIn("Leave with", words["line"])
        without = entry(3600)
        del without["sessions"][0]["valid_until"]
        number = entry(3600, valid_until=99999999999)
        for broken in ("", "<html>", "null", "[]", "{}", '{"sessions": 7}', '{"sessions": [null]}', without, number):
            with self.subTest(broken=str(broken)[:40]):
                words = self.card(broken)
                self.assertEqual((words["word"], words["line"]), ("No call", "The service cannot be reached."))
        said_old = self.card(entry(3600, old=True))
        self.assertEqual(said_old["word"], "Old: no call")

    def test_statuses_are_said_in_words(self):
        for status, line in ((404, "The service lists no such session."), (500, "The service cannot be reached."), (429, "The service cannot be reached.")):
            with self.subTest(status=status):
                words = self.card("{}", status)
                self.assertEqual((words["word"], words["line"]), ("No call", line))
        words = self.card({"club": "A club", "sessions": [], "next": None})
        self.assertEqual(words["line"], "The service lists no such session.")

    def test_markup_stays_text_and_nothing_is_stored(self):
        answer = entry(3600, id=MARKUP)
        answer["club"] = MARKUP
        for name in ("who", "line", "way_out", "decides", "valid", "origin"):
            answer["sessions"][0]["card"][name] = MARKUP
        self.assertEqual(self.card(answer)["who"], MARKUP)
        root = "document.querySelector('cringle-session').shadowRoot"
        self.assertEqual(self.browser.execute_script(f"return {root}.querySelectorAll('img, script').length"), 0)
        self.assertEqual(self.browser.title, "A club")
        link = self.browser.execute_script(f"return {root}.querySelector('a').href")
        self.assertIn("/sessions/" + urllib.parse.quote(MARKUP, safe="'"), link)
        kept = "return [document.cookie, localStorage.length, sessionStorage.length]"
        self.assertEqual(self.browser.execute_script(kept), ["", 0, 0])
