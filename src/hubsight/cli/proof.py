"""``hubsight proof``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.cli.common import ExitCode, Readings, bad, bad_input, reading
from hubsight.cli.working import Verbose, working
from hubsight.job.file.bare import named_photos
from hubsight.job.proof import ProofStatements, prove
from hubsight.kit import Kit
from hubsight.kit.proofs import Proof, read_proofs
from hubsight.model.frozen import Frozen
from hubsight.model.progress import begin
from hubsight.model.stated import PaperName
from hubsight.show.proof_screen import print_proof, print_proofs
from hubsight.show.proofs_picture import write_proofs_picture


class _History(Frozen):
    """All proofs of the kit, the oldest first."""

    proofs: tuple[Proof, ...]


def proof(  # noqa: PLR0917 - Typer passes options by name
    photos: Annotated[
        list[Path] | None,
        typer.Argument(help="Of the rod above the sheet, without a hub; four.", show_default=False),
    ] = None,
    length: Annotated[
        Readings | None, reading("The rod from end to end, by caliper; again for more readings")
    ] = None,
    head: Annotated[
        bool, typer.Option("--head", help="One end is a spoke's head; the length is over all.")
    ] = False,
    target: Annotated[
        str | None, typer.Option(help="Sheet of the kit; the proof is kept with it.", show_default=False)
    ] = None,
    camera: Annotated[
        str | None,
        typer.Option(help="Camera of the kit; found by the photos' tags if left out.", show_default=False),
    ] = None,
    caliper: Annotated[
        str | None, typer.Option(help="Caliper of the kit that the rod was read with.", show_default=False)
    ] = None,
    paper: Annotated[
        PaperName | None,
        typer.Option(help="Of the sheet; A4 if left out.", show_default=False, case_sensitive=False),
    ] = None,
    bar_x: Annotated[Readings | None, reading("Check bar along the long side, as read")] = None,
    bar_y: Annotated[Readings | None, reading("Check bar along the short side, as read")] = None,
    keep: Annotated[bool, typer.Option(help="Keep the proof in your kit, where the sheet is named.")] = True,
    history: Annotated[bool, typer.Option("--history", help="Show all proofs so far.")] = False,
    picture: Annotated[
        Path | None, typer.Option(help="With --history: write a picture of them, PNG.", show_default=False)
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    verbose: Verbose = False,
) -> None:
    """Prove phone and sheet: compare a rod's length by photos with the caliper.

    Use a straight rod as thick as a spoke, about 100 mm long, both ends cut square; blacken bright wire.

    Lay it over two blocks or a mug, 50 to 110 mm above the sheet, both ends free over white paper.

    Take four photos: one from straight above, three from around.

    Ends with 0 when photos and caliper agree, 1 when they do not, 2 when the input cannot be read.
    """
    with bad_input():
        if history:
            if photos or length:
                raise bad("--history", "there are photos or readings beside it", "Leave them out")
            _show_history(picture, target, as_json=json)
            return
        if picture is not None:
            raise bad("--picture", "it draws the history", "Add --history")
        if not photos:
            raise bad("proof", "no photos are named", "Name the photos of the rod, or add --history")
        photos = named_photos(photos)
        if not length:
            raise bad(
                "--length", "this is missing", "Measure the rod from end to end with the caliper, in mm"
            )
        stated = ProofStatements(
            length=tuple(length),
            head=head,
            target=target,
            camera=camera,
            caliper=caliper,
            paper=paper,
            bar_x=tuple(bar_x or ()),
            bar_y=tuple(bar_y or ()),
        )
        with working(verbose=verbose):
            begin("looking for the rod", len(photos))
            document = prove(photos, stated, Kit.beside(None), keep=keep)
    if json:
        sys.stdout.write(document.model_dump_json(indent=1) + "\n")
    else:
        print_proof(Console(highlight=False), document)
    agrees = document.proof is not None and document.proof.word == "agrees"
    raise typer.Exit(ExitCode.MEASURED if agrees else ExitCode.PARTLY)


def _show_history(picture: Path | None, target: str | None, *, as_json: bool) -> None:
    found, troubles = read_proofs(Kit.beside(None))
    proofs = [one for one in found if target is None or one.target == target]
    if as_json:
        sys.stdout.write(_History(proofs=tuple(proofs)).model_dump_json(indent=1) + "\n")
    else:
        print_proofs(Console(highlight=False), proofs, troubles)
    if picture is not None:
        if not proofs:
            raise bad(str(picture), "there are no proofs to draw", "Prove phone and sheet first")
        try:
            write_proofs_picture(proofs, picture)
        except OSError as error:
            what = f"the picture cannot be written there ({error.strerror})"
            raise bad(str(picture), what, "Name a file in a folder that is there") from error
        if not as_json:
            typer.echo(f"Drawn in {picture}")
