"""Lists of numbers as a sentence of a bill holds them, in a reader's language.

Every sentence that a customer reads is in the catalogues of `service.locale`. Templates take named
fields only: what a shop or a customer wrote is a field and never a template.
"""

from service.locale.catalogue import Catalogue


def listed(numbers: tuple[int, ...], texts: Catalogue) -> str:
    """`2`, `2 and 3`, `2, 3 and 4`."""
    if not numbers:
        return ""
    words = str(numbers[0])
    for number in numbers[1:-1]:
        words = texts.say("list.more", first=words, next=number)
    if len(numbers) > 1:
        return texts.say("list.last", first=words, last=numbers[-1])
    return words
