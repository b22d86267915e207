"""Short names of the array types that pass between functions; shapes stand in their docstrings.

pydantic keeps them: as shape and bytes, exact to the last digit.
"""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from numpy.typing import DTypeLike, NDArray
from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema


@dataclass(frozen=True)
class _Kept:
    """How pydantic writes and reads an array of one kind of numbers."""

    dtype: DTypeLike

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """See pydantic."""
        return core_schema.no_info_plain_validator_function(
            self._read, serialization=core_schema.plain_serializer_function_ser_schema(self._written)
        )

    def _written(self, array: NDArray[Any]) -> dict[str, Any]:
        plain = np.ascontiguousarray(array, np.dtype(self.dtype).newbyteorder("<"))
        return {"shape": array.shape, "bytes": base64.b64encode(plain.tobytes()).decode()}

    def _read(self, kept: Any) -> NDArray[Any]:
        if isinstance(kept, np.ndarray):
            return kept
        try:
            shape, content = [int(n) for n in kept["shape"]], base64.b64decode(kept["bytes"], validate=True)
        except (KeyError, TypeError) as error:
            raise ValueError("no array") from error
        stored = np.dtype(self.dtype).newbyteorder("<")
        if min(shape, default=0) < 0 or len(content) != math.prod(shape) * stored.itemsize:
            raise ValueError("an array of another shape than is stated")
        return np.frombuffer(content, stored).reshape(shape).astype(self.dtype)


Array = Annotated[NDArray[np.float64], _Kept(np.float64)]
"""Numbers."""
Flags = Annotated[NDArray[np.bool_], _Kept(np.bool_)]
"""Yes or no."""
Indices = Annotated[NDArray[np.intp], _Kept(np.int64)]
"""Whole numbers that count rows."""
Picture = NDArray[np.uint8]
"""A grey picture (H, W) as the camera stored it."""
Light = NDArray[np.float32]
"""A picture (H, W) made from one: linear light, softened grey levels, edge strength."""
