"""Phones, lights, finishes and words, drawn at random."""

from __future__ import annotations

import numpy as np

from render.design import Finish, Light, Phone, Processing
from render.seeds import Draw

SIZES = (
    (4032, 3024),
    (4032, 3024),
    (4000, 3000),
    (4080, 3072),
    (3968, 2976),
    (4224, 3168),
    (4000, 2664),
    (4608, 2592),
)
"""Pixels of the drawn phones' pictures."""

PLAIN_ROUGHNESS = {"polished": 0.1, "blasted": 0.46, "blasted_black": 0.5}
"""Middle of the drawn roughness, by finish; 0.29 for all others."""

SHELLS = (
    "ano_black",
    "ano_black",
    "ano_black_gloss",
    "ano_grey",
    "ano_silver",
    "ano_silver",
    "ano_red",
    "ano_blue",
    "ano_gold",
    "ano_green",
    "ano_purple",
    "polished",
    "chrome",
    "blasted",
    "blasted_black",
    "paint_white",
    "paint_orange",
    "steel_satin",
)
"""Finishes of shells and flanges, by name; the common ones stand twice."""


def word(r: Draw, syllables: int) -> str:
    """Return a word that means nothing."""
    return "".join(
        r.one(*"bdfgklmnprstvz") + r.one(*"aeiouy") + (r.one(*"lnrstx") if r.chance(0.3) else "")
        for _ in range(syllables)
    )


def _radial_terms(r: Draw, reach: float) -> tuple[float, float, float]:
    """Return k1, k2, k3 that stay one-to-one out to ``reach``, the tangent of the field's half angle."""
    while True:
        k1 = 0.0 if r.chance(0.15) else r.uniform(-0.12, 0.12, 4)
        if r.chance(0.3):
            k2, k3 = r.normal(0.01), 0.0
        else:
            k2, k3 = round(-k1 * r.uniform(0, 2.2), 4), round(k1 * r.uniform(0, 0.9), 4)
        q = np.linspace(0, reach, 60) ** 2
        slope = np.abs(2 * k1 * q + 4 * k2 * q**2 + 6 * k3 * q**3)
        if np.all(slope < 0.4 * (1 + k1 * q + k2 * q**2 + k3 * q**3)):
            return k1, k2, k3


def draw_phone(r: Draw, name: str) -> Phone:
    """Return a phone's camera with little processing."""
    width, height = r.one(*SIZES)
    f = r.uniform(2700, 3600, 1) * width / 4032
    k1, k2, k3 = _radial_terms(r, 1.12 * np.hypot(width, height) / 2 / f)
    iso, aperture = r.one(50, 64, 100, 125, 160, 250, 400, 640), r.uniform(1.2, 2.5, 2)
    return Phone(
        name=name,
        make=word(r, 3).title(),
        model=word(r, 2).upper() + f" {r.integer(2, 40)}",
        prefix=r.one("IMG_", "P_", "DSC", "CAM_", "photo_"),
        width=width,
        height=height,
        f=round(f, 1),
        cx=principal(r, width),
        cy=principal(r, height),
        distortion=(k1, k2, r.normal(0.0005), r.normal(0.0005), k3),
        aperture=aperture,
        f_number=r.one(1.5, 1.7, 1.8, 2.0, 2.2, 2.4),
        f_mm=r.uniform(3.8, 6.9, 2),
        iso=iso,
        quality=r.integer(80, 97),
        exif_error=r.uniform(0.97, 1.03),
        breathing=r.normal(0.0025, 2),
        portrait=tuple(side for side in ("ds", "nds", "side") if r.chance(0.2)),
        portrait_tag=r.one(6, 8),
        processing=_draw_processing(r, iso),
    )


def principal(r: Draw, pixels: int) -> float:
    """Return one coordinate of the principal point: near the middle."""
    return round((pixels - 1) / 2 + r.normal(15, 2.6, 2), 2)


def _draw_processing(r: Draw, iso: int) -> Processing:
    return Processing(
        exposure=r.uniform(0.62, 0.86),
        white_balance=(r.uniform(0.5, 0.8), 1, r.uniform(0.5, 0.85)),
        cast=(r.uniform(0.92, 1.08), 1, r.uniform(0.9, 1.1)),
        full_well=round(9000 * (100 / iso) ** 0.5 * r.uniform(0.7, 1.3)),
        read_noise=r.uniform(3, 7, 1),
        vignette=r.uniform(0.08, 0.38),
        denoise=r.uniform(0.015, 0.06),
        saturation=r.uniform(0.9, 1.3),
        curve=r.uniform(0, 0.65),
        sharpen=0.0 if r.chance(0.2) else r.uniform(0.1, 1.0),
    )


def draw_light(r: Draw) -> Light:
    """Return windows, tubes and a lamp, at least one of them."""
    env, warm = r.uniform(0.2, 0.85), r.uniform(0.95, 1.4)
    windows = tuple((r.uniform(0, 360, 0), r.uniform(0.3, 1.4)) for _ in range(r.one(0, 1, 1, 2)))
    tubes = tuple(
        (r.uniform(-500, 500, 0), r.uniform(-400, 400, 0), r.uniform(0, 180, 0), r.uniform(0.5, 1.4))
        for _ in range(r.one(0, 1, 1, 2))
    )
    lamp = None
    if r.chance(0.35) or not (windows or tubes):
        lamp = (
            r.uniform(0, 360, 0),
            r.uniform(32, 50),
            r.uniform(520, 700, 0),
            r.uniform(14, 45),
            r.uniform(0.5, 2.2),
        )
    return Light(env, warm, windows, tubes, lamp)


def draw_finish(r: Draw, own: float, *names: str) -> Finish:
    """Return one of the finishes; a share ``own`` of them in a colour and roughness of their own."""
    name = r.one(*names)
    if not r.chance(own) or name == "chrome":
        return Finish(name)
    rough = round(PLAIN_ROUGHNESS.get(name, 0.29) * r.uniform(0.7, 1.35), 3)
    if not name.startswith(("ano", "paint")):
        return Finish(name, None, rough)
    hue, saturation = r.uniform(0, 6), 1 - 0.7 * r.uniform(0, 1) ** 2
    value = r.uniform(0.06, 0.75)
    q = (hue + np.array([5, 3, 1])) % 6
    colour = value - value * saturation * np.clip(np.minimum(q, 4 - q), 0, 1)
    red, green, blue = (round(float(x), 3) for x in np.clip(colour, 0.012, 0.85))
    return Finish(name, (red, green, blue), rough)
