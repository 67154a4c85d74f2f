"""Every sentence of pricing that a customer may read, by message id.

Templates take named fields only. What a shop or a customer wrote is a field and never a
template, so braces in it stay braces.
"""

ENGLISH: dict[str, str] = {
    # What was done, in words for the person who pays.
    "operation.inspect": "Inspection of suspension, steering and tyres before measuring",
    "operation.measure": "Axle alignment measured on every axle",
    "operation.extra_reading": "Additional alignment reading",
    "operation.centre_axle": "Axle centred under the frame",
    "operation.aim_axle": "Axle aimed to run straight",
    "operation.square_steer_axle": "Steer axle squared to the frame",
    "operation.match_wedges": "Caster wedges matched side to side",
    "operation.set_toe": "Toe of the wheels set",
    "operation.remeasure": "Axle alignment measured again after the work",
    "operation.road_test": "Road test",
    "operation.callout": "Call-out to the vehicle",
    # Where.
    "line.axle": "{what}, axle {axles}",
    "line.axles": "{what}, axles {axles}",
    "line.axle_left": "{what}, axle {axles}, left side",
    "line.axle_right": "{what}, axle {axles}, right side",
    "line.further": "{line} (further)",
    "list.last": "{first} and {last}",
    "list.more": "{first}, {next}",
    # Lines that are not work.
    "minimum": "Minimum charge",
    "supplies": "Shop supplies, {percent} %",
    "supplies.capped": "Shop supplies, {percent} %, at most {cap}",
    "discount.percent": "Discount, {percent} %",
    "discount.amount": "Discount",
    "discount.limited": "Discount, limited to the price of the work",
    # Why a line costs nothing.
    "free.included": "Included in the price of the other work",
    "free.warranty": "No charge: covered by warranty",
    "free.comeback": "No charge: our earlier work is put right",
    "free.goodwill": "No charge: goodwill",
    # Why something is not billed.
    "unbilled.what": "{what}. {why}",
    "unbilled.no_rate": "Not billed: the rate card has no price for it",
    "unbilled.conforming": "Not billed: it was within its limits before",
    "unbilled.not_called_for": "Not billed: no finding calls for it",
    "unbilled.undetermined": "Not billed as corrected: the first readings could not tell whether "
    "it was outside its limits, and no step of the plan was for it",
    "unbilled.still_outside": "Not billed as corrected: it is still outside its limits",
    "unbilled.not_proven": "Not billed as corrected: the readings after the work do not prove it",
    "unbilled.not_read": "Not billed as corrected: it was not read again after the work",
    "unbilled.no_operation": "Not billed: no operation of the rate card corrects this quantity",
    "unbilled.not_shown": "Not billed: the readings cannot show that it was done; add it to the "
    "other work if it was",
    # Estimate against final.
    "change.otherwise": "{what}: {final} as estimated, made up otherwise",
    "change.added": "{what}: not estimated, {final} charged",
    "change.removed": "{what}: {estimate} estimated, not charged",
    "change.because": "{change}. {because}",
    "change.minimum": "Minimum charge",
    "change.supplies": "Shop supplies",
    "change.discount": "Discount",
    "change.more": "{what}: {final} instead of {estimate}",
    "change.axles": "{what}: {final} for {done} instead of {estimate} for {planned}",
    "change.axle": "axle {axles}",
    "change.several": "axles {axles}",
    "change.nowhere": "no axle",
    "change.total_same": "The final amount is the estimated amount, {final}",
    "change.total_less": "The final amount is {final}, {difference} less than the estimated "
    "{estimate}",
    "change.total_more": "The final amount is {final}, {difference} more than the estimated "
    "{estimate}",
}


def say(message: str, /, **fields: object) -> str:
    """The sentence of a message id with its fields filled in."""
    return ENGLISH[message].format_map(fields)


def listed(numbers: tuple[int, ...]) -> str:
    """`2`, `2 and 3`, `2, 3 and 4`."""
    if not numbers:
        return ""
    words = str(numbers[0])
    for number in numbers[1:-1]:
        words = say("list.more", first=words, next=number)
    return say("list.last", first=words, last=numbers[-1]) if len(numbers) > 1 else words
