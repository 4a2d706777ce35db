"""What becomes of a file while it is being sent: no more of it touches the disk than would ever be kept."""

from __future__ import annotations

from django.conf import settings
from django.core.files.uploadhandler import TemporaryFileUploadHandler


class BoundedUpload(TemporaryFileUploadHandler):
    """Writes a file's first bytes up to the limit and one piece more, and counts the rest.

    The file keeps its true size, so that whoever checks it can say that it is too large.
    """

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        if start <= settings.MAX_UPLOAD_BYTES:
            super().receive_data_chunk(raw_data, start)
