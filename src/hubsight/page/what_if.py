"""What if: several wheels from the hub that is measured, chosen on the page; nothing is typed twice.

What is chosen makes a text of alternatives as `hubsight.job.file.alternatives` reads them: one for every
combination of the choices with the job's own.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import tomlkit
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.job import JobFileError, load_job
from hubsight.job.file.alternatives import LONGEST_NAME, MOST_ALTERNATIVES, Alternatives
from hubsight.job.file.changes import RIM_FIELDS
from hubsight.job.file.edit import Value, set_fields, typed_readings
from hubsight.job.file.problems import one_problem
from hubsight.job.file.rim_of_kit import ERD_WAYS
from hubsight.job.what_if import WhatIf, what_if
from hubsight.kit.store import Kit
from hubsight.model.frozen import Frozen
from hubsight.model.result import JobResult
from hubsight.model.stated import SIDES
from hubsight.page.bench import Bench
from hubsight.page.child import ChildFailed
from hubsight.page.door import refused, small_json
from hubsight.page.fields import NIPPLE_KINDS, Field
from hubsight.page.handlers import Handler, JobHandler
from hubsight.page.kept import inputs_of, keep, read_kept
from hubsight.page.measuring import MEASURE_S
from hubsight.page.state import JobState
from hubsight.page.stated import read_stated
from hubsight.page.words import plain
from hubsight.show.what_if_view import WhatIfView, what_if_view

CHOICES = "what-if.json"
"""File in the page's own folder of a job."""
PREFIX = "what-if."
"""How the names of its fields begin."""
RIM_PREFIX = f"{PREFIX}rim."
"""How the names of the fields of another rim begin."""

NUMBERS = (
    Field(f"{PREFIX}crosses", "Other crosses", "Such as 1 3", kind="words"),
    Field(f"{PREFIX}washer", "Washers under the nipples, mm", "Thicknesses, such as 0.6", kind="words"),
    Field(f"{PREFIX}tension", "Other tensions of the tighter side, N", "Such as 1000 1200", kind="words"),
    Field(f"{PREFIX}length", "Other nipple lengths, mm", "Such as 14 16", kind="words"),
)
"""Fields of other numbers; each makes an alternative."""


OF_RIM = tuple(f"rim.{name}" for name in RIM_FIELDS)
"""Fields of the job's rim."""
OF_SIDES = tuple(f"sides.{side}.crosses" for side in SIDES)
"""Crosses of the sides."""
REPLACED = (*OF_RIM, *OF_SIDES)
"""Fields of the job's own rim and lacing that go when another wheel is taken over."""


class Choices(Frozen):
    """What may differ from the job's own wheel; mm and N."""

    rims: tuple[str, ...] = ()
    crosses: tuple[float, ...] = ()
    washer: tuple[float, ...] = ()
    tension: tuple[float, ...] = ()
    length: tuple[float, ...] = ()
    kind: str = ""


@dataclass(frozen=True)
class Chosen:
    """One wheel: what differs from the job's own; None and "" for what does not."""

    rim: str = ""
    crosses: float | None = None
    washer: float | None = None
    tension: float | None = None
    length: float | None = None
    kind: str = ""

    @property
    def words(self) -> str:
        """Return its name: what differs."""
        nipple = " ".join(
            part
            for part in (
                "" if self.length is None else f"{self.length:g} mm",
                dict(NIPPLE_KINDS).get(self.kind, ""),
            )
            if part
        )
        parts = (
            "" if self.crosses is None else f"{self.crosses:g}x",
            "" if self.washer is None else f"washer {self.washer:g}",
            f"{nipple} nipple" if nipple else "",
            "" if self.tension is None else f"{self.tension:g} N",
        )
        rest = ", ".join(part for part in parts if part)
        rim = self.rim[: LONGEST_NAME - len(rest) - 2 * bool(rest)]
        return ", ".join(part for part in (rim, rest) if part)

    def table(self, own_nipple: dict[str, Value]) -> dict[str, object]:
        """Return it as an alternative's table."""
        table: dict[str, object] = {"rim": self.rim, "washer": self.washer, "tension": self.tension}
        table["crosses"] = None if self.crosses is None else int(self.crosses)
        if self.length is not None or self.kind:
            table["nipple"] = own_nipple | self._nipple()
        return {key: value for key, value in table.items() if value not in (None, "")}

    def _nipple(self) -> dict[str, Value]:
        stated: dict[str, Value] = {"length": self.length, "kind": self.kind or None}
        return {key: value for key, value in stated.items() if value is not None}

    def fields(self, stated: dict[str, str]) -> dict[str, Value]:
        """Return the job's fields that make this wheel its own; ``stated`` holds what the job states."""
        out: dict[str, Value] = {f"nipple.{key}": value for key, value in self._nipple().items()}
        if self.rim:
            out |= {name: None for name in OF_RIM if stated[name]} | {"rim.kit": self.rim}
        if self.crosses is not None:
            out |= {name: None for name in OF_SIDES if stated[name]} | {"wheel.crosses": int(self.crosses)}
        if self.washer is not None:
            out["rim.washer"] = self.washer
        if self.tension is not None:
            out["wheel.tension"] = self.tension
        return out


