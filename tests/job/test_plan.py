"""From a job's statements to the planned wheel: by hand alone, rim, stock, wire, and what is refused."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest

from hubsight.job import JobFileError, load_job
from hubsight.job.measure import measure_job
from hubsight.job.plan import plan_job, require_rim
from hubsight.wheel.wire import blade_area, round_area
from made_up import make_figure, make_side

BY_HAND = """\
[gauges.a]
length = [100.02, 100.0, 100.04]
[sides.drive]
[sides.drive.caliper]
flange_diameter = 47.1
boss_width = 8.4
protrusion = 93.9
end_to_flange = 52.1
[sides.non_drive]
[sides.non_drive.caliper]
reference_diameter = 35.2
boss_depth = 4.1
spoke_offset = 2.4
centre_to_flange = 33.5
[hub]
over_locknut = 142
[rim]
erd = [596.2, 596.6, 595.9, 596.4]
[wheel]
spokes = 24
crosses = 2
"""


@pytest.fixture
def planned(tmp_path):
    """Plan the wheel of a job by hand, after changes of its text."""

    def plan(*changes, text=BY_HAND, more=""):
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "job.toml").write_text(text + more)
        job = load_job(tmp_path, need_photos=False)
        require_rim(job)
        return plan_job(job, measure_job(job))

    return plan


def lengths_of(document):
    return [side.spoke_lengths for side in document.sides if side.spoke_lengths is not None]


def refusals(document):
    return {s.name: s.spoke_lengths_refusal for s in document.sides if s.spoke_lengths_refusal is not None}


def told(document):
    """Every sentence of the job's verdict."""
    return [reason.sentence for reason in document.verdict.reasons]


def length(R2, d, w, o, alpha):
    """The law of cosines in the wheel's plane, Pythagoras across it."""
    R, r, a = R2 / 2, d / 2, math.radians(alpha)
    return math.sqrt(R * R + r * r - 2 * R * r * math.cos(a) + w * w) + o


def test_readings_by_hand_alone_give_lengths(planned):
    document = planned().result
    erd = np.mean([596.2, 596.6, 595.9, 596.4])
    drive, other = document.side("drive").spoke_lengths, document.side("non_drive").spoke_lengths
    offset = 100.02 - 93.9 - 8.4 / 2
    assert drive.length.value == pytest.approx(length(erd, 47.1, 71 - 52.1, offset, 75), abs=1e-6)
    assert other.length.value == pytest.approx(length(erd, 35.2 + 8.2, 33.5, 2.4, 75), abs=1e-6)
    assert {figure.source.split(":")[0] for figure in drive.origin.figures} == {"by hand"}
    assert (drive.origin.bosses, drive.origin.kind) == (6, "paired")
    assert not refusals(document)
    assert [line.count for line in document.order] == [12, 12]


def test_a_slip_in_the_arithmetic_is_named_and_not_followed(planned):
    right = 100.02 - 93.9 - 8.4 / 2
    text = BY_HAND.replace("protrusion = 93.9", f"protrusion = 93.9\nspoke_offset = {right + 8.4 / 2:.2f}")
    document = planned(text=text).result
    (slip,) = [one for one in document.side("drive").arithmetic if one.quantity == "spoke_offset"]
    assert not slip.agrees
    assert "half width was not subtracted" in slip.slip
    assert document.side("drive").spoke_lengths.length.value == pytest.approx(
        planned().result.side("drive").spoke_lengths.length.value
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("protrusion = 93.9\n", "", "spoke offset"),
        ("flange_diameter = 47.1\n", "", "flange diameter"),
        ("end_to_flange = 52.1\n", "", "centre to flange"),
        ("crosses = 2\n", "", "crosses are not stated"),
        ("spokes = 24\n", "", "number of bosses"),
        ("crosses = 2\n", "crosses = 0\n", "radial bores and with pairs"),
        ("crosses = 2\n", "crosses = 5\n", "neighbouring boss"),
        ("spokes = 24\n", "spokes = 26\n", "number of bosses"),
        ("protrusion = 93.9\n", "protrusion = 39.9\n", "spoke offset 55.92 mm, which no hub has"),
        (
            "flange_diameter = 47.1\n",
            "flange_diameter = 23.5\n",
            "flange diameter 23.50 mm, which no hub has",
        ),
    ],
)
def test_what_is_missing_or_impossible_is_refused_with_the_reason(planned, old, new, words):
    refusal = planned((old, new)).result.side("drive").spoke_lengths_refusal
    assert words in refusal.sentence()
    assert refusal.remedy


