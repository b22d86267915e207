"""List the licences of all packages that hubsight needs, as the installed packages state them."""

from __future__ import annotations

import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution

_NAME = re.compile(r"[A-Za-z0-9._-]+")
_SYSTEM = re.compile(r"(sys_platform|platform_system|os_name|extra)\b")
"""Requirements with these conditions are of other systems, or of extras."""


def needed(root: str = "hubsight") -> dict[str, Distribution]:
    """Return every package that ``root`` needs, by name, sorted; without itself."""
    found: dict[str, Distribution] = {}
    waiting = [root]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:
            continue
        for wanted in found[name].requires or ():
            match = _NAME.match(wanted)
            if match and not _SYSTEM.search(wanted.partition(";")[2]):
                waiting.append(match[0].lower().replace("_", "-"))
    return {name: found[name] for name in sorted(found) if name != root}


def licence(package: Distribution) -> str:
    """Return a package's licence: its expression, else its classifiers, else the first line of its text."""
    about = package.metadata
    expression = about.get("License-Expression")
    classed = [
        words.rpartition(" :: ")[2]
        for words in about.get_all("Classifier") or ()
        if words.startswith("License ::") and not words.endswith("OSI Approved")
    ]
    text = (about.get("License") or "").strip().splitlines()
    return expression or ", ".join(classed) or (text[0] if text else "see the package")


def table() -> str:
    """Return the table of packages and licences."""
    rows = [f"| {name} | {licence(package)} |" for name, package in needed().items()]
    return "\n".join(["| package | licence |", "|---|---|", *rows])


if __name__ == "__main__":
    print(table())