def wheels_of(choices: Choices, *, own_rim: bool) -> tuple[Chosen, ...]:
    """Return every combination of the choices with the job's own, but for the job's own wheel itself."""
    ways = (
        ((*([""] if own_rim or not choices.rims else []), *choices.rims)),
        (None, *choices.crosses),
        (None, *choices.washer),
        (None, *choices.tension),
        (None, *choices.length),
        ("", *([choices.kind] if choices.kind else [])),
    )
    every = (Chosen(*one) for one in itertools.product(*ways))
    return tuple(one for one in every if one != Chosen())


def as_text(wheels: tuple[Chosen, ...], own_nipple: dict[str, Value]) -> str:
    """Return wheels as a text of alternatives."""
    document = tomlkit.document()
    for number, one in enumerate(wheels, 1):
        name = one.words
        document[name if name not in document else f"{name[: LONGEST_NAME - 4]} {number}"] = one.table(
            own_nipple
        )
    return tomlkit.dumps(document)


def compare_here(folder: Path, measured: JobResult, text: str) -> tuple[WhatIf | None, tuple[str, ...]]:
    """Plan the wheels of a text for a hub that is measured; or say why that cannot be done."""
    try:
        job = load_job(folder, need_photos=False)
        return what_if(folder, job, measured, Alternatives(text, "what if")), ()
    except JobFileError as error:
        return None, tuple(
            _sentence(problem.field, problem.what, problem.remedy) for problem in error.problems
        )


def _sentence(name: str, what: str, remedy: str) -> str:
    wheel = name.rpartition(".")[0] or name
    return " ".join(f"{wheel}: {what}. {plain(remedy)}".split()).rstrip(".") + "."


@dataclass
class Compared:
    """What came of comparing: the view, or why there is none, and what it rests on."""

    wheels: tuple[Chosen, ...] = ()
    view: WhatIfView | None = None
    problems: tuple[str, ...] = ()
    inputs: str = ""


@dataclass(frozen=True)
class Fold:
    """What the fold shows.

    Attributes
    ----------
    rims
        Of the kit: field, name, and whether it is chosen.
    numbers, kind, values
        The other fields, and what is in them.
    count
        How many wheels that makes.
    view, problems
        What came of comparing last.
    stale
        Whether something that it rests on was changed since.
    own
        Whether the job's own wheel stands first.
    """

    rims: tuple[tuple[str, str, bool], ...]
    numbers: tuple[Field, ...]
    kind: Field
    values: dict[str, str]
    count: int
    view: WhatIfView | None = None
    problems: tuple[str, ...] = ()
    stale: bool = False
    own: bool = True


