"""`/v1/exports`: everything a shop has stored, as one stream of lines of JSON."""

import tempfile
from collections.abc import AsyncIterator
from typing import IO

from litestar import get
from litestar.response import Stream

from service.api.access import needs
from service.api.storing import AnyRequest, snapshot
from service.store.scope import ShopScope
from service.store.takeout import lines_of

NDJSON = "application/x-ndjson"
IN_MEMORY = 1024 * 1024
PIECE = 64 * 1024


@get(
    "/v1/exports",
    summary="Take out everything",
    media_type=NDJSON,
    **needs("admin", produces=(NDJSON,)),
)
async def export_shop(request: AnyRequest) -> Stream:
    """Every row of the shop as it was at one moment, a line of JSON each.

    The first line names the shop, the last one counts the rows. `axlewright import` reads it into
    an empty database. Keys, webhook secrets and what is kept for a day only are left out.
    """
    # The rows are written down before the first is sent: a slow reader must not hold a snapshot.
    written = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 - closed by _pieces

    def work(scope: ShopScope) -> None:
        written.seek(0)
        written.truncate()
        for line in lines_of(scope):
            written.write(line)

    try:
        await snapshot(request, work)
    except BaseException:
        written.close()
        raise
    return Stream(_pieces(written), media_type=NDJSON)


async def _pieces(written: IO[bytes]) -> AsyncIterator[bytes]:
    with written:
        written.seek(0)
        while piece := written.read(PIECE):
            yield piece
