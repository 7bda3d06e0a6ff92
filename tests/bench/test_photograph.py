"""Photos are checked and freed of what they tell beside the picture. Pillow makes, reads and compares them: it shares
no code with ours."""

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageOps, PngImagePlugin

from graph.errors import BadFile, NotFound, StoreDamaged
from graph.index.store import Store
from graph.ledger.photos import PHOTOS, Photos, photo_name
from graph.photograph import LARGEST, photograph
from graph.publish.backing import backup, restore

PLACE = "50 degrees north"


def picture(wide: int = 64, high: int = 48) -> Image.Image:
    made = Image.new("RGB", (wide, high))
    made.putdata([(x * 3 % 256, y * 5 % 256, (x + y) % 256) for y in range(high) for x in range(wide)])
    return made


def jpeg(turned: int = 1, *, progressive: bool = False) -> bytes:
    exif = Image.Exif()
    exif[274] = turned
    exif[0x010E] = PLACE  # description
    exif.get_ifd(0x8825)[1] = "N"  # GPS
    out = BytesIO()
    picture().save(out, "JPEG", exif=exif, comment=PLACE.encode(), progressive=progressive, dpi=(72, 72))
    return out.getvalue()


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("turned", [1, 3, 6, 8])
def test_a_jpeg_keeps_its_picture_and_how_it_is_turned_and_nothing_else(turned: int, progressive: bool) -> None:
    before = jpeg(turned, progressive=progressive)
    assert PLACE.encode() in before
    made = photograph(before + b"a film that the telephone hangs on behind")
    assert (made.media, made.wide, made.high) == ("image/jpeg", 64, 48)
    assert PLACE.encode() not in made.data
    assert b"film" not in made.data
    ours, theirs = Image.open(BytesIO(made.data)), Image.open(BytesIO(before))
    assert dict(ours.getexif()) == ({} if turned == 1 else {274: turned})
    assert ImageOps.exif_transpose(ours).tobytes() == ImageOps.exif_transpose(theirs).tobytes()


def test_a_png_keeps_its_picture_and_no_words() -> None:
    told = PngImagePlugin.PngInfo()
    told.add_text("Comment", PLACE)
    out = BytesIO()
    picture().save(out, "PNG", pnginfo=told)
    assert PLACE.encode() in out.getvalue()
    made = photograph(out.getvalue() + b"more")
    assert PLACE.encode() not in made.data
    assert made.data.endswith(b"IEND\xaeB`\x82")  # PNG, 5.6: the last chunk and its CRC
    assert Image.open(BytesIO(made.data)).tobytes() == picture().tobytes()


@pytest.mark.parametrize("share", [0.01, 0.1, 0.5, 0.9, 0.99])
def test_what_is_not_whole_is_refused(share: float) -> None:
    png = BytesIO()
    picture().save(png, "PNG")
    for whole in (jpeg(), png.getvalue()):
        with pytest.raises(BadFile):
            photograph(whole[: int(len(whole) * share)])


def test_a_flipped_bit_of_a_png_is_noticed() -> None:
    out = BytesIO()
    picture().save(out, "PNG")
    data = bytearray(out.getvalue())
    data[60] ^= 1
    with pytest.raises(BadFile):
        photograph(bytes(data))


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"<svg/>", b"\xff\xd8\xff\xd9", b"%PDF-1.7", b"\0" * (LARGEST + 1)])
def test_what_is_no_photo_is_refused(data: bytes) -> None:
    with pytest.raises(BadFile):
        photograph(data)


def test_a_photo_travels_with_the_backup_and_damage_is_noticed(tmp_path: Path, demo_folder: Path) -> None:
    import shutil

    shutil.copytree(demo_folder, tmp_path / "store")
    store = Store.open(tmp_path / "store")
    data = photograph(jpeg()).data
    name = photo_name(data, ".jpg")
    photos = Photos(store.ledger)
    with photos.keeping(name, data, who="bench", time="2026-11-20T08:00:00Z"), store.ledger.writing_beside():
        pass
    assert photos.photo(name) == data
    assert photos.held((name, "elsewhere.jpg")) == {name}
    backup(store, tmp_path / "copy")
    restore(tmp_path / "copy", tmp_path / "again")
    again = Store.open(tmp_path / "again")
    assert Photos(again.ledger).photo(name) == data
    with again.ledger.writing_beside() as connection:
        connection.execute(PHOTOS.update().values(body=data[:-3]))
    with pytest.raises(StoreDamaged):
        Photos(again.ledger).photo(name)
    with pytest.raises(NotFound):
        photos.photo("none.jpg")
    store.close()
    again.close()
