"""Camera model, profiles and priors. Calibration is in :mod:`hubsight.calibrate`."""

from hubsight.camera.model import Projection, View, project_with_derivatives
from hubsight.camera.prior import CameraPrior
from hubsight.camera.profile import (
    CameraProfile,
    check_profile,
    load_profile,
    prior_for,
    profile_prior,
    save_profile,
)

__all__ = [
    "CameraPrior",
    "CameraProfile",
    "Projection",
    "View",
    "check_profile",
    "load_profile",
    "prior_for",
    "profile_prior",
    "project_with_derivatives",
    "save_profile",
]
