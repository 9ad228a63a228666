"""A worksheet is its pilot's, and a name is its owner's: jobs refuse an office that acts for somebody else."""

import inspect
from collections.abc import Callable
from functools import partial

import pytest

from riskboard import demo, jobs
from riskboard.jobs import own_drafts, own_name
from tests.people.conftest import ADMINISTRATOR, CHIEF, INSTRUCTOR, RENTER, House

DRAFT = "0123456789abcdef"


def begun(house: House) -> str:
    jobs.begin_draft(house.office, DRAFT, jobs.Start(INSTRUCTOR, "LRS-01", "larkfield"), at=house.now)
    return DRAFT


def every_job(house: House, office: jobs.Office, signer: str) -> dict[str, Callable[[], object]]:
    at = house.now
    signature = jobs.Signature(signer, demo.DEMO_PIN, "event-x", at, "0" * 64)
    return {
        "brief": partial(jobs.brief, office, DRAFT, at=at),
        "begin_draft": partial(jobs.begin_draft, office, DRAFT, jobs.Start(INSTRUCTOR), at=at),
        "save_entries": partial(jobs.save_entries, office, DRAFT, "aircraft", {"fuel_usable_gal": 30}, at=at),
        "choose": partial(jobs.choose, office, DRAFT, jobs.Start(aircraft_id="LRS-02"), at=at),
        "plan_take_off": partial(jobs.plan_take_off, office, DRAFT, at, at=at),
        "say": partial(jobs.say, office, DRAFT, "pressures", [], at=at),
        "unsay": partial(jobs.unsay, office, DRAFT, "pressures", at=at),
        "paste_report": partial(jobs.paste_report, office, DRAFT, "METAR", at=at),
        "accept": partial(jobs.accept, office, DRAFT, signature, at=at),
        "decline": partial(jobs.decline, office, DRAFT, signature, reason="no", at=at),
        "request_sign_off": partial(jobs.request_sign_off, office, DRAFT, signature, note="", at=at),
        "accept_signed": partial(jobs.accept_signed, office, DRAFT, signature, at=at),
    }


def test_the_list_is_whole(house: House) -> None:
    assert set(every_job(house, house.office, RENTER)) == set(own_drafts.__all__) - {"acting_for"}


@pytest.mark.parametrize("person_id", [RENTER, CHIEF, ADMINISTRATOR])
def test_nobody_sees_or_changes_or_signs_somebody_elses_worksheet(house: House, person_id: str) -> None:
    begun(house)
    before = house.office.store.load_draft(DRAFT)
    office = jobs.acting_for(house.office, person_id)
    for signer in (person_id, INSTRUCTOR):  # also with the PIN of the pilot, looked over the shoulder
        for act in every_job(house, office, signer).values():
            house.changes_nothing(act, "somebody else's", jobs.NotShownError)
    assert house.office.store.load_draft(DRAFT) == before


def test_nobody_signs_their_own_flight_as_another(house: House) -> None:
    begun(house)
    office = jobs.acting_for(house.office, INSTRUCTOR)
    for name, act in every_job(house, office, RENTER).items():
        if name in {"accept", "decline", "request_sign_off", "accept_signed"}:
            house.changes_nothing(act, "somebody else's", jobs.NotShownError)


def test_nobody_begins_a_worksheet_in_another_pilots_name(house: House) -> None:
    office = jobs.acting_for(house.office, RENTER)
    for act in (
        partial(jobs.begin_draft, office, DRAFT, jobs.Start(INSTRUCTOR), at=house.now),
        partial(jobs.choose, office, DRAFT, jobs.Start(INSTRUCTOR), at=house.now),
    ):
        house.changes_nothing(act, "somebody else's", jobs.NotShownError)
    assert house.office.store.load_draft(DRAFT) is None


def test_the_pilot_does_all_of_it_and_the_office_is_one_with_one_picture(house: House) -> None:
    office = jobs.acting_for(house.office, INSTRUCTOR)
    jobs.choose(office, DRAFT, jobs.Start(INSTRUCTOR, "LRS-01"), at=house.now)
    jobs.save_entries(office, DRAFT, "aircraft", {"fuel_usable_gal": 30}, at=house.now)
    assert jobs.brief(office, DRAFT, at=house.now).sheet.aircraft.fuel_usable_gal == 30
    assert office is jobs.acting_for(house.office, INSTRUCTOR)
    assert office.log is house.office.log


ABOUT_ANYBODY = {"acting_for", "flights_with_health", "has_pin", "person", "roles_of", "spells_of"}
"""Jobs that name a person they are about, not one who acts or looks."""


def in_somebodys_name() -> list[str]:
    found = []
    for name in jobs.__all__:
        job = getattr(jobs, name)
        if inspect.isfunction(job) and list(inspect.signature(job).parameters)[1:2] == ["person_id"]:
            found.append(name)
    return sorted(set(found) - ABOUT_ANYBODY)


def test_every_job_in_somebodys_name_is_on_the_list() -> None:
    assert in_somebodys_name() == sorted(own_name.__all__)


@pytest.mark.parametrize("name", in_somebodys_name())
def test_nobody_acts_or_looks_in_another_persons_name(house: House, name: str) -> None:
    office = jobs.acting_for(house.office, RENTER)
    for other in (INSTRUCTOR, CHIEF, ADMINISTRATOR, ""):
        house.changes_nothing(partial(getattr(jobs, name), office, other), "another person's name", jobs.NotShownError)
