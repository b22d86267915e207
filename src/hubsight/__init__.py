"""Measure straight-pull bicycle hubs from photographs, and compute the spoke lengths.

Read a job and measure it, as the commands do::

    from pathlib import Path

    from hubsight import load_job, measure_job

    measured = measure_job(load_job(Path("sample_images")))
    for side in measured.sides:
        print(side.name, side.measurement.figures["spoke_offset"].value)

Measure it, keep the record in its folder, and make the report::

    from hubsight import measure_and_record, read_record, render_report

    record = measure_and_record(load_job(Path("my-hub")))
    Path("report.html").write_text(render_report(record, Path("my-hub")), encoding="utf-8")

Plan the wheel, with photos or from readings by hand alone::

    from hubsight import plan_job

    job = load_job(Path("my-hub"), need_photos=False)
    for line in measure_job(job).order:
        print(line.side, line.count, line.length)

Measure photos or arrays without a job, and compute lengths without photos: see ``docs/examples``.

What fails on account of the photos comes back as a :class:`Refusal`, with its reason and its remedy. Lengths
are millimetres; pixels are those of the array as stored, the centre of the first one at (0, 0).

Notes
-----
Every name is imported when it is first used: ``import hubsight`` loads no picture library, nor do
`hubsight.model` and `hubsight.wheel`.

Examples
--------
>>> from hubsight import Reading, RimGeometry, SideGeometry, side_length
>>> side = SideGeometry("drive", "paired", count=6, crosses=2, flange_diameter=Reading(47.0, 0.1),
...                     centre_to_flange=Reading(19.0, 0.1), spoke_offset=Reading(2.2, 0.1))
>>> round(side_length(side, RimGeometry(erd=Reading(596.0, 0.2), spokes=24)).mean.value, 2)
295.61
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from hubsight import plot
    from hubsight.calibrate.from_photos import PhotoCalibration, calibrate_photos
    from hubsight.camera.profile import CameraProfile, load_profile, save_profile
    from hubsight.job.file.bare import BareStatements, job_of_photos
    from hubsight.job.file.load import Job, load_job
    from hubsight.job.file.problems import JobFileError
    from hubsight.job.measure import measure_job
    from hubsight.job.plan import Planned, plan_job
    from hubsight.job.sample import find_sample_job
    from hubsight.measure.first_look import FirstLook, look_at
    from hubsight.measure.lying import measure_lying
    from hubsight.measure.measurement import measurement_of
    from hubsight.measure.settle import corrected, restated
    from hubsight.measure.side import measure_side, see_side
    from hubsight.measure.sightings import Sightings
    from hubsight.model.corrections import (
        Corrections,
        PlacedAxis,
        PlacedCentreline,
        PlacedEnd,
        PlacedFace,
    )
    from hubsight.model.figure import BudgetItem, Figure
    from hubsight.model.hub import HubFigures, LyingMeasurement
    from hubsight.model.lengths import OrderLine, PlannedWheel, SideLengths
    from hubsight.model.refusal import Refusal
    from hubsight.model.result import JobResult, MeasuredSide
    from hubsight.model.side import PhotoEvidence, SideMeasurement
    from hubsight.model.stated import Reading, StatedGauge, StatedSide, StatedTarget, StatedWheel
    from hubsight.model.verdict import Reason, Verdict
    from hubsight.photo.array import photo_of_array
    from hubsight.photo.load import Photo, load_photo
    from hubsight.record.export import export_job
    from hubsight.record.history import RecordChange, record_changes
    from hubsight.record.make import make_record, measure_and_record, read_inputs
    from hubsight.record.model import Record
    from hubsight.record.store import read_history, read_record, write_record
    from hubsight.record.verify import Verification, verify_job
    from hubsight.report.render import render_report
    from hubsight.show.overlay import write_overlays
    from hubsight.target.draw import write_target
    from hubsight.target.print_scale import PrintCheck, check_print, read_bar
    from hubsight.wheel.geometry import RimGeometry, SideGeometry, j_bend_side, pattern_from_letters
    from hubsight.wheel.lay_out import planned_wheel, side_lengths
    from hubsight.wheel.length import LengthResult, SpokeLength, side_length
    from hubsight.wheel.manual import (
        Redone,
        centre_to_flange_from_end,
        diameter_from_reference,
        offset_by_width,
        offset_radial,
    )
    from hubsight.wheel.nipple import Nipple, Stock
    from hubsight.wheel.order import Build, WheelPlan, order_list, plan_wheel
    from hubsight.wheel.rim import RimDiameter, erd_from_readings, erd_from_rods
    from hubsight.wheel.wire import SpokeWire, bladed, butted, plain

    __version__: str

_NAMES_OF_MODULES = {
    "calibrate.from_photos": "PhotoCalibration calibrate_photos",
    "camera.profile": "CameraProfile load_profile save_profile",
    "job.file.bare": "BareStatements job_of_photos",
    "job.file.load": "Job load_job",
    "job.file.problems": "JobFileError",
    "job.measure": "measure_job",
    "job.plan": "Planned plan_job",
    "job.sample": "find_sample_job",
    "measure.first_look": "FirstLook look_at",
    "measure.lying": "measure_lying",
    "measure.side": "measure_side see_side",
    "measure.measurement": "measurement_of",
    "measure.settle": "corrected restated",
    "measure.sightings": "Sightings",
    "model.corrections": "Corrections PlacedAxis PlacedCentreline PlacedEnd PlacedFace",
    "model.figure": "BudgetItem Figure",
    "model.hub": "HubFigures LyingMeasurement",
    "model.lengths": "OrderLine PlannedWheel SideLengths",
    "model.refusal": "Refusal",
    "model.result": "JobResult MeasuredSide",
    "model.side": "PhotoEvidence SideMeasurement",
    "model.stated": "Reading StatedGauge StatedSide StatedTarget StatedWheel",
    "model.verdict": "Reason Verdict",
    "photo.array": "photo_of_array",
    "photo.load": "Photo load_photo",
    "record.export": "export_job",
    "record.history": "RecordChange record_changes",
    "record.make": "make_record measure_and_record read_inputs",
    "record.model": "Record",
    "record.store": "read_history read_record write_record",
    "record.verify": "Verification verify_job",
    "report.render": "render_report",
    "show.overlay": "write_overlays",
    "target.draw": "write_target",
    "target.print_scale": "PrintCheck check_print read_bar",
    "wheel.lay_out": "planned_wheel side_lengths",
    "wheel.geometry": "RimGeometry SideGeometry j_bend_side pattern_from_letters",
    "wheel.length": "LengthResult SpokeLength side_length",
    "wheel.manual": "Redone centre_to_flange_from_end diameter_from_reference offset_by_width offset_radial",
    "wheel.nipple": "Nipple Stock",
    "wheel.order": "Build WheelPlan order_list plan_wheel",
    "wheel.rim": "RimDiameter erd_from_readings erd_from_rods",
    "wheel.wire": "SpokeWire bladed butted plain",
}
"""What can be imported from the package, by the module in which it stands."""
_MODULE_OF = {name: module for module, names in _NAMES_OF_MODULES.items() for name in names.split()}
"""The module of each name."""

__all__ = [
    "BareStatements",
    "BudgetItem",
    "Build",
    "CameraProfile",
    "Corrections",
    "Figure",
    "FirstLook",
    "HubFigures",
    "Job",
    "JobFileError",
    "JobResult",
    "LengthResult",
    "LyingMeasurement",
    "MeasuredSide",
    "Nipple",
    "OrderLine",
    "Photo",
    "PhotoCalibration",
    "PhotoEvidence",
    "PlacedAxis",
    "PlacedCentreline",
    "PlacedEnd",
    "PlacedFace",
    "Planned",
    "PlannedWheel",
    "PrintCheck",
    "Reading",
    "Reason",
    "Record",
    "RecordChange",
    "Redone",
    "Refusal",
    "RimDiameter",
    "RimGeometry",
    "SideGeometry",
    "SideLengths",
    "SideMeasurement",
    "Sightings",
    "SpokeLength",
    "SpokeWire",
    "StatedGauge",
    "StatedSide",
    "StatedTarget",
    "StatedWheel",
    "Stock",
    "Verdict",
    "Verification",
    "WheelPlan",
    "__version__",
    "bladed",
    "butted",
    "calibrate_photos",
    "centre_to_flange_from_end",
    "check_print",
    "corrected",
    "diameter_from_reference",
    "erd_from_readings",
    "erd_from_rods",
    "export_job",
    "find_sample_job",
    "j_bend_side",
    "job_of_photos",
    "load_job",
    "load_photo",
    "load_profile",
    "look_at",
    "make_record",
    "measure_and_record",
    "measure_job",
    "measure_lying",
    "measure_side",
    "measurement_of",
    "offset_by_width",
    "offset_radial",
    "order_list",
    "pattern_from_letters",
    "photo_of_array",
    "plain",
    "plan_job",
    "plan_wheel",
    "planned_wheel",
    "plot",
    "read_bar",
    "read_history",
    "read_inputs",
    "read_record",
    "record_changes",
    "render_report",
    "restated",
    "save_profile",
    "see_side",
    "side_length",
    "side_lengths",
    "verify_job",
    "write_overlays",
    "write_record",
    "write_target",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used (PEP 562)."""
    if name == "__version__":
        value: Any = _version()
    elif name == "plot":
        return import_module("hubsight.plot")
    elif name in _MODULE_OF:
        value = getattr(import_module(f"hubsight.{_MODULE_OF[name]}"), name)
    else:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Return the public names, for completion."""
    return sorted({*globals(), *__all__})


def _version() -> str:
    """Return the installed version; "unknown" in a source tree that is not installed."""
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415 - costs a tenth of a second

    try:
        return version("hubsight")
    except PackageNotFoundError:
        return "unknown"
