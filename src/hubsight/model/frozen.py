"""The base of what passes from stage to stage, or to a file: frozen, and nothing in it that is not named."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Frozen(BaseModel):
    """A pydantic model that cannot be changed and takes no unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid")
