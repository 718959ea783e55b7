"""Walls that the tests of the moisture march share: every part of the physics at once, on few cells."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from warmside.physics.forcing import Forcing, forcing
from warmside.physics.materials import Membrane, material
from warmside.physics.moist_wall import Face, Layer, Wall, cut, film

Array = npt.NDArray[np.float64]

VARIABLE = Membrane("variable", 1e-11, 2e-12, 5.0)
DEFECTS = Membrane("coating", 5e-11, leaks=0.01)
TIGHT = Membrane("tight sheet", 1e-13)


def everything(surface: float = 1.5e-3, density: int = 1) -> Wall:
    """Wet stone, a coating with defects, batt with a leak, a variable membrane and board; 35 cells or so."""
    layers = (
        Layer(material("concrete", "desorption"), 0.05, DEFECTS),
        Layer(material("concrete"), 0.1, contact=0.02),
        Layer(material("glass_fibre_batt"), 0.089, VARIABLE),
        Layer(material("gypsum_board"), 0.0127),
    )
    wall = cut(layers, film(15.0), film(6.0, paint=3e-10), surface, 1.6, 0.03, density)
    gap = wall.first(2)
    return replace(
        wall,
        room_air=wall.at(gap, 2e-4),
        outdoor_air=wall.at(gap, 1e-4),
        beside=np.where(np.arange(wall.cells) < gap, 0.3, 0.0),
        heat=wall.at(0, 2.0),
        wetting=wall.at(0, 1e-6),
        wetting_suction=np.full(wall.cells, np.log(2e4)),
        film_limit=np.full(wall.cells, 2e-3),
    )


def with_sheet(wall: Wall) -> Wall:
    """The same wall with a tight sheet on the concrete, which takes up no condensate then."""
    outer, inner, *others = wall.layers
    return replace(wall, layers=(outer, replace(inner, inward=TIGHT), *others))


def weather(hours: int, mean: float = -6.0) -> Forcing:
    """Frost and thaw, moist room, leaks that come and go."""
    at = np.arange(hours + 1.0)
    return forcing(
        mean + 10.0 * np.sin(at / 3.8),
        0.75 + 0.15 * np.sin(at / 5.0),
        20.0 + np.sin(at / 2.0),
        0.55 + 0.1 * np.sin(at / 7.0),
        outer=mean + 12.0 * np.sin(at / 3.8),
        room_share=0.5 + 0.5 * np.sin(at / 6.0),
        outdoor_share=0.5 - 0.5 * np.sin(at / 6.0),
        beside=np.full(hours + 1, 4.0),
        wet_share=0.5 + 0.5 * np.cos(at / 4.0),
    )


def faces(wall: Wall) -> list[Face]:
    """Both ends, and both sides of every face between layers."""
    found = [Face(0, False)]
    for layer in range(len(wall.layers)):
        found += [Face(wall.last(layer), True), Face(wall.first(layer), False)]
    return [*found, Face(wall.cells - 1, True)]