class WhatIfDesk:
    """The choices and comparisons of all jobs on the page."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._compared: dict[str, Compared] = {}

    def routes(self, job: Callable[[JobHandler], Handler]) -> list[Route]:
        """Return the addresses, each let in by ``job``."""
        return [
            Route("/job/{job}/what-if", job(self._compare), methods=["POST"]),
            Route("/job/{job}/what-if/take", job(self._take), methods=["POST"]),
        ]

    def fold(self, state: JobState) -> Fold:
        """Return what is shown of a job's choices."""
        chosen, last = _choices(state), self._compared.get(state.id, Compared())
        own = _states_rim(state)
        rims = tuple(Kit.beside(state.folder).files("rim"))
        values = {f"{PREFIX}kind": chosen.kind}
        for one in NUMBERS:
            values[one.name] = "  ".join(f"{n:g}" for n in getattr(chosen, one.name.removeprefix(PREFIX)))
        return Fold(
            rims=tuple((f"{RIM_PREFIX}{name}", name, name in chosen.rims) for name in rims),
            numbers=NUMBERS,
            kind=Field(
                f"{PREFIX}kind",
                "Another kind of nipple",
                kind="choice",
                choices=(("", "the job's only"), *NIPPLE_KINDS),
            ),
            values=values,
            count=len(wheels_of(chosen, own_rim=own)),
            view=last.view,
            problems=last.problems,
            stale=last.view is not None and last.inputs != _rests_on(state),
            own=own,
        )

    @staticmethod
    def choose(state: JobState, name: str, text: str) -> str:
        """Choose something, as it is typed; return it as it is kept.

        Raises
        ------
        JobFileError
            For what cannot be right.
        """
        chosen = _choices(state)
        what = name.removeprefix(PREFIX)
        if name.startswith(RIM_PREFIX):
            rim = name.removeprefix(RIM_PREFIX)
            known = tuple(Kit.beside(state.folder).files("rim"))
            wanted = {*chosen.rims, rim} if text == "true" else {*chosen.rims} - {rim}
            update: dict[str, object] = {"rims": tuple(one for one in known if one in wanted)}
        elif what == "kind":
            update = {"kind": text if text in dict(NIPPLE_KINDS) else ""}
        else:
            update = {what: _numbers(what, text)}
        chosen = Choices.model_validate(chosen.model_dump() | update)
        keep(state.folder, CHOICES, chosen)
        state.changed()
        if name.startswith(RIM_PREFIX) or what == "kind":
            return text
        return "  ".join(f"{number:g}" for number in getattr(chosen, what))

    async def _compare(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        measured = None if state.outcome is None else state.outcome.measured
        if measured is None or state.doing:
            return refused("Measure the photos first: the wheels are planned from the hub's figures.", 409)
        wheels = wheels_of(_choices(state), own_rim=_states_rim(state))
        if not wheels:
            return refused("Choose a rim, or state something else that may differ.", 422)
        if len(wheels) > MOST_ALTERNATIVES:
            said = f"That makes {len(wheels)} wheels, and {MOST_ALTERNATIVES} can be compared: choose less."
            return refused(said, 422)
        inputs, text = _rests_on(state), as_text(wheels, _own_nipple(state))
        try:
            found, problems = await self._bench.work(
                compare_here, state.folder, measured, text, timeout=MEASURE_S
            )
        except ChildFailed as error:
            found, problems = None, (f"Comparing failed: {error}.",)
        view = None if found is None else what_if_view(found)
        self._compared[state.id] = Compared(wheels, view, problems, inputs)
        state.changed()
        return JSONResponse({"ok": True})

    async def _take(self, request: Request, state: JobState) -> Response:
        number = (await small_json(request)).get("number")
        last = self._compared.get(state.id, Compared())
        if not isinstance(number, int) or not 0 <= number < len(last.wheels):
            raise ValueError("no such wheel")
        taken = last.wheels[number]
        set_fields(state.folder, taken.fields(read_stated(state.folder, REPLACED)))
        await self._bench.restated(state)
        return JSONResponse({"ok": True})


def _choices(state: JobState) -> Choices:
    return read_kept(state.folder, CHOICES, Choices) or Choices()


def _rests_on(state: JobState) -> str:
    return f"{inputs_of(state.folder)} {_choices(state).model_dump_json()}"


def _states_rim(state: JobState) -> bool:
    return any(read_stated(state.folder, [f"rim.{way}" for way in ("kit", *ERD_WAYS)]).values())


def _own_nipple(state: JobState) -> dict[str, Value]:
    """Return the job's nipple: another length or kind leaves the rest as it is."""
    values = read_stated(state.folder, ("nipple.length", "nipple.kind"))
    own: dict[str, Value] = {}
    if values["nipple.length"]:
        own["length"] = float(values["nipple.length"])
    if values["nipple.kind"]:
        own["kind"] = values["nipple.kind"]
    return own


def _numbers(what: str, text: str) -> tuple[float, ...]:
    numbers = tuple(dict.fromkeys(typed_readings(text)))
    if what == "crosses" and not all(number.is_integer() and 0 <= number <= 7 for number in numbers):
        raise one_problem("crosses", "crosses are whole numbers up to 7", "Type them as 1 3")
    return numbers
