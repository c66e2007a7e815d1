"""Reads what the service answers with libraries of others: CoverageJSON with covjson-pydantic, the metrics with prometheus_client's
OpenMetrics parser.

Argument: the service's address. Fails where either cannot read it.
"""

import sys
import urllib.request

from covjson_pydantic.coverage import CoverageCollection
from prometheus_client.openmetrics.parser import text_string_to_metric_families


def read(address, **headers):
    with urllib.request.urlopen(urllib.request.Request(address, headers=headers)) as answer:
        return answer.headers["content-type"], answer.read().decode()


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


if __name__ == "__main__":
    main()
