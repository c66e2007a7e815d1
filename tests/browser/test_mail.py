"""From the form to the mail, its links and the end of it, by clicking; every page on the way is looked at.

Sources: RFC 8058 (one-click, its two header fields), RFC 9110 (GET is safe); WCAG 2.2 by axe-core, as in `test_reach`.
"""

import re
import tempfile
import urllib.parse
import urllib.request

import postbox
import scene
import service
from selenium.webdriver.common.by import By
from test_reach import AXE_TAGS, SMALL_TARGETS, TOO_WIDE

ADDRESS = "anna.keel@crew.example"
# Between two runs of the service: half past four by the clocks of Atlantic/Madeira, an hour ahead of UTC in summer.
DUE = "16:30"
AFTER = "2030-05-13T15:31:00Z"


class Mail(scene.InBrowser):
    def setUp(self):
        super().setUp()
        self.box = postbox.Postbox()
        self.addCleanup(self.box.close)
        self.folder, self.secrets, self.sending = tempfile.mkdtemp(dir=service.WORK), [], None
        self.addCleanup(lambda: self.sending and self.sending.stop())
        self.serve(service.CLOCK)

    def serve(self, now):
        """From this moment on, on the same store."""
        if self.sending:
            self.sending.stop()
        self.sending = service.start_with_mail(self.box.port, DUE, now, self.folder)

    def at(self, link):
        """Where the service answers in place of its public address."""
        return self.sending.address + urllib.parse.urlsplit(link).path

    def link(self, mail, page):
        text = mail.get_body(("plain",)).get_content()
        found = re.search(rf"https://sailing\.example/{page}/(cringle_[0-9a-f]+)", text)
        self.assertIsNotNone(found, text)
        self.secrets.append(found[1])
        return self.at(found[0])

    def look(self, title):
        """At the page that is open: nothing of a secret or the address on it, and nothing that keeps people out."""
        self.assertEqual(self.browser.find_element(By.TAG_NAME, "h1").text, title)
        source = self.browser.page_source
        for secret in [ADDRESS, *self.secrets]:
            self.assertNotIn(secret, source)
        self.assertIn("skipper", self.browser.find_element(By.TAG_NAME, "footer").text)
        for width, scheme in ((320, "light"), (1280, "dark")):
            self.browser.wide(width)
            self.browser.media(scheme)
            with self.subTest(page=title, width=width):
                self.assertEqual(self.browser.axe(AXE_TAGS), [])
                self.assertEqual(self.browser.execute_script(SMALL_TARGETS), [])
                wide, _, what = self.browser.execute_script(TOO_WIDE)
                self.assertLessEqual(wide, width, what)

    def press(self, words):
        self.browser.follow(self.browser.find_element(By.XPATH, f"//button[text()='{words}']"))

    def tick(self, label):
        self.browser.find_element(By.XPATH, f"//label[normalize-space()='{label}']").click()

    def test_form_confirmation_digest_choices_and_the_end(self):
        self.browser.wide(390)
        self.browser.get(self.sending.address)
        self.browser.follow(self.browser.find_element(By.LINK_TEXT, "Have it sent by mail"))
        self.look("Mail")
        self.browser.find_element(By.NAME, "address").send_keys(ADDRESS)
        self.tick("Saturday")
        self.tick("Saturday")
        self.press("Subscribe")
        self.look("Look into your mail")
        confirm = self.link(self.box.wait(1), "confirm")
        self.browser.get(confirm)
        self.look("Please confirm")
        self.press("Yes, send it")
        self.look("Confirmed")
        self.serve(AFTER)
        digest = self.box.wait(2)
        self.assertEqual(digest["List-Unsubscribe-Post"], "List-Unsubscribe=One-Click")
        self.browser.get(self.link(digest, "subscription"))
        self.look("Your mail")
        self.assertIn("a…@….example", self.browser.find_element(By.TAG_NAME, "main").text)
        self.tick("Sunday")
        self.press("Keep these choices")
        self.look("Your mail")
        self.assertIn("Kept", self.browser.find_element(By.CSS_SELECTOR, "[role=status]").text)
        self.assertTrue(self.browser.find_element(By.CSS_SELECTOR, "[value=Sun]").is_selected())
        asked = self.link(digest, "unsubscribe")
        self.browser.get(asked)
        self.look("End the mail?")
        one_click = self.at(re.search(r"<(https://[^>]+)>", digest["List-Unsubscribe"])[1])
        sent = urllib.request.Request(one_click, data=b"List-Unsubscribe=One-Click")
        with urllib.request.urlopen(sent, timeout=60) as answer:
            self.assertEqual(answer.status, 200)
            self.assertIn("Ended", answer.read().decode())
        self.press("End it")
        self.look("Ended already, or too old")
        self.assertEqual([mail["To"] for mail in self.box.mails], [ADDRESS] * 2)
