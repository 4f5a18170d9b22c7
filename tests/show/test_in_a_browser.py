"""The pages in a real browser: no errors, nothing cut off, tables reached by keyboard.

Chromium through its driver; skipped only where neither is installed (the gate installs them).
"""

from __future__ import annotations

import base64
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.common.print_page_options import PrintOptions

from scaleup import Analysis
from scaleup.answers.functions import learn, plan_trial, translate
from scaleup.answers.trial.options import TrialOptions
from scaleup.answers.trial.plan import TrialPlan
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.reading import read_trial_sheet
from scaleup.show.pictures import PICTURES, subject_of
from scaleup.show.printing import browser, printed
from scaleup.show.report import ReportParts, report_page
from scaleup.show.trial_page_style import HEIGHT, WIDTH
from scaleup.show.trial_pages import plan_page
from scaleup.show.trial_plan import plan_xlsx

EXAMPLES = Path(__file__).parents[2] / "examples"
DRIVER = shutil.which("chromedriver")
needs_browser = pytest.mark.skipif(
    DRIVER is None or browser() is None, reason="no chromium with its driver is installed"
)
needs_office = pytest.mark.skipif(
    shutil.which("soffice") is None, reason="no LibreOffice is installed"
)
EVERY_SHEET = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
"""A CSV of each sheet: what LibreOffice calls the filter, and its options."""
WIDTHS = {"phone": 390, "laptop": 1280, "print": 794}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return the report of an example, written once."""
    folder = tmp_path_factory.mktemp("pages")
    study = read_study(EXAMPLES / "marram")
    sheet = read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv")
    learned = learn(study, sheet, draws=300)
    subject = subject_of(Analysis(learned.study, draws=300, seed=1), cells=(12, 10))
    assert subject is not None
    answer = translate(learned.study, draws=300)
    report = report_page(ReportParts(answer, subject.window, subject, learned))
    (folder / "report.html").write_text(report, encoding="utf-8")
    return {"report": folder / "report.html"}


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
@pytest.mark.parametrize("width", WIDTHS)
def test_a_page_is_whole_at_every_width(
    driver: webdriver.Chrome, pages: dict[str, Path], width: str
) -> None:
    driver.set_window_size(WIDTHS[width], 1000)
    driver.get(pages["report"].as_uri())
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
def test_a_page_prints(pages: dict[str, Path]) -> None:
    data = printed(pages["report"].read_text(encoding="utf-8"))
    assert data.startswith(b"%PDF")
    assert len(data) > 20_000


SHEET = ".sheet"
PIXELS = 96.0 / 25.4
"""In a millimetre."""
TOO_WIDE = """
return [...document.querySelectorAll('th, td, dt, dd, p, li, h1, h2, footer, .sheet')]
  .filter(each => each.scrollWidth > each.clientWidth + 1 && each.clientWidth > 0)
  .map(each => each.tagName + ': ' + each.textContent.trim().slice(0, 60))
"""
LETTERS = """
return Math.min(...[...document.querySelectorAll('.sheet *')]
  .filter(each => [...each.childNodes].some(part => part.nodeType === 3 && part.data.trim()))
  .map(each => parseFloat(getComputedStyle(each).fontSize)))
"""


def _printed_pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.fixture(scope="module", params=["marram", "dunlin", "teasel", "crowded", "withheld"])
def trial(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the pages of a trial; the crowded one has as much on every sheet as there can be."""
    name = {"crowded": "marram", "withheld": "sedge"}.get(request.param, request.param)
    study = read_study(EXAMPLES / name)
    options = TrialOptions(date="2026-03-14", command=f"scaleup trial plan {name}")
    if request.param == "crowded":
        study = replace(study, name="Marram " + "W" * 20 + " of a long name" * 6)
        options = replace(options, tablets=60, command="scaleup trial plan " + "w" * 200)
    plan = plan_trial(study, draws=200, options=options)
    if request.param == "crowded":
        plan = _with_every_purpose(plan)
    path = tmp_path_factory.mktemp("trial") / "plan.html"
    path.write_text(plan_page(plan), encoding="utf-8")
    return path


