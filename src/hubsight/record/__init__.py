"""The record of a measurement: evidence that is kept in the job folder."""

from hubsight.record.make import JobInputs, make_record, measure_and_record, read_inputs
from hubsight.record.model import InputFile, Record, Statement
from hubsight.record.store import read_history, read_record, write_record

__all__ = [
    "InputFile",
    "JobInputs",
    "Record",
    "Statement",
    "make_record",
    "measure_and_record",
    "read_history",
    "read_inputs",
    "read_record",
    "write_record",
]
