"""The soil as a ladder: against the section it stands for, passive, and marched behind a wall."""

from dataclasses import replace
from functools import cache

import numpy as np
import numpy.typing as npt
import pytest

from tests.physics.test_ground import SECTION, condensed
from warmside.physics.forcing import forcing, steady
from warmside.physics.ground import GROUND, INDOOR, OUTDOOR, Section, Zone
from warmside.physics.marching import LEDGER, Accuracy, initial, march_walls
from warmside.physics.materials import Conductivity, Isotherm, Material, Membrane, Vapour, material
from warmside.physics.moist_wall import End, Face, Layer, Wall, cut, film
from warmside.physics.response import ANNUAL, NODES, slice_impedance
from warmside.physics.soil_impedance import (
    Ladder,
    Slab,
    SoilError,
    damp_proofing,
    far_temperature,
    fit_soil,
    slice_open,
    soil_suction,
    with_soil,
)

Array = npt.NDArray[np.float64]
SLAB = Slab(SECTION.wall_thickness, SECTION.concrete)
STRETCHES = ((0.0, 0.3), (1.0, 1.3), (1.8, 2.1))
"""At the floor, half way down, just below ground [m]."""
DAY = 365.0 * ANNUAL


@cache
def fitted(low: float, high: float, section: Section = SECTION) -> Ladder:
    return fit_soil(NODES, slice_impedance(condensed(), section, low, high, NODES), SLAB)


# ---- the fit -----------------------------------------------------------------------------------------------


def test_slab_and_ladder_are_what_many_thin_rows_are() -> None:
    """A slab without sideways loss, cut into 4000 resistances and capacities, ladder behind: 0.1 %."""
    ladder, rows, omega = Ladder((0.05, 0.2, 0.7), (3e5, 2e6), 0.0), 4000, np.array([2e-7, 7e-5, 9e-4])
    seen = ladder.chain(omega)[0]
    resistance = SLAB.thickness / SLAB.stuff.conductivity / rows
    for _ in range(rows):
        seen = 0.5 * resistance + seen
        seen = seen / (1.0 + 1j * omega * SLAB.stuff.capacity * SLAB.thickness / rows * seen)
        seen = 0.5 * resistance + seen
    assert ladder.face(SLAB, omega) == pytest.approx(seen, rel=1e-3)


def test_at_rest_the_slice_has_the_temperature_beyond_and_the_resistance_to_it() -> None:
    ladder, still = Ladder((0.05, 0.2, 0.7), (3e5, 2e6), 0.0), np.array([1e-12])
    assert ladder.carried(SLAB, still)[0] == pytest.approx(1.0, abs=1e-5)
    assert ladder.face(SLAB, still)[0].real == pytest.approx(0.95 + 0.2 / 2.0, rel=1e-5)
    leaky = replace(ladder, sideways=1e-9)
    assert leaky.face(SLAB, np.array([1e-4])) == pytest.approx(ladder.face(SLAB, np.array([1e-4])), rel=1e-8)


def test_a_fit_finds_the_ladder_that_it_was_made_with() -> None:
    made = Ladder((0.05, 0.2, 0.7), (3e5, 2e6), 12.0)
    found = fit_soil(NODES, made.face(SLAB, NODES), SLAB, states=2)
    assert found.error < 1e-3
    assert found.face(SLAB, 1.7 * NODES[:-1]) == pytest.approx(made.face(SLAB, 1.7 * NODES[:-1]), rel=2e-3)


@pytest.mark.parametrize("stretch", STRETCHES)
def test_three_states_follow_the_section(stretch: tuple[float, float]) -> None:
    """15 %, 10 % beyond two days: an insulated wall has 2.5 m2.K/W before 0.11, so 0.7 % of its drop at most.

    Looked at half way between the frequencies that were fitted.
    """
    ladder, between = fitted(*stretch), np.sqrt(NODES[1:] * NODES[:-1])
    exact = slice_impedance(condensed(), SECTION, *stretch, between)
    apart = np.abs(ladder.face(SLAB, between) / exact - 1.0)
    assert ladder.error < 0.15
    assert apart.max() < 0.15
    assert apart[between < 0.5 * DAY].max() < 0.10


@pytest.mark.parametrize("stretch", STRETCHES)
def test_whatever_was_fitted_takes_heat_and_gives_none(stretch: tuple[float, float]) -> None:
    ladder = fitted(*stretch)
    values = (*ladder.resistances, *ladder.capacities, ladder.sideways)
    assert min(values) > 0.0
    wide = np.geomspace(1e-9, 1e-1, 60)
    assert (ladder.face(SLAB, wide).real > 0.0).all()
    assert (np.abs(ladder.carried(SLAB, wide)) <= 1.0 + 1e-9).all()


