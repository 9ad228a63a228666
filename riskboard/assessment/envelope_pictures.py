"""Both loading envelopes as pictures: outline, the flight's line, the way to the nearest edge. Plain data, no drawing.

The margins are those of ``measures.loading``; what is found here besides is on which side the nearest edge lies.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isinf, isnan
from typing import Final, Literal, NamedTuple

import numpy as np

from riskboard.aircraft_types.model import AircraftType, Corner, DoorState, Envelope, LateralAgainst
from riskboard.assessment.airframe import Airframe
from riskboard.assessment.airframe_words import at_most, inches, listed, pounds
from riskboard.measures.envelope import outline_margin
from riskboard.measures.loading import Balance, Load, loading

__all__ = ["EnvelopePicture", "Outline", "Spot", "envelope_pictures"]

Range = tuple[float, float]
Side = Literal["longitudinal", "lateral"]

_STEPS: Final = 9
_ROOM: Final = 0.09
"""Share of the picture left free on each side."""
_ON_EDGE: Final = 2e-6
_ARMS: Final = {"longitudinal": ("forward", "aft"), "lateral": ("left", "right")}
"""Where smaller and where larger arms lie."""
_TO: Final = {"longitudinal": "", "lateral": "to the "}


@dataclass(frozen=True)
class Outline:
    """One outline.

    Attributes:
        name: Which doors it is for; "" where there is but one.
        corners: In order, the first again at the end.
    """

    name: str
    corners: tuple[Corner, ...]


@dataclass(frozen=True)
class Spot:
    """One condition of the flight; ``right`` is whether it lies in the right half of the picture."""

    what: str
    across: float
    up: float
    inside: bool
    right: bool


@dataclass(frozen=True)
class EnvelopePicture:
    """One envelope with the flight on it.

    Attributes:
        side: Which of the two.
        title: The finding, in words.
        margin: The same as one short line for paper.
        inside: Whether every condition lies inside; None where one is unknown and none is known to lie outside.
        across: Title of the first axis.
        up: Title of the second axis.
        across_range: What the first axis shows.
        up_range: What the second axis shows.
        outlines: What applies for the doors as they are: one outline, or both where some doors are off or nobody knows.
        way: From take-off to landing, as the fuel burns off.
        rest: From landing to no usable fuel.
        spots: Take-off, landing and zero fuel, as far as they are known.
        gap: From the tightest condition to the nearest edge; None where no way along the arm leads there.
    """

    side: Side
    title: str
    margin: str
    inside: bool | None
    across: str
    up: str
    across_range: Range
    up_range: Range
    outlines: tuple[Outline, ...]
    way: tuple[Corner, ...]
    rest: tuple[Corner, ...]
    spots: tuple[Spot, ...]
    gap: tuple[Corner, Corner] | None


class _Reach(NamedTuple):
    """How far one condition lies from the nearest edge of the outline that holds it tightest.

    ``arm`` is the way along the arm in the coordinate of the picture, ``arm_in`` the same in inches, ``other`` the way
    along the other axis; each positive inside, negative outside, -inf where nothing along it helps.
    """

    what: str
    point: Corner
    inside: bool
    arm: float
    arm_in: float
    other: float
    outline: Outline


@dataclass(frozen=True)
class _Plane:
    """In which coordinates an envelope is drawn; ``against`` is None for the longitudinal one."""

    side: Side
    against: LateralAgainst | None
    outlines: tuple[Outline, ...]

    @property
    def upright(self) -> bool:
        """Whether the arm in question runs up the picture instead of across it."""
        return self.against not in {None, LateralAgainst.gross_weight}

    @property
    def as_moment(self) -> bool:
        return self.against is LateralAgainst.longitudinal_cg_as_moment

    @property
    def axes(self) -> tuple[str, str]:
        along, aside = "longitudinal CG, in", "lateral CG, in (right is +)"
        if not self.upright:
            return (along if self.against is None else aside), "weight, lb"
        return along, "lateral moment, in·lb (right is +)" if self.as_moment else aside

    def point(self, balance: Balance) -> Corner:
        weight, along, aside = (_plain(getattr(balance, name)) for name in _COORDINATES)
        if self.against is None:
            return along, weight
        if self.against is LateralAgainst.gross_weight:
            return aside, weight
        return along, aside * weight if self.as_moment else aside

    def points(self, balance: Balance) -> tuple[Corner, ...]:
        """The same of a balance of arrays."""
        rows = zip(*(np.asarray(getattr(balance, name)).tolist() for name in _COORDINATES), strict=True)
        fields = (dict(zip(_COORDINATES, row, strict=True)) for row in rows)
        return tuple(self.point(replace(balance, **each)) for each in fields)

    def moved(self, point: Corner, by: float) -> Corner:
        """A point moved along the arm."""
        return (point[0], point[1] + by) if self.upright else (point[0] + by, point[1])


@dataclass(frozen=True)
class _Found:
    """What was found on one plane."""

    plane: _Plane
    reaches: Sequence[_Reach]
    tightest: _Reach
    inside: bool | None


_COORDINATES: Final = ("gross_weight_lb", "longitudinal_cg_in", "lateral_cg_in")


def _plain(value: object) -> float:
    return float(np.asarray(value, dtype=np.float64))


def envelope_pictures(frame: Airframe) -> tuple[EnvelopePicture, ...]:
    """The longitudinal and the lateral envelope of one flight.

    Args:
        frame: One flight as its type sees it, with scalars.

    Returns:
        Two pictures; none while weight and balance of no condition are known.
    """
    found = frame.loading
    conditions = (("take-off", found.take_off), ("landing", found.landing), ("zero fuel", found.zero_fuel))
    if all(_unknown(balance) for _, balance in conditions):
        return ()
    return tuple(_picture(frame, plane, conditions) for plane in _planes(frame.aircraft, frame.load))


def _unknown(balance: Balance) -> bool:
    return any(isnan(_plain(getattr(balance, name))) for name in _COORDINATES)


def _planes(aircraft: AircraftType, load: Load) -> tuple[_Plane, _Plane]:
    chosen = _envelopes(aircraft, load)
    longitudinal, lateral = [], []
    for envelope in chosen:
        name = "" if len(chosen) == 1 else f"doors {envelope.doors.value}"
        longitudinal.append(Outline(name, (*envelope.longitudinal, envelope.longitudinal[0])))
        lateral.append(Outline(name, (*envelope.lateral, envelope.lateral[0])))
    against = chosen[0].lateral_against
    return _Plane("longitudinal", None, tuple(longitudinal)), _Plane("lateral", against, tuple(lateral))


def _envelopes(aircraft: AircraftType, load: Load) -> list[Envelope]:
    """The envelopes for the doors as they are; every one where some are off, or where nobody knows."""
    states = {_plain(load.fitted.get(piece.name, np.nan)) for piece in aircraft.doors}
    if states and states not in ({0.0}, {1.0}):
        return list(aircraft.envelopes)
    wanted = DoorState.removed if states == {0.0} else DoorState.fitted
    return [each for each in aircraft.envelopes if each.doors in {wanted, DoorState.either}] or [aircraft.envelopes[0]]


def _picture(frame: Airframe, plane: _Plane, conditions: Sequence[tuple[str, Balance]]) -> EnvelopePicture:
    way, rest = _line(frame, plane)
    known = [(what, balance) for what, balance in conditions if not _unknown(balance)]
    reaches = [_reach(plane, what, balance) for what, balance in known]
    found = _Found(plane, reaches, _tightest(frame, plane, reaches), _whether(frame, plane))
    title, margin = _said(found, [what for what, balance in conditions if _unknown(balance)])
    corners = [corner for outline in plane.outlines for corner in outline.corners]
    drawn = [*corners, *way, *rest, *(each.point for each in reaches)]
    across_range = _range([point[0] for point in drawn])
    return EnvelopePicture(
        side=plane.side,
        title=title,
        margin=margin,
        inside=found.inside,
        across=plane.axes[0],
        up=plane.axes[1],
        across_range=across_range,
        up_range=_range([point[1] for point in drawn]),
        outlines=plane.outlines,
        way=way,
        rest=rest,
        spots=tuple(
            Spot(each.what, *each.point, inside=each.inside, right=each.point[0] > sum(across_range) / 2)
            for each in reaches
        ),
        gap=None if isinf(found.tightest.arm) else (found.tightest.point, _nearest(plane, found.tightest)),
    )


def _whether(frame: Airframe, plane: _Plane) -> bool | None:
    tightest = _plain(frame.loading.tightest(f"{plane.side}_margin_in"))
    return None if isnan(tightest) else tightest >= 0


def _tightest(frame: Airframe, plane: _Plane, reaches: Sequence[_Reach]) -> _Reach:
    """The condition nearest to an edge, or farthest outside: one of those shown, unless it is tighter in between."""
    shown, *_ = sorted(reaches, key=lambda each: each.arm_in)
    margins = np.asarray(getattr(frame.loading.whole, f"{plane.side}_margin_in"), dtype=np.float64)
    if np.isnan(margins).any() or margins.min() >= shown.arm_in - _ON_EDGE:
        return shown
    place = int(margins.argmin())
    between = {name: np.asarray(getattr(frame.loading.whole, name))[place] for name in _COORDINATES}
    return _reach(plane, "in between", replace(frame.loading.take_off, **between))


def _line(frame: Airframe, plane: _Plane) -> tuple[tuple[Corner, ...], tuple[Corner, ...]]:
    """From take-off to landing, and on to no usable fuel; tanks that empty in order bend it."""
    aboard, burn = _plain(frame.load.fuel_gal), _plain(frame.load.burn_gal)
    if isnan(aboard) or _unknown(frame.loading.take_off):
        return (), ()
    left = aboard - burn
    left = aboard if isnan(left) else 0.0 if left < 0 else left
    fuel = np.concatenate([np.linspace(aboard, left, _STEPS), np.linspace(left, 0.0, _STEPS)])
    every = loading(frame.aircraft, replace(frame.load, fuel_gal=fuel, burn_gal=0.0)).take_off
    points = plane.points(every)
    return points[:_STEPS], points[_STEPS:]


def _range(values: Sequence[float]) -> Range:
    low, high = float(np.min(values)), float(np.max(values))
    room = (high - low) * _ROOM
    return low - room, high + room


# -- the nearest edge -------------------------------------------------------------------------------------------------


def _reach(plane: _Plane, what: str, balance: Balance) -> _Reach:
    point, weight_lb = plane.point(balance), _plain(balance.gross_weight_lb)
    found = []
    for outline in plane.outlines:
        margin = outline_margin(*point, outline.corners[:-1])
        across, up = _plain(margin.across), _plain(margin.up)
        arm, other = (up, across) if plane.upright else (across, up)
        arm_in = arm / weight_lb if plane.as_moment else arm
        found.append(_Reach(what, point, _plain(margin.inside) == 1, arm, arm_in, other, outline))
    tightest, *_ = sorted(found, key=lambda each: each.arm)
    return tightest


def _nearest(plane: _Plane, reach: _Reach) -> Corner:
    """Where the nearest edge lies along the arm."""
    by = abs(reach.arm)
    return plane.moved(reach.point, by if _on_edge(plane, reach, by) else -by)


def _on_edge(plane: _Plane, reach: _Reach, by: float) -> bool:
    margin = outline_margin(*plane.moved(reach.point, by), reach.outline.corners[:-1])
    return abs(_plain(margin.up if plane.upright else margin.across)) <= _ON_EDGE


def _said(found: _Found, blank: list[str]) -> tuple[str, str]:
    """Title and short line."""
    tightest = found.tightest
    names = listed([each.what for each in found.reaches])
    if found.inside is None:
        said = f"nknown{f' at {listed(blank)}' if blank else ': which envelope applies'}"
        return f"U{said}", f"u{said}"
    if not found.inside:
        where = listed([each.what for each in found.reaches if not each.inside] or ["a fuel state in between"])
        return f"Outside at {where}: {_too_far(found)}", f"outside at {where}, {_too_far(found)}"
    side = _ARMS[found.plane.side][1 if _on_edge(found.plane, tightest, abs(tightest.arm)) else 0]
    way = f"{inches(at_most(tightest.arm_in, 2))} {_TO[found.plane.side]}{side}"
    return (
        f"Inside at {names}; nearest edge {way} ({tightest.what})",
        f"inside, nearest edge {way} ({tightest.what})",
    )


def _too_far(found: _Found) -> str:
    """How far outside, and on which side; where no arm would do, along the other axis."""
    plane, reach = found.plane, found.tightest
    if not isinf(reach.arm):
        # Outside, the edge lies on the side that the load is too far from.
        side = _ARMS[plane.side][0 if _on_edge(plane, reach, -reach.arm) else 1]
        return f"{inches(-at_most(reach.arm_in, 2))} too far {side}"
    if isinf(reach.other):
        return "far from every edge"
    by = -reach.other
    shifted = (reach.point[0] + by, reach.point[1]) if plane.upright else (reach.point[0], reach.point[1] + by)
    margin = outline_margin(*shifted, reach.outline.corners[:-1])
    above = abs(_plain(margin.across if plane.upright else margin.up)) <= _ON_EDGE
    if plane.upright:
        return f"{inches(-at_most(reach.other, 2))} too far {_ARMS['longitudinal'][0 if above else 1]}"
    return f"{pounds(-at_most(reach.other, 1))} too {'light' if above else 'heavy'} for this envelope"
