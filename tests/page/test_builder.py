"""The builder's rooms of the page: rims, drawer, wheels compared, built wheels."""

import datetime
import re
import shutil
import tomllib

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import JobFileError, load_job
from hubsight.job.file.edit import set_fields
from hubsight.job.measure import measure_job
from hubsight.job.plan import plan_job
from hubsight.kit import Kit, KitRim, save_item
from hubsight.kit.drawer import DrawerLot, load_drawer
from hubsight.page.drawer_desk import take_out
from hubsight.page.form import set_typed
from hubsight.page.jobs import create_wheel, identifier
from hubsight.page.stated import read_stated
from hubsight.page.what_if import REPLACED, Choices, Chosen, as_text, compare_here, wheels_of

from .conftest import wait_for
from .test_card import BY_HAND

DRAWER = f"/drawer/{identifier('drawer')}"
LIGHT = {"name": "light", "erd": "596.1 595,8 596.2 595.9", "holes": "24", "nipple": "slotted"}


@pytest.fixture
def hub(tmp_path):
    """A job of readings by hand, with two rims of its own kit."""
    folder = tmp_path / "hub"
    folder.mkdir()
    (folder / "job.toml").write_text(BY_HAND)
    day = datetime.date(2026, 3, 1)
    save_item(KitRim(date=day, erd=(560.1, 560.3), holes=24), "rim", "deep", folder / "kit")
    save_item(KitRim(date=day, erd=(596.1, 595.9), washer=(0.6,)), "rim", "light", folder / "kit")
    return folder


def planned(folder):
    job = load_job(folder, need_photos=False)
    return plan_job(job, measure_job(job)).result


# ---- rims


def test_a_rim_is_kept_as_the_command_keeps_it(owner):
    assert owner.post("/rims", LIGHT).status == 200
    rim, _ = Kit.beside(None).load("rim", "light")
    assert rim.erd == (596.1, 595.8, 596.2, 595.9)
    page = owner.get("/rims").body.decode()
    said = CliRunner().invoke(app, ["kit", "rim", "light"]).stdout.splitlines()
    assert said[1] in page, "the page says of a rim what the command says"
    picture = owner.get(f"/rims/{identifier('light')}/picture.svg")
    assert picture.status == 200
    assert b"valve hole" in picture.body


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"name": ""}, "name", "needs a name"),
        ({"name": "a/b"}, "", "cannot be a name"),
        ({"erd": ""}, "erd", "Type the ERD"),
        ({"erd": "round"}, "erd", "not a number"),
        ({"erd": "50"}, "", "not between"),
        ({"holes": "200"}, "holes", "72"),
        ({"at": "1 4"}, "at", "one spoke hole for each reading"),
        ({"nipple": "square"}, "nipple", "none of the choices"),
    ],
)
def test_a_slip_in_a_rim_is_told_at_its_field_and_nothing_is_kept(owner, changed, field, words):
    answer = owner.post("/rims", LIGHT | changed)
    assert answer.status == 422
    assert answer.json["field"] == field
    assert words in answer.json["error"]
    assert "--" not in answer.json["error"]
    assert Kit.beside(None).files("rim") == {}


def test_a_rim_of_the_same_name_is_kept_only_when_asked(owner):
    owner.post("/rims", LIGHT)
    assert "already" in owner.post("/rims", LIGHT | {"erd": "600"}).json["error"]
    assert owner.post("/rims", LIGHT | {"erd": "600", "replace": "yes"}).status == 200
    assert Kit.beside(None).load("rim", "light")[0].erd == (600.0,)


def test_a_rim_chosen_by_name_takes_the_place_of_what_was_typed_and_the_other_way_round(hub):
    set_typed(hub, {"rim.kit": "deep"})
    assert read_stated(hub, ("rim.kit", "rim.erd")) == {"rim.kit": "deep", "rim.erd": ""}
    assert planned(hub).wheel.erd.value == pytest.approx(560.2)
    set_typed(hub, {"rim.erd": "601"})
    assert read_stated(hub, ("rim.kit", "rim.erd")) == {"rim.kit": "", "rim.erd": "601"}
    assert planned(hub).wheel.erd.value == pytest.approx(601.0)


