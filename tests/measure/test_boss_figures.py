"""What the mouth of the bore adds to the faces' edges, against drawing the errors at random."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.estimate.problem import Layout
from hubsight.measure.boss_figures import (
    FLANK_PULL_U_MM,
    MOUTH_U_MM,
    _contradiction,
    _Error,
    _flank_pull,
    _Weight,
)

ALIKE = [_Error("a", 0.10, 1, 0), _Error("b", 0.10, 0, 1), _Error("c", 0.08, 1, 1), _Error("d", 0.1, 1, -1)]
LEANING = [_Error("a", 0.10, 1, 0), _Error("b", 0.10, 0, 1), _Error("d", 0.3, 1, -1)]


def weight(errors):
    return _Weight.of(errors)


def drawn(errors, count=200_000):
    """True errors of the edges ahead and behind and of the mouth, (3, count), mm."""
    rng = np.random.default_rng(5)
    each = [e.u * rng.standard_normal(count) for e in errors]
    ahead = sum(e.ahead * x for e, x in zip(errors, each, strict=True))
    behind = sum(e.behind * x for e, x in zip(errors, each, strict=True))
    return ahead, behind, MOUTH_U_MM * rng.standard_normal(count)


@pytest.mark.parametrize("errors", [ALIKE, LEANING])
@pytest.mark.parametrize("share", [(1.0, 0.0), (1.0, 1.0), (0.5, -0.5)])
def test_the_budget_is_the_scatter_of_drawn_errors(errors, share):
    w = weight(errors)
    ahead, behind, mouth = drawn(errors)
    beyond = mouth - ahead
    miss = share[0] * (ahead + w.ahead * beyond) + share[1] * (behind + w.behind * beyond)
    stated = math.hypot(*(u for _, u in w.extra(errors, *share)))
    assert np.std(miss) == pytest.approx(stated, rel=0.01)


@pytest.mark.parametrize("errors", [ALIKE, LEANING])
def test_no_other_weight_would_leave_a_smaller_error(errors):
    w = weight(errors)
    ahead, behind, mouth = drawn(errors)
    beyond = mouth - ahead
    for own, step in ((ahead, w.ahead), (behind, w.behind)):
        best = np.std(own + step * beyond)
        assert all(np.std(own + (step + d) * beyond) > best for d in (-0.1, 0.1))


def test_the_face_behind_follows_a_leaning_boss_the_other_way():
    assert weight(LEANING).behind < -0.5


def test_an_edge_that_the_mouth_contradicts_gives_way():
    assert _contradiction(ALIKE, 0.2).u == 0.0
    contradicted = _contradiction(ALIKE, 1.0)
    assert contradicted.u > 0.8
    assert weight([*ALIKE, contradicted]).ahead > 0.95
    assert abs(weight([*ALIKE, contradicted]).behind) < 0.05


@pytest.mark.parametrize(("lens", "tangent"), [((-48.0, 3.0), 0.0), ((12.0, 83.0), 0.4)])
def test_flanks_pull_more_the_more_slantingly_a_photo_looks_at_the_hub(lens, tangent):
    # An unturned camera stands where its pose's shift, reversed, says.
    own = np.array([0.0, 0, 0, 0, 0, 0, -lens[0], -lens[1], -340.0])
    solution = SolutionOf(pattern=[-48.0, 3.0, 90.0, 0, 0, 24.0, 0.2], camera=np.zeros(8), photo0=own)
    seen = SimpleNamespace(solution=solution)
    assert _flank_pull(seen) == pytest.approx(FLANK_PULL_U_MM * tangent)


class SolutionOf:
    """Adjusted unknowns by name, without the adjustment."""

    def __init__(self, **unknowns):
        self.layout = Layout()
        for name, values in unknowns.items():
            self.layout.add(name, len(values))
        self.x = np.concatenate([np.asarray(values, float) for values in unknowns.values()])

    def __getitem__(self, name):
        return self.x[self.layout[name]]