def test_readings_that_do_not_go_with_what_was_worked_out_from_them_are_a_warning(planned):
    document = planned(("protrusion = 93.9\n", "protrusion = 39.9\nspoke_offset = 1.92\n")).result
    assert (
        "two digits of the protrusion are transposed" in document.side("drive").spoke_lengths_refusal.remedy
    )
    text = ("protrusion = 93.9\n", "protrusion = 93.9\nspoke_offset = 0.92\n")
    (said,) = [text for text in told(planned(text).result) if "settle that" in text]
    assert "drive side" in said
    assert "spoke offset of 0.92 mm" in said
    assert not any("settle that" in text for text in told(planned().result))


def test_an_unusual_offset_by_hand_is_a_warning(planned):
    assert any("unusual" in text for text in told(planned(("93.9", "83.9")).result))
    assert not any("unusual" in text for text in told(planned().result))


def test_without_a_rim_it_is_said_what_is_missing(planned):
    with pytest.raises(JobFileError, match=r"State erd in \[rim\]"):
        planned(("erd = [596.2, 596.6, 595.9, 596.4]", ""))


def test_more_readings_of_the_erd_make_the_length_surer(planned):
    several = planned().result
    single = planned(("[596.2, 596.6, 595.9, 596.4]", "596.275")).result
    assert several.wheel.erd.value == pytest.approx(single.wheel.erd.value)
    assert several.wheel.erd.u < single.wheel.erd.u
    assert several.side("drive").spoke_lengths.length.u < single.side("drive").spoke_lengths.length.u


def test_the_rim_is_told_as_it_went_in(planned):
    document = planned(more="", text=BY_HAND.replace("[wheel]", "offset = -2.5\n[wheel]")).result
    assert document.wheel.erd_readings == (596.2, 596.6, 595.9, 596.4)
    assert document.wheel.rim_offset == -2.5
    assert planned().result.wheel.rim_offset == 0.0


def test_rods_and_gaps_are_the_same_as_the_erd_that_they_make(planned):
    rods = "rods = [300.0, 200.0]\ngaps = [96.2, 96.6, 95.9, 96.4]"
    by_rods = planned(("erd = [596.2, 596.6, 595.9, 596.4]", rods)).result
    assert by_rods.wheel.erd.value == pytest.approx(planned().result.wheel.erd.value)


def test_seat_and_washers_move_the_erd(planned):
    seat = "seat_diameter = 592.0\nseat_to_slot = 2.0\nwasher = 0.5"
    assert planned(("erd = [596.2, 596.6, 595.9, 596.4]", seat)).result.wheel.erd.value == pytest.approx(
        597.0
    )


def test_a_rim_out_of_round_is_told(planned):
    said = told(planned(("596.2, 596.6, 595.9, 596.4", "595.0, 597.0")).result)
    assert any("out of round" in text for text in said)
    assert not any("out of round" in text for text in told(planned().result))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rods = [300, 200]\ngaps = 96\n", "more than one way"),
        ("bead_seat = 600\n", "600 is not known"),
    ],
)
def test_a_rim_stated_wrongly_is_refused(planned, text, words):
    with pytest.raises(JobFileError, match=words):
        planned(("[rim]\n", f"[rim]\n{text}"))


def test_bead_seat_that_cannot_be_is_told(planned):
    said = told(planned(("[rim]\n", "[rim]\nbead_seat = 559\n")).result)
    assert any("bead seat 559" in text for text in said)


def test_stock_lengths_are_the_only_ones_proposed(planned):
    document = planned(more="[spokes]\nstock_lengths = [301, 293, 297]\n").result
    for side in lengths_of(document):
        assert side.order.proposed in (293.0, 297.0, 301.0)
    too_short = planned(more="[spokes]\nstock_lengths = [280, 290]\n").result
    assert "no stated stock length reaches" in too_short.side("drive").spoke_lengths_refusal.sentence()
    assert not too_short.order


