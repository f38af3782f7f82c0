"""Hearing two designs: what the page works out and says, and switching in a real browser, sample by sample."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect
from streamlit.testing.v1 import AppTest

import explorer
from engine.hearing.wav import written
from explorer.markdown import plain
from explorer.session import pick, shortlist
from tests.explorer.browsing import launched
from tests.explorer.pages import PATIENCE, job_of, sound, words_on

SCRIPT = Path(explorer.__file__).with_name("hearing.js").read_text(encoding="utf-8")
RATE = 12_000
# The component with a context whose time stands still while the test acts, and that gives every sample that it plays.
STAGE = """async ([script, sounds]) => {
  window.AudioContext = class extends OfflineAudioContext {
    constructor() { super(1, 3 * 48000, 48000); window.context = this; }
    resume() { return Promise.resolve(); }
    close() {}
  };
  document.body.innerHTML = '<div id="stage"><div class="hearing"></div></div>';
  const url = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  const { default: hear } = await import(url);
  window.say = (digest) => hear({
    data: { names: ["A", "C"], described: ["A, vented box", "C, closed box"], sounds, digest },
    parentElement: document.getElementById("stage"),
  });
  window.end = window.say("first");
}"""
RENDER = """async (acts) => {
  const go = () => OfflineAudioContext.prototype.resume.call(context);
  for (const [seconds, act] of acts) context.suspend(seconds).then(() => (new Function(act)(), go()));
  const found = await context.startRendering();
  return Array.from(found.getChannelData(0));
}"""


@pytest.fixture
def page(program: Callable[[str], str]) -> Iterator[Page]:
    with launched(program("chromium")) as browser:
        page = browser.new_page()
        page.set_default_timeout(300_000)
        page.goto("about:blank")
        yield page


def tones() -> tuple[np.ndarray, np.ndarray]:
    """Two renderings of one sound as designs make them: the same tone, of other level and phase."""
    time = np.arange(2 * RATE) / RATE
    return 0.5 * np.sin(2.0 * np.pi * 50.0 * time), 0.3 * np.sin(2.0 * np.pi * 50.0 * time + 0.6)


@pytest.fixture
def stage(page: Page) -> Page:
    sounds = [base64.b64encode(written(each, rate=RATE)).decode() for each in tones()]
    page.evaluate(STAGE, [SCRIPT, sounds])
    return page


def press_play(page: Page, level: int = 0) -> None:
    page.get_by_role("slider").fill(str(level))
    page.get_by_role("button", name="Play").click()
    expect(page.get_by_role("button", name="Stop")).to_be_visible()


def test_nothing_plays_by_itself_and_it_starts_low(stage: Page) -> None:
    """Promise to the user: no sound and no context before Play; 36 dB under full level then."""
    assert stage.evaluate("window.context === undefined")
    expect(stage.get_by_role("slider")).to_have_value("-36")
    expect(stage.get_by_role("status")).to_have_text("A is heard first. The keys A or C switch while it plays.")
    assert stage.get_by_role("radio", name="Hear C, closed box").get_attribute("aria-checked") == "false"


def test_a_switch_leaves_no_gap_and_no_click(stage: Page) -> None:
    """Promise to the user: before it the one, after it the other where that would be by now, between them a fade."""
    press_play(stage)
    heard = np.array(stage.evaluate(RENDER, [[1.0, "document.querySelectorAll('[role=radio]')[1].click()"]]))
    begin = 0.05
    time = np.arange(len(heard)) / 48_000 - begin
    one, two = (np.interp(time, np.arange(len(tone)) / RATE, tone) for tone in tones())
    places = {"before": (0.2, 0.9), "after": (1.05, 1.9)}
    for name, right in (("before", one), ("after", two)):
        start, stop = (int((seconds + begin) * 48_000) for seconds in places[name])
        assert np.max(np.abs(heard[start:stop] - right[start:stop])) < 3e-3
    window = slice(int(0.9 * 48_000), int(1.2 * 48_000))
    fade = np.clip((np.arange(len(heard)) / 48_000 - 1.0) / 0.04, 0.0, 1.0)
    assert np.max(np.abs(heard - ((1.0 - fade) * one + fade * two))[window]) < 4e-3
    # No step: neighbouring samples are no further apart than those of a 50 Hz tone and a fade.
    assert np.max(np.abs(np.diff(heard[window]))) < 1.1 * 2.0 * np.pi * 50.0 * 0.5 / 48_000 + 0.8 / (0.04 * 48_000)
    strength = np.sqrt(np.convolve(np.square(heard[window]), np.ones(960) / 960.0, "valid"))
    assert np.min(strength) > 0.9 * 0.3 / np.sqrt(2.0)


def test_it_goes_round_without_a_step_and_stops_softly(stage: Page) -> None:
    """Promise to the user: Stop fades, and after it there is silence."""
    press_play(stage)
    heard = np.array(stage.evaluate(RENDER, [[1.0, "document.querySelector('[data-do]').click()"]]))
    assert np.max(np.abs(heard[int(1.1 * 48_000) :])) == 0.0
    assert np.max(np.abs(np.diff(heard))) < 0.5 / (0.04 * 48_000) + 1.2 * 2.0 * np.pi * 50.0 * 0.5 / 48_000
    expect(stage.get_by_role("button", name="Play")).to_be_visible()


def test_the_level_is_that_of_the_slider(stage: Page) -> None:
    """Contract: 20 dB down is a tenth."""
    press_play(stage, level=-20)
    heard = np.array(stage.evaluate(RENDER, []))
    assert np.max(np.abs(heard[48_000:90_000])) == pytest.approx(0.05, rel=0.02)


def test_the_keyboard_does_all_of_it(stage: Page) -> None:
    """Promise to the user: Tab, Space, arrows and letters; what is heard is told in words."""
    stage.get_by_role("button", name="Play").focus()
    stage.keyboard.press("Space")
    expect(stage.get_by_role("status")).to_have_text("You hear A.")
    stage.keyboard.press("c")
    expect(stage.get_by_role("status")).to_have_text("You hear C.")
    stage.keyboard.press("Tab")
    expect(stage.get_by_role("radio", name="Hear C, closed box")).to_be_focused()
    stage.keyboard.press("ArrowRight")
    expect(stage.get_by_role("status")).to_have_text("You hear A.")
    expect(stage.get_by_role("radio", name="Hear A, vented box")).to_be_focused()
    stage.keyboard.press("Tab")
    expect(stage.get_by_role("slider")).to_be_focused()
    stage.keyboard.press("ArrowRight")
    assert stage.get_by_role("slider").get_attribute("aria-valuetext") == "−35 dB"


def test_other_sounds_end_what_plays_and_the_same_do_not(stage: Page) -> None:
    """Promise to the user: a rerun of the page goes on playing, a changed choice stops; nothing starts by itself."""
    press_play(stage)
    stage.evaluate("void window.say('first')")
    expect(stage.get_by_role("button", name="Stop")).to_be_visible()
    stage.evaluate("void window.say('second')")
    expect(stage.get_by_role("button", name="Play")).to_be_visible()


def listening(opened_searched: Callable[[], AppTest], designs: int = 2) -> AppTest:
    test = opened_searched()
    front = job_of(test).found.front
    for place in np.linspace(0, len(front) - 1, designs).astype(int):
        pick(job_of(test), front.iloc[place]["id"])
        shortlist(job_of(test), front.iloc[place]["id"])
    return test.switch_page("views/shortlist.py").run(timeout=PATIENCE)


def box(test: AppTest, name: str) -> Any:
    return test.selectbox(key=f"hear-{name}:{job_of(test).id}")


def test_two_picks_are_heard_and_what_they_do_is_told(opened_searched: Callable[[], AppTest]) -> None:
    """Promise to the user: nothing is worked out before it is asked for; then figures, limits, caution and label."""
    test = listening(opened_searched)
    sound(test)
    assert "Turn your headphones down before you start" in words_on(test)
    assert "An indication for headphones" not in words_on(test)
    test.button(key=f"hear:{job_of(test).id}:make").click().run(timeout=PATIENCE)
    sound(test)
    assert re.search(r"Equally loud by mean level: [AB] is turned down by \d+\.\d dB|equally loud", words_on(test))
    assert "An indication for headphones" in words_on(test)
    box(test, "level").set_value(False).run(timeout=PATIENCE)
    assert re.search(r"\*\*[AB] is \d+\.\d dB louder than [AB] in this sound\.\*\*", words_on(test))
    box(test, "drive").set_value(10).run(timeout=PATIENCE)
    sound(test)
    assert re.search(r"clips|passes", words_on(test))


def test_one_pick_has_nothing_to_be_heard_against(opened_searched: Callable[[], AppTest]) -> None:
    """Promise to the user: the page says what is missing."""
    test = listening(opened_searched, designs=1)
    assert "Add a second design to hear one against the other." in words_on(test)


def test_a_bad_file_is_refused_where_it_was_given(opened_searched: Callable[[], AppTest]) -> None:
    """Promise to the user: one sentence, and the page stays."""
    test = listening(opened_searched)
    test.button(key=f"hear:{job_of(test).id}:make").click().run(timeout=PATIENCE)
    box(test, "sound").set_value("own").run(timeout=PATIENCE)
    sound(test)
    test.file_uploader(key=f"hear-file:{job_of(test).id}").set_value(("my *song*.wav", b"RIFF no", "audio/wav")).run(
        timeout=PATIENCE
    )
    told = "my *song*.wav: cannot be read as a WAV file: export it anew as WAV with 16 bits"
    assert [each.value for each in test.error] == [plain(told)]
