"""Spokes in the drawer, and how their wire is written; mm."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from hubsight.wheel.wire import SpokeWire

Head = Literal["straight-pull", "J-bend"]


@dataclass(frozen=True)
class Lot:
    """Spokes of one kind and length: their length, how many there are, wire ("" where not known), head."""

    length: float
    count: int
    wire: str = ""
    head: Head = "straight-pull"

    def fits(self, wire: SpokeWire, head: Head) -> bool:
        """Tell whether wire and head are those that are asked for."""
        return self.wire in ("", wire.name) and self.head == head


def wire_name(text: str) -> str:
    """Return a wire as `SpokeWire.name` writes it: ``2,0 / 1,8 / 2,0`` is ``2.0/1.8/2.0``; "" for nothing.

    Raises
    ------
    ValueError
        If it is no wire: one diameter, three, or a blade's width x thickness in the middle.
    """
    plain = "".join(text.lower().replace("mm", "").split()).replace(",", ".").replace("×", "x")
    if not plain:
        return ""
    parts = plain.split("/")
    numbers = [part.split("x") for part in parts]
    blade = len(parts) == 3 and [len(one) for one in numbers] == [1, 2, 1]
    plain_parts = len(parts) in (1, 3) and all(len(one) == 1 for one in numbers)
    if not (blade or plain_parts) or not all(
        re.fullmatch(r"\d+(?:\.\d+)?", one) for part in numbers for one in part
    ):
        raise ValueError(f"{text!r} is no wire")
    name = "/".join("x".join(f"{float(one):.1f}" for one in part) for part in numbers)
    same = len(parts) == 3 and not blade and len(set(name.split("/"))) == 1
    return name.split("/")[0] if same else name
