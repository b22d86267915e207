"""The kit's history of proofs: rods measured from photos and by caliper, with one camera on one sheet.

One small JSON file for each in the folder ``proofs`` of a kit. `proofs_for` answers whether print and camera
of a job are confirmed, `sum_up` what all proofs say together. All lengths in mm.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean, stdev
from typing import Annotated, Literal

from pydantic import Field

from hubsight.camera.profile import ProfileSignature
from hubsight.kit.readings import paper_drift
from hubsight.kit.store import KIT_VARIABLE, Kit, KitError, json_files, read_file
from hubsight.model.files import write_atomically
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, Reading, StatedTarget
from hubsight.model.uncertainty import (
    AGREES_E_N,
    CONTRADICTS_E_N,
    COVERAGE_FACTOR,
    coverage_factor,
    fewest_inside,
    normalised_error,
)
from hubsight.photo import CameraSignature
from hubsight.photo.picture_set import difference

ProofWord = Literal["agrees", "undecided", "doubted", "wrong"]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]

FOLDER = "proofs"
"""Folder in a kit."""
VAGUE_MM = 0.3
"""Expanded uncertainty of the difference above which agreement says nothing: errors that matter for a spoke
would go unnoticed. A larger value lets proofs on a badly read print count."""
SAME_BAR_MM = 0.1
"""Largest difference of a check bar's reading from that of a proof on the same print: 0.08 % of the bar, what
humidity does to paper within months (from memory)."""


class Proof(Frozen):
    """A rod above the sheet, measured from photos and by caliper.

    Attributes
    ----------
    date
        Day of the photos.
    camera
        What the photos' tags say of it, and their size.
    profile
        Name of the camera's profile in the kit; None where the tags' focal length was used.
    target, paper
        Name of the sheet in the kit, and its paper.
    bar_x, bar_y
        Its check bars as they were used; None where not read.
    length, u
        The rod by the photos, and its standard uncertainty.
    caliper, caliper_u
        The same by caliper.
    e_n
        Normalised error of the two, with expanded uncertainties of 95 % (ISO/IEC 17043).
    height
        Of the rod above the sheet.
    photos
        Number of photos used.
    fingerprint
        Of their files: the same photos prove nothing twice.
    software
        Version that measured.
    """

    schema_version: Literal[1] = 1
    kind: Literal["proof"] = "proof"
    date: datetime.date
    camera: ProfileSignature
    profile: str | None = None
    target: str | None
    paper: PaperName
    bar_x: Positive | None
    bar_y: Positive | None
    length: Positive
    u: Positive
    caliper: Positive
    caliper_u: Positive
    e_n: Finite
    height: Finite
    photos: int
    fingerprint: str = ""
    software: str = ""

    @property
    def difference(self) -> float:
        """Photos less caliper."""
        return self.length - self.caliper

    @property
    def u_difference(self) -> float:
        """Its standard uncertainty. One caliper read rod and bars: that it errs alike in both is left out."""
        return math.hypot(self.u, self.caliper_u)

    @property
    def word(self) -> ProofWord:
        """What the comparison says; a vague one says nothing, unless it contradicts."""
        if abs(self.e_n) > AGREES_E_N:
            return "doubted" if abs(self.e_n) <= CONTRADICTS_E_N else "wrong"
        return "undecided" if COVERAGE_FACTOR * self.u_difference > VAGUE_MM else "agrees"

    def proved_to(self, day: datetime.date | None = None) -> float:
        """Return the largest error of the photos' length that the comparison leaves open, mm.

        Parameters
        ----------
        day
            On which that is asked: paper grows and shrinks in the meantime. The day of the proof by default.
        """
        paper = 0.0 if day is None else self.length * paper_drift(abs((day - self.date).days))
        return abs(self.difference) + COVERAGE_FACTOR * math.hypot(self.caliper_u, paper)

    def sentence(self, day: datetime.date | None = None) -> str:
        """Say when and how well print and camera were proved, for a verdict; ``day`` as in `proved_to`."""
        when = f"{self.date.day} {self.date:%B %Y}"
        return f"proved with this phone and this sheet to {self.proved_to(day):.2f} mm on {when}"

    def same_print(self, target: StatedTarget) -> bool:
        """Tell whether a job states the print as it was when this was proved: its paper and both bars."""
        bars = ((self.bar_x, target.bar_x), (self.bar_y, target.bar_y))
        return self.paper == target.paper and all(
            was is not None and now is not None and abs(was - now.value) <= SAME_BAR_MM for was, now in bars
        )

    def same_camera(self, camera: CameraSignature) -> bool:
        """Tell whether photos are of the camera, lens, zoom and size of this proof, as their tags say."""
        was = self.camera
        if not (was.make or was.model) or (was.make, was.model) != (camera.make, camera.model):
            return False
        return difference(camera, was.as_camera_signature((was.width, was.height))) is None


def compared(length: Reading, caliper: Reading) -> float:
    """Return the normalised error of a photo length against the caliper (ISO/IEC 17043, ISO 13528)."""
    return normalised_error(
        length.value, COVERAGE_FACTOR * length.u, caliper.value, COVERAGE_FACTOR * caliper.u
    )


def proofs_for(camera: CameraSignature, target: str, kit: Kit | None = None) -> tuple[Proof, ...]:
    """Return the proofs with a camera on a sheet of the kit, the newest first.

    The newest decides: print and camera of a job are confirmed where its `Proof.word` is ``agrees`` and
    `Proof.same_print` holds for what the job states; `Proof.sentence` says so, on the job's day.

    Parameters
    ----------
    camera
        Of the job's photos, see `hubsight.photo.camera_signature`.
    target
        Name of the sheet in the kit.
    kit
        Where to look; the user's own if not given.
    """
    proofs, _ = read_proofs(kit or Kit.beside(None))
    return tuple(one for one in reversed(proofs) if one.target == target and one.same_camera(camera))


def read_proofs(kit: Kit) -> tuple[list[Proof], list[str]]:
    """Return all proofs of a kit, the oldest first, and a sentence on each file that cannot be read."""
    found: list[tuple[Path, Proof]] = []
    troubles = []
    for file in (file for folder in kit.folders for file in json_files(folder / FOLDER)):
        try:
            found.append((file, read_file(file, Proof, "proof")))
        except KitError as error:
            troubles.append(str(error))
    return [proof for _, proof in sorted(found, key=lambda one: (one[1].date, one[0].name))], troubles


def keep_proof(proof: Proof, folder: Path) -> Path:
    """Write a proof into a kit folder; the same photos measured again take the place of their proof.

    Raises
    ------
    KitError
        Where the folder cannot be written.
    """
    own = folder / FOLDER
    file = own / f"{proof.date.isoformat()}-{proof.fingerprint[:12] or 'rod'}.json"
    try:
        own.mkdir(parents=True, exist_ok=True)
        write_atomically(file, (proof.model_dump_json(indent=1) + "\n").encode())
    except OSError as error:
        what = f"{file} cannot be written ({error.strerror})"
        raise KitError(what, f"Name another folder with the variable {KIT_VARIABLE}") from error
    return file


@dataclass(frozen=True)
class ProofsTogether:
    """What several proofs say together.

    Attributes
    ----------
    count
        How many.
    bias
        Mean of photos less caliper, and its standard uncertainty by their scatter.
    scatter, stated
        Standard deviation of the differences, and root mean square of their stated uncertainties. Proofs on
        one sheet share the print's scale, so they should scatter less than is stated.
    inside, fewest
        Proofs with |E_n| up to 1, and the fewest to be expected (binomial, 95 %).
    """

    count: int
    bias: Reading
    scatter: float
    stated: float
    inside: int
    fewest: int

    def sentences(self) -> list[str]:
        """Return what they say, in plain words."""
        bias = self.bias.value
        out = [
            f"{self.count} proofs: the photos read {abs(bias):.2f} mm too {'long' if bias > 0 else 'short'} "
            f"on average (± {self.bias.u:.2f}), and scatter by {self.scatter:.2f} mm where "
            f"{self.stated:.2f} mm is stated; {self.inside} of {self.count} agree with the caliper"
        ]
        if self.inside < self.fewest:
            out.append(
                f"At least {self.fewest} should agree: the stated uncertainties are too small, or the sheet "
                "has changed. Read both check bars again"
            )
        elif abs(bias) > coverage_factor(self.count - 1) * self.bias.u:
            out.append(
                "That is more than chance: something errs alike in all of them, most often the readings of "
                "the check bars. Read both again, three times"
            )
        return out


def sum_up(proofs: Sequence[Proof]) -> ProofsTogether | Refusal:
    """Return bias and scatter of several proofs; fewer than two are refused."""
    if len(proofs) < 2:
        return Refusal(
            reason=f"{'one proof is' if proofs else 'no proof is'} kept, which shows no scatter",
            remedy="Prove again on another day: hubsight proof PHOTOS --length MM --target NAME",
        )
    differences = [one.difference for one in proofs]
    scatter = stdev(differences)
    return ProofsTogether(
        count=len(proofs),
        bias=Reading(fmean(differences), scatter / math.sqrt(len(proofs))),
        scatter=scatter,
        stated=math.sqrt(fmean(one.u_difference**2 for one in proofs)),
        inside=sum(abs(one.e_n) <= AGREES_E_N for one in proofs),
        fewest=fewest_inside(len(proofs)),
    )
