"""What all tests look at: two people subscribe, confirm, and get the club's mail of the day, by the serving program alone.

Owns: the order of events. Must not know: what a mail must be.
"""

import contextlib
import functools
import json
from pathlib import Path
from tempfile import mkdtemp

import authority
import letter
import post_office
import program

# By the API with choices, and by the page's form without scripts. One address has what an address may have.
ANNA, BEN = "Anna.Keel+mail@crew.example", "ben@crew.example"


class Story:
    def __init__(self):
        self.opened = contextlib.ExitStack()
        self.office = post_office.PostOffice()
        self.authority = authority.Authority(Path(mkdtemp(dir=program.WORK)), "roots")
        self.port = self.opened.enter_context(post_office.opened(self.office, self.authority.server()))
        self.place = program.Place(self.port, self.authority.roots)
        self.answers = {}

    def letters(self, somebody, count):
        return [letter.Letter(mail.octets) for mail in self.office.wait_for(somebody, count)]

    def subscribe(self, pages, by_api=(), by_form=(), **choices):
        """Each is known once they have confirmed by the link in their mail; and there is something to tell them."""
        self.place.has_advised()
        for somebody in by_api:
            body = json.dumps({"address": somebody, **choices}).encode()
            self.answers[somebody] = pages.ask(
                f"/v1/clubs/{program.CLUB}/subscriptions", body, Content_Type="application/json"
            )
        for somebody in by_form:
            self.answers[somebody] = pages.submit("/subscribe", address=somebody)
        for somebody in (*by_api, *by_form):
            self.confirm(pages, self.letters(somebody, 1)[0])

    def confirm(self, pages, mail):
        (link,) = {path for path in mail.links(program.PUBLIC) if path.startswith("/confirm/")}
        status, _ = pages.submit(link)
        assert status == 200, f"a link of a mail to confirm is answered {status}"


@functools.cache
def two_subscribers():
    """Both have got a mail to confirm by, and the day's mail."""
    story = Story()
    with story.place.serving(program.MORNING) as pages:
        story.subscribe(pages, by_api=[ANNA], by_form=[BEN])
    with story.place.serving(program.BEFORE_HOUR):
        story.letters(ANNA, 2)
        story.letters(BEN, 2)
    story.first_mails = list(story.office.mails)
    return story