def test_an_impedance_that_no_soil_has_is_named() -> None:
    with pytest.raises(SoilError, match=r"impedance .* at .* rad/s: want a real part over 0"):
        fit_soil(NODES, -np.ones(len(NODES), complex), SLAB)


# ---- another layer in front of it, against the section solved again ----------------------------------------


def shares(
    resistance: float, stretch: tuple[float, float], omega: float, section: Section = SECTION
) -> Array:
    """Face of the slice per kelvin of each environment, behind film and layers of a resistance [-]."""
    w, behind = np.array([omega]), resistance + SECTION.film_wall
    opened, z = slice_open(condensed(), section, *stretch, w)[0], fitted(*stretch, section).face(SLAB, w)[0]
    room = np.array([1.0, 0.0, 0.0])
    return np.asarray((opened * behind + z * room) / (behind + z))


def changed(resistance: float, stretch: tuple[float, float], omega: float) -> Array:
    """The same by the section, with that resistance on the stretch alone."""
    low, high = stretch
    zones = (Zone(0.0, low, 2.5), Zone(low, high, resistance), Zone(high, 2.7, 2.5))
    wall = tuple(zone for zone in zones if zone.end > zone.start)
    return condensed().with_layers(replace(SECTION, wall=wall)).face(low, high, omega)


@pytest.mark.parametrize("stretch", [(0.0, 0.3), (1.0, 1.3)])
@pytest.mark.parametrize("omega", [ANNUAL, DAY / 7.0], ids=["year", "week"])
@pytest.mark.parametrize("resistance", [0.0, 1.25], ids=["void", "halved"])
def test_a_void_and_half_the_resistance_change_the_face_as_in_the_section(
    stretch: tuple[float, float], omega: float, resistance: float
) -> None:
    """Within 10 % of the change, the design's limit, for a slice of 0.3 m with all else as built."""
    found = shares(resistance, stretch, omega) - shares(2.5, stretch, omega)
    expected = changed(resistance, stretch, omega) - changed(2.5, stretch, omega)
    assert np.abs(found - expected).max() < 0.10 * np.abs(expected).max()


def test_a_change_of_the_whole_wall_needs_a_fit_of_its_own() -> None:
    """Half the resistance all over: within 10 % of the change with that section's fit, not the old one."""
    stretch, half = (1.0, 1.3), replace(SECTION, wall=(Zone(0.0, 2.7, 1.25),))
    before, after = shares(2.5, stretch, ANNUAL), condensed().with_layers(half).face(*stretch, ANNUAL)
    expected = after - condensed().with_layers(SECTION).face(*stretch, ANNUAL)
    greatest = np.abs(expected).max()
    assert np.abs(shares(1.25, stretch, ANNUAL, half) - before - expected).max() < 0.10 * greatest
    assert np.abs(shares(1.25, stretch, ANNUAL) - before - expected).max() > 0.30 * greatest


# ---- marched -----------------------------------------------------------------------------------------------

DRY = Isotherm(1e-6, -17.0, 1.0, 1.0)
CONCRETE = Material("dry concrete", 2.4e6, Conductivity(2.0), DRY, Vapour(1e-9))
FOAM = Material("foam without weight", 1e3, Conductivity(0.04), DRY, Vapour(1e-9))
ROOM = End(0.13, 1e30)


def dry_wall() -> Wall:
    """The section's concrete, and 2.5 m2.K/W that stores nothing."""
    return cut((Layer(CONCRETE, SLAB.thickness), Layer(FOAM, 0.1)), End(0.0, 0.0), ROOM, 2e-3)


