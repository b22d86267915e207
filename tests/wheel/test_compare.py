"""Which wheel is best at what."""

import pytest

from hubsight.wheel.compare import SAME, Wheel, best_wheels


def wheel(name, p_wrong=0.1, ratio=0.5, bracing=(4.0, 7.0), lengths=(290.0, 292.0)):
    return Wheel(name, p_wrong, ratio, bracing, lengths)


def best(*wheels):
    return {one.at: one for one in best_wheels(wheels)}


def test_each_is_marked_where_it_is_best_with_the_next_one_beside_it():
    found = best(
        wheel("a", p_wrong=0.01), wheel("b", ratio=0.6), wheel("c", bracing=(5.0, 6.0)), wheel("d", 0.2)
    )
    assert {at: one.wheels for at, one in found.items()} == {
        "risk": ("a",),
        "tension": ("b",),
        "bracing": ("c",),
    }
    assert "1.0 %" in found["risk"].sentence
    assert "the next has 10.0 %" in found["risk"].sentence
    assert "60 % of the other's; the next has 50 %" in found["tension"].sentence
    assert "5.0°" in found["bracing"].sentence
    assert "the next has 4.0°" in found["bracing"].sentence


@pytest.mark.parametrize(
    ("at", "field", "value", "same", "sign"),
    [("risk", "p_wrong", 0.1, SAME.risk, 1), ("tension", "ratio", 0.5, SAME.ratio, -1)],
)
def test_differences_that_say_nothing_mark_nobody(at, field, value, same, sign):
    near = best(wheel("a", **{field: value}), wheel("b", **{field: value + 0.9 * sign * same}))
    assert near[at].wheels == ()
    apart = best(wheel("a", **{field: value}), wheel("b", **{field: value + 1.1 * sign * same}))
    assert apart[at].wheels == ("a",)


def test_the_side_with_less_bracing_counts():
    found = best(wheel("a", bracing=(4.0, 9.0)), wheel("b", bracing=(4.0 + 1.1 * SAME.angle_deg, 5.0)))
    assert found["bracing"].wheels == ("b",)


def test_one_length_for_both_sides_is_told_where_not_all_have_it():
    same = wheel("a", lengths=(290.0, 290.0))
    assert best(same, wheel("b"))["one length"].sentence == "one length for both sides, 290 mm"
    assert "one length" not in best(same, wheel("b", lengths=(288.0, 288.0)))


def test_there_is_no_choice_of_one_and_no_tension_of_one_side():
    assert best_wheels([wheel("a")]) == ()
    one_sided = Wheel("a", 0.1, None, (4.0,), (290.0,))
    assert set(best(one_sided, wheel("b", p_wrong=0.3))) == {"risk"}
