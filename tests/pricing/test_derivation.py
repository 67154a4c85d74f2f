"""What may be billed follows from the findings, and nothing conforming is ever billed."""

import pytest
from pricing.cards import D, conforming, finding

from service.contract.target_sets import Quantity
from service.pricing.derivation import work_from_plan, work_from_rounds
from service.pricing.errors import PricingError
from service.pricing.operations import CORRECTION_OF, OPERATIONS
from service.pricing.work import Step, Work, with_other_work


def corrections(account):
    """Operation, axles and findings of the works that correct."""
    return [
        (work.operation, work.axles, tuple(item.finding for item in work.evidence))
        for work in account.works
        if OPERATIONS[work.operation].corrects
    ]


def reasons(account):
    return [(one.reason, one.operation, one.axles, one.findings) for one in account.unbilled]


def test_every_quantity_is_corrected_by_an_operation_except_camber():
    camber = {Quantity.CAMBER_LEFT, Quantity.CAMBER_RIGHT, Quantity.CROSS_CAMBER}
    assert set(CORRECTION_OF) == {one.value for one in set(Quantity) - camber}


def test_a_plan_bills_measuring_its_steps_and_measuring_again():
    findings = [finding("offset", 2), finding("thrust", 2), finding("toe", 1)]
    steps = [
        Step(1, "centre", 2, ("offset-2",), "left"),
        Step(2, "aim", 2, ("thrust-2",)),
        Step(3, "set_toe", 1, ("toe-1",)),
    ]
    account = work_from_plan(findings, steps, axles=(1, 2, 3))
    assert [work.operation for work in account.works] == [
        "measure",
        "centre_axle",
        "aim_axle",
        "set_toe",
        "remeasure",
    ]
    assert account.works[0].axles == (1, 2, 3)
    assert account.works[1].side == "left"
    assert account.works[1].steps == (1,)
    assert account.unbilled == ()


def test_a_plan_of_readings_alone_brings_no_second_measuring():
    account = work_from_plan([], [Step(1, "inspect"), Step(2, "read")])
    assert [work.operation for work in account.works] == ["inspect", "measure", "extra_reading"]


def test_several_findings_that_one_step_cures_are_one_line():
    findings = [finding("thrust", 3), finding("scrub", 3, reference_axle=2)]
    account = work_from_plan(findings, [Step(1, "aim", 3, ("thrust-3", "scrub-3"))])
    assert corrections(account) == [("aim_axle", (3,), ("thrust-3", "scrub-3"))]


def test_two_steps_of_one_kind_on_one_axle_are_one_line():
    findings = [finding("thrust", 3), finding("scrub", 3, reference_axle=2)]
    steps = [Step(1, "aim", 3, ("thrust-3",), "left"), Step(2, "aim", 3, ("scrub-3",), "right")]
    account = work_from_plan(findings, steps)
    assert corrections(account) == [("aim_axle", (3,), ("thrust-3", "scrub-3"))]
    work = account.works[1]
    assert (work.steps, work.side) == ((1, 2), None)


def test_a_step_for_what_was_conforming_is_not_billed():
    account = work_from_plan([finding("toe", 1, "conforming")], [Step(1, "set_toe", 1, ("toe-1",))])
    assert corrections(account) == []
    assert reasons(account) == [("conforming", "set_toe", (1,), ("toe-1",))]


def test_a_step_that_no_finding_calls_for_is_not_billed():
    account = work_from_plan([], [Step(1, "set_toe", 1)])
    assert reasons(account) == [("not_called_for", "set_toe", (1,), ())]


def test_an_undetermined_finding_is_billed_where_a_step_names_it():
    findings = [finding("toe", 1, "undetermined")]
    account = work_from_plan(findings, [Step(1, "set_toe", 1, ("toe-1",))])
    assert corrections(account) == [("set_toe", (1,), ("toe-1",))]
    assert account.works[1].evidence[0].verdict_before == "undetermined"


@pytest.mark.parametrize(
    ("findings", "step", "path"),
    [
        ([], Step(1, "set_toe", 1, ("toe-1",)), ("before", "plan", 0, "because", 0)),
        ([], Step(1, "polish", 1), ("before", "plan", 0, "action")),
        ([], Step(1, "aim"), ("before", "plan", 0, "axle")),
        (
            [finding("toe", 1), finding("toe", 1)],
            Step(1, "set_toe", 1, ("toe-1",)),
            ("before", "findings", 1, "id"),
        ),
    ],
)
def test_a_plan_that_does_not_hang_together_is_refused_at_its_place(findings, step, path):
    for derive in (
        lambda: work_from_plan(findings, [step]),
        lambda: work_from_rounds(findings, [], [step]),
    ):
        with pytest.raises(PricingError) as caught:
            derive()
        assert caught.value.path == path


def test_what_was_outside_before_and_inside_after_was_corrected():
    before = [finding("toe", 1, text="1/8 in in"), finding("offset", 2), finding("offset", 3)]
    after = [
        finding("toe", 1, "conforming", "1/32 in in"),
        finding("offset", 2, "nonconforming"),
        finding("offset", 3, "undetermined"),
    ]
    account = work_from_rounds(before, after)
    assert corrections(account) == [("set_toe", (1,), ("toe-1",))]
    proof = account.works[1].evidence[0]
    assert (proof.before, proof.after) == ("1/8 in in", "1/32 in in")
    assert reasons(account) == [
        ("still_outside", "centre_axle", (2,), ("offset-2",)),
        ("not_proven", "centre_axle", (3,), ("offset-3",)),
    ]


