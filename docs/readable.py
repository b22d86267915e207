"""Check that the documentation reads easily: the length of its sentences, and its spelling.

    python docs/readable.py

Ends with 1 where a page's median sentence has more than `MEDIAN_WORDS` words, or a word is misspelt. Words of
the trade are in ``words.txt``. Code, tables of figures, blocks that are filled and links are left out.
"""

from __future__ import annotations

import re
import statistics
import sys
from pathlib import Path

from spellchecker import SpellChecker

ROOT = Path(__file__).resolve().parents[1]
PAGES = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md")))
MEDIAN_WORDS = 17
"""Largest median of the words in a page's sentences; raising it lets longer ones pass."""
OWN_WORDS = ROOT / "docs" / "words.txt"

_LEFT_OUT = re.compile(
    r"```.*?```|<!-- (?:output of|messages|licences|accuracy).*?<!-- .*?end -->|`[^`]*`|https?://\S+|<[^>]*>"
    r"|^ {4,}[^-*\d\s].*?$",
    re.DOTALL | re.MULTILINE,
)
_LINK = re.compile(r"!?\[([^\]]*)\]\([^)]*\)")
_WORD = re.compile(r"[A-Za-z]+(?:['’][a-z]+)?")
_SENTENCE = re.compile(r"(?<=[.!?:])\s+|\n\s*\n|\n(?=\s*(?:[-*#|]|\d+\.))|\|")


def prose(text: str) -> str:
    """Return what a page says in words."""
    return _LINK.sub(r"\1", _LEFT_OUT.sub(" x ", text)).replace("*", "")


def sentence_lengths(text: str) -> list[int]:
    """Return the number of words of each sentence; headings and cells of fewer than four count not."""
    counts = [len(_WORD.findall(part)) for part in _SENTENCE.split(prose(text))]
    return [count for count in counts if count >= 4]


def misspelt(text: str, checker: SpellChecker) -> set[str]:
    """Return the words that neither the dictionary nor the trade knows; names in capitals are left out."""
    words = {word.removesuffix("'s").removesuffix("’s") for word in _WORD.findall(prose(text))}
    plain = {word.lower() for word in words if len(word) > 3 and word[1:].islower()}
    return set(checker.unknown(plain))


def spelling() -> SpellChecker:
    """Return the dictionary with the words of the trade."""
    checker = SpellChecker(language="en")
    checker.word_frequency.load_words(OWN_WORDS.read_text(encoding="utf-8").split())
    return checker


def main() -> int:
    """Print what is wrong, a line each."""
    checker, wrong = spelling(), []
    for page in PAGES:
        text, name = page.read_text(encoding="utf-8"), page.relative_to(ROOT).as_posix()
        lengths = sentence_lengths(text)
        median = statistics.median(lengths) if lengths else 0
        if median > MEDIAN_WORDS:
            wrong.append(f"{name}: the median sentence has {median:g} words, more than {MEDIAN_WORDS}")
        wrong += [f"{name}: is {word!r} spelt right?" for word in sorted(misspelt(text, checker))]
    print("\n".join(wrong) or f"{len(PAGES)} pages read easily")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
