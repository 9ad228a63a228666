"""Pilot part: papers, recency, practice, sleep and the pilot's own check (IMSAFE)."""

from typing import Annotated, ClassVar

from riskboard.words import Certificate, Group, MedicalKind, Medicines
from riskboard.worksheet.entries import LandingEntry, Span
from riskboard.worksheet.fact import Part, fact
from riskboard.worksheet.kinds import Day, Flag, Instant, NoneAnswer, Text, within

__all__ = ["Pilot"]

_Hours = Annotated[float, within(0, 50_000)]


class Pilot(Part):
    """Who flies, and in what state."""

    group: ClassVar[Group] = Group.pilot

    pilot_name: Text | None = fact("Pilot in command", why="Somebody must own the flight.")
    flying_weight_lb: Annotated[float, within(50, 500)] | None = fact(
        "Weight, dressed to fly",
        "lb",
        why="With headset and what stays on the knees; it goes on a seat.",
        step=1,
        resolution=0.1,
    )
    certificate: Certificate | None = fact("Certificate held", why="Picks the rules that bind.")
    certificate_on: Day | None = fact("Certificate issued on", why="Experience cannot be older than the training.")
    born_on: Day | None = fact("Date of birth", why="The medical's validity depends on the age at the examination.")
    medical_kind: MedicalKind | None = fact("Medical", why="Each class lasts a different time for each privilege.")
    medical_exam_on: Day | None = fact("Medical examination on", why="The medical's validity starts here.")
    basic_med_course_on: Day | NoneAnswer | None = fact(
        "Medical self-assessment course on", why="BasicMed needs the course within 24 calendar months."
    )
    flight_review_on: Day | NoneAnswer | None = fact(
        "Last flight review or check on", why="Needed within 24 calendar months to act as pilot in command."
    )
    recent_landings: tuple[LandingEntry, ...] | None = fact(
        "Take-offs and landings of the last 90 days", why="Passengers need three of each, by day or by night."
    )
    total_helicopter_h: _Hours | None = fact("Helicopter hours", "h", why="Experience.", step=0.1)
    hours_in_type_h: _Hours | None = fact(
        "Hours in this type", "h", why="Most surprises happen early in a type.", step=0.1
    )
    hours_last_90_days_h: Annotated[float, within(0, 700)] | None = fact(
        "Hours flown in the last 90 days", "h", why="Practice fades.", step=0.1
    )
    last_flight_in_type_on: Day | NoneAnswer | None = fact("Last flight in this type on", why="Practice fades.")
    last_night_flight_on: Day | NoneAnswer | None = fact("Last night flight on", why="Night practice fades faster.")
    exercise_last_flown_on: Day | NoneAnswer | None = fact(
        "This exercise last flown on", why="Recency in the exercise itself, not in flying at large."
    )
    type_training_on: Day | NoneAnswer | None = fact(
        "Type-specific awareness training on", why="Some types need recurrent training."
    )
    solo_training_on: Day | NoneAnswer | None = fact(
        "Training for the solo endorsement given on",
        why="The 90 days run from the training flight, not from the signature.",
    )
    solo_endorsed_on: Day | NoneAnswer | None = fact(
        "Solo endorsement signed on", why="The earlier of training and signature governs."
    )
    solo_night_training_on: Day | NoneAnswer | None = fact(
        "Night solo training on", why="Night solo needs its own training within 90 days."
    )
    solo_endorsed_for_this_type: Flag | None = fact(
        "Endorsement names this make and model", why="A solo endorsement is for one make and model."
    )
    student_limits_by: Text | NoneAnswer | None = fact(
        "Limits written by", why="An instructor's limits carry an author."
    )
    student_limits_on: Day | NoneAnswer | None = fact(
        "Limits written on", why="Old limits may no longer fit the student."
    )
    student_wind_limit_kt: Annotated[float, within(0, 60)] | NoneAnswer | None = fact(
        "Student's wind limit, gusts included", "kt", why="Never against a limit the instructor wrote.", step=1
    )
    student_crosswind_limit_kt: Annotated[float, within(0, 40)] | NoneAnswer | None = fact(
        "Student's crosswind limit", "kt", why="Never against a limit the instructor wrote.", step=1
    )
    student_visibility_limit_sm: Annotated[float, within(0, 50)] | NoneAnswer | None = fact(
        "Student's visibility limit", "SM", why="Never against a limit the instructor wrote.", step=0.5, resolution=0.05
    )
    student_ceiling_limit_ft_agl: Annotated[float, within(0, 20_000)] | NoneAnswer | None = fact(
        "Student's ceiling limit", "ft AGL", why="Never against a limit the instructor wrote.", step=100, resolution=50
    )
    student_area_limit_nm: Annotated[float, within(0, 500)] | NoneAnswer | None = fact(
        "Student's distance limit", "NM", why="Never against a limit the instructor wrote.", step=1, resolution=0.1
    )
    instructor_name: Text | NoneAnswer | None = fact("Instructor aboard or supervising", why="Who teaches or watches.")
    instructor_experience_on: Day | NoneAnswer | None = fact(
        "Instructor's recent experience met on", why="Instructor privileges last 24 calendar months."
    )
    instructor_period_ends_on: Day | NoneAnswer | None = fact(
        "Instructor's running period ends on", why="Renewing in the last three months keeps the rhythm."
    )
    instructor_in_type_h: _Hours | NoneAnswer | None = fact(
        "Instructor's hours as pilot in command in this type",
        "h",
        why="Five hours before teaching in a helicopter make and model.",
        step=0.1,
    )
    instructor_exercise_last_on: Day | NoneAnswer | None = fact(
        "Instructor last flew this exercise on", why="Most training accidents happen with an instructor aboard."
    )
    instruction_given: tuple[Span, ...] | None = fact(
        "Flight instruction given in the last 24 h", why="At most 8 h in any 24 h."
    )
    first_flight_together: Flag | None = fact(
        "First flight together", why="A new pairing does not know each other's limits."
    )
    sleeps: tuple[Span, ...] | None = fact(
        "Sleep of the last two nights, naps too", why="Sleep drives alertness more than will does.", health=True
    )
    sleepiness_rating: Annotated[int, within(1, 9)] | None = fact(
        "Sleepiness now (1 extremely alert to 9 fighting sleep)",
        why="Your own rating, beside the model's.",
        health=True,
        step=1,
    )
    ill_today: Flag | None = fact(
        "Ill, in pain or recovering", why="A known deficiency stops the flight whatever the papers say.", health=True
    )
    medicines: Medicines | None = fact(
        "Medicines that may still act", why="Many common medicines slow reactions.", health=True
    )
    last_drink_at: Instant | NoneAnswer | None = fact(
        "Last alcoholic drink ended at", why="8 h is the rule; 12 to 24 h is the advice.", health=True
    )
    stress_level: Annotated[int, within(1, 5)] | None = fact(
        "Stress and preoccupation (1 none to 5 heavy)", why="A mind elsewhere does not scan.", health=True, step=1
    )
    life_event: Flag | None = fact(
        "Recent life event that weighs on you", why="Grief, a quarrel or an examination shows in flying.", health=True
    )
    last_meal_at: Instant | None = fact("Last meal at", why="Low blood sugar looks like fatigue.", health=True)
    duty_started_at: Instant | None = fact("Today's work started at", why="Duty counts, not only flying.", health=True)
    flights_today: Annotated[int, within(0, 30)] | None = fact(
        "Flights already flown today", why="Each flight wears.", step=1
    )
    days_in_row: Annotated[int, within(0, 60)] | None = fact(
        "Days worked in a row, today included", why="Rest debt builds over days.", step=1
    )
