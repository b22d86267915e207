"""Lines of fields in a TOML text."""

from hubsight.job.file.lines import field_lines, line_of

TEXT = """\
# a comment = 1
schema_version = 1

[target]  # with a remark
bar_x = [
  119.5,
]
[gauges . "my gauge"]
length = { value = 100.0, u = 0.02 }
sides.drive.photos = "x"
"""


def test_tables_and_keys_are_found_on_their_lines():
    lines = field_lines(TEXT)
    assert lines[("schema_version",)] == 2
    assert lines[("target",)] == 4
    assert lines[("target", "bar_x")] == 5
    assert lines[("gauges", "my gauge", "length")] == 9
    assert lines[("gauges", "my gauge", "sides", "drive", "photos")] == 10
    assert ("a comment",) not in lines


def test_what_has_no_line_falls_back_to_what_holds_it():
    lines = field_lines(TEXT)
    assert line_of(lines, ("target", "bar_x", "0")) == 5
    assert line_of(lines, ("gauges", "my gauge", "length", "u")) == 9
    assert line_of(lines, ("target", "paper")) == 4
    assert line_of(lines, ("rim", "erd")) is None
