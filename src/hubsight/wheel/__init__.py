"""From figures to spoke lengths and the order: pure arithmetic, no image in sight."""

from hubsight.model.stated import HolePattern
from hubsight.wheel.crosses import DrilledCrosses, drilled_crosses, expected_beta
from hubsight.wheel.geometry import RimGeometry, SideGeometry, j_bend_side, pattern_from_letters
from hubsight.wheel.length import (
    LengthResult,
    Sensitivities,
    SpokeLength,
    lateral_distance,
    sensitivities,
    side_length,
    straight_distance,
)
from hubsight.wheel.nipple import Nipple, Stock, Window, nipple_window
from hubsight.wheel.order import Build, WheelPlan, order_list, plan_wheel
from hubsight.wheel.wire import SpokeWire, bladed, butted, plain

__all__ = [
    "Build",
    "DrilledCrosses",
    "HolePattern",
    "LengthResult",
    "Nipple",
    "RimGeometry",
    "Sensitivities",
    "SideGeometry",
    "SpokeLength",
    "SpokeWire",
    "Stock",
    "WheelPlan",
    "Window",
    "bladed",
    "butted",
    "drilled_crosses",
    "expected_beta",
    "j_bend_side",
    "lateral_distance",
    "nipple_window",
    "order_list",
    "pattern_from_letters",
    "plain",
    "plan_wheel",
    "sensitivities",
    "side_length",
    "straight_distance",
]
