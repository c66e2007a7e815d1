"""The README's table out of what tests/bench/report wrote: what was found, what was asked for, and against what.

    python3 tests/bench/summary.py target/benchmarks.md           prints it
    python3 tests/bench/summary.py target/benchmarks.md --write   puts it and the whole report where readers look, between the marks there
"""

import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]


class Report:
    """The rows of the tables under each heading, as cells."""

    def __init__(self, text):
        self.sections = {}
        for section in re.split(r"^## ", text, flags=re.MULTILINE)[1:]:
            heading, *lines = section.splitlines()
            self.sections[heading] = [
                [cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("|")
            ]

    def rows(self, heading, *cells):
        """The rows of the table under the heading that begins so, which have these cells first; at least one."""
        tables = next((rows for name, rows in self.sections.items() if name.startswith(heading)), [])
        # A cell that is None may be any.
        alike = lambda row: len(row) > len(cells) and all(want in (None, cell) for want, cell in zip(cells, row))
        found = [row for row in tables if alike(row)]
        return found or sys.exit(f"no row {cells} under {heading!r}: the report and summary.py do not fit")


def growth(first, last, unit, share):
    return f"{last[share]} ({first[unit]} to {last[unit]})"


def put(path, text):
    """Text between the marks of a file."""
    begins, ends = "<!-- figures of tests/bench/report -->\n", "<!-- end of figures -->\n"
    before, rest = path.read_text().split(begins)
    path.write_text(f"{before}{begins}{text.strip()}\n{ends}{rest.split(ends)[1]}")


def summary(report):
    field = lambda places, column, *packings: "; ".join(
        report.rows("Values at places", packing, places)[0][column] for packing in packings
    )
    run = lambda name, column: report.rows("Values at 100 places out of ensemble", name, None, "cfgrib + xarray")[0][column]
    ours = lambda name, column: report.rows("Values at 100 places out of ensemble", name, None, "ours")[0][column]
    two = report.rows("Values at 100 places out of ensemble", None, None, "two of ours at once")
    grown = {what: report.rows("Growth", what) for what in ("places", "members", "steps")}
    clubs = [row for row in report.rows("An advisory", None, None, None) if row[0].isdigit()]
    made = report.rows("An advisory", "made from values in memory")[0]
    rules = report.rows("The rules", "members as wide as the floor")[0]
    load = {side: report.rows("The API", side)[0] for side in ("cached advisory", "304")}
    mails = report.rows("Mailings", "2000")[0]
    table = [
        ("100 places in a region out of one field: 5.0; 5.3; 5.42; 5.40",
         field("100 region", 7, "5.0", "5.3", "5.42", "5.40"), "100; 20; 20; 2", "times faster than ecCodes in C, which decodes the field"),
        ("10,000 places worldwide: 5.3; 5.42", field("10,000 world", 7, "5.3", "5.42"), "5; 2", "the same"),
        ("the same, the places found anew in each field", field("10,000 world", 8, "5.3", "5.42"), "", "the same, which knows them beforehand"),
        ("GEFS-like run at 100 places: processor; memory", f"{run('GEFS-like, 5.3', 6)}; {run('GEFS-like, 5.3', 7)}", "50; 10",
         "times less than cfgrib with xarray"),
        ("ENS-like run: processor; memory", f"{run('ENS-like, 5.42', 6)}; {run('ENS-like, 5.42', 7)}", "", "the same"),
        ("peak memory of the two, MB", f"{ours('GEFS-like, 5.3', 5)}; {ours('ENS-like, 5.42', 5)}", "", ""),
        ("two such runs at once on two cores: 5.3; 5.42", "; ".join(re.search(r"as fast as (.*) of one", row[6]).group(1) for row in two), "",
         "as fast as one"),
        ("growth: processor time a place; a member; a step, of the most", "; ".join(growth(rows[0], rows[-1], at, 7) for rows, at in zip(grown.values(), (1, 2, 3))),
         "1 is linear", "that of the fewest"),
        ("growth: time a club that is advised, of the most", growth(clubs[0], clubs[-1], 0, 3), "1 is linear", "the same"),
        ("a venue, boat and level over ten days, 51 members, ms", rules[1], "under 1", "one core"),
        ("an advisory with 51 members made, ms", f"{made[1]}; 99th of a hundred {made[2]}", "", "one core"),
        ("cached advisory; 304: requests a second", "; ".join(row[2] for row in load.values()), "0.70; 0.80", "of a bare handler's, the same bytes"),
        ("the same: 99th of a hundred times", "; ".join(row[4] for row in load.values()), "2; 2", "times the bare handler's"),
        ("2,000 mails with 210 charts, s", mails[4], "60", ""),
    ]
    heads = ["| what | found, median (range) | asked for | against |", "|---|---|---|---|"]
    return "\n".join(heads + [f"| {' | '.join(row)} |" for row in table])


def main():
    text = pathlib.Path(sys.argv[1]).read_text()
    title = text.splitlines()[0].removeprefix("# Benchmarks, ")
    machine = next(line for line in text.splitlines() if " cores, load " in line).split(";")[0]
    short = f"{title}; {machine}.\n\n{summary(Report(text))}"
    print(short)
    if sys.argv[2:] == ["--write"]:
        put(ROOT / "README.md", short)
        put(ROOT / "tests/bench/README.md", text.split("\n", 1)[1].replace("\n## ", "\n### "))


if __name__ == "__main__":
    main()
