"""``hubsight start``."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from hubsight.cli import as_called
from hubsight.cli.common import ExitCode, bad, bad_input, quoted
from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.questions import QUESTIONS, Question, answered, chosen, left_open
from hubsight.job.file.starter import STARTER_TEXT, write_starter
from hubsight.kit import Kit
from hubsight.model.catalogue import SIDE_WORDS

BACK = "<"
"""Typed to go back to the question before."""
HELP = "?"
"""Typed to have a question explained."""


Sides = Literal["both", "drive", "non_drive", "none"]


@dataclass(frozen=True)
class Answers:
    """The job file's text with all answers so far, and which sides are going to be photographed."""

    text: str
    sides: Sides = "both"


def start(
    folder: Annotated[Path, typer.Argument(help="The job's folder; made if it is not there.")],
    ask: Annotated[bool, typer.Option(help="Ask for what belongs in the file, question by question.")] = True,
) -> None:
    """Make a job's folder with a file to fill in; nothing is ever overwritten.

    In a terminal it asks for what belongs in the file, question by question. All of it can be changed in the
    file later.
    """
    answers = Answers(STARTER_TEXT)
    with bad_input():
        if (folder / JOB_FILE_NAME).exists():
            raise bad(
                str(folder / JOB_FILE_NAME), "there is such a file already", "Edit it, or name another folder"
            )
        if ask and somebody_answers():
            answers = _ask(answers)
        write_starter(folder, answers.text)
    for number, step in enumerate(_steps(folder, answers), 1):
        typer.echo(f"{number}. {step}")
    typer.echo(f"Or do all of it in your browser: {as_called()} bench {quoted(folder)}")


def _steps(folder: Path, answers: Answers) -> Iterator[str]:
    """Yield what is to be done next, in order."""
    still = left_open(answers.text)
    if still:
        names = ", ".join(words if words[:2].isupper() else words[0].lower() + words[1:] for words in still)
        open_still = "" if answers.text is STARTER_TEXT else f" Still open: {names}."
        file = folder / JOB_FILE_NAME
        yield f"Fill in {file} with a text editor; it explains every field.{open_still}"
    if answers.sides == "none":
        yield f"Write your readings into the tables [sides...caliper] of {folder / JOB_FILE_NAME}."
        yield f"Run: {as_called()} lengths {quoted(folder)}"
        return
    which = "both sides" if answers.sides == "both" else f"the {SIDE_WORDS[answers.sides].lower()}"
    yield f"Photograph {which}, then run: {as_called()} add {quoted(folder)} PHOTO..."
    yield f"Run: {as_called()} measure {quoted(folder)} --overlays seen"


def somebody_answers() -> bool:
    """Tell whether a person can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _ask(answers: Answers) -> Answers:
    """Return the job file's text with all answers in it."""
    typer.echo(
        f"Enter leaves a field open, {BACK} goes back, {HELP} explains. Nothing is written until the end."
    )
    gauges = tuple(Kit.beside(None).files("gauge"))
    before: list[Answers] = []
    try:
        while len(before) < len(QUESTIONS):
            question = QUESTIONS[len(before)]
            typed = str(typer.prompt(_words(question, gauges), default="", show_default=False)).strip()
            if typed == BACK:
                answers = before.pop() if before else answers
            elif typed == HELP:
                typer.echo(f"  {question.hint}.")
            elif (taken := _taken(answers, question, typed, gauges)) is not None:
                before.append(answers)
                answers = taken
    except typer.Abort:
        typer.echo("\nNothing was written.", err=True)
        raise typer.Exit(ExitCode.PARTLY) from None
    return answers


def _words(question: Question, gauges: Sequence[str]) -> str:
    number = QUESTIONS.index(question) + 1
    choices = question.choices
    given = f" ({', '.join(choices[:-1])} or {choices[-1]}; Enter: {choices[0]})" if choices else ""
    if question.kind == "gauge" and gauges:
        given = f" (or of your kit: {', '.join(gauges)})"
    return f"{number:2d}/{len(QUESTIONS)} {question.words}{given}"


def _taken(answers: Answers, question: Question, typed: str, gauges: tuple[str, ...]) -> Answers | None:
    """Return the answers with one more; None, said what is wrong with it, where it is to be asked again."""
    try:
        text = answered(answers.text, question, typed, gauges)
        sides = chosen(question, typed) if question.kind == "sides" else answers.sides
    except JobFileError as error:
        said = dict.fromkeys((problem.what, problem.remedy) for problem in error.problems)
        for what, remedy in said:
            typer.echo(f"  {what[0].upper()}{what[1:]}. {remedy.rstrip('.')}.")
        return None
    return Answers(text, cast(Sides, sides))
