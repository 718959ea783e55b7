"""Compute functions of the checks on resistance, batts, units and bead lengths.

Each gets one row's inputs in the units its data file states and returns the value in the unit of the check.
"""

from __future__ import annotations

import math

from warmside import units
from warmside.checks.registry import Inputs, computes
from warmside.order.order import bead_length
from warmside.physics import air, batts, resistance
from warmside.physics.batts import Batt, Lie, LooseBatt
from warmside.physics.resistance import Direction, Fasteners, Method, Section, VoidLevel

MM = 1e-3
FROM_INCH = units.to_m(units.INCH)


def _layer(text: str) -> float:
    """A resistance, or thickness/conductivity."""
    thickness, _, conductivity = text.partition("/")
    return resistance.slab(float(thickness), float(conductivity)) if conductivity else float(thickness)


def _sections(text: str) -> list[Section]:
    """Sections written as `share: layer layer ...; share: layer layer ...`."""
    parts = (part.split(":") for part in text.split(";"))
    return [Section(float(share), tuple(map(_layer, layers.split()))) for share, layers in parts]


def _batt(label_r: float, thickness_inch: float) -> Batt:
    return Batt(label_r * units.RSI_PER_R, thickness_inch * FROM_INCH)


# Films and air layers


@computes("surface-films")
def _surface_films(row: Inputs) -> float:
    return resistance.surface_film(resistance.surface_convection(Direction(row.text("direction"))))


@computes("outside-film")
def _outside_film(row: Inputs) -> float:
    convection = resistance.outside_convection(row.number("wind"))
    return resistance.surface_film(convection, temperature=row.number("temperature"))


@computes("surface-values")
def _surface_values(row: Inputs) -> float:
    if row.text("direction") == "any":
        return resistance.OUTSIDE_SURFACE
    return resistance.inside_surface(Direction(row.text("direction")))


@computes("air-layers")
def _air_layers(row: Inputs) -> float:
    return resistance.air_layer(row.number("thickness") * MM, Direction(row.text("direction")))


@computes("air-layer-formulas-meet")
def _formulas_meet(row: Inputs) -> float:
    thickness, direction = row.number("thickness") * MM, Direction(row.text("direction"))
    return resistance.air_layer_convection(thickness, direction, row.number("difference"))


@computes("plane-air-space-emittance")
def _emittance(row: Inputs) -> float:
    celsius = (row.number("mean") - 32.0) / 1.8
    known = row.number("known_resistance") * units.RSI_PER_R
    radiation = row.number("known_emittance") * resistance.radiative_coefficient(celsius)
    space = resistance.plane_air_space(1.0 / known - radiation, row.number("emittance"), celsius)
    return units.to_r(space)


@computes("plane-air-space-convection")
def _plane_air_space(row: Inputs) -> float:
    thickness, difference = row.number("thickness") * MM, row.number("difference") / 1.8
    convection = resistance.air_layer_convection(thickness, Direction.HORIZONTAL, difference)
    celsius = (row.number("mean") - 32.0) / 1.8
    return units.to_r(resistance.plane_air_space(convection, row.number("emittance"), celsius))


@computes("foil-air-space")
def _foil_air_space(row: Inputs) -> float:
    faces = (row.number("one"), row.number("other"))
    thickness, mean = row.number("thickness") * MM, row.number("mean")
    return resistance.air_layer(thickness, Direction.HORIZONTAL, faces, mean, row.number("difference"))


@computes("slit-limits")
def _slit_limits(row: Inputs) -> float:
    return resistance.divided_air_layer(row.number("thickness") * MM, row.number("width"))


@computes("ventilated-layer")
def _ventilated(row: Inputs) -> float:
    opening = row.number("opening") * MM**2
    return resistance.ventilated_total(row.number("unventilated"), row.number("well_ventilated"), opening)


# Layers and bridged layers


@computes("textbook-frame-paths")
def _textbook_paths(row: Inputs) -> float:
    return resistance.series(_layer(layer) for layer in row.text("layers").split())


@computes("textbook-frame-total")
def _textbook_total(row: Inputs) -> float:
    return resistance.parallel_path(_sections(row.text("sections")))


@computes("textbook-frame-transmittance")
def _textbook_transmittance(row: Inputs) -> float:
    return 1.0 / resistance.parallel_path(_sections(row.text("sections")))


@computes("code-framed-layer")
def _code_framed_layer(row: Inputs) -> float:
    return resistance.isothermal_planes(_sections(row.text("sections")))


@computes("code-framed-transmittance")
def _code_framed_transmittance(row: Inputs) -> float:
    return 1.0 / resistance.isothermal_planes(_sections(row.text("sections")))


@computes("code-framing-member")
def _code_framing_member(row: Inputs) -> float:
    return resistance.slab(row.number("depth"), 1.0 / row.number("per_mm"))


@computes("bridged-closed-form")
def _bridged(row: Inputs) -> float:
    return resistance.total_resistance(_sections(row.text("sections")), Method(row.text("method")))


