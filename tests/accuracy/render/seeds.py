"""Chance that is always the same: generators seeded from words and numbers, and short draws from them."""

from __future__ import annotations

import hashlib
from typing import TypeVar

import numpy as np

Choice = TypeVar("Choice")


def seed_of(*key: object) -> int:
    """Return a seed that depends on nothing but the words and numbers given."""
    return int(hashlib.sha256("/".join(map(str, key)).encode()).hexdigest()[:8], 16)


def rng_of(*key: object) -> np.random.Generator:
    """Return a generator that depends on nothing but the words and numbers given."""
    return np.random.default_rng(seed_of(*key))


class Draw:
    """Draws for a design; every number is a plain rounded float, so that a design reads well in a file."""

    def __init__(self, *key: int) -> None:
        self.generator = np.random.default_rng(key)

    def uniform(self, low: float, high: float, digits: int = 3) -> float:
        """Return a number between two others."""
        return round(float(self.generator.uniform(low, high)), digits)

    def normal(self, sd: float, limit: float = 3.0, digits: int = 4) -> float:
        """Return a number about 0, cut at ``limit`` standard deviations."""
        return round(float(np.clip(self.generator.normal(0, sd), -limit * sd, limit * sd)), digits)

    def one(self, *choices: Choice) -> Choice:
        """Return one of the choices, each as likely as the others."""
        return choices[int(self.generator.integers(len(choices)))]

    def chance(self, share: float) -> bool:
        """Return True in this share of draws."""
        return bool(self.generator.random() < share)

    def integer(self, low: int, high: int) -> int:
        """Return a whole number from ``low`` to ``high`` - 1."""
        return int(self.generator.integers(low, high))
