"""The job file that ``hubsight start`` writes: every field with what it means, to be filled in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.file.text import JOB_FILE_NAME

STARTER_TEXT = """\
# A hubsight job. Everything after a # is an explanation.
# All lengths are in millimetres, with a point, not a comma: 119.52
# Write between the brackets: [119.52]
# One reading is enough, several of the same thing are better: [119.52, 119.48, 119.50]
# If you know how sure you are (standard uncertainty): { value = 119.52, u = 0.05 }
# Leave [] as it is for what you do not know or do not need.
schema_version = 1

[target]                  # the printed sheet
paper = "a4"              # a4, letter or a3
bar_x = []                # check bar along the long side, tick to tick with a caliper; 120 on a perfect print
bar_y = []                # check bar along the short side

# [target.flat]           # four photos of the gauge lying flat on the sheet, from above: a better scale
# photos = "flat/*"
# gauge = "a"             # which gauge it is; or, for a locked caliper, what it shows: opening = [150.00]

# [camera]                # only if you have calibrated it (hubsight calibrate); helps a single photo most
# profile = "phone.json"  # the file that calibrating wrote, in this folder

[gauges.a]                # the gauge spoke; a second one in its own table [gauges.b]
length = []               # NEEDED: from under the head to the far end, about 100
tip = "flat"              # what is on its far end: "flat" (cut off) or "nipple" (length to the nipple's end)
diameter = []             # of the wire

[sides.drive]             # the hub standing with the drive side up; delete this table if you skip that side
photos = "drive/*"        # the folder "drive": four or five, one from straight above, the others from around
# gauges = ["a", "b"]     # which gauges are in this side's photos, if there are several
block_thickness = 0       # of a block under the hub, 0 without
# For a single photo these three matter; with four photos leave them empty:
flange_height = []        # middle of the flange above the paper
gauge_height_at_boss = [] # middle of the wire above the paper, where it leaves the boss
gauge_height_at_end = []  # and at its far end
centre_to_flange = []     # if you know it; else it follows from flange height and over-locknut

# repeats = [{ photos = "drive-2/*", gauges = "a" }]  # photographed again, the gauge in another boss or bore

# kind = "paired"         # only without photos: "paired" (bosses with two bores) or "radial"
# bosses = 6              # only without photos, if the two sides differ: bosses (radial: bores) on this side
# crosses = 2             # if they differ from those in [wheel]
# stagger = 1.3           # how far a boss' bores lie above and below the flange's middle: gives two lengths
# rim_holes = [0, 30]     # unevenly drilled rim: where this side's holes lie within one period, degrees,
# rim_holes_period = 45   # and the angle after which they repeat; or the whole row as holes in [rim], where
# first_hole = 0          # 0: a boss stands amid this side's first two holes in that row, 1: one hole on;
#                         # left out, the gauge's direction tells
# bore = 2.3              # diameter of its bores: does a blade pass? Where they are slotted for blades,
# slot = 3.0              # the slot's width
# boss_top = 3.5          # from the crossing point out to the boss' top: do spokes clear the next boss?

[sides.drive.caliper]     # readings by hand: compared with the photos, or used if there are no photos
flange_diameter = []      # twice the distance from the hub's axis to the crossing point
boss_width = []           # along the spoke, from face to face
boss_width_across = []    # square to that, over the boss: another figure, easily mistaken for it
protrusion = []           # from the boss face (radial: from the flange's outside) to the gauge's end
spoke_offset = []         # if you worked it out: it is worked out again from the readings above
reference_diameter = []   # or: a diameter that the caliper reaches, and
boss_depth = []           # how far outside of it the crossing point lies: together the flange diameter
end_to_flange = []        # from the end face in to the flange's middle: gives centre to flange
# reach = 97.9            # from the crossing point to the gauge's end, where you can read that

# [sides.drive.j_bend]    # instead: a flange with holes, for spokes with an elbow; no photos are needed
# holes = 16
# hole_circle = 45.0      # the diameter on which the holes' middles lie
# hole_diameter = 2.6
# thickness = 3.2         # of the flange: gives two lengths, heads inside and outside
# centre_to_flange = 20.0

[sides.non_drive]         # the same for the other side
photos = "non_drive/*"
block_thickness = 0
flange_height = []
gauge_height_at_boss = []
gauge_height_at_end = []
centre_to_flange = []

[sides.non_drive.caliper]
flange_diameter = []
boss_width = []
protrusion = []

# [lying]                 # the hub lying on its flanges: over-locknut and centre to flange once more
# photos = "lying/*"      # one from straight above, one or two tilted
# drive_end = "left"      # where the drive side lies on the upright sheet: left, right, top or bottom

# For spoke lengths: hubsight lengths, with photos, with readings by hand alone, or with both
[hub]
over_locknut = []         # from end face to end face, where the frame or fork clamps

