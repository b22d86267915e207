"""Lengths typed as text: in mm, with a point or a comma, or in inches, also as a rule's fractions."""

from __future__ import annotations

import re
from dataclasses import dataclass

INCH_MM = 25.4
"""Millimetres in an inch (by definition, ISO 80000-3)."""

_NUMBER = r"[-+]?\d+(?:[.,]\d*)?|[-+]?[.,]\d+"
"""A number with a decimal point or comma."""
_INCH = r"\s*(?:\"|″|in|inch|inches)"
"""The units of inches."""
_DENOMINATORS = (2, 4, 8, 16, 32, 64, 128)
"""Of the fractions that rules and calipers show."""


@dataclass(frozen=True)
class Typed:
    """A length typed as text.

    Attributes
    ----------
    mm
        Itself, in mm.
    half_division_mm
        Half the division that a fraction was read to, mm; 0 for decimals, whose instruments read finer.
    """

    mm: float
    half_division_mm: float = 0.0


def typed_length(text: str) -> Typed | None:
    """Return what a text such as ``119,82 mm`` or ``3 15/16 in`` says; None if it is no length."""
    text = text.strip()
    if plain := re.fullmatch(rf"({_NUMBER})\s*(?:mm)?", text, re.IGNORECASE):
        return Typed(_decimal(plain.group(1)))
    if fraction := re.fullmatch(rf"(-?)(?:(\d+)[\s-]+)?(\d+)\s*/\s*(\d+){_INCH}", text, re.IGNORECASE):
        sign, whole, top, bottom = fraction.groups()
        if int(bottom) not in _DENOMINATORS or int(top) >= int(bottom):
            return None
        value = int(whole or 0) + int(top) / int(bottom)
        return Typed((-1 if sign else 1) * value * INCH_MM, INCH_MM / int(bottom) / 2)
    decimal = re.fullmatch(rf"({_NUMBER}){_INCH}", text, re.IGNORECASE)
    return Typed(_decimal(decimal.group(1)) * INCH_MM) if decimal else None


def _decimal(digits: str) -> float:
    return float(digits.replace(",", "."))
