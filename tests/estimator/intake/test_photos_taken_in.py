"""What the intake page takes in of a client's files: photographs without private tags, and no RAW file."""

import io

import pytest

from calibration.errors import PhotoRefusedError
from calibration.opening import open_photo
from estimator.intake.photos_taken_in import cleaned
from tests.synthetic import encoded_files as files


def test_a_raw_file_is_refused_before_it_is_decoded_and_the_sentence_says_what_to_send(monkeypatch):
    monkeypatch.setattr("estimator.intake.photos_taken_in.clean_copy", lambda _: pytest.fail("it was decoded"))
    for photo_bytes in (files.dng_bytes(files.patch_scene()), files.linear_dng_bytes(files.patch_scene())):
        with pytest.raises(PhotoRefusedError) as caught:
            cleaned(io.BytesIO(photo_bytes))
        assert caught.value.finding.code == "raw_not_taken"
        assert "JPEG or HEIC" in caught.value.finding.remedy


def test_a_jpeg_is_taken_in_as_the_same_picture():
    photo_bytes = files.pillow_bytes(files.hair_like(), "JPEG", quality=90)
    taken = cleaned(io.BytesIO(photo_bytes))
    assert taken.ending == "jpg"
    assert (open_photo(taken.content).encoded_rgb == open_photo(photo_bytes).encoded_rgb).all()
