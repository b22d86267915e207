"""The order and the caliper checks over a corpus of rendered photographs with exact truth; run by hand.

    python tests/accuracy/run_lengths.py CORPUS --cache DIR [--hubs a,b] [--cached-only] [--no-plants]

Measures every side once (all photos, EXIF only; kept in the cache), then asks ``hubsight lengths`` of each
hub with the corpus' caliper readings, three times: with the rim's ERD stated exactly, by four readings, and
by one; the readings scatter as the tool believes of them. The proposed length is compared with the one that
the true figures give: on the corpus' own rim, and on twenty rims that move the length through a whole step of
the stock, since on one rim it is luck how near to the border between two lengths a side lies. Every planted
slip has to be named, and no right reading may be called wrong. Beside the corpus' own slips, usual ones are
planted in every right reading (``--no-plants`` leaves them out).
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from bench.corpus import SIDES, Hub, load_corpus
from bench.wheel import (
    READINGS,
    RIMS,
    SLIP_WORDS,
    erd_text,
    lengths,
    measured_side,
    one_document,
    over_rims,
    photo_job,
    planted,
    stated_readings,
    true_job,
)

ERDS = ("exact", "four", "one")
UNSAID = "other, not flagged"


class Tally:
    """What came out, by how the ERD was stated, and the sentences of what went wrong."""

    def __init__(self) -> None:
        self.counts: dict[str, Counter[str]] = {how: Counter() for how in ERDS}
        self.rims: dict[str, Counter[str]] = {how: Counter() for how in ERDS}
        self.verdicts: Counter[str] = Counter()
        self.slips: Counter[str] = Counter()
        self.errors: list[str] = []
        self.plants: dict[str, Counter[str]] = {}
        self.formula: float = 0.0

    def lengths(self, how: str, where: str, side: dict[str, Any], true: dict[str, Any]) -> None:
        """Count one side's proposed length against that of the truth."""
        count = self.counts[how]
        count["sides"] += 1
        count["close calls"] += side["close_call"]
        self.rims[how].update(over_rims(side, true))
        figure, exact = side["length"], true["length"]["value"]
        count["held"] += figure["low"] <= exact <= figure["high"]
        if side["proposed"] == true["proposed"]:
            count["as by the truth"] += 1
        elif side["close_call"]:
            count["other, flagged"] += 1
        else:
            count[UNSAID] += 1
            off = figure["value"] - exact
            self.errors.append(
                f"{where}, ERD {how}: proposes {side['proposed']:g}, by the truth {true['proposed']:g};"
                f" length off by {off:+.2f} at u {figure['u']:.2f}; {len(figure['warnings'])} warnings"
            )

    def check(self, where: str, check: dict[str, Any], planted: str | None) -> None:
        """Count one caliper reading's verdict."""
        seen = f"{where} {check['reading']}: stated {check['stated']:.2f}, photos {check['photo']:.2f}"
        said = f"{seen}, E_n {check['e_n']:+.2f}, {check['verdict']}, slip {check['slip']}"
        if planted is not None:
            named = SLIP_WORDS[planted] in (check["slip"] or "")
            self.slips["named" if named else "not named"] += 1
            if not named:
                self.errors.append(f"slip {planted} not named: {said}")
            return
        self.verdicts[check["verdict"]] += 1
        if check["verdict"] == "disagrees":
            self.errors.append(f"a right reading is called wrong: {said}")
        elif check["slip"]:
            self.verdicts["in doubt, with a slip"] += 1

    def plant(self, words: str, check: dict[str, Any]) -> None:
        """Count whether a slip that was planted here was named."""
        count = self.plants.setdefault(f"{check['reading']}: {words}", Counter())
        named = words in (check["slip"] or "")
        count["named" if named else f"not named, {check['verdict']}"] += 1


def _planted(hub: Hub, side: str, reading: str) -> str | None:
    slip = hub.sides[0].truth_file.get("slip")
    sides = ("drive", "non_drive") if slip and slip["kind"] == "swap_sides" else ()
    if slip is None or READINGS[slip["field"]] != reading:
        return None
    return slip["kind"] if side == SIDES[slip["side"]] or side in sides else None


