"""What stands on every screen: whose school this is, whether it is invented, whether the clock is held."""

from datetime import datetime
from html import escape

from riskboard import jobs
from riskboard.app.widgets.text import draw_html
from riskboard.assessment.assess import CAUTION

__all__ = ["draw_footer", "draw_head"]


def draw_head(office: jobs.Office, held: datetime | None, name: str = "") -> None:
    """The line under the navigation: whose school, and who is in."""
    school = jobs.school(office)
    said = [escape(school["name"]) if school else "No school set up yet"]
    if school and school.get("invented"):
        said.append("<strong>Invented data</strong>: nobody and nothing here is real")
    if held is not None:
        said.append(f"<strong>Clock held</strong> at {held:%Y-%m-%d %H:%M}Z")
    if name:
        said.append(f'<strong>{escape(name)}</strong> is in · <a href="/leave">Leave</a>')
    draw_html(f'<p class="rb-head">{" · ".join(said)}</p>')


def draw_footer() -> None:
    """What a decision means, on every screen."""
    draw_html(f'<p class="rb-caution">{escape(CAUTION)}</p>')
