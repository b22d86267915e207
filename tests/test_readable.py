"""The check of the documentation's sentences and spelling finds what it is for."""

import sys
from pathlib import Path

import pytest

pytest.importorskip("spellchecker", reason="pip install --group docs")
sys.path.insert(0, str(Path(__file__).parents[1] / "docs"))
readable = pytest.importorskip("readable")


@pytest.fixture(scope="module")
def checker():
    return readable.spelling()


def test_every_page_reads_easily(capsys):
    assert readable.main() == 0, capsys.readouterr().out


def test_slips_are_found_in_prose_and_not_in_code(checker):
    text = "Stand the hub uprihgt on its end face. Run `hubsigth`.\n```\nuprihgt\n```\nSee [thsi](page.md)."
    assert readable.misspelt(text, checker) == {"uprihgt", "thsi"}
    assert not readable.misspelt("The centreline, the boss and the hub's flange", checker)


def test_sentences_end_at_stops_lines_of_lists_and_cells():
    text = (
        "One two three four. Five six seven eight nine.\n- a list of five words\n\n| four words a cell | no |"
    )
    assert readable.sentence_lengths(text) == [4, 5, 5, 4]
