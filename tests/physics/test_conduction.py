"""Finite volumes: exact one-dimensional cases, order, balance, reciprocity, harmonic waves, messages."""

from collections.abc import Callable

import numpy as np
import pytest

from warmside.checks.heat import half_column, two_layers
from warmside.physics.conduction import Body, BodyError, Contact, Patch, Solver, System
from warmside.physics.grid import Grid, GridError, graded


def slab(contact: float = 0.0, capacity: float | None = None) -> Body:
    """Two layers 0.1 m of 0.5 and 0.2 m of 2.0 W/(m.K), films 0.13 and 0.04, one square metre across."""
    grid = Grid((graded([0, 0.1, 0.3], {0.1: 0.01}, 1.4), np.array([0.0, 1.0])))
    k = np.where(grid.centres[0] < 0.1, 0.5, 2.0)[:, None]
    patches = [
        Patch("warm", ((0, 0), (0, 1)), 0.13, {"room": 1.0}),
        Patch("cold", ((0.3, 0.3), (0, 1)), 0.04, {"out": 1.0}),
    ]
    contacts = [Contact(((0.1, 0.1), (0, 1)), 0, contact)] if contact else []
    heat = None if capacity is None else np.full(grid.shape, capacity)
    return Body(grid, k, patches, contacts, heat)


def test_layers_in_series_are_exact() -> None:
    expected = 20 / (0.13 + 0.1 / 0.5 + 0.2 / 2.0 + 0.04)  # W/m2
    solution = System(slab()).solve({"room": 20.0, "out": 0.0})
    assert solution.flows["warm"] == pytest.approx(expected, rel=1e-12)
    assert solution.flows["cold"] == pytest.approx(-expected, rel=1e-12)


def test_contact_resistance_adds_up() -> None:
    expected = 20 / (0.13 + 0.2 + 0.1 + 0.04 + 0.35)
    solution = System(slab(contact=0.35)).solve({"room": 20.0, "out": 0.0})
    assert solution.flows["warm"] == pytest.approx(expected, rel=1e-12)


def test_surface_temperature_is_at_the_face() -> None:
    flux = 20 / 0.47
    solution = System(slab()).solve({"room": 20.0, "out": 0.0})
    assert solution.on_patch("warm")[1] == pytest.approx([20 - 0.13 * flux], rel=1e-12)
    assert solution.on_patch("cold")[1] == pytest.approx([0.04 * flux], rel=1e-12)


def test_temperature_at_points_inside_and_on_the_joint() -> None:
    flux = 20 / 0.47
    solution = System(slab()).solve({"room": 20.0, "out": 0.0})
    expected = [20 - flux * (0.13 + 0.05 / 0.5), 20 - flux * (0.13 + 0.2), flux * (0.04 + 0.07 / 2.0)]
    assert solution.at([(0.05, 0.5), (0.1, 0.5), (0.23, 0.5)]) == pytest.approx(expected, rel=1e-10)


def test_source_leaves_through_both_faces() -> None:
    system = System(slab())
    solution = system.solve({"room": 0.0, "out": 0.0}, sources=np.full(system.size, 3.0))
    assert solution.flows["warm"] + solution.flows["cold"] == pytest.approx(-3.0 * system.size, rel=1e-10)
    assert solution.residual < 1e-8


def test_order_two_across_a_jump_of_materials() -> None:
    errors = [two_layers(n) for n in (16, 32, 64)]
    assert np.log2(np.array(errors[:-1]) / errors[1:]) == pytest.approx([2.0, 2.0], abs=0.1)


def test_order_two_on_a_graded_grid() -> None:
    # k T' = const has no error; (1 + x)^2 on k = 1 with source -2 does: T = (1 + x)^2 - 1 at the ends 0 and 3
    def error(density: int) -> float:
        grid = Grid((graded([0, 1], {0.0: 0.05}, 1.5, 1.0, density), np.array([0.0, 1.0])))
        ends = [Patch(n, ((x, x), (0, 1)), 0.0, {n: 1.0}) for n, x in (("a", 0.0), ("b", 1.0))]
        found = System(Body(grid, np.ones(grid.shape), ends)).solve(
            {"a": 0.0, "b": 3.0}, sources=-2.0 * grid.volume.ravel()
        )
        return float(np.abs(found.temperature - ((1 + grid.centres[0]) ** 2 - 1)).max())

    # read at cell centres the graded error stays near order two
    assert np.log2(error(4) / error(8)) == pytest.approx(2.0, abs=0.25)


def test_reciprocity_and_closure_of_the_coupling_matrix() -> None:
    grid = Grid((np.linspace(0, 1, 9), np.linspace(0, 1, 8), np.linspace(0, 1, 7)))
    k = 0.5 + np.random.default_rng(3).random(grid.shape)
    patches = [
        Patch("a", ((0, 0), (0, 1), (0, 1)), 0.1, {"a": 1.0}),
        Patch("b", ((1, 1), (0, 1), (0, 1)), 0.2, {"b": 1.0}),
        Patch("c", ((0, 1), (0, 0), (0, 1)), 0.05, {"c": 1.0}),
    ]
    system = System(Body(grid, k, patches))
    for method in Solver:
        coupling = system.coupling(method=method)
        assert coupling == pytest.approx(coupling.T, rel=1e-8)
        assert np.abs(coupling.sum(axis=1)).max() < 1e-9


