"""What a rim's readings tell, as sentences that screen and page share."""

from __future__ import annotations

from hubsight.job.file.rim_of_kit import rim_erd, rim_roundness
from hubsight.kit.model import KitRim


def rim_sentences(rim: KitRim) -> tuple[str, ...]:
    """Say what the readings tell of a rim, and what would tell more."""
    erd, found = rim_erd(rim), rim_roundness(rim)
    low, high = min(rim.diameters), max(rim.diameters)
    doubts = tuple(f"{sentence[:1].upper()}{sentence[1:]}." for sentence in erd.warnings)
    if found is None:
        more = "Three diameters or more, spread round the rim, would tell how round it is; four are better."
        return (*doubts, more)
    return (*doubts, f"From {low:.2f} to {high:.2f} mm round the rim; {found.sentence()}.")
