"""What is asked of a mail finds what is wrong with one: a sound mail made by Python's email, then damaged piece by piece."""

import email.message
import email.policy
import unittest

import letter

# Of lines so short that they are not encoded: damages find their place.
HTML = """<html lang="en"><body>
<img src="cid:chart@sailing.example" alt="Wind">
<a href="https://sailing.example/">Pages</a>
</body></html>
"""


def sound():
    message = email.message.EmailMessage(policy=email.policy.SMTP)
    message["Date"] = "Mon, 13 May 2030 15:10:00 +0000"
    message["From"] = "Club <digest@sailing.example>"
    message["To"] = "crew@crew.example"
    message["Message-ID"] = "<one.two@sailing.example>"
    message["Subject"] = "Tue 14 May 09:00: go"
    message["Auto-Submitted"] = "auto-generated"
    message["List-Unsubscribe"] = "<https://sailing.example/unsubscribe/x>"
    message["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    message.set_content("Go.\r\n")
    message.add_alternative(HTML, subtype="html")
    message.get_payload()[1].add_related(letter.PNG + b"rest", "image", "png", cid="<chart@sailing.example>")
    message.get_payload()[1].set_param("type", "text/html")
    message.set_boundary("whole")
    return message.as_bytes()


DAMAGES = {
    "a bare line feed": (b"Go.\r\n", b"Go.\n", "RFC 5322, 2.3"),
    "a long line": (b"Go.\r\n", b"x" * 999 + b"\r\n", "RFC 5322, 2.1.1"),
    "a long line of text": (b"Go.\r\n", b"x" * 79 + b"\r\n", "79 characters"),
    "eight bits in the head": (b"Subject: Tue", "Subject: Tüe".encode(), "RFC 5322, 2.2"),
    "two senders": (b"From: ", b"From: a@b.example\r\nFrom: ", "From is not there once"),
    "no date": (b"Date: Mon", b"X-Date: Mon", "Date is not there once"),
    "a Message-ID without its brackets": (b"<one.two@sailing.example>", b"one.two@sailing.example", "RFC 5322, 3.6.4"),
    "a mail that says nothing of being automatic": (b"Auto-Submitted", b"X-Auto", "RFC 3834"),
    "unsubscribing by http": (b"<https://sailing.example/un", b"<http://sailing.example/un", "RFC 8058"),
    "unsubscribing without one click": (b"List-Unsubscribe=One", b"One", "RFC 8058"),
    "mixed parts": (b"multipart/alternative", b"multipart/mixed", "it is multipart/mixed"),
    "related parts without a type": (b' type="text/html";', b"", "RFC 2387, 3.1"),
    "a part that is never ended": (b"--whole--", b"", "Defect"),
    "a remote picture": (b"cid:chart@sailing.example", b"https://sailing.example/1.png", "img src"),
    "a picture of another name": (b"cid:chart", b"cid:other", "RFC 2392"),
    "a picture without words": (b' alt="Wind"', b"", "without alt"),
    "a script": (b"<body>", b"<body><script>", "<script>"),
    "a class": (b"<body>", b'<body class="x">', "class"),
    "a remote ground": (b"<body>", b'<body style="background: URL(x)">', "style"),
    "a link by http": (b'href="https', b'href="http', "href"),
    "no language": (b' lang="en"', b"", "language"),
}


class AsksEnough(unittest.TestCase):
    def test_a_sound_mail_has_no_fault(self):
        self.assertEqual(letter.faults(letter.Letter(sound()), True), [])

    def test_every_damage_is_found(self):
        for name, (sound_octets, damaged, word) in DAMAGES.items():
            with self.subTest(damage=name):
                octets = sound()
                self.assertIn(sound_octets, octets)
                damaged_letter = letter.Letter(octets.replace(sound_octets, damaged))
                self.assertIn(word, "\n".join(letter.faults(damaged_letter, True)))
