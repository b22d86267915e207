"""Random hubs photographed as people do it: ``design(2001)`` is always the same.

Hubs, phones and lights come from the random sampler; what that leaves out is added. What is photographed goes
by the number: ``FORMS[number % 4]``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from render.bores import laced
from render.design import Curl, Design, Finish, Life, Light, Phone, PhoneProcessing, Poor, Setting
from render.draw_hub import draw_flange, draw_hub
from render.draw_random import SEEDS, draw_print_scale, note_of
from render.draw_scene import SHELLS as ALL_SHELLS
from render.draw_scene import draw_finish, draw_light, draw_phone, principal
from render.faults import faults
from render.hub import Boss, HolePattern, Hub, PairedFlange, Profile
from render.seeds import Draw

SALT = 841007485
"""Keeps these draws apart from the random sampler's."""

FORMS = ("flat", "two to one", "again", "lying")

SETS = {
    "flat": ("ds", "flat"),
    "two to one": ("ds", "nds"),
    "again": ("ds", "ds2"),
    "lying": ("ds", "nds", "side"),
}

GAUGED_APART = ("side", "flat")
"""Sets without a gauge in a standing hub."""

LYING_PHOTOS, FLAT_PHOTOS = 3, 4

READING_SD_MM = 0.10
"""Of a hurried user's check bars and over-locknut."""

TRIES = 4000
"""Draws of the sizes before a number is given up."""

SHELLS = tuple(name for name in ALL_SHELLS if name not in ("chrome", "paint_orange", "steel_satin"))

TWO_TO_ONE = HolePattern(spokes=24, row="DND", zero_deg=0.0, first={"ds": 0, "nds": 0})

LOPSIDED_MM, LOPSIDED_DEG = 0.2, 4.0
"""A boss is lopsided if its faces differ by more: in width, or in slope, lean or cant."""


@dataclass(frozen=True)
class _Form:
    """What is photographed: bosses or radial bores, how many, and where a repeat moves the gauge."""

    name: str
    paired: bool
    count: int
    moved: str

    @property
    def alike(self) -> bool:
        """Whether the bosses are their own mirror image."""
        return self.name != "again" or self.moved == "boss"


# ---------- the phone ----------


def _draw_phone(r: Draw, name: str) -> Phone:
    """Return the sampler's camera at 12 megapixels, distortion mostly corrected, with phone processing."""
    phone = draw_phone(r, name)
    width, height = r.one((4032, 3024), (4032, 3024), (4000, 3000), (4080, 3072))
    cx, cy = principal(r, width), principal(r, height)
    k1, k2, p1, p2, k3 = (
        round(term * left, 5) for term, left in zip(phone.distortion, (0.35, 0.35, 1, 1, 0.35), strict=True)
    )
    return replace(
        phone,
        f=round(phone.f * (width / phone.width), 1),
        width=width,
        height=height,
        cx=cx,
        cy=cy,
        distortion=(k1, k2, p1, p2, k3),
        quality=r.integer(75, 93),
        processing=_draw_processing(r, phone),
    )


def _draw_processing(r: Draw, phone: Phone) -> PhoneProcessing:
    plain = phone.processing
    exposure = r.uniform(0.64, 0.92)
    return PhoneProcessing(
        white_balance=plain.white_balance,
        cast=plain.cast,
        full_well=plain.full_well,
        read_noise=plain.read_noise,
        sharpen=plain.sharpen,
        exposure=exposure,
        clip=r.uniform(1.05, 1.35),
        vignette=r.uniform(0.15, 0.42),
        lateral=r.one(-1, 1) * r.uniform(0.5, 1.5),
        lateral_cubic=r.uniform(0, 1),
        denoise=r.uniform(0.025, 0.07),
        chroma_blur=r.uniform(1.0, 2.2),
        tone=r.uniform(0.76, 0.93),
        shoulder=r.uniform(1.2, 2.6),
        curve=r.uniform(0.1, 0.7),
        saturation=r.uniform(0.95, 1.25),
        radius=r.uniform(1.0, 2.0),
        amount=r.uniform(0.6, 1.5),
        core=r.uniform(0.006, 0.016),
        clarity=r.uniform(0.04, 0.16),
    )


def _dull_day(r: Draw) -> Light:
    """Return soft light from all sides, for the gauge on the sheet."""
    env, warm = r.uniform(0.7, 1.1), r.uniform(0.95, 1.2)
    windows = tuple((r.uniform(0, 360, 0), r.uniform(0.1, 0.4)) for _ in range(r.one(0, 1)))
    return Light(env, warm, windows, ())


# ---------- the hub ----------


def _mirrored(boss: Boss) -> Boss:
    """Return the boss with its second face like its first."""
    width, slope = boss.half_width[0], boss.slope_deg[0]
    return replace(
        boss,
        half_width=(width, width),
        slope_deg=(slope, slope),
        lean_deg=0.0,
        twist_deg=0.0,
        twist_other_deg=None,
        cant_deg=0.0,
        beak=None,
    )


