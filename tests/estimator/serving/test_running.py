"""What the running program tells, and to whom its folder is open."""

import logging
import os

import pytest

from estimator.access.database import AccessDatabase
from estimator.serving import running


def test_no_request_is_told_in_a_log_whatever_level_the_page_library_sets(caplog):
    from streamlit.logger import set_log_level

    told = logging.getLogger("uvicorn.error")
    running._keep_quiet()
    set_log_level("DEBUG")  # as the library does when it reads its settings, after the doors were made quiet
    try:
        told.addHandler(caplog.handler)
        told.info('%s - "WebSocket %s" [accepted]', "192.168.1.77:40000", "/_stcore/stream")
        told.warning("Invalid HTTP request received.")
        told.error("Exception in ASGI application")
    finally:
        set_log_level("INFO")
        told.removeHandler(caplog.handler)
        told.filters.clear()
    assert {record.message for record in caplog.records} == {"Exception in ASGI application"}


@pytest.mark.skipif(os.name != "posix", reason="rights of folders are POSIX's")
def test_a_new_salon_folder_is_open_to_this_user_alone_and_one_that_is_there_keeps_its_rights(tmp_path):
    before = os.umask(0o022)
    try:
        AccessDatabase(tmp_path / "new" / "salon")
        shared = tmp_path / "shared"
        shared.mkdir(mode=0o770)
        shared.chmod(0o770)
        AccessDatabase(shared)
    finally:
        os.umask(before)
    modes = [folder.stat().st_mode & 0o777 for folder in (tmp_path / "new", tmp_path / "new" / "salon", shared)]
    assert modes == [0o700, 0o700, 0o770]
