"""The mails that the serving program hands to a server with STARTTLS and a password, read by Python's email.

Sources: beside the checks in letter.py; RFC 5321 for the envelope.
"""

import email.utils
import unittest

import letter
import program
import story


class Digest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.story = story.two_subscribers()

    def mails(self):
        for somebody in (story.ANNA, story.BEN):
            confirmation, digest = self.story.letters(somebody, 2)
            yield somebody, confirmation, digest

    def test_they_come_over_tls_after_the_password_to_one_recipient_each(self):
        for mail in self.story.first_mails:
            self.assertTrue(mail.over_tls and mail.logged_in)
            self.assertEqual((mail.sender, len(mail.recipients)), (program.SENDER, 1))
        self.assertEqual(len(self.story.first_mails), 4, "a mail to confirm and the day's, to each of two")

    def test_they_are_without_fault(self):
        for _, confirmation, digest in self.mails():
            self.assertEqual(letter.faults(confirmation, False), [])
            self.assertEqual(letter.faults(digest, True), [])

    def test_they_are_to_whom_they_go_and_from_the_club(self):
        for somebody, confirmation, digest in self.mails():
            for mail in (confirmation, digest):
                self.assertEqual(email.utils.parseaddr(mail["To"])[1].lower(), somebody.lower())
                self.assertEqual(email.utils.parseaddr(mail["From"])[1], program.SENDER)
                self.assertTrue(mail["Message-ID"].endswith("@sailing.example>"), mail["Message-ID"])

    def test_a_name_is_one_mail_s_and_says_nothing_of_the_address(self):
        names = [mail["Message-ID"] for _, *both in self.mails() for mail in both]
        self.assertEqual(len(set(names)), len(names))
        self.assertNotRegex(" ".join(names).lower(), "anna|ben|crew")

    def test_the_digest_says_a_session_s_call_in_its_subject_and_shows_its_chart(self):
        for _, confirmation, digest in self.mails():
            self.assertRegex(digest["Subject"], r"^\w{3} \d+ May \d\d:\d\d.*\b(go|marginal|no-go|no call)\b")
            self.assertEqual(confirmation.pictures, {})
            self.assertGreater(len(digest.pictures), 1, "a mark and a chart")

    def test_the_digest_says_who_decides_and_until_when_it_holds_in_both_its_parts(self):
        for _, _, digest in self.mails():
            for part in (digest.text, letter.words_of(digest.html)):
                words = " ".join(part.split())
                for needed in ("skipper", "warnings", "NOAA", "valid until", "the harbour office, pontoon C"):
                    self.assertIn(needed.lower(), words.lower())

    def test_the_digest_leads_to_the_live_page(self):
        with self.story.place.serving(program.MORNING) as pages:
            for _, _, digest in self.mails():
                links = {path for path in digest.links(program.PUBLIC) if path.startswith("/sessions/") or path == "/"}
                self.assertTrue(links)
                for link in links:
                    self.assertEqual(pages.ask(link)[0], 200)

    def test_known_or_not_the_answer_is_the_same(self):
        with self.story.place.serving(program.AFTER_HOUR) as pages:
            by_form = [pages.submit("/subscribe", address=somebody) for somebody in (story.BEN, "new@crew.example")]
        self.assertEqual(by_form[0], by_form[1])

    def test_no_output_names_an_address(self):
        said = "".join(self.story.place.said).lower()
        self.assertGreater(len(said), 1000, "it was told to trace")
        self.assertNotRegex(said, "crew.example|anna.keel")
