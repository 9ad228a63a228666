"""Two published carburettor-icing charts as outlines: figures only, with their sources.

Codes: 1 light at cruise or descent power, 2 serious at descent power, 3 moderate at cruise power and serious at descent
power, 4 serious at any power. Zones are nested: the highest code whose outline covers a point holds.

The two prints disagree by up to 3 C of dew point along their lower edges, and neither knows a given installation.
"""

from collections.abc import Mapping
from types import MappingProxyType

Outline = tuple[tuple[float, float], ...]
Sides = tuple[tuple[float, float, float], ...]

# European General Aviation Safety Team, leaflet GA 5 "Piston Engine Icing", page 8. The chart is drawn as vector
# curves; they were sampled and simplified to 0.12 C. Corners are (air temperature C, dew point C); error about 0.15 C.
EGAST_GA5: Mapping[int, Outline] = MappingProxyType(
    {
        1: (
            (30.0, 30.0), (-14.4, -14.4), (-9.1, -13.3), (-2.6, -11.3), (4.6, -8.5), (12.1, -5.0), (19.4, -1.0),
            (22.8, 1.2), (28.9, 5.8), (31.5, 8.2), (33.7, 10.6), (35.4, 13.1), (36.6, 15.6), (37.3, 18.1), (37.3, 20.5),
            (36.6, 23.0), (35.2, 25.4), (33.0, 27.7),
        ),
        2: (
            (27.7, 27.7), (-7.5, -7.5), (-2.6, -6.7), (3.0, -5.2), (8.8, -3.0), (11.7, -1.7), (17.3, 1.1), (20.0, 2.7),
            (24.8, 6.2), (26.9, 8.0), (28.7, 9.9), (30.3, 11.8), (31.5, 13.8), (32.3, 15.8), (32.8, 17.8), (32.8, 19.8),
            (32.3, 21.8), (31.3, 23.8), (29.8, 25.7),
        ),
        3: (
            (23.3, 23.3), (-4.2, -4.2), (2.6, -2.5), (7.3, -0.9), (11.7, 1.2), (17.8, 4.8), (21.2, 7.5), (22.6, 8.9),
            (24.9, 11.8), (25.7, 13.3), (26.2, 14.7), (26.5, 16.2), (26.5, 17.7), (26.2, 19.1), (25.6, 20.5),
            (24.6, 21.9),
        ),
        4: (
            (15.6, 15.6), (-0.6, -0.6), (3.8, 0.9), (7.9, 2.6), (11.4, 4.5), (14.2, 6.7), (16.2, 9.1), (16.9, 10.7),
            (17.0, 11.5), (16.9, 13.1), (16.6, 14.0),
        ),
    }
)  # fmt: skip

# Danish Meteorological Institute Technical Report 04-25 (2004), figure 1: the chart recommended by the Australian
# Transport Safety Bureau, digitised from its pixels. Rows are (dew-point depression C, lowest and highest air
# temperature C of the zone at that depression); error about 0.4 C. The print begins at -5 C.
ATSB_2004_ROWS: Mapping[int, Sides] = MappingProxyType(
    {
        1: (
            (0.0, -4.9, 28.3), (1.0, -4.9, 28.9), (2.0, -5.0, 29.8), (3.0, -4.9, 30.4), (4.0, -4.8, 31.1),
            (5.0, -3.8, 31.7), (6.0, -3.0, 32.5), (7.0, -1.9, 33.0), (8.0, -0.8, 33.7), (9.0, 0.1, 34.1),
            (10.0, 1.2, 34.6), (11.0, 2.6, 35.1), (12.0, 3.7, 35.6), (13.0, 5.2, 36.1), (14.0, 6.3, 36.6),
            (15.0, 8.0, 37.0), (16.0, 9.0, 37.3), (17.0, 10.1, 37.5), (18.0, 11.9, 37.8), (19.0, 13.4, 38.1),
            (20.0, 14.9, 38.1), (21.0, 16.0, 38.2), (22.0, 17.3, 38.1), (23.0, 18.7, 37.8), (24.0, 20.2, 37.5),
            (25.0, 25.2, 36.6), (26.0, 29.0, 35.3), (26.5, 32.2, 32.7),
        ),
        2: (
            (0.0, -4.7, 26.1), (1.0, -4.2, 26.4), (2.0, -3.4, 27.1), (3.0, -2.6, 27.4), (4.0, -1.6, 28.1),
            (5.0, -0.8, 28.6), (6.0, 0.2, 29.1), (7.0, 1.1, 29.6), (8.0, 2.3, 30.0), (9.0, 3.2, 30.4),
            (10.0, 4.2, 30.8), (11.0, 5.4, 31.2), (12.0, 6.4, 31.5), (13.0, 7.6, 31.6), (14.0, 8.9, 31.8),
            (15.0, 10.3, 31.8), (16.0, 11.5, 31.7), (17.0, 13.0, 31.5), (18.0, 16.3, 30.8), (19.0, 23.7, 28.6),
        ),
        3: (
            (0.0, -2.8, 23.3), (1.0, -2.2, 23.5), (2.0, -1.3, 24.2), (3.0, -0.4, 24.8), (4.0, 0.8, 25.3),
            (5.0, 1.8, 25.8), (6.0, 3.3, 26.1), (7.0, 4.8, 26.4), (8.0, 6.6, 26.6), (9.0, 7.9, 27.0), (10.0, 9.2, 27.1),
            (11.0, 10.5, 27.4), (12.0, 11.5, 27.4), (13.0, 12.6, 27.4), (14.0, 14.2, 27.3), (15.0, 16.3, 26.9),
            (16.0, 18.4, 25.1), (16.5, 20.3, 23.4),
        ),
        4: (
            (0.0, -2.8, 16.0), (1.0, -2.2, 16.2), (2.0, -1.3, 16.5), (3.0, -0.4, 16.7), (4.0, 0.8, 16.9),
            (5.0, 1.8, 17.0), (6.0, 3.3, 16.6), (7.0, 4.8, 16.2), (8.0, 6.6, 15.3), (9.0, 9.4, 13.8),
        ),
    }
)  # fmt: skip

ATSB_2004_COLDEST_C = -8.0
"""The report allows the light zone to be carried on from the edge of the print to here, at small depressions."""
_EDGE_OF_PRINT_C = -4.8


# Both charts in one form, zone by zone: rows of (dew point or depression C, coldest and warmest air temperature C
# there), straight between the rows. On the European chart the cold side of every zone is saturated air, the first side
# drawn.
EGAST_GA5_SIDES: Mapping[int, Sides] = MappingProxyType(
    {
        code: tuple((dew_point, dew_point, warmest) for warmest, dew_point in (*outline[1:], outline[0]))
        for code, outline in EGAST_GA5.items()
    }
)
# The light zone goes on to -8 C where the print cuts it off.
ATSB_2004_SIDES: Mapping[int, Sides] = MappingProxyType(
    {
        code: tuple(
            (depression, ATSB_2004_COLDEST_C if coldest <= _EDGE_OF_PRINT_C else coldest, warmest)
            for depression, coldest, warmest in rows
        )
        for code, rows in ATSB_2004_ROWS.items()
    }
)
