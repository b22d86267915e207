"""What long work is doing, for somebody who waits: messages at level INFO of one logger, silent by itself.

A message may carry ``photos``, of the set that begins; ``done``, the share of that set which is done; and
``total``, the photos of all sets that are going to be measured.
"""

import logging

PROGRESS = logging.getLogger("hubsight.progress")
"""Logger of what is being done: a message for each stage, for whoever waits."""


def announce(total: int) -> None:
    """Tell how many photos are going to be measured, if any."""
    if total:
        PROGRESS.info("measuring %d photo%s", total, "s" * (total != 1), extra={"total": total})


def begin(what: str, photos: int) -> None:
    """Tell that the work on a set of photos begins."""
    PROGRESS.info("%s", what, extra={"photos": photos, "done": 0.0})


def doing(what: str, *values: object, done: float) -> None:
    """Tell what is done next of a set, and which share of its time has gone by (0 to 1)."""
    PROGRESS.info(what, *values, extra={"done": done})