def test_a_marched_slice_swings_as_ladder_and_section_say() -> None:
    """A week's wave of room and of the far temperature: 2 % of the ladder's, 15 % of the section's."""
    stretch, hours, week = (1.0, 1.3), 24 * 7 * 8, 24 * 7
    ladder, omega = fitted(*stretch), np.array([2.0 * np.pi / (3600.0 * week)])
    wall = with_soil(dry_wall(), ladder, 1e4, Membrane("coating", 1e-12))
    face = Face(wall.last(len(ladder.capacities)), True)

    def swing(room: float, far: float) -> complex:
        wave = np.sin(2.0 * np.pi * np.arange(hours + 1) / week)
        still = np.full(hours + 1, 0.5)
        driven = forcing(10.0 + far * wave, still, 10.0 + room * wave, still, beside=10.0 + far * wave)
        out = march_walls([wall], [driven], initial([wall], 10.0, 0.5), [face], Accuracy(steps=4))
        last = out.temperature[0, -week:, 0] - 10.0
        turn = np.exp(-2j * np.pi * np.arange(hours - week + 1, hours + 1) / week)
        return complex(2j * (last * turn).mean())

    z, carried = ladder.face(SLAB, omega)[0], ladder.carried(SLAB, omega)[0]
    layers = 2.5 + 0.13
    by_room = swing(5.0, 0.0) / 5.0
    assert abs(by_room - z / (layers + z)) < 0.02 * abs(by_room)
    by_far = swing(0.0, 5.0) / 5.0
    assert abs(by_far - carried * layers / (layers + z)) < 0.02 * abs(by_far)
    section = slice_impedance(condensed(), SECTION, *stretch, omega)[0]
    assert abs(by_room - section / (layers + section)) < 0.15 * abs(by_room)


def test_the_far_temperature_gives_the_face_of_the_section() -> None:
    """Every wave of the year that passes the ladder comes back, within rounding."""
    ladder, at = fitted(1.0, 1.3), np.arange(8760) / 8760
    face = 9.0 + 4.0 * np.cos(2 * np.pi * (at - 0.6)) + 0.3 * np.sin(2 * np.pi * 52 * at)
    far = far_temperature(face, ladder, SLAB)
    waves = np.fft.rfft(far)
    for number in (1, 52):
        back = waves[number] * ladder.carried(SLAB, np.array([number * ANNUAL]))[0]
        assert abs(back - np.fft.rfft(face)[number]) < 1e-6 * 8760
    assert far.mean() == pytest.approx(face.mean(), abs=1e-9)
    assert np.ptp(far) > np.ptp(face)


def test_the_open_face_follows_what_is_outside_and_the_neighbours_room() -> None:
    opened = slice_open(condensed(), SECTION, 1.0, 1.3, np.array([1e-12]))[0].real
    assert opened.sum() == pytest.approx(1.0, abs=1e-6)
    assert (opened > 0.0).all()
    names = condensed().with_layers(SECTION).environments
    assert (names[0], set(names[1:])) == (INDOOR, {OUTDOOR, GROUND})


def wet_wall(name: str) -> tuple[float, float]:
    """Water from the soil in ten days [kg/m2], and ln of the suction of the concrete's outer cell [-]."""
    ladder = Ladder((0.05, 0.2, 0.7), (3e5, 2e6), 5.0)
    inner = cut((Layer(material("concrete"), 0.2),), End(0.0, 0.0), film(8.0), 1e-4)
    wall = with_soil(inner, ladder, soil_suction(1.0), damp_proofing(name))
    driven = steady(240, (8.0, 0.9), (20.0, 0.5), beside=8.0, wet_share=1.0)
    out = march_walls([wall], [driven], initial([wall], 10.0, 0.8))
    assert out.faults == ()
    return float(out.ledger[0, LEDGER.index("water_wetting")]), float(out.state[0, wall.first(2), 1])


def test_water_comes_in_by_the_defects_of_the_damp_proofing() -> None:
    """Bare concrete stands at the suction of the soil, 9.81 kPa a metre above water; a coat keeps it off."""
    (good, _), (some, _), (bare, log) = (wet_wall(name) for name in ("good", "unknown", "none"))
    assert good < 0.25 * some < 0.25 * bare
    # Half a cell of 0.1 mm lies between, which dry concrete behind it empties: 0.2 of ln.
    assert log == pytest.approx(np.log(9810.0), abs=0.2)


def test_suction_hangs_from_the_water_level_within_the_range_of_soils() -> None:
    assert soil_suction(2.0) == pytest.approx(19620.0)
    assert (soil_suction(-1.0), soil_suction(20.0)) == (10.0, 33e3)


def test_defects_before_a_layer_that_sucks_no_water_are_named() -> None:
    wood = cut((Layer(material("softwood"), 0.05),), End(0.0, 0.0), film(8.0), 1e-3)
    with pytest.raises(
        SoilError, match=r"softwood in soil, defects 0.01: want a first layer that conducts liquid"
    ):
        with_soil(wood, Ladder((0.1, 0.1), (1e6,)), 1e4, damp_proofing("unknown"))
