"""Envelopes: closed outlines, on the airframe, within the weight limits, and one for every state of the doors."""

from riskboard.aircraft_types.model import DoorState, EquipmentKind
from riskboard.aircraft_types.outline import outline_fault
from riskboard.aircraft_types.read import Entry, Reader, at

__all__ = ["check_envelopes"]

_OUTLINES = (
    "longitudinal_corners_arm_in_weight_lb",
    "lateral_corners_arm_in_weight_lb",
    "lateral_corners_arm_in_arm_in",
    "lateral_corners_arm_in_moment_in_lb",
)
_Allowed = tuple[float, float, str, str]
"""Lowest, highest, unit, and what is left behind outside."""


def check_envelopes(reader: Reader, root: Entry, limits: Entry, airframe: Entry) -> None:
    """Note what is wrong with the envelopes."""
    envelopes: list[Entry] = root.get("envelopes") or []
    _doors(reader, root, envelopes)
    for envelope in envelopes:
        if envelope.broken:
            continue
        for key in _OUTLINES:
            if key in envelope.values:
                _outline(reader, envelope, key, limits, airframe)
    if envelopes and not any(envelope.broken for envelope in envelopes):
        _reaches(reader, root, envelopes, limits)


def _outline(reader: Reader, envelope: Entry, key: str, limits: Entry, airframe: Entry) -> None:
    corners = envelope[key]
    nodes = envelope.node.value[key].value
    fault = outline_fault(corners)
    if fault is not None:
        place = at(nodes[fault[0]]) if nodes else envelope.place(key)
        reader.problem(place, fault[1], str(list(corners[fault[0]])) if corners else "")
        return
    for node, corner in zip(nodes, corners, strict=True):
        for inner, value, allowed in zip(node.value, corner, _allowed(key, limits, airframe), strict=True):
            low, high, unit, what = allowed
            if not low <= value <= high:
                message = f"{value:g} {unit} is outside {what} ({low:g} to {high:g} {unit})"
                reader.problem(at(inner), message, f"{value:g}", f"{low:g} to {high:g}")


def _allowed(key: str, limits: Entry, airframe: Entry) -> tuple[_Allowed, _Allowed]:
    """Where the two numbers of a corner may lie."""
    along: _Allowed = (*airframe["longitudinal_arms_in"], "in", "the airframe")
    aside: _Allowed = (*airframe["lateral_arms_in"], "in", "the airframe")
    weight: _Allowed = (limits["gross_min_lb"], limits["gross_max_lb"], "lb", "gross_min_lb and gross_max_lb")
    left, right = (arm * limits["gross_max_lb"] for arm in airframe["lateral_arms_in"])
    moment: _Allowed = (left, right, "in-lb", "what the airframe's arms give at gross_max_lb")
    return {
        "longitudinal_corners_arm_in_weight_lb": (along, weight),
        "lateral_corners_arm_in_weight_lb": (aside, weight),
        "lateral_corners_arm_in_arm_in": (along, aside),
        "lateral_corners_arm_in_moment_in_lb": (along, moment),
    }[key]


def _doors(reader: Reader, root: Entry, envelopes: list[Entry]) -> None:
    """Every state of the doors has one envelope, and only a state that can be."""
    equipment = root.get("optional_equipment") or {}
    removable = any(entry.get("kind") == EquipmentKind.door for entry in equipment.values())
    seen: dict[str, int] = {}
    for envelope in envelopes:
        doors = envelope.get("doors")
        if doors is None:
            return
        overlap = [word for word in seen if DoorState.either in {word, doors} or word == doors]
        if overlap:
            message = f"doors {doors!r} are already covered by the envelope for {overlap[0]!r}"
            reader.problem(envelope.place("doors"), message, doors)
        seen[doors] = 1
    if DoorState.removed in seen and not removable:
        message = "an envelope for doors removed, but no optional equipment is a door"
        reader.problem(at(root.node.value["envelopes"]), message, DoorState.removed)
    if DoorState.either in seen or not envelopes:
        return
    missing = [word for word in (DoorState.fitted, DoorState.removed) if word not in seen]
    if DoorState.removed in missing and not removable:
        missing.remove(DoorState.removed)
    if missing:
        message = (
            f"no envelope for doors {missing[0].value!r}; give one, or say either where the manual makes no difference"
        )
        reader.problem(at(root.node.value["envelopes"]), message, "", missing[0])


def _reaches(reader: Reader, root: Entry, envelopes: list[Entry], limits: Entry) -> None:
    weights = [y for envelope in envelopes for _, y in envelope["longitudinal_corners_arm_in_weight_lb"]]
    place = at(root.node.value["envelopes"])
    if weights and max(weights) < limits["gross_max_lb"]:
        message = f"no envelope reaches gross_max_lb {limits['gross_max_lb']:g}; the highest is {max(weights):g}"
        reader.problem(place, message, f"{max(weights):g}", f"{limits['gross_max_lb']:g}")
    if weights and min(weights) > limits["gross_min_lb"]:
        message = f"no envelope reaches down to gross_min_lb {limits['gross_min_lb']:g}; the lowest is {min(weights):g}"
        reader.problem(place, message, f"{min(weights):g}", f"{limits['gross_min_lb']:g}")
