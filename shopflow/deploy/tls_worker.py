"""Gunicorn's threaded worker, for browsers that shake hands early and speak late.

Gunicorn waits for the first bytes of a plain connection without holding a thread. Under TLS those first bytes are the
handshake; after it, a connection that a browser opened in advance holds a thread until a request comes, and a few
tablets hold all of them. Here a connection goes back to the poller after its handshake as well.
"""

from __future__ import annotations

import ssl
from typing import Any

from gunicorn.workers import gthread

LATER: object = vars(gthread)["_DEFER"]
"""Gunicorn's own mark of a connection to be watched and not closed; not public, hence the pinned version is tested."""


class TlsWorker(gthread.ThreadWorker):
    def handle(self, conn: Any) -> Any:
        """Shake hands first; take the request up in a turn of its own, once there is one to read."""
        if conn.initialized:
            return super().handle(conn)
        if not conn.wait_for_data(gthread.DEFAULT_WORKER_DATA_TIMEOUT):
            return LATER
        try:
            conn.init()
        except (ssl.SSLError, OSError) as error:  # a scanner, plain HTTP, a device that does not trust us yet
            self.log.debug("no TLS connection: %s", error)
            return False
        # What came with the handshake is already read from the socket: the poller would never see it.
        return super().handle(conn) if conn.sock.pending() else LATER
