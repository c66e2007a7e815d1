"""One click ends it, and the address is gone.

Sources: RFC 8058, 3.1 and 3.2 (a POST with one field, without cookies, as a form or its multipart twin; a GET does nothing).
"""

import sqlite3
import unittest

import program
import story

CARL, DORA, EMMA = "carl@crew.example", "dora@crew.example", "emma@crew.example"
ONE_CLICK = b"List-Unsubscribe=One-Click"
MULTIPART = b'--b\r\nContent-Disposition: form-data; name="List-Unsubscribe"\r\n\r\nOne-Click\r\n--b--\r\n'


class Unsubscribed(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.story = story.Story()
        cls.addClassCleanup(cls.story.opened.close)
        with cls.story.place.serving(program.MORNING) as pages:
            cls.story.subscribe(pages, by_form=[CARL, DORA, EMMA])
        cls.story.place.sends(program.AFTER_HOUR)
        cls.links = {one: cls.story.letters(one, 2)[1].unsubscribing() for one in (CARL, DORA, EMMA)}

    def test_one_click_ends_it_for_good(self):
        office, place = self.story.office, self.story.place
        with place.serving(program.AFTER_HOUR) as pages:
            for link in self.links.values():
                status, text = pages.ask(link)
                self.assertEqual(status, 200)
                self.assertIn('method="post"', text.lower(), "the page asks")
            form = {"Content_Type": "application/x-www-form-urlencoded"}
            self.assertLess(pages.ask(self.links[CARL], ONE_CLICK, **form)[0], 300)
            multipart = {"Content_Type": "multipart/form-data; boundary=b"}
            self.assertLess(pages.ask(self.links[DORA], MULTIPART, **multipart)[0], 300)
            with self.subTest("once more, as hosts do"):
                self.assertLess(pages.ask(self.links[CARL], ONE_CLICK, **form)[0], 500)
        place.sends(program.NEXT_DAY)
        self.assertEqual(len(office.wait_for(EMMA, 3)), 3, "who only looked at the page is told on")
        self.assertEqual((len(office.to(CARL)), len(office.to(DORA))), (2, 2))
        self.no_octet_is_left(CARL.encode(), DORA.encode())

    def no_octet_is_left(self, *addresses):
        """The program has ended: what lies in its folder is all there is."""
        files = [file for file in self.story.place.folder.iterdir() if file.name.startswith("store")]
        octets = b"".join(file.read_bytes() for file in files).lower()
        self.assertIn(EMMA.encode(), octets, "it is looked for where addresses are kept")
        for address in addresses:
            self.assertNotIn(address, octets)
        with sqlite3.connect(self.story.place.store) as store:
            text = "\n".join(store.iterdump())
        self.assertIn(EMMA, text)
        self.assertNotIn(CARL, text)