def test_cut_to_order_comes_in_finer_steps(planned):
    document = planned(more="[spokes]\ncut_to_order = true\n").result
    side = document.side("drive").spoke_lengths
    assert abs(side.order.choices[0].proposed.end) < 1.0
    lengths = [candidate.length for candidate in side.order.choices[0].candidates]
    assert np.diff(lengths).tolist() == [1.0] * (len(lengths) - 1)


def test_wire_decides_on_the_stretch(planned):
    plain = planned(more="[spokes]\nwire = 2.0\n").result.side("drive").spoke_lengths.order.stretch
    butted = (
        planned(more="[spokes]\nwire = [2.0, 1.5, 2.0]\nsegments = [15, 20]\n")
        .result.side("drive")
        .spoke_lengths
    )
    thin = (
        planned(more="[spokes]\nwire = 2.0\nblade = [2.2, 1.0]\nsegments = []\n")
        .result.side("drive")
        .spoke_lengths
    )
    value = butted.length.value
    share = 35 / value + (1 - 35 / value) * round_area(2.0) / round_area(1.5)
    assert butted.order.stretch / plain == pytest.approx(share, rel=1e-3)
    share = 35 / value + (1 - 35 / value) * round_area(2.0) / blade_area(2.2, 1.0)
    assert thin.order.stretch / plain == pytest.approx(share, rel=1e-3)


def test_tension_scales_the_stretch(planned):
    usual = planned().result.side("drive").spoke_lengths.order.stretch
    text = BY_HAND.replace("crosses = 2\n", "crosses = 2\ntension = 1200\n")
    assert planned(text=text).result.side("drive").spoke_lengths.order.stretch == pytest.approx(
        1.2 * usual, rel=1e-6
    )


def test_a_stated_window_is_the_one_used(planned):
    side = planned(more="[nipple]\nwindow = [-0.5, 3.0]\n").result.side("drive").spoke_lengths
    assert side.order.window == (-0.5, 3.0)


def test_a_taller_head_leaves_more_room(planned):
    usual = (
        planned(more='[spokes]\nthread = 12\n[nipple]\nkind = "slotted"\n').result.side("drive").spoke_lengths
    )
    tall = (
        planned(more='[spokes]\nthread = 12\n[nipple]\nkind = "tall_head"\n')
        .result.side("drive")
        .spoke_lengths
    )
    assert tall.order.window[1] > usual.order.window[1]


def test_stagger_gives_two_lengths(planned):
    side = planned(("[sides.drive]\n", "[sides.drive]\nstagger = 1.3\n")).result.side("drive").spoke_lengths
    outer, inner = side.sorts
    w = side.origin.figures[2].value
    assert outer.length.value - inner.length.value == pytest.approx(2 * 1.3 * w / 293.5, rel=0.02)


J_BEND = """\
[sides.drive]
centre_to_flange = 20
[sides.drive.j_bend]
holes = 16
hole_circle = 45
hole_diameter = 2.6
[rim]
erd = 602
[wheel]
spokes = 32
crosses = 3
"""


def test_j_bend_flanges_are_computed_too(planned):
    document = planned(text=J_BEND).result
    published = length(602, 45, 20, -1.3, 3 * 360 / 16)
    assert document.side("drive").spoke_lengths.length.value == pytest.approx(published, abs=1e-6)
    assert document.order[0].head == "J-bend"
    assert "inside the elbow" in document.order[0].measured


def test_j_bend_needs_centre_to_flange(planned):
    refusal = planned(("centre_to_flange = 20\n", ""), text=J_BEND).result.side("drive").spoke_lengths_refusal
    assert "centre to flange" in refusal.sentence()


TWO_TO_ONE = """\
[sides.drive]
bosses = 8
[sides.drive.caliper]
flange_diameter = 50
spoke_offset = 2
centre_to_flange = 18
[sides.non_drive]
kind = "radial"
bosses = 8
crosses = 0
[sides.non_drive.caliper]
flange_diameter = 44
spoke_offset = 3
centre_to_flange = 34
[rim]
erd = 600
[wheel]
spokes = 24
crosses = 2
"""