def _lopsided(boss: Boss) -> bool:
    slants = boss.slope_deg[0] - boss.slope_deg[1], boss.lean_deg, boss.cant_deg
    return (
        abs(boss.half_width[0] - boss.half_width[1]) > LOPSIDED_MM
        or any(abs(slant) > LOPSIDED_DEG for slant in slants)
        or boss.beak is not None
    )


def _two_to_one(r: Draw, hub: Hub) -> Hub:
    """Return the hub with two drive holes to one of the other side, all spokes leading to true rim holes.

    8 bosses drive side; 4 bosses or 8 radial bores on the other.
    """
    paired, crosses, first = r.one(True, True, False), r.one(2, 3), r.one(0, 1)
    joined = hub.disc_mount.diameter if hub.disc_mount else 0
    other = draw_flange(r, paired, 4 if paired else 8, joined, hub.axle_hole)
    rim = replace(TWO_TO_ONE, zero_deg=r.uniform(0, 360, 1), first={"ds": first, "nds": 0})
    flanges = {}
    for side, flange, own in (("ds", hub.flanges["ds"], crosses), ("nds", other, 1)):
        is_paired = isinstance(flange, PairedFlange)
        phase, alpha = laced(rim, side, is_paired, flange.count, own)
        flanges[side] = replace(flange, phase_deg=phase, alpha_deg=alpha, crosses=own if is_paired else 0)
    return replace(hub, flanges=flanges, rim=rim, crosses=crosses)


def _possible_hub(number: int, form: _Form, bore: float) -> Hub:
    """Return the first drawn sizes of the form that can be made; raises ValueError if there are none."""
    for attempt in range(1, TRIES):
        r = Draw(SALT, number, attempt)
        hub = draw_hub(r, form.paired, form.count)
        if form.name == "two to one":
            if hub.over_locknut < 120 or not hub.freehub:
                continue
            hub = _two_to_one(r, hub)
        flanges = {side: replace(flange, bore=bore) for side, flange in hub.flanges.items()}
        if form.alike:
            for side, flange in flanges.items():
                if isinstance(flange, PairedFlange):
                    flanges[side] = replace(flange, boss=_mirrored(flange.boss))
        hub, drive = replace(hub, flanges=flanges), flanges["ds"]
        if not form.alike and isinstance(drive, PairedFlange) and not _lopsided(drive.boss):
            continue
        if not faults(hub):
            return hub
    raise ValueError(f"{number}: no possible hub found")


def _draw_form(r: Draw, name: str) -> _Form:
    paired, count = True, r.integer(4, 9)
    if name == "two to one":
        count = 8
    elif name == "flat":
        paired, count = r.one((True, 5), (True, 7), (False, 8), (False, 9), (False, 10), (False, 12))
    return _Form(name, paired, count, r.one("bore", "bore", "boss"))


# ---------- the whole design ----------


@dataclass(frozen=True)
class _Table:
    """Bench and what lies on it, and the photos in a standing set."""

    dirt: float
    clutter: int
    bench: str
    tape: str
    putty: str
    photos: int


@dataclass(frozen=True)
class _Occasion:
    """How each set is photographed, as in `Life` and `Setting`."""

    prop: dict[str, str | None]
    lean: dict[str, tuple[float, float]]
    wave: float
    flat_finish: str
    focus: tuple[str, ...]
    lights: dict[str, Light]
    drop: dict[str, float]
    curl: Curl | None
    poor: dict[str, Poor]


def _draw_table(r: Draw) -> _Table:
    return _Table(
        dirt=r.uniform(0.6, 2.0),
        clutter=r.integer(7, 13),
        bench=r.one("oak", "walnut", "felt", "laminate", "wood", "rubber", "mat"),
        tape=r.one("clear", "clear", "matte", "matte", "masking", "blue", "black", "yellow"),
        putty=r.one("putty_grey", "putty_blue", "putty_white"),
        photos=r.one(4, 4, 5),
    )


def _draw_occasion(r: Draw, sets: tuple[str, ...], standing: list[str], paper: str) -> _Occasion:
    prop = {s: r.one("blocks", "stand") if r.chance(0.38) else None for s in standing}
    return _Occasion(
        prop=prop,
        lean={s: (r.uniform(0.1, 0.5), r.uniform(0, 360, 1)) for s in standing},
        wave=r.uniform(0.25, 0.7) if paper == "wave" else 0.0,
        flat_finish=r.one("felt_pen", "felt_pen", "felt_pen", "steel"),
        focus=tuple(r.one("flange", "flange", "flange", "paper") for _ in range(5)),
        lights={s: _dull_day(r) if s == "flat" else draw_light(r) for s in sets},
        drop={s: _draw_drop(r, prop[s] is not None) for s in standing},
        curl=_draw_curl(r) if paper == "curl" else None,
        poor={s: _draw_poor(r, LYING_PHOTOS if s == "side" else 4) for s in sets},
    )