# ---- what if


def test_every_combination_with_the_job_s_own_is_a_wheel():
    choices = Choices(rims=("deep", "light"), crosses=(1.0,), tension=(900.0, 1100.0))
    assert len(wheels_of(choices, own_rim=True)) == 3 * 2 * 3 - 1
    assert len(wheels_of(choices, own_rim=False)) == 2 * 2 * 3
    assert wheels_of(Choices(), own_rim=True) == ()


def test_names_say_what_differs_and_are_never_too_long():
    every = Chosen("a rim with a very long name of its own indeed", 3.0, 0.6, 1100.0, 14.0, "tall_head")
    assert every.words.endswith("3x, washer 0.6, 14 mm tall head nipple, 1100 N")
    assert Chosen("deep", 1.0).words == "deep, 1x"
    wheels = (Chosen("x" * 40, 1.0), Chosen("x" * 39, 1.0))
    assert len(tomllib.loads(as_text(wheels, {}))) == 2, "names that are cut stay apart"


@pytest.mark.parametrize(
    "wheel",
    [
        Chosen("deep"),
        Chosen("light", washer=1.0),
        Chosen("light", crosses=1.0),
        Chosen(crosses=1.0),
        Chosen(tension=900.0),
        Chosen("deep", kind="tall_head", length=14.0),
        Chosen(washer=0.8),
    ],
)
def test_a_wheel_that_is_taken_over_is_the_one_that_was_compared(hub, wheel):
    """The comparison plans it from what was chosen, the job from what was then written: two ways."""
    set_fields(hub, {"nipple.kind": "slotted", "sides.drive.crosses": 2})
    measured = measure_job(load_job(hub, need_photos=False))
    found, problems = compare_here(hub, measured, as_text((wheel,), {"kind": "slotted"}))
    assert problems == ()
    compared = found.wheels[1]
    set_fields(hub, wheel.fields(read_stated(hub, REPLACED)))
    now = planned(hub)
    for side, other in zip(compared.sides, now.sides, strict=True):
        assert side.length == pytest.approx(other.spoke_lengths.length.value, abs=1e-9)
        assert side.u == pytest.approx(other.spoke_lengths.length.u, abs=1e-9)
        assert side.tension == pytest.approx(other.spoke_lengths.order.tension)
    assert compared.p_wrong == pytest.approx(now.wheel.p_wrong, abs=1e-9)


def test_what_cannot_be_built_is_told_by_the_wheel_s_name(hub):
    measured = measure_job(load_job(hub, need_photos=False))
    found, problems = compare_here(hub, measured, as_text((Chosen("gone"),), {}))
    assert found is None
    assert problems[0].startswith("gone: there is no rim")
    assert "hubsight" not in problems[0]


def test_comparing_before_measuring_says_what_to_do(owner, job):
    answer = owner.post(f"{job}/what-if")
    assert answer.status == 409
    assert "Measure the photos first" in answer.json["error"]


def test_choices_are_kept_with_the_job(owner, job):
    address = f"{job}/fields"
    assert owner.post(address, {"what-if.crosses": "1  3"}).json["values"] == {"what-if.crosses": "1  3"}
    assert owner.post(address, {"what-if.crosses": "1.5"}).status == 422
    assert owner.post(address, {"what-if.rim.gone": "true"}).status == 200
    assert owner.post(address, {"what-if.nothing": "1"}).status in (400, 422)


# ---- the drawer


def test_spokes_go_in_and_out_and_through_a_list(owner):
    lot = {"length": "294,5", "count": "12", "wire": "2.0/1.8/2.0", "head": "straight-pull"}
    assert owner.post(f"{DRAWER}/put", lot).status == 200
    assert owner.post(f"{DRAWER}/take", lot | {"count": "5"}).status == 200
    answer = owner.post(f"{DRAWER}/take", lot | {"count": "9"})
    assert answer.status == 422
    assert answer.json["error"].startswith("There are 7 of 294.5 mm in the drawer, not 9")
    assert "hubsight" not in answer.json["error"]
    csv = owner.get(f"{DRAWER}/spokes.csv").body.decode()
    assert csv.splitlines()[1] == "294.5,7,2.0/1.8/2.0,straight-pull"
    assert owner.post(f"{DRAWER}/csv", {"csv": csv, "add": "yes"}).status == 200
    assert load_drawer(Kit.beside(None), "drawer")[0].spokes == 14
    assert owner.post(f"{DRAWER}/csv", {"csv": "nonsense"}).status == 422
    assert owner.post(f"{DRAWER}/csv", {"csv": csv}).status == 200
    assert load_drawer(Kit.beside(None), "drawer")[0].spokes == 7
    assert b"294.5" in owner.get("/drawer").body


