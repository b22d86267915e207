"""What one slip does to an order: slips of statement, photo and hand, over corpora whose truth is known.

    python tests/accuracy/slips.py CORPUS... --cache DIR [--hubs a,b] [--sides N] [--slips WORDS,WORDS]
                                   [--workers N] [--json FILE] [--list N]

Every side is stated as a careful builder does (`bench.careful`: every value read several times, caliper
readings of flange diameter, boss width and protrusion), then one slip is planted (`bench.slip_list` has
them all):

- both check bars 0.4, 0.8, 1.5 % too large, one of them 1 %, the two exchanged; wrong paper
- gauge length 1 too large or too small, 0.3 too large, digits transposed, the nominal value; wrong tip
  kind; two gauges stated for one
- block forgotten, or 1 mm too thick
- over-locknut 2 or 5 too large, or halved; centre to flange 2 too large, of the other side, from the
  locknut
- ERD 1 or 10 too large; crosses one too many or too few; four spokes too many
- row of rim holes missing, first hole wrong (two-to-one)
- boss width halved, protrusion 1 too large, flange diameter to the bosses' outside, radius for diameter
- sides exchanged; a photo of the other side; the gauge's end painted away in 1, 2, 3 of the photos
- one mark by hand 5, 10, 30 px off: gauge end, gauge axis, boss face, centreline

A row a slip: on how many sides it was planted; how many proposed lengths are wrong by the truth (the
spoke's end more than 0.25 mm outside of the nipple's window), and under which verdict; the verdicts; how
often a reason names it that is not given without the slip too. A mark by hand is to be named where it moves
a figure by more than its uncertainty, if it is used or believed; of the others, which move nothing, "idle"
says how many are noticed all the same. Two rows have no slip: everything confirmed, and every value stated
once. Wanted: no wrong length under "order"; the slip named on 80 % of the sides where a reading contradicts
it; with everything confirmed at most one side in ten not "order" for another reason than a close call, none
"stop".

Photos are looked at once a side; a statement that changes nothing in what is looked for only adjusts what
was seen anew, so that a side takes some minutes. What was seen is kept in the cache: empty it when the
seeing has changed.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Collection, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

from bench.careful import Case, careful, write_case
from bench.corpus import Hub, Side, load_corpus
from bench.seen_once import SeenOnce
from bench.slip_list import SLIPS
from bench.verdicts import NO_SLIP, UNCONFIRMED, Outcome, outcome, rows

WORDS = ("order", "check", "stop", "none")
COLUMNS = {"sides": 6, "wrong": 7, "under order": 13, **dict.fromkeys(WORDS, 7), "named": 12, "idle": 12}
"""Heads of the table's columns, and their widths."""


@dataclass(frozen=True)
class Task:
    """One hub, and which slips to plant in it."""

    hub: Hub
    slips: tuple[str, ...]
    cache: Path


def _cases(task: Task) -> Iterator[tuple[str, Case, Side]]:
    """Yield every case of a hub: the slip's name, the case, the side on which it was planted."""
    case, hurried = careful(task.hub), careful(task.hub, minimal=True)
    for side in task.hub.sides:
        if NO_SLIP in task.slips:
            yield NO_SLIP, case, side
        if UNCONFIRMED in task.slips:
            yield UNCONFIRMED, hurried, side
        for slip in SLIPS:
            planted = slip.plant(case, side) if slip.name in task.slips else None
            if planted is not None:
                yield slip.name, planted, side


def _measured(
    name: str, case: Case, side: Side, measure: SeenOnce, said_anyway: Collection[str] = ()
) -> Outcome:
    with tempfile.TemporaryDirectory(prefix="hubsight-slips-") as folder:
        return outcome(name, write_case(case, Path(folder) / "job"), side, measure, said_anyway)


