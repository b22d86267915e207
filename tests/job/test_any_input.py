"""Whatever stands in a job file, it is read or refused in sentences: no other error gets out."""

import re

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hubsight.job import JobFileError, load_job
from hubsight.job.file.starter import STARTER_TEXT

FILLED = STARTER_TEXT.replace("length = []", "length = 100")
FIELDS = [line for line in FILLED.splitlines() if re.match(r"\w+ = ", line)]

numbers = st.one_of(st.integers(-(10**20), 10**20), st.floats())
values = st.one_of(
    numbers.map(str),
    st.booleans().map(lambda flag: str(flag).lower()),
    st.sampled_from(
        ["1979-05-27", '""', '"a4"', "'x'", "[[]]", "{}", "{ value = [] }", "{ value = {}, u = 1 }"]
    ),
    st.lists(numbers, max_size=3).map(str),
    st.text(
        alphabet=st.characters(exclude_characters='"\\\n', exclude_categories=["Cc", "Cs"]), max_size=12
    ).map(lambda text: f'"{text}"'),
)


def read(folder, text):
    """Read a job file; return the complaint about it, or None if it is good."""
    (folder / "job.toml").write_text(text, encoding="utf-8")
    try:
        load_job(folder)
    except JobFileError as error:
        return str(error)
    return None


def folder_with_photos(tmp_path):
    for side in ("drive", "non_drive"):
        (tmp_path / side).mkdir(exist_ok=True)
        (tmp_path / side / "a.jpg").write_bytes(b"")
    return tmp_path


def test_the_filled_starter_is_good(tmp_path):
    assert read(folder_with_photos(tmp_path), FILLED) is None


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(field=st.sampled_from(FIELDS), value=values)
def test_any_value_is_read_or_refused_in_a_sentence(tmp_path, field, value):
    name = field.split(" = ")[0]
    said = read(folder_with_photos(tmp_path), FILLED.replace(field, f"{name} = {value}", 1))
    if said is not None:
        assert all(line.startswith("job.toml") for line in said.splitlines())
        assert name in said or "not valid TOML" in said


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.integers(0, len(FILLED)), junk=st.text(max_size=6).filter(lambda text: "\r" not in text))
def test_any_slip_of_the_keyboard_is_read_or_refused(tmp_path, place, junk):
    try:
        junk.encode()
    except UnicodeEncodeError:
        return
    said = read(folder_with_photos(tmp_path), FILLED[:place] + junk + FILLED[place:])
    assert said is None or said.startswith("job.toml")
