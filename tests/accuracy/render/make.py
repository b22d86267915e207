"""Make a corpus of rendered hub photographs with exact truth; see README.md beside this file.

    python tests/accuracy/render/make.py random:1201:8 OUT
    python tests/accuracy/render/make.py lifelike:2001:4 OUT --scale 4 --samples 24 --variant llvm_ad_rgb

The first word is ``random:FIRST:COUNT`` or ``lifelike:FIRST:COUNT``: hubs of these seeds. OUT becomes a whole
corpus, with its index; hubs that it holds already stay in it.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

if not __package__:  # run as a script: its package lies one folder up
    sys.path[0] = str(Path(__file__).resolve().parents[1])

from render import draw_lifelike, draw_random
from render.build import BuiltHub, build
from render.design import Design
from render.index import write_index
from render.plan import PhotoSet, plan
from render.readings import readings
from render.seeds import rng_of
from render.sheet import draw_wave
from render.truth import plain, set_truth, whole_truth

DESIGNERS: dict[str, Callable[[int], Design]] = {
    "random": draw_random.design,
    "lifelike": draw_lifelike.design,
}


@dataclass(frozen=True)
class Wanted:
    """Which sets and photos to take; None for all."""

    sets: frozenset[str] | None
    photos: frozenset[int] | None


def designs(corpus: str) -> list[Design]:
    """Return the designs of ``KIND:FIRST:COUNT``; raises ArgumentTypeError for anything else."""
    kind, _, span = corpus.partition(":")
    first, _, count = span.partition(":")
    if kind not in DESIGNERS or not (first.isdigit() and count.isdigit()):
        raise argparse.ArgumentTypeError(f"write random:FIRST:COUNT or lifelike:FIRST:COUNT, not {corpus}")
    try:
        return [DESIGNERS[kind](int(first) + i) for i in range(int(count))]
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", type=designs, help="random:FIRST:COUNT or lifelike:FIRST:COUNT")
    parser.add_argument("out", type=Path)
    parser.add_argument(
        "--sets", help="comma-separated, of: ds, ds2, nds, side, flat, camera; all if not given"
    )
    parser.add_argument("--photos", help="comma-separated numbers, from 1; all if not given")
    parser.add_argument("--scale", type=int, default=1, help="full size divided by the photos' size")
    parser.add_argument("--samples", type=int, default=64, help="per pixel")
    parser.add_argument("--chunk", type=int, default=4, help="samples at a time; fewer need less memory")
    parser.add_argument("--variant", default="cuda_ad_rgb", help="llvm_ad_rgb without a GPU")
    parser.add_argument("--workers", type=int, default=4, help="processes that build and develop")
    parser.add_argument("--geometry-only", action="store_true", help="truth and readings, no photos")
    return parser.parse_args(argv)


def _write_json(file: Path, content: Any) -> None:
    file.write_text(json.dumps(plain(content), indent=1), encoding="utf-8")


def _photograph(
    photographer: Any, design: Design, built: BuiltHub, *, sets: list[PhotoSet], wanted: Wanted, folder: Path
) -> list[Future[Path]]:
    """Take a hub's photos and write its files; without a photographer only the files."""
    look = rng_of(design.corpus, design.name, "look")
    wave = draw_wave(design.setting.wave, design.setting.curl, look)
    folder.mkdir(parents=True, exist_ok=True)
    studio = photographer.studio(design, built, wave, look) if photographer else None
    true: dict[str, Any] = {}
    files = []
    for photo_set in sets:
        if wanted.sets and photo_set.name not in wanted.sets:
            continue
        true[photo_set.name] = set_truth(design, photo_set)
        if studio is None:
            continue
        for photo, file in photographer.take(studio, photo_set, wave, folder, wanted.photos):
            true[photo_set.name]["photos"].append(photo)
            files.append(file)
            print(design.name, photo["file"], flush=True)
    _write_json(folder / "truth.json", whole_truth(design, built, wave, true))
    _write_json(folder / "job.json", readings(design, built, sets))
    return files


def _built(pool: ProcessPoolExecutor, hubs: list[Design], ahead: int) -> Iterator[tuple[Design, BuiltHub]]:
    """Yield each design with its hub; the next ``ahead`` hubs are being built meanwhile."""
    building = [pool.submit(build, design.hub) for design in hubs[:ahead]]
    for i, design in enumerate(hubs):
        building += [pool.submit(build, later.hub) for later in hubs[i + ahead : i + ahead + 1]]
        yield design, building.pop(0).result()


def _photographer(arguments: argparse.Namespace, pool: ProcessPoolExecutor, scratch: str) -> Any:
    """Return who takes the photos, or None where only truth is wanted."""
    if arguments.geometry_only:
        return None
    from render.take import Photographer, Quality  # noqa: PLC0415 - the renderer only where it is used

    quality = Quality(arguments.scale, arguments.samples, arguments.chunk, arguments.variant)
    return Photographer(quality, pool, Path(scratch))


def _wanted(arguments: argparse.Namespace) -> Wanted:
    return Wanted(
        frozenset(arguments.sets.split(",")) if arguments.sets else None,
        frozenset(map(int, arguments.photos.split(","))) if arguments.photos else None,
    )


def main(argv: Sequence[str] | None = None) -> None:
    """Make the corpus that the command line asks for."""
    arguments = _arguments(argv)
    wanted, files = _wanted(arguments), []
    context = multiprocessing.get_context("forkserver")
    with (
        ProcessPoolExecutor(arguments.workers, mp_context=context) as pool,
        tempfile.TemporaryDirectory() as scratch,
    ):
        photographer = _photographer(arguments, pool, scratch)
        for design, built in _built(pool, arguments.corpus, arguments.workers + 1):
            sets, folder = plan(design, built), arguments.out / design.name
            files += _photograph(photographer, design, built, sets=sets, wanted=wanted, folder=folder)
        for file in files:
            file.result()
    print(write_index(arguments.out))


if __name__ == "__main__":
    main()
