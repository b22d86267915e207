"""The photos of all jobs on the page: noticed, looked at, taken out, and their pictures for the screen."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from pathlib import Path
from typing import Literal

from hubsight.model.stated import SETS
from hubsight.page.cache import Cache
from hubsight.page.child import ChildFailed, Crew
from hubsight.page.cutting import cut
from hubsight.page.form import paper_and_tip
from hubsight.page.jobs import PhotoFile, find_photo, photos_of, remove_photo
from hubsight.page.kept import (
    HISTORY,
    LOOKS,
    KeptLook,
    KeptLooks,
    keep,
    kept_file,
    read_looks,
    still_holds,
)
from hubsight.page.looking import (
    LOOK_MEMORY,
    LOOK_S,
    LOOKERS,
    SHOWN_AS_STORED,
    glance,
    look,
    screen_files,
    show,
)
from hubsight.page.preview import PREVIEW_S, Previewed, preview
from hubsight.page.state import JobState, PhotoState
from hubsight.page.tasks import Tasks


def small_name(photo: str) -> str:
    """Return the name under which a photo's small picture is kept."""
    return f"{photo}.jpg"


class PhotoDesk:
    """The photos of all jobs, and the children that look at them.

    Parameters
    ----------
    tasks
        Where work goes that nobody waits for.
    """

    def __init__(self, tasks: Tasks) -> None:
        self._cache = Cache()
        self.folder = self._cache.folder
        self._lookers = Crew(LOOKERS, LOOK_MEMORY)
        self._tasks = tasks
        self._cutting: dict[Path, asyncio.Lock] = {}

    def start(self) -> None:
        """Start a child, so that the first photo does not wait for it."""
        self._lookers.start()

    def stop(self) -> None:
        """End all looking; the pictures made for the screen are thrown away."""
        self._lookers.stop()
        self._cache.close()

    def bring_up_to_date(self, state: JobState) -> None:
        """Notice photos that came into the folder, or went, without the page."""
        there = {photo.id: photo for side in SETS for photo in photos_of(state.folder, side)}
        for gone in set(state.photos) - set(there):
            del state.photos[gone]
            state.changed()
        new = [photo for photo in there.values() if photo.id not in state.photos]
        if not new:
            return
        looks, (paper, tip) = read_looks(state.folder), paper_and_tip(state.folder)
        unseen = []
        for photo in new:
            look = looks.get(photo.id)
            known = state.photos[photo.id] = PhotoState(photo)
            if look is not None and still_holds(look, photo, paper, tip):
                known.looked = look.looked
            else:
                unseen.append(known)
        state.changed()
        self._tasks.spawn(self._look_at(state, unseen))

    async def _look_at(self, state: JobState, photos: list[PhotoState]) -> None:
        """Look at photos that came without the page; what is known of them already is shown before that.

        Of the lying hub's photos their size is enough: there is no gauge to be seen in them.
        """
        glanced = [photo for photo in photos if state.recalled or photo.file.side == "lying"]
        if glanced:
            paths = [photo.file.path for photo in glanced]
            with suppress(ChildFailed):
                glances = await self._lookers.call(glance, paths, timeout=LOOK_S)
                for photo, found in zip(glanced, glances, strict=True):
                    photo.glanced = found if found.readable else None
                    photo.looked = photo.glanced if photo.file.side == "lying" else None
                state.changed()
        unseen = [photo for photo in photos if photo.looked is None]
        await asyncio.gather(*(self._look(state, photo) for photo in unseen))

    def add(self, state: JobState, photo: PhotoFile, owner: str = "") -> PhotoState:
        """Put a new photo on the page and look at it."""
        state.reported = state.of_now = False
        known = state.photos[photo.id] = PhotoState(photo, owner)
        state.changed()
        self._tasks.spawn(self._look(state, known))
        return known

    def remove(self, state: JobState, photo: PhotoState) -> None:
        """Take a photo out of the job, and its marks out of the history.

        Raises
        ------
        JobFileError
            If the folder cannot be written.
        """
        remove_photo(state.folder, photo.file)
        state.history = state.history.without_photo(photo.file.side, photo.file.path.name)
        keep(state.folder, HISTORY, state.history)
        state.reported = state.of_now = False
        state.photos.pop(photo.file.id, None)
        state.changed()

    def find(self, state: JobState, photo: str) -> PhotoState | None:
        """Look a photo up."""
        return state.photos.get(photo) if find_photo(state.folder, photo) is not None else None

    async def _look(self, state: JobState, photo: PhotoState) -> None:
        file = photo.file
        paper, tip = paper_and_tip(state.folder)
        try:
            photo.looked = await self._lookers.call(
                look, file.path, f"{state.id}-{file.id}", self.folder, paper, tip, timeout=LOOK_S
            )
        except ChildFailed as error:
            photo.failed = f"This picture cannot be used: {error}."
        state.changed()
        self._keep_looks(state)

    def _keep_looks(self, state: JobState) -> None:
        """Keep the first looks, and the small pictures, once nobody waits for one any more."""
        if any(p.looked is None and not p.trouble for p in state.photos.values()):
            return
        paper, tip = paper_and_tip(state.folder)
        looks: dict[str, KeptLook] = {}
        for photo in state.photos.values():
            if photo.looked is None or not photo.looked.readable or not photo.file.path.is_file():
                continue
            size = photo.file.path.stat().st_size
            looks[photo.file.id] = KeptLook(size=size, paper=paper, tip=tip, looked=photo.looked)
            small = screen_files(self.folder, f"{state.id}-{photo.file.id}")[1]
            if small.is_file() and kept_file(state.folder, small_name(photo.file.id)) is None:
                keep(state.folder, small_name(photo.file.id), small.read_bytes())
        keep(state.folder, LOOKS, KeptLooks(looks=looks))

    async def preview(self, state: JobState, data: bytes) -> Previewed:
        """Say how much of the sheet a small picture shows; raises `ChildFailed` if that cannot be told."""
        paper, _ = paper_and_tip(state.folder)
        return await self._lookers.call(preview, data, paper, timeout=PREVIEW_S)

    async def picture(self, state: JobState, photo: PhotoFile, size: Literal["full", "small"]) -> Path | None:
        """Return a photo's picture for the screen; it is made where it is not there any more.

        A JPEG is shown as it is: browsers turn it as its tags say.
        """
        known = state.photos.get(photo.id)
        if known is not None and (known.shown is None or not known.shown.readable):
            return None
        if size == "full" and photo.path.suffix.lower() in SHOWN_AS_STORED:
            return photo.path
        kept = kept_file(state.folder, small_name(photo.id)) if size == "small" else None
        files = screen_files(self.folder, f"{state.id}-{photo.id}")
        file = kept or files[0 if size == "full" else 1]
        if file.is_file():
            return file
        try:
            await self._lookers.call(show, photo.path, f"{state.id}-{photo.id}", self.folder, timeout=LOOK_S)
        except ChildFailed:
            return None
        return file if file.is_file() else None

    async def cut(self, state: JobState, name: str) -> Path | None:
        """Return the picture of a close-up on a job's wall; all of one photo are cut at once."""
        if name not in state.cuts:
            return None
        photo, file = state.cuts[name][0], self.folder / f"{name}.jpg"
        async with self._cutting.setdefault(photo, asyncio.Lock()):
            own = tuple((n, window) for n, (path, window) in state.cuts.items() if path == photo)
            if not file.is_file():
                with suppress(ChildFailed):
                    await self._lookers.call(cut, photo, own, self.folder, timeout=LOOK_S)
        return file if file.is_file() else None
