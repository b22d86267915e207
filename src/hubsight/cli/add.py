"""``hubsight add``."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import ExitCode, bad_input
from hubsight.cli.working import Verbose, working
from hubsight.job.file.bare import check_photos
from hubsight.job.file.edit import set_fields, with_side
from hubsight.job.file.keep_photos import keep_photo
from hubsight.job.file.load import find_job_file, load_job
from hubsight.job.sorting import PhotoSet, Unsorted, sort_photos
from hubsight.measure.set_up import SeenInPhoto, see_in_photo
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.progress import announce, begin, doing
from hubsight.model.stated import PaperName, SideName, TipKind
from hubsight.photo.at_once import at_once

LEAVE = "leave"
"""Answer that leaves photos where they are."""


class Place(StrEnum):
    """What photos show, and the folder of the job for them."""

    DRIVE = "drive"
    NON_DRIVE = "non_drive"
    LYING = "lying"
    FLAT = "flat"


_ANSWERS = (*(place.value for place in Place), LEAVE)
"""What may be answered for a photo."""


def add(
    job: Annotated[Path, typer.Argument(help="The job's folder (see start).", metavar="JOB")],
    photos: Annotated[list[Path], typer.Argument(help="Photos, of one side or of both.", metavar="PHOTO...")],
    side: Annotated[
        Place | None, typer.Option(help="What all of them show; nothing is sorted.", show_default=False)
    ] = None,
    verbose: Verbose = False,
) -> None:
    """Copy photos into a job, sorted into its sides by when they were taken and what they show.

    Where it is not sure it asks. Without a terminal it leaves such photos where they are, and says which. No
    photo is moved or overwritten.

    Ends with 0 when every photo has its place, 1 when some were left, 2 when the input cannot be read.
    """
    with bad_input():
        folder = find_job_file(job).parent
        check_photos(photos)
        if side is not None:
            _keep(folder, photos, side.value)
            return
        paper, tip = _stated(folder)
        with working(verbose=verbose):
            seen = list(_look(photos, paper, tip))
        sets, loose = sort_photos(seen)
        left = list(loose)
        for one in sets:
            place = _place(one)
            files = [photo.file for photo in one.photos]
            if place == LEAVE:
                left += [Unsorted(photo, "it is not known which side is up") for photo in one.photos]
            else:
                _keep(folder, files, place)
    if left:
        _tell_left(job, left)
        raise typer.Exit(ExitCode.PARTLY)


def _stated(folder: Path) -> tuple[PaperName, TipKind]:
    loaded = load_job(folder, need_photos=False)
    gauges = [] if loaded.table is None else list(loaded.table.gauges.values())
    return loaded.target.paper, gauges[0].tip if gauges else "flat"


def _look(photos: Sequence[Path], paper: PaperName, tip: TipKind) -> Iterator[SeenInPhoto]:
    announce(len(photos))
    begin("looking at the photos", len(photos))
    seen = at_once(lambda photo: see_in_photo(photo, paper, tip), photos)
    for number, photo in enumerate(seen, 1):
        doing("%s: looked at", photo.file.name, done=number / len(photos))
        yield photo


def _place(one: PhotoSet) -> str:
    """Return the folder for a set: by its names, else by asking, else none."""
    if one.side is not None:
        return one.side
    typer.echo(f"{_names([photo.file for photo in one.photos])}: taken together.")
    if not somebody_answers():
        return LEAVE
    if one.why:
        perhaps = "" if one.guess is None else f"Perhaps the {SIDE_WORDS[one.guess].lower()}: "
        typer.echo(f"  {perhaps}{one.why}{'' if one.why.endswith('?') else '.'}")
    usual = Place.FLAT.value if one.flat else one.guess or ""
    while True:
        shown = f"  Which side is up? ({', '.join(_ANSWERS)})"
        typed = str(typer.prompt(shown, default=usual or None)).strip().lower().replace("-", "_")
        if typed in _ANSWERS:
            return typed


def somebody_answers() -> bool:
    """Tell whether a person can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _keep(folder: Path, photos: Sequence[Path], place: str) -> None:
    kept = [keep_photo(photo, folder, place) for photo in photos]
    sides: dict[str, SideName] = {"drive": "drive", "non_drive": "non_drive"}
    if place in sides:
        with_side(folder, sides[place])
    elif place == Place.LYING:
        set_fields(folder, {"lying.photos": "lying/*"})
    else:
        set_fields(folder, {"target.flat.photos": "flat/*", "target.flat.gauge": "a"})
    for one in kept:
        how = "" if one.new else ", was there already"
        typer.echo(f"{one.source} -> {place}/{one.file.name}{how}")


def _tell_left(job: Path, left: Sequence[Unsorted]) -> None:
    typer.echo(f"\nNot sorted; {'it stays' if len(left) == 1 else 'they stay'} where they are:", err=True)
    for one in left:
        typer.echo(f"  {one.photo.file}: {one.why}", err=True)
    typer.echo(f"Say which side they show: hubsight add {job} --side drive PHOTO...", err=True)


def _names(photos: Sequence[Path]) -> str:
    names = [photo.name for photo in photos]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
