"""The pages in a real browser: no errors, nothing cut off, tables reached by keyboard.

Chromium through its driver; skipped only where neither is installed (the gate installs them).
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from scaleup import Analysis
from scaleup.answers.functions import learn, plan_trial, translate
from scaleup.io.study import read_study
from scaleup.io.trial_sheet import read_trial_sheet
from scaleup.show.pictures import PICTURES, subject_of
from scaleup.show.printing import browser, printed
from scaleup.show.report import ReportParts, report_page
from scaleup.show.trial_plan import plan_page, plan_xlsx

EXAMPLES = Path(__file__).parents[2] / "examples"
DRIVER = shutil.which("chromedriver")
needs_browser = pytest.mark.skipif(
    DRIVER is None or browser() is None, reason="no chromium with its driver is installed"
)
needs_office = pytest.mark.skipif(
    shutil.which("soffice") is None, reason="no LibreOffice is installed"
)
WIDTHS = {"phone": 390, "laptop": 1280, "print": 794}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return the trial plan and the report of an example, written once."""
    folder = tmp_path_factory.mktemp("pages")
    study = read_study(EXAMPLES / "marram")
    rows = read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv", "trial-sheet.csv")
    learned = learn(study, rows, draws=300)
    subject = subject_of(Analysis(learned.study, draws=300, seed=1), cells=(12, 10))
    assert subject is not None
    answer = translate(learned.study, draws=300)
    report = report_page(ReportParts(answer, subject.window, subject, learned))
    texts = {"plan": plan_page(plan_trial(study, draws=300)), "report": report}
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in texts}


@pytest.fixture(scope="module")
def driver() -> Iterator[webdriver.Chrome]:
    options = Options()
    options.binary_location = browser() or ""
    for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    running = webdriver.Chrome(options, Service(DRIVER))
    yield running
    running.quit()


@needs_browser
@pytest.mark.parametrize("name", ["plan", "report"])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_page_is_whole_at_every_width(
    driver: webdriver.Chrome, pages: dict[str, Path], name: str, width: str
) -> None:
    driver.set_window_size(WIDTHS[width], 1000)
    driver.get(pages[name].as_uri())
    assert driver.get_log("browser") == []  # type: ignore[no-untyped-call]
    wide = driver.execute_script(
        "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert wide <= 0, f"the page is {wide} px wider than the window"
    for box in driver.find_elements(By.CSS_SELECTOR, ".scroll"):
        room = driver.execute_script(
            "const s = getComputedStyle(arguments[0]).overflowX;"
            "return s !== 'hidden' && arguments[0].clientWidth > 100",
            box,
        )
        assert room


@needs_browser
@pytest.mark.parametrize("width", WIDTHS)
def test_pictures_are_whole_and_named(
    driver: webdriver.Chrome, pages: dict[str, Path], width: str
) -> None:
    driver.set_window_size(WIDTHS[width], 1000)
    driver.get(pages["report"].as_uri())
    pictures = driver.find_elements(By.CSS_SELECTOR, "figure svg")
    assert len(pictures) == len(PICTURES)
    for each in pictures:
        assert each.get_attribute("role") == "img"
        assert len(each.get_attribute("aria-label") or "") > 40
        inside = driver.execute_script(
            "const box = arguments[0].getBoundingClientRect();"
            "const parts = [...arguments[0].querySelectorAll('g[id^=text]')]"
            ".map(part => part.getBoundingClientRect()).filter(part => part.width > 0);"
            "return [box.right <= document.documentElement.clientWidth, box.width > 250,"
            " parts.length > 8, parts.every(part => part.left >= box.left - 1 &&"
            " part.right <= box.right + 1 && part.top >= box.top - 1 &&"
            " part.bottom <= box.bottom + 1)]",
            each,
        )
        assert inside == [True] * 4


@needs_browser
def test_every_table_is_reached_by_keyboard(
    driver: webdriver.Chrome, pages: dict[str, Path]
) -> None:
    driver.get(pages["report"].as_uri())
    tables = len(driver.find_elements(By.TAG_NAME, "table"))
    reached = set()
    for _ in range(tables + 2):
        driver.switch_to.active_element.send_keys(Keys.TAB)
        reached.add(driver.switch_to.active_element.get_attribute("aria-label"))
    reached.discard(None)
    assert tables > 3
    assert len(reached) == tables


@needs_browser
@pytest.mark.parametrize("name", ["plan", "report"])
def test_a_page_prints(pages: dict[str, Path], name: str) -> None:
    data = printed(pages[name].read_text(encoding="utf-8"))
    assert data.startswith(b"%PDF")
    assert len(data) > 20_000


@needs_office
def test_the_workbook_opens_in_an_office_program(tmp_path: Path) -> None:
    """Converted to CSV by LibreOffice and read back: the same plan, cell by cell."""
    plan = plan_trial(read_study(EXAMPLES / "marram"), draws=300)
    (tmp_path / "sheet.xlsx").write_bytes(plan_xlsx(plan))
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{tmp_path}/profile",
         "--convert-to", "csv", "--outdir", str(tmp_path), str(tmp_path / "sheet.xlsx")],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    rows = read_trial_sheet(tmp_path / "sheet.csv", "sheet.csv")
    assert [row.text("run") for row in rows] == [run.name for run in plan.runs]
    for row, run in zip(rows, plan.runs, strict=True):
        assert row.number("planned force") == pytest.approx(run.rung.force, rel=1e-4)
        assert row.number("planned speed") == pytest.approx(run.rung.speed, rel=1e-4)
        assert row.number("weight") is None
