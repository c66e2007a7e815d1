"""Fetches an advisory by the client that was generated from the served OpenAPI document (package `client` on the path).

Argument: the service's address. Fails where the generated types do not fit what is answered.
"""

import importlib
import pkgutil
import sys

import client.api
from client import Client


def operation(name):
    """The module of an operation by its id."""
    for module in pkgutil.walk_packages(client.api.__path__, "client.api."):
        if module.name.rsplit(".", 1)[-1] == name:
            return importlib.import_module(module.name)
    raise SystemExit(f"the document has no operation {name}")


def main():
    service = Client(base_url=sys.argv[1].rstrip("/"), raise_on_unexpected_status=True)
    clubs = operation("list_clubs").sync(client=service)
    club = clubs.clubs[0].slug
    sessions = operation("list_sessions").sync(club, client=service)
    session = sessions.sessions[0].id
    advisory = operation("get_advisory").sync(club, session, client=service)
    assert advisory.session.id == session, advisory.session.id
    assert advisory.call is not None and advisory.valid_until > advisory.issued_at
    assert advisory.limits and advisory.reef_table
    print(f"{club}: {session}: {advisory.call}, valid until {advisory.valid_until.isoformat()}")


if __name__ == "__main__":
    main()
