"""The likeliest cause of a built wheel whose ends lie elsewhere: each slip, planted, is named."""

import dataclasses

import numpy as np
import pytest

from hubsight.model.stated import Reading
from hubsight.wheel import RimGeometry, SideGeometry, side_length
from hubsight.wheel.causes import BuiltEnds, likely_causes, pointed_at

RIM = RimGeometry(Reading(596.0, 0.25), 24, offset=Reading(-2.5, 0.1))
HUB = (
    SideGeometry("drive", "paired", 6, 2, Reading(47.0, 0.1), Reading(18.9, 0.1), Reading(2.2, 0.1)),
    SideGeometry("non_drive", "paired", 6, 2, Reading(43.4, 0.1), Reading(33.5, 0.1), Reading(2.4, 0.1)),
)
NOTED = (296.0, 297.0)
SITS = (Reading(0.65, 0.1), Reading(0.45, 0.07))
WASHER = 0.8


def lengths(hub=HUB, rim=RIM):
    return [side_length(side, rim).mean.value for side in hub]


def built(true_hub=HUB, true_rim=RIM, true_spokes=NOTED, more=(0.0, 0.0)):
    """Where the ends lie in the wheel as it really is, reckoned with the hub, rim and spokes as stated."""
    sides = []
    for k, side in enumerate(HUB):
        stated = side_length(side, RIM).mean
        needed = side_length(true_hub[k], true_rim).mean.value
        observed = true_spokes[k] + SITS[k].value - needed + more[k]
        u_end = float(np.sqrt(stated.u**2 + SITS[k].u ** 2 + 0.15**2))
        sides.append(
            BuiltEnds(
                geometry=side,
                length=NOTED[k],
                computed=stated.value,
                predicted=Reading(NOTED[k] + SITS[k].value - stated.value, u_end),
                observed=Reading(observed, 0.12),
                sits=SITS[k],
                slope=stated.sensitivities.erd,
                step=2.0,
            )
        )
    return sides


def of_hub(**changes):
    return tuple(dataclasses.replace(side, **changes) for side in HUB)


EXCHANGED = (
    dataclasses.replace(HUB[1], name="drive"),
    dataclasses.replace(HUB[0], name="non_drive"),
)
SLIPS = {
    "the ERD is about 3.0 mm larger": {"true_rim": dataclasses.replace(RIM, erd=Reading(599.0, 0.0))},
    "the ERD is about 3.0 mm smaller": {"true_rim": dataclasses.replace(RIM, erd=Reading(593.0, 0.0))},
    "the spoke offset of the drive side is about 1.2 mm smaller": {"more": (1.2, 0.0)},
    "the spoke offset of the non-drive side is about 1.2 mm larger": {"more": (0.0, -1.2)},
    "the spokes of the drive side are of 298 mm, not 296 mm": {"true_spokes": (298.0, 297.0)},
    "the wheel is laced with 1 cross on both sides": {"true_hub": of_hub(crosses=1)},
    "the spokes of the two sides are exchanged": {"true_spokes": (297.0, 296.0)},
    "drive and non-drive side of the hub are exchanged": {"true_hub": EXCHANGED},
}


@pytest.mark.parametrize("words", SLIPS)
def test_a_slip_is_named(words):
    causes = likely_causes(built(**SLIPS[words]), RIM)
    assert sum(cause.probability for cause in causes) == pytest.approx(1.0)
    assert words in pointed_at(causes)


def test_washers_that_were_left_out_and_signs_that_were_mixed_up_are_named():
    out = dataclasses.replace(RIM, erd=Reading(596.0 - 2.0 * WASHER, 0.0))
    said = pointed_at(likely_causes(built(true_rim=out), RIM, WASHER))
    assert "the washers of 0.8 mm that were stated are not in the wheel" in said
    far = built(true_rim=dataclasses.replace(RIM, erd=Reading(593.5, 0.25)))
    turned = [
        dataclasses.replace(
            side,
            predicted=Reading(side.observed.value, side.predicted.u),
            observed=Reading(-side.observed.value, 0.12),
        )
        for side in far
    ]
    assert "wrong sign" in pointed_at(likely_causes(turned, RIM))


def test_a_wheel_as_computed_is_chance():
    first = likely_causes(built(), RIM)[0]
    assert first.sentence.startswith("chance")
    assert first.probability > 0.5


def test_of_many_right_wheels_few_are_accused():
    """Of 300 right wheels whose ends are drawn from what is stated, a cause beats chance in few."""
    rng = np.random.default_rng(8)
    accused = 0
    for _ in range(300):
        right = built()
        shared = rng.normal(0.0, 0.25), rng.normal(0.0, 1.0)
        sides = []
        for side in right:
            rest = side.predicted.u**2 - (side.slope * 0.25) ** 2 - side.sits.u**2 + side.observed.u**2
            moved = side.slope * shared[0] + side.sits.u * shared[1] + rng.normal(0.0, np.sqrt(rest))
            observed = Reading(side.predicted.value + moved, side.observed.u)
            sides.append(dataclasses.replace(side, observed=observed))
        accused += not likely_causes(sides, RIM)[0].sentence.startswith("chance")
    assert accused <= 15


def test_one_side_alone_is_weighed_too():
    (drive, _) = built(true_spokes=(298.0, 297.0))
    said = pointed_at(likely_causes([drive], RIM))
    assert "298 mm" in said or "ERD" in said
