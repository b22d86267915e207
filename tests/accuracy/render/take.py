"""Taking the photos of a hub: trace each one, hand it on to be developed, state what is true of it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

import mitsuba as mi
import numpy as np

from render.build import BuiltHub
from render.design import Design, PhoneProcessing, Processing
from render.develop import Exposure, write_photo
from render.plan import PhotoSet
from render.scene import Studio
from render.scenery import COARSE_PER_MM, FINE_PER_MM, paper_material
from render.seeds import rng_of, seed_of
from render.sheet import Wave
from render.trace import hidden, paper_level, trace
from render.truth import photo_truth

BRIGHTEST_SAMPLE = 12
"""A sample counts at most this many times the paper's level."""

LARGEST_HALF_FLOAT = 6e4


@dataclass(frozen=True)
class Quality:
    """How finely photos are rendered.

    Attributes
    ----------
    divisor
        Full size divided by the photos' size.
    samples, chunk
        Per pixel, and how many of them at a time.
    variant
        Of the renderer: ``cuda_ad_rgb`` or ``llvm_ad_rgb``.
    """

    divisor: int = 1
    samples: int = 64
    chunk: int = 4
    variant: str = "cuda_ad_rgb"


class Photographer:
    """Takes photos; sheets are printed once for all hubs of a corpus."""

    def __init__(self, quality: Quality, developers: Executor, scratch: Path) -> None:
        mi.set_variant(quality.variant)
        self.quality, self.developers, self.scratch = quality, developers, scratch
        self._papers: dict[str, Any] = {}

    def _paper(self, corpus: str) -> Any:
        fine = self.quality.divisor == 1 and self.quality.variant.startswith("cuda")
        if corpus not in self._papers:
            per_mm = FINE_PER_MM if fine else COARSE_PER_MM
            self._papers[corpus] = paper_material(per_mm, rng_of(corpus, "toner"))
        return self._papers[corpus]

    def studio(self, design: Design, built: BuiltHub, wave: Wave | None, look: np.random.Generator) -> Studio:
        """Return a hub's studio; ``look`` is the stream from which the wave was drawn."""
        return Studio(design, built, wave, look, self._paper(design.corpus))

    def take(
        self,
        studio: Studio,
        photo_set: PhotoSet,
        wave: Wave | None,
        folder: Path,
        wanted: frozenset[int] | None,
    ) -> Iterator[tuple[dict[str, Any], Future[Path]]]:
        """Yield each photo's truth, and the file that is being written.

        Parameters
        ----------
        folder
            Of the hub.
        wanted
            Numbers of the photos to take, from 1; None for all.
        """
        design, arranged = studio.design, studio.arranged(photo_set)
        (folder / photo_set.name).mkdir(parents=True, exist_ok=True)
        for i in range(len(photo_set.shots)):
            if wanted and i + 1 not in wanted:
                continue
            scene = studio.photographed(arranged, photo_set, i)
            hides = partial(hidden, scene)
            true = photo_truth(design, studio.built, photo_set, i, wave=wave, hidden=hides)
            if self.quality.divisor > 1:
                true["test_scale"] = self.quality.divisor
            true["file"] = f"{photo_set.name}/{file_name(design, photo_set.name, i)}"
            exposure = self._expose(scene, design, photo_set, i)
            yield true, self.developers.submit(write_photo, exposure, folder / true["file"])

    def _expose(self, scene: Any, design: Design, photo_set: PhotoSet, photo: int) -> Exposure:
        """Return the traced light of one photo."""
        shot, quality = photo_set.shots[photo], self.quality
        seed = seed_of(design.corpus, design.name, photo_set.name, photo) % 100000
        level = paper_level(scene, shot.view, seed)
        view = shot.view.scaled(quality.divisor) if quality.divisor > 1 else shot.view
        samples = max(quality.samples // 2, 8) if photo_set.name == "camera" else quality.samples
        linear = trace(
            scene,
            view,
            samples=samples,
            brightest=level * BRIGHTEST_SAMPLE,
            seed=seed,
            chunk=quality.chunk,
        )
        with NamedTemporaryFile(suffix=".npy", dir=self.scratch, delete=False) as file:
            np.save(file, np.clip(linear, 0, LARGEST_HALF_FLOAT).astype(np.float16))
        processing = varied(design, photo_set.name, photo)
        return Exposure(Path(file.name), level, processing, seed, shot.tags, shot.motion, quality.divisor)


def file_name(design: Design, photo_set: str, photo: int) -> str:
    """Return a photo's name: numbered as a phone does, from anywhere."""
    first = 1000 + seed_of(design.corpus, design.name, photo_set) % 8000
    return f"{design.phone.prefix}{first + photo}.jpg"


def varied(design: Design, photo_set: str, photo: int) -> Processing | PhoneProcessing:
    """Return the phone's processing with the small differences between two photos."""
    generator = rng_of(design.corpus, design.name, photo_set, photo, "noise")
    usual = design.phone.processing
    exposure = usual.exposure * generator.uniform(0.93, 1.06)
    red, green, blue = (float(value) for value in np.array(usual.cast) * generator.normal(1, 0.008, 3))
    return replace(usual, exposure=exposure, cast=(red, green, blue))
