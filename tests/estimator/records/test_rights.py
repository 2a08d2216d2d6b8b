"""Rights of a folder (POSIX.1-2017, sys/stat.h: the file mode bits): what others may read is told and closed."""

import os
import stat

import pytest
from typer.testing import CliRunner

from estimator.access.database import AccessDatabase
from estimator.cli import app
from estimator.records.checking import check_all, everything_well, repair

pytestmark = pytest.mark.skipif(os.name != "posix", reason="rights of folders are POSIX's")


def _mode(path):
    return stat.S_IMODE(path.stat().st_mode)


def _rights(store):
    return next(check for check in check_all(store) if check.what == "rights")


@pytest.fixture
def with_keys(file_store):
    """A salon with a door to the network; the key's content is no matter here."""
    folder = file_store.place.folder
    AccessDatabase(folder)
    (folder / "network").mkdir(mode=0o700)
    for name in ("authority.key", "machine.key"):
        (folder / "network" / name).touch(mode=0o600)
    return file_store


def test_a_folder_for_this_user_alone_is_well(with_keys):
    assert _rights(with_keys).well


@pytest.mark.parametrize("mode", [0o755, 0o711, 0o705, 0o702])
def test_a_folder_that_everybody_may_enter_is_told_with_what_to_do_and_closed(with_keys, mode):
    with_keys.place.folder.chmod(mode)
    found = _rights(with_keys)
    assert "everybody" in found.told
    assert "--repair" in found.remedy
    assert "chmod" in found.remedy
    assert not everything_well(check_all(with_keys))
    repair(with_keys)
    assert _rights(with_keys).well
    assert _mode(with_keys.place.folder) == 0o700


def test_a_folder_shared_with_a_group_stays_shared(with_keys):
    with_keys.place.folder.chmod(0o770)
    assert _rights(with_keys).well
    repair(with_keys)
    assert _mode(with_keys.place.folder) == 0o770


@pytest.mark.parametrize("name", ["access.sqlite", "network/authority.key", "network/machine.key"])
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604])
def test_a_key_to_the_door_that_others_may_read_is_named_and_closed(with_keys, name, mode):
    key = with_keys.place.folder / name
    key.chmod(mode)
    found = _rights(with_keys)
    assert name in found.told
    assert "--repair" in found.remedy
    repair(with_keys)
    assert _rights(with_keys).well
    assert _mode(key) == 0o600


def test_rights_that_can_t_be_changed_are_told_again_and_stop_no_repair(with_keys, monkeypatch):
    def refuse(*_):
        raise PermissionError(1, "Operation not permitted")  # chmod(2), EPERM: somebody else's folder

    with_keys.place.folder.chmod(0o755)
    monkeypatch.setattr("pathlib.Path.chmod", refuse)
    repair(with_keys)
    assert not _rights(with_keys).well


@pytest.mark.slow
def test_the_command_tells_it_and_mends_it(with_keys, monkeypatch):
    folder = with_keys.place.folder
    folder.chmod(0o755)
    told = CliRunner().invoke(app, ["doctor", "--salon", str(folder)])
    assert told.exit_code == 1
    assert "everybody" in told.output
    mended = CliRunner().invoke(app, ["doctor", "--repair", "--salon", str(folder)])
    assert "everybody" not in mended.output
    assert _mode(folder) == 0o700
