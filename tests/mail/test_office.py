"""The mail server of these tests asks what it should: by Python's smtplib, another client than the program's.

Sources: RFC 3207 (STARTTLS; 530 before it), RFC 4954 (530, 535), RFC 6125 by Python's ssl (names in certificates).
"""

import smtplib
import ssl
import unittest
from pathlib import Path
from tempfile import mkdtemp

import authority
import post_office
import program

MAIL = b"Subject: one\r\n\r\n.one\r\n"


class Office(unittest.TestCase):
    def setUp(self):
        self.office = post_office.PostOffice()
        self.authority = authority.Authority(Path(mkdtemp(dir=program.WORK)), "roots")
        self.other = authority.Authority(Path(mkdtemp(dir=program.WORK)), "others")
        self.port = self.enterContext(post_office.opened(self.office, self.authority.server()))

    def client(self):
        return self.enterContext(smtplib.SMTP("localhost", self.port, timeout=60))

    def over_tls(self, roots):
        client = self.client()
        client.starttls(context=ssl.create_default_context(cafile=roots))
        return client

    def test_a_mail_over_tls_with_the_password_is_taken_as_it_is(self):
        client = self.over_tls(self.authority.roots)
        client.login(post_office.USER, post_office.PASSWORD)
        client.sendmail("a@crew.example", ["b@crew.example"], MAIL)
        (mail,) = self.office.wait_for("b@crew.example")
        self.assertEqual((mail.sender, mail.octets, mail.over_tls, mail.logged_in), ("a@crew.example", MAIL, True, True))

    def test_nothing_is_taken_without_tls_or_the_password(self):
        with self.assertRaises(smtplib.SMTPException):
            self.client().sendmail("a@crew.example", ["b@crew.example"], MAIL)
        with self.assertRaises(smtplib.SMTPException):
            self.over_tls(self.authority.roots).sendmail("a@crew.example", ["b@crew.example"], MAIL)
        with self.assertRaises(smtplib.SMTPAuthenticationError):
            self.over_tls(self.authority.roots).login(post_office.USER, "a guess")
        self.assertEqual(self.office.mails, [])
        self.assertGreater(self.office.refused_logins, 0)

    def test_its_certificate_is_trusted_by_its_own_roots_alone(self):
        with self.assertRaises(ssl.SSLCertVerificationError):
            self.over_tls(self.other.roots)
