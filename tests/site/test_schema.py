"""The site file: every mistake at once, each a sentence."""

import pytest

from hydrokit.errors import InputError
from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS
from hydrokit.site.site_file import read_site_file
from hydrokit.site.values import Measured


@pytest.fixture
def site(tmp_path):
    def read(text):
        path = tmp_path / "site.toml"
        path.write_text(text, encoding="utf-8")
        return read_site_file(path)

    return read


def test_reads_units_plus_minus_months_and_money(site):
    read = site("""
[site]
name = "x"
winter = [12, 1]
[penstock]
head = "46.2 m ± 0.3 m"
static_pressure = "71 ± 1 psi"
length = "640 ft +/- 3 %"
[turbine]
kind = "pelton"
jet_coefficient = "0.95 ± 0.02"
efficiency = "78 % ± 3 %"
[costs]
fixed = 900
per_power = "1400 per kW"
laying = "18 per ft"
[loads]
demand = { january = "900 kWh" }
""")
    penstock = read["penstock"]
    assert penstock["head"] == Measured(46.2, 0.3)
    assert penstock["static_pressure"].value == pytest.approx(71 * 6894.757, rel=1e-6)
    assert penstock["static_pressure"].sd == pytest.approx(6894.757, rel=1e-6)
    assert penstock["length"].relative == pytest.approx(0.03)
    assert read["turbine"]["jet_coefficient"] == Measured(0.95, 0.02)
    assert read["turbine"]["efficiency"].sd == pytest.approx(0.03)
    assert read["costs"]["per_power"] == pytest.approx(1.4) and read["costs"][
        "laying"
    ] == pytest.approx(18 / 0.3048)
    assert (
        read["loads"]["demand"][0] == pytest.approx(900 * 3.6e6) and read["loads"]["demand"][1] == 0
    )
    assert read["site"]["winter"] == (12, 1) and read["rights"] == {}


HEAD = '[site]\nname = "x"\n'


@pytest.mark.parametrize(
    "text, says",
    [
        ("[sit]\n", r"there is no such section; did you mean 'site'"), ("", "the file is empty"), ("[turbine]\n", r"\[site\]: is missing"),
        ("[site]\n", r"has no 'name'"), (HEAD + "[penstock]\nhed = '3 m'\n", "no key 'hed'; did you mean 'head'"),
        (HEAD + "[penstock]\nhead = 5\n", r"\[penstock\] head has no unit"), (HEAD + "[penstock]\nhead = '5 psi'\n", "needs something like"),
        (HEAD + "[penstock]\nhead = '5,2 m'\n", "write \"5.2 m\""), (HEAD + "[turbine]\nkind = 'peltn'\n", "did you mean 'pelton'"),
        (HEAD + "[turbine]\nkind = 'pelton'\njets = true\n", "truth value"), (HEAD + "[generator]\nefficiency = '120 %'\n", "more than the whole"),
        (HEAD + "[penstock]\nlength = '-3 m ± 1 m'\n[[penstock.pipe]]\nlength='nan m'\n", "is not a number"),
        (HEAD + "[[part]]\nkind = 'scren'\n", "did you mean 'screen'"), (HEAD + "[[part]]\nkind = 'screen'\n", "has no 'area'"),
        (HEAD + "[part]\nkind = 'screen'\n", r"\[\[part\]\] with two brackets"), (HEAD + "[[upgrade]]\nname = 'x'\ncost = -3\n", "negative"),
        (HEAD + "[site.winter]\n", "must be a list of months"), (HEAD + "winter = [13]\n", "list of months"), (HEAD + "altitude = ['1 m']\n", "must be one value"),
        (HEAD + "[loads]\ndemand = ['1 kWh']\n", "one value or twelve"), (HEAD + "[loads]\ndemand = { jan = '1 kWh' }\n", "january"),
        ("penstock = 3\n" + HEAD, "is a section"), (HEAD + "[rights]\nresidual = 4\n", "two brackets"), (HEAD + "[stream]\nrecord = ' '\n", "text in quotes"),
        (HEAD + "[penstock]\nhead = '5 m ± -1 m'\n", "standard deviation"), (HEAD + "[costs]\nper_power = '3 per m'\n", "per_power"),
    ],
)  # fmt: skip
def test_each_slip_is_a_sentence(site, text, says):
    with pytest.raises(InputError, match=says) as bad:
        site(text)
    assert "site.toml" in str(bad.value) and "Traceback" not in str(bad.value)


def test_all_mistakes_at_once(site):
    with pytest.raises(InputError) as bad:
        site("[sit]\nname='x'\n[penstock]\nhed='3 m'\nhead=5\n[turbine]\njets=true\n")
    assert len(bad.value.mistakes) == 6


def test_every_key_is_explained():
    for keys in [*SECTIONS.values(), *LISTS.values(), *PART_KINDS.values()]:
        for key in keys.values():
            assert key.meaning


def test_every_example_is_valid(site):
    """What the error sentences tell people to type must itself be right."""
    for name, keys in SECTIONS.items():
        if name == "loads" or not keys:
            continue
        body = "\n".join(f"{key} = {about.example}" for key, about in keys.items() if about.example)
        site((HEAD if name != "site" else "") + f"[{name}]\n{body}\n")
    for name, keys in LISTS.items():
        body = "\n".join(
            f"{key} = {about.example}"
            for key, about in keys.items()
            if about.example and name != "part"
        )
        if name != "part":
            site(HEAD + f"[[{name}]]\n{body}\n")
    for kind, keys in PART_KINDS.items():
        body = "\n".join(f"{key} = {about.example}" for key, about in keys.items() if about.example)
        site(HEAD + f'[[part]]\nkind = "{kind}"\n{body}\n')
