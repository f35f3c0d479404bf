"""Today's reading on the command line: a verdict, every slip at once, and a line for the log."""

import pytest
import small_study

from hydrokit import cli
from hydrokit.columns import read_csv
from hydrokit.running.log import OPTIONAL, WANTED

READINGS = "date,jets,pressure [bar],watts [W],spilling\n"


@pytest.fixture
def study(tmp_path):
    return str(small_study.changed(tmp_path / "creek").path)


def test_a_healthy_reading_is_healthy(study, capsys):
    from hydrokit.study.opening import open_study

    row = open_study(study).card.rows[-1]
    words = [
        "reading",
        study,
        "--jets",
        str(row.jets),
        "--gauge",
        f"{row.pressure_pa / 1e5:.2f} bar",
    ]
    assert cli.main([*words, "--watts", f"{row.power_w:.0f}", "--spilling", "yes"]) == 0
    said = capsys.readouterr().out
    assert "the readings say healthy" in said and "What to do" in said and "*" not in said


def test_it_waits_for_no_more_than_it_asks(study, capsys, monkeypatch):
    """The wave in the pipe, which only the card's closing time needs, is not followed for a reading."""
    followed = []
    monkeypatch.setattr("hydrokit.works.pressures.penstock_pressures", followed.append)
    words = ["--jets", "2", "--gauge", "2 bar", "--watts", "900", "--spilling", "no"]
    assert cli.main(["reading", study, *words]) == 0
    assert "What to do" in capsys.readouterr().out and not followed


def test_little_water_is_named_with_its_cost(study, capsys):
    from hydrokit.study.opening import open_study

    row = open_study(study).card.rows[-1]
    words = ["reading", study, "--jets", str(row.jets), "--spilling", "no"]
    words += [
        "--gauge",
        f"{0.5 * row.pressure_pa / 1e5:.2f} bar",
        "--watts",
        f"{0.3 * row.power_w:.0f} W",
    ]
    assert cli.main(words) == 0
    said = capsys.readouterr().out
    assert "under-fed" in said and "it takes" in said and " W" in said


@pytest.mark.parametrize(
    "words, sentences",
    [
        (["--jets", "99", "--gauge", "3 bar"], ["'99' is not a number of open jets"]),
        (["--jets", "1", "--gauge", "3"], ["--gauge: pressure has no unit"]),
        (
            ["--jets", "9", "--gauge", "40", "--watts", "abc", "--spilling", "maybe"],
            ["--jets: '9'", "--gauge: pressure has no unit", "--watts: ", "--spilling: 'maybe'"],
        ),
        (["--jets", "1"], ["no reading is given"]),
        (
            ["--jets", "x", "--spilling", "perhaps", "--needle", "dancing"],
            [
                "'x' is not a number",
                "'perhaps' is neither yes nor no",
                "'dancing' is neither steady",
            ],
        ),
        (["--jets", "1", "--gauge", "3 bar", "--log"], ["no log is named"]),
    ],
)
def test_slips_are_told_at_once(study, capsys, words, sentences):
    assert cli.main(["reading", study, *words]) == 2
    said = capsys.readouterr().err
    assert all(each in said for each in sentences) and "Traceback" not in said


def test_the_log_gets_a_line_in_its_own_units_and_keeps_all_others(tmp_path, capsys):
    before = "# mine\ntime,jets [-],pressure [psi],watts [kW],spilling,note\n2024-01-03 10:00,1,50,1.0,yes,cold\n"
    made = small_study.changed(
        tmp_path / "creek", {"log": before}.items(), readings={"log": "log.csv"}
    )
    path = made.path / "log.csv"
    words = ["reading", str(made.path), "--jets", "1", "--gauge", "3.5 bar", "--watts", "900"]
    assert cli.main([*words, "--spilling", "yes", "--log"]) == 0
    after = path.read_text(encoding="utf-8")
    assert after.startswith(before) and after.count("\n") == before.count("\n") + 1
    assert after.splitlines()[-1].split(",")[1:] == ["1", "50.7632", "0.9", "yes", ""]
    capsys.readouterr()


def test_the_line_for_the_log_is_written_as_those_above_it(tmp_path, capsys):
    before = "time;jets [-];pressure [bar];watts [W];needle\n2024-01-03 10:00;1;3,45;950;steady\n"
    made = small_study.changed(
        tmp_path / "creek", {"log": before}.items(), readings={"log": "log.csv"}
    )
    words = ["reading", str(made.path), "--jets", "1", "--gauge", "3.5 bar", "--watts", "900"]
    assert cli.main([*words, "--needle", "fluctuates", "--log"]) == 0
    last = (made.path / "log.csv").read_text(encoding="utf-8").splitlines()[-1]
    assert last.split(";")[1:] == ["1", "3,5", "900", "fluctuates"]
    capsys.readouterr()