@pytest.mark.parametrize(
    "typed", [{}, {"length": "294"}, {"length": "x", "count": "1"}, {"length": "294", "count": "0"}]
)
def test_what_is_no_spoke_does_not_go_in(owner, typed):
    assert owner.post(f"{DRAWER}/put", typed).status == 422
    assert b"It is empty" in owner.get("/drawer").body


def test_a_wheel_takes_its_spokes_out_once(hub, tmp_path, owner):
    for length in (295, 296, 297, 298, 299):
        owner.post(f"{DRAWER}/put", {"length": str(length), "count": "20", "wire": "2.0"})
    set_typed(hub, {"spokes.drawer": "drawer", "spokes.stock_step": "1"})
    measured = measure_job(load_job(hub, need_photos=False))
    before = load_drawer(Kit.beside(None), "drawer")[0].spokes
    assert take_out(hub, measured, "drawer") == ""
    held = load_drawer(Kit.beside(None), "drawer")[0]
    assert before - held.spokes == 24 == sum(lot.count for lot in held.booked[0].lots)
    assert all(isinstance(lot, DrawerLot) for lot in held.booked[0].lots)
    assert "took its spokes" in take_out(hub, measured, "drawer")


# ---- built wheels


def test_built_wheels_are_shown_as_the_command_says_them(owner, bench):
    file = bench.shelf / "first" / "job.toml"
    was = file.read_text()
    try:
        file.write_text(BY_HAND + "[built.drive]\nlength = 296\nends = [0.1, 0.3, 0.2]\n")
        page = " ".join(owner.get("/built").body.decode().split())
        said = CliRunner().invoke(app, ["built", str(bench.shelf)]).stdout.splitlines()[0]
        assert " ".join(said.split())[:60] in page
        picture = owner.get("/built/nipple/picture.svg")
        assert picture.status == 200
        assert b"observed less predicted" in picture.body
        assert owner.get("/built/colour/picture.svg").status == 404
    finally:
        file.write_text(was)
    assert b"No wheel is noted yet" in owner.get("/built").body
    assert owner.get("/built/rim/picture.svg").status == 404


def test_strangers_see_none_of_it(bench, job):
    for what in ("what-if", "what-if/take", "drawer", "another"):
        assert bench.stranger().post(f"{job}/{what}").status == 401
    for address in ("/rims", "/drawer", "/built", f"{DRAWER}/spokes.csv"):
        assert bench.stranger().get(address).status == 401
    for address in ("/rims", f"{DRAWER}/put"):
        assert bench.stranger().post(address, LIGHT).status == 401


# ---- another wheel on the same hub


def opened(owner, job):
    """Open a job, and wait until it is planned."""
    owner.get(f"/job/{job}")
    return wait_for(lambda: (s := owner.get(f"/job/{job}/state").json) and not s["doing"] and s)


@pytest.fixture
def wheel(owner, bench, job):
    """A wheel on the hub of the first job, which is one of readings by hand."""
    file = bench.shelf / "first" / "job.toml"
    was = file.read_text()
    file.write_text(BY_HAND)
    made = create_wheel(bench.shelf, "second", bench.shelf / "first")
    yield made
    file.write_text(was)
    shutil.rmtree(bench.shelf / "second")


