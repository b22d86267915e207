"""A proof on the user's own desk: what is stated of rod, sheet and camera, what came out, what it means."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from pydantic_core import PydanticCustomError

from hubsight.camera.profile import CameraProfile, ProfileSignature, load_profile
from hubsight.job.file.from_kit import Resolved, resolve
from hubsight.job.file.model import TargetTable
from hubsight.job.file.photos_say import aged_target, camera_by_tags, read_headers
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.file.readings import GAUGE_LENGTH, read_check_bar, read_reading
from hubsight.job.measure import software
from hubsight.kit.proofs import Proof, compared, keep_proof
from hubsight.kit.store import Kit, KitError, user_kit_folder
from hubsight.measure.proof import RodLength, measure_rod
from hubsight.model.figure import BudgetItem
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, Reading, StatedTarget
from hubsight.photo import PhotoHeader

ROD_LENGTH = replace(
    GAUGE_LENGTH, low=60.0, high=200.0, hint="The rod is measured from end to end, and is 80 to 150 mm long"
)
"""A rod, read as a gauge is."""
_OPTIONS = {"target.kit": "--target", "camera.kit": "--camera", "kit.caliper": "--caliper"}
"""Fields of a job file, and the options that state them here."""


@dataclass(frozen=True)
class ProofStatements:
    """What is stated of a proof, as typed: mm, several numbers are several readings of the same thing.

    Attributes
    ----------
    length
        Of the rod from end to end, by caliper.
    head
        Whether one of its ends is a spoke's head.
    target, camera, caliper
        Names in the kit.
    paper, bar_x, bar_y
        Of the sheet; they come before what the kit says.
    """

    length: tuple[float, ...]
    head: bool = False
    target: str | None = None
    camera: str | None = None
    caliper: str | None = None
    paper: PaperName | None = None
    bar_x: tuple[float, ...] = ()
    bar_y: tuple[float, ...] = ()


class ProofDocument(Frozen):
    """A proof, or why there is none.

    Attributes
    ----------
    proof, refusal
        One of them.
    budget
        Of the photos' length.
    sentences
        What it proves and what not.
    notes
        Photos that were left out, and other things to know.
    kept
        File in the kit; None where not kept.
    """

    kind: Literal["proof"] = "proof"
    schema_version: Literal[1] = 1
    proof: Proof | None = None
    refusal: Refusal | None = None
    budget: tuple[BudgetItem, ...] = ()
    sentences: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    kept: str | None = None


@dataclass(frozen=True)
class _Known:
    """What is known before the photos are looked at."""

    length: Reading
    target: StatedTarget
    profile: CameraProfile | None
    profile_name: str | None
    headers: list[PhotoHeader]
    notes: tuple[str, ...]


def prove(photos: Sequence[Path], stated: ProofStatements, kit: Kit, *, keep: bool = True) -> ProofDocument:
    """Measure a rod from photos and compare it with the caliper.

    Parameters
    ----------
    photos
        Of the rod above the sheet, without a hub.
    stated
        What is known of rod, sheet and camera.
    kit
        Where the named pieces are looked for.
    keep
        Whether the proof goes into the user's kit; it does only where the sheet is named.

    Raises
    ------
    JobFileError
        Where a statement cannot be used, naming the option.
    """
    known = _known(photos, stated, kit)
    measured = measure_rod(photos, known.target, known.length.value, head=stated.head, profile=known.profile)
    if isinstance(measured, Refusal):
        return ProofDocument(refusal=measured, notes=known.notes)
    proof = _compared(measured, known, photos, stated.target)
    kept = _kept(proof) if keep and stated.target is not None else None
    sentences = list(meaning(proof))
    if keep and not kept:
        sentences.append(
            "Not kept: name the sheet as the kit calls it, with --target, and the proof stands for later "
            "measurements"
        )
    notes = [*known.notes, *measured.notes, *measured.figure.warnings]
    if not (proof.camera.make or proof.camera.model):
        notes.append(
            "no job finds this proof, as the photos name no camera: send them as the phone saved them"
        )
    return ProofDocument(
        proof=proof,
        budget=measured.figure.budget,
        sentences=tuple(sentences),
        notes=tuple(notes),
        kept=kept,
    )


def _compared(measured: RodLength, known: _Known, photos: Sequence[Path], target: str | None) -> Proof:
    """Put the photos' length beside the caliper's."""
    length = Reading(measured.figure.value, measured.figure.u)
    bar_x, bar_y = (None if bar is None else bar.value for bar in (known.target.bar_x, known.target.bar_y))
    return Proof(
        date=min((h.day for h in known.headers if h.day), default=datetime.date.today()),
        camera=ProfileSignature.of(known.headers[0].signature),
        profile=known.profile_name,
        target=target,
        paper=known.target.paper,
        bar_x=bar_x,
        bar_y=bar_y,
        length=length.value,
        u=length.u,
        caliper=known.length.value,
        caliper_u=known.length.u,
        e_n=compared(length, known.length),
        height=measured.height,
        photos=len(measured.photos),
        fingerprint=_fingerprint(photos),
        software=software().hubsight,
    )


def meaning(proof: Proof) -> tuple[str, ...]:
    """Say what a proof proves and what not, in plain words."""
    difference = proof.difference
    match proof.word:
        case "agrees":
            return (
                f"Proved: with this phone and this sheet, a length of {proof.caliper:.0f} mm at a height of "
                f"{proof.height:.0f} mm is right to {proof.proved_to():.2f} mm",
                "This proves print, camera and heights together. It does not prove how bosses, flanges and "
                "end "
                "faces are seen, nor that a gauge's head is seated",
            )
        case "undecided":
            return (
                "Undecided: photos and caliper agree, but the photos' length is known too badly to show an "
                "error that matters",
                "Read both check bars of the sheet with the caliper, three times each, and prove again",
            )
        case "doubted":
            return (
                "Not proved: photos and caliper differ by more than they do in 19 of 20 cases",
                "Measure the rod and both check bars again, blacken a bright rod with a felt pen, take four "
                "new photos, and prove again",
            )
        case "wrong":
            way = "large" if difference > 0 else "small"
            share = 100 * abs(difference) / proof.caliper
            return (
                f"Wrong: photos and caliper contradict each other, as if the check bars had been read "
                f"{share:.2f} % too {way}",
                "Set the closed caliper to zero, measure rod and both check bars again, and prove again; "
                "order nothing by this phone and this sheet before they agree",
            )


def _kept(proof: Proof) -> str:
    try:
        return str(keep_proof(proof, user_kit_folder()))
    except KitError as error:
        raise JobFileError([Problem("the proof", None, "", error.what, error.remedy)]) from error


def _known(photos: Sequence[Path], stated: ProofStatements, kit: Kit) -> _Known:
    headers = read_headers(photos)
    tables = _from_kit(stated, kit)
    raw = tables.tables["gauges"]["rod"]["length"]
    length = _read(raw, "--length", lambda rod: read_reading(rod, ROD_LENGTH))
    sheet = tables.tables["target"]
    bars = {"bar_x": _bar(sheet, "x"), "bar_y": _bar(sheet, "y")}
    target, aged = aged_target(TargetTable(**{**sheet, **bars}), headers)
    found = camera_by_tags(kit, None, headers)
    file = tables.profile or found.file
    profile = None if file is None else load_profile(file)
    if isinstance(profile, Refusal):
        raise JobFileError([Problem("--camera", None, "", profile.reason, profile.remedy)])
    name = None if file is None else file.stem
    notes = () if target.bar_x and target.bar_y else ("the sheet's check bars are not both stated",)
    return _Known(length, target, profile, name, headers, (*notes, *aged, *found.notes))


def _from_kit(stated: ProofStatements, kit: Kit) -> Resolved:
    """Return the statements as a job file's tables, with what the kit says in them."""
    paper = {} if stated.paper is None else {"paper": stated.paper}
    raw = {
        "target": {**paper, "kit": stated.target, "bar_x": list(stated.bar_x), "bar_y": list(stated.bar_y)},
        "camera": {"kit": stated.camera},
        "kit": {"caliper": stated.caliper},
        "gauges": {"rod": {"length": list(stated.length)}},
    }
    problems: list[Problem] = []

    def complain(field: str, what: str, remedy: str) -> None:
        problems.append(Problem(_OPTIONS.get(field, field), None, "", what, remedy))

    tables = resolve(raw, kit, complain)
    if problems:
        raise JobFileError(problems)
    return tables


def _read(raw: object, option: str, read: Callable[[object], Reading]) -> Reading:
    try:
        return read(raw)
    except PydanticCustomError as error:
        what, _, remedy = error.message().partition(". ")
        raise JobFileError([Problem(option, None, "", what, remedy)]) from error


def _bar(sheet: dict[str, Any], axis: Literal["x", "y"]) -> Reading | None:
    """Return a check bar's reading; None where there is none."""
    raw = sheet.get(f"bar_{axis}")
    return None if raw in (None, []) else _read(raw, f"--bar-{axis}", lambda bar: read_check_bar(bar, axis))


def _fingerprint(photos: Sequence[Path]) -> str:
    """Return one number of the photos' contents, in whatever order."""
    each = sorted(hashlib.sha256(photo.read_bytes()).hexdigest() for photo in photos)
    return hashlib.sha256("".join(each).encode()).hexdigest()
