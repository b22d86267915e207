"""``hubsight built``."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import ExitCode, bad, bad_input
from hubsight.job import JOB_FILE_NAME
from hubsight.job.as_built import BuiltDocument, compare_built
from hubsight.job.note_ends import notes_ends
from hubsight.record.planned import planned_from_record
from hubsight.show.built_picture import built_picture
from hubsight.show.vector import write_svg


class GroupBy(StrEnum):
    """By what built wheels are grouped in the picture."""

    RIM = "rim"
    NIPPLE = "nipple"
    HUB = "hub"


def built(
    jobs: Annotated[
        list[Path],
        typer.Argument(help="Jobs whose wheels were built, or folders with such jobs.", metavar="JOB..."),
    ],
    picture: Annotated[
        Path | None,
        typer.Option(
            help="Draw prediction against outcome over all wheels, SVG.", metavar="FILE", show_default=False
        ),
    ] = None,
    by: Annotated[GroupBy, typer.Option(help="Group the picture by this.")] = GroupBy.RIM,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Compare where the spokes' ends came to lie, as the job notes, with the prediction.

    A wheel that contradicts its prediction is told its likeliest cause. Over several rims your own bias of
    reading the ERD is estimated, and offered as a correction; nothing is corrected unasked.
    """
    with bad_input():
        document = compare_built([planned_from_record(path) for path in _noted(jobs)])
        if not document.sides:
            remedy = "Note in [built.drive] or [built.non_drive] where a few spokes' ends came to lie"
            raise bad(str(jobs[0]), "nothing is noted of the built wheel", remedy)
        if json:
            sys.stdout.write(document.model_dump_json(indent=1) + "\n")
        else:
            _print(document)
        if picture is not None:
            _draw(document, picture, by)
            if not json:
                typer.echo(f"Drawn in {picture}")
    refused = any(side.result is None for side in document.sides)
    raise typer.Exit(ExitCode.PARTLY if refused else ExitCode.MEASURED)


def _noted(paths: Iterable[Path]) -> Iterator[Path]:
    """Yield jobs, and of folders without a job file those jobs in them that note a built wheel."""
    for path in paths:
        if not path.is_dir() or (path / JOB_FILE_NAME).is_file():
            yield path
            continue
        noted = [file.parent for file in sorted(path.rglob(JOB_FILE_NAME)) if notes_ends(file)]
        if not noted:
            remedy = (
                "Note in [built.drive] or [built.non_drive] of a job where a few spokes' ends came to lie"
            )
            raise bad(str(path), "no job in this folder notes a built wheel", remedy)
        yield from noted


def _print(document: BuiltDocument) -> None:
    for side in document.sides:
        typer.echo(side.sentence())
    for wheel in document.contradicted:
        typer.echo(f"{wheel.sentence()}.")
    if document.overall is not None:
        typer.echo(f"Over all: {document.overall.sentence()}")
    for sentence in () if document.practice is None else document.practice.sentences():
        typer.echo(f"{sentence[:1].upper()}{sentence[1:]}.")


def _draw(document: BuiltDocument, picture: Path, by: GroupBy) -> None:
    if all(side.result is None for side in document.sides):
        raise bad(str(picture), "no side could be compared, so there is nothing to draw", "See above why")
    try:
        write_svg(built_picture(document, by.value), picture)
    except (OSError, ValueError) as error:
        what = f"the picture cannot be written ({error})"
        raise bad(str(picture), what, "Name a .svg file in a folder that is there") from error
