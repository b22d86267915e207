"""What is photographed and how: finishes, light, phone, bench, gauge. Lengths in mm, angles in degrees.

A design and its corpus' name determine every picture; all further chance is seeded from them (`seeds`).
"""

from __future__ import annotations

from dataclasses import dataclass

from render.hub import Hub

Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Finish:
    """A surface from `materials.FINISHES`, in its own colour and roughness unless they are given."""

    name: str
    colour: Colour | None = None
    roughness: float | None = None


@dataclass(frozen=True)
class Light:
    """Light of one photo set.

    Attributes
    ----------
    env, warm
        Level of the room's light and how warm it is (1 = neutral).
    windows
        (azimuth, strength) of each.
    tubes
        (x, y, azimuth, strength) of each.
    lamp
        (azimuth, elevation, distance, radius, strength), or None.
    """

    env: float
    warm: float
    windows: tuple[tuple[float, float], ...]
    tubes: tuple[tuple[float, float, float, float], ...]
    lamp: tuple[float, float, float, float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Processing:
    """From light on the sensor to a picture.

    Attributes
    ----------
    exposure
        Level of the paper, 1 = clipped.
    white_balance, cast
        Colour of the light in the raw channels, and what is left of it in the picture; red, green, blue.
    full_well, read_noise
        Electrons of a saturated pixel, and of the noise of reading one.
    vignette
        Share of light lost in the corners.
    denoise
        Contrast (square root of linear light) up to which noise is smoothed.
    saturation, curve
        Of colours; strength of the S of contrast.
    sharpen
        Strength of the unsharp mask.
    """

    exposure: float
    white_balance: Colour
    cast: Colour
    full_well: float
    read_noise: float
    vignette: float
    denoise: float
    saturation: float
    curve: float
    sharpen: float


@dataclass(frozen=True, kw_only=True)
class PhoneProcessing(Processing):
    """What a phone adds.

    Attributes
    ----------
    clip
        Level at which highlights are cut.
    lateral, lateral_cubic
        Red against blue at the corners, px; share of it that grows with the cube of the distance.
    chroma_blur
        Standard deviation of the smoothing of colour, half-size px.
    tone, shoulder
        Local tone mapping (1 = none), and how softly highlights end.
    radius, amount, core
        Unsharp mask: px, strength, and the contrast below which it fades.
    clarity
        Strength of the wide unsharp mask.
    """

    clip: float
    lateral: float
    lateral_cubic: float
    chroma_blur: float
    tone: float
    shoulder: float
    radius: float
    amount: float
    core: float
    clarity: float


@dataclass(frozen=True, kw_only=True)
class Phone:
    """The camera.

    Attributes
    ----------
    name, make, model, prefix
        Its name in the corpus, what EXIF says (invented), and how its files' names begin.
    width, height, f, cx, cy
        Pixels as stored; principal distance and point, px.
    distortion
        k1 k2 p1 p2 k3.
    aperture, f_number, f_mm, iso, quality
        Diameter of the lens' opening; the rest for EXIF and JPEG.
    exif_error
        Ratio of EXIF's focal length to the true one.
    breathing
        Relative change of f when focused on the bare sheet.
    portrait, portrait_tag
        Sets taken upright, and the EXIF orientation they carry.
    """

    name: str
    make: str
    model: str
    prefix: str
    width: int
    height: int
    f: float
    cx: float
    cy: float
    distortion: tuple[float, float, float, float, float]
    aperture: float
    f_number: float
    f_mm: float
    iso: int
    quality: int
    exif_error: float
    breathing: float
    portrait: tuple[str, ...]
    portrait_tag: int
    processing: Processing


@dataclass(frozen=True)
class Curl:
    """An edge of the sheet that lifts between its taped corners.

    Attributes
    ----------
    axis
        0 if the edge is crossed along x, 1 along y.
    sign
        Which of the two edges.
    start
        Where the paper begins to rise, from the centre.
    lift
        At the edge's middle.
    """

    axis: int
    sign: int
    start: float
    lift: float


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Bench, sheet and finishes.

    Attributes
    ----------
    finishes
        By the parts' material keys; ``own_flange``: flanges have one of their own, else the shell's.
    dirt
        1 = usual.
    bench, clutter
        Its surface, and how many things lie round the sheet.
    print_scale
        Of the sheet in x and y.
    wave, curl
        Height of the paper's waves, and its lifted edge.
    hands
        Sets in which a hand shades the sheet.
    decal, stripes
        Words on the shell, or printed stripes.
    lights
        Per photo set.
    focus
        What photo 1, 2 ... is focused on: ``flange`` or ``paper``.
    """

    finishes: dict[str, Finish]
    own_flange: bool
    dirt: float
    bench: str
    clutter: int
    print_scale: tuple[float, float]
    wave: float
    lights: dict[str, Light]
    focus: tuple[str, ...]
    curl: Curl | None = None
    hands: tuple[str, ...] = ()
    decal: str | None = None
    stripes: bool = False


@dataclass(frozen=True)
class Poor:
    """The poorer photo of a set: its index, and a streak (px, direction) or a wrong focus (near, far)."""

    photo: int
    motion: tuple[float, float] | None = None
    focus: str | None = None


@dataclass(frozen=True, kw_only=True)
class Life:
    """What photographing as people do it adds; dictionaries are by photo set.

    Attributes
    ----------
    gauge_length, gauge_diameter, gauge_stated
        One gauge for the whole hub.
    play
        Bore less wire.
    drop
        Of the gauge's end below the bore's axis, negative: above.
    lean
        Of the standing hub: angle, and the azimuth towards which it leans.
    prop
        Under the wire: ``blocks``, ``stand`` or None.
    poor
        The poorer photo.
    photos, lying_photos, flat_photos
        In each set of the kind.
    moved
        Where the gauge goes for a repeat: ``bore`` (the boss' other one), ``boss`` (another), or None.
    tape, putty
        Their kinds.
    flat_finish
        Of the gauge on the sheet.
    bar_sd, over_locknut_sd
        Standard deviations of the user's readings.
    """

    gauge_length: float
    gauge_diameter: float
    gauge_stated: float
    play: float
    drop: dict[str, float]
    lean: dict[str, tuple[float, float]]
    prop: dict[str, str | None]
    poor: dict[str, Poor]
    photos: int
    lying_photos: int
    flat_photos: int
    moved: str | None
    tape: str
    putty: str
    flat_finish: str
    bar_sd: float
    over_locknut_sd: float


@dataclass(frozen=True)
class Slip:
    """A deliberate wrong reading in a side's stated boss width: ``off_by_1`` or ``half_width``."""

    kind: str
    side: str


@dataclass(frozen=True, kw_only=True)
class Design:
    """A hub, its photo sets and everything that shapes them.

    Attributes
    ----------
    corpus, name, note
        The corpus' kind (it seeds all chance), the hub's name in it, and a line for people.
    sets
        Names of the photo sets: ``ds``, ``nds`` (that side up), ``ds2`` (once more, anew), ``side`` (lying),
        ``flat`` (the gauge on the sheet), ``camera`` (the sheet alone).
    tips
        Ends of the gauges in each standing set: ``flat`` or ``nipple``, one or two.
    """

    corpus: str
    name: str
    note: str
    sets: tuple[str, ...]
    hub: Hub
    phone: Phone
    setting: Setting
    tips: dict[str, tuple[str, ...]]
    slip: Slip | None = None
    life: Life | None = None


def side_of(photo_set: str) -> str:
    """Return the side that a standing set shows from above: ``ds`` for ``ds2``; else the set's own name."""
    return photo_set.rstrip("0123456789")