def test_weighting_factors_sum_to_one() -> None:
    units = System(slab()).units()
    assert sum(u.temperature for u in units) == pytest.approx(np.ones(units[0].temperature.size), rel=1e-12)


@pytest.mark.parametrize("omega", [0.0, 2e-7, 7e-5])
def test_multigrid_agrees_with_the_direct_solver(omega: float) -> None:
    grid = Grid((graded([0, 1, 8], {0.0: 0.1, 1.0: 0.1}, 1.5),) * 3)
    k = np.full(grid.shape, 1.5)
    k[grid.inside(((0, 1),) * 3)] = np.nan
    patches = [
        Patch("room", ((1e-6, 1),) * 3, 0.2, {"room": 1.0}),
        Patch("out", ((0, 8), (0, 8), (8, 8)), 0.04, {"out": 1.0}),
    ]
    system = System(Body(grid, k, patches, (), np.full(grid.shape, 2e6)))
    one, other = (system.solve({"room": 20.0, "out": -5.0}, omega, method=m) for m in Solver)
    assert np.abs(one.temperature - other.temperature).max() < 1e-7
    assert max(one.residual, other.residual) < 1e-8


def test_thin_slab_at_a_frequency_is_a_resistance_and_a_store() -> None:
    # lumped: (1/0.13 + 1/0.04 + i w C) T = 1/0.13 with C = 1e3 J/m2K, resistance of the metal negligible
    grid = Grid((np.linspace(0, 1e-3, 3), np.array([0.0, 1.0])))
    patches = [
        Patch("room", ((0, 0), (0, 1)), 0.13, {"room": 1.0}),
        Patch("out", ((1e-3, 1e-3), (0, 1)), 0.04, {"out": 1.0}),
    ]
    body = Body(grid, np.full(grid.shape, 1e4), patches, (), np.full(grid.shape, 1e6))
    omega = 0.01
    expected = (1 / 0.13) / (1 / 0.13 + 1 / 0.04 + 1j * omega * 1e3)
    assert System(body).solve({"room": 1.0, "out": 0.0}, omega).temperature == pytest.approx(
        np.full(2, expected), rel=1e-5
    )


def test_first_patch_keeps_the_face_and_unclaimed_faces_are_adiabatic() -> None:
    grid = Grid((np.linspace(0, 1, 3), np.linspace(0, 1, 3)))
    patches = [
        Patch("first", ((0, 0), (0, 1)), 0.0, {"a": 1.0}),
        Patch("second", ((0, 0), (0, 1)), 0.0, {"b": 1.0}),
    ]
    solution = System(Body(grid, np.ones(grid.shape), patches)).solve({"a": 7.0, "b": -7.0})
    assert solution.temperature == pytest.approx(np.full(4, 7.0))


def test_square_column_symmetry_point_is_a_quarter() -> None:
    expected = 5.0  # four rotated copies of the problem add up to 20 at the centre
    assert half_column(True).at([(0.5, 0.5)]) == pytest.approx([expected], abs=1e-3)


LINE = Grid((np.array([0.0, 1.0]),))


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: System(slab()).solve({"room": 1.0}), r"the body needs \['out', 'room'\]"),
        (lambda: System(slab()).solve({"room": 1.0, "out": 0.0}, omega=1.0), "give Body.capacity"),
        (lambda: System(slab()).solve({"room": 1.0, "out": 0.0}).on_patch("roof"), "no patch 'roof'"),
        (lambda: System(slab()).solve({"room": 1.0, "out": 0.0}).at([(5.0, 5.0)]), "touches no solid"),
        (lambda: System(Body(LINE, np.ones(3), [])), "the grid has"),
        (
            lambda: System(
                Body(Grid((np.array([0.0, 1]),)), np.ones(1), [Patch("far", ((9, 9),), 0.0, {"a": 1})])
            ),
            r"no face of the body lies in any of the patches \['far'\]",
        ),
    ],
)
def test_messages_say_what_is_wrong(make: Callable[[], object], message: str) -> None:
    with pytest.raises(BodyError, match=message):
        make()


def test_grids_keep_edges_and_nest() -> None:
    edges, sizes = [0.0, 0.3, 0.31, 2.0, 9.0], {0.31: 0.02, 2.0: 0.1}
    coarse, fine = (graded(edges, sizes, 1.4, 2.0, d) for d in (1, 2))
    assert set(edges) <= set(coarse.tolist())
    assert fine[::2] == pytest.approx(coarse, abs=1e-12)
    steps = np.diff(graded([0.0, 5.0], {0.0: 0.02}, 1.3))
    assert np.max(steps[1:] / steps[:-1]) < 1.4


def test_grid_messages() -> None:
    with pytest.raises(GridError, match="growth"):
        graded([0.0, 1.0], {0.0: 0.1}, 1.0)
    with pytest.raises(GridError, match="strictly increasing"):
        Grid((np.array([0.0, 1.0, 1.0]),))


def test_solution_field_is_empty_outside_the_solid() -> None:
    grid = Grid((np.linspace(0, 1, 3), np.linspace(0, 1, 3)))
    k = np.array([[1.0, np.nan], [1.0, 1.0]])
    solution = System(Body(grid, k, [Patch("a", ((0, 0), (0, 1)), 0.1, {"a": 1.0})])).solve({"a": 3.0})
    assert np.isnan(solution.field[0, 1])
    assert np.count_nonzero(np.isnan(solution.field)) == 1
