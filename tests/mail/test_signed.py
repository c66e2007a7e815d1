"""Signatures by DKIM, verified by dkimpy with the public key that a name server would give.

Sources: RFC 6376 (DKIM); RFC 8058, 4 (the fields for unsubscribing are signed).
"""

import datetime
import os
import unittest
import unittest.mock

import authority
import dkim
import letter
import program
import story

GUS = "gus@crew.example"
NAME = b"mail._domainkey.sailing.example."
SIGNED_BY = datetime.datetime.fromisoformat(program.NEXT_DAY).timestamp()
CHANGES = {
    b"\r\nSubject: ": b"\r\nSubject: x",
    b"List-Unsubscribe=One-Click": b"List-Unsubscribe=Two",
    b"<html": b"<htm",
}


class Signed(unittest.TestCase):
    def setUp(self):
        self.story = story.Story()
        self.addCleanup(self.story.opened.close)

    def signed_by(self, kind):
        """The mails that one subscriber gets, signed with a key of this kind."""
        place = self.story.place
        self.key = authority.SigningKey(place.folder, kind)
        place.mail.update(dkim_domain="sailing.example", dkim_selector="mail", dkim_key=str(self.key.file))
        ended = place.round(program.MORNING)
        if ended.returncode == 2 and "feature" in ended.stderr:
            if os.environ.get("CRINGLE_NOTHING_SKIPPED") == "1":
                self.fail("the program was built without the feature dkim")
            self.skipTest("the program was built without the feature dkim")
        with place.serving(program.MORNING) as pages:
            self.story.subscribe(pages, by_api=[GUS])
        place.sends(program.AFTER_HOUR)
        return [mail.octets for mail in self.story.office.wait_for(GUS, 2)]

    def verified(self, octets):
        asked = []

        def answer(name, timeout=5):
            asked.append(name)
            return self.key.record if name == NAME else None

        # The program's clock stands in 2030, and a signature of the future is none.
        with unittest.mock.patch.object(dkim.time, "time", lambda: SIGNED_BY):
            sound = dkim.verify(octets, dnsfunc=answer)
        self.assertEqual(set(asked), {NAME})
        return sound

    def test_signatures_by_rsa_verify_and_those_of_changed_mails_do_not(self):
        self.signatures_hold("rsa")

    def test_signatures_by_ed25519_verify_and_those_of_changed_mails_do_not(self):
        # Source: RFC 8463.
        self.signatures_hold("ed25519")

    def signatures_hold(self, kind):
        confirmation, digest = self.signed_by(kind)
        self.assertTrue(self.verified(confirmation))
        self.assertTrue(self.verified(digest))
        for before, after in CHANGES.items():
            with self.subTest(before=before):
                self.assertIn(before, digest)
                self.assertFalse(self.verified(digest.replace(before, after)))
        self.what_counts_is_signed(digest, kind)

    def what_counts_is_signed(self, digest, kind):
        signature = letter.Letter(digest)["DKIM-Signature"]
        fields = dict(part.strip().split("=", 1) for part in signature.split(";") if part.strip())
        signed = {name.strip().lower() for name in fields["h"].split(":")}
        needed = {"from", "to", "subject", "date", "message-id", "mime-version", "content-type"}
        self.assertLessEqual(needed | {"list-unsubscribe", "list-unsubscribe-post"}, signed)
        self.assertEqual((fields["d"], fields["s"], fields["a"]), ("sailing.example", "mail", f"{kind}-sha256"))
