"""What stands open at the aircraft of a flight, whatever its worksheet says: no worksheet takes a defect away."""

from collections.abc import Iterator, Mapping
from typing import Any

from riskboard.jobs.office import Office, documents
from riskboard.upkeep.defects import lost, restored

__all__ = ["aircraft_id_of", "not_named", "with_standing"]


def aircraft_id_of(office: Office, aircraft_id: str, registration: str) -> str:
    """The stored aircraft of a flight: the one that was chosen, else the one of that registration; "" for none."""
    return aircraft_id or next((str(found["id"]) for found in _same(office, "", registration)), "")


def with_standing(office: Office, aircraft_id: str, data: dict[str, Any]) -> None:
    """Put every defect that stands open at the aircraft back into a worksheet's entries.

    Args:
        office: The school.
        aircraft_id: The chosen aircraft, "" for none.
        data: The entries; changed in place.
    """
    part = data.get("aircraft")
    if not isinstance(part, Mapping):
        return
    for found in _same(office, aircraft_id, str(part.get("registration") or "")):
        standing = (found.get("aircraft") or {}).get("open_defects")
        told = restored(standing, part.get("open_defects"))
        if told is not part.get("open_defects"):
            part = data["aircraft"] = {**part, "open_defects": told}


def not_named(office: Office, aircraft_id: str, registration: str, worksheet: object) -> tuple[str, ...]:
    """Defects that stand open and that a signed worksheet does not name as heavy as they are, a sentence each."""
    part = worksheet.get("aircraft") if isinstance(worksheet, Mapping) else None
    told = part.get("open_defects") if isinstance(part, Mapping) else None
    said = []
    for found in _same(office, aircraft_id, registration):
        for defect in lost((found.get("aircraft") or {}).get("open_defects"), told):
            text = defect.get("text", "") if isinstance(defect, Mapping) else defect
            said.append(f"A defect stands open that was not in what was signed: {text}")
    return tuple(said)


def _same(office: Office, aircraft_id: str, registration: str) -> Iterator[dict[str, Any]]:
    """The stored aircraft of that id, and those of that registration."""
    named = registration.strip().casefold()
    for found in documents(office, "aircraft"):
        own = str((found.get("aircraft") or {}).get("registration") or "").strip().casefold()
        if found.get("id") == aircraft_id or (named and own == named):
            yield found
