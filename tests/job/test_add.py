"""Photos come into a job sorted; none is lost, none is overwritten, and what is not sure is asked."""

import shutil
from datetime import datetime, timedelta

import numpy as np
import pytest
from PIL import Image
from PIL.ExifTags import IFD, Base
from typer.testing import CliRunner

from hubsight import find_sample_job, load_job
from hubsight.cli import app
from hubsight.job.file.keep_photos import keep_photo
from hubsight.job.file.problems import JobFileError
from hubsight.job.sorting import sort_photos
from hubsight.measure.set_up import EndRay, SeenInPhoto, common_end, see_in_photo, standing_out
from hubsight.model.refusal import Refusal

LENSES = [(0.0, 0.0, 350.0), (120.0, 30.0, 320.0), (-90.0, 90.0, 330.0), (20.0, -120.0, 320.0)]


def ray(lens, point):
    direction = np.subtract(point, lens)
    return EndRay(np.array(lens), direction / np.linalg.norm(direction))


@pytest.fixture
def photo(tmp_path):
    """A small photo, taken so many seconds after noon, and what is made up to be seen in it."""

    def make(name, seconds=None, end=None, lens=0, gauge=True):
        file = tmp_path / "phone" / name
        file.parent.mkdir(exist_ok=True)
        exif = Image.Exif()
        if seconds is not None:
            taken = datetime(2026, 5, 1, 12) + timedelta(seconds=seconds)
            exif.get_ifd(IFD.Exif)[Base.DateTimeOriginal] = f"{taken:%Y:%m:%d %H:%M:%S}"
        shade = (sum(name.encode()) * 7) % 256
        Image.new("RGB", (64, 48), (shade, 90, 120)).save(file, exif=exif)
        return SeenInPhoto(file, None, "", gauge, None if end is None else ray(LENSES[lens], end))

    return make


DRIVE, OTHER = (54.0, 13.0, 70.0), (48.0, 17.0, 92.0)


def names(sets):
    return [[photo.file.name for photo in one.photos] for one in sets]


def test_rays_to_one_end_meet_there():
    rays = [ray(lens, DRIVE) for lens in LENSES]
    assert common_end(rays) == pytest.approx(DRIVE)
    assert common_end(rays[:1]) is None
    assert common_end([rays[0], rays[0]]) is None


def test_a_photo_of_another_set_up_stands_out(photo):
    four = [photo(f"{k}.jpg", end=DRIVE, lens=k) for k in range(3)] + [photo("3.jpg", end=OTHER, lens=3)]
    assert [one.file.name for one in standing_out(four)] == ["3.jpg"]
    assert standing_out(four[:3]) == ()
    far = photo("4.jpg", end=(54.0, 60.0, 70.0), lens=1)
    assert len(standing_out([four[0], far])) == 2, "two blame each other"


def two_sides(photo, pause=200):
    drive = [photo(f"IMG_{k + 1}.jpg", 25 * k, DRIVE, k) for k in range(4)]
    return drive + [photo(f"IMG_{k + 5}.jpg", 75 + pause + 25 * k, OTHER, k) for k in range(4)]


def test_a_long_pause_parts_two_sides_and_the_lower_gauge_is_only_a_guess(photo):
    sets, loose = sort_photos(list(reversed(two_sides(photo))))
    assert names(sets) == [[f"IMG_{k}.jpg" for k in range(1, 5)], [f"IMG_{k}.jpg" for k in range(5, 9)]]
    assert not loose
    assert [(one.side, one.guess) for one in sets] == [(None, "drive"), (None, "non_drive")]
    assert sets[0].height == pytest.approx(70.0)


def test_photos_without_a_pause_that_disagree_are_not_sorted(photo):
    sets, loose = sort_photos(two_sides(photo, pause=25))
    assert not sets
    assert len(loose) == 8
    assert "was the hub turned over?" in loose[0].why


def test_one_misread_end_between_others_stays_and_one_at_the_end_is_asked_about(photo):
    photos = [*two_sides(photo)[:4], photo("IMG_9.jpg", 100, DRIVE, 1)]
    photos[2] = photo("IMG_3.jpg", 50, OTHER, 2)
    (one,), loose = sort_photos(photos)
    assert len(one.photos) == 5
    assert not loose
    photos[4] = photo("IMG_9.jpg", 100, OTHER, 1)
    photos[2] = photo("IMG_3.jpg", 50, DRIVE, 2)
    (one,), loose = sort_photos(photos)
    assert [left.photo.file.name for left in loose] == ["IMG_9.jpg"]


