"""HTTP/1.1 as the server speaks it: an offer to change the protocol is passed over.

The JDK's HTTP client, and all that is built on it, offers `Upgrade: h2c` with every request to a
plain `http:` address. The parser stops at such an offer and the server's own protocol then hands
the request on without its body. RFC 9110 section 7.8 lets a server ignore the offer, so that the
request is read again here without it.
"""

import httptools
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol


class PlainHttpProtocol(HttpToolsProtocol):
    """The server's HTTP/1.1, deaf to every offer of another protocol."""

    _offered = False

    def data_received(self, data: bytes) -> None:
        """Feed what arrived to the parser; after an offer, feed the request again without it."""
        self._unset_keepalive_if_required()
        try:
            self.parser.feed_data(data)
        except httptools.HttpParserUpgrade as offer:
            if self._offer_stands():
                self._read_without_offer(data[offer.args[0] :])
        except httptools.HttpParserError:
            self.send_400_response("Invalid HTTP request received.")

    def on_headers_complete(self) -> None:
        """Begin an answer, unless the request is about to be read again."""
        self._offered = self._offer_stands()
        if not self._offered:
            super().on_headers_complete()
            self.on_answer_begun()

    def on_answer_begun(self) -> None:
        """A cycle of request and answer has just begun."""

    def on_message_complete(self) -> None:
        """End a request, unless it is about to be read again with its body."""
        if not self._offered:
            super().on_message_complete()

    def _offer_stands(self) -> bool:
        """Whether the parser will stop at the end of these headers for an `Upgrade` among them."""
        return self.parser.should_upgrade() and any(name == b"upgrade" for name, _ in self.headers)

    def _read_without_offer(self, rest: bytes) -> None:
        method, version = self.parser.get_method(), self.parser.get_http_version().encode()
        lines = [b"%b %b HTTP/%b" % (method, self.url, version)]
        lines += [b"%b: %b" % pair for pair in self.headers if pair[0] != b"upgrade"]
        self.parser = httptools.HttpRequestParser(self)
        # As the server sets its own: a last request is answered though more data follows it.
        self.parser.set_dangerous_leniencies(lenient_data_after_close=True)
        self.data_received(b"\r\n".join([*lines, b"", rest]))
