"""The whole way once: a hot afternoon, two large people, a high site. What refuses it, and what would mend it.

Every figure is worked out by hand beside its check, from the invented type's own tables.
"""

import pytest

from riskboard.measures.loading import loading
from riskboard.measures.loading_changes import ChangeKind, fixes
from riskboard.measures.performance import hover_weight_max_lb, performance_at, site_temperature_c
from tests.measures.flown_loads import one, tarnwick

LOAD = one(tarnwick(), right_seat=220.0, left_seat=215.0, fuel_gal=20.0, burn_gal=12.0)
ALTIMETER_INHG = 29.92126


def test_the_load_is_inside_its_envelope() -> None:
    """985 + 220 + 215 + 120 = 1,540 lb, 20 lb under the highest weight."""
    found = loading(tarnwick(), LOAD)
    assert found.take_off.gross_weight_lb == 1540
    assert found.gross_max_margin_lb == 20
    assert found.within == 1


def test_it_hovers_at_departure_and_not_at_the_site() -> None:
    """34 C at 1,240 ft is 22.79 C at 6,900 ft. There the ceiling in ground effect is below the site.

    At 22.79 C: 7300 - 279 = 7,021 ft at 1,460 lb, 6500 - 279 = 6,221 ft at 1,560 lb; so 6,381 ft at 1,540 lb,
    which is 519 ft short. 6,900 ft is held at 1,460 + 100 * 121 / 800 = 1,475.1 lb.
    """
    site_c = float(site_temperature_c(34, 1240, 6900))
    assert site_c == pytest.approx(22.786, abs=0.001)
    at_departure = performance_at(tarnwick(), 1540, 34, 1240, ALTIMETER_INHG)
    at_site = performance_at(tarnwick(), 1540, site_c, 6900, ALTIMETER_INHG)
    assert float(at_departure.in_ground_effect_ft) > 0
    assert at_site.in_ground_effect_ft == pytest.approx(-519, abs=2)
    assert at_site.in_ground_effect_lb == pytest.approx(1475.1 - 1540, abs=0.3)
    assert 24 < float(at_departure.power_limits["take_off"]) < 25.5


def test_what_would_mend_it() -> None:
    """1,475 lb less 985 and 435 lb leave 55 lb of fuel: 9.1 gal (54.6 lb). With 13 gal needed, one person may go."""
    limit = float(hover_weight_max_lb(tarnwick().hover_in_ground_effect, 22.786, 6900))
    best, *_ = fixes(tarnwick(), LOAD, gross_limit_lb=limit)
    assert best.sentence == "Take 9.1 gal of fuel, 10.9 gal less."
    (only,) = fixes(tarnwick(), LOAD, gross_limit_lb=limit, fuel_needed_gal=13.0)
    assert [change.kind for change in only.changes] == [ChangeKind.person_out]
    assert float(only.result.take_off.gross_weight_lb) <= limit