def test_without_times_gaps_in_the_numbers_part(photo):
    photos = [photo(f"IMG_{k}.jpg") for k in (1, 2, 3, 7, 8, 9)]
    assert names(sort_photos(photos)[0]) == [
        [f"IMG_{k}.jpg" for k in part] for part in ((1, 2, 3), (7, 8, 9))
    ]


def test_names_tell_sides_but_a_folder_called_drive_may_be_a_disk(photo, tmp_path):
    (tmp_path / "phone").mkdir(exist_ok=True)
    (one, other), _ = sort_photos([photo("hub nds 1.jpg", 0), photo("hub-DS-2.jpg", 10)])
    assert {one.side, other.side} == {"non_drive", "drive"}
    (unnamed,), _ = sort_photos([photo("DSC_1.jpg", 0)])
    assert unnamed.side is None
    for folder in ("Drive", "non-drive"):
        shutil.copytree(tmp_path / "phone", tmp_path / folder)
    disk = SeenInPhoto(tmp_path / "Drive" / "DSC_1.jpg", None, "", True)
    assert sort_photos([disk])[0][0].side is None
    both = [disk, SeenInPhoto(tmp_path / "non-drive" / "DSC_1.jpg", None, "", True)]
    assert {one.side for one in sort_photos(both)[0]} == {"drive", "non_drive"}


def test_a_gauge_on_the_sheet_and_photos_without_one_are_told(photo):
    flat, _ = sort_photos([photo(f"{k}.jpg", 10 * k, (20.0, 5.0, 1.0), k) for k in range(3)])
    assert flat[0].flat
    (none,), _ = sort_photos([photo("1.jpg", 0, gauge=False)])
    assert "lie on its flanges?" in none.why
    _, (left,) = sort_photos([SeenInPhoto(photo("2.jpg").file, Refusal(reason="no target", remedy="Turn"))])
    assert left.why == "no target"


def test_no_photo_is_overwritten_or_touched(photo, tmp_path):
    first, folder = photo("IMG_1.jpg").file, tmp_path / "job"
    folder.mkdir()
    content = first.read_bytes()
    kept = keep_photo(first, folder, "drive")
    assert (kept.file.read_bytes(), first.read_bytes(), kept.new) == (content, content, True)
    assert not keep_photo(first, folder, "drive").new
    Image.new("RGB", (64, 48)).save(first)
    again = keep_photo(first, folder, "drive")
    assert again.file.name == "IMG_1-2.jpg"
    assert kept.file.read_bytes() == content
    assert sorted(file.name for file in (folder / "drive").iterdir()) == ["IMG_1-2.jpg", "IMG_1.jpg"]


def test_a_disk_that_is_full_leaves_nothing_half(photo, tmp_path, monkeypatch):
    file = photo("IMG_1.jpg").file

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copy2", full)
    with pytest.raises(JobFileError, match="No space left"):
        keep_photo(file, tmp_path, "drive")
    assert not list((tmp_path / "drive").iterdir())


def test_a_folder_that_leads_out_of_the_job_takes_no_photo(photo, tmp_path):
    (tmp_path / "job").mkdir()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "job" / "drive").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(JobFileError, match="leads out of the job"):
        keep_photo(photo("IMG_1.jpg").file, tmp_path / "job", "drive")


@pytest.fixture
def add(monkeypatch, photo, tmp_path):
    """Run ``add`` on photos of both sides, with what is typed, or without a terminal."""
    seen = {one.file: one for one in two_sides(photo)}
    monkeypatch.setattr("hubsight.cli.add.see_in_photo", lambda file, *_: seen[file])
    (tmp_path / "job").mkdir()
    text = '[gauges.a]\nlength = 100\n[sides.drive]\nphotos = "drive/*"\n'
    (tmp_path / "job" / "job.toml").write_text(text)

    def run(*options, typed=None):
        monkeypatch.setattr("hubsight.cli.add.somebody_answers", lambda: typed is not None)
        arguments = ["add", tmp_path / "job", *options, *seen]
        return CliRunner().invoke(app, [str(argument) for argument in arguments], input=typed)

    return run


def test_asked_with_the_likely_side_as_what_enter_takes(add, tmp_path):
    result = add(typed="\n\n")
    assert result.exit_code == 0, result.output
    assert "Perhaps the drive side: its gauge lies lower" in result.stdout
    job = load_job(tmp_path / "job")
    sides = {side.stated.name: [p.name for p in side.stated.photos] for side in job.sides}
    assert sides == {
        "drive": [f"IMG_{k}.jpg" for k in range(1, 5)],
        "non_drive": [f"IMG_{k}.jpg" for k in range(5, 9)],
    }


