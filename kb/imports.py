"""Taking answers in as one import: a block or an answer sheet, the same way from both doors."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.model import Attempt, Study


def items_beyond(study: Study, drafts: tuple[Attempt, ...]) -> list[str]:
    """One sentence for each declared source that does not have so many items."""
    said = []
    for source in study.sources:
        numbers = [
            int(item)
            for draft in drafts
            if draft.source == source.id and (item := draft.question.partition(":")[2]).isdigit()
        ]
        if numbers and source.item_count and max(numbers) > source.item_count:
            count = sum(number > source.item_count for number in numbers)
            what = f"{source.id} has {source.item_count} items, but {max(numbers)} was logged"
            said.append(f"{what} ({count} such); mend 'items' in study.yaml or void them")
    return said