def _judge(task: Task) -> list[Outcome]:
    found, measure = [], SeenOnce(task.cache)
    right = careful(task.hub)
    said = {side.side: _measured(NO_SLIP, right, side, measure).said for side in task.hub.sides}
    for name, case, side in _cases(task):
        one = _measured(name, case, side, measure, said[side.side])
        wrong = f", WRONG by {one.outside:.2f} mm" if one.wrong else ""
        named = f", {'' if one.named else 'not '}named" if one.nameable else ""
        print(f"{one.hub} {one.side}, {name}: {one.word}{named}{wrong}", *one.grave, sep="\n    ", flush=True)
        found.append(one)
    return found


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", type=Path, nargs="+")
    parser.add_argument("--cache", type=Path, required=True, help="folder for what was seen in the photos")
    parser.add_argument("--hubs", help="comma-separated names; all if not given")
    parser.add_argument("--sides", type=int, help="stop after the hubs that make so many sides")
    parser.add_argument("--slips", help="comma-separated words; slips whose name holds one of them")
    parser.add_argument("--workers", type=int, default=1, help="hubs at a time")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write one row per slip and side")
    parser.add_argument("--list", type=int, default=40, metavar="N", help="how many wrong orders to list")
    return parser.parse_args(argv)


def _hubs(arguments: argparse.Namespace) -> list[Hub]:
    wanted = set(arguments.hubs.split(",")) if arguments.hubs else None
    hubs = [hub for corpus in arguments.corpus for hub in load_corpus(corpus, wanted) if hub.sides]
    if arguments.sides is None:
        return hubs
    kept: list[Hub] = []
    for hub in hubs:
        if sum(len(one.sides) for one in kept) < arguments.sides:
            kept.append(hub)
    return kept


def _print(found: Sequence[Outcome], most: int) -> None:
    print(f"{'slip':<42}" + "".join(f"{head:>{width}}" for head, width in COLUMNS.items()))
    for row in rows(found):
        named = f"{row.named}/{row.nameable}" if row.nameable else ""
        words = (row.words[word] for word in WORDS)
        idle = f"{row.noticed}/{row.idle}" if row.idle else ""
        values = (row.sides, row.wrong, row.wrong_under_order, *words, named, idle)
        print(
            f"{row.slip:<42}"
            + "".join(f"{v:>{width}}" for v, width in zip(values, COLUMNS.values(), strict=True))
        )
    orders = [one for one in found if one.word == "order"]
    print(f"wrong under order: {sum(one.wrong for one in orders)} of {len(orders)} orders")
    doubted = [
        one
        for one in found
        if one.slip == NO_SLIP and one.word in ("check", "stop") and not one.close_call_only
    ]
    print(f"no slip, everything confirmed, not order for another reason than a close call: {len(doubted)}")
    for one in doubted:
        print(f"  {one.hub} {one.side}: {one.word}: {' | '.join(one.grave)}")
    wrong = [one for one in found if one.wrong and one.word in ("order", "check")]
    for one in sorted(wrong, key=lambda one: one.word != "order")[:most]:
        where = f"{one.hub} {one.side}, {one.slip}"
        print(f"  {where}: {one.word}, proposes {one.proposed:g}, end {one.outside:.2f} mm outside")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench and print its table; 1 when an order was wrong under "order"."""
    arguments = _arguments(argv)
    words = arguments.slips.split(",") if arguments.slips else [""]
    names = tuple(n for n in (NO_SLIP, UNCONFIRMED, *(s.name for s in SLIPS)) if any(w in n for w in words))
    tasks = [Task(hub, names, arguments.cache) for hub in _hubs(arguments)]
    found: list[Outcome] = []
    with ProcessPoolExecutor(arguments.workers) as pool:
        for own in pool.map(_judge, tasks):
            found += own
            if own:
                print(f"{own[0].hub}: {len(own)} cases", flush=True)
            if arguments.json is not None:
                arguments.json.write_text(
                    json.dumps([asdict(one) for one in found], indent=1), encoding="utf-8"
                )
    _print(found, arguments.list)
    return int(any(one.wrong and one.word == "order" for one in found))


if __name__ == "__main__":
    sys.exit(main())
