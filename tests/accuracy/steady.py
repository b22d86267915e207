"""Whether changes that mean nothing leave the figures alone, over a corpus; run by hand.

    python tests/accuracy/steady.py CORPUS... [--hubs a,b] [--changes WORDS,WORDS] [--workers N] [--json FILE]

Every side is measured as a careful builder states it, then once more after each change:

- each check bar restated 0.03 mm larger; as two readings 0.02 mm apart instead of as their mean
- photos in another order
- photos saved anew at quality 95; ten pixels cut off at every edge; turned by the tag alone
- without each photo in turn (the whole finding anew, three of four photos)

A row a change: how many sides; the largest move of any figure in units of its own uncertainty, at the median
and at most; on how many sides a figure moved by more than 0.3 of it, and on how many of these nothing was
said (neither a doubt nor a warning on either side of the change). Leaving out a photo may move more: there
the limit is what the two stated uncertainties allow.
"""

from __future__ import annotations

import argparse
import io
import json
import math
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from functools import partial
from itertools import groupby
from pathlib import Path
from statistics import median

from bench.careful import Case, careful, write_case
from bench.corpus import SIDES, Hub, Side, load_corpus
from PIL import Image

from hubsight import load_job
from hubsight.measure.side import measure_side
from hubsight.model.side import SideMeasurement

UNSTEADY_U = 0.3
"""Move in standard uncertainties above which a change that means nothing has to be spoken of."""
LEFT_OUT_U = 2.0
"""The same where a photo is missing, in standard uncertainties of the difference."""
WITHOUT = "without photo"
CUT_PX = 10
ORIENTATION = 0x0112

Change = Callable[[Case, Side], Case]


def _bars(change: Callable[[float], object], case: Case, _side: Side) -> Case:
    """Restate each bar, whose readings are taken as their mean."""
    for bar in ("bar_x", "bar_y"):
        stated = case.at("target", bar)
        readings = stated if isinstance(stated, list) else [stated]
        case = case.with_table("target", bar, change(round(sum(readings) / len(readings), 3)))
    return case


def _with_photos(change: Callable[[str, bytes], bytes], case: Case, side: Side) -> Case:
    own = SIDES[side.side]
    photos = {
        name: change(name, picture if isinstance(picture, bytes) else picture.read_bytes())
        for name, picture in case.photos[own].items()
    }
    return replace(case, photos={**case.photos, own: photos})


def _saved(picture: Image.Image, exif: Image.Exif) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=95, exif=exif)
    return out.getvalue()


def _anew(_name: str, content: bytes) -> bytes:
    picture = Image.open(io.BytesIO(content))
    return _saved(picture, picture.getexif())


def _cut(_name: str, content: bytes) -> bytes:
    picture = Image.open(io.BytesIO(content))
    box = (CUT_PX, CUT_PX, picture.width - CUT_PX, picture.height - CUT_PX)
    return _saved(picture.crop(box), picture.getexif())


def _turned(_name: str, content: bytes) -> bytes:
    """Turn the tag by half a turn; the pixels stay as stored."""
    picture = Image.open(io.BytesIO(content))
    exif = picture.getexif()
    exif[ORIENTATION] = {1: 3, 3: 1, 6: 8, 8: 6}.get(exif.get(ORIENTATION, 1), 3)
    return _saved(picture, exif)


def _reordered(case: Case, side: Side) -> Case:
    photos = case.at("sides", SIDES[side.side], "photos")
    return case.with_table("sides", SIDES[side.side], "photos", photos[1:] + photos[:1])


def _without(number: int, case: Case, side: Side) -> Case:
    photos = list(case.at("sides", SIDES[side.side], "photos"))
    del photos[number]
    return case.with_table("sides", SIDES[side.side], "photos", photos)


def as_one(case: Case, side: Side) -> Case:
    """Return a case whose bars are stated by their mean, from which the other statements of them start."""
    return _bars(lambda bar: bar, case, side)


CHANGES: dict[str, Change] = {
    "bars 0.03 larger": partial(_bars, lambda bar: round(bar + 0.03, 3)),
    "bars as two readings": partial(_bars, lambda bar: [round(bar + d, 3) for d in (-0.01, 0.01)]),
    "photos in another order": _reordered,
    "saved anew at quality 95": partial(_with_photos, _anew),
    "cut by ten pixels": partial(_with_photos, _cut),
    "turned by the tag": partial(_with_photos, _turned),
    **{f"{WITHOUT} {number + 1}": partial(_without, number) for number in range(5)},
}


