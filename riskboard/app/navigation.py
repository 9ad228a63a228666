"""Which pages stand in the navigation: those that exist and that this person's roles have a use for.

Leaving one out is a courtesy, never a protection: whoever opens its address all the same meets the rule of authority in
every job.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from riskboard.people.authority import may_change_fact, may_see_board, may_transcribe
from riskboard.words import Role

__all__ = ["PLACES", "Place", "file_of", "has_page", "pages_for"]

PAGES = Path(__file__).resolve().parent / "pages"
_Rule = Callable[[frozenset[Role]], bool]
_OVERSEES = frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor, Role.safety_officer})
_KINDS = ("aircraft", "site", "route", "person", "school")


@dataclass(frozen=True)
class Place:
    """One page of the app.

    Attributes:
        name: Its file and its address.
        title: What the navigation says.
        used_by: Whether somebody with these roles has a use for it.
    """

    name: str
    title: str
    used_by: _Rule


def _everybody(_roles: frozenset[Role]) -> bool:
    return True


PLACES = (
    Place("brief", "Brief a flight", _everybody),
    Place("board", "Board", lambda roles: may_see_board(roles).allowed),
    Place("aircraft", "Aircraft", lambda roles: may_see_board(roles).allowed),
    Place("desk", "Desk", lambda roles: bool(roles & _OVERSEES)),
    Place("debrief", "Debrief", lambda roles: may_see_board(roles).allowed),
    Place("transcribe", "From paper", lambda roles: may_transcribe(roles).allowed),
    Place("record", "Record", _everybody),
    Place("school", "School", lambda roles: any(may_change_fact(roles, kind).allowed for kind in _KINDS)),
    Place("people", "People", _everybody),
)


def file_of(name: str) -> str:
    """The file of a page, for a link to it."""
    return str(PAGES / f"{name}.py")


def has_page(name: str) -> bool:
    """Whether the app has a page of this name."""
    return (PAGES / f"{name}.py").exists()


def pages_for(roles: frozenset[Role]) -> list["st.Page"]:
    """The pages for somebody with these roles; the first one answers at the address without a name."""
    found = [place for place in PLACES if has_page(place.name)]
    used = [place for place in found if place.used_by(roles)]
    return [
        st.Page(PAGES / f"{place.name}.py", title=place.title, url_path=place.name, default=place is used[0])
        for place in used
    ]
