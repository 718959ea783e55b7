"""The listed place, with a climate, that a job names."""

from __future__ import annotations

from warmside.catalog.climates import (
    NoPlaceError,
    Place,
    SeveralPlacesError,
    find_place,
    nearest_place,
)
from warmside.job import survey as asked


def listed_place(place: asked.Place) -> Place:
    """The listed place of a job, by climate, coordinates or town. Raises ClimateError.

    Of several places of one name the one in the job's own region is meant.
    """
    if place.climate is not None:
        return _like_climate(place.climate, place)
    if place.latitude is not None and place.longitude is not None:
        return nearest_place(place.latitude, place.longitude, place.town or "")
    if place.town is not None:
        return find_place(place.town, place.region, place.country)
    raise NoPlaceError("the job names no town")


def _like_climate(name: str, place: asked.Place) -> Place:
    try:
        return find_place(name)
    except SeveralPlacesError:
        if place.region is None and place.country is None:
            raise
    return find_place(name, place.region, place.country)
