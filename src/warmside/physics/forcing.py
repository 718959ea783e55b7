"""What drives a wall hour by hour: outdoors, the room, sun and sky on the face, wetted hours.

Every series has one value at the start of each hour and one at the end of the last; between them it runs
straight. Indoor classes: EN 15026:2007 annex C and ISO 13788:2012 annex A, both from memory. Sun and sky
enter as the air temperature that would give the same heat (sol-air), with linear radiation: within 10 % of
the sky's part for sky 20 K below air.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import Enum

import numpy as np
import numpy.typing as npt

from warmside.physics.air import saturation_over_water

Array = npt.NDArray[np.float64]


class BadForcingError(ValueError):
    """A series that can't drive a wall: which, at which hour, and what would be right."""


@dataclass(frozen=True, eq=False)
class Forcing:
    """Boundary values at the hours 0 to n.

    outer : temperature that heats the outer face: air with sun and sky, or soil [C]
    outdoor : temperature of the outdoor air [C]
    outdoor_vapour : its vapour pressure [Pa]
    room : temperature of the room air [C]
    room_vapour : its vapour pressure [Pa]
    room_share : share of the wall's room air exchange that flows [-]
    outdoor_share : share of its outdoor air exchange that flows [-]
    beside : temperature of what lies beside the slice [C]
    wet_share : share of the wetting, 1 while a face is wet [-]
    """

    outer: Array
    outdoor: Array
    outdoor_vapour: Array
    room: Array
    room_vapour: Array
    room_share: Array
    outdoor_share: Array
    beside: Array
    wet_share: Array

    def __post_init__(self) -> None:
        """Raise BadForcingError for gaps, differing lengths and impossible air."""
        length = len(self.outer)
        if length < 2:
            raise BadForcingError(
                f"outer has {length} values: want the start and the end of an hour at least"
            )
        for name in SERIES:
            series = getattr(self, name)
            if series.shape != (length,):
                raise BadForcingError(f"{name} has {len(series)} values: want {length}, as outer has")
            if not np.isfinite(series).all():
                hour = int(np.argmin(np.isfinite(series)))
                raise BadForcingError(f"{name}, hour {hour}: {series[hour]}; a gap must be filled before")
        self._possible("outdoor", self.outdoor, self.outdoor_vapour)
        self._possible("room", self.room, self.room_vapour)
        for name in ("room_share", "outdoor_share", "wet_share"):
            if (getattr(self, name) < 0).any():
                raise BadForcingError(f"{name}: below 0 at hour {int(np.argmax(getattr(self, name) < 0))}")

    @staticmethod
    def _possible(name: str, temperature: Array, vapour: Array) -> None:
        for hour in np.flatnonzero((temperature < -45.0) | (temperature > 75.0))[:1]:
            raise BadForcingError(f"{name}, hour {hour}: {temperature[hour]:g} C; want -45 to 75 C")
        humidity = vapour / saturation_over_water(temperature)
        for hour in np.flatnonzero((humidity <= 0) | (humidity > 1.0 + 1e-4))[:1]:
            raise BadForcingError(
                f"{name}, hour {hour}: humidity {humidity[hour]:.3f}; want over 0 and at most 1, over water"
            )

    @property
    def hours(self) -> int:
        """Number of hours."""
        return len(self.outer) - 1


SERIES = tuple(part.name for part in fields(Forcing))


def forcing(
    outdoor: Array,
    outdoor_humidity: Array,
    room: Array,
    room_humidity: Array,
    outer: Array | None = None,
    **others: Array,
) -> Forcing:
    """Forcing from temperatures and humidities; what is not given is still, dry or the outdoor air.

    outdoor : temperature of the outdoor air [C]
    outdoor_humidity : relative humidity over water [-]
    room : temperature of the room air [C]
    room_humidity : relative humidity over water [-]
    outer : temperature that heats the outer face, the outdoor air when None [C]
    others : room_share, outdoor_share, beside, wet_share

    Raises BadForcingError.
    """
    outside, inside = np.asarray(outdoor, float), np.asarray(room, float)
    still = np.zeros_like(outside)
    shares = {"room_share": still, "outdoor_share": still, "beside": outside, "wet_share": still} | others
    return Forcing(
        outer=outside if outer is None else outer,
        outdoor=outside,
        outdoor_vapour=outdoor_humidity * saturation_over_water(outside),
        room=inside,
        room_vapour=room_humidity * saturation_over_water(inside),
        **shares,
    )


def steady(hours: int, outdoor: tuple[float, float], room: tuple[float, float], **others: float) -> Forcing:
    """The same at every hour.

    hours : how long
    outdoor : temperature [C] and relative humidity of the outdoor air [-]
    room : the same of the room [-]
    others : outer, room_share, outdoor_share, beside, wet_share

    Raises BadForcingError.
    """
    rows = [np.full(hours + 1, value) for value in (*outdoor, *room)]
    return forcing(*rows, **{name: np.full(hours + 1, value) for name, value in others.items()})


def sol_air(
    air: Array, sun: Array, sky: Array, absorptance: float, convection: float, radiation: float
) -> Array:
    """Air temperature that would heat the face as air, sun and sky together do [C].

    air : temperature [C]
    sun : on the face [W/m2]
    sky : radiant temperature of what the face sees [C]
    absorptance : of the face for sun [-]
    convection : heat transfer to the air [W/(m2.K)]
    radiation : linear heat transfer to the sky [W/(m2.K)]
    """
    return np.asarray((convection * air + radiation * sky + absorptance * sun) / (convection + radiation))


# Indoor climates


class MoistureLoad(Enum):
    """EN 15026:2007 annex C: relative humidity at -10 C and below, and at 20 C and above."""

    NORMAL = (0.30, 0.60)
    HIGH = (0.40, 0.70)


def en_15026_room(outdoor_daily: Array, load: MoistureLoad) -> tuple[Array, Array]:
    """Room temperature and humidity by the outdoor daily mean: 20 C to 10 C outside, then up to 25 C at 20 C.

    outdoor_daily : daily mean temperature of the outdoor air [C]
    load : of the house
    """
    dry, humid = load.value
    temperature = np.clip(20.0 + 0.5 * (outdoor_daily - 10.0), 20.0, 25.0)
    return temperature, np.clip(dry + (humid - dry) * (outdoor_daily + 10.0) / 30.0, dry, humid)


class HumidityClass(Enum):
    """ISO 13788:2012 annex A: vapour pressure excess at 0 C outside and below [Pa]."""

    STORAGE = 270.0
    DWELLING = 540.0
    UNKNOWN = 810.0
    KITCHEN = 1080.0


def iso_13788_room(outdoor: Array, outdoor_vapour: Array, kind: HumidityClass) -> Array:
    """Vapour pressure of the room by a humidity class, upper limit [Pa].

    outdoor : mean temperature of the outdoor air [C]
    outdoor_vapour : its vapour pressure [Pa]
    kind : of the building
    """
    return np.asarray(outdoor_vapour + kind.value * np.clip(1.0 - outdoor / 20.0, 0.0, 1.0))
