"""Files written whole, and names that stay in their folder."""

import errno

import pytest

from hubsight.model.files import inside, write_atomically


def test_a_written_file_is_whole_and_alone(tmp_path):
    file = tmp_path / "a.jpg"
    file.write_bytes(b"old")
    write_atomically(file, b"new")
    assert file.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize("step", ["pathlib.Path.replace", "os.fsync", "pathlib.Path.chmod"])
def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path, monkeypatch, step):
    file = tmp_path / "a.jpg"
    file.write_bytes(b"old")

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(step, full)
    with pytest.raises(OSError, match="No space"):
        write_atomically(file, b"new")
    assert file.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize(
    "name", ["/etc/passwd", "../other/a.jpg", "drive/../../a.jpg", "out/a.jpg", "a\0b", "loop/a"]
)
def test_a_name_that_leads_out_of_the_folder_is_refused(tmp_path, name):
    folder = tmp_path / "job"
    (folder / "drive").mkdir(parents=True)
    (folder / "out").symlink_to(tmp_path)
    (folder / "loop").symlink_to(folder / "loop")
    assert inside(folder, name) is None


def test_a_name_in_the_folder_is_its_path(tmp_path):
    assert inside(tmp_path, "drive/a.jpg") == tmp_path / "drive/a.jpg"
