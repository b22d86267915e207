"""Check what a wheel and an sdist hold: the sample job inside, no tests in the wheel.

python .ci/check_dist.py WHEEL SDIST
"""

from __future__ import annotations

import sys
import tarfile
import zipfile
from pathlib import Path

IN_WHEEL = (
    "hubsight/py.typed",
    "hubsight/sample_images/job.toml",
    "hubsight/report/templates/report.html.j2",
    "hubsight/page/templates/part_look.html.j2",
    "hubsight/page/static/viewer.js",
)
IN_SDIST = ("pyproject.toml", "README.md", "LICENSE", "src/hubsight/__init__.py", "sample_images/job.toml")
NOT_IN_WHEEL = ("tests/", "docs/", "calibration/", ".ci/")


def names(file: Path) -> set[str]:
    """Return the files of a wheel, or of an sdist without its top folder."""
    if file.suffix == ".whl":
        return set(zipfile.ZipFile(file).namelist())
    with tarfile.open(file) as archive:
        return {name.partition("/")[2] for name in archive.getnames()}


def troubles(file: Path) -> list[str]:
    """Return what is wrong with one file."""
    held = names(file)
    wheel = file.suffix == ".whl"
    found = [f"{file.name} lacks {name}" for name in (IN_WHEEL if wheel else IN_SDIST) if name not in held]
    if wheel:
        found += [f"{file.name} holds {name}" for name in sorted(held) if name.startswith(NOT_IN_WHEEL)]
        if not any(name.startswith("hubsight/sample_images/drive/") for name in held):
            found.append(f"{file.name} lacks the sample's photos")
    return found


def main() -> int:
    """Check all files; 1 where something is wrong."""
    files = sys.argv[1:]
    if len(files) < len(("wheel", "sdist")):
        print("there are no wheel and sdist to check")
        return 1
    found = [line for file in files for line in troubles(Path(file))]
    print("\n".join(found) or "packages are whole")
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
