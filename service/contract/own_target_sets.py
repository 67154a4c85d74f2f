"""`PUT /v1/target-sets/{id}`: a target set of the shop's own."""

from typing import Annotated

from msgspec import Meta

from service.contract.base import ClosedStruct
from service.contract.target_sets import DecisionRule, TargetRow
from service.contract.texts import NoteText, ShortText


class TargetSetContent(ClosedStruct):
    """A target set as a shop writes it; each change becomes a new version."""

    title: ShortText
    rows: Annotated[list[TargetRow], Meta(min_length=1, max_length=100)]
    note: NoteText | None = None
    decision_rule: DecisionRule = DecisionRule.GUARDED