def _with_every_purpose(plan: TrialPlan) -> TrialPlan:
    """Return a plan of 24 runs with a climb, whose gate is told, and much against it."""
    gate = "The force climbs by at most 10 % a run to what no run has tested. " * 3
    climbs = [replace(plan.runs[0], rung=replace(plan.runs[0].rung, purpose="climb"))]
    runs = [replace(run, name=f"T{100 + place}")
            for place, run in enumerate([*climbs, *plan.runs * 3][:24])]  # fmt: skip
    return replace(
        plan, runs=tuple(runs), instructions=(gate, *plan.instructions),
        against=("A limit is not kept. " * 8,) * 6, notes=plan.notes * 12,
    )  # fmt: skip


@needs_browser
def test_every_sheet_of_a_trial_is_one_page(trial: Path) -> None:
    text = trial.read_text(encoding="utf-8")
    sheets = text.count('<section class="sheet">')
    assert text.count("<footer>") == sheets
    assert _printed_pages(printed(text)) == sheets


@needs_browser
def test_the_pages_of_a_trial_fit_on_letter_paper_too(
    driver: webdriver.Chrome, trial: Path
) -> None:
    driver.get(trial.as_uri())
    sheets = len(driver.find_elements(By.CSS_SELECTOR, SHEET))
    options = PrintOptions()
    options.page_width, options.page_height = 21.59, 27.94  # cm
    assert _printed_pages(base64.b64decode(driver.print_page(options))) == sheets


@needs_browser
def test_nothing_is_cut_on_a4(driver: webdriver.Chrome, trial: Path) -> None:
    """As printed: every sheet as high as its page, no cell wider than its column, 8 points up."""
    driver.set_window_size(1000, 1200)
    driver.get(trial.as_uri())
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        for sheet in driver.find_elements(By.CSS_SELECTOR, SHEET):
            assert sheet.rect["height"] <= HEIGHT * PIXELS + 1, sheet.text[:40]
            assert sheet.rect["width"] == pytest.approx(WIDTH * PIXELS, abs=1)
            foot = sheet.find_element(By.TAG_NAME, "footer").rect
            assert foot["y"] + foot["height"] <= sheet.rect["y"] + sheet.rect["height"] + 1
        assert driver.execute_script(TOO_WIDE) == []
        assert driver.execute_script(LETTERS) >= 8.0 * 96.0 / 72.0 - 0.1
    finally:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


@needs_browser
def test_on_a_phone_only_tables_scroll(driver: webdriver.Chrome, trial: Path) -> None:
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": False},
    )
    try:
        driver.get(trial.as_uri())
        assert driver.get_log("browser") == []  # type: ignore[no-untyped-call]
        wide = driver.execute_script(
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0
        assert driver.execute_script(TOO_WIDE) == []
    finally:
        driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


@needs_office
def test_the_workbook_opens_in_an_office_program(tmp_path: Path) -> None:
    """Converted to CSV by LibreOffice and read back: the same plan, cell by cell."""
    plan = plan_trial(read_study(EXAMPLES / "marram"), draws=300)
    (tmp_path / "sheet.xlsx").write_bytes(plan_xlsx(plan))
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{tmp_path}/profile",
         "--convert-to", EVERY_SHEET, "--outdir", str(tmp_path), str(tmp_path / "sheet.xlsx")],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    rows = read_trial_sheet(tmp_path / "sheet-runs.csv", "sheet.csv").rows
    assert [row.text("run") for row in rows] == [run.name for run in plan.runs]
    for row, run in zip(rows, plan.runs, strict=True):
        assert row.number("planned force") == pytest.approx(run.rung.force, rel=1e-4)
        assert row.number("planned speed") == pytest.approx(run.rung.speed, rel=1e-4)
        assert row.number("weight") is None
