"""Reading job files: what they state, and what is said of errors in them."""

import datetime
import re

import pytest

from hubsight.job import JobFileError, load_job
from hubsight.job.file.starter import STARTER_TEXT, write_starter
from hubsight.kit import KitRim, save_item
from hubsight.kit.drawer import KitDrawer, save_drawer
from hubsight.model.stated import Reading

JOB = """\
[target]
paper = "letter"
bar_x = [119.5, 119.48, 119.52]

[gauges.long]
length = 100.05
tip = "nipple"
[gauges.short]
length = { value = 98.0, u = 0.02 }

[sides.drive]
photos = "drive/*.jpg"
gauges = ["long", "short"]
flange_height = 89.8
block_thickness = 10
[sides.drive.caliper]
boss_width = 8.4

[sides.non_drive]
photos = ["non_drive/b.JPG", "non_drive/a.JPG"]
gauges = "short"
crosses = 1

[hub]
over_locknut = 142
[rim]
erd = [596, 597]
[wheel]
spokes = 24
crosses = 2
"""


@pytest.fixture
def folder(tmp_path):
    for name in ("drive/one.jpg", "drive/TWO.JPG", "drive/notes.txt", "drive/.hidden.jpg"):
        (tmp_path / "drive").mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "non_drive").mkdir()
    for name in ("a.JPG", "b.JPG"):
        (tmp_path / "non_drive" / name).write_bytes(b"")
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path


def complaints(folder, text=None, *, old="", new=""):
    """Return the sentences about a job file, or about the good one after a change."""
    changed = JOB.replace(old, new) if text is None else text
    assert changed != JOB
    (folder / "job.toml").write_text(changed)
    with pytest.raises(JobFileError) as caught:
        load_job(folder)
    return str(caught.value)


def line_with(text, words):
    return next(number for number, line in enumerate(text.splitlines(), 1) if words in line)


def test_everything_stated_arrives(folder):
    job = load_job(folder / "job.toml")
    drive, non_drive = job.sides
    assert job.target.paper == "letter"
    assert job.target.bar_x.value == pytest.approx(119.5)
    assert job.target.bar_y is None
    assert [photo.name for photo in drive.stated.photos] == ["TWO.JPG", "one.jpg"]
    assert [gauge.tip for gauge in drive.stated.gauges] == ["nipple", "flat"]
    assert drive.stated.gauges[1].length == Reading(98.0, 0.02)
    assert drive.stated.flange_height.value == 89.8
    assert drive.stated.gauge_height_at_end is None
    assert drive.stated.block_thickness == 10
    assert list(drive.stated.caliper) == ["boss_width"]
    assert drive.wheel.crosses == 2
    assert non_drive.wheel.crosses == 1
    assert non_drive.wheel.spokes == 24
    assert non_drive.wheel.erd.value == 596.5
    assert [photo.name for photo in non_drive.stated.photos] == ["b.JPG", "a.JPG"]


