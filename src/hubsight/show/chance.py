"""How probabilities are said."""

from __future__ import annotations


def percent(probability: float) -> str:
    """Say a probability; computed ones are never certain."""
    if probability < 0.001:
        return "under 0.1 %"
    return f"{100 * probability:.1f} %" if probability <= 0.999 else "over 99.9 %"