def test_what_was_conforming_before_is_not_billed_whatever_it_became():
    before = [finding("toe", 1, "conforming"), finding("offset", 2, "conforming")]
    after = [finding("toe", 1, "nonconforming"), finding("offset", 2, "conforming")]
    account = work_from_rounds(before, after)
    assert corrections(account) == []
    assert account.unbilled == ()


def test_what_was_not_read_again_was_not_proven():
    assert reasons(work_from_rounds([finding("toe", 1)], [])) == [
        ("not_read", "set_toe", (1,), ("toe-1",))
    ]


def test_an_undetermined_finding_that_turned_out_right_is_billed_only_by_the_plan():
    before = [finding("toe", 1, "undetermined")]
    alone = work_from_rounds(before, conforming(*before))
    assert corrections(alone) == []
    assert reasons(alone) == [("undetermined", "set_toe", (1,), ("toe-1",))]
    planned = work_from_rounds(before, conforming(*before), [Step(1, "set_toe", 1, ("toe-1",))])
    assert corrections(planned) == [("set_toe", (1,), ("toe-1",))]


def test_all_limits_of_one_quantity_must_be_kept_for_it_to_be_corrected():
    before = [finding("toe", 1)]
    after = [
        finding("toe", 1, "conforming")._replace(id="toe-1-own"),
        finding("toe", 1, "nonconforming")._replace(id="toe-1-published"),
    ]
    assert corrections(work_from_rounds(before, after)) == []


def test_findings_are_matched_by_what_they_are_of_and_not_by_their_id():
    before = [finding("toe", 1)._replace(id="f1"), finding("offset", 2)._replace(id="f2")]
    after = [
        finding("offset", 2, "nonconforming")._replace(id="f1"),
        finding("toe", 1, "conforming")._replace(id="f2"),
    ]
    assert corrections(work_from_rounds(before, after)) == [("set_toe", (1,), ("f1",))]


def test_camber_is_billed_by_no_operation():
    before = [finding("camber_left", 1)]
    assert reasons(work_from_rounds(before, conforming(*before))) == [
        ("no_operation", None, (1,), ("camber_left-1",))
    ]


def test_a_step_is_proven_by_a_finding_of_its_own_kind():
    """Aiming cured the thrust; the axle is still off centre, so centring is not billed."""
    before = [finding("offset", 2), finding("thrust", 2)]
    after = [finding("offset", 2), finding("thrust", 2, "conforming")]
    steps = [
        Step(1, "centre", 2, ("offset-2", "thrust-2")),
        Step(2, "aim", 2, ("thrust-2",)),
    ]
    account = work_from_rounds(before, after, steps)
    assert corrections(account) == [("aim_axle", (2,), ("thrust-2",))]
    assert reasons(account) == [("still_outside", "centre_axle", (2,), ("offset-2",))]


def test_a_cured_finding_whose_only_step_is_not_proven_is_not_billed_under_another_name():
    before = [finding("offset", 2), finding("thrust", 2)]
    after = [finding("offset", 2), finding("thrust", 2, "conforming")]
    account = work_from_rounds(before, after, [Step(1, "centre", 2, ("offset-2", "thrust-2"))])
    assert corrections(account) == []
    assert {reason for reason, *_ in reasons(account)} == {"still_outside", "not_proven"}


def test_steps_that_leave_no_trace_are_billed_in_the_end_only_as_other_work():
    steps = [Step(1, "inspect"), Step(2, "read", 2)]
    account = work_from_rounds([], [], steps)
    assert [work.operation for work in account.works] == ["measure", "remeasure"]
    assert [reason for reason, *_ in reasons(account)] == ["not_shown", "not_shown"]
    told = with_other_work(account, [Work("inspect")])
    assert [work.operation for work in told.works] == ["inspect", "measure", "remeasure"]
    assert [(one.reason, one.operation) for one in told.unbilled] == [
        ("not_shown", "extra_reading")
    ]


def test_a_cured_scrub_belongs_to_the_axle_that_was_aimed_anyway():
    scrub, thrust = finding("scrub", 3, reference_axle=2), finding("thrust", 2)
    account = work_from_rounds([scrub, thrust], conforming(scrub, thrust))
    assert corrections(account) == [("aim_axle", (2,), ("thrust-2", "scrub-3"))]


def test_two_cured_scrubs_of_one_middle_axle_are_one_line():
    before = [finding("scrub", 3, reference_axle=2), finding("scrub", 4, reference_axle=3)]
    account = work_from_rounds(before, conforming(*before))
    assert corrections(account) == [("aim_axle", (3,), ("scrub-3", "scrub-4"))]


def test_other_work_is_added_once_with_its_own_quantity_and_text():
    account = work_from_rounds([], [])
    told = with_other_work(
        account, [Work("callout", quantity=D(37), text="To the yard"), Work("measure", text="Mine")]
    )
    assert [(work.operation, work.quantity, work.text) for work in told.works] == [
        ("measure", D(1), "Mine"),
        ("remeasure", D(1), ""),
        ("callout", D(37), "To the yard"),
    ]


@pytest.mark.parametrize(
    ("others", "said"),
    [
        ([Work("set_toe", (1,))], "only where findings show it"),
        ([Work("polish")], "only where findings show it"),
        ([Work("callout"), Work("callout")], "listed twice"),
    ],
)
def test_other_work_is_no_way_to_bill_a_correction_or_one_thing_twice(others, said):
    with pytest.raises(PricingError, match=said) as caught:
        with_other_work(work_from_rounds([], []), others)
    assert caught.value.path == ("other_work", len(others) - 1, "operation")
