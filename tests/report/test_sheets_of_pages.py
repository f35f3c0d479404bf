"""Pages 03 and 09, printed: the main part takes six sheets at the most, on either paper, with no heading left behind."""

import shutil

import pytest
import short_demos

from hydrokit.runner.run import run_study

MOST = 6


@pytest.mark.deep
@pytest.mark.parametrize("name", short_demos.NAMES)
def test_a_page_keeps_to_six_sheets(name, tmp_path):
    sync = pytest.importorskip("playwright.sync_api")
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        pytest.skip("no browser on this machine")
    folder = tmp_path / "studies" / name
    shutil.copytree(short_demos.ROOT / "studies" / name, folder)
    shutil.copytree(short_demos.ROOT / "data", tmp_path / "data")
    reports = run_study(folder, ["03", "09"]).reports
    with sync.sync_playwright() as run:
        with run.chromium.launch(executable_path=browser, args=["--no-sandbox"]) as opened:
            page = opened.new_page()
            for each in ("03_water_way", "09_running_it"):
                page.goto((reports / f"{each}.html").as_uri())
                for paper in ("A4", "Letter"):
                    sheets = page.pdf(format=paper).count(b"/Type /Page\n")
                    assert 1 < sheets <= MOST, (each, paper, sheets)
