"""Spoke lengths and the order from readings by hand alone: a caliper, a gauge spoke, two rods in the rim."""

from hubsight import (
    Build,
    Reading,
    RimGeometry,
    SideGeometry,
    Stock,
    centre_to_flange_from_end,
    diameter_from_reference,
    erd_from_readings,
    offset_by_width,
    order_list,
    plan_wheel,
)

# Every reading is a value and its standard uncertainty, mm.
over_locknut = Reading(141.95, 0.05)
rim = RimGeometry(erd=erd_from_readings([595.9, 596.1, 596.2, 595.8]).erd, spokes=24)


def side(name, *, gauge, protrusion, width, reference, depth, end_to_flange):
    """One side, worked out from what a caliper reaches."""
    offset = offset_by_width(Reading(gauge, 0.03), Reading(protrusion, 0.1), Reading(width, 0.1))
    diameter = diameter_from_reference(Reading(reference, 0.05), Reading(depth, 0.1))
    centre = centre_to_flange_from_end(over_locknut, Reading(end_to_flange, 0.1))
    for redone in (offset, diameter, centre):
        print(f"{name}: {redone.sentence()}")
    return SideGeometry(name, "paired", 6, 2, diameter.value, centre.value, offset.value)


sides = [
    side("drive", gauge=100.08, protrusion=93.90, width=8.42, reference=37.0, depth=5.1, end_to_flange=52.0),
    side(
        "non_drive", gauge=100.16, protrusion=94.19, width=8.31, reference=34.1, depth=5.0, end_to_flange=37.5
    ),
]
plan = plan_wheel(sides, rim, Build(stock=Stock(step=2.0)))
if not plan:
    raise SystemExit(plan.sentence())
for planned in plan.sides:
    mean, choice = planned.lengths.mean, planned.orders[0].choice
    print(f"{planned.geometry.name}: {mean.value:.2f} ± {mean.u:.2f} mm", end=", ")
    print(f"order {choice.proposed.length:g} mm{' (a close call)' if choice.close_call else ''}")
for line in order_list(plan):
    print(f"{line.side}: {line.count} + {line.spares} spokes of {line.length:g} mm, nipples {line.nipple}")
