"""A briefing that starts from an old sheet: what is another thing than what stands on record; and a no of today."""

from datetime import datetime
from html import escape
from zoneinfo import ZoneInfo

from riskboard import jobs
from riskboard.app.widgets.desk_edits import plain_value
from riskboard.app.widgets.text import draw_html, info_of
from riskboard.assessment.phrases import clock_time
from riskboard.jobs.catching_up import changed_since_asked

__all__ = ["draw_question", "draw_refused_today", "draw_since"]


def draw_refused_today(refused_at: datetime, zone: ZoneInfo) -> None:
    """Somebody said no today to this pilot, this aircraft or this usual flight."""
    draw_html(
        '<div class="rb-line differs" role="note">Somebody said no today, at '
        f"{escape(clock_time(refused_at, zone.key))}, to this pilot, this aircraft or this usual flight. The decision "
        "counts it. Ask why before you go on.</div>"
    )


def draw_question(card: jobs.FlightCard) -> None:
    """The question with which a second person sent this flight back, while it is being answered."""
    if card.question:
        draw_html(
            f'<div class="rb-conditions" role="note"><strong>Sent back with a question</strong>:<br>'
            f"{escape(card.question)}</div>"
        )


def draw_since(office: jobs.Office, briefing: jobs.Briefing, zone: ZoneInfo) -> None:
    """Draw what differs from the sheet on record, whoever changed it."""
    found = changed_since_asked(office, briefing)
    if not found:
        draw_html(
            '<p class="rb-line">This starts from the sheet on record. Nothing in it is another thing by now: look at '
            "times, weather and yourself again before you sign.</p>"
        )
        return
    items = "".join(
        f"<li><strong>{escape(info_of(each.field).label)}</strong>: {escape(plain_value(each.field, each.then, zone))} "
        f"\N{RIGHTWARDS ARROW} {escape(plain_value(each.field, each.now, zone))}</li>"
        for each in found
    )
    number = "1 entry differs" if len(found) == 1 else f"{len(found)} entries differ"
    draw_html(
        f'<div class="rb-line"><strong>{number} from the sheet on record</strong>, by what the school learned since or '
        f'by your own changes:<ol class="rb-edits">{items}</ol></div>'
    )