def test_uncertainties_are_those_of_the_design(folder):
    heights = "gauge_height_at_boss = 88.3\ngauge_height_at_end = 82.5\nflange_height = 89.8"
    (folder / "job.toml").write_text(JOB.replace("flange_height = 89.8", heights))
    side = load_job(folder).sides[0].stated
    assert side.flange_height.u == pytest.approx(0.2)
    assert side.gauge_height_at_boss.u == pytest.approx(0.3)
    assert side.gauge_height_at_end.u == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ('paper = "letter"', 'paper = "leter"', "target.paper", 'Did you mean "letter"?'),
        ("tip =", "tipp =", "gauges.long.tipp", 'Did you mean "tip"?'),
        (
            "boss_width = 8.4",
            "bosswidth = 8.4",
            "sides.drive.caliper.bosswidth",
            'Did you mean "boss_width"?',
        ),
        ("length = 100.05", "length = 10.05", "gauges.long.length", "not between 30 and 310"),
        ("length = 100.05", "length = []", "gauges.long.length", "nothing is filled in"),
        ("length = 100.05", 'length = "a hundred"', "gauges.long.length", "is not a number"),
        ('"drive/*.jpg"', '"drve/*.jpg"', "sides.drive.photos", 'no photo matches "drve/*.jpg"'),
        ("b.JPG", "bb.JPG", "sides.non_drive.photos", "Did you mean"),
        ("non_drive/b.JPG", "../b.JPG", "sides.non_drive.photos", "outside the job folder"),
        ("non_drive/b.JPG", "/etc/b.JPG", "sides.non_drive.photos", "outside the job folder"),
        ("non_drive/b.JPG", "drive/one.jpg", "sides.non_drive.photos", "also a photo of sides.drive"),
        ("non_drive/b.JPG", "non_drive/a.JPG", "sides.non_drive.photos", "named twice"),
        ('"drive/*.jpg"', '"*/one.jpg"', "sides.drive.photos", "wildcard in the folder"),
        ('gauges = "short"', 'gauges = "shor"', "sides.non_drive.gauges", 'Did you mean "short"?'),
        ('gauges = "short"\n', "", "sides.non_drive.gauges", "which gauge"),
        ('["long", "short"]', '["long", "short", "long"]', "sides.drive.gauges", "3 are too many"),
        ("spokes = 24", "spokes = 24.5", "wheel.spokes", "not a whole number"),
        ("spokes = 24", "spokes = 240", "wheel.spokes", "at most 72"),
        ("crosses = 2", "crosses = -1", "wheel.crosses", "at least 0"),
        (
            "crosses = 2",
            "crosses = 2.5",
            "wheel.crosses",
            "2.5 crosses: a spoke crosses another one or does not",
        ),
        ("block_thickness = 10", "block_thickness = -2", "sides.drive.block_thickness", "at least 0"),
        ("[hub]\n", "[hubb]\n", "hubb", 'Did you mean "hub"?'),
        (
            "[wheel]\n",
            '[camera]\nprofile = "no.json"\n[wheel]\n',
            "camera.profile",
            'there is no file "no.json"',
        ),
        ("[119.5, 119.48, 119.52]", "108.0", "target.bar_x", "10 %"),
    ],
)
def test_an_error_names_line_field_and_remedy(folder, old, new, place, words):
    said = complaints(folder, old=old, new=new)
    sentence = next(line for line in said.splitlines() if f", {place}: " in line)
    assert words in sentence
    assert sentence.startswith("job.toml, line ")
    number = int(sentence.split()[2].rstrip(","))
    table, _, name = place.rpartition(".")
    line = JOB.replace(old, new).splitlines()[number - 1]
    assert line.startswith((f"{name} =", f"[{place}]", f"[{table}]"))


def test_a_field_that_is_missing_is_named_at_its_table(folder):
    said = complaints(folder, old='photos = "drive/*.jpg"\n', new="")
    assert f"line {line_with(JOB, '[sides.drive]')}, sides.drive.photos: this is missing" in said


def test_a_job_without_sides_is_refused(folder):
    said = complaints(folder, text="[gauges.a]\nlength = 100\n[sides]\n")
    assert said.startswith("job.toml, line 3, sides: no side is stated. Add a table [sides.drive]")


def test_bars_that_differ_too_much_are_refused(folder):
    said = complaints(folder, old="bar_x =", new="bar_y = 113\nbar_x =")
    assert "no printer does" in said


def test_invalid_toml_is_named_with_its_line(folder):
    said = complaints(folder, old='tip = "nipple"', new="tip = nipple")
    assert said.startswith(f"job.toml, line {line_with(JOB, 'tip =')}: this is not valid TOML")


@pytest.mark.parametrize("written", ["119,52", "[119,52]", "119,52  # as read"])
def test_a_decimal_comma_is_named(folder, written):
    said = complaints(folder, old="bar_x = ", new=f"bar_y = {written}\nbar_x = ")
    assert f"line {line_with(JOB, 'bar_x')}" in said
    assert "Write decimals with a point, not a comma" in said


def test_a_comma_in_the_explanation_is_no_decimal_comma(folder):
    said = complaints(folder, old='tip = "nipple"', new="tip = nipple  # 119,52")
    assert "comma" not in said


