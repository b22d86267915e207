"""What somebody types into a form that is sent as a whole: read field by field, each error at its field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from hubsight.job import JobFileError
from hubsight.job.file.edit import typed_readings
from hubsight.page.fields import Field

LONGEST_TEXT = 400
"""Letters of one field."""


class EntryError(Exception):
    """Something typed that cannot be right: a sentence for the user, and the field it belongs to."""

    def __init__(self, sentence: str, field: str = "") -> None:
        self.field = field
        super().__init__(sentence)


def read_entries(fields: tuple[Field, ...], typed: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was typed, by the fields' names; nothing for a field that was left empty.

    Raises
    ------
    EntryError
        For the first field that cannot be read.
    """
    texts = {field: str(typed.get(field.name, "")).strip()[:LONGEST_TEXT] for field in fields}
    return {field.name: _value(field, text) for field, text in texts.items() if text}


def _value(field: Field, text: str) -> Any:
    if field.kind == "words":
        return " ".join(text.split())
    if field.choices:
        if text not in (value for value, _ in field.choices):
            raise EntryError(f"{field.label}: this is none of the choices. Choose again.", field.name)
        return text
    try:
        numbers = typed_readings(text)
    except JobFileError as error:
        problem = error.problems[0]
        raise EntryError(f"{field.label}: {problem.what}. {problem.remedy}.", field.name) from error
    if field.kind == "readings":
        return tuple(numbers)
    if len(numbers) != 1:
        raise EntryError(f"{field.label}: one number is enough. Type a single number.", field.name)
    return int(numbers[0]) if numbers[0].is_integer() else numbers[0]


def entry_error(error: ValidationError, fields: tuple[Field, ...]) -> EntryError:
    """Return a model's first complaint as a sentence at its field."""
    first = error.errors()[0]
    name = str(first["loc"][0]) if first["loc"] else ""
    field = next((field for field in fields if field.name == name), None)
    words = first["msg"].replace("Input should", "This must")
    label = "" if field is None else f"{field.label}: "
    return EntryError(f"{label}{words[:1].lower()}{words[1:]}. Correct it.", "" if field is None else name)
