"""Texts that a shop could write and that must do no harm."""

HOSTILE = {
    "markup": "<script>alert(1)</script>",
    "closing tags": "</text></svg></td></script></style>-->]]>",
    "attribute": '" onload="alert(1)" x=\'',
    "entities": "&lt;b&gt; & &amp; &#60; &nbsp; &unknown;",
    "format fields": "{0} {name} %s %(x)d {}",
    "typst markup": '#include "x" $x$ *bold* _it_ = Head @ref <label> \\ // no /* c */ `raw`',
    "right to left": "מספר יחידה ٤٧١١ שלום",
    "override without end": "abc \u202e gnirts \u2067 tail",
    "isolate ends": "\u2069\u2069 x \u202c y",
    "emoji": "🚛🔧 👩🏽‍🔧 ok",
    "combining": "Z͑ͫ̓ͪ̂ͫ̽͏̴̙̤̞͉͚̯̞̠͍A̴̵̜̰͔ͫ͗͢",
    "controls": "a\x00b\x07c\x1bd\x85e\ufffef",
    "half a pair": "a\ud83db",
    "long word": "W" * 500,
    "long text": "wide load " * 50,
    "spreadsheet": "=cmd|' /C calc'!A0",
    "lines": "one\ntwo\r\nthree",
    "space": "   ",
}

READABLE = ("markup", "entities", "format fields", "typst markup", "spreadsheet")
"""Those that a font for Latin letters shows letter by letter."""