def test_two_to_one_needs_the_holes_pattern(planned):
    refused = refusals(planned(text=TWO_TO_ONE).result)
    assert "it would take" in refused["drive"].sentence()
    odd = refusals(planned(("[rim]\n", "[rim]\neven = false\n"), text=TWO_TO_ONE).result)
    assert "pattern is not stated" in odd["drive"].sentence()
    document = planned(("[rim]\n", '[rim]\nholes = "DND"\n'), text=TWO_TO_ONE).result
    assert not refusals(document)
    drive, other = document.side("drive").spoke_lengths, document.side("non_drive").spoke_lengths
    assert [line.count for line in document.order] == [16, 8]
    # Drive holes alternate 30 and 15 degrees apart, a boss centreline amid two that are 30 apart: the fourth
    # hole on lies 60 degrees from it.
    assert [sort.alpha for sort in drive.sorts] == pytest.approx([60.0])
    assert other.length.value == pytest.approx(length(600, 44, 34, 3, 0), abs=1e-6)


def test_a_first_hole_that_nothing_tells_leaves_both_lengths(planned):
    """Readings by hand know no direction: 60 or 52.5 degrees, as the holes are counted off along the rim."""

    def asked(result):
        return [r.sentence for r in result.verdict.reasons if "rim holes comes first" in r.sentence]

    row = ("[rim]\n", '[rim]\nholes = "DND"\n')
    (said,) = asked(planned(row, text=TWO_TO_ONE).result)
    for first, alpha in ((0, 60.0), (1, 52.5)):
        assert f"{length(600, 50, 18, 2, alpha):.1f} mm with first_hole = {first}" in said
    assert said.startswith("drive side: ")
    for first, alpha in ((0, 60.0), (1, 52.5)):
        text = TWO_TO_ONE.replace("bosses = 8\n", f"bosses = 8\nfirst_hole = {first}\n", 1)
        stated = planned(row, text=text).result
        assert not asked(stated)
        assert stated.side("drive").spoke_lengths.sorts[0].alpha == pytest.approx(alpha)


def test_the_row_of_holes_tells_how_many_bosses_each_side_has(planned):
    row, unstated = ("[rim]\n", '[rim]\nholes = "DND"\n'), TWO_TO_ONE.replace("bosses = 8\n", "")
    document = planned(row, text=unstated).result
    assert [document.side(name).spoke_lengths.origin.bosses for name in ("drive", "non_drive")] == [8, 8]


def test_holes_by_letters_and_by_angles_are_the_same(planned):
    letters = planned(("[rim]\n", '[rim]\nholes = "DND"\n'), text=TWO_TO_ONE).result
    angles = TWO_TO_ONE.replace("bosses = 8\n", "bosses = 8\nrim_holes = [0, 30]\nrim_holes_period = 45\n", 1)
    angles = angles.replace('kind = "radial"\n', 'kind = "radial"\nrim_holes = [15]\nrim_holes_period = 45\n')
    stated = planned(text=angles).result
    assert not refusals(stated)
    for side in stated.sides:
        name = side.name
        assert side.spoke_lengths.length.value == pytest.approx(letters.side(name).spoke_lengths.length.value)


@pytest.mark.parametrize(
    ("holes", "words"), [('"DXN"', "letters D and N"), ('"DNDND"', "does not divide"), ('"DD"', "no hole")]
)
def test_a_row_of_holes_that_is_none_is_refused(planned, holes, words):
    with pytest.raises(JobFileError, match=words):
        planned(("[rim]\n", f"[rim]\nholes = {holes}\n"), text=TWO_TO_ONE)


def test_photos_and_hand_agree_on_the_way_to_the_length(job_folder, fake_measurement):
    """With photos the length is the measurement's own, to the last digit."""
    job = load_job(job_folder)
    measured = measure_job(job, measure=fake_measurement)
    document = plan_job(job, measured).result
    for side in measured.sides:
        own = document.side(side.name).spoke_lengths
        assert own.length == side.spoke_lengths.length
        assert {figure.source for figure in own.origin.figures} == {"photos"}
    assert document.side("drive").spoke_lengths.length.warnings


