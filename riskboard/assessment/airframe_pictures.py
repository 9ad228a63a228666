"""What people see of loading and performance: both envelopes, margins in plain lines, and what would bring it inside.

Everything is finished text and plain numbers, so that page, desk and paper only show it. Nothing here decides: the
scorer looks at the same numbers by itself.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isinf, isnan
from typing import Final

import numpy as np

from riskboard.aircraft_types.model import AircraftType, AltitudeKind, HoverTable, PowerTable, PowerUnit
from riskboard.assessment.airframe import Airframe
from riskboard.assessment.airframe_words import at_most, feet, gallons, listed, pounds
from riskboard.assessment.envelope_pictures import EnvelopePicture, envelope_pictures
from riskboard.measures.loading_changes import ChangeKind, Fix, fixes, fuel_that_can_be_carried_gal
from riskboard.measures.performance import PlacePerformance, hover_weight_max_lb, site_temperature_c
from riskboard.measures.registry import MEASURES
from riskboard.policy.model import Policy
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet

__all__ = ["INVENTED", "AirframePicture", "Said", "airframe_picture", "hovers_asked"]

INVENTED: Final = "Invented type: these are the figures of no real aircraft."
"""Said wherever the figures of such a type are shown."""
_NAN: Final = float("nan")
_MOST_FIXES: Final = 3
_MIN_PER_H: Final = 60.0
_HOWS: Final = ("In ground effect", "Out of ground effect")
_HOVERS: Final = {
    "hover_ige_departure": (_HOWS[0], "departure"),
    "hover_oge_departure": (_HOWS[1], "departure"),
    "hover_ige_site": (_HOWS[0], "highest site"),
    "hover_oge_site": (_HOWS[1], "highest site"),
}
_WEIGHT = ("type_name", "empty_weight_lb", "station_loads", "equipment_fitted")
_TAKE_OFF = (*_WEIGHT, "fuel_usable_gal", "start_and_taxi_gal")
_BALANCE = (*_TAKE_OFF, "empty_longitudinal_moment_in_lb", "empty_lateral_moment_in_lb")
_AIR = {
    "departure": ("temperature_c", "altimeter_inhg", "departure_elevation_ft"),
    "highest site": ("temperature_c", "altimeter_inhg", "departure_elevation_ft", "highest_site_elevation_ft"),
}


@dataclass(frozen=True)
class Said:
    """One line: what it is about, what is so, and whether it holds (None where that is unknown).

    ``counts`` is false where the policy asks no such thing of this flight: the line is then for information.
    """

    name: str
    text: str
    holds: bool | None
    counts: bool = True


@dataclass(frozen=True)
class AirframePicture:
    """One flight as its type sees it, ready to be shown.

    Attributes:
        type_title: What the type is called.
        note: That the type is invented, where it is; else "".
        loads: What lies on each seat and baggage place, what is fitted, and the fuel at take-off and landing.
        envelopes: Both envelopes; none while weight and balance are unknown.
        weights: Take-off weight, zero-fuel weight where it is too low, seats and baggage.
        balance: The longitudinal and the lateral margin.
        air: Pressure and density altitude, a line for each place.
        hover: Hover margins in and out of ground effect, at departure and at the highest site.
        power: Power limits of the day, a line for each place.
        fuel: How much fuel could be carried with this load.
        needs: Labels of the entries without which something above is unknown.
        mends: What the fixes bring inside: the hover too, unless it is unknown or no limit asks for it.
        fixes: The smallest changes that do, best first; none where all of it is inside.
        no_fix: That no such change was found, where something is surely outside; else "".
    """

    type_title: str
    note: str
    loads: tuple[tuple[str, str], ...]
    envelopes: tuple[EnvelopePicture, ...]
    weights: tuple[Said, ...]
    balance: tuple[Said, ...]
    air: tuple[Said, ...]
    hover: tuple[Said, ...]
    power: tuple[Said, ...]
    fuel: Said
    needs: tuple[str, ...]
    mends: str
    fixes: tuple[str, ...]
    no_fix: str

    @property
    def mend(self) -> str:
        """One sentence for the verdict: the best fix, and that there are others; "" where all is inside."""
        if not self.fixes:
            return self.no_fix
        others = len(self.fixes) - 1
        more = f" ({others} other way{'s' if others > 1 else ''} below.)" if others else ""
        return f"{self.mends} fit again with: {self.fixes[0]}{more}"

    @property
    def lines(self) -> tuple[tuple[str, str], ...]:
        """The figures for paper, as names and texts."""
        hover = [(f"Hover {how.lower()}", [each for each in self.hover if each.name.startswith(how)]) for how in _HOWS]
        return (
            (self.weights[0].name, self.weights[0].text),
            *zip(("Longitudinal", "Lateral"), (each.text for each in self.balance), strict=True),
            *((name, _by_place(said)) for name, said in hover),
            *(((self.power[0].name.partition(" at ")[0], _by_place(self.power)),) if self.power else ()),
            self.loads[0],
        )


def _by_place(said: Sequence[Said]) -> str:
    """Lines that end in a place of their name, in one; said once where all are alike."""
    texts = {each.text for each in said}
    places = [next(place for place in _AIR if each.name.endswith(place)) for each in said]
    if len(texts) == 1:
        return f"{' and '.join(places)}: {said[0].text}"
    return "; ".join(f"{place}: {each.text}" for place, each in zip(places, said, strict=True))


def hovers_asked(policy: Policy, guards: Mapping[str, bool | None]) -> frozenset[str]:
    """Which hovers some limit of the policy asks of a flight, by the names of :data:`_HOVERS`.

    Args:
        policy: The policy.
        guards: Its guard words for this flight; what is unknown or missing counts as so.
    """
    return frozenset(
        hover
        for limit in policy.limits
        if all(guards.get(word.value) in {None, wanted} for word, wanted in limit.when.items())
        for hover in _HOVERS
        if any(column.startswith(hover) for column in _columns_of(limit.measure))
    )


def _columns_of(measure: str) -> tuple[str, ...]:
    entry = MEASURES[measure]
    return tuple(entry.rests_on or entry.needs)


def airframe_picture(frame: Airframe, sheet: Worksheet, asked: Collection[str]) -> AirframePicture:
    """One flight as its type sees it, ready to be shown.

    Args:
        frame: The flight with scalars, from ``airframe_of``.
        sheet: The worksheet it was made from: with what is too old to count left blank.
        asked: Hovers that limits ask for, from :func:`hovers_asked`.
    """
    reader = _Reader(frame, sheet, frozenset(asked))
    found = reader.fixes()
    return AirframePicture(
        type_title=frame.aircraft.title,
        note=INVENTED if frame.aircraft.invented else "",
        loads=reader.loads(),
        envelopes=reader.envelopes,
        weights=tuple(reader.weights()),
        balance=reader.balance(),
        air=tuple(reader.air(place) for place in reader.places),
        hover=reader.hovers,
        power=tuple(said for place in reader.places for said in reader.power(place)),
        fuel=reader.fuel(),
        needs=reader.needs(),
        mends=reader.mends,
        fixes=found,
        no_fix="" if found else reader.no_fix(),
    )


def _plain(value: object) -> float:
    return float(np.asarray(value, dtype=np.float64))


class _Reader:
    """Puts one flight into words."""

    def __init__(self, frame: Airframe, sheet: Worksheet, asked: frozenset[str]) -> None:
        self.frame = frame
        self.sheet = sheet
        self.asked = asked
        self.aircraft: AircraftType = frame.aircraft
        self.places: Mapping[str, PlacePerformance] = {"departure": frame.departure, "highest site": frame.highest_site}
        self.envelopes = envelope_pictures(frame)
        self.hovers = tuple(self._hover(name) for name in _HOVERS)
        self.limit_lb = self._gross_limit_lb()
        unknown = self.limit_lb is None or isnan(self.limit_lb)
        self.mends = "Weight and balance" if unknown else "Weight, balance and hover"

    # -- blanks -----------------------------------------------------------------------------------------------------

    def _blank(self, fields: Sequence[str]) -> list[str]:
        """Labels of what is blank among some entries; a seat or piece of equipment by its own name."""
        return [label for field in fields for label in self._blank_in(field)]

    def _blank_in(self, field: str) -> Iterator[str]:
        load = self.frame.load
        if field == "station_loads":
            for station in self.aircraft.stations:
                if isnan(_plain(load.stations_lb[station.name])):
                    yield station.label
        elif field == "equipment_fitted":
            for piece in self.aircraft.equipment:
                if isnan(_plain(load.fitted[piece.name])):
                    yield f"{piece.label}: fitted or not"
        elif self.sheet.value(field) is None:
            yield PARTS[FIELD_PART[field]].facts()[field].label

    def _unknown(self, fields: Sequence[str], otherwise: str) -> str:
        blank = self._blank(fields)
        return f"unknown, needs {listed(blank)}" if blank else f"unknown: {otherwise}"

    def needs(self) -> tuple[str, ...]:
        every = (*_BALANCE, "fuel_burn_gal_h", "take_off_at", "landing_at", *_AIR["highest site"])
        return tuple(dict.fromkeys(self._blank(every)))

    def loads(self) -> tuple[tuple[str, str], ...]:
        load, left = self.frame.load, self.frame.loading.landing
        places = [f"{each.label} {_or_unknown(load.stations_lb[each.name])}" for each in self.aircraft.stations]
        fitted = [self._fitted(piece.label, _plain(load.fitted[piece.name])) for piece in self.aircraft.equipment]
        aboard, burn = _plain(load.fuel_gal), _plain(load.burn_gal)
        landing = _plain(left.gross_weight_lb)
        fuel = "unknown" if isnan(aboard) else f"{gallons(aboard)} at take-off"
        burned = "" if isnan(burn) else f", {gallons(burn)} burned on the way"
        weight = "" if isnan(landing) else f", {pounds(landing)} at landing"
        found = [("Loads", ", ".join(places)), ("Fuel", f"{fuel}{burned}{weight}")]
        return (*found, ("Equipment", ", ".join(fitted))) if fitted else tuple(found)

    def _fitted(self, label: str, state: float) -> str:
        return f"{label} {'unknown' if isnan(state) else 'fitted' if state == 1 else 'not fitted'}"

    # -- weight and balance -----------------------------------------------------------------------------------------

    def weights(self) -> Iterator[Said]:
        found, limits = self.frame.loading, self.aircraft.limits
        gross, room = _plain(found.take_off.gross_weight_lb), at_most(_plain(found.gross_max_margin_lb), 1)
        if isnan(gross):
            yield Said("Take-off weight", self._unknown(_TAKE_OFF, "it cannot be worked out"), None)
        else:
            how = f"{pounds(room)} under" if room >= 0 else f"{pounds(-room)} over"
            text = f"{pounds(gross)}, {how} the highest ({pounds(limits.gross_max_lb)})"
            yield Said("Take-off weight", text, room >= 0)
        lowest = at_most(_plain(found.gross_min_margin_lb), 1)
        if lowest < 0:
            least = f"{pounds(-lowest)} under the lowest ({pounds(limits.gross_min_lb)})"
            yield Said("Weight without fuel", f"{pounds(limits.gross_min_lb + lowest)}, {least}", holds=False)
        yield from self._stations()

    def _stations(self) -> Iterator[Said]:
        """Each seat and baggage place that is over or under its limit; one line where all hold."""
        loads = {name: _plain(value) for name, value in self.frame.load.stations_lb.items()}
        wrong = []
        for station in self.aircraft.stations:
            carried = loads[station.name]
            if carried > station.max_lb:
                wrong.append(f"{station.label} {pounds(carried)}, at most {pounds(station.max_lb)}")
            if carried < station.min_lb:
                wrong.append(f"{station.label} {pounds(carried)}, at least {pounds(station.min_lb)}")
        for limit in self.aircraft.together:
            total = float(np.sum([loads[name] for name in limit.stations]))
            if total > limit.max_lb:
                labels = [self.aircraft.station(name).label for name in limit.stations]
                wrong.append(f"{' + '.join(labels)} {pounds(total)}, at most {pounds(limit.max_lb)}")
        if wrong:
            yield Said("Seats and baggage", "; ".join(wrong), holds=False)
        elif isnan(_plain(self.frame.loading.stations_margin_lb)):
            yield Said("Seats and baggage", self._unknown(("station_loads",), "a place is not known"), None)
        else:
            yield Said("Seats and baggage", "each place within its limit", holds=True)

    def balance(self) -> tuple[Said, ...]:
        names = ("Longitudinal balance", "Lateral balance")
        if not self.envelopes:
            text = self._unknown(_BALANCE, "it cannot be worked out")
            return tuple(Said(name, text, None) for name in names)
        return tuple(Said(name, each.margin, each.inside) for name, each in zip(names, self.envelopes, strict=True))

    # -- performance ------------------------------------------------------------------------------------------------

    def air(self, place: str) -> Said:
        found = self.places[place]
        pressure, density = _plain(found.pressure_altitude_ft), _plain(found.density_altitude_ft)
        if isnan(pressure) or isnan(density):
            return Said(f"Air at {place}", self._unknown(_AIR[place], "it cannot be worked out"), None)
        warm = f"{self._temperature_c(place):.0f} °C".replace("-", "\N{MINUS SIGN}")
        return Said(
            f"Air at {place}", f"density altitude {feet(density)}, pressure altitude {feet(pressure)}, {warm}", None
        )

    def _temperature_c(self, place: str) -> float:
        weather, plan = self.sheet.weather, self.sheet.plan
        here = [weather.temperature_c, plan.departure_elevation_ft, plan.highest_site_elevation_ft]
        known = [_NAN if value is None else float(value) for value in here]
        return known[0] if place == "departure" else _plain(site_temperature_c(*known))

    def _table(self, hover: str) -> HoverTable:
        return self.aircraft.hover_in_ground_effect if "_ige_" in hover else self.aircraft.hover_out_of_ground_effect

    def _hover(self, hover: str) -> Said:
        how, place = _HOVERS[hover]
        found = self.places[place]
        inside = "_ige_" in hover
        room_ft = at_most(_plain(found.in_ground_effect_ft if inside else found.out_of_ground_effect_ft), 0)
        room_lb = at_most(_plain(found.in_ground_effect_lb if inside else found.out_of_ground_effect_lb), 1)
        text, holds = self._hover_said(room_ft, room_lb, place)
        return Said(f"{how}, {place}", text, holds, counts=hover in self.asked)

    def _hover_said(self, room_ft: float, room_lb: float, place: str) -> tuple[str, bool | None]:
        if isnan(room_ft):
            text = self._unknown((*_TAKE_OFF, *_AIR[place]), "outside the table")
            over = f"; {pounds(-room_lb)} above the heaviest weight that the table holds" if room_lb < 0 else ""
            return text + over, None
        if room_ft < 0:
            heavy = "no weight of the table hovers here" if isnan(room_lb) else f"{pounds(-room_lb)} too heavy"
            return f"{feet(-room_ft)} short: {heavy}", False
        spare = "" if isnan(room_lb) else f", {pounds(room_lb)} to spare"
        return f"ceiling {feet(room_ft)} above{spare}", True

    def power(self, place: str) -> Iterator[Said]:
        """The limits of the day; of the highest site only where it lies elsewhere in height."""
        plan = self.sheet.plan
        if place != "departure" and plan.highest_site_elevation_ft in {None, plan.departure_elevation_ft}:
            return
        tables, blank = self.aircraft.power_tables, self._blank(_AIR[place])
        if not tables:
            return
        limits = [_plain(self.places[place].power_limits[table.name]) for table in tables]
        name = f"{_gauge(tables)} limit at {place}"
        if blank or all(isnan(limit) for limit in limits):
            yield Said(name, f"unknown, needs {listed(blank)}" if blank else "outside the table: unknown", None)
            return
        said = [_limit_said(table, limit) for table, limit in zip(tables, limits, strict=True)]
        yield Said(name, ", ".join([said[0], *(_low(each) for each in said[1:])]), None)

    # -- what would mend it -----------------------------------------------------------------------------------------

    def _gross_limit_lb(self) -> float | None:
        """What the hovers that are asked for allow at take-off; None where none is asked."""
        limits = []
        for hover in sorted(self.asked & _HOVERS.keys()):
            table, place = self._table(hover), _HOVERS[hover][1]
            found = self.places[place]
            pressure = table.altitude is AltitudeKind.pressure
            altitude = found.pressure_altitude_ft if pressure else found.density_altitude_ft
            limits.append(_plain(hover_weight_max_lb(table, self._temperature_c(place), altitude)))
        return float(np.min(limits)) if limits else None  # of an unknown one it is unknown

    def _needed_gal(self) -> float:
        """Fuel at take-off that flight and reserve need; all that is aboard where that is not known."""
        burn, aboard = _plain(self.frame.load.burn_gal), _plain(self.frame.load.fuel_gal)
        rate, reserve = self.sheet.aircraft.fuel_burn_gal_h, self.sheet.plan.reserve_min
        if rate is None or reserve is None or isnan(burn):
            return aboard
        return burn + rate * reserve / _MIN_PER_H

    def fixes(self) -> tuple[str, ...]:
        """The best few. Where nobody knows which weight hovers, weight and balance are mended without it."""
        limit = None if self.limit_lb is None or isnan(self.limit_lb) else self.limit_lb
        found = fixes(self.aircraft, self.frame.load, fuel_needed_gal=self._needed_gal(), gross_limit_lb=limit)
        return tuple(self._fix_said(fix) for fix in found[:_MOST_FIXES])

    def no_fix(self) -> str:
        """Why there is none, where something is surely outside."""
        short = [each for each in self.hovers if each.holds is False and each.counts]
        if short and self.limit_lb is not None and isnan(self.limit_lb):
            return f"{short[0].name}: what weight would hover there, the table does not say."
        if _plain(self.frame.loading.within) == 0 or short:
            return f"{self.mends}: no change of seats, baggage, fuel or people that was tried brings them inside."
        return ""

    def _fix_said(self, fix: Fix) -> str:
        fuel = {ChangeKind.less_fuel, ChangeKind.more_fuel}
        said = [self._fuel_said(fix) if each.kind in fuel else each.sentence for each in fix.changes]
        return " ".join(said)

    def _fuel_said(self, fix: Fix) -> str:
        """Fuel as it is dipped and entered: before start and taxi."""
        taxi = float(self.sheet.aircraft.start_and_taxi_gal or 0.0)
        entered = float(self.sheet.aircraft.fuel_usable_gal or 0.0)
        new = at_most(_plain(fix.load.fuel_gal) + taxi, 1)  # as it can be entered, and never a drop more
        less = new < entered
        amount = gallons(entered - new if less else new - entered)
        return f"Usable fuel {gallons(new)} before start, {amount} {'less' if less else 'more'}."

    def fuel(self) -> Said:
        """The most fuel with which weight, balance and the hovers asked for hold; as it is dipped, before start."""
        name, load = "Fuel that can be carried", self.frame.load
        taxi, entered = self.sheet.aircraft.start_and_taxi_gal, self.sheet.aircraft.fuel_usable_gal
        most = _plain(fuel_that_can_be_carried_gal(self.aircraft, load, gross_limit_lb=self.limit_lb))
        if isnan(most) or taxi is None:
            needed = [field for field in _BALANCE if field != "fuel_usable_gal"]
            text = self._unknown([*needed, *(_AIR["highest site"] if self.asked else ())], "outside the hover table")
            return Said(name, text, None)
        if isinf(most):
            return Said(name, "no amount of fuel will do with this load", holds=False)
        before, tanks = at_most(most + taxi, 1), self.aircraft.fuel.usable_gal
        full = before >= tanks
        text = f"full tanks, {gallons(tanks)}" if full else f"{gallons(before)} before start"
        if entered is None:
            return Said(name, text, None)
        if not full and entered > before:
            text = f"{text}, {gallons(entered - before)} less than entered"
        return Said(name, text + self._too_little(before), holds=full or entered <= before)

    def _too_little(self, before_gal: float) -> str:
        """That what can be carried is less than what flight and reserve need, where it is."""
        if self.sheet.plan.reserve_min is None or isnan(_plain(self.frame.load.burn_gal)):
            return ""
        needed = self._needed_gal() + float(self.sheet.aircraft.start_and_taxi_gal or 0.0)
        return f"; flight and reserve need {gallons(needed)}" if needed > before_gal else ""


def _or_unknown(value: object) -> str:
    number = _plain(value)
    return "unknown" if isnan(number) else pounds(number)


def _gauge(tables: Sequence[PowerTable]) -> str:
    return "Torque" if any(table.unit is PowerUnit.pct for table in tables) else "Manifold pressure"


def _low(text: str) -> str:
    """Small first letter, where the word is no abbreviation."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _limit_said(table: PowerTable, limit: float) -> str:
    if isnan(limit):
        return f"{table.label} outside the table: unknown"
    held = f" for {table.held_max_min:g} min" if table.held_max_min is not None else ""
    unit = "%" if table.unit is PowerUnit.pct else " inHg"
    return f"{table.label} {at_most(limit, 1):.1f}{unit}{held}"