def design(number: int, form: str | None = None) -> Design:
    """Return the design of a number from 1 to 9999, in its own form or one of `FORMS`.

    Raises ValueError for any other number. The order of the draws is what makes a number always the same hub.
    """
    if number not in SEEDS:
        raise ValueError(f"lifelike hubs are numbered 1 to 9999, not {number}")
    name = form or FORMS[number % len(FORMS)]
    r = Draw(SALT, number)
    wire, play = r.one(1.8, 2.0, 2.0), r.uniform(0.12, 0.35)
    shape = _draw_form(r, name)
    hub = _possible_hub(number, shape, round(wire + play, 3))
    sets = SETS[name]
    standing = [photo_set for photo_set in sets if photo_set not in GAUGED_APART]
    length = r.uniform(98.6, 101.4)
    tip = "nipple" if name != "flat" and r.chance(0.15) else "flat"
    paper = r.one("curl", "curl", "wave", "flat")
    phone = _draw_phone(r, f"V{number:04d}")
    table, finishes, stripes = _draw_table(r), _draw_finishes(r), r.chance(0.7)
    hub = _grooved(r, hub)
    stated = round(length + r.normal(0.03), 2)
    occasion = _draw_occasion(r, sets, standing, paper)
    return Design(
        corpus="lifelike",
        name=f"v{number:04d}",
        note=_note(hub, shape),
        sets=sets,
        hub=hub,
        phone=phone,
        setting=_setting(table, occasion, finishes, draw_print_scale(r), stripes),
        tips=dict.fromkeys(standing, (tip,)),
        life=Life(
            gauge_length=length,
            gauge_diameter=wire,
            gauge_stated=stated,
            play=play,
            drop=occasion.drop,
            lean=occasion.lean,
            prop=occasion.prop,
            poor=occasion.poor,
            photos=table.photos,
            lying_photos=LYING_PHOTOS,
            flat_photos=FLAT_PHOTOS,
            moved=shape.moved if name == "again" else None,
            tape=table.tape,
            putty=table.putty,
            flat_finish=occasion.flat_finish,
            bar_sd=READING_SD_MM,
            over_locknut_sd=READING_SD_MM,
        ),
    )


def _setting(
    table: _Table,
    occasion: _Occasion,
    finishes: dict[str, Finish],
    print_scale: tuple[float, float],
    stripes: bool,
) -> Setting:
    return Setting(
        finishes=finishes,
        own_flange=False,
        dirt=table.dirt,
        bench=table.bench,
        clutter=table.clutter,
        print_scale=print_scale,
        wave=occasion.wave,
        lights=occasion.lights,
        focus=occasion.focus,
        curl=occasion.curl,
        stripes=stripes,
    )


def _note(hub: Hub, form: _Form) -> str:
    spokes = f"{form.count * (4 if form.paired else 2)} spokes"
    if form.name == "two to one":
        spokes = f"{TWO_TO_ONE.spokes} spokes two-to-one"
    bosses = f", {'mirror-image' if form.alike else 'lopsided'} bosses" if form.paired else ""
    return note_of(hub, form.paired, spokes) + bosses


def _draw_finishes(r: Draw) -> dict[str, Finish]:
    return {
        "shell": draw_finish(r, 0.3, *SHELLS),
        "cap": draw_finish(r, 0.15, "ano_black", "ano_silver", "ano_grey", "ano_red", "ano_blue"),
        "freehub": draw_finish(r, 0, "steel_satin", "ano_silver", "ano_black", "steel"),
        "axle": Finish(r.one("steel_satin", "ano_silver", "ano_black")),
        "seal": Finish(r.one("rubber", "plastic_black")),
        "cover": Finish(r.one("plastic_black", "rubber", "ano_silver", "ano_red", "steel_satin")),
    }


def _grooved(r: Draw, hub: Hub) -> Hub:
    """Return the hub with turned grooves, and mostly with dust covers."""
    shell: Profile = tuple(
        (round(place + r.uniform(-0.03, 0.03), 3), r.uniform(0.25, 0.5))
        for place in (0.3, 0.5, 0.7)[: r.one(1, 2, 3)]
    )
    caps: Profile = ((r.uniform(0.15, 0.3), -0.45),)
    if hub.cap_diameter - hub.axle_hole > 5.5:
        caps += ((0.25, 0.5),)
    cover = (r.uniform(-2, 0.6), r.uniform(1.0, 2.4)) if r.chance(0.75) else None
    return replace(hub, shell_grooves=shell, cap_grooves=caps, cover=cover)


def _draw_drop(r: Draw, propped: bool) -> float:
    """Return the drop of the gauge's end below the bore's axis: held up by a prop or putty, or drooping."""
    if propped:
        return r.uniform(-1.2, 0.1)
    return r.uniform(-0.9, -0.25) if r.chance(0.12) else r.uniform(0.35, 2.0)


def _draw_curl(r: Draw) -> Curl:
    axis, sign = r.one((0, 1), (1, 1), (1, -1), (0, -1))
    start = r.uniform(95, 115, 1) if axis == 0 else r.uniform(50, 68, 1)
    return Curl(axis, sign, start, r.uniform(1, 3))


def _draw_poor(r: Draw, photos: int) -> Poor:
    photo = int(r.generator.integers(photos))
    if r.chance(0.6):
        return Poor(photo, motion=(r.uniform(2, 5), r.uniform(0, 180, 1)))
    return Poor(photo, focus=r.one("near", "far"))
