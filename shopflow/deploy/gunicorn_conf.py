"""How gunicorn serves the site: few processes with threads, since pages wait for the database and not for the CPU."""

import logging
import os
from typing import Any

from gunicorn.glogging import Logger


class PlainLogger(Logger):
    """Gunicorn's own lines through the root handler as all others, instead of a second format beside it."""

    def setup(self, cfg: Any) -> None:
        self.cfg = cfg
        for logger in (self.error_log, self.access_log):
            logger.handlers.clear()
            logger.propagate = True
            logger.setLevel(logging.WARNING)


wsgi_app = "shopflow.wsgi:application"
certfile = os.environ.get("TLS_CERTIFICATE") or None  # key and certificate in one file, read for each connection
worker_class = "shopflow.deploy.tls_worker.TlsWorker" if certfile else "gthread"
workers = int(os.environ.get("WEB_PROCESSES", "2"))
threads = int(os.environ.get("WEB_THREADS", "8"))
preload_app = True  # read once, shared by the forks; nothing opens a connection or a thread at import
keepalive = 5
graceful_timeout = 5
timeout = 60
control_socket_disable = True
logger_class = PlainLogger