def test_every_problem_is_told_at_once(folder):
    text = JOB.replace("spokes = 24", "spokes = 2").replace("bar_x", "barx")
    assert len(complaints(folder, text=text).splitlines()) == 2


def test_another_schema_is_refused(folder):
    assert "reads schema_version 1, not 7" in complaints(folder, text=f"schema_version = 7\n{JOB}")


def test_a_link_out_of_the_folder_is_refused(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("elsewhere") / "secret.jpg"
    outside.write_bytes(b"")
    (folder / "drive" / "three.jpg").symlink_to(outside)
    with pytest.raises(JobFileError, match="outside the job folder"):
        load_job(folder)


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 1_000_001])
def test_what_is_no_job_file_is_refused_in_words(folder, content):
    (folder / "job.toml").write_bytes(content)
    with pytest.raises(JobFileError, match=r"not a text file|too large|not valid TOML"):
        load_job(folder)


def test_a_missing_file_points_to_start(tmp_path):
    with pytest.raises(JobFileError, match="hubsight start"):
        load_job(tmp_path)


def test_the_starter_parses_once_its_values_are_filled_in(tmp_path):
    file = write_starter(tmp_path / "new")
    for side in ("drive", "non_drive"):
        (tmp_path / "new" / side / "IMG_1.HEIC").write_bytes(b"")
    text = STARTER_TEXT.replace("length = []", "length = [100.02, 100.04]")
    file.write_text(text)
    job = load_job(file)
    assert [side.stated.name for side in job.sides] == ["drive", "non_drive"]
    assert job.sides[0].stated.flange_height is None
    assert job.sides[0].wheel.spokes is None
    assert job.target.bar_x is None


def in_brackets(value):
    """As the starter's own words show it: "Write between the brackets: [119.52]"."""
    return str(value if isinstance(value, list) else [value])


def with_unit(value):
    return str(value) if isinstance(value, list | int) else f'"{value} mm"'


@pytest.mark.parametrize("write", [str, in_brackets, with_unit])
def test_every_field_of_the_starter_takes_a_number(tmp_path, write):
    file = write_starter(tmp_path)
    for side in ("drive", "non_drive"):
        (tmp_path / side / "IMG_1.jpg").write_bytes(b"")
    values = {
        "bar_x": 119.5,
        "bar_y": 119.6,
        "length": 100,
        "diameter": 2,
        "flange_height": 90,
        "gauge_height_at_boss": 88,
        "gauge_height_at_end": 85,
        "centre_to_flange": 20,
        "flange_diameter": 44,
        "boss_width": 8,
        "boss_width_across": 7,
        "protrusion": 94,
        "spoke_offset": 2,
        "reference_diameter": 36,
        "boss_depth": 4,
        "end_to_flange": 52,
        "tension": 1100,
        "stock_step": 1,
        "wire": 2.0,
        "blade": [2.2, 1.0],
        "over_locknut": 142,
        "erd": 596,
        "offset": 0,
        "spokes": 24,
        "crosses": 2,
    }
    lines = []
    for line in STARTER_TEXT.splitlines():
        name = line.split(" ")[0]
        lines.append(line.replace("[]", write(values[name])) if "= []" in line else line)
    file.write_text("\n".join(lines))
    job = load_job(tmp_path)
    assert job.sides[1].stated.caliper["boss_width"].value == 8
    assert job.sides[0].wheel.erd.value == 596
    assert (job.table.wheel.spokes, job.table.wheel.crosses, job.table.wheel.tension) == (24, 2, 1100)
    assert job.table.spokes.stock_step == 1


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("[wheel]\nspokes = [22, 24]", "decimal comma"),
        ("[wheel]\ntension = [1100.0, 1000.0]", "2 values stand where one belongs. Keep one"),
        ("[nipple]\nlength = [12.0, 14.0]", "2 values stand where one belongs"),
        ("[built.drive]\nends = [0,5]", "[0.5] is one reading, [0.0, 5.0] are two"),
    ],
)
def test_two_numbers_where_one_belongs_are_refused(folder, field, said):
    table = field.partition("\n")[0]
    text = JOB.replace("[wheel]\nspokes = 24\ncrosses = 2", "") if table == "[wheel]" else JOB
    assert said in complaints(folder, f"{text}\n{field}\n")


