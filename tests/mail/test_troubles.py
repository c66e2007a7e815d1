"""What keeps the program from sending: nothing goes out, nothing is lost, `/readyz` and `/metrics` say why, and name nobody.

Sources: RFC 4954, 6 (535); RFC 3207, 4 and 6 (a client that asks for TLS goes without it nowhere); RFC 6125 (trust); RFC 8314, 3.3 (TLS
from the first octet on).
"""

import unittest

import authority
import letter
import post_office
import program
import story

FAY = "fay@crew.example"


class Troubles(unittest.TestCase):
    def setUp(self):
        self.story = story.Story()
        self.addCleanup(self.story.opened.close)
        with self.story.place.serving(program.MORNING) as pages:
            self.story.subscribe(pages, by_api=[FAY])

    def kept_from_sending(self, words):
        """Serves until it says why, then sends as it should."""
        office, place = self.story.office, self.story.place
        with place.serving(program.BEFORE_HOUR) as pages:
            said = program.wait(lambda: self.says(pages, words), f"{words} on /readyz")
            metrics = pages.ask("/metrics")[1]
        self.assertRegex(metrics, r"(?m)^cringle_mail\w*\{[^}]*\} [1-9]")
        self.assertNotRegex((said + metrics + "".join(place.said)).lower(), "crew.example|a guess|a-pass/word")
        self.assertEqual(len(office.to(FAY)), 1, "nothing went out")

    def says(self, pages, words):
        text = pages.ask("/readyz")[1]
        return text if all(word in text.lower() for word in words) else None

    def goes_out_later(self, place):
        said = place.sends(program.LATER)
        subjects = [letter.Letter(mail.octets)["Subject"] for mail in self.story.office.to(FAY)]
        self.assertEqual(len(subjects), 2, f"{said}: {subjects}")

    def test_a_wrong_password(self):
        place = self.story.place
        place.password = "a guess"
        self.kept_from_sending(["mail server answered 535", "login"])
        place.password = post_office.PASSWORD
        self.goes_out_later(place)

    def test_a_certificate_of_others(self):
        place = self.story.place
        others = authority.Authority(place.folder, "others")
        trusted, place.mail["tls_roots"] = place.mail["tls_roots"], str(others.roots)
        self.kept_from_sending(["tls with the mail server failed", "certificate"])
        place.mail["tls_roots"] = trusted
        self.goes_out_later(place)

    def test_no_starttls(self):
        place, office = self.story.place, self.story.office
        with post_office.opened(office) as plain:
            place.mail["port"] = plain
            self.kept_from_sending(["no starttls"])
        place.mail["port"] = self.story.port
        self.goes_out_later(place)

    def test_tls_from_the_first_octet(self):
        place, office = self.story.place, self.story.office
        others = authority.Authority(place.folder, "others")
        with post_office.opened_by_tls(office, others.server()) as foreign:
            place.mail |= {"port": foreign, "tls": "implicit"}
            self.kept_from_sending(["tls with the mail server failed", "certificate"])
        with post_office.opened_by_tls(office, self.story.authority.server()) as port:
            place.mail["port"] = port
            self.goes_out_later(place)
        self.assertTrue(office.to(FAY)[-1].logged_in)