def test_a_wheel_on_another_job_s_hub_is_planned_when_it_is_opened(owner, bench, wheel):
    owner.post(f"/job/{wheel}/fields", {"rim.erd": "580", "wheel.spokes": "24", "wheel.crosses": "2"})
    assert opened(owner, wheel)["measured"]
    page = owner.get(f"/job/{wheel}").body.decode()
    assert "The hub of this wheel is that of another job" in page
    assert f'href="/job/{identifier("first")}"' in page
    assert (
        'href="#photos"'
        not in page.partition("<main")[0].partition('class="steps"')[2].partition("</nav>")[0]
    )
    part = owner.get(f"/job/{wheel}/part/wheel").body.decode()
    job = load_job(bench.shelf / "second", need_photos=False)
    order = plan_job(job, measure_job(load_job(bench.shelf / "first", need_photos=False))).result.order
    assert [f"{line.length:g}" for line in order] == re.findall(r'data-label="length, mm">(\d+)<', part)
    assert "Over-locknut" not in owner.get(f"/job/{wheel}/part/plan").body.decode()
    status = owner.get(f"/job/{wheel}/part/status").body.decode()
    assert "Hub of the job “first”" in status
    assert "Photos" not in status
    assert "hub.job" not in status


def test_a_hub_that_was_never_measured_is_told_in_one_sentence(owner, bench, wheel, small_photo):
    file = bench.shelf / "first" / "job.toml"
    file.write_text('[gauges.a]\nlength = 100\n[sides.drive]\nphotos = "drive/*"\n[rim]\nerd = 600\n')
    (bench.shelf / "first" / "drive").mkdir(exist_ok=True)
    photo = bench.shelf / "first" / "drive" / "a.jpg"
    photo.write_bytes(small_photo)
    try:
        owner.post(f"/job/{wheel}/fields", {"rim.erd": "580"})
        opened(owner, wheel)
        status = owner.get(f"/job/{wheel}/part/status").body.decode()
        assert "The hub of the job “first” is not measured yet" in status.replace("&#34;", '"').replace(
            '"first"', "“first”"
        )
    finally:
        photo.unlink()
        file.write_text(BY_HAND)


def test_its_report_needs_the_hub_s_record_and_says_so(owner, wheel):
    owner.post(f"/job/{wheel}/fields", {"rim.erd": "580"})
    opened(owner, wheel)
    answer = owner.post(f"/job/{wheel}/report")
    assert answer.status == 422
    assert "Open the job “first”, and write its report first" in answer.json["error"]
    assert "hubsight" not in answer.json["error"]


def test_the_list_says_on_which_hub_a_wheel_is(owner, wheel):
    assert "wheel on the hub of first" in owner.get("/").body.decode()


def test_a_rim_of_the_kit_says_how_many_spokes_there_are(owner, wheel):
    """Nothing that the rim says is asked for again."""
    owner.post("/rims", LIGHT)
    owner.post(f"/job/{wheel}/fields", {"rim.kit": "light", "wheel.crosses": "2"})
    opened(owner, wheel)
    status = owner.get(f"/job/{wheel}/part/status").body.decode()
    assert "number of spokes is missing" not in status
    assert "ERD of the rim is missing" not in status


@pytest.mark.parametrize(
    ("address", "body"),
    [
        ("what-if/take", {"number": 0}),
        ("what-if/take", {"number": "0"}),
        ("what-if/take", {"number": -1}),
        ("what-if/take", {}),
        ("drawer", {}),
        ("another", {"title": "x"}),
    ],
)
def test_what_cannot_be_done_yet_changes_nothing(owner, bench, job, address, body):
    before = sorted(path.name for path in bench.shelf.iterdir())
    was = (bench.shelf / "first" / "job.toml").read_text()
    assert owner.post(f"{job}/{address}", body).status in (400, 409, 422)
    assert (bench.shelf / "first" / "job.toml").read_text() == was
    assert sorted(path.name for path in bench.shelf.iterdir()) == before


@pytest.mark.parametrize("title", ["", "../up", "first"])
def test_a_wheel_s_job_has_a_name_of_its_own_and_stays_on_the_shelf(bench, title):
    if title == "../up":
        made = create_wheel(bench.shelf, title, bench.shelf / "first")
        assert made == identifier("up")
        shutil.rmtree(bench.shelf / "up")
        return
    with pytest.raises(JobFileError):
        create_wheel(bench.shelf, title, bench.shelf / "first")
