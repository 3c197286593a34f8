"""Files are judged by what is in them; pictures are written anew. OWASP Cheat Sheet Series, File Upload (from memory)."""

import io

import pytest
from PIL import Image

from studio.web.uploads import EDGE_AT_MOST, JPEG, PDF, PNG, NotTaken, harmless_name, in_megabytes, receive
from tests.files import ATTACKS, NAMES, pdf, phone_photo, picture


def opened(received):
    return Image.open(io.BytesIO(received.data))


def test_a_pdf_is_kept_as_it_came():
    data = pdf()

    received = receive("sheet.pdf", data)

    assert (received.name, received.media_type, received.data) == ("sheet.pdf", PDF, data)


@pytest.mark.parametrize("after", [b"", b"\n", b"\r\n", b"\0" * 500, b" \n" * 100])
def test_what_writers_pad_a_pdf_with_does_no_harm(after):
    assert receive("sheet.pdf", pdf().rstrip() + after).media_type == PDF


@pytest.mark.parametrize("what", ATTACKS)
def test_everything_else_is_refused_with_a_sentence(what):
    name, data, words = ATTACKS[what]

    with pytest.raises(NotTaken, match=words):
        receive(name, data)


def test_a_file_over_the_limit_is_refused(settings):
    settings.UPLOAD_LIMIT = 1_000

    with pytest.raises(NotTaken, match=r"1\.1\sMB large; at most 1\skB") as caught:
        receive("sheet.pdf", pdf("x" * 1_099_000))

    assert "smaller copy" in str(caught.value).replace("\N{NO-BREAK SPACE}", " ")
    assert receive("sheet.pdf", pdf("x" * 100)).media_type == PDF


@pytest.mark.parametrize(("format", "media_type"), [("JPEG", JPEG), ("PNG", PNG), ("WEBP", JPEG)])
def test_a_picture_is_known_by_its_content_and_named_after_it(format, media_type):
    received = receive("whatever.pdf", picture(format=format))

    assert received.media_type == media_type
    assert received.name == ("whatever.png" if media_type == PNG else "whatever.jpg")
    assert opened(received).size == (60, 40)


def test_the_place_and_what_else_a_camera_notes_are_taken_out():
    photo = phone_photo()
    assert b"secret" in photo

    received = receive("IMG_0001.jpg", photo)

    assert b"secret" not in received.data
    image = opened(received)
    assert dict(image.getexif()) == {}
    assert not {"exif", "comment", "xmp", "icc_profile", "dpi"} & image.info.keys()


def test_a_png_keeps_no_words_either():
    from PIL.PngImagePlugin import PngInfo

    notes = PngInfo()
    notes.add_text("Comment", "secret words")
    photo = picture(format="PNG", pnginfo=notes, icc_profile=b"secret profile")
    assert b"secret" in photo

    received = receive("photo.png", photo + b"secret behind the end")

    assert b"secret" not in received.data
    assert opened(received).info == {}


def test_a_photo_taken_on_its_side_stands_upright():
    # 60 × 40 with red in its upper left corner, to be turned clockwise: 40 × 60, the red upper right.
    image = opened(receive("photo.jpg", phone_photo())).convert("RGB")

    assert image.size == (40, 60)
    assert image.getpixel((35, 5))[1] < 90
    assert image.getpixel((5, 5))[1] > 200


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP"])
def test_a_large_picture_is_made_smaller(format):
    received = receive("photo.jpg", picture(size=(4000, 3000), format=format))

    assert opened(received).size == (EDGE_AT_MOST, 1800)


def test_what_can_be_seen_through_stays_so():
    for format in ("PNG", "WEBP"):
        received = receive("mark.webp", picture(format=format, mode="RGBA", colour=(10, 20, 30, 128)))

        assert received.media_type == PNG
        assert opened(received).getpixel((0, 0))[3] in range(120, 136)


def test_other_ways_to_hold_colours_are_read_too():
    assert opened(receive("a.jpg", picture(mode="CMYK", colour=(0, 0, 0, 0)))).mode == "RGB"
    assert opened(receive("a.jpg", picture(mode="L", colour=128))).mode == "RGB"
    assert opened(receive("a.png", picture(mode="P", colour=1, format="PNG"))).mode == "RGB"
    assert opened(receive("a.png", picture(mode="1", colour=1, format="PNG"))).mode == "RGB"


def test_a_picture_too_large_without_loss_is_kept_on_white_with_a_little(settings):
    noise = Image.effect_noise((500, 500), 120).convert("RGBA")
    noise.putalpha(128)
    out = io.BytesIO()
    noise.save(out, "WEBP", quality=40)
    settings.UPLOAD_LIMIT = len(out.getvalue()) + 1_000

    received = receive("noise.webp", out.getvalue())

    assert received.media_type == JPEG
    assert opened(received).mode == "RGB"


def test_the_same_picture_gives_the_same_bytes():
    assert receive("a.jpg", phone_photo()).data == receive("b.jpg", phone_photo()).data


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_made_harmless(name):
    assert harmless_name(name, PDF) == NAMES[name]


def test_sizes_in_words():
    sizes = (1, 28_400, 99_999, 100_000, 2_310_000, 10_000_000)
    words = [in_megabytes(size).replace("\N{NO-BREAK SPACE}", " ") for size in sizes]
    assert words == ["1 kB", "28 kB", "99 kB", "0.1 MB", "2.4 MB", "10 MB"]
