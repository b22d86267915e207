"""Kit: gauges, printed targets, calipers, cameras and rims that are entered once and named by jobs."""

from hubsight.kit.model import KitCaliper, KitGauge, KitRim, KitTarget
from hubsight.kit.store import KINDS, Kit, KitError, KitItem, KitKind, save_item, user_kit_folder

__all__ = [
    "KINDS",
    "Kit",
    "KitCaliper",
    "KitError",
    "KitGauge",
    "KitItem",
    "KitKind",
    "KitRim",
    "KitTarget",
    "save_item",
    "user_kit_folder",
]