def test_an_answer_that_is_none_is_explained_and_short_words_do(add, tmp_path):
    result = add(typed="left side\n?\nds\nl\nnon-drive\n")
    assert result.exit_code == 0, result.output
    assert result.stdout.count("the hub lies on its flanges") == 3, "l may be lying or leave"
    assert "Next: hubsight measure" in result.stdout
    assert len(list((tmp_path / "job" / "drive").iterdir())) == 4


def test_ctrl_c_in_the_second_question_says_what_is_in_the_job(add, tmp_path):
    result = add(typed="drive\n")
    assert result.exit_code == 1
    assert "Photos named with -> are in the job; the others stay where they are." in result.stderr
    assert len(list((tmp_path / "job").rglob("*.jpg"))) == 4


def test_a_photo_belongs_to_one_side(add, tmp_path):
    assert add("--side", "drive").exit_code == 0
    result = add("--side", "non_drive")
    assert result.exit_code == 1
    assert result.stderr.count("it lies in drive already") == 8
    assert not (tmp_path / "job" / "non_drive").exists()
    assert "non_drive" not in (tmp_path / "job" / "job.toml").read_text()


def run_plain(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_a_folder_means_its_photos(add, photo, tmp_path):
    (tmp_path / "phone" / "notes.txt").write_text("no photo")
    result = run_plain("add", tmp_path / "job", tmp_path / "phone", "--side", "drive")
    assert result.exit_code == 0, result.output
    assert len(list((tmp_path / "job" / "drive").iterdir())) == 8


def test_a_job_whose_file_is_not_filled_in_yet_takes_photos(photo, tmp_path):
    assert run_plain("start", tmp_path / "new").exit_code == 0
    result = run_plain("add", tmp_path / "new", photo("IMG_1.jpg").file)
    assert result.exit_code == 1
    assert "IMG_1.jpg: " in result.stderr
    assert "gauges" not in result.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["phone/IMG_1.jpg", "phone/IMG_2.jpg"], "IMG_1.jpg: this is a photo. Name the job's folder first."),
        (["no-job", "phone"], "there is no such folder. Check the name, or begin the job: hubsight start"),
        (["phone", "phone"], "there is no job.toml in this folder. Check the name"),
        (["job", "empty"], "empty: there are no photos in this folder. Name photos (heic,"),
        (["job", "phone/IMG_77.jpg"], "IMG_77.jpg: there is no such file or folder"),
        (["job/other.toml", "phone"], "there is no such file. Check the name, or name the job's folder."),
    ],
)
def test_a_wrong_name_is_told_for_what_it_is(add, tmp_path, arguments, said):
    (tmp_path / "empty").mkdir()
    result = run_plain("add", *(tmp_path / name for name in arguments))
    assert result.exit_code == 2
    assert said in result.stderr


def test_a_photo_without_the_sheet_is_left_with_what_to_do(add, tmp_path, monkeypatch):
    refusal = Refusal(reason="the printed target was not found", remedy="Photograph the hub on the target")
    monkeypatch.setattr("hubsight.cli.add.see_in_photo", lambda file, *_: SeenInPhoto(file, refusal))
    result = add()
    assert result.exit_code == 1
    assert "IMG_1.jpg: the printed target was not found. Photograph the hub on the target" in result.stderr
    assert "--side drive" not in result.stderr, "nobody can say what it shows"


def test_without_a_terminal_what_is_not_sure_stays_and_is_named(add, tmp_path):
    result = add()
    assert result.exit_code == 1
    assert all(f"IMG_{k}.jpg: it is not known which side is up" in result.stderr for k in range(1, 9))
    assert "--side drive PHOTO..." in result.stderr
    assert not list((tmp_path / "job").rglob("*.jpg"))
    assert len(list((tmp_path / "phone").iterdir())) == 8


def test_a_stated_side_takes_all(add, tmp_path):
    assert add("--side", "non_drive").exit_code == 0
    assert len(list((tmp_path / "job" / "non_drive").iterdir())) == 8


def test_the_sample_s_photos_are_seen_to_be_two_set_ups():
    files = sorted(find_sample_job().glob("*/*.jpg"))
    seen = [see_in_photo(file) for file in files]
    assert sum(one.end is not None for one in seen) >= 7
    sets, loose = sort_photos([SeenInPhoto(s.file, s.refusal, "", s.gauge, s.end) for s in seen])
    assert not loose
    assert {frozenset(p.file.parent.name for p in one.photos) for one in sets} == {
        frozenset({"drive"}),
        frozenset({"non_drive"}),
    }