[rim]
# kit = "light"           # a rim of your kit (hubsight kit add-rim); then nothing else is needed here
# ERD: the diameter on which the spoke ends are to lie, level with the bottom of the nipples' slots.
erd = []                  # several readings round the rim are much better: [596.2, 596.5, 596.0, 596.4]
# rods = [300.0, 200.0]   # instead of erd: two rods with nipples on, each from inner end to slot's bottom,
# gaps = [96.1, 96.4]     # and what lies between them, on several diameters; an overlap is negative
# seat_diameter = 592.0   # instead of erd: the diameter on which the nipples' heads rest,
# seat_to_slot = 2.0      # and from there out to the bottom of the slot
# washer = 0.6            # thickness of a washer under each nipple, if the ERD was measured without
# correction = -0.6       # added to the ERD: what your built wheels say of your readings (hubsight built)
offset = []               # of the spoke holes from the rim's middle, positive towards the drive side
# even = false            # if the holes are not evenly spaced; then state the pattern:
# holes = "DND"           # the row of holes round the rim that repeats, each with the side that it belongs to
# hole_stagger = 1.0      # how far each side's holes lie from the holes' middle, towards their own side
# mass = 450              # g; with material = "aluminium", "carbon" or "steel" it tells how much the
# material = "aluminium"  # rim shrinks under tension
# bead_seat = 622         # 622, 584 or 559: a check that the ERD can be right

[wheel]
spokes = []               # of the whole wheel
crosses = []              # not counting the crossing inside the boss; 0 if spokes cross no others
# inches = true           # show lengths in inches too
tension = []              # N, of a spoke on the tighter side in the finished wheel; 1000 if left empty

[spokes]
stock_step = []           # step of the lengths that you can buy; 2 if left empty
# stock_lengths = [290, 292, 296]  # or just the lengths that you have
cut_to_order = false      # true: they are cut for you, in steps of 1 mm unless stock_step says otherwise
wire = []                 # one diameter, or three at head, middle, thread: [2.0, 1.8, 2.0]; 2.0 if empty
# segments = [15, 20]     # lengths of a butted spoke's thick ends at head and thread
blade = []                # width and thickness of a bladed spoke: [2.2, 1.0]
# patented = true         # of unalloyed steel wire, not of stainless: it stretches a tenth less
# thread = 9.5            # length of the spokes' thread
spares = 2                # of each length
# drawer = "drawer"       # your own spokes (hubsight drawer): which to take, and what is left to order

[nipple]
length = 12
kind = "slotted"          # "slotted"; "tall_head": its taller drive head leaves the spoke more room;
#                         # "internal": it sits inside the rim, and the ERD counts to its outer end
# seat_to_slot = 2.0      # from the head's seat out to the slot: corrects a rim measured with other nipples
# window = [-1.0, 1.5]    # if you know better where the spoke's end may lie, from the bottom of the slot

# After building, for hubsight built and hubsight replace:
# [built.drive]
# length = 296            # of the spokes that were built in
# ends = [0.5, 0.2]       # how far a few ends came to lie outside of the slot's bottom; inside: negative
# spokes = [295.8]        # to replace one: measured lengths of the broken or another loose spoke,
# spokes_in_wheel = [296] # or of the others in the wheel, under tension

[label]                   # in your own words, to find the job again; all may stay empty
hub = ""                  # your name for this model of hub: measurements of the same name are compared
customer = ""
wheel = ""                # the wheel that it is for
notes = ""
"""
"""A job file with all fields empty, each with its explanation."""


def write_starter(folder: Path, text: str = STARTER_TEXT) -> Path:
    """Write a job file to fill in, and folders for the photos of both sides.

    Parameters
    ----------
    folder
        The job folder; made if it is not there.
    text
        Of the job file.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    JobFileError
        If there is a job file already (it is never overwritten), or if the folder cannot be written; nothing
        is then left of what was begun.
    """
    file = folder / JOB_FILE_NAME
    try:
        with _nothing_left_if_it_fails() as begun:
            for needed in (folder, folder / "drive", folder / "non_drive"):
                if not needed.is_dir():
                    needed.mkdir(parents=needed == folder)
                    begun.append(needed)
            with file.open("x", encoding="utf-8") as stream:
                begun.append(file)
                stream.write(text)
    except FileExistsError as error:
        what, remedy = "there is such a file already", "Edit it, or name another folder"
        raise JobFileError([Problem(str(error.filename or file), None, "", what, remedy)]) from error
    except OSError as error:
        what = f"this folder cannot be written ({error.strerror})"
        raise JobFileError([Problem(str(folder), None, "", what, "Name another folder")]) from error
    return file


@contextmanager
def _nothing_left_if_it_fails() -> Iterator[list[Path]]:
    """Give a list for files and folders that are made; they are taken away again if that fails."""
    begun: list[Path] = []
    try:
        yield begun
    except OSError:
        for made in reversed(begun):
            with suppress(OSError):
                made.rmdir() if made.is_dir() else made.unlink()
        raise
