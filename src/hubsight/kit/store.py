"""Where kit is kept: one small JSON file for each piece, in the user's folder or beside a job.

``KIND/NAME.json`` in a kit folder; the folder ``kit`` beside a job comes before the user's own.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

import platformdirs
from pydantic import BaseModel, ValidationError

from hubsight.camera.profile import CameraProfile
from hubsight.kit.model import KitCaliper, KitGauge, KitRim, KitTarget
from hubsight.model.files import LARGEST_TEXT, write_atomically

KitKind = Literal["gauge", "target", "caliper", "camera", "rim"]
KitItem = KitGauge | KitTarget | KitCaliper | CameraProfile | KitRim

KINDS: dict[KitKind, type[BaseModel]] = {
    "gauge": KitGauge,
    "target": KitTarget,
    "caliper": KitCaliper,
    "camera": CameraProfile,
    "rim": KitRim,
}
"""Kinds of kit, and what their files hold. The folder of a kind is named by its plural."""
KIT_VARIABLE = "HUBSIGHT_KIT"
"""Environment variable that names another folder for the user's kit."""
JOB_KIT = "kit"
"""Folder of kit beside a job."""

_NAME = re.compile(r"\w[\w .-]{0,39}")
"""Names that a piece of kit may have."""


class KitError(ValueError):
    """A piece of kit that cannot be kept or read: what is wrong, and what to do."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what}. {remedy}")


def user_kit_folder() -> Path:
    """Return the folder of the user's own kit; it may not exist."""
    named = os.environ.get(KIT_VARIABLE)
    return Path(named) if named else platformdirs.user_config_path("hubsight") / JOB_KIT


@dataclass(frozen=True)
class Kit:
    """The kit that is at hand: ``folders``, of which the first that has a name wins."""

    folders: tuple[Path, ...]

    @classmethod
    def beside(cls, job_folder: Path | None) -> Kit:
        """Return the user's kit, behind the kit in a job's folder."""
        own = () if job_folder is None else (job_folder / JOB_KIT,)
        return cls((*own, user_kit_folder()))

    def behind(self, job_folder: Path) -> Kit:
        """Return the same with the kit of another job's folder before the user's own."""
        return Kit((*self.folders[:-1], job_folder / JOB_KIT, self.folders[-1]))

    def files(self, kind: KitKind) -> dict[str, Path]:
        """Return the files of a kind by name, sorted."""
        found: dict[str, Path] = {}
        for files in self.places(kind):
            for file in files:
                found.setdefault(file.stem, file)
        return dict(sorted(found.items()))

    def places(self, kind: KitKind) -> list[list[Path]]:
        """Return the files of a kind, folder by folder."""
        return [json_files(folder / f"{kind}s") for folder in self.folders]

    def load(self, kind: KitKind, name: str) -> tuple[KitItem, Path]:
        """Return a piece of kit.

        Returns
        -------
        item, file
            What it is, and where it was read.

        Raises
        ------
        KitError
            Where there is none of that name, or its file cannot be read.
        """
        file = self.files(kind).get(name)
        if file is None:
            known = ", ".join(self.files(kind))
            remedy = f"There are: {known}" if known else f"Add it with: hubsight kit add-{kind}"
            raise KitError(f'there is no {kind} "{name}" in the kit', remedy)
        return read_item(file, kind), file

    def every(self) -> Iterator[tuple[KitKind, str, Path]]:
        """Yield all pieces: kind, name, file."""
        for kind in KINDS:
            for name, file in self.files(kind).items():
                yield kind, name, file


def json_files(folder: Path) -> list[Path]:
    """Return the JSON files in a folder, sorted; none where there is no such folder."""
    try:
        return sorted(file for file in folder.iterdir() if file.suffix == ".json" and file.is_file())
    except OSError:
        return []


def read_item(file: Path, kind: KitKind) -> KitItem:
    """Return one file of kit; raises `KitError` where that cannot be done."""
    item = read_file(file, KINDS[kind], kind)
    assert isinstance(item, KitGauge | KitTarget | KitCaliper | CameraProfile | KitRim)
    return item


Model = TypeVar("Model", bound=BaseModel)


def read_file(file: Path, model: type[Model], what: str) -> Model:
    """Return the model in a file, called ``what``; raises `KitError` where that cannot be done."""
    try:
        if file.stat().st_size > LARGEST_TEXT:
            raise KitError(f"{file} is too large for a piece of kit", "Delete it and enter it again")
        return model.model_validate_json(file.read_text(encoding="utf-8"))
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise KitError(
            f"{file} is no {what} ({f'{where}: ' if where else ''}{first['msg']})",
            "Mend it in a text editor, or enter it again",
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is no text"
        raise KitError(f"{file} cannot be read ({why})", "Check its permissions") from error


def check_name(name: str) -> None:
    """Raise `KitError` for a name that cannot be a file's."""
    if not _NAME.fullmatch(name) or name.endswith((" ", ".")):
        raise KitError(f'"{name}" cannot be a name', "Use up to 40 letters, digits, spaces and -")


def save_item(item: KitItem, kind: KitKind, name: str, folder: Path, *, replace: bool = False) -> Path:
    """Write a piece of kit whole, or not at all.

    Parameters
    ----------
    item, kind, name
        What to keep, and under which name.
    folder
        The kit folder; made if it is not there.
    replace
        Whether a piece of that name may be overwritten.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    KitError
        For a name that cannot be a file's, one that is taken, or a folder that cannot be written.
    """
    check_name(name)
    file = folder / f"{kind}s" / f"{name}.json"
    if file.exists() and not replace:
        raise KitError(f'there is a {kind} "{name}" already', "Choose another name, or add --replace")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(file, (item.model_dump_json(indent=1) + "\n").encode())
    except OSError as error:
        what = f"{file} cannot be written ({error.strerror})"
        raise KitError(what, f"Name another folder with --in, or with the variable {KIT_VARIABLE}") from error
    return file
