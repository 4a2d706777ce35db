"""A kept file as an answer."""

from contextlib import closing

import pytest

from shopflow.people import kept_files
from shopflow.records import files

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept():
    return files.store(b"%\nM30\n%\n", media_type="text/plain")


def test_the_exact_bytes_are_sent_with_their_hash(kept):
    with closing(kept_files.sent(kept, "O1001.nc")) as answer:
        assert b"".join(answer.streaming_content) == b"%\nM30\n%\n"
    assert answer["X-Content-SHA256"] == kept.sha256
    assert answer["Content-Disposition"] == 'attachment; filename="O1001.nc"'


def test_of_a_withdrawn_file_the_reason_is_sent(kept, lead):
    files.withdraw(kept, by=lead, reason="sent by mistake")
    answer = kept_files.sent(kept, "O1001.nc")
    assert (answer.status_code, "sent by mistake" in answer.content.decode()) == (410, True)


def test_the_bytes_of_a_hash_are_read_whole(kept):
    assert files.content_of(kept.sha256) == b"%\nM30\n%\n"