@dataclass(frozen=True)
class Move:
    """What a change did to one side: the figure that moved most, by how many u, and whether it was said."""

    change: str
    hub: str
    side: str
    figure: str
    sigmas: float
    said: bool
    failed: str = ""


def _measured(case: Case, side: Side) -> SideMeasurement | str:
    with tempfile.TemporaryDirectory(prefix="hubsight-steady-") as folder:
        job = load_job(write_case(case, Path(folder) / "job"))
        own = next(one for one in job.sides if one.stated.name == SIDES[side.side])
        found = measure_side(own.stated, job.target, own.wheel)
    return found if isinstance(found, SideMeasurement) else found.sentence()


def move(change: str, side: Side, before: SideMeasurement, after: SideMeasurement) -> Move:
    """Return the figure that a change moved most."""
    moves = {}
    for name, figure in before.figures.items():
        other = after.figures.get(name)
        if other is None:
            moves[name] = math.inf
            continue
        u = math.hypot(figure.u, other.u) if change.startswith(WITHOUT) else min(figure.u, other.u)
        moves[name] = abs(other.value - figure.value) / u
    worst = max(moves, key=lambda name: moves[name])
    said = any(one.doubts or one.figures[worst].warnings for one in (before, after) if worst in one.figures)
    return Move(change, side.hub, side.side, worst, moves[worst], bool(said))


def _moves(hub: Hub, changes: Sequence[str]) -> list[Move]:
    found: list[Move] = []
    for side in hub.sides:
        case = as_one(careful(hub), side)
        before = _measured(case, side)
        if isinstance(before, str):
            found.append(Move("", side.hub, side.side, "", 0.0, said=True, failed=before))
            continue
        for name in changes:
            if name.startswith(WITHOUT) and int(name.split()[-1]) > len(side.photos):
                continue
            after = _measured(CHANGES[name](case, side), side)
            if isinstance(after, str):
                found.append(Move(name, side.hub, side.side, "", math.inf, said=True, failed=after))
            else:
                found.append(move(name, side, before, after))
    return found


def summary(found: Sequence[Move]) -> Iterator[str]:
    """Yield a line per change."""
    yield f"{'change':<28}{'sides':>6}{'median':>8}{'largest':>9}{'unsteady':>10}{'unsaid':>8}{'refused':>9}"
    known = [one for one in found if one.change]
    for change, group in groupby(sorted(known, key=lambda one: one.change), key=lambda one: one.change):
        own = list(group)
        limit = LEFT_OUT_U if change.startswith(WITHOUT) else UNSTEADY_U
        sigmas = [one.sigmas for one in own if not one.failed] or [math.nan]
        unsteady = [one for one in own if not one.failed and one.sigmas > limit]
        yield (
            f"{change:<28}{len(own):>6}{median(sigmas):>8.2f}{max(sigmas):>9.2f}{len(unsteady):>10}"
            f"{sum(not one.said for one in unsteady):>8}{sum(bool(one.failed) for one in own):>9}"
        )


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench and print its table; 1 when a figure was unsteady without a word."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", type=Path, nargs="+")
    parser.add_argument("--hubs", help="comma-separated names; all if not given")
    parser.add_argument("--changes", help="comma-separated words; changes whose name holds one of them")
    parser.add_argument("--workers", type=int, default=1, help="hubs at a time")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write one row per change and side")
    arguments = parser.parse_args(argv)
    wanted = set(arguments.hubs.split(",")) if arguments.hubs else None
    hubs = [hub for corpus in arguments.corpus for hub in load_corpus(corpus, wanted) if hub.sides]
    words = arguments.changes.split(",") if arguments.changes else [""]
    changes = [name for name in CHANGES if any(word in name for word in words)]
    found: list[Move] = []
    with ProcessPoolExecutor(arguments.workers) as pool:
        for own in pool.map(partial(_moves, changes=changes), hubs):
            found += own
            print(*{f"{one.hub} {one.side}" for one in own}, "done", flush=True)
    print(*summary(found), sep="\n")
    unsteady = [
        one
        for one in found
        if one.sigmas > (LEFT_OUT_U if one.change.startswith(WITHOUT) else UNSTEADY_U) or one.failed
    ]
    for one in sorted(unsteady, key=lambda one: one.said):
        print(
            f"  {one.hub} {one.side}, {one.change}: {one.figure} {one.sigmas:.2f} u, "
            f"{one.failed or ('said' if one.said else 'NOT SAID')}"
        )
    if arguments.json is not None:
        arguments.json.write_text(json.dumps([asdict(one) for one in found], indent=1), encoding="utf-8")
    return int(any(not one.said for one in unsteady))


if __name__ == "__main__":
    sys.exit(main())