@computes("methods-agree-unbridged")
def _unbridged(row: Inputs) -> float:
    return resistance.total_resistance(_sections(row.text("sections")), Method(row.text("method")))


@computes("combined-method-examples")
def _combined_examples(row: Inputs) -> float:
    return resistance.total_resistance(_sections(row.text("sections")), Method(row.text("method")))


@computes("combined-method-transmittance")
def _combined_transmittance(row: Inputs) -> float:
    total = resistance.combined(_sections(row.text("sections")))
    layer = resistance.isothermal_planes(_sections(row.text("layer")))
    return 1.0 / batts.with_air_voids(layer, total, VoidLevel(row.text("voids")))


@computes("combined-method-error")
def _combined_error(row: Inputs) -> float:
    return 100.0 * resistance.maximum_relative_error(_sections(row.text("sections")))


@computes("stud-wall-methods")
def _stud_wall(row: Inputs) -> float:
    return resistance.total_resistance(_sections(row.text("sections")), Method(row.text("method")))


@computes("fastener-example")
def _fasteners(row: Inputs) -> float:
    depth = row.number("thickness")
    screws = Fasteners(row.number("conductivity"), row.number("area"), row.number("density"), depth)
    return resistance.fastener_correction(screws, depth, row.number("layer"), row.number("total"))


# Batts


def _squeezed(row: Inputs) -> float:
    batt = _batt(row.number("label"), row.number("label_thickness"))
    return units.to_r(batts.compressed_batt(batt, row.number("space") * FROM_INCH))


computes("batt-compression-chart")(_squeezed)
computes("batt-compression-second-chart")(_squeezed)
computes("batt-compression-pages")(_squeezed)


@computes("code-batt-squeezed")
def _code_batt(row: Inputs) -> float:
    batt = Batt(row.number("label"), row.number("label_thickness") * MM)
    return batts.compressed_batt(batt, row.number("space") * MM)


@computes("batt-compression-limits")
def _compression_limits(row: Inputs) -> float:
    conductivity = row.number("floors") * batts.CONDUCTION_FLOOR
    batt = Batt(0.1 / conductivity, 0.1)
    return batts.compressed_batt(batt, 0.1 / row.number("ratio")) / batt.resistance


@computes("three-batts-stacked")
def _three_batts(row: Inputs) -> float:
    pile = [_batt(row.number("label"), row.number("label_thickness"))] * int(row.number("count"))
    return units.to_r(batts.stack(pile, row.number("space") * FROM_INCH).resistance)


@computes("void-parallel-path")
def _void_parallel_path(row: Inputs) -> float:
    insulation, void, rest = row.number("insulation"), row.number("void"), row.number("rest")
    return batts.with_void(insulation, void, row.number("fraction"), rest)


@computes("batt-convection-example")
def _rayleigh_example(row: Inputs) -> float:
    names = ("thickness", "permeability", "difference", "conductivity")
    return batts.modified_rayleigh(*map(row.number, names))


@computes("batt-convection-constant")
def _rayleigh_constant(row: Inputs) -> float:
    celsius = row.number("temperature")
    rho = float(air.density(celsius))
    kinematic = batts.air_viscosity(celsius) / rho
    return air.GRAVITY / (celsius + air.KELVIN) * rho * batts.AIR_HEAT_CAPACITY / kinematic


@computes("batt-convection-onset")
def _onset(row: Inputs) -> float:
    return batts.convection_limit(Lie(row.text("lie")))


@computes("air-viscosity")
def _air_viscosity(row: Inputs) -> float:
    return batts.air_viscosity(row.number("temperature")) * 1e6


@computes("air-loop-closed-form")
def _air_loop(row: Inputs) -> float:
    names = ("height", "top", "bottom", "warm_gap", "cold_gap", "batt", "warm_side", "cold_side")
    loose = LooseBatt(**{name: row.number(name) for name in names})
    return batts.air_loop(loose, row.number("inside"), row.number("outside")).extra


# Units and package sizes


@computes("inch")
def _inch(row: Inputs) -> float:
    return units.to_m(units.parse_length(row.text("written"))) / MM


@computes("resistance-unit")
def _resistance_unit(row: Inputs) -> float:
    return row.number("imperial") * units.RSI_PER_R


@computes("fahrenheit")
def _fahrenheit(row: Inputs) -> float:
    return units.to_fahrenheit(row.number("celsius"))


@computes("batt-labels")
def _batt_labels(row: Inputs) -> float:
    return row.number("label") * units.RSI_PER_R


@computes("foam-per-inch")
def _foam_per_inch(row: Inputs) -> float:
    return units.to_r(row.number("per_inch"))


@computes("insulation-per-mm")
def _insulation_per_mm(row: Inputs) -> float:
    return row.number("per_inch") / (FROM_INCH / MM)


@computes("board-foot")
def _board_foot(row: Inputs) -> float:
    return row.number("count") * math.prod(map(units.to_m, (units.FOOT, units.FOOT, units.INCH))) * 1000.0


@computes("sealant-bead")
def _sealant_bead(row: Inputs) -> float:
    return bead_length(row.number("volume") * 1e-6, row.number("diameter") * MM)