PLAIN = "time,jets [-],pressure [bar],watts [W],spilling,note\n"
ROWS = "{},1,3.45,950,yes,cold\n"


@pytest.mark.parametrize(
    "log, line",
    [
        ("\ufeff" + PLAIN.replace("\n", "\r\n") + ROWS.format("2024-01-03 10:00"), "{:%Y-%m-%d %H:%M},1,3.5,2300,,"),
        (PLAIN + ROWS.format("28.01.2024 10:00") + "\n\n", "{:%d.%m.%Y %H:%M},1,3.5,2300,,"),
        (PLAIN + ROWS.format("01/28/2024 2:30 PM"), "{:%m/%d/%Y %I:%M %p},1,3.5,2300,,"),
        ('"Time";"Jets";"Pressure (bar)";"Watts [W]";"note";\n"2024-01-03 10:00";1;3,45;950;"été; cold";\n', "{:%Y-%m-%d %H:%M};1;3,5;2300;;"),
        ("Serial number: 7\n# mine\n" + PLAIN + ROWS.format("28-Jan-2024 10:00:30"), "{:%d-%b-%Y %H:%M:00},1,3.5,2300,,"),
    ],
    ids=["marked, of Windows", "day first", "month first", "quoted, spare column", "month by name"],
)  # fmt: skip
@pytest.mark.parametrize("coding", ["utf-8", "utf-16-le", "cp1252"])
def test_a_log_keeps_every_byte_and_is_read_with_the_line_in_it(tmp_path, log, line, coding):
    made = small_study.changed(
        tmp_path / "creek", {"log": PLAIN + ROWS.format("2024-01-03 10:00")}.items(), readings={"log": "log.csv"}
    )  # fmt: skip
    path = made.path / "log.csv"
    raw = log.encode(coding, "ignore")
    path.write_bytes(raw)
    path.chmod(0o600)
    read = read_csv(path, WANTED, OPTIONAL, [])["time"]
    words = ["--jets", "1", "--gauge", "3.5 bar", "--watts", "2,300", "--log"]
    assert cli.main(["reading", str(made.path), *words]) == 0
    after = path.read_bytes()
    kept = raw.decode(coding).rstrip("\r\n").encode(coding)
    assert after.startswith(kept) and path.stat().st_mode & 0o777 == 0o600
    added = after[len(kept) :].decode(coding)
    end = "\r\n" if "\r\n" in log else "\n"
    assert added.startswith(end) and added.endswith(end)
    times = read_csv(path, WANTED, OPTIONAL, [])["time"]
    assert list(times[:-1]) == list(read)
    assert added.strip("\r\n") == line.format(times.iloc[-1])


def test_a_line_that_would_spoil_the_log_is_not_written(tmp_path, capsys):
    rows = ROWS.format("28.01.2024 10:00") + ROWS.format("29/01/2024 10:00")
    made = small_study.changed(
        tmp_path / "creek", {"log": PLAIN + rows}.items(), readings={"log": "log.csv"}
    )
    path = made.path / "log.csv"
    assert cli.main(["reading", str(made.path), "--jets", "1", "--gauge", "3.5 bar", "--log"]) == 2
    assert "write the reading into it by hand" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == PLAIN + rows


def test_the_next_look_says_what_to_expect_and_a_needle_that_falls_is_a_leak(study, capsys):
    from hydrokit.study.opening import open_study

    row = open_study(study).card.rows[-1]
    words = ["reading", study, "--jets", str(row.jets), "--spilling", "yes"]
    words += ["--gauge", f"{0.8 * row.pressure_pa / 1e5:.2f} bar"]
    assert cli.main(words) == 0
    said = capsys.readouterr().out
    assert "Expect" in said and "if it is this" in said
    assert cli.main(["reading", study, "--jets", "0", "--needle", "falls"]) == 0
    assert "leak" in capsys.readouterr().out
    assert cli.main(["reading", study, "--jets", "1", "--needle", "falls"]) == 2
    assert "--jets 0" in capsys.readouterr().err


def test_thousands_of_watts_may_be_parted(study, capsys):
    said = []
    for watts in ("2,300", "2300", "2.3 kW"):
        assert cli.main(["reading", study, "--jets", "1", "--watts", watts]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1] == said[2]
