"""Sections as they are read: typed, frozen, with defaults from the schema, and what was given still known."""

import datetime
import keyword
import pickle
import types
import typing
from collections.abc import Mapping

import pytest

from hydrokit.site.schema import LISTS, PART_TYPES, SECTIONS, TYPES, Site
from hydrokit.site.schema_use import Cable
from hydrokit.site.schema_way import Penstock, Pipe, Stretch
from hydrokit.site.site_file import read_site_file
from hydrokit.site.values import Measured

CLASSES = [*dict.fromkeys([*TYPES.values(), *PART_TYPES.values()])]


def test_a_default_holds_until_something_is_given():
    cable = Cable(length=60.0)
    assert cable.material == "copper" and not cable.given("material")
    assert cable.length == 60.0 and cable.given("length")
    assert cable.size is None and not cable.given("size")
    # Given as the default is given all the same.
    assert cable.changed(material="copper").given("material")
    assert not cable.changed(length=None).given("length")


def test_as_a_mapping_it_holds_what_was_given():
    cable = Cable(length=60.0)
    assert dict(cable) == cable == {"length": 60.0} and "material" not in cable
    assert cable.get("material") is None and not Cable() and len(cable) == 1
    with pytest.raises(KeyError):
        cable["material"]


def test_keys_that_python_has_for_itself_have_a_line_under_them():
    stretch = Stretch(**{"from": 3.0, "to": 9.0})
    assert stretch.from_ == stretch["from"] == 3.0 and stretch.given("from")
    assert list(stretch) == ["from", "to"]


def test_lists_stand_in_their_section():
    site = Site(penstock=Penstock(entry=1.0, pipe=(Pipe(size="x"),)))
    assert site.penstock.pipe[0].size == "x" and site["penstock.pipe"] is site.penstock.pipe
    assert dict(site.penstock) == {"entry": 1.0} and site.diversion.stretch == ()
    assert site.changed(cable=Cable(size="y")).penstock is site.penstock


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Cable(sise="x"),
        lambda: Cable().given("sise"),
        lambda: Cable().changed(sise="x"),
        lambda: setattr(Cable(), "size", "x"),
        lambda: delattr(Cable(size="x"), "size"),
        lambda: hash(Cable()),
        lambda: Cable().sise,
    ],
)
def test_what_is_no_key_is_refused_and_nothing_is_changed_in_place(wrong):
    with pytest.raises((TypeError, KeyError, AttributeError)):
        wrong()


def test_a_site_can_be_sent_to_another_process(tmp_path):
    (tmp_path / "site.toml").write_text(
        '[site]\nname = "x"\n[[part]]\nkind = "line"\n[[stream.reach]]\nname = "d"\nabove = "2 L/s"\nbelow = "1 L/s"\n',
        encoding="utf-8",
    )
    site = read_site_file(tmp_path / "site.toml")
    assert pickle.loads(pickle.dumps(site)) == site and site.part[0].kind == "line"


def allowed(value, kind):
    """Whether a value is of a type as it is declared."""
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        return any(allowed(value, each) for each in typing.get_args(kind))
    if origin is typing.Literal:
        return value in typing.get_args(kind)
    if origin is tuple:
        return isinstance(value, tuple) and all(
            allowed(each, typing.get_args(kind)[0]) for each in value
        )
    return isinstance(value, (int, float) if kind is float else kind)


BY_KIND = {
    "text": str, "texts": tuple[str, ...], "word": str, "file": str, "yes/no": bool, "months": tuple[int, ...], "date": datetime.date, "time": datetime.date, "measured": Measured,
    "number": float, "numbers": tuple[float, ...], "by month": tuple[float, ...], "each": tuple[float, ...],
}  # fmt: skip
WHOLE = {"number": int, "numbers": tuple[int, ...], "by month": tuple[int, ...]}


@pytest.mark.parametrize("kind", CLASSES, ids=lambda each: each.__name__)
def test_the_type_of_a_key_is_that_of_its_kind(kind):
    """A checker believes the annotation: it must agree with what the reader gives and with what is left out."""
    declared = {
        name: annotation
        for each in reversed(kind.__mro__)
        for name, annotation in getattr(each, "__annotations__", {}).items()
    }
    for name, key in kind.schema.items():
        annotation = declared[next(each for each in declared if each.rstrip("_") == name)]
        may_lack = type(None) in typing.get_args(annotation)
        in_a_list = kind not in [TYPES[each] for each in SECTIONS]
        always = key.default or (key.required and (in_a_list or name == "name"))
        assert may_lack == (not always), f"{kind.__name__}.{name}: None or not"
        if key.kind == "choice":
            assert len(key.choices) >= 1
        else:
            plain = annotation
            if may_lack:
                (plain,) = [each for each in typing.get_args(annotation) if each is not type(None)]
            assert plain == (WHOLE if key.whole else BY_KIND)[key.kind], f"{kind.__name__}.{name}"
        if key.default:
            section = kind()
            assert allowed(getattr(section, _attribute(name)), annotation), f"{name}: default"


def _attribute(name):
    return f"{name}_" if keyword.iskeyword(name) or name == "float" else name


def test_no_key_hides_what_a_section_can_do():
    taken = set(dir(Mapping)) | {"schema", "lists", "page", "given", "changed"}
    for keys in (*SECTIONS.values(), *LISTS.values()):
        assert not taken & keys.keys()
