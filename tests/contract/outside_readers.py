"""Reads what the service answers with libraries of others: CoverageJSON with covjson-pydantic, the metrics with prometheus_client's
OpenMetrics parser, the calendar with icalendar, the feed with feedparser.

Argument: the service's address; DECIDE_TOKEN in the environment: a token that may keep decisions. Fails where any cannot read it.
"""

import json
import os
import sys
import urllib.request

import feedparser
from icalendar import Calendar
from covjson_pydantic.coverage import CoverageCollection
from prometheus_client.openmetrics.parser import text_string_to_metric_families


def read(address, **headers):
    with urllib.request.urlopen(urllib.request.Request(address, headers=headers)) as answer:
        return answer.headers["content-type"], answer.read().decode()


def decide(service, session):
    body = json.dumps({"session": session, "decided": "off", "by": "A. B.", "note": "no instructor"}).encode()
    headers = {"Authorization": f"Bearer {os.environ['DECIDE_TOKEN']}", "Content-Type": "application/json"}
    with urllib.request.urlopen(urllib.request.Request(f"{service}/v1/clubs/vanterholm/decisions", body, headers)) as answer:
        assert answer.status == 201, answer.status


def events(service):
    kind, text = read(f"{service}/v1/clubs/vanterholm/calendar.ics")
    assert kind == "text/calendar; charset=utf-8", kind
    calendar = Calendar.from_ical(text)
    assert not calendar.errors and all(not part.errors for part in calendar.walk()), "an error in the calendar"
    found = {str(event["uid"]): event for event in calendar.walk("VEVENT")}
    assert len(found) == len(calendar.walk("VEVENT")) > 0, "each UID once"
    for event in found.values():
        assert event["dtstart"].dt < event["dtend"].dt and event["dtstamp"].dt.tzinfo is not None
        assert int(event["sequence"]) >= 0 and "issued" in event["summary"]
    return found


def calendar(service):
    before = events(service)
    uid = max(before, key=lambda uid: before[uid]["dtstart"].dt)
    decide(service, uid.removesuffix("@vanterholm"))
    after = events(service)
    assert set(after) == set(before), "UIDs stay"
    assert int(after[uid]["sequence"]) > int(before[uid]["sequence"]), "a decision raises the sequence"
    assert str(after[uid]["summary"]).startswith("Off, the club decided"), after[uid]["summary"]
    assert after[uid]["status"] == "CANCELLED"
    print(f"{len(after)} events of a calendar")


def feed(service):
    kind, text = read(f"{service}/v1/clubs/vanterholm/advisories.atom")
    assert kind == "application/atom+xml", kind
    parsed = feedparser.parse(text.encode(), response_headers={"content-type": kind})
    assert not parsed.bozo, parsed.bozo_exception
    assert parsed.version == "atom10" and parsed.feed.id and parsed.feed.updated_parsed and parsed.feed.author
    assert len({entry.id for entry in parsed.entries}) == len(parsed.entries) > 0
    for entry in parsed.entries:
        assert entry.title and entry.updated_parsed and entry.summary and "skipper" in entry.content[0].value, entry
        assert "issued" in entry.title and entry.link.startswith(service), entry.link
    print(f"{len(parsed.entries)} entries of a feed")


def main():
    service = sys.argv[1].rstrip("/")
    kind, text = read(f"{service}/v1/clubs/vanterholm/conditions", Accept="application/prs.coverage+json")
    assert kind == "application/prs.coverage+json", kind
    collection = CoverageCollection.model_validate_json(text)
    series = [one.ranges["wind-u"] for one in collection.coverages if "wind-u" in one.ranges]
    assert len(series) >= 31, "a series for each member of the ensemble"
    assert all(one.values and len(one.values) == one.shape[0] for one in series)
    print(f"{len(collection.coverages)} coverages with {len(collection.parameters.root)} parameters")

    kind, text = read(f"{service}/metrics")
    assert kind.startswith("application/openmetrics-text"), kind
    families = {family.name: family for family in text_string_to_metric_families(text)}
    answered = sum(sample.value for sample in families["cringle_requests"].samples if sample.name.endswith("_total"))
    assert answered > 0 and families["cringle_newest_run_age_seconds"].unit == "seconds"
    print(f"{len(families)} families of metrics, {answered:.0f} requests answered")

    calendar(service)
    feed(service)


if __name__ == "__main__":
    main()
