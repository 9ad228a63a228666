"""Envelopes: closed outlines, on the airframe, within the weight limits, and one for every state of the doors."""

from riskboard.aircraft_types.model import DoorState, EquipmentKind
from riskboard.aircraft_types.outline import outline_fault
from riskboard.aircraft_types.read import Entry, Reader, at

__all__ = ["check_envelopes"]

_OUTLINES = ("longitudinal_corners_in_lb", "lateral_corners_in_lb", "lateral_corners_in_in")


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
    across = "lateral_arms_in" if key == "lateral_corners_in_lb" else "longitudinal_arms_in"
    up = airframe["lateral_arms_in"] if key == "lateral_corners_in_in" else None
    weights = (limits["gross_min_lb"], limits["gross_max_lb"])
    for node, (x, y) in zip(nodes, corners, strict=True):
        low, high = airframe[across]
        if not low <= x <= high:
            message = f"the arm {x:g} in is outside the airframe, which reaches from {low:g} to {high:g} in"
            reader.problem(at(node.value[0]), message, f"{x:g}", f"{low:g} to {high:g}")
        low, high = weights if up is None else up
        if not low <= y <= high:
            what = (
                f"weight {y:g} lb is outside gross_min_lb and gross_max_lb"
                if up is None
                else f"arm {y:g} in is outside the airframe"
            )
            reader.problem(at(node.value[1]), f"the {what} ({low:g} to {high:g})", f"{y:g}", f"{low:g} to {high:g}")


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
    weights = [y for envelope in envelopes for _, y in envelope["longitudinal_corners_in_lb"]]
    place = at(root.node.value["envelopes"])
    if weights and max(weights) < limits["gross_max_lb"]:
        message = f"no envelope reaches gross_max_lb {limits['gross_max_lb']:g}; the highest is {max(weights):g}"
        reader.problem(place, message, f"{max(weights):g}", f"{limits['gross_max_lb']:g}")
    if weights and min(weights) > limits["gross_min_lb"]:
        message = f"no envelope reaches down to gross_min_lb {limits['gross_min_lb']:g}; the lowest is {min(weights):g}"
        reader.problem(place, message, f"{min(weights):g}", f"{limits['gross_min_lb']:g}")
