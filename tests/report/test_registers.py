"""Registers: what is given and from where, what must still be granted, and what the owner lays beside."""

import io
import os
import random
import struct
import zlib

import pytest
from PIL import Image

from hydrokit.errors import InputError
from hydrokit.report import registers
from hydrokit.report.owners_matter import LONGEST_SIDE, notes, pictures
from hydrokit.study.build.registers import defaults, inputs, permits
from hydrokit.study.opening import open_study

PLACE = 0x8825  # where a camera writes the place of a picture


SITE = """[site]
name = "Small Creek"
place = "a hill"  # as the map calls it

[intake]
capacity = "40 L/s ± 2 L/s"  # by the bucket

[operation]
under_fed_freezes = true  # seen in two winters

[[permit]]
subject = "electrical"
status = "granted"
date = 2026-03-14
note = "=1+1 <b>"
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    folder = tmp_path_factory.mktemp("registers")
    (folder / "site.toml").write_text(SITE, encoding="utf-8")
    return open_study(folder)


def test_a_value_stands_with_its_uncertainty_and_with_what_is_written_beside_it(study):
    given = {each.key: each for each in inputs(study)}
    assert given["site.place"].value == "a hill"
    assert given["site.place"].source == "as the map calls it"
    capacity = given["intake.capacity"]
    assert (capacity.value, capacity.uncertainty, capacity.source) == (
        "40 L/s",
        "2 L/s",
        "by the bucket",
    )
    assert given["operation.under_fed_freezes"].source == "seen in two winters"
    assert not any(key.startswith("permit") for key in given)


def test_what_the_site_file_does_not_name_is_not_said(study):
    states = {each.subject: each.status for each in permits(study)}
    assert states["electrical"] == "granted" and states["residual flow"] == "not said"
    assert list(states)[0] == "abstraction of water" and len(states) == 8
    assert "1 is granted" in registers.headline(study, study.view("us")).text


def test_text_of_the_owner_stays_text(study):
    html = registers.permit_table(study)._repr_html_()
    assert "&lt;b&gt;" in html and "<b>" not in html


def test_a_status_that_is_none_is_refused(tmp_path):
    (tmp_path / "site.toml").write_text(SITE.replace('"granted"', '"grantd"'), encoding="utf-8")
    with pytest.raises(InputError, match="status.*granted"):
        open_study(tmp_path)


def test_notes_are_text_without_mark_up(tmp_path):
    (tmp_path / "notes.md").write_text(
        "# Weir\n\nbuilt by <i>him</i>\n- rusts\n[x](http://a.b)\n", encoding="utf-8"
    )
    said = notes(tmp_path).marked
    assert "&lt;i&gt;" in said and "\n- rusts\n" in said and "[x](" not in said
    assert notes(tmp_path / "none") is None


def test_a_picture_is_scaled_and_loses_where_it_was_taken(tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    taken = Image.new("RGB", (3000, 1500), (90, 120, 90))
    about = taken.getexif()
    about[PLACE] = {1: "N"}
    taken.save(folder / "intake_in_March.jpg", exif=about)
    (folder / "broken.jpg").write_text("no picture")
    (folder / "away.jpg").symlink_to(folder / "intake_in_March.jpg")
    away, broken, caption, shown = pictures(tmp_path)
    assert "link is not followed" in away.text and "broken.jpg is not shown" in broken.text
    assert caption.text == "**intake in March**" and shown.caption == "intake in March"
    read = Image.open(io.BytesIO(shown.jpeg))
    assert read.size == (LONGEST_SIDE, LONGEST_SIDE // 2) and not dict(read.getexif())


def test_a_study_without_pictures_has_none(tmp_path):
    assert pictures(tmp_path) == []


def test_the_page_has_a_heading_for_all_there_is(study):
    headings = [heading for heading, _ in registers.sections(study, study.view("metric"))]
    assert headings == [
        "Permits and rights",
        "Risks, and what was found",
        "Measurements still owed",
        "Values assumed",
        "Values given",
        "Defaults that hold",
    ]
    assert registers.source_table(study) is None


SOURCES = """
[[source]]
of = ["intake", "operation.under_fed_freezes"]
by = "A. Reader"
date = 2026-05-03
instrument = "a bucket of 20 L"

