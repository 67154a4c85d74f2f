"""`/v1/rate-cards`: a shop's own rate cards, written as versions."""

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.rate_cards import RateCard
from service.contract.texts import AwareTime, ShortText


class RateCardContent(ClosedStruct):
    """A rate card with its title; each change becomes a new version."""

    title: ShortText
    rate_card: RateCard


class RateCardDetail(OpenStruct):
    """One version of a rate card."""

    id: str
    version: int
    title: str
    rate_card: RateCard
    created_at: AwareTime
    """When this version was stored."""


class RateCardList(OpenStruct):
    """The newest version of each of the shop's rate cards, by name."""

    items: list[RateCardDetail]
