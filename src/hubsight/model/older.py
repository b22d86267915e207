"""Results of older versions, as plain JSON, brought to the present shape; no figure is invented."""

from __future__ import annotations

from typing import Any

from hubsight.model.catalogue import CENTRE

Plain = dict[str, Any]


def from_version_1(measured: Plain, lengths: Plain | None = None) -> Plain:
    """Return a result of version 2 from a measurement of version 1 and its document of lengths, if any.

    Version 1 kept spoke lengths twice, as measured and as planned; of both the planned one is kept, and what
    only the other said goes with it.
    """
    planned = lengths or {}
    sides = [_side(side, planned) for side in measured["sides"]]
    known = {side["name"] for side in sides}
    for name in (*planned.get("sides", {}), *planned.get("refusals", {})):
        if name not in known:
            known.add(name)
            sides.append(_side({"name": name, "photos": []}, planned))
    hub = measured.get("hub")
    wheel = None
    if lengths is not None:
        own = set(measured.get("warnings", ()))
        said = [text for text in planned.get("warnings", ()) if text not in own]
        kept = (
            "order",
            "erd",
            "erd_readings",
            "rim_offset",
            "tension_ratio",
            "rim_shrink",
            "erd_definition",
            "cautions",
        )
        wheel = {key: planned[key] for key in kept if key in planned} | {"warnings": said}
    elif any(side.get("spoke_lengths") for side in sides):
        wheel = {}
    return {
        **measured,
        "schema_version": 2,
        "sides": sides,
        "hub": None if hub is None else _with_one_centre(hub, sides),
        "wheel": wheel,
    }


def _side(side: Plain, planned: Plain) -> Plain:
    name, old = side["name"], side.get("spoke_lengths")
    new = planned.get("sides", {}).get(name)
    refusal = planned.get("refusals", {}).get(name) or side.get("spoke_lengths_refusal")
    lengths = _planned(new, old, side) if new else _measured(old, side) if old else None
    if lengths is not None and refusal is not None and not new:
        said = f"{refusal['reason']}. {refusal['remedy']}"
        lengths = {**lengths, "warnings": [*lengths["warnings"], said]}
    checks = [check for check in planned.get("checks", ()) if check["side"] == name]
    return {
        **_with_used_centre(side, old),
        "spoke_lengths": lengths,
        "spoke_lengths_refusal": refusal if lengths is None else None,
        "caliper_checks": side.get("caliper_checks") or checks,
        "arithmetic": [one for one in planned.get("arithmetic", ()) if one["side"] == name],
    }


def _planned(new: Plain, old: Plain | None, side: Plain) -> Plain:
    of_order = (
        "proposed",
        "p_too_short",
        "p_too_long",
        "close_call",
        "window",
        "window_reasons",
        "tension",
        "bracing_angle",
        "stretch",
        "sits",
        "in_wheel",
    )
    return {
        "origin": new.get("origin") or _origin(old, side),
        "length": new["length"],
        "sorts": new["sorts"],
        "order": {key: new[key] for key in of_order if key in new} | {"choices": _choices(new)},
        "warnings": list(dict.fromkeys((*new.get("warnings", ()), *(old or {}).get("warnings", ())))),
    }


def _choices(new: Plain) -> list[Plain]:
    """Return the choices without the advice that version 1 gave in each; the verdict gives it now."""
    return [{key: value for key, value in choice.items() if key != "advice"} for choice in new["choices"]]


def _measured(old: Plain, side: Plain) -> Plain:
    return {
        "origin": _origin(old, side),
        "length": old["length"],
        "sorts": [{**direction, "alpha": None} for direction in old["directions"]],
        "order": None,
        "warnings": list(old.get("warnings", ())),
    }


def _origin(old: Plain | None, side: Plain) -> Plain:
    """Return what lengths were computed from, as far as version 1 said it."""
    found = side.get("measurement") or {"kind": "paired", "boss_count": 0, "figures": {}}
    figures = {name: found["figures"].get(name) for name in ("spoke_offset", "flange_diameter")}
    centre = (old or {}).get("centre_to_flange")
    figures["centre_to_flange"] = centre
    return {
        "kind": found["kind"],
        "bosses": found["boss_count"],
        "crosses": (old or {}).get("crosses", 0),
        "crosses_stated": (old or {}).get("crosses_stated", False),
        "figures": [
            {
                "name": name,
                "value": figure["value"],
                "u": figure["u"],
                "source": "by hand" if figure.get("seen") == "stated" else "photos",
            }
            for name, figure in figures.items()
            if figure is not None
        ],
    }


def _with_used_centre(side: Plain, old: Plain | None) -> Plain:
    """Give the side the centre to flange that its length rests on, where the photos gave it."""
    centre, found = (old or {}).get("centre_to_flange"), side.get("measurement")
    if centre is None or found is None or centre.get("seen") == "stated":
        return side
    figures = {**found["figures"], "centre_to_flange": centre}
    return {**side, "measurement": {**found, "figures": figures}}


def _with_one_centre(hub: Plain, sides: list[Plain]) -> Plain:
    """Give the hub each side's centre to flange: version 1 had two values of it."""
    figures = dict(hub["figures"])
    for side in sides:
        found = (side.get("measurement") or {"figures": {}})["figures"].get("centre_to_flange")
        if found is not None and CENTRE[side["name"]] in figures:
            figures[CENTRE[side["name"]]] = found
    return {**hub, "figures": figures}
