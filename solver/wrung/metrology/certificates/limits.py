"""How large a certificate may be: far above any set, far below what would tie a service up."""

from typing import Final

MOST_BYTES: Final = 2 * 1024 * 1024
MOST_BLOCKS: Final = 2_000
MOST_DEPTH: Final = 60
MOST_ELEMENTS: Final = 200_000
LONGEST_TEXT: Final = 128
"""Characters of an id, a number of a certificate or a name."""
