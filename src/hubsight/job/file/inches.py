"""Lengths typed in inches, as decimals or as a rule's fractions."""

from __future__ import annotations

import re
from dataclasses import dataclass

INCH_MM = 25.4

_UNIT = r"\s*(?:\"|″|in|inch|inches)"
_DECIMAL = re.compile(rf"(-?\d+(?:[.,]\d*)?|-?[.,]\d+){_UNIT}", re.IGNORECASE)
_FRACTION = re.compile(rf"(-?)(?:(\d+)[\s-]+)?(\d+)\s*/\s*(\d+){_UNIT}", re.IGNORECASE)
_DENOMINATORS = (2, 4, 8, 16, 32, 64, 128)
"""Of the fractions that rules and calipers show."""


@dataclass(frozen=True)
class Inches:
    """A length typed in inches.

    Attributes
    ----------
    mm
        The same in mm.
    half_division_mm
        Half the division that a fraction was read to, mm; 0 for decimals, whose instruments read finer.
    """

    mm: float
    half_division_mm: float = 0.0


def inches(text: str) -> Inches | None:
    """Return what a text such as ``3 15/16 in``, ``15/16"`` or ``3.937 in`` says; None if it is no such."""
    text = text.strip()
    fraction = _FRACTION.fullmatch(text)
    if fraction:
        sign, whole, top, bottom = fraction.groups()
        if int(bottom) not in _DENOMINATORS or int(top) >= int(bottom):
            return None
        value = int(whole or 0) + int(top) / int(bottom)
        return Inches((-1 if sign else 1) * value * INCH_MM, INCH_MM / int(bottom) / 2)
    decimal = _DECIMAL.fullmatch(text)
    return Inches(float(decimal.group(1).replace(",", ".")) * INCH_MM) if decimal else None
