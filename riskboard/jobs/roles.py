"""Which roles a person holds at a moment: asked of the log, never of the person's document."""

from datetime import datetime

from riskboard.jobs.office import Office
from riskboard.people.roles import RoleSpell, roles_at
from riskboard.words import Role

__all__ = ["roles_of", "spells_of"]


def spells_of(office: Office, person_id: str) -> tuple[RoleSpell, ...]:
    """Every role a person was ever given, with its from and until, in the order given."""
    return office.log.look().roles.get(person_id, ())


def roles_of(office: Office, person_id: str, at: datetime) -> frozenset[Role]:
    """The roles a person holds at ``at``; none for somebody unknown."""
    return roles_at(spells_of(office, person_id), at)
