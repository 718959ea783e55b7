"""A drawing made ready for paper: the SVG, its scale, and the same in words; and items moved as a whole.

Source: own. Valid for every drawing of the display list.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple, assert_never

from warmside.paper.drawing import Circle, Dimension, Item, Line, Point, Polyline, Rect, Text


class Picture(NamedTuple):
    """One drawing on paper.

    svg : the picture, its size in mm on paper
    scale : object over paper [-]
    told : the picture in words, for those who do not see it
    """

    svg: str
    scale: float
    told: str


def moved(item: Item, right: float, up: float) -> Item:
    """An item at another place.

    right, up : how far it is moved [mm]
    """

    def at(point: Point) -> Point:
        return point[0] + right, point[1] + up

    match item:
        case Line(a, b):
            return replace(item, a=at(a), b=at(b))
        case Dimension(a, b):
            return replace(item, a=at(a), b=at(b), at=item.at + (up if item.axis == "across" else right))
        case Polyline(points):
            return replace(item, points=tuple(at(p) for p in points))
        case Rect(x, y):
            return replace(item, x=x + right, y=y + up)
        case Circle(centre):
            return replace(item, centre=at(centre))
        case Text(point):
            return replace(item, at=at(point))
        case _:
            assert_never(item)
