"""How large a certificate may be: far above any set, far below what would tie a service up."""

from typing import Final

MOST_BYTES: Final = 2 * 1024 * 1024
MOST_BLOCKS: Final = 2_000
MOST_COLUMNS: Final = 200
"""Of CSV, and names in a JSON object."""
MOST_REMARKS: Final = 50
"""Of each kind that an import hands back; nobody reads more."""
MOST_DEPTH: Final = 60
MOST_ELEMENTS: Final = 50_000
MOST_ATTRIBUTES: Final = 50
MOST_NAME: Final = 256
"""Characters of a namespace, and of a name within it."""
MOST_VALUE: Final = 32_768
"""Characters of an attribute; the longest list the blocks of a whole shop."""
LONGEST_TEXT: Final = 128
"""Characters of an id, a number of a certificate or a name."""
