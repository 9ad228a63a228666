"""A person's roles with their dates, as people read them."""

from collections.abc import Iterable
from datetime import datetime
from html import escape
from zoneinfo import ZoneInfo

from riskboard.app.widgets.text import words
from riskboard.people.roles import RoleSpell

__all__ = ["held_said", "spell_rows", "spell_said"]


def spell_said(spell: RoleSpell, at: datetime, zone: ZoneInfo) -> str:
    """One role: "instructor, since 04 May 2026", "... from", "... until", "... ended"."""
    begins = f"{'since' if spell.starts <= at else 'from'} {_day(spell.starts, zone)}"
    if spell.until is None:
        return f"{words(spell.role.value)}, {begins}"
    return f"{words(spell.role.value)}, {begins}, {'until' if at < spell.until else 'ended'} {_day(spell.until, zone)}"


def _day(moment: datetime, zone: ZoneInfo) -> str:
    return f"{moment.astimezone(zone):%d %b %Y %H:%M}"


def held_said(spells: Iterable[RoleSpell], at: datetime) -> str:
    """The roles held now, in one line."""
    return ", ".join(sorted(words(each.role.value) for each in spells if each.holds_at(at))) or "no role now"


def spell_rows(spells: Iterable[RoleSpell], at: datetime, zone: ZoneInfo) -> str:
    """All roles as a list, HTML: those that hold or will first."""
    known = sorted(spells, key=lambda each: (each.until is not None and each.until <= at, each.starts))
    items = "".join(f"<li>{escape(spell_said(each, at, zone))}</li>" for each in known)
    return f'<ol class="rb-log">{items}</ol>' if items else '<p class="rb-note">No role yet.</p>'
