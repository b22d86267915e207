"""``hubsight start``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import ExitCode, bad, bad_input
from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.questions import QUESTIONS, Question, answered, left_open
from hubsight.job.file.starter import STARTER_TEXT, write_starter
from hubsight.kit import Kit

BACK = "<"
"""Typed to go back to the question before."""
HELP = "?"
"""Typed to have a question explained."""


def start(
    folder: Annotated[Path, typer.Argument(help="The job's folder; made if it is not there.")],
    ask: Annotated[bool, typer.Option(help="Ask for what belongs in the file, question by question.")] = True,
) -> None:
    """Make a job's folder with a file to fill in; nothing is ever overwritten.

    In a terminal it asks for what belongs in the file, question by question. All of it can be changed in the
    file later.
    """
    text = STARTER_TEXT
    with bad_input():
        if (folder / JOB_FILE_NAME).exists():
            raise bad(
                str(folder / JOB_FILE_NAME), "there is such a file already", "Edit it, or name another folder"
            )
        if ask and somebody_answers():
            text = _ask(text)
        write_starter(folder, text)
    named = f'"{folder}"' if " " in str(folder) else str(folder)
    steps = [
        f"Photograph both sides, then run: hubsight add {named} PHOTO...",
        f"Run: hubsight measure {named} --overlays seen",
    ]
    still = left_open(text)
    if still:
        steps.insert(0, f"Fill in {folder / JOB_FILE_NAME} with a text editor; it explains every field.")
        if text is not STARTER_TEXT:
            steps[0] += f" Still open: {', '.join(words[0].lower() + words[1:] for words in still)}."
    for number, step in enumerate(steps, 1):
        typer.echo(f"{number}. {step}")


def somebody_answers() -> bool:
    """Tell whether a person can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _ask(text: str) -> str:
    """Return the job file's text with all answers in it."""
    typer.echo(
        f"Enter leaves a field open, {BACK} goes back, {HELP} explains. Nothing is written until the end."
    )
    gauges = tuple(Kit.beside(None).files("gauge"))
    before: list[str] = []
    try:
        while len(before) < len(QUESTIONS):
            question = QUESTIONS[len(before)]
            typed = str(typer.prompt(_words(question, gauges), default="", show_default=False)).strip()
            if typed == BACK:
                text = before.pop() if before else text
            elif typed == HELP:
                typer.echo(f"  {question.hint or 'It stands in the corner of the sheet'}.")
            else:
                text, before = _taken(text, before, question, typed, gauges)
    except typer.Abort:
        typer.echo("\nNothing was written.", err=True)
        raise typer.Exit(ExitCode.PARTLY) from None
    return text


def _words(question: Question, gauges: Sequence[str]) -> str:
    number = QUESTIONS.index(question) + 1
    choices = list(question.choices)
    if question.kind == "gauge" and gauges:
        choices = [f"or of your kit: {', '.join(gauges)}"]
    elif choices:
        choices = [f"{choices[0]}, or {', '.join(choices[1:])}"]
    given = f" ({choices[0]})" if choices else ""
    return f"{number:2d}/{len(QUESTIONS)} {question.words}{given}"


def _taken(
    text: str, before: list[str], question: Question, typed: str, gauges: tuple[str, ...]
) -> tuple[str, list[str]]:
    """Return the text with an answer, or say what is wrong with it, so that it is asked again."""
    try:
        return answered(text, question, typed, gauges), [*before, text]
    except JobFileError as error:
        for problem in error.problems:
            typer.echo(f"  {problem.what[0].upper()}{problem.what[1:]}. {problem.remedy.rstrip('.')}.")
        return text, before
