"""Keys changed in a cell: as if the site file said so, with its checks, told on the pages, saved as a study."""

import pytest
import small_study

import hydrokit as hk
from hydrokit.errors import InputError
from hydrokit.report.pages import common
from hydrokit.report.side_by_side import side_by_side
from hydrokit.study.opening import open_study
from hydrokit.study.variant import told


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return small_study.changed(
        tmp_path_factory.mktemp("variant") / "base", costs={"value": "0.2 per kWh", "fixed": 9000}
    )


@pytest.mark.slow
def test_a_change_is_as_if_the_site_file_said_so(base, tmp_path):
    there = small_study.changed(tmp_path / "there", costs={"value": "0.3 per kWh", "fixed": 9000})
    asked = hk.open_study(base.path, changes={"costs.value": "0.3 per kWh"})
    assert asked.results() == there.results() != base.results()
    assert open_study(base.path).results() == base.results()


def test_changes_add_up_and_a_key_can_be_taken_out(base):
    twice = base.changed({"costs.value": "0.3 per kWh"}).changed({"costs.fixed": 12000})
    assert twice.variant == {"costs.value": "0.3 per kWh", "costs.fixed": 12000}
    without = base.changed({"costs.fixed": None})
    assert without.answer("money.capital").value < base.answer("money.capital").value


def test_pages_say_what_was_changed(base):
    variant = base.changed({"costs.value": "0.3 per kWh"})
    assert "costs.value = 0.3 per kWh" in repr(common.understood(variant, variant.view()))
    assert "variant" not in repr(common.understood(base, base.view()))
    rules = [{"rule": "fixed", "flow": "5 L/s"}, {"rule": "fixed", "flow": "8 L/s", "months": [10]}]
    assert told({"rights.residual": rules, "costs.value": None}) == (
        "rights.residual = rule fixed, flow 5 L/s and rule fixed, flow 8 L/s, months 10; costs.value left out"
    )


@pytest.mark.parametrize(
    "changes, sentence",
    [
        ({"costs.valu": "0.3 per kWh"}, "did you mean 'value'"),
        ({"cost.value": "0.3 per kWh"}, "did you mean 'costs'"),
        ({"penstock.pipe.7.size": "x"}, r"say which by its number"),
        ({"costs.value": "0.3 m"}, "costs"),
        ({"value": 3}, "write section and key"),
        (
            {"rights.residual": "15 L/s"},
            r"is a list; name one entry's key, such as rights.residual.1.rule, or write all its entries, .*'rule': 'fixed'",
        ),
    ],
)
def test_slips_are_told_as_those_of_the_file(base, changes, sentence):
    with pytest.raises(InputError, match=sentence):
        base.changed(changes)


def test_two_slips_are_told_at_once(base):
    with pytest.raises(InputError) as refused:
        base.changed({"cost.value": 1, "penstok.size": 2})
    assert len(refused.value.mistakes) == 2


def test_side_by_side_in_three_lines(base):
    s = base
    dearer = s.changed({"costs.value": "0.3 per kWh"})
    table = side_by_side(s, dearer)
    npv = next(row for row in table.rows if row[0] == "net present value")
    assert npv[1] != npv[2] and "costs.value = 0.3 per kWh" in table.columns


@pytest.mark.slow
def test_a_variant_is_saved_with_its_comments_and_files(base, tmp_path):
    text = (base.path / "site.toml").read_text(encoding="utf-8")
    (base.path / "site.toml").write_text("# mine\n" + text, encoding="utf-8")
    variant = open_study(base.path).changed({"costs.value": "0.3 per kWh"})
    made = hk.save_variant(variant, base.path.parent / "dearer")
    assert (made / "site.toml").read_text(encoding="utf-8").startswith("# mine\n")
    assert open_study(made).results() == variant.results()
    with pytest.raises(InputError, match="is there already"):
        hk.save_variant(variant, made)


def test_a_variant_that_cannot_be_written_leaves_nothing(base, monkeypatch):
    before = {each.name for each in base.path.parent.iterdir()}

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("hydrokit.study.variant.write_whole", full)
    with pytest.raises(InputError, match="cannot be written .No space left"):
        hk.save_variant(base.changed({"costs.value": "0.3 per kWh"}), base.path.parent / "full")
    assert {each.name for each in base.path.parent.iterdir()} == before
