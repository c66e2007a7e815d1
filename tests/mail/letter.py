"""A mail as its reader's program reads it, and what every mail must be.

Owns: reading a mail and what is wrong with it. Must not know: where it came from.
Sources: RFC 5322 (form, fields), RFC 2045 to 2047 (MIME), RFC 2387 (related), RFC 2392 (cid), RFC 8058 and RFC 2369 (unsubscribing),
RFC 3834 (automatic mails); Python's email package for reading.
"""

import base64
import email
import email.policy
import html.parser
import re

PNG = b"\x89PNG\r\n\x1a\n"
ONCE = ("Date", "From", "To", "Message-ID", "Subject", "MIME-Version")
# What a mail program would fetch by itself, or run.
FETCHING = {"src", "background", "poster", "data", "srcset", "action", "formaction", "ping"}
FORBIDDEN = {"script", "style", "link", "iframe", "object", "embed", "form", "base", "svg", "video", "audio"}


class Letter:
    """One mail, parsed."""

    def __init__(self, octets):
        self.octets = octets
        self.message = email.message_from_bytes(octets, policy=email.policy.default)

    def __getitem__(self, field):
        return str(self.message[field])

    @property
    def text(self):
        return self.message.get_body(("plain",)).get_content()

    @property
    def html(self):
        return self.message.get_body(("html",)).get_content()

    @property
    def pictures(self):
        """PNGs by Content-ID, without its brackets."""
        parts = [part for part in self.message.walk() if part.get_content_type() == "image/png"]
        return {str(part["Content-ID"]).strip("<>"): part.get_content() for part in parts}

    def shown(self):
        """The HTML with its pictures in it, for a browser."""
        html = self.html
        for name, png in self.pictures.items():
            html = html.replace(f"cid:{name}", "data:image/png;base64," + base64.b64encode(png).decode())
        return html

    def links(self, public):
        """Where its HTML leads at this address, the path alone."""
        found = re.findall(r'href="' + re.escape(public) + r'([^"]*)"', self.html)
        return [path.replace("&amp;", "&") for path in found]

    def unsubscribing(self):
        """The address of RFC 8058."""
        return self["List-Unsubscribe"].strip("<>")


class Html(html.parser.HTMLParser):
    """What stands in an HTML."""

    def __init__(self, text):
        super().__init__()
        self.cids, self.wrong, self.pictures = [], [], 0
        self.language = None
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        if tag in FORBIDDEN:
            self.wrong.append(f"<{tag}>")
        if tag == "html":
            self.language = dict(attributes).get("lang")
        if tag == "img":
            self.pictures += 1
            if "alt" not in dict(attributes):
                self.wrong.append("a picture without alt")
        for name, value in attributes:
            value = value or ""
            if name in FETCHING and value.startswith("cid:"):
                self.cids.append(value[4:])
            elif name in FETCHING or name.startswith("on") or name == "class":
                self.wrong.append(f"{tag} {name}={value}")
            elif name == "style" and re.search(r"url\s*\(|@import|expression|position", value, re.I):
                self.wrong.append(f"{tag} style={value}")
            elif name == "href" and not value.startswith("https://"):
                self.wrong.append(f"{tag} href={value}")


def words_of(html):
    """The words of an HTML, without its tags."""
    return re.sub(r"<[^>]*>", " ", html)


def faults(letter, unsubscribes):
    """Everything that is wrong with a mail, in words."""
    return [*faults_of_octets(letter), *faults_of_head(letter, unsubscribes), *faults_of_parts(letter)]


def faults_of_octets(letter):
    lines = letter.octets.split(b"\r\n")
    if any(b"\n" in line or b"\r" in line for line in lines):
        yield "a line ends with CR or LF alone (RFC 5322, 2.3)"
    if (longest := max(map(len, lines))) > 998:
        yield f"a line of {longest} octets (RFC 5322, 2.1.1)"
    if any(octet > 127 for octet in letter.octets.split(b"\r\n\r\n")[0]):
        yield "the head is not ASCII (RFC 5322, 2.2)"
    for part in letter.message.walk():
        yield from (f"{part.get_content_type()}: {defect!r}" for defect in part.defects)
        for name, value in part.items():
            yield from (f"{name}: {defect!r}" for defect in value.defects)


def faults_of_head(letter, unsubscribes):
    message = letter.message
    for name in ONCE:
        if len(message.get_all(name, [])) != 1:
            yield f"{name} is not there once (RFC 5322, 3.6)"
    if not re.fullmatch(r"<[A-Za-z0-9._+$=/-]+@[A-Za-z0-9.-]+>", letter["Message-ID"]):
        yield f"Message-ID {letter['Message-ID']} (RFC 5322, 3.6.4)"
    date = getattr(message["Date"], "datetime", None)
    if date is None or date.tzinfo is None:
        yield "Date is none (RFC 5322, 3.3)"
    if letter["Auto-Submitted"] != "auto-generated":
        yield "Auto-Submitted (RFC 3834, 5)"
    if unsubscribes:
        if not re.fullmatch(r"<https://[^<>, ]+>", letter["List-Unsubscribe"]):
            yield f"List-Unsubscribe {letter['List-Unsubscribe']} (RFC 8058, 3.1)"
        if letter["List-Unsubscribe-Post"] != "List-Unsubscribe=One-Click":
            yield "List-Unsubscribe-Post (RFC 8058, 3.1)"


def faults_of_parts(letter):
    root = letter.message
    if root.get_content_type() != "multipart/alternative":
        yield f"it is {root.get_content_type()}"
        return
    # RFC 2046, 5.1.4: the plainest first.
    plain, rich = root.iter_parts()
    if plain.get_content_type() != "text/plain" or plain.get_content_charset() not in ("utf-8", "us-ascii"):
        yield "the first alternative is no plain text"
    if letter.pictures:
        if rich.get_content_type() != "multipart/related":
            yield f"the second alternative is {rich.get_content_type()} (RFC 2387)"
        if rich.get_param("type") != "text/html":
            yield "the related parts do not say the type of their first (RFC 2387, 3.1)"
        first = next(rich.iter_parts())
    else:
        first = rich
    if first.get_content_type() != "text/html" or first.get_content_charset() != "utf-8":
        yield "the second alternative has no HTML first"
    html = Html(letter.html)
    yield from (f"HTML: {wrong}" for wrong in html.wrong)
    if html.language != "en":
        yield "the HTML does not say its language (WCAG 2.2, 3.1.1)"
    if set(html.cids) != set(letter.pictures):
        yield f"pictures {sorted(letter.pictures)}, referred to {sorted(set(html.cids))} (RFC 2392)"
    if html.pictures != len(html.cids):
        yield "a picture is not a part of the mail"
    for name, png in letter.pictures.items():
        if not png.startswith(PNG):
            yield f"{name} is no PNG"
        if not re.fullmatch(r"[^@<> ]+@[^@<> ]+", name):
            yield f"Content-ID {name} (RFC 2392: an addr-spec)"
    text = letter.text
    if (longest := max((len(line) for line in text.splitlines() if "://" not in line), default=0)) > 78:
        yield f"the text has a line of {longest} characters (RFC 5322, 2.1.1)"
