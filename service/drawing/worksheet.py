"""The worksheet of a measured vehicle, as a page that HTML and PDF are written from."""

from collections.abc import Iterable, Sequence

from service.drawing.canvas import Picture
from service.drawing.cautions import cautions_block
from service.drawing.content import content_bytes, digest
from service.drawing.page import (
    Block,
    Facts,
    Item,
    Items,
    Page,
    Paragraph,
    Pictures,
    Section,
    Signatures,
    Table,
    Text,
)
from service.drawing.plan_view import Panel, plan_view
from service.drawing.result_tables import (
    axle_table,
    change_table,
    readings_table,
    results_table,
)
from service.drawing.sheet import CONDITIONS, Details, Form, Sheet
from service.drawing.step_words import done_words, expected_words, remainder_words, step_words
from service.drawing.subject import Round, Session
from service.drawing.words import Words, words_of

SHOWN_OF_HASH = 12
"""Hexadecimal digits of the hash that number a sheet without a number of its own."""


def worksheet(sheet: Sheet, form: Form) -> Page:
    """Lay out a sheet. Two forms of one sheet differ in look and language, not in content."""
    words = words_of(form.language, form.unit, form.denominator)
    content = content_bytes(sheet)
    number = sheet.details.number or digest(content)[:SHOWN_OF_HASH].upper()
    last = sheet.after or sheet.before
    sections = [
        _vehicle(sheet, words),
        *_checks(sheet, words),
        _conditions(sheet, words),
        _readings(sheet, words),
        _results(sheet, words),
        *_plan(sheet, words),
        *_work_done(sheet, words),
        _plan_views(sheet, words),
        Section(words.say("sheet.cautions"), [cautions_block(last.cautions, words)]),
        closing(sheet.details, words),
    ]
    return page(sheet.details, form, words, number, sections, "sheet.title", content)


def page(
    details: Details,
    form: Form,
    words: Words,
    number: str,
    sections: Sequence[Section],
    title: str,
    content: bytes | None,
) -> Page:
    """A page with the shop's head, the sheet's number and, where it has content, its hash."""
    say = words.say
    named = say("sheet.number", number=number) if number else ""
    return Page(
        language=form.language,
        title=say(title),
        shop=Text(details.shop, own=True),
        shop_lines=[Text(line, own=True) for line in details.shop_lines],
        number=named,
        sections=sections,
        foot=named,
        paper=form.paper,
        content=content,
        hash_line="" if content is None else say("sheet.hash", hash=digest(content)),
        page_of=say("sheet.page"),
    )


def closing(details: Details, words: Words) -> Section:
    """Who answers for the sheet."""
    say = words.say
    blocks: list[Block] = []
    if details.closing:
        blocks.append(Paragraph(Text(details.closing, own=True)))
    labels = [say("sheet.sign.technician"), say("sheet.sign.customer")]
    blocks.append(Signatures(labels, say("sheet.sign.date")))
    return Section(say("sheet.signatures"), blocks, whole=True)


def _vehicle(sheet: Sheet, words: Words) -> Section:
    say, vehicle = words.say, sheet.before.round.vehicle
    rows = [(say("fact.kind"), Text(say(f"vehicle.{vehicle.kind}")))]
    rows += [
        (say(f"fact.{name}"), Text(text, own=True)) for name, text in sheet.details.facts if text
    ]
    return Section(say("sheet.vehicle"), [Facts(rows), axle_table(vehicle, words)])


def _checks(sheet: Sheet, words: Words) -> Iterable[Section]:
    say = words.say
    if sheet.checks:
        rows = [
            [
                Text(one.item, own=True),
                Text(say(f"checked.{one.result}"), strong=one.result == "worn"),
                Text(one.note, own=True),
            ]
            for one in sheet.checks
        ]
        headings = [say("head.looked_at"), say("head.found"), say("head.note")]
        yield Section(say("blank.checks"), [Table(headings, rows, (2, 1, 3))])


_ANSWERS = {True: "condition.yes", False: "condition.no", None: "condition.unsaid"}


