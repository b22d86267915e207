"""What figures and sides are called wherever a person reads them."""

from __future__ import annotations

from hubsight.model.side import FigureName

FIGURE_WORDS: dict[FigureName, str] = {
    "flange_diameter": "flange diameter",
    "boss_width": "boss width",
    "boss_width_across": "boss width across",
    "spoke_offset": "spoke offset",
    "spoke_offset_by_width": "offset by width (check)",
    "protrusion": "protrusion",
    "reach": "reach",
    "flange_height": "flange height",
    "centre_to_flange": "centre to flange",
    "over_locknut": "over-locknut",
}


SIDE_WORDS = {"drive": "Drive side", "non_drive": "Non-drive side"}