def test_a_refused_side_is_taken_by_hand_with_a_warning(job_folder, fake_measurement, refusal):
    fake_measurement.answers["drive"] = refusal
    file = job_folder / "job.toml"
    bare = load_job(job_folder)
    measured = functools.partial(measure_job, measure=fake_measurement)
    document = plan_job(bare, measured(bare)).result
    assert document.side("drive").spoke_lengths_refusal == refusal
    text = file.read_text().replace(
        "[sides.non_drive]",
        "[sides.drive.caliper]\nflange_diameter = 47\nspoke_offset = 2\ncentre_to_flange = 20\n"
        "[sides.non_drive]",
    )
    file.write_text(text.replace("crosses = 2", "crosses = 2\nspokes = 24"))
    job = load_job(job_folder)
    document = plan_job(job, measured(job)).result
    assert document.side("drive").spoke_lengths.length.value > 250
    assert any("readings by hand alone" in text for text in told(document))


def with_ends(fake_measurement, u):
    """A measured side whose photos also show the end faces."""
    figures = {
        "flange_diameter": make_figure(47.0),
        "spoke_offset": make_figure(2.2, 0.05),
        "flange_height": make_figure(90.0, 0.2),
        "over_locknut": make_figure(142.6, 2 * u),
        "centre_to_flange": make_figure(18.7, u),
    }
    fake_measurement.answers["drive"] = make_side(figures=figures, photos=("IMG_1.jpg", "IMG_2.jpg"))


@pytest.mark.parametrize(("u", "centre"), [(0.1, 18.7), (0.6, 90 - 142 / 2)])
def test_the_surer_centre_to_flange_is_used(job_folder, fake_measurement, u, centre):
    with_ends(fake_measurement, u)
    job = load_job(job_folder)
    document = plan_job(job, measure_job(job, measure=fake_measurement)).result
    (used,) = [
        one for one in document.side("drive").spoke_lengths.origin.figures if one.name == "centre_to_flange"
    ]
    assert used.value == pytest.approx(centre)


def test_without_the_caliper_s_over_locknut_the_photos_own_is_used(job_folder, fake_measurement):
    with_ends(fake_measurement, 0.6)
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("over_locknut = 142", ""))
    job = load_job(job_folder)
    document = plan_job(job, measure_job(job, measure=fake_measurement)).result
    assert document.side("drive").spoke_lengths.origin.figures[2].value == pytest.approx(18.7)
    assert "centre to flange" in document.side("non_drive").spoke_lengths_refusal.sentence()


@pytest.mark.parametrize(("stated", "verdict"), [(142, "agrees"), (132.6, "disagrees")])
def test_the_over_locknut_is_double_checked_where_photos_show_it(
    job_folder, fake_measurement, stated, verdict
):
    with_ends(fake_measurement, 0.3)
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("over_locknut = 142", f"over_locknut = {stated}"))
    job = load_job(job_folder)
    document = plan_job(job, measure_job(job, measure=fake_measurement)).result
    (check,) = [check for check in document.checks if check.reading == "over_locknut"]
    assert check.verdict == verdict
    assert ("10 mm" in (check.slip or "")) == (verdict == "disagrees")


def test_what_follows_from_raw_readings_is_double_checked_too(job_folder, fake_measurement):
    with_ends(fake_measurement, 0.3)
    file = job_folder / "job.toml"
    raw = "[sides.drive.caliper]\nreference_diameter = 38.9\nboss_depth = 4.1\nend_to_flange = 52.2\n[hub]"
    file.write_text(file.read_text().replace("[hub]", raw))
    job = load_job(job_folder)
    checks = measure_job(job, measure=fake_measurement).checks
    stated = {check.reading: check.stated for check in checks if check.side == "drive"}
    assert stated["flange_diameter"] == pytest.approx(38.9 + 2 * 4.1)
    assert stated["centre_to_flange"] == pytest.approx(71 - 52.2)
    assert "reference_diameter" not in stated
