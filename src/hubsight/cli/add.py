"""``hubsight add``."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli import as_called
from hubsight.cli.common import ExitCode, bad_input, quoted
from hubsight.cli.working import Verbose, working
from hubsight.job.file.bare import named_photos
from hubsight.job.file.edit import set_fields, with_side
from hubsight.job.file.keep_photos import keep_photo, kept_elsewhere
from hubsight.job.file.load import find_job_file, load_job
from hubsight.job.file.problems import JobFileError
from hubsight.job.file.text import JOB_FILE_NAME, parse_job, read_job_text
from hubsight.job.sorting import PhotoSet, sort_photos
from hubsight.measure.set_up import SeenInPhoto, see_in_photo
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.progress import announce, begin, doing
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, SideName, TipKind
from hubsight.photo.at_once import at_once
from hubsight.target.geometry import PAPER_TITLE

LEAVE = "leave"
"""Answer that leaves photos where they are."""


@dataclass(frozen=True)
class Left:
    """A photo that stays where it is, why, and what can be done about that."""

    file: Path
    why: str
    remedy: str = ""


class Place(StrEnum):
    """What photos show, and the folder of the job for them."""

    DRIVE = "drive"
    NON_DRIVE = "non_drive"
    LYING = "lying"
    FLAT = "flat"


ANSWERS = {
    Place.DRIVE.value: "the drive side is up (ds)",
    Place.NON_DRIVE.value: "the non-drive side is up (nds)",
    Place.LYING.value: "the hub lies on its flanges",
    Place.FLAT.value: "the gauge alone lies on the sheet",
    LEAVE: "these photos stay where they are",
}
"""What may be typed, and what it means."""
_SHORT = {"ds": Place.DRIVE.value, "nds": Place.NON_DRIVE.value}
"""What builders write for the sides."""


def add(
    job: Annotated[Path, typer.Argument(help="The job's folder (see start).", metavar="JOB")],
    photos: Annotated[
        list[Path], typer.Argument(help="Photos of one side or of both, or their folder.", metavar="PHOTO")
    ],
    side: Annotated[
        Place | None, typer.Option(help="What all of them show; nothing is sorted.", show_default=False)
    ] = None,
    verbose: Verbose = False,
) -> None:
    """Copy photos into a job, sorted into its sides by when they were taken and what they show.

    Name photos, or a folder of photos. Where it is not sure it asks. Without a terminal it leaves such photos
    where they are, and says which. No photo is moved or overwritten.

    Ends with 0 when every photo has its place, 1 when some were left, 2 when the input cannot be read.
    """
    with bad_input():
        folder = find_job_file(job).parent
        photos = named_photos(photos)
        left = _keep(folder, photos, side.value) if side is not None else _sort(folder, photos, verbose)
    if left:
        _tell_left(folder, left)
        raise typer.Exit(ExitCode.PARTLY)
    typer.echo(f"Next: {as_called()} measure {quoted(folder)}")


def _sort(folder: Path, photos: Sequence[Path], verbose: bool) -> list[Left]:
    """Copy photos into the folders of what they show; return those that were left."""
    paper, tip = _stated(folder)
    with working(verbose=verbose):
        seen = list(_look(photos, paper, tip))
    sets, loose = sort_photos(seen)
    left = [Left(one.photo.file, one.why, _remedy(one.photo.refusal)) for one in loose]
    for one in sets:
        files = [photo.file for photo in one.photos]
        place = _place(one)
        if place == LEAVE:
            left += [Left(file, "it is not known which side is up") for file in files]
        else:
            left += _keep(folder, files, place)
    return left


def _remedy(refusal: Refusal | None) -> str:
    return "" if refusal is None else refusal.remedy


def _stated(folder: Path) -> tuple[PaperName, TipKind]:
    """Return the paper and what is on the gauge's far end; an unfinished file tells the paper."""
    try:
        loaded = load_job(folder, need_photos=False)
    except JobFileError:
        text = read_job_text(folder / JOB_FILE_NAME)
        paper = parse_job(text, JOB_FILE_NAME).get("target", {}).get("paper")
        return next((known for known in PAPER_TITLE if known == paper), "a4"), "flat"
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
    shown = f"  What do they show? ({', '.join(ANSWERS)}; ? explains)"
    try:
        while (place := _meant(str(typer.prompt(shown, default=usual or None)))) is None:
            for answer, meaning in ANSWERS.items():
                typer.echo(f"    {answer:10} {meaning}")
    except typer.Abort:
        typer.echo(
            "\nStopped. Photos named with -> are in the job; the others stay where they are.", err=True
        )
        raise typer.Exit(ExitCode.PARTLY) from None
    return place


def _meant(typed: str) -> str | None:
    """Return the answer that is meant: its whole word, its beginning, or what builders write for it."""
    word = typed.strip().lower().replace("-", "_").replace(" ", "_")
    fitting = [answer for answer in ANSWERS if word and answer.startswith(word)]
    return _SHORT.get(word) or (fitting[0] if len(fitting) == 1 else None)


def somebody_answers() -> bool:
    """Tell whether a person can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _keep(folder: Path, photos: Sequence[Path], place: str) -> list[Left]:
    """Copy photos into a folder of the job; return those that another of its folders holds already."""
    elsewhere = {photo: kept_elsewhere(photo, folder, place) for photo in photos}
    kept = [keep_photo(photo, folder, place) for photo in photos if elsewhere[photo] is None]
    if kept:
        _state(folder, place)
    for one in kept:
        how = "" if one.new else ", was there already"
        typer.echo(f"{one.source} -> {place}/{one.file.name}{how}")
    return [
        Left(
            photo, f"it lies in {other.parent.name} already", "If it belongs elsewhere, move it there by hand"
        )
        for photo, other in elsewhere.items()
        if other is not None
    ]


def _state(folder: Path, place: str) -> None:
    """Say in the job file that there are photos in a folder."""
    sides: dict[str, SideName] = {"drive": "drive", "non_drive": "non_drive"}
    if place in sides:
        with_side(folder, sides[place])
    elif place == Place.LYING:
        set_fields(folder, {"lying.photos": "lying/*"})
    else:
        set_fields(folder, {"target.flat.photos": "flat/*", "target.flat.gauge": "a"})


def _tell_left(folder: Path, left: Sequence[Left]) -> None:
    typer.echo(
        f"\nNot sorted; {'it stays where it is' if len(left) == 1 else 'they stay where they are'}:", err=True
    )
    for one in left:
        remedy = f". {one.remedy}" if one.remedy else ""
        typer.echo(f"  {one.file}: {one.why}{remedy}", err=True)
    if any(not one.remedy for one in left):
        typer.echo(f"Say what they show: {as_called()} add {quoted(folder)} --side drive PHOTO...", err=True)


def _names(photos: Sequence[Path]) -> str:
    names = [photo.name for photo in photos]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
