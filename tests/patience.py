"""How long tests wait for what happens sooner or later; they go on as soon as it has."""

from typing import Final

PATIENCE_S: Final = 300
"""Here a server starts in a second and the demo ends in five, on a busy machine in a minute."""
