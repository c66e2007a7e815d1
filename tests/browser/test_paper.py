"""The pages on paper, counted by a PDF reader of others (pypdf)."""

import collections
import io

import pypdf
import scene

A4_POINTS = (210 / 25.4 * 72, 297 / 25.4 * 72)


class Paper(scene.InBrowser):
    def printed(self, path):
        self.open(path)
        read = pypdf.PdfReader(io.BytesIO(self.browser.printed()))
        for page in read.pages:
            for found, wanted in zip(page.mediabox[2:], A4_POINTS):
                self.assertAlmostEqual(float(found), wanted, delta=1.5)
        return [" ".join(page.extract_text().split()) for page in read.pages]

    def test_session_and_board_print_whole(self):
        for path in ("/", "/sessions/{go}", "/sessions/{no-call}"):
            with self.subTest(path=path):
                sheets = self.printed(path)
                for said in ("The skipper on the water decides", "Official warnings were not checked", "pontoon C"):
                    self.assertIn(said, sheets[-1], "the foot is whole and comes last")
                for text in sheets:
                    self.assertGreater(len(text), 200, "no sheet is all but empty")
                self.assertEqual(self.cut_off(), [], "nothing sticks out of the paper")

    def test_each_day_is_one_sheet_of_a4(self):
        days = collections.Counter(session["leaves"][:10] for session in self.service.sessions())
        self.assertEqual(set(days.values()), {1, 2, 3}, "days of one, two and three sessions are printed")
        for day, sessions in days.items():
            with self.subTest(day=day, sessions=sessions):
                sheets = self.printed(f"/sheet/{day}")
                self.assertEqual(len(sheets), 1)
                self.assertIn("Official warnings were not checked", sheets[0])

    def cut_off(self):
        """What is wider than A4 less margins of 1 cm, when laid out for paper."""
        self.browser.wide(718)
        self.browser.media(medium="print")
        return self.browser.execute_script(
            "return [...document.body.querySelectorAll('*')].filter(one => one.getBoundingClientRect().right > innerWidth + 1)"
            ".map(one => one.outerHTML.slice(0, 100))"
        )
