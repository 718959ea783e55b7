"""Heat saved -> fuel and money, and how long it takes until the goods are paid.

The price is the user's own; without it there is no money. Heat bought = heat saved over the efficiency of the
heating, a range where nobody looked at the plate. Payback is of goods alone, at today's price of energy: no
work, no subsidy, no rise of prices; with interest it is the number of equal yearly savings whose present
value pays the goods.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from warmside.job.resolve import HouseHeating
from warmside.job.survey import EnergyPrice, EnergyUnit, Fuel
from warmside.study.heat_data import Range, energy_per, fuel_efficiency, spread

MILLIONTH_TO_CENT = 1e-4
NEVER = 100.0
"""Longer than any house is planned for: told as never [a]."""


@dataclass(frozen=True)
class Purchase:
    """What the goods of the order cost; incomplete while a line has no price [cents]."""

    cents: int
    currency: str | None
    complete: bool


@dataclass(frozen=True)
class Bought:
    """Energy that is not bought any more.

    energy : of the fuel [kWh/a]
    units : of sale, if the price names one; else None [units/a]
    """

    fuel: Fuel
    efficiency: Range
    energy: Range
    unit: EnergyUnit | None
    units: Range | None


@dataclass(frozen=True)
class Years:
    """How long it takes, from the best to the worst of all ends; None is never [a]."""

    low: float | None
    likely: float | None
    high: float | None


@dataclass(frozen=True)
class Money:
    """What is saved in a year.

    cents : of the currency [cents/a]
    payback : of the goods, None where the order is incomplete or in another currency
    discounted : the same with interest
    """

    currency: str
    cents: Range
    payback: Years | None
    discounted: Years | None


def efficiency(heating: HouseHeating) -> Range | None:
    """Heat in the house over energy bought; None without a fuel [-]."""
    if heating.fuel is None:
        return None
    known = heating.efficiency
    return fuel_efficiency(heating.fuel) if known is None else Range.certain(known)


def bought(heating: HouseHeating, saved: Range) -> Bought | None:
    """Fuel that the saved heat took; None without a fuel.

    heating : of the house
    saved : heat [kWh/a]
    """
    share = efficiency(heating)
    if heating.fuel is None or share is None:
        return None
    energy = saved.over_range(share)
    content = None if heating.price is None else energy_per(heating.fuel, heating.price.per)
    if heating.price is None or content is None:
        return Bought(heating.fuel, share, energy, None, None)
    return Bought(heating.fuel, share, energy, heating.price.per, energy.map(lambda kwh: kwh / content))


def cents_a_year(units: Range, price: EnergyPrice) -> Range:
    """Money for some units of a fuel [cents/a].

    units : of sale [units/a]
    price : of one
    """
    return units.map(lambda count: count * price.millionths * MILLIONTH_TO_CENT)


def simple_payback(cost: float, saved: Range) -> Years:
    """Years of saving that pay the goods [a].

    cost : of the goods [cents]
    saved : in a year [cents/a]
    """
    return Years(*(_in_time(years_with_interest(cost, cents, 0.0)) for cents in reversed(saved.ends)))


def years_with_interest(cost: float, yearly: float, rate: float) -> float | None:
    """Equal yearly savings whose present value is the cost; None where they never reach it [a].

    cost : today [cents]
    yearly : saved at the end of each year [cents/a]
    rate : real interest [1/a]
    """
    if yearly <= 0:
        return None
    if rate == 0:
        return cost / yearly
    rest = 1.0 - cost * rate / yearly
    return None if rest <= 0 else -math.log(rest) / math.log1p(rate)


def discounted_payback(cost: float, saved: Range) -> Years:
    """Payback with interest, the best of all ends first, the worst last [a].

    cost : of the goods [cents]
    saved : in a year [cents/a]
    """
    pairs = zip(reversed(saved.ends), spread("interest", "rate").ends, strict=True)
    return Years(*(_in_time(years_with_interest(cost, cents, rate)) for cents, rate in pairs))


def _in_time(years: float | None) -> float | None:
    return None if years is None or years > NEVER else years


def money(heating: HouseHeating, fuel: Bought | None, purchase: Purchase | None) -> Money | None:
    """What the fuel costs in a year, and the payback of the goods; None without a price for the fuel."""
    if fuel is None or fuel.units is None or heating.price is None:
        return None
    cents, currency = cents_a_year(fuel.units, heating.price), heating.price.currency
    pays = purchase is not None and purchase.complete and purchase.currency == currency
    cost = purchase.cents if purchase is not None and pays else None
    return Money(
        currency,
        cents,
        None if cost is None else simple_payback(cost, cents),
        None if cost is None else discounted_payback(cost, cents),
    )


def needs(heating: HouseHeating, fuel: Bought | None, purchase: Purchase | None) -> tuple[str, ...]:
    """Fields that would have to be known for the money and the payback."""
    missing = [] if heating.fuel else ["heating.fuel"]
    if heating.price is None or (fuel is not None and fuel.units is None):
        missing.append("heating.price")
    if purchase is None or not purchase.complete:
        missing.append("prices")
    return tuple(missing)
