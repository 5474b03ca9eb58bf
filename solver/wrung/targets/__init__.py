"""Kinds of target, one file each. A new kind adds its file and its name to `Target`."""

from typing import TypeAlias

from wrung.targets.length import LengthTarget
from wrung.targets.requirement import Requirement, Tolerance, WearBlocks

Target: TypeAlias = LengthTarget

__all__ = ["LengthTarget", "Requirement", "Target", "Tolerance", "WearBlocks"]
