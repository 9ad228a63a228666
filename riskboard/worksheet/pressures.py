"""Pressures part: what pulls toward going."""

from typing import Annotated, ClassVar

from riskboard.words import Group
from riskboard.worksheet.fact import Part, fact
from riskboard.worksheet.kinds import Flag, Instant, NoneAnswer, Note, within

__all__ = ["Pressures"]


class Pressures(Part):
    """External pressures, asked before any result is shown."""

    group: ClassVar[Group] = Group.external

    someone_waits: Flag | None = fact(
        "A customer, passenger or examiner waits", why="Others' expectations are a hazard."
    )
    must_be_back_at: Instant | NoneAnswer | None = fact(
        "Aircraft or pilot must be back at", why="A tight return makes people press on."
    )
    check_or_exam: Flag | None = fact(
        "A check ride or examination depends on it", why="A booked date is hard to give back."
    )
    weather_closing: Flag | None = fact("Go now or the weather closes", why="A closing window is a trap.")
    money_at_stake: Flag | None = fact(
        "Somebody loses money if it is cancelled", why="Paid by the flown hour is a pressure."
    )
    cancelled_before: Annotated[int, within(0, 20)] | None = fact(
        "Times this flight was cancelled before", why="Each cancellation makes the next one harder.", step=1
    )
    refused_today: Flag | None = fact(
        "Somebody refused this flight, pilot or aircraft today", why="Ask whether another person already said no."
    )
    pressure_felt: Annotated[int, within(1, 5)] | None = fact(
        "Pressure to go, as you feel it (1 none to 5 heavy)", why="You notice it before others do.", step=1
    )
    no_go_is_fine: Flag | None = fact(
        "Staying on the ground has been agreed as acceptable", why="Agreed beforehand, a no costs less."
    )
    gained_by_going: Note | None = fact("What is gained by going", why="Ratings that follow the gain are riskier.")
    anything_else: Note | NoneAnswer | None = fact(
        "Anything else that worries you", why="No form lists everything; it can only raise the level."
    )
