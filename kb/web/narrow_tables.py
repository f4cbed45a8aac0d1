"""What a narrow screen shows of a report's table: its first column and a few figures; the rest of a
row comes on touch.
"""

from kb.presentation.report_model import Table

WHOLE_COUNT = 3
"""A table of so many columns fits any phone."""
LEADS = (
    ("standing_fraction", "marks"),
    ("right_count", "item_count", "gap"),
    ("mean", "score_count"),
    ("note_fraction", "miss_fraction"),
    ("minutes", "new_count"),
    ("day", "shift", "minutes"),
    ("score_fraction", "planned"),
    ("planned_count", "done_count"),
    ("right_count", "tried_count", "fraction"),
    ("right_marks", "marks"),
    ("count", "fraction"),
    ("count", "technique_fraction"),
)
"""Keys of the columns seen without a touch; the first of these that a table has."""
RANGES = (["range"], ["likely"])
"""Keys of ranges; each is seen with the figure before it, unless that is a number of questions."""


def lead_of(table: Table) -> dict[int, int]:
    """The columns that a narrow screen shows beside the first, each with that of its range or 0.

    Args:
        table: Without its quiet columns.

    Returns:
        Nothing if the whole table fits.
    """
    keys = [column.key for column in table.columns]
    if len(keys) <= WHOLE_COUNT:
        return {}
    usual = [key for key in keys[1:] if [key] not in RANGES][:2]
    chosen = next((lead for lead in LEADS if set(lead) <= set(keys)), usual)
    found = {}
    for place, key in enumerate(keys):
        if key in chosen:
            ranged = keys[place + 1 : place + 2] in RANGES and key != "item_count"
            found[place] = place + 1 if ranged else 0
    return found