def _conditions(sheet: Sheet, words: Words) -> Section:
    say, sessions = words.say, _sessions(sheet, words)
    stated = [name for name in CONDITIONS if any(name in one.conditions for _, one in sessions)]
    block: Block
    if not stated:
        block = Paragraph(Text(say("condition.none")))
    elif sheet.after is None:
        block = Facts(
            [(say(f"condition.{name}"), _answer(sheet.before, name, words)) for name in stated]
        )
    else:
        block = Table(
            [say("sheet.conditions"), *(heading for heading, _ in sessions)],
            [
                [
                    Text(say(f"condition.{name}")),
                    *(_answer(session, name, words) for _, session in sessions),
                ]
                for name in stated
            ],
            (2, 1, 1),
        )
    return Section(say("sheet.conditions"), [block])


def _answer(session: Session, name: str, words: Words) -> Text:
    state = session.conditions.get(name)
    return Text(words.say(_ANSWERS[state]), strong=state is False)


def _readings(sheet: Sheet, words: Words) -> Section:
    say = words.say
    blocks: list[Block] = []
    for name, session in _sessions(sheet, words):
        told = say("sheet.reading_unit", unit=session.unit)
        if name:
            told = say("plan.value", name=name, value=told)
        blocks.append(Paragraph(Text(told)))
        blocks.append(readings_table(session, words))
    return Section(say("sheet.readings"), blocks)


def _results(sheet: Sheet, words: Words) -> Section:
    say, last = words.say, sheet.after or sheet.before
    if sheet.after is None:
        table = results_table(sheet.before.round, words)
    else:
        table = change_table(sheet.before.round, sheet.after.round, words)
    blocks: list[Block] = [table, Paragraph(Text(say("sheet.uncertainty"), small=True))]
    blocks += [Paragraph(Text(text, small=True)) for text in _grounds(last, words)]
    return Section(say("sheet.results"), blocks)


def _grounds(session: Session, words: Words) -> Iterable[str]:
    """What the numbers and the limits rest on."""
    for assumed in session.assumptions:
        size = words.length(assumed.uncertainty)
        yield words.say("assumption.centred", axle=assumed.axle, size=size)
    sources = dict.fromkeys(finding.source for finding in session.round.findings)
    if sources:
        listed = "; ".join(sources)
        if session.target_set:
            yield words.say("sheet.targets", name=session.target_set, sources=listed)
        else:
            yield words.say("sheet.own_targets", sources=listed)
    yield words.say("sheet.engine", engine=session.engine)


def _plan(sheet: Sheet, words: Words) -> Iterable[Section]:
    """Steps of the first round's plan: to be done, or where there is a second, what was planned."""
    say, first = words.say, sheet.before
    if not (first.steps or first.remaining):
        if sheet.after is None:
            yield Section(say("sheet.plan"), [Paragraph(Text(say("sheet.no_plan")))])
        return
    items = [
        Item(
            Text(step_words(step, words)),
            [Text(expected_words(one, words), small=True) for one in step.expected],
        )
        for step in first.steps
    ]
    blocks: list[Block] = [Items("number" if sheet.after else "box", items)] if items else []
    blocks += [Paragraph(Text(remainder_words(one, words), strong=True)) for one in first.remaining]
    yield Section(say("sheet.planned" if sheet.after else "sheet.plan"), blocks)


def _work_done(sheet: Sheet, words: Words) -> Iterable[Section]:
    """What the shop says it did, else what the readings prove; and the shop's notes."""
    details = sheet.details
    items = [Item(Text(line, own=True)) for line in details.work_done]
    items = items or [Item(Text(done_words(one, words))) for one in sheet.done]
    blocks: list[Block] = [Items("dash", items)] if items else []
    if details.notes:
        blocks.append(Paragraph(Text(details.notes, own=True)))
    if blocks:
        yield Section(words.say("sheet.work_done"), blocks)


def _plan_views(sheet: Sheet, words: Words) -> Section:
    rounds = [(name, session.round) for name, session in _sessions(sheet, words)]
    pictures = list(_pictures(rounds, words))
    return Section(words.say("sheet.plan_view"), [Pictures(pictures)])


def _pictures(rounds: Sequence[tuple[str, Round]], words: Words) -> Iterable[Picture]:
    """A drawing for each round, so that they can stand side by side or below each other."""
    alike = [one for _, one in rounds]
    for place, (name, one) in enumerate(rounds):
        yield plan_view([Panel(one, name)], words, prefix=f"plan{place}", alike=alike)


def _sessions(sheet: Sheet, words: Words) -> list[tuple[str, Session]]:
    """The rounds with their names; one that stands alone has none."""
    if sheet.after is None:
        return [("", sheet.before)]
    return [
        (words.say("head.before"), sheet.before),
        (words.say("head.after"), sheet.after),
    ]
