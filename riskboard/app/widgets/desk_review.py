"""One request as the second person opens it: what the pilot saw, what it is now, and what was changed to get there."""

from collections.abc import Sequence
from html import escape
from zoneinfo import ZoneInfo

from riskboard import jobs
from riskboard.app.widgets.board_rows import times_said
from riskboard.app.widgets.desk_edits import edits_said
from riskboard.app.widgets.desk_entries import entries_of
from riskboard.app.widgets.desk_queue import span_said
from riskboard.app.widgets.desk_shown import band_of, new_and_gone, reasons_of
from riskboard.app.widgets.loading import draw_picture
from riskboard.app.widgets.loading_said import apply_loading_style, loads_of
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import Review

__all__ = ["draw_review"]

_FIRST = 8


def draw_review(office: jobs.Office, review: Review, zone: ZoneInfo, ends: Sequence[str]) -> None:
    """Draw everything a signature rests on.

    Args:
        office: The school, for the aircraft types in force.
        review: The request as opened.
        zone: Of the school.
        ends: Why a signature given now would not hold.
    """
    _draw_flight(review, zone)
    if ends:
        draw_alert(f"A signature given now would not hold. {' '.join(ends)} Send it back to be briefed again.")
    if not review.reads_health:
        draw_html(
            '<p class="rb-line">The health answers, and what is worked out from them, are not shown to you: the pilot '
            "sees them, and whoever may sign this flight. The decision and the level count them.</p>"
        )
    draw_title("What the pilot saw", "saw")
    draw_html(band_of(review.then, zone, "shown to the pilot"))
    _draw_now(review, zone)
    draw_title("Why", "why")
    reasons = list(review.then["reasons"])
    draw_html(reasons_of(reasons[:_FIRST]))
    if reasons[_FIRST:]:
        rest = f"<summary>{len(reasons[_FIRST:])} more reasons</summary>{reasons_of(reasons[_FIRST:])}"
        draw_html(f'<details class="rb-more">{rest}</details>')
    _draw_loading(office, review)
    draw_title("What was changed to get there", "changed")
    draw_html(edits_said(review, zone))
    draw_title("Entries", "entries")
    draw_html(entries_of(review, zone))


def _draw_loading(office: jobs.Office, review: Review) -> None:
    """What the type says of the flight as it is now: the same picture that the pilot has, to read only."""
    guards = review.now_data.get("guards", {})
    picture = jobs.loading_shown(office, review.sheet, guards, at=review.shown_at)
    draw_title("Loading and hover", "loading")
    if picture is None:
        draw_html('<p class="rb-note">Unknown: no aircraft type of this name is on file.</p>')
        return
    apply_loading_style()
    draw_html(loads_of(picture))
    draw_picture(picture, "desk")


def _draw_flight(review: Review, zone: ZoneInfo) -> None:
    card = review.card
    waits = span_said(int((review.shown_at - review.asked_at).total_seconds() // 60))
    times = times_said(card.take_off_at, card.landing_at, zone)
    note = f"<div>Pilot says: {escape(review.note)}</div>" if review.note else ""
    draw_html(
        f'<div class="rb-line"><strong>{escape(card.registration or "no aircraft")}</strong>, '
        f"{escape(card.pilot_name)}, {escape(card.route)}, {escape(times)}. "
        f"Asked {escape(clock_time(review.asked_at, zone.key))}, waits {escape(waits)}.{note}"
        '<div><a href="#answer" target="_self">To your answer</a></div></div>'
    )


def _draw_now(review: Review, zone: ZoneInfo) -> None:
    if not review.now_data:
        draw_alert("Now: nothing can be decided. " + " ".join(problem.message for problem in review.problems))
        return
    then, now = review.then, review.now_data
    at = clock_time(review.shown_at, zone.key)
    fresh, gone = new_and_gone(then, now)
    changed = (then["decision"], then["level"]) != (now["decision"], now["level"])
    if not changed and not fresh and not gone:
        draw_html(f'<p class="rb-line">Now, at {escape(at)}: the same decision for the same reasons.</p>')
        return
    if changed:
        draw_html(
            '<p class="rb-line differs" role="status">It is not what the pilot saw any more. A signature is for what '
            "it is now.</p>",
            band_of(now, zone, "now"),
        )
    else:
        draw_html(f'<p class="rb-line">Now, at {escape(at)}: the same decision, with other reasons.</p>')
    speaks = "".join(f"<li>New: {escape(each)}</li>" for each in fresh)
    quiet = "".join(f"<li>No longer: {escape(each)}</li>" for each in gone)
    if speaks or quiet:
        draw_html(f'<ul class="rb-note">{speaks}{quiet}</ul>')