def _judge(hub: Hub, cache: Path, folder: Path, tally: Tally, *, cached_only: bool, plants: bool) -> None:
    found = {}
    for side in hub.sides:
        if cached_only and not (cache / f"{side.hub}-{side.side}.json").is_file():
            return
        document = measured_side(side, cache, folder)
        if document is not None and document["sides"][0]["measurement"] is not None:
            found[side.side] = document
    measured = tuple(side for side in hub.sides if side.side in found)
    tally.counts["exact"]["not measured"] += len(hub.sides) - len(measured)
    if not measured:
        return
    known = Hub(hub.name, measured, None)
    whole = one_document([found[side.side] for side in measured], folder / "measured.json")
    truth = lengths(true_job(known, folder / "true"))
    for side in measured:
        exact, given = truth["sides"][SIDES[side.side]]["length"]["value"], side.truth["spoke_length"]
        tally.formula = max(tally.formula, abs(exact - given))
    for how in ERDS:
        document = lengths(photo_job(known, folder / how, erd_text(hub, how)), whole)
        for name, side in document["sides"].items():
            tally.lengths(how, f"{hub.name} {name}", side, truth["sides"][name])
        if how == "exact":
            for name, refusal in document["refusals"].items():
                tally.errors.append(f"{hub.name} {name}: refused: {refusal['reason']}")
            for check in document["checks"]:
                slip = _planted(hub, check["side"], check["reading"])
                tally.check(f"{hub.name} {check['side']}", check, slip)
    if plants:
        _plant(known, whole, folder, tally)


def _plant(known: Hub, whole: Path, folder: Path, tally: Tally) -> None:
    """Plant usual slips in the right readings of a hub, one at a time."""
    if known.sides[0].truth_file.get("slip"):
        return
    right = {side.side: stated_readings(side) for side in known.sides}
    for side in known.sides:
        for name, words, changed in planted(right[side.side]):
            job = photo_job(known, folder / "plant", erd_text(known, "exact"), {**right, side.side: changed})
            for check in lengths(job, whole)["checks"]:
                if (check["side"], check["reading"]) == (SIDES[side.side], name):
                    tally.plant(words, check)


def _print(tally: Tally) -> None:
    names = ("sides", "as by the truth", "close calls", "other, flagged", UNSAID, "held")
    print(f"{'ERD':<8}" + "".join(f"{name:>20}" for name in names))
    for how, count in tally.counts.items():
        print(f"{how:<8}" + "".join(f"{count[name]:>20}" for name in names))
    print(f"over {RIMS} rims a side:")
    for how, count in tally.rims.items():
        flagged, wrong = (100.0 * count[what] / max(count["rims"], 1) for what in ("close calls", UNSAID))
        print(f"{how:<8}close calls {flagged:.1f} %, {UNSAID} {wrong:.2f} %")
    print(f"not measured: {tally.counts['exact']['not measured']} sides")
    print(f"lengths by the true figures against the corpus' own: within {tally.formula:.3f} mm")
    print(f"right readings: {dict(tally.verdicts)}")
    print(f"planted slips of the corpus: {dict(tally.slips)}")
    for slip, count in tally.plants.items():
        print(f"  planted here: {slip:<46} {dict(count)}")
    for error in tally.errors:
        print(f"  {error}")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the check and print its report; 1 when anything went wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--cache", type=Path, required=True, help="folder for the sides' measurements")
    parser.add_argument("--hubs", help="comma-separated names; all if not given")
    parser.add_argument("--cached-only", action="store_true", help="leave out hubs that are not in the cache")
    parser.add_argument("--no-plants", action="store_true", help="plant no further slips")
    arguments = parser.parse_args(argv)
    hubs = load_corpus(arguments.corpus, set(arguments.hubs.split(",")) if arguments.hubs else None)
    tally = Tally()
    for hub in hubs:
        with tempfile.TemporaryDirectory(prefix="hubsight-lengths-") as folder:
            _judge(
                hub,
                arguments.cache,
                Path(folder),
                tally,
                cached_only=arguments.cached_only,
                plants=not arguments.no_plants,
            )
    _print(tally)
    return 1 if tally.errors else 0


if __name__ == "__main__":
    sys.exit(main())
