"""Which pages there are: one line each. A new page is a new line here and is then looked at by every test.

`{go}`, `{marginal}`, `{no-go}` and `{no-call}` stand for the demo's first session of that call, `{day}`
for the first day with sessions, `{series}` for the first session as the club file names it.
"""

PAGES = {
    "board": "/",
    "session, go": "/sessions/{go}",
    "session, marginal": "/sessions/{marginal}",
    "session, no-go": "/sessions/{no-go}",
    "session, no call": "/sessions/{no-call}",
    "openings": "/openings",
    "openings, of a session": "/openings?session={series}",
    "openings, asked wrongly": "/openings?length=900",
    "sheet": "/sheet",
    "how we decide": "/how-we-decide",
    "about the data": "/about-the-data",
    "decide": "/decide/{go}",
    "card": "/embed/sessions/{go}",
    "card of the next": "/embed/next",
    "api": "/docs",
    "nothing there": "/sessions/nobody",
}

# Those of a service that sends mail; `test_mail` looks at the pages of links.
WITH_MAIL = {
    "subscribe": "/subscribe",
    "confirm, too old": "/confirm/none",
}
