"""A bill in a reader's language: other words, the same money. Shops and prices are invented."""

import pytest
from pricing.cards import D, conforming, dollar_card, finding, usd

from service.locale.catalogue import LANGUAGES
from service.pricing.bill import Bill, bill
from service.pricing.comparison import Comparison, compare
from service.pricing.derivation import work_from_plan, work_from_rounds
from service.pricing.lines import Waiver, unbilled_text
from service.pricing.rate_card import Discount, Marks, Minimum, Supplies
from service.pricing.work import Step, Work, with_other_work

BEFORE = [finding("thrust", 2), finding("thrust", 3), finding("toe", 1), finding("wedge_left", 1)]
PLAN = [
    Step(1, "inspect"),
    Step(2, "aim", 2, ("thrust-2",)),
    Step(3, "aim", 3, ("thrust-3",)),
    Step(4, "set_toe", 1, ("toe-1",)),
]
AFTER = [*conforming(*BEFORE[:1]), BEFORE[1], *conforming(*BEFORE[2:])]
CARD = dollar_card(
    minimum=Minimum(usd("900.00")),
    supplies=Supplies(D("5"), usd("2.00")),
    discount=Discount(percent=D("2.5")),
)


def billed(language: str) -> tuple[Bill, Comparison]:
    """A final bill with every kind of line, and what became of its estimate."""
    waivers = [Waiver("set_toe", "warranty")]
    planned = bill(CARD, work_from_plan(BEFORE, PLAN), language=language)
    account = with_other_work(work_from_rounds(BEFORE, AFTER, PLAN), [Work("road_test")])
    final = bill(CARD, account, waivers=waivers, language=language)
    return final, compare(planned, final)


def words(language: str) -> list[str]:
    """Every sentence of the bill and of its comparison."""
    final, told = billed(language)
    found = [line.text for line in final.lines]
    found += [line.free_text for line in final.lines if line.free_text]
    found += [unbilled_text(one, language) for one in final.unbilled]
    return [*found, told.text, *(change.text for change in told.changes)]


@pytest.mark.parametrize("language", ["es", "fr"])
def test_no_sentence_of_a_bill_is_left_in_english(language: str) -> None:
    english = words("en")
    assert len(english) == 18
    assert len(words(language)) == len(english)
    assert set(words(language)).isdisjoint(english)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_language_changes_no_amount_and_no_quantity(language: str) -> None:
    def figures(one: Bill) -> list[tuple[object, ...]]:
        return [(line.operation, line.quantity, line.unit_price, line.amount) for line in one.lines]

    final, told = billed(language)
    english, told_in_english = billed("en")
    assert figures(final) == figures(english)
    assert (final.total, told.difference) == (english.total, told_in_english.difference)
    assert final.language == language


def test_lines_name_their_axle_and_side_in_the_language() -> None:
    account = work_from_rounds([BEFORE[3]], conforming(BEFORE[3]))
    texts = {
        language: bill(dollar_card(), account, language=language).lines[1].text
        for language in LANGUAGES
    }
    assert texts["en"] == "Caster wedges matched side to side, axle 1, left side"
    assert "eje 1" in texts["es"]
    assert "essieu 1" in texts["fr"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_amounts_within_sentences_stay_as_machines_write_them(language: str) -> None:
    told = billed(language)[1]
    assert f"{told.final.text} USD" in told.text


def test_a_shops_own_words_are_translated_by_nobody() -> None:
    card = dollar_card(minimum=Minimum(usd("900.00"), Marks("M", "labour", "Shop minimum {x}")))
    made = bill(card, work_from_plan(BEFORE, PLAN), language="fr")
    assert made.lines[-1].text == "Shop minimum {x}"
