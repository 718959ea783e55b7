"""Two sections solved again by biquadratic finite elements of a general library, on the same cells.

Outdoors and ground surface are equally warm here: where they differ they touch at the ground line, and the
heat that passes from one to the other there depends on the cells in both methods.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import skfem
from skfem.helpers import dot, grad

from warmside.physics.conduction import Body, System
from warmside.physics.ground import GROUND, INDOOR, OUTDOOR, Section, Zone, section_body
from warmside.physics.ground_rules import Soil

THETA = {INDOOR: 20.0, OUTDOOR: -8.0, GROUND: -8.0}
BARE = Section(4.0, 2.4, 0.3, Soil(1.5, 2e6), rim_height=0.0, reach=6.0)
INSULATED = replace(BARE, wall=(Zone(0.0, 2.4, 3.0),), floor=(Zone(0.0, 4.0, 0.9),), soil=Soil(2.1, 2e6))


def elements(body: Body) -> Callable[[str], float]:
    """Heat into the body through each patch, from the boundary integral of film and temperature [W/m]."""
    whole = skfem.MeshQuad.init_tensor(*body.grid.faces)
    middle = whole.p[:, whole.t].mean(axis=1)
    place = tuple(np.searchsorted(f, x) - 1 for f, x in zip(body.grid.faces, middle, strict=True))
    k = body.conductivity[place]
    mesh = whole.restrict(np.flatnonzero(np.nan_to_num(k) > 0))
    inner = mesh.p[:, mesh.t].mean(axis=1)
    k = body.conductivity[
        tuple(np.searchsorted(f, x) - 1 for f, x in zip(body.grid.faces, inner, strict=True))
    ]
    element = skfem.ElementQuad2()
    basis = skfem.Basis(mesh, element)
    conductivity = basis.with_element(skfem.ElementQuad0()).interpolate(k)
    matrix = skfem.BilinearForm(lambda u, v, w: w.k * dot(grad(u), grad(v))).assemble(basis, k=conductivity)
    load = np.zeros(basis.N)
    films = {}
    for patch in body.patches:
        facets = on_patch(mesh, patch.box)
        if not len(facets) or (isinstance(patch.resistance, float) and np.isinf(patch.resistance)):
            continue
        side = skfem.FacetBasis(mesh, element, facets=facets)
        name = next(iter(patch.drive))
        h = conductance(patch.resistance)
        matrix += skfem.BilinearForm(lambda u, v, w, h=h: h(w.x) * u * v).assemble(side)
        load += skfem.LinearForm(lambda v, w, h=h, t=THETA[name]: h(w.x) * t * v).assemble(side)
        films[patch.name] = side, h, THETA[name]
    answer = skfem.solve(matrix, load)

    def flow(name: str) -> float:
        side, h, t = films[name]
        return float(
            skfem.Functional(lambda w: h(w.x) * (t - w["u"])).assemble(side, u=side.interpolate(answer))
        )

    return flow


def of_elements(body: Body, mesh: skfem.MeshQuad) -> np.ndarray:
    middle = mesh.p[:, mesh.t].mean(axis=1)
    place = tuple(np.searchsorted(f, x) - 1 for f, x in zip(body.grid.faces, middle, strict=True))
    return np.asarray(body.conductivity[place])


def on_patch(mesh: skfem.MeshQuad, box: tuple[tuple[float, float], ...]) -> np.ndarray:
    low, high = np.array(box).T
    facets = mesh.boundary_facets()
    middle = mesh.p[:, mesh.facets[:, facets]].mean(axis=1)
    return np.asarray(facets[np.all((low - 1e-9 <= middle.T) & (high + 1e-9 >= middle.T), axis=1)])


def conductance(resistance: float | Callable[[np.ndarray], np.ndarray]) -> Callable[[np.ndarray], np.ndarray]:
    def value(x: np.ndarray) -> np.ndarray:
        points = x.reshape(2, -1).T
        r = resistance(points) if callable(resistance) else np.full(len(points), resistance)
        return (1 / r).reshape(x.shape[1:])

    return value


@pytest.mark.parametrize("section", [BARE, INSULATED], ids=["bare", "insulated"])
def test_flows_agree(section: Section) -> None:
    # second order in cells of at most 2 cm at the wall; the finite volumes are 0.2 % low on the floor
    body = section_body(section, 4)
    here = System(body).solve(THETA).flows
    other = elements(body)
    for patch in ("wall", "floor", "exposed", "surface"):
        assert here[patch] == pytest.approx(other(patch), rel=0.005), patch
