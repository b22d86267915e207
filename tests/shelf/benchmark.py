"""Time the shelf with many jobs: ``python tests/shelf/benchmark.py [JOBS] [FOLDER]``.

Makes small synthetic records in a folder (a temporary one, unless it is named), builds the index, lists, and
searches. The times are of the library's calls, without the start of Python.
"""

import json
import random
import sys
import tempfile
import time
from pathlib import Path

from hubsight.shelf import Shelf, parse_query

RECORD = Path(__file__).parents[1] / "record" / "data" / "record-v1.json"
SEED = 5
SEARCHES = ("", "d about 44, six bosses", "offset 2 to 2.4 two crosses", "customer 17", "nothing like it")


def make_jobs(folder: Path, jobs: int) -> None:
    """Write records of made-up hubs, a hundred to a folder, as small as records can be."""
    draw = random.Random(SEED)
    raw = json.loads(RECORD.read_bytes())
    for side in raw["measurement"]["sides"]:
        side["measurement"]["photos"] = []
        side["caliper_checks"] = []
    for number in range(jobs):
        for side in raw["measurement"]["sides"]:
            figures = side["measurement"]["figures"]
            figures["flange_diameter"]["value"] = round(draw.uniform(30, 60), 3)
            figures["spoke_offset"]["value"] = round(draw.uniform(1, 4), 3)
            side["measurement"]["boss_count"] = draw.choice((5, 6, 7, 8))
            side["measurement"]["crosses"] = draw.choice((1, 2, 3))
        raw["label"] = {"hub": f"model {number % 200}", "customer": f"customer {number % 1000}"}
        raw["job"] = f"job-{number}"
        job = folder / f"shelf-{number // 100}" / raw["job"]
        job.mkdir(parents=True)
        (job / "record.json").write_text(json.dumps(raw))


def timed(action) -> float:
    begin = time.perf_counter()
    action()
    return time.perf_counter() - begin


def measure(folder: Path) -> dict[str, float]:
    """Times in s of building the index and, with it there, of opening, refreshing and searching."""

    def build() -> None:
        with Shelf(folder, rebuild=True) as shelf:
            shelf.refresh()

    def search(text: str) -> None:
        with Shelf(folder) as shelf:
            shelf.refresh()
            shelf.find(parse_query(text), most=40)
            shelf.count(parse_query(text))

    times = {"rebuild": timed(build)}
    time.sleep(2.1)  # what was written a moment ago is looked at again; see hubsight.shelf.index
    search("")
    for text in SEARCHES:
        times[text or "list"] = timed(lambda text=text: search(text))
    return times


def main() -> None:
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(name)
        sys.stdout.write(f"{timed(lambda: make_jobs(folder, jobs)):8.2f} s  {jobs} records written\n")
        for what, seconds in measure(folder).items():
            sys.stdout.write(f"{seconds:8.3f} s  {what}\n")


if __name__ == "__main__":
    main()