[[source]]
of = ["intake.capacity"]
by = "B. Reader"
note = "twelve fills"
"""


@pytest.fixture(scope="module")
def sourced(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sources")
    (folder / "site.toml").write_text(
        SITE.replace('"  # by the bucket', '"') + SOURCES, encoding="utf-8"
    )
    return open_study(folder)


def test_a_source_says_by_whom_when_and_with_what_and_the_nearer_name_counts(sourced):
    given = {each.key: each for each in inputs(sourced)}
    frost, capacity = given["operation.under_fed_freezes"], given["intake.capacity"]
    assert (frost.by, frost.when, frost.instrument) == (
        "A. Reader",
        "2026-05-03",
        "a bucket of 20 L",
    )
    assert frost.source == "seen in two winters"
    assert (capacity.by, capacity.when, capacity.number) == ("B. Reader", "", 2)
    assert (given["site.place"].by, given["site.place"].number) == ("", 0)
    assert "twelve fills" in registers.source_table(sourced)._repr_html_()
    assert not any(key.startswith("source") for key in given)


def test_a_source_of_nothing_is_told_and_a_name_that_is_no_key_is_refused(tmp_path):
    site = tmp_path / "site.toml"
    site.write_text(SITE + SOURCES.replace("intake.capacity", "penstock"), encoding="utf-8")
    told = [str(each) for each in open_study(tmp_path).findings()]
    assert any("source of penstock, which the site file does not give" in each for each in told)
    site.write_text(SITE + SOURCES.replace("intake.capacity", "intake.capacty"), encoding="utf-8")
    with pytest.raises(InputError, match=r"\[\[source\]\] 2 of.*did you mean 'intake.capacity'"):
        open_study(tmp_path)


def test_days_and_methods_of_a_file_are_read_off_it(tmp_path):
    (tmp_path / "gaugings.csv").write_text(
        "# by the two of us\ndate,flow [L/s],uncertainty [%],method\n"
        "2025-03-01,12,5,salt\n2024-08-02,6,5,bucket\n2025-04-01,9,5,salt\n",
        encoding="utf-8",
    )
    (tmp_path / "site.toml").write_text(
        SITE + '\n[stream]\ngaugings = "gaugings.csv"\n', encoding="utf-8"
    )
    given = {each.key: each for each in inputs(open_study(tmp_path))}["stream.gaugings"]
    assert given.file == "2024-08-02 to 2025-04-01, salt (2), bucket (1)"
    assert given.source == "by the two of us"


def test_defaults_that_hold_are_listed_and_those_given_are_not(study):
    shown = {each.key: each.value for each in defaults(study)}
    assert shown["intake.weir_crest"] == '"broad"'
    assert "operation.under_fed_freezes" not in shown and "costs.life" not in shown
    text = registers.default_table(study, study.view("metric"))._repr_html_()
    assert "intake.weir_crest" in text


@pytest.mark.skipif(os.name == "nt", reason="pipes are made differently there")
def test_what_is_no_picture_or_too_large_holds_nothing_up(tmp_path):
    folder = tmp_path / "pictures"
    (folder / "a.jpg").mkdir(parents=True)
    os.mkfifo(folder / "b.png")
    Image.new("L", (10_000, 6_100)).save(folder / "c.png")
    Image.new("L", (10_000, 6_100)).save(folder / "d.jpg")
    header = b"\x89PNG\r\n\x1a\n" + struct.pack(
        ">I4s2I5B", 13, b"IHDR", 60_000, 60_000, 1, 0, 0, 0, 0
    )
    crc = struct.pack(">I", zlib.crc32(header[12:]))
    (folder / "e.png").write_bytes(header + crc + b"\0\0\0\0IDAT" + bytes(4))
    *refused, caption, shown, last = pictures(tmp_path)
    assert [each.text.partition(" is not shown")[0] for each in refused] == [
        "*a.jpg",
        "*b.png",
        "*c.png",
    ]
    assert "too many pixels; save it smaller" in refused[2].text
    with Image.open(io.BytesIO(shown.jpeg)) as scaled:
        assert scaled.size == (LONGEST_SIDE, LONGEST_SIDE * 61 // 100) and "d" in caption.text
    assert "too many pixels" in last.text


@pytest.mark.parametrize("error", [TypeError, SyntaxError, KeyError, struct.error, MemoryError])
def test_an_error_of_the_library_of_pictures_is_told(tmp_path, monkeypatch, error):
    """Such as a date of the camera's that is no text: a TypeError in the midst of turning it upright."""

    def fails(_):
        raise error("odd")

    monkeypatch.setattr("PIL.ImageOps.exif_transpose", fails)
    (tmp_path / "pictures").mkdir()
    Image.new("RGB", (30, 20)).save(tmp_path / "pictures" / "weir.jpg")
    (told,) = pictures(tmp_path)
    assert told.text == "*weir.jpg is not shown: it cannot be read as a picture.*"


def test_a_spoilt_picture_is_told_whatever_its_library_makes_of_it(tmp_path):
    """A byte, or a few, of a picture are wrong: it is shown, or told."""
    (tmp_path / "pictures").mkdir()
    made = Image.effect_noise((24, 16), 50).convert("RGB")
    exif = Image.Exif()
    exif[0x0112], exif[PLACE] = 6, {1: "N", 2: (1.0, 2.0, 3.0)}
    bases = []
    for name, more in (("JPEG", {}), ("PNG", {}), ("PNG", {"transparency": 3})):
        buffer = io.BytesIO()
        (made.quantize(16) if more else made).save(buffer, name, exif=exif, **more)
        bases.append((f"x.{name.lower()}", buffer.getvalue()))
    source = random.Random(3)
    for _ in range(500):
        name, data = source.choice(bases)
        spoilt = bytearray(data)
        for _ in range(source.choice([1, 1, 2, 5, 20])):
            at = source.randrange(min(len(spoilt), source.choice([60, 300, len(spoilt)])))
            spoilt[at : at + source.choice([0, 1, 1, 4, 50])] = source.randbytes(
                source.choice([0, 1, 1, 4])
            )
            spoilt = spoilt or bytearray(1)
        path = tmp_path / "pictures" / name
        path.write_bytes(spoilt)
        assert pictures(tmp_path)
        path.unlink()


def test_no_file_is_looked_into_that_the_study_did_not_read(tmp_path):
    """A name that looks like a file leads nowhere, least of all out of the study."""
    (tmp_path / "private.csv").write_text("# my own affairs\nday,sum\n", encoding="utf-8")
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "beside.csv").write_text("# nobody named this as a file\na\n", encoding="utf-8")
    for name in ("../private.csv", str(tmp_path / "private.csv"), "beside.csv"):
        (folder / "site.toml").write_text(SITE.replace("a hill", name), encoding="utf-8")
        place = {each.key: each for each in inputs(open_study(folder))}["site.place"]
        assert place.source == "as the map calls it"
        (folder / "site.toml").write_text(
            SITE.replace('"a hill"  # as the map calls it', f'"{name}"'), encoding="utf-8"
        )
        place = {each.key: each for each in inputs(open_study(folder))}["site.place"]
        assert place.source == ""
