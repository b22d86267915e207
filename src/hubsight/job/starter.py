"""The job file that ``hubsight start`` writes: every field with what it means, to be filled in."""

from __future__ import annotations

from pathlib import Path

from hubsight.job.load import JOB_FILE_NAME
from hubsight.job.problems import JobFileError, Problem

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

[sides.drive.caliper]     # readings by hand to compare with
flange_diameter = []      # twice the distance from the hub's axis to the crossing point
boss_width = []           # along the spoke, from face to face
protrusion = []           # from the boss face to the gauge's end

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

# For spoke lengths:
[hub]
over_locknut = []         # from end face to end face, where the frame or fork clamps

[rim]
erd = []                  # diameter on which the spoke ends are to lie, level with the nipples' slots
offset = []               # of the spoke holes from the rim's middle, positive towards the drive side

[wheel]
spokes = []               # of the whole wheel
crosses = []              # not counting the crossing inside the boss; 0 for radial

[label]                   # in your own words, to find the job again; all may stay empty
hub = ""                  # your name for this model of hub: measurements of the same name are compared
customer = ""
wheel = ""                # the wheel that it is for
notes = ""
"""


def write_starter(folder: Path) -> Path:
    """Write a job file to fill in, and folders for the photos of both sides.

    Parameters
    ----------
    folder
        The job folder; made if it is not there.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    JobFileError
        If there is a job file already (it is never overwritten), or if the folder cannot be written.
    """
    file = folder / JOB_FILE_NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with file.open("x", encoding="utf-8") as stream:
            stream.write(STARTER_TEXT)
        for side in ("drive", "non_drive"):
            (folder / side).mkdir(exist_ok=True)
    except FileExistsError as error:
        what, remedy = "there is such a file already", "Edit it, or name another folder"
        raise JobFileError([Problem(str(error.filename or file), None, "", what, remedy)]) from error
    except OSError as error:
        what = f"this folder cannot be written ({error.strerror})"
        raise JobFileError([Problem(str(folder), None, "", what, "Name another folder")]) from error
    return file
