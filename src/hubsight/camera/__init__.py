"""Camera model, profiles and priors."""

from hubsight.camera.model import Projection, View, project_with_derivatives

__all__ = ["Projection", "View", "project_with_derivatives"]
