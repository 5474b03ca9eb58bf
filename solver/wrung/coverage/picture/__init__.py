"""A drawing of what an inventory covers, as SVG without anything from elsewhere.

Each column stands for a stretch of the grid. Its shades, from below, are the shares of lengths that
need so many blocks; what cannot be built is hatched. A bar beneath marks every stretch
with a gap, so that a single missing length among thousands is seen, too. Shades differ in
lightness, and gaps by hatching, so that neither print nor colour blindness hides anything.
"""

from wrung.coverage.picture.drawing import draw

__all__ = ["draw"]
