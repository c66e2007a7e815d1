"""A decision after the club's hour is told at once, to whom wants it; and the mails as files, before anybody is sent any.

Sources: beside the checks in letter.py; the words by the project's own rules.
"""

import unittest

import letter
import program
import story
import test_rendered

IDA, JON = "ida@crew.example", "jon@crew.example"
# The club's hour is 16:20 by its clocks, 15:20 UTC; the runs serve until 16:00 UTC.
DECIDED = "2030-05-13T15:40:00Z"
TOLD = "2030-05-13T15:41:00Z"


class Change(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.story = story.Story()
        cls.addClassCleanup(cls.story.opened.close)
        cls.place = cls.story.place
        cls.place.edit('decides_at = "18:00"', 'decides_at = "16:20"')
        with cls.place.serving(program.MORNING) as pages:
            cls.story.subscribe(pages, by_api=[IDA])
            cls.story.subscribe(pages, by_api=[JON], changes=False)
        cls.place.sends(program.AFTER_HOUR)
        decided = cls.place.run(DECIDED, "decide", "tuesday-crew@2030-05-14", "off", "--by", "the principal", "--note", "no second skipper")
        assert decided.returncode == 0, decided.stderr[-2000:]
        cls.place.sends(TOLD)
        cls.change = cls.story.letters(IDA, 3)[2]

    def test_it_is_told_once_and_to_whom_wants_it(self):
        self.place.sends(TOLD)
        self.assertEqual((len(self.story.office.to(IDA)), len(self.story.office.to(JON))), (3, 2))

    def test_it_is_without_fault(self):
        self.assertEqual(letter.faults(self.change, True), [])

    def test_it_says_what_it_was_what_it_is_and_who_decided(self):
        self.assertRegex(self.change["Subject"], "^Changed: Tue 14 May 13:30, Crew: club decided off; call marginal$")
        for part in (self.change.text, letter.words_of(self.change.html)):
            words = " ".join(part.split())
            for needed in ("the principal", "no second skipper", "Off", "marginal"):
                self.assertIn(needed.lower(), words.lower())

    def test_it_holds_at_both_widths(self):
        test_rendered.look(self, "change", self.change)


class Files(unittest.TestCase):
    def test_without_settings_a_mail_is_written_for_somebody_who_takes_everything(self):
        place = program.Place(1, None)
        place.mail, place.password = {}, None
        folder = place.folder / "mails"
        written = place.run(program.MORNING, "digest", "--dry-run", folder)
        self.assertEqual(written.returncode, 0, written.stderr[-2000:])
        (file,) = folder.iterdir()
        mail = letter.Letter(file.read_bytes())
        self.assertEqual(letter.faults(mail, True), [])
        self.assertTrue(file.name.endswith(".eml"))
