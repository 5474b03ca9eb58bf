"""A drawing of a stack, as SVG: the blocks as they stand, and the sum as one checks it on paper.

`drawn` reads a stack of an answer, `draw_stack` makes the picture, `draw_lying` a small one for a
line of a table, and `draw_stacks` puts several on one sheet. `Drawing` says how large one will be
before it is made. It is black on white by attributes
alone, so that it looks the same on paper, in a page and in a typeset card; a page may colour it
anew by its classes.
"""

from wrung.stack_drawing.drawing import Drawing, draw_stack, sizes
from wrung.stack_drawing.lying import draw_lying
from wrung.stack_drawing.several import NamedDrawing, draw_stacks
from wrung.stack_drawing.shown import DrawnBlock, StackDrawing, drawn

__all__ = [
    "Drawing",
    "DrawnBlock",
    "NamedDrawing",
    "StackDrawing",
    "draw_lying",
    "draw_stack",
    "draw_stacks",
    "drawn",
    "sizes",
]