def test_plain_numbers_take_brackets_and_units_too(folder):
    text = JOB.replace('"letter"', '"Letter"').replace("ness = 10", 'ness = "10,5 mm"')
    (folder / "job.toml").write_text(
        f"{text}[nipple]\nlength = [14]\n[spokes]\nspares = []\nwire = '2,0 mm'\n"
    )
    job = load_job(folder)
    assert job.sides[0].stated.block_thickness == 10.5
    assert job.target.paper == "letter"
    assert job.table.nipple.length == 14
    assert job.table.spokes.spares == 2
    assert job.table.spokes.wire == (2.0,)


def commented_fields():
    """The starter's lines that a user may bring into force, each with the table that it lies in."""
    table = ""
    for line in STARTER_TEXT.splitlines():
        bare = line.removeprefix("# ")
        if bare.startswith("["):
            table = bare.split("]")[0] + "]"
        elif re.match(r"# \w+ = ", line):
            yield table, bare


def test_every_field_that_the_starter_explains_is_known(tmp_path):
    fields = list(commented_fields())
    assert len(fields) > 15
    for folder in ("drive", "lying", "drive-2"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "IMG_1.jpg").write_bytes(b"")
    (tmp_path / "phone.json").write_bytes(b"")
    save_item(KitRim(date=datetime.date(2026, 3, 1), erd=(596.0,)), "rim", "light", tmp_path / "kit")
    save_drawer(KitDrawer(date=datetime.date(2026, 3, 1)), "drawer", tmp_path / "kit")
    needed = "[gauges.a]\nlength = 100\n[gauges.b]\nlength = 100\n"
    whole = {"rods", "gaps", "seat_diameter", "seat_to_slot", "segments"}  # that are stated together
    tables = ("[gauges", "[target.flat", "[sides.drive.j_bend")  # the same
    for table, field in fields:
        if field.split(" = ")[0] in whole or table.startswith(tables):
            continue
        side = '[sides.drive]\nphotos = "drive/*"\n' + (
            "" if field.startswith("gauges") else 'gauges = "a"\n'
        )
        wheel = "" if table == "[wheel]" else "[wheel]\nspokes = 24\n"
        body = f"{side}{field}\n" if table == "[sides.drive]" else f"{side}{table}\n{field}\n"
        (tmp_path / "job.toml").write_text(f"{needed}{wheel}{body}")
        assert load_job(tmp_path).sides, field


def test_the_starter_s_j_bend_flange_and_butted_spokes_are_known(tmp_path):
    flange = [field for table, field in commented_fields() if table == "[sides.drive.j_bend]"]
    (segments,) = [field for _, field in commented_fields() if field.startswith("segments")]
    spokes = ["[spokes]", "wire = [2.0, 1.8, 2.0]", segments]
    (tmp_path / "job.toml").write_text("\n".join(["[sides.drive.j_bend]", *flange, *spokes]))
    job = load_job(tmp_path, need_photos=False)
    assert job.table.sides.drive.j_bend.holes == 16
    assert job.table.spokes.segments == (15, 20)


def test_a_lying_hub_needs_no_side(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"")
    (tmp_path / "job.toml").write_text('[lying]\nphotos = "a.jpg"\ndrive_end = "top"\n')
    job = load_job(tmp_path)
    assert not job.sides
    assert job.lying.drive_end == "top"
    (tmp_path / "job.toml").write_text('[lying]\nphotos = "a.jpg"\ndrive_end = "up"\n')
    with pytest.raises(JobFileError, match=r"lying\.drive_end"):
        load_job(tmp_path)


def test_the_starter_never_overwrites(tmp_path):
    write_starter(tmp_path)
    (tmp_path / "job.toml").write_text("mine")
    with pytest.raises(JobFileError, match="already"):
        write_starter(tmp_path)
    assert (tmp_path / "job.toml").read_text() == "mine"
