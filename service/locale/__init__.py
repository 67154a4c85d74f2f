"""What people read, by language: one gettext catalogue a language, and the choice among them.

The catalogues are `{language}/LC_MESSAGES/axlewright.po`; a message is found by its id, so that
the English text is one translation among others. After a change Babel compiles them into the
`.mo` files beside them, which are what is read and shipped:

    pybabel compile --directory service/locale --domain axlewright --statistics
"""
