"""One joint test of all statements, readings and figures of a job."""

from hubsight.job.joint.checks import cleared
from hubsight.job.joint.weigh import joint_test

__all__ = ["cleared", "joint_test"]
